/** One entry of a chart in the words of one line, and what became different between two versions of it. */
import * as z from "zod/mini";
import { dateWords, isFhirDate, localOf } from "./dates.ts";
import { conceptShape, conceptWords, quantityShape } from "./shapes.ts";

const NOUNS: { readonly [type: string]: string } = {
  AllergyIntolerance: "allergy to",
  Condition: "diagnosis",
  ImagingStudy: "film",
  DiagnosticReport: "report",
  Immunization: "immunisation",
  MedicationRequest: "medicine",
  MedicationStatement: "medicine",
  Observation: "measurement",
  Encounter: "visit",
  Patient: "details of the patient",
  CarePlan: "saved plan",
  ServiceRequest: "saved request",
  Appointment: "saved visit",
  QuestionnaireResponse: "saved findings",
};

const text = z.catch(z.optional(z.string()), undefined);
const concept = z.catch(z.optional(conceptShape), undefined);
const concepts = z.catch(z.optional(z.array(conceptShape)), undefined);
/** Read leniently: an entry that no reader can use is still an entry that is new. */
const entry = z.object({
  resourceType: z.catch(z.string(), "entry"),
  code: concept,
  vaccineCode: concept,
  medicationCodeableConcept: concept,
  procedureCode: concepts,
  serviceType: concepts,
  type: z.catch(z.optional(z.union([conceptShape, z.array(conceptShape)])), undefined),
  valueQuantity: z.catch(z.optional(quantityShape), undefined),
  title: text,
  description: text,
  recordedDate: text,
  issued: text,
  recorded: text,
  authoredOn: text,
  authored: text,
  dateAsserted: text,
  meta: z.catch(z.optional(z.object({ lastUpdated: text })), undefined),
});

/** "allergy to penicillin", "film X-ray of finger": what kind of entry it is, and of what. */
export function entryWords(resource: unknown): string {
  const read = entry.safeParse(resource);
  const r = read.success ? read.data : undefined;
  const noun = NOUNS[r?.resourceType ?? ""] ?? r?.resourceType ?? "entry";
  const named =
    conceptWords(r?.code ?? r?.vaccineCode ?? r?.medicationCodeableConcept) ??
    r?.title ??
    r?.description ??
    conceptWords(r?.procedureCode?.[0] ?? r?.serviceType?.[0]);
  const value = r?.valueQuantity?.value;
  return [noun, named, value === undefined ? undefined : `${value} ${r?.valueQuantity?.unit ?? ""}`.trim()]
    .filter((word) => word !== undefined)
    .join(" ");
}

/**
 * When the entry was stored or recorded: only the time for today ("10:42"), else the day too; undefined when it does not say.
 *
 * @param now local yyyy-MM-ddTHH:mm
 * @param zone IANA time zone of the clinic
 */
export function entryTime(resource: unknown, now: string, zone: string): string | undefined {
  const read = entry.safeParse(resource);
  if (!read.success) return undefined;
  const { meta, recordedDate, issued, recorded, authoredOn, authored, dateAsserted } = read.data;
  const at = [meta?.lastUpdated, recordedDate, issued, recorded, authoredOn, authored, dateAsserted].find(
    (said) => said !== undefined && isFhirDate(said),
  );
  if (at === undefined) return undefined;
  const local = localOf(at, zone);
  return local.length > 10 && local.slice(0, 10) === now.slice(0, 10) ? local.slice(11, 16) : dateWords(local);
}

/** Elements that say nothing of the patient: bookkeeping of the server, and text that repeats the rest. */
const BESIDE = ["resourceType", "id", "meta", "text", "implicitRules", "language"];

/** A value that fits into half a line: undefined for anything larger. */
function shortly(value: unknown): string | undefined {
  if (value === undefined) return "nothing";
  if (typeof value === "string" || typeof value === "number" || typeof value === "boolean") return String(value);
  if (Array.isArray(value)) return value.length === 1 ? shortly(value[0]) : undefined;
  const read = conceptShape.safeParse(value);
  return read.success ? conceptWords(read.data) : undefined;
}
const words = (element: string) => element.replace(/[A-Z]/g, (letter) => ` ${letter.toLowerCase()}`).trim();

/** What is different between two versions of one entry: "status from preliminary to final"; in the order of the newer one. */
export function differenceWords(before: unknown, after: unknown): string[] {
  const [old, now] = [before ?? {}, after ?? {}] as Record<string, unknown>[];
  return [...new Set([...Object.keys(now!), ...Object.keys(old!)])]
    .filter((key) => !BESIDE.includes(key) && JSON.stringify(old![key]) !== JSON.stringify(now![key]))
    .map((key) => {
      const [from, to] = [shortly(old![key]), shortly(now![key])];
      return from === undefined || to === undefined || from === to
        ? words(key)
        : `${words(key)} from “${from}” to “${to}”`;
    });
}

import * as z from "zod/mini";
import { digitOfCode } from "../coding/digit-of-code.ts";
import { type Found, type Origin, originOf, type Reading, type Suggestions, UNSURE } from "./chart-resource.ts";
import { ACT_TAG, ICD10CM, PLAN_ITEM, SNOMED } from "./codings.ts";
import { isFhirDate, localOf } from "./dates.ts";
import { bearingOf, CONDITION_WORDS } from "./said-in-words.ts";
import { daysBefore, RECENT_DAYS } from "./searches.ts";
import {
  type ConceptShape,
  codingShape,
  conceptShape,
  conceptWords,
  firstCode,
  hasCode,
  identifierShape,
  lookUp,
  periodShape,
  referenceShape,
} from "./shapes.ts";

export interface ConditionLine {
  readonly text: string;
  readonly status?: string | undefined;
  readonly verification?: string | undefined;
  /** Said in the chart, but not yet sure. */
  readonly unconfirmed: boolean;
  readonly onset?: string | undefined;
  /** Findings that its words touch without answering them. */
  readonly bearsOn: readonly string[];
  /** Digits and sides it names, where it is a finger injury of today or of late. */
  readonly injury?: InjuredDigits;
  /** As stored, for refining it without losing elements of others. */
  readonly resource: Readonly<Record<string, unknown>>;
  readonly from: Origin;
}

const shape = z.object({
  meta: z.optional(z.object({ tag: z.optional(z.array(codingShape)) })),
  identifier: z.optional(z.array(identifierShape)),
  clinicalStatus: z.optional(conceptShape),
  verificationStatus: z.optional(conceptShape),
  code: z.optional(conceptShape),
  bodySite: z.optional(z.array(conceptShape)),
  subject: referenceShape,
  encounter: z.optional(referenceShape),
  onsetDateTime: z.optional(z.string()),
  onsetPeriod: z.optional(periodShape),
  recordedDate: z.optional(z.string()),
});

/**
 * Long-standing conditions that the rules ask about, found by code and system, never by words. A match is only a proposal.
 * ICD-10-CM categories (prefixes) are from memory; SNOMED ids stand in the official R4 value set expansions and examples.
 */
export const HISTORY_CODES: readonly {
  readonly finding: string;
  readonly icd: readonly string[];
  readonly snomed: readonly string[];
}[] = [
  { finding: "diabetes", icd: ["E08", "E09", "E10", "E11", "E13"], snomed: ["73211009", "44054006"] },
  { finding: "bleedingTendency", icd: ["D66", "D67", "D68", "Z79.01"], snomed: ["711150003"] },
  { finding: "immuneCompromise", icd: ["B20", "D80", "D81", "D82", "D83", "D84", "Z79.52"], snomed: ["710159007"] },
  { finding: "arterialDisease", icd: ["I70.2", "I73.9"], snomed: [] },
  { finding: "vasospasm", icd: ["I73.0", "M34"], snomed: [] },
  { finding: "pregnant", icd: ["Z33.1", "Z34", "O09"], snomed: ["77386006"] },
  { finding: "smoker", icd: ["F17.2"], snomed: ["77176002"] },
];
/** SNOMED body sites that name a digit (eHDSI value sets; DICOM PS3.16). */
const DIGIT_SITES: Record<string, string> = {
  "76505004": "thumb",
  "2550002": "thumb",
  "770810008": "thumb",
  "770815003": "index",
  "770816002": "middle",
  "770817006": "ring",
  "770818001": "little",
};
const SIDES: Record<string, "left" | "right"> = { "24028007": "right", "7771000": "left" };
export const digitOfSite = (code: string | undefined): string | undefined => lookUp(DIGIT_SITES, code);
export const sideOfSite = (code: string | undefined): "left" | "right" | undefined => lookUp(SIDES, code);

const CURRENT = ["active", "recurrence", "relapse"];

/** Today's injury and the history that changes its treatment, as proposals; each condition as a line for the clinician. */
export function readConditions(
  resources: readonly unknown[],
  reading: Reading,
  encounterId: string | undefined,
): Suggestions & {
  lines: ConditionLine[];
  ours: Found<{ identifier?: { value?: string | undefined }[] | undefined }>[];
} {
  const lines: ConditionLine[] = [];
  const written: Found<z.infer<typeof shape>>[] = [];
  const proposals: Suggestions["proposals"][number][] = [];
  const dates: Suggestions["dates"][number][] = [];
  const recent = daysBefore(reading.today, RECENT_DAYS);
  for (const found of reading.each(resources, "Condition", shape, (c) => c.subject.reference)) {
    const { data } = found;
    const verification = data.verificationStatus?.coding?.[0]?.code;
    if (verification === "entered-in-error" || verification === "refuted") {
      reading.leftOut(verification, "Condition");
      continue;
    }
    // Our own draft is what the clinician was about to say, no evidence for saying it again; a signed one is a diagnosis like any other.
    const ours = data.identifier?.some((i) => i.system === PLAN_ITEM);
    if (ours) written.push(found);
    if (ours && !data.meta?.tag?.some((t) => t.system === ACT_TAG && t.code === "signed")) {
      reading.leftOut("own-draft", "Condition");
      continue;
    }
    const status = data.clinicalStatus?.coding?.[0]?.code;
    // A server may ignore the status filter; what is over is no modifier of today's treatment.
    if (status !== undefined && !CURRENT.includes(status)) {
      reading.leftOut("over", "Condition");
      continue;
    }
    const onset = data.onsetDateTime ?? data.onsetPeriod?.start;
    const date = onset ?? data.recordedDate;
    const text = conceptWords(data.code) ?? "Condition without a name";
    const from = originOf(found, `Condition: ${text}`, date);
    const unconfirmed = verification !== undefined && UNSURE.includes(verification);
    const note = unconfirmed ? { note: "not confirmed in the chart" } : {};
    const today = encounterId !== undefined && reading.isFrom("Encounter", encounterId, data.encounter?.reference);
    const injury = injuredDigit(data.code, data.bodySite ?? [], today);
    const current = today || (date !== undefined && isFhirDate(date) && date >= recent);
    lines.push({
      text,
      status,
      verification,
      unconfirmed,
      onset,
      bearsOn: bearingOf(data.code, CONDITION_WORDS),
      ...(injury && current ? { injury } : {}),
      resource: found.raw,
      from,
    });
    if (injury) {
      if (!current) continue;
      for (const value of injury.digits) proposals.push({ finding: "digit", scope: "digit", value, from, ...note });
      for (const value of injury.sides) proposals.push({ finding: "side", scope: "digit", value, from, ...note });
      if (onset && isFhirDate(onset)) dates.push({ field: "injuredAt", value: localOf(onset, reading.zone), from });
      continue;
    }
    for (const { finding, icd, snomed } of HISTORY_CODES) {
      const codes = (data.code?.coding ?? []).filter((c) => c.system === ICD10CM).map((c) => c.code ?? "");
      if (codes.some((code) => icd.some((prefix) => code.startsWith(prefix))) || hasCode(data.code, SNOMED, snomed))
        proposals.push({ finding, scope: "patient", value: "yes", from, ...note });
    }
  }
  return { lines, proposals, dates, ours: written };
}

/** SNOMED fractures of a finger or thumb phalanx (published research code list, Belgian eReferral value sets). */
const FINGER_FRACTURES = ["24424003", "21698002", "18171007", "405817008"];
const THUMB_FRACTURES = ["704213001", "704236005", "274160002"];

/** Everything that an entry says of digit and side: where its code and its body site differ, both. */
export interface InjuredDigits {
  readonly digits: readonly string[];
  readonly sides: readonly ("left" | "right")[];
}
/**
 * Digits and sides of a current finger injury; undefined when the code names no such injury. A body site alone proves no injury, unless the
 * entry has no code at all and is a diagnosis of this very visit (`ofThisVisit`): then its coded site tells which finger it is about.
 */
export function injuredDigit(
  code: ConceptShape | undefined,
  sites: readonly ConceptShape[],
  ofThisVisit = false,
): InjuredDigits | undefined {
  const coded = digitOfCode(firstCode(code, ICD10CM) ?? "");
  const thumb = hasCode(code, SNOMED, THUMB_FRACTURES);
  const siteCodes = sites
    .flatMap((s) => s.coding ?? [])
    .flatMap((c) => (c.system === SNOMED && c.code ? [c.code] : []));
  const siteDigits = siteCodes.flatMap((c) => digitOfSite(c) ?? []);
  const inWords = ofThisVisit && (code?.coding ?? []).length === 0 && siteDigits.length > 0;
  if (coded ? !coded.current : !thumb && !inWords && !hasCode(code, SNOMED, FINGER_FRACTURES)) return undefined;
  const siteSides = siteCodes.flatMap((c) => sideOfSite(c) ?? []);
  return {
    digits: [...new Set([...(coded?.digit ? [coded.digit] : []), ...(thumb ? ["thumb"] : []), ...siteDigits])],
    sides: [...new Set([...(coded?.side ? [coded.side] : []), ...siteSides])],
  };
}

/** A stored resource in a few plain words, for the chart page. */
import type { Resource } from "../fhir/exchange.ts";

interface Concept {
  text?: string;
  coding?: { system?: string; code?: string; display?: string }[];
}
interface Ref {
  reference?: string;
  display?: string;
}
// biome-ignore lint/suspicious/noExplicitAny: any R4 resource is read here, element by element, only to be shown as text
type Loose = Record<string, any>;

export interface ResourceInWords {
  title: string;
  status: string;
  /** ISO date or instant, as stored */
  when: string | undefined;
  lines: string[];
}

export const conceptWords = (concept: Concept | undefined): string =>
  concept?.text ?? concept?.coding?.map(({ display, code }) => display ?? code).find(Boolean) ?? "not named";
const code = (concept: Concept | undefined) => concept?.coding?.[0]?.code;
const list = <T>(value: unknown): T[] =>
  Array.isArray(value) ? (value as T[]) : value === undefined ? [] : [value as T];
const codes = (concept: Concept | undefined) =>
  (concept?.coding ?? [])
    .map((each) => `${each.code ?? ""}${each.display ? ` ${each.display}` : ""}`)
    .filter((words) => words !== "");
const refWords = (ref: Ref | undefined) => ref?.display ?? ref?.reference ?? "";
const join = (...parts: (string | undefined | false)[]) => parts.filter(Boolean).join(", ");
const period = (value: { start?: string; end?: string } | undefined) =>
  value && join(value.start && `from ${shownDate(value.start)}`, value.end && `until ${shownDate(value.end)}`);
const notes = (resource: Loose) => list<{ text?: string }>(resource.note).flatMap(({ text }) => text ?? []);

/** "25 Nov 2026" or "25 Nov 2026, 14:30"; partial dates stay partial. */
export function shownDate(text: string | undefined): string {
  if (!text) return "";
  const [, y = "", m, d, rest] = /^(\d{4})(?:-(\d{2})(?:-(\d{2})(T.*)?)?)?$/.exec(text) ?? [];
  if (!y) return text;
  if (!m) return y;
  const day = new Date(Number(y), Number(m) - 1, Number(d ?? 1));
  if (!d) return new Intl.DateTimeFormat("en-GB", { month: "short", year: "numeric" }).format(day);
  if (!rest) return new Intl.DateTimeFormat("en-GB", { dateStyle: "medium" }).format(day);
  return new Intl.DateTimeFormat("en-GB", { dateStyle: "medium", timeStyle: "short" }).format(new Date(text));
}

export function inWords(resource: Resource): ResourceInWords {
  const r: Loose = resource;
  const status = String(r.status ?? "");
  switch (resource.resourceType) {
    case "Condition":
      return {
        title: conceptWords(r.code),
        status: join(code(r.clinicalStatus), code(r.verificationStatus)),
        when: r.onsetDateTime ?? r.recordedDate,
        lines: [
          ...list<Concept>(r.bodySite).map((site) => `Site: ${conceptWords(site)}`),
          ...codes(r.code).map((words) => `Code: ${words}`),
          ...notes(r),
        ],
      };
    case "CarePlan":
      return {
        title: r.title ?? "Care plan",
        status: join(status, r.intent),
        when: r.created ?? r.period?.start,
        lines: [
          r.description ?? "",
          ...list<{ reference?: Ref; detail?: { description?: string; code?: Concept; status?: string } }>(
            r.activity,
          ).map(
            ({ reference, detail }) =>
              `Activity: ${reference ? refWords(reference) : join(detail?.description ?? conceptWords(detail?.code), detail?.status)}`,
          ),
          ...notes(r),
        ],
      };
    case "ServiceRequest":
      return {
        title: conceptWords(r.code),
        status: join(status, r.intent, r.priority),
        when: r.authoredOn ?? r.occurrenceDateTime,
        lines: [
          period(r.occurrencePeriod)
            ? `Wanted ${period(r.occurrencePeriod)}`
            : r.occurrenceDateTime
              ? `Wanted ${shownDate(r.occurrenceDateTime)}`
              : "",
          ...list<Concept>(r.orderDetail).map((detail) => `Detail: ${conceptWords(detail)}`),
          ...list<Concept>(r.bodySite).map((site) => `Site: ${conceptWords(site)}`),
          r.patientInstruction ?? "",
          r.requester ? `Ordered by ${refWords(r.requester)}` : "",
          ...notes(r),
        ],
      };
    case "Appointment":
      return {
        title: r.description ?? list<Concept>(r.serviceType).map(conceptWords)[0] ?? "Visit",
        status,
        when: r.start ?? r.requestedPeriod?.[0]?.start,
        lines: [
          r.start ? `Booked for ${shownDate(r.start)}` : "",
          ...list<{ start?: string; end?: string }>(r.requestedPeriod).map((span) => `Wanted ${period(span)}`),
          r.comment ?? "",
          r.patientInstruction ?? "",
        ],
      };
    case "QuestionnaireResponse": {
      const answers = answersIn(list(r.item));
      return {
        title: `Findings record, ${answers.length} ${answers.length === 1 ? "answer" : "answers"}`,
        status,
        when: r.authored,
        lines: answers,
      };
    }
    case "Provenance":
      return {
        title: conceptWords(r.activity) === "not named" ? "Record of who did what" : conceptWords(r.activity),
        status: `${list(r.target).length} resources`,
        when: r.recorded,
        lines: [
          ...list<{ who?: Ref; type?: Concept }>(r.agent).map(
            ({ who, type }) => `${conceptWords(type)}: ${refWords(who)}`,
          ),
          ...list<Ref>(r.target).map((target) => `About: ${refWords(target)}`),
        ],
      };
    case "ImagingStudy":
      return {
        title: r.description ?? "Imaging",
        status,
        when: r.started,
        lines: [
          join(...list<{ code?: string }>(r.modality).map((one) => one.code)),
          ...list<{ bodySite?: { display?: string }; laterality?: { display?: string } }>(r.series).map(
            ({ bodySite, laterality }) => join(bodySite?.display, laterality?.display),
          ),
        ],
      };
    case "DiagnosticReport":
      return {
        title: conceptWords(r.code),
        status,
        when: r.effectiveDateTime ?? r.issued,
        lines: [r.conclusion ?? ""],
      };
    case "AllergyIntolerance":
      return {
        title: conceptWords(r.code),
        status: join(code(r.clinicalStatus), code(r.verificationStatus)),
        when: r.recordedDate,
        lines: list<{ manifestation?: Concept[]; severity?: string }>(r.reaction).map(({ manifestation, severity }) =>
          join(...(manifestation ?? []).map(conceptWords), severity),
        ),
      };
    case "Immunization":
      return { title: conceptWords(r.vaccineCode), status, when: r.occurrenceDateTime, lines: [] };
    case "Observation":
      return {
        title: conceptWords(r.code),
        status,
        when: r.effectiveDateTime,
        lines: [r.valueQuantity ? `${r.valueQuantity.value} ${r.valueQuantity.unit ?? ""}` : (r.valueString ?? "")],
      };
    case "MedicationRequest":
    case "MedicationStatement":
      return {
        title: conceptWords(r.medicationCodeableConcept),
        status: join(status, r.intent),
        when: r.authoredOn ?? r.effectiveDateTime ?? r.effectivePeriod?.start,
        lines: list<{ text?: string }>(r.dosageInstruction ?? r.dosage).map(({ text }) => text ?? ""),
      };
    case "Encounter":
      return {
        title: list<Concept>(r.reasonCode).map(conceptWords)[0] ?? "Encounter",
        status: join(status, r.class?.display ?? r.class?.code),
        when: r.period?.start,
        lines: [],
      };
    default:
      return {
        title: conceptWords(r.code ?? r.type?.[0] ?? r.type),
        status,
        when: r.date ?? resource.meta?.lastUpdated,
        lines: [r.description ?? ""],
      };
  }
}

interface Item {
  linkId?: string;
  text?: string;
  answer?: Record<string, unknown>[];
  item?: Item[];
}
function answersIn(items: Item[]): string[] {
  return items.flatMap(({ linkId = "", text, answer, item }) => [
    ...(answer ?? []).flatMap((one) => {
      const [key, value] = Object.entries(one).find(([name]) => name.startsWith("value")) ?? [];
      if (!key) return [];
      const shown =
        typeof value === "object" && value !== null
          ? ((value as { display?: string }).display ??
            (value as { code?: string }).code ??
            `${(value as { value?: number }).value ?? ""} ${(value as { unit?: string }).unit ?? ""}`.trim())
          : String(value);
      return [`${text ?? linkId}: ${shown}`];
    }),
    ...answersIn(item ?? []),
  ]);
}

export interface PatientInWords {
  id: string;
  name: string;
  born: string;
  sex: string;
  identifiers: string[];
  deceased: boolean;
}
export function patientWords(resource: Resource, today = new Date()): PatientInWords {
  const r: Loose = resource;
  const name = list<{ text?: string; given?: string[]; family?: string; use?: string }>(r.name)[0];
  return {
    id: resource.id ?? "",
    name: name?.text ?? ([...(name?.given ?? []), name?.family].filter(Boolean).join(" ") || "Name not recorded"),
    born: r.birthDate ? `${shownDate(r.birthDate)} (${ageWords(r.birthDate, today)})` : "birth date not recorded",
    sex: r.gender === undefined ? "sex not recorded" : r.gender === "unknown" ? "sex not known" : r.gender,
    identifiers: list<{ value?: string }>(r.identifier).flatMap(({ value }) => value ?? []),
    deceased: r.deceasedBoolean === true || r.deceasedDateTime !== undefined,
  };
}
function ageWords(birthDate: string, today: Date): string {
  const [y = 0, m = 1, d = 1] = birthDate.split("-").map(Number);
  const hadBirthday = today.getMonth() + 1 > m || (today.getMonth() + 1 === m && today.getDate() >= d);
  return `${today.getFullYear() - y - (hadBirthday ? 0 : 1)} years`;
}

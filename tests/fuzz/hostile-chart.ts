import fc from "fast-check";
import type { ChartContext, ChartProblem } from "../../src/fhir/chart.ts";
import { CHART_PARTS, type ChartPartName } from "../../src/fhir/searches.ts";
import { deepJson, INHERITED, ODD_DATES, ODD_WORDS } from "./texts.ts";

export const CONTEXT: ChartContext = {
  patientId: "p1",
  today: "2026-11-25",
  zone: "Europe/Berlin",
  base: "https://ehr.test/fhir",
  encounterId: "e1",
};
type Json = Record<string, unknown>;
/** What must become of an entry: it is used, it is the same as another, or it is left out and said so with this kind of reason. */
export type Fate = ChartProblem["kind"] | "used" | "copy";
export interface Entry {
  readonly part: ChartPartName;
  readonly raw: unknown;
  readonly fate: Fate;
}
/** Stands in every entry of another patient, and must never come back out of a chart. */
export const STRANGER = "Zebra of another patient";
/** Stands in every entry that was entered in error. */
export const VOIDED = "Voided entry";

const coded = (system: string, code: unknown, more: Json = {}) => ({ coding: [{ system, code }], ...more });
const hl7 = (name: string, code: unknown) => coded(`http://terminology.hl7.org/CodeSystem/${name}`, code);
const SCT = "http://snomed.info/sct";
const ICD = "http://hl7.org/fhir/sid/icd-10-cm";
const item = (plan: number, key: string) => [
  { system: "https://fingerpost.example/plan-item", value: `plan-${plan}:${key}` },
];

interface Kind {
  readonly part: ChartPartName;
  readonly subject: "subject" | "patient" | undefined;
  /** An entry that is used; n varies what it says. */
  readonly make: (n: number) => Json;
  /** Where its words stand. */
  readonly words: (words: string) => Json;
  readonly date: string;
  /** What a date that is none makes of it. */
  readonly undated: Fate;
  readonly inError: Json | undefined;
  readonly refuted?: Json;
  readonly over?: Json;
  readonly notAsked?: Json;
  /** Elements that are read, with a value of a type they may not have. */
  readonly broken: Json;
}
const pick = <T>(list: readonly T[], n: number): T => list[n % list.length]!;
const words = (text: string) => ({ code: { text } });
const KINDS: Readonly<Record<string, Kind>> = {
  Patient: {
    part: "patient",
    subject: undefined,
    make: (n) => ({
      id: "p1",
      gender: pick(["female", "male", "other", "unknown", undefined, "constructor"], n),
      birthDate: pick(["1988-03-14", "1988", "2024-02-29", undefined], n),
    }),
    words: (text) => ({
      name: [{ text }, { family: text, given: [text, null] }],
      identifier: [{ value: text, type: { text } }],
    }),
    date: "birthDate",
    undated: "used",
    inError: undefined,
    broken: { name: "Mira", birthDate: 1988, deceasedBoolean: "no", identifier: {} },
  },
  Condition: {
    part: "conditions",
    subject: "subject",
    make: (n) => ({
      clinicalStatus: hl7("condition-clinical", "active"),
      verificationStatus: hl7("condition-ver-status", pick(["confirmed", "provisional"], n)),
      code: pick([coded(ICD, "S62.634A"), coded(ICD, "E11.9"), coded(SCT, "18171007"), { text: "Diabetes" }], n),
      bodySite: [coded(SCT, pick(["770817006", "770815003", "24028007", ...INHERITED], n))],
      recordedDate: "2026-11-24",
      encounter: { reference: pick(["Encounter/e1", "https://elsewhere.test/fhir/Encounter/e1", "#e"], n) },
    }),
    words,
    date: "onsetDateTime",
    undated: "used",
    inError: { verificationStatus: hl7("condition-ver-status", "entered-in-error") },
    refuted: { verificationStatus: hl7("condition-ver-status", "refuted") },
    over: { clinicalStatus: hl7("condition-clinical", "resolved") },
    broken: { code: "diabetes", bodySite: { coding: [] }, clinicalStatus: 1, onsetDateTime: {}, subject: null },
  },
  ImagingStudy: {
    part: "imaging",
    subject: "subject",
    make: (n) => ({
      status: "available",
      started: "2026-11-24T09:00:00Z",
      modality: [{ code: "DX" }],
      procedureCode: [coded("http://loinc.org", pick(["26126-3", "26161-0", ...INHERITED], n))],
      series: [
        {
          bodySite: { system: SCT, code: pick(["770817006", ...INHERITED], n) },
          laterality: { code: pick(["24028007", "constructor"], n) },
        },
      ],
    }),
    words: (description) => ({ description }),
    date: "started",
    undated: "used",
    inError: { status: "entered-in-error" },
    over: { status: "cancelled" },
    broken: { status: 3, series: "none", modality: {}, numberOfInstances: "2" },
  },
  DiagnosticReport: {
    part: "reports",
    subject: "subject",
    make: (n) => ({
      status: pick(["final", "preliminary", "constructor"], n),
      issued: "2026-11-24",
      conclusionCode: [coded(ICD, "S62.636A")],
    }),
    words: (text) => ({ code: { text }, conclusion: text }),
    date: "effectiveDateTime",
    undated: "used",
    inError: { status: "entered-in-error" },
    over: { status: "cancelled" },
    broken: { status: null, conclusion: 7, conclusionCode: "S62" },
  },
  AllergyIntolerance: {
    part: "allergies",
    subject: "patient",
    make: (n) => ({
      clinicalStatus: hl7("allergyintolerance-clinical", "active"),
      code: pick([coded(SCT, "91936005"), coded(SCT, "300916003"), { text: "plasters" }, undefined], n),
      criticality: pick(["high", "low", undefined], n),
      reaction: [{ manifestation: [{ text: "hives" }], severity: pick(["severe", "constructor"], n) }],
    }),
    words: (text) => ({ code: { text }, reaction: [{ manifestation: [{ text }] }] }),
    date: "recordedDate",
    undated: "used",
    inError: { verificationStatus: hl7("allergyintolerance-verification", "entered-in-error") },
    refuted: { verificationStatus: hl7("allergyintolerance-verification", "refuted") },
    over: { clinicalStatus: hl7("allergyintolerance-clinical", "resolved") },
    broken: { code: ["penicillin"], criticality: "enormous", reaction: "hives" },
  },
  Immunization: {
    part: "immunizations",
    subject: "patient",
    make: (n) => ({
      status: "completed",
      vaccineCode: coded("http://hl7.org/fhir/sid/cvx", pick(["115", "09"], n)),
      occurrenceDateTime: pick(["2019-05-01", "2001"], n),
    }),
    words: (text) => ({ vaccineCode: coded("http://hl7.org/fhir/sid/cvx", "115", { text }) }),
    date: "occurrenceDateTime",
    undated: "date",
    inError: { status: "entered-in-error" },
    over: { status: "not-done" },
    notAsked: { vaccineCode: coded("http://hl7.org/fhir/sid/cvx", "140") },
    broken: { status: {}, vaccineCode: "tetanus", isSubpotent: "yes" },
  },
  MedicationRequest: {
    part: "medications",
    subject: "subject",
    make: (n) => ({
      status: "active",
      ...pick<Json>(
        [
          { medicationCodeableConcept: coded("http://www.nlm.nih.gov/research/umls/rxnorm", "11289") },
          { medicationReference: { reference: "Medication/7" } },
          {
            medicationReference: { reference: "#m" },
            contained: [{ resourceType: "Medication", id: "m", code: coded(SCT, "48603004") }],
          },
          { medicationReference: { identifier: { value: "PZN 1234" } } },
          { medicationReference: {}, contained: "nothing" },
        ],
        n,
      ),
    }),
    words: (text) => ({ medicationCodeableConcept: { text } }),
    date: "authoredOn",
    undated: "used",
    inError: { status: "entered-in-error" },
    over: { status: "stopped" },
    broken: { status: 1, medicationCodeableConcept: "warfarin", doNotPerform: "no" },
  },
  MedicationStatement: {
    part: "medications",
    subject: "subject",
    make: () => ({ status: "active", medicationCodeableConcept: { text: "Apixaban" } }),
    words: (text) => ({ medicationCodeableConcept: { text } }),
    date: "effectiveDateTime",
    undated: "used",
    inError: { status: "entered-in-error" },
    over: { status: "completed" },
    broken: { status: [], medicationReference: "Medication/1" },
  },
  Observation: {
    part: "weight",
    subject: "subject",
    make: (n) => ({
      status: "final",
      code: coded("http://loinc.org", "29463-7"),
      effectiveDateTime: "2026-10-01",
      valueQuantity: { value: 60 + (n % 20), code: "kg" },
    }),
    words: (text) => ({ code: coded("http://loinc.org", "29463-7", { text }) }),
    date: "effectiveDateTime",
    undated: "no-value",
    inError: { status: "entered-in-error" },
    over: { status: "cancelled" },
    notAsked: { code: coded("http://loinc.org", "8302-2") },
    broken: { status: 1, code: "weight", valueQuantity: { value: "70" } },
  },
  Encounter: {
    part: "encounter",
    subject: "subject",
    make: () => ({ status: "in-progress", period: { start: "2026-11-25T08:00:00Z" } }),
    words: (text) => ({ reasonCode: [{ text }] }),
    date: "start",
    undated: "used",
    inError: { status: "entered-in-error" },
    broken: { status: 0, period: "today" },
  },
  CarePlan: {
    part: "earlier",
    subject: "subject",
    make: (n) => ({ status: pick(["active", "draft", "constructor"], n), identifier: item(n % 3, "plan") }),
    words: (title) => ({ title }),
    date: "created",
    undated: "used",
    inError: { status: "entered-in-error" },
    notAsked: { identifier: [{ system: "urn:other", value: "1" }] },
    broken: { status: 1, title: 9, identifier: "x" },
  },
  QuestionnaireResponse: {
    part: "earlier",
    subject: "subject",
    make: (n) => ({
      status: "completed",
      identifier: item(n % 3, "findings")[0],
      questionnaire: "https://fingerpost.example/fhir/Questionnaire/distal-phalanx-findings|1",
      author: { reference: "Practitioner/9", display: "Dr Orrery" },
      item: ["patient", "injury", "digit", ...INHERITED].map((linkId) => ({
        linkId,
        item: [
          ...INHERITED.map((id) => ({
            linkId: id,
            answer: [
              { valueCoding: { system: "https://fingerpost.example/fhir/CodeSystem/finding", code: `${id}.yes` } },
            ],
          })),
          {
            linkId: "digit",
            answer: [
              { valueCoding: { system: "https://fingerpost.example/fhir/CodeSystem/finding", code: "digit.ring" } },
            ],
          },
          { linkId: "weightKg", answer: [{ valueQuantity: { value: pick([70, -5, 1e308], n) } }] },
          {
            linkId: pick(["birthDate", "injuredAt", "assessedAt"], n),
            answer: [{ valueDateTime: pick(ODD_DATES, n) }],
          },
        ],
      })),
    }),
    words: (display) => ({ author: { display } }),
    date: "authored",
    undated: "used",
    inError: { status: "entered-in-error" },
    notAsked: { identifier: { system: "urn:other", value: "1" } },
    broken: { status: 1, item: { linkId: "patient" }, author: "me" },
  },
};
const NAMES = Object.keys(KINDS);
const DEEP = JSON.parse(deepJson(10_000));

type Change = (entry: Json, kind: Kind, n: number) => readonly [Json | unknown, Fate];
const about = (kind: Kind, reference: unknown): Json => (kind.subject ? { [kind.subject]: reference } : {});
/** One thing that is odd or wrong with an entry, and what must then become of it. */
const CHANGES: readonly Change[] = [
  (entry) => [entry, "used"],
  (entry, kind, n) => [{ ...entry, ...kind.words(pick(ODD_WORDS, n)) }, "used"],
  (entry, kind, n) => {
    const date = pick(ODD_DATES, n);
    const usable =
      ["2026", "2026-11", "2026-11-20", "2024-02-29", "9999-12-31"].includes(date) ||
      /^(0001|2026-11-20T(10:00:00Z|23))/.test(date);
    return [{ ...entry, [kind.date]: date }, usable ? "used" : kind.undated];
  },
  (entry, kind) => [
    {
      ...entry,
      ...kind.words(STRANGER),
      ...about(kind, { reference: "Patient/p2" }),
      ...(kind.subject ? {} : { id: "p2" }),
    },
    "other-patient",
  ],
  (entry, kind, n) => {
    const reference = pick(
      [
        "https://other.test/fhir/Patient/p1",
        "#pat",
        "Patient/",
        "Patient",
        "",
        "Group/p1",
        "patient/p1",
        "Patient/p1/x",
        "urn:uuid:1",
        "//ehr.test/fhir/Patient/p1",
      ],
      n,
    );
    return kind.subject
      ? [{ ...entry, ...kind.words(STRANGER), ...about(kind, { reference }) }, "other-patient"]
      : [entry, "used"];
  },
  (entry, kind, n) => [
    {
      ...entry,
      ...about(kind, pick([{ display: "Mira" }, { identifier: { value: "PR-1" } }, {}], n)),
      ...(kind.subject ? kind.words(STRANGER) : {}),
    },
    kind.subject ? "other-patient" : "used",
  ],
  (entry, kind, n) => [
    { ...entry, ...about(kind, { reference: pick(["https://ehr.test/fhir/Patient/p1", "Patient/p1/_history/4"], n) }) },
    "used",
  ],
  (entry, kind) =>
    kind.inError ? [{ ...entry, ...kind.words(VOIDED), ...kind.inError }, "entered-in-error"] : [entry, "used"],
  (entry, kind) => (kind.refuted ? [{ ...entry, ...kind.words(VOIDED), ...kind.refuted }, "refuted"] : [entry, "used"]),
  (entry, kind) => (kind.over ? [{ ...entry, ...kind.over }, "over"] : [entry, "used"]),
  (entry, kind) => (kind.notAsked ? [{ ...entry, ...kind.notAsked }, "not-asked"] : [entry, "used"]),
  (entry) => [{ ...entry, modifierExtension: [{ url: "urn:not", valueBoolean: true }] }, "modifier"],
  (entry) => [{ ...entry, implicitRules: "urn:rules" }, "modifier"],
  (entry, kind, n) => [
    { ...entry, id: pick([undefined, "", "../Patient/2", "a".repeat(65), 12, null, {}], n) },
    kind.subject ? "unreadable" : "other-patient",
  ],
  (entry, kind, n) => {
    const name = pick(Object.keys(kind.broken), n);
    return [{ ...entry, [name]: kind.broken[name] }, "unreadable"];
  },
  (entry, _kind, n) => [{ ...entry, meta: pick<unknown>([null, "1", { versionId: 3 }, []], n) }, "unreadable"],
  (entry, _kind, n) => [
    {
      ...entry,
      resourceType: pick<unknown>(["Banana", "Coverage", "__proto__", "constructor", 7, null, {}, "x y", "Ä"], n),
    },
    "wrong-type",
  ],
  (_entry, _kind, n) => [
    pick<unknown>([null, 7, "Patient/p1", [], true, {}, undefined, [[]], Number.NaN], n),
    "wrong-type",
  ],
  (entry, _kind, n) => [
    Object.assign(
      JSON.parse(
        `{"${pick(INHERITED, n)}": {"polluted": true, "status": "entered-in-error", "resourceType": "Patient"}}`,
      ),
      entry,
    ),
    ["__proto__", "constructor", "prototype"].includes(pick(INHERITED, n)) ? "unreadable" : "used",
  ],
  (entry) => [{ ...entry, extension: DEEP }, "unreadable"],
  (entry) => [entry, "copy"],
];

const WRONG_PART = 23;
function entriesFrom([which, change, n, place]: readonly [number, number, number, number], at: number): Entry[] {
  const name = pick(NAMES, which);
  const kind = KINDS[name]!;
  const plain = {
    resourceType: name,
    id: `${name}-${at}`,
    ...about(kind, { reference: "Patient/p1" }),
    ...kind.words(`Words ${at}`),
    ...kind.make(n),
  };
  const [raw, fate] = pick(CHANGES, change)(plain, kind, n);
  if (fate === "copy")
    return [
      { part: kind.part, raw: plain, fate: "used" },
      { part: kind.part, raw: structuredClone(plain), fate: "copy" },
    ];
  const elsewhere =
    place % WRONG_PART === 1
      ? CHART_PARTS.find((part) => part !== kind.part && (place >> 5) % 2 === Number(part > kind.part))
      : undefined;
  return [{ part: elsewhere ?? kind.part, raw, fate: elsewhere ? "wrong-type" : fate }];
}

const numbers = fc.tuple(fc.nat(1e6), fc.nat(1e6), fc.nat(1e6), fc.nat(1e6));
/** What a chart is made from: up to twenty entries. Numbers, so that a chart that fails can be printed, shrunk and made again. */
export const chartNumbers = fc.array(numbers, { maxLength: 20 });
type Numbers = typeof chartNumbers extends fc.Arbitrary<infer N> ? N : never;

/** A chart of up to twenty entries, most of them with one thing that is odd or wrong. */
export function hostileChart(from: Numbers): readonly Entry[] {
  // There is one patient and one visit: a second patient of that id is the first once more, a second visit nobody asked for.
  const seen = new Set<string>();
  return from.flatMap(entriesFrom).flatMap((entry): Entry[] => {
    const { resourceType: type, id } = (entry.raw ?? {}) as Json;
    const first = !seen.has(String(type));
    if (entry.fate === "wrong-type" || entry.fate === "unreadable") return [entry];
    if (type === "Patient" && id === "p1") {
      seen.add("Patient");
      return first ? [entry] : [{ ...entry, fate: "copy" }];
    }
    if (type === "Encounter" && entry.fate === "used") {
      seen.add("Encounter");
      return first ? [entry] : [{ ...entry, fate: "not-asked" }];
    }
    return [entry];
  });
}

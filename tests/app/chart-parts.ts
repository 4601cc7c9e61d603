import type { ChartReading } from "../../src/app/reading.ts";
import { type Chart, type ChartPartName, chartFrom, type PartResult } from "../../src/fhir/chart.ts";
import { ServerClock } from "../../src/smart/server-clock.ts";
import type { Session } from "../../src/smart/session.ts";
import { type FhirResource, fhirProblem, type Transport } from "../../src/smart/transport.ts";

export const TODAY = "2026-03-10";
const found = (...resources: object[]): PartResult => ({ state: "found", resources, more: false });
const empty: PartResult = { state: "empty", resources: [], more: false };
export const PATIENT = {
  resourceType: "Patient",
  id: "p1",
  name: [{ family: "Quillfeather", given: ["Ysolde"] }],
  gender: "female",
  birthDate: "1990-06-01",
  identifier: [{ type: { text: "Record" }, value: "PX-1" }],
};
export const EMPTY_PARTS: { [part in ChartPartName]: PartResult } = {
  patient: found(PATIENT),
  conditions: empty,
  imaging: empty,
  reports: empty,
  allergies: empty,
  immunizations: empty,
  medications: empty,
  weight: empty,
  encounter: empty,
  earlier: empty,
};
export const chartOf = (parts: { [part in ChartPartName]?: PartResult } = {}): Chart =>
  chartFrom({ ...EMPTY_PARTS, ...parts }, { patientId: "p1", today: TODAY });
export const allergyTo = (substance: string): PartResult =>
  found({
    resourceType: "AllergyIntolerance",
    id: "a1",
    patient: { reference: "Patient/p1" },
    clinicalStatus: {
      coding: [{ system: "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical", code: "active" }],
    },
    code: { text: substance },
  });
export const conditionOf = (icd: string, text: string, onset = TODAY): PartResult => conditionsOf([icd, text, onset]);
export const conditionsOf = (...entries: (readonly [icd: string, text: string, onset?: string])[]): PartResult =>
  found(
    ...entries.map(([icd, text, onset = TODAY], i) => ({
      resourceType: "Condition",
      id: `c${i + 1}`,
      subject: { reference: "Patient/p1" },
      onsetDateTime: onset,
      recordedDate: onset,
      clinicalStatus: {
        coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-clinical", code: "active" }],
      },
      code: { text, coding: [{ system: "http://hl7.org/fhir/sid/icd-10-cm", code: icd }] },
    })),
  );
/** Who is signed in. */
const DOCTOR = { reference: "Practitioner/9", name: "Dr Tamsin Orrery" };
/** What this program wrote of an earlier visit: a plan with the findings behind it. */
export const earlierPlan = (
  act: "draft" | "signed",
  answers: { [finding: string]: string },
  author: object | undefined = { reference: DOCTOR.reference, display: DOCTOR.name },
): PartResult => {
  const item = (key: string) => ({ system: "https://fingerpost.example/plan-item", value: `plan-1:${key}` });
  const lastUpdated = "2026-03-09T10:00:00Z";
  return found(
    {
      resourceType: "CarePlan",
      id: "plan-1",
      status: act === "draft" ? "draft" : "active",
      title: "Plan for a finger",
      subject: { reference: "Patient/p1" },
      identifier: [item("plan")],
      meta: { lastUpdated, tag: [{ system: "https://fingerpost.example/fhir/CodeSystem/act", code: act }] },
    },
    {
      resourceType: "QuestionnaireResponse",
      id: "findings-1",
      questionnaire: "https://fingerpost.example/fhir/Questionnaire/practice-bone-findings",
      status: "completed",
      authored: lastUpdated,
      author,
      subject: { reference: "Patient/p1" },
      identifier: item("findings"),
      meta: { lastUpdated },
      item: [
        {
          linkId: "digit",
          item: Object.entries(answers).map(([finding, value]) => ({
            linkId: finding,
            answer: [
              {
                valueCoding: {
                  system: "https://fingerpost.example/fhir/CodeSystem/finding",
                  code: `${finding}.${value}`,
                },
              },
            ],
          })),
        },
      ],
    },
  );
};

/** A chart whose parts arrive when the test says so. */
export function slowReading(
  parts: { [part in ChartPartName]?: PartResult } = {},
): ChartReading & { arrive(more: { [part in ChartPartName]?: PartResult }): void } {
  let now = parts;
  const listeners = new Set<() => void>();
  const arrive = (more: { [part in ChartPartName]?: PartResult }) => {
    now = { ...now, ...more };
    for (const listener of listeners) listener();
  };
  return {
    parts: () => now,
    onPart: (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    again: () => undefined,
    adopt: arrive,
    arrive,
  };
}

/** A session on a record system that holds nothing: enough for screens. */
export const sessionFor = (changes: Partial<Session> = {}): Session =>
  ({
    context: { base: "https://ehr.example/fhir", patientId: "p1", launchId: "l1" },
    fhir: EMPTY_RECORD,
    issuer: { label: "Example", host: "ehr.example" },
    config: { issuers: [], frameAncestors: [] },
    needPatientBanner: true,
    opened: [],
    clock: new ServerClock(),
    granted: ["patient/*.cruds"],
    can: () => true,
    user: DOCTOR,
    signer: () => Promise.resolve({ ok: true, ...DOCTOR }),
    state: () => ({ kind: "open" }),
    lastsFor: () => Promise.resolve(true),
    onChange: () => () => undefined,
    end: () => undefined,
    ...changes,
  }) as unknown as Session;

/** The record system that holds what a reading shows, as it stands when it is asked; it says nothing of itself. */
export const recordOf = (reading: ChartReading): Transport => {
  const held = () => Object.values(reading.parts()).flatMap((part) => part.resources) as FhirResource[];
  return {
    base: "https://ehr.example/fhir",
    read: async (reference) => {
      const value = held().find((one) => `${one.resourceType}/${one.id}` === reference);
      return value ? { ok: true, value, status: 200 } : { ok: false, problem: fhirProblem("not-found") };
    },
    search: async (query) => ({
      ok: true,
      status: 200,
      value: {
        matches: held().filter((one) => query.startsWith(`${one.resourceType}?`)),
        included: [],
        remarks: [],
        unreadable: 0,
        more: false,
      },
    }),
    transaction: async () => ({ ok: false, problem: fhirProblem("offline") }),
    write: async () => ({ ok: false, problem: fhirProblem("offline") }),
  };
};

/** What a session has when a test gives it no record system. */
export const EMPTY_RECORD = recordOf(slowReading());

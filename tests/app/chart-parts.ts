import type { ChartReading } from "../../src/app/reading.ts";
import { type Chart, type ChartPartName, chartFrom, type PartResult } from "../../src/fhir/chart.ts";
import type { Session } from "../../src/smart/session.ts";

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
export const conditionOf = (icd: string, text: string, onset = TODAY): PartResult =>
  found({
    resourceType: "Condition",
    id: "c1",
    subject: { reference: "Patient/p1" },
    onsetDateTime: onset,
    recordedDate: onset,
    clinicalStatus: {
      coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-clinical", code: "active" }],
    },
    code: { text, coding: [{ system: "http://hl7.org/fhir/sid/icd-10-cm", code: icd }] },
  });

/** A chart whose parts arrive when the test says so. */
export function slowReading(
  parts: { [part in ChartPartName]?: PartResult } = {},
): ChartReading & { arrive(more: { [part in ChartPartName]?: PartResult }): void } {
  let now = parts;
  const listeners = new Set<() => void>();
  return {
    parts: () => now,
    onPart: (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    again: () => undefined,
    arrive: (more) => {
      now = { ...now, ...more };
      for (const listener of listeners) listener();
    },
  };
}

/** A session that sends nothing: enough for screens. */
export const sessionFor = (changes: Partial<Session> = {}): Session =>
  ({
    context: { base: "https://ehr.example/fhir", patientId: "p1", launchId: "l1" },
    issuer: { label: "Example", host: "ehr.example" },
    config: { issuers: [], frameAncestors: [] },
    needPatientBanner: true,
    fhirContext: [],
    granted: [],
    can: () => true,
    lost: [],
    user: {},
    signer: () => Promise.resolve({ ok: true, reference: "Practitioner/9", name: "Dr Tamsin Orrery" }),
    state: () => ({ kind: "open" }),
    lastsFor: () => Promise.resolve(true),
    onChange: () => () => undefined,
    end: () => undefined,
    ...changes,
  }) as unknown as Session;

/** Signed records of invented people on fixed days, so that the edition of the code table holds whenever the test runs. */
import type { FhirResource } from "fhir/r4";
import { fillPlan, readTemplate } from "../../launch/ehr/clinics/plan-template.ts";

/** A Monday inside the edition of the shipped table. */
export const DAY0 = new Date(2026, 10, 2);
export const DAYS = { from: "2026-11-01", to: "2026-11-08" } as const;
const PEOPLE = [
  { id: "coder-mallet", name: ["Ludmilla", "Fairweather"], plan: "closed-mallet" },
  { id: "coder-crush", name: ["Bartholomew", "Quince"], plan: "two-crushed-digits" },
  { id: "coder-tuft", name: ["Philippa", "Oddington"], plan: "closed-tuft" },
] as const;
export const [MALLET, CRUSH, TUFT] = PEOPLE.map(({ name }) => name.join(" ")) as [string, string, string];

/** Three patients, each with the plan that the app writes on sign-off. */
export const signedRecords = (): FhirResource[] =>
  PEOPLE.flatMap(({ id, name: [given, family], plan }) => [
    {
      resourceType: "Patient",
      id,
      active: true,
      name: [{ use: "official", family, given: [given] }],
      birthDate: "1988-03-14",
      gender: "female",
    } as FhirResource,
    ...(fillPlan(readTemplate(plan), {
      patient: id,
      name: `${given} ${family}`,
      day0: DAY0,
    }) as unknown as FhirResource[]),
  ]);

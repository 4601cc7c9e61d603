/** The four invented members of staff who can sign in, and what each may do. */

export type Letters = string; // an in-order subset of "cruds" (SMART App Launch 2.2, scopes)

export interface Person {
  readonly id: "emergency" | "surgeon" | "clinic" | "coder";
  readonly role: string;
  readonly name: string;
  readonly practitionerId: string;
  /** What this person may do with a resource type. */
  readonly may: (type: string) => Letters;
}

const CLINICAL_WRITING = new Set([
  "Appointment",
  "CarePlan",
  "Communication",
  "Condition",
  "Device",
  "DocumentReference",
  "Flag",
  "Observation",
  "Procedure",
  "Provenance",
  "QuestionnaireResponse",
  "ServiceRequest",
  "Task",
]);

/** What whoever keeps the book writes: visits, their times, and who did and told what. Nothing clinical. */
const BOOKING: Readonly<Record<string, Letters>> = {
  Appointment: "crus",
  Communication: "crs",
  Provenance: "crs",
  Slot: "rus",
};

/** What a coder writes: codes of diagnoses, questions to clinicians, and who decided. */
const CODING: Readonly<Record<string, Letters>> = { Condition: "crus", Provenance: "crs", Task: "crus" };

export const PEOPLE: readonly Person[] = [
  {
    id: "emergency",
    role: "Emergency doctor",
    name: "Dr Imke Harrowgate",
    practitionerId: "imke-harrowgate",
    may: (type) => (CLINICAL_WRITING.has(type) ? "cruds" : "rs"),
  },
  {
    id: "surgeon",
    role: "Hand surgeon",
    name: "Dr Aurel Pemberwick",
    practitionerId: "aurel-pemberwick",
    may: (type) => (CLINICAL_WRITING.has(type) ? "cruds" : "rs"),
  },
  {
    id: "clinic",
    role: "Clinic staff",
    name: "Tobias Quillfeather",
    practitionerId: "tobias-quillfeather",
    may: (type) => BOOKING[type] ?? "rs",
  },
  {
    id: "coder",
    role: "Clinical coder",
    name: "Solveig Marchbanks",
    practitionerId: "solveig-marchbanks",
    may: (type) => CODING[type] ?? "rs",
  },
];
export const personById = (id: string): Person | undefined => PEOPLE.find((person) => person.id === id);
/** All types that some person may write; needed to spell out a wildcard scope. */
export const WRITABLE_TYPES: readonly string[] = [...CLINICAL_WRITING, "Slot"];

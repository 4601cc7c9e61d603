/** What the plugin asks the record system for: per resource and action, nothing else, each with its reason. */
import { covers, type ScopeLetter } from "./granted.ts";

export { covers, type ScopeLetter } from "./granted.ts";

interface Need {
  readonly resource: string;
  readonly letters: string;
  /** What the clinician loses without it. */
  readonly without: string;
  /** What is lost when it can be read but not written. */
  readonly unwritten?: string;
}

const NEEDS: readonly Need[] = [
  { resource: "Patient", letters: "rs", without: "The patient's name, age and sex cannot be shown or checked." },
  {
    resource: "Condition",
    letters: "crus",
    without: "Known diagnoses are not read. You will be asked about them.",
    unwritten: "The coded diagnosis cannot be filed.",
  },
  { resource: "ImagingStudy", letters: "rs", without: "Films are not found. You will be asked about them." },
  { resource: "DiagnosticReport", letters: "rs", without: "Reports of films are not read." },
  { resource: "Observation", letters: "rs", without: "Body weight is not read. You will be asked for it." },
  { resource: "AllergyIntolerance", letters: "rs", without: "Allergies are not read. You will be asked about them." },
  { resource: "Immunization", letters: "rs", without: "Tetanus doses are not read. You will be asked about them." },
  {
    resource: "MedicationRequest",
    letters: "rs",
    without: "Prescriptions are not read. You will be asked about them.",
  },
  { resource: "MedicationStatement", letters: "rs", without: "Medicines taken are not read. You will be asked." },
  { resource: "Encounter", letters: "rs", without: "The visit is not read." },
  {
    resource: "CarePlan",
    letters: "crus",
    without: "Earlier plans are not found.",
    unwritten: "The care plan cannot be filed.",
  },
  {
    resource: "ServiceRequest",
    letters: "crus",
    without: "Earlier orders of the plan are not found.",
    unwritten: "Orders cannot be filed.",
  },
  {
    resource: "Appointment",
    letters: "crus",
    without: "Earlier visits of the plan are not found.",
    unwritten: "Follow-up visits cannot be filed.",
  },
  {
    resource: "QuestionnaireResponse",
    letters: "crus",
    without: "Earlier findings are not found.",
    unwritten: "The findings cannot be filed.",
  },
  {
    resource: "DocumentReference",
    letters: "crs",
    without: "Plans filed as a document are not found.",
    unwritten: "A plan cannot be filed as a document.",
  },
  {
    resource: "Provenance",
    letters: "crs",
    without: "Who signed earlier plans is not shown.",
    unwritten: "It cannot be filed who signed.",
  },
  {
    resource: "Task",
    letters: "rus",
    without: "Questions of coders are not shown.",
    unwritten: "Questions of coders cannot be answered here.",
  },
  {
    resource: "Communication",
    letters: "rs",
    without: "Who in the clinic booked a visit outside the days of a plan, and when, is not shown.",
  },
];

function version1(need: Need): string {
  const verbs = [...(/[rs]/.test(need.letters) ? ["read"] : []), ...(/[cud]/.test(need.letters) ? ["write"] : [])];
  return verbs.map((verb) => `patient/${need.resource}.${verb}`).join(" ");
}

/**
 * The scope string for a launch. EHR launches carry `launch`, standalone ones `launch/patient`: never both, since the
 * handshake library adds nothing once it sees the word.
 */
export function scopesFor(how: {
  launch: "ehr" | "standalone";
  syntax: "v1" | "v2";
  onlineAccess: boolean;
  openId: boolean;
}): string {
  return [
    how.launch === "ehr" ? "launch" : "launch/patient",
    ...(how.openId ? ["openid", "fhirUser"] : []),
    ...(how.onlineAccess ? ["online_access"] : []),
    ...NEEDS.map((need) => (how.syntax === "v1" ? version1(need) : `patient/${need.resource}.${need.letters}`)),
  ].join(" ");
}

export interface LostFunction {
  readonly scope: string;
  readonly words: string;
}

/** What the clinician has to do without, because the record system granted less than was asked. */
export function lostFunctions(granted: readonly string[]): LostFunction[] {
  return NEEDS.flatMap((need) => {
    const missing = [...need.letters].filter((letter) => !covers(granted, need.resource, letter as ScopeLetter));
    if (missing.length === 0) return [];
    const unread = missing.some((letter) => "rs".includes(letter));
    const unwritten = missing.some((letter) => "cu".includes(letter)) && need.unwritten;
    return [
      {
        scope: `patient/${need.resource}.${missing.join("")}`,
        words: [...(unread ? [need.without] : []), ...(unwritten ? [unwritten] : [])].join(" "),
      },
    ];
  });
}

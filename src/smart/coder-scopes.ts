/** What a coder asks the record system for: signed records over many patients, and to write codes and questions. Nothing else. */
import { covers, type ScopeLetter } from "./granted.ts";

interface CoderNeed {
  readonly resource: string;
  readonly letters: string;
  /** What the coder loses without it. */
  readonly without: string;
  /** What is lost when it can be read but not written. */
  readonly unwritten?: string;
}

const CODER_NEEDS: readonly CoderNeed[] = [
  { resource: "Patient", letters: "rs", without: "It is not shown whose records they are." },
  { resource: "QuestionnaireResponse", letters: "rs", without: "Signed records are not found." },
  { resource: "CarePlan", letters: "rs", without: "It is not seen whether a plan was withdrawn or replaced." },
  {
    resource: "Condition",
    letters: "crus",
    without: "The diagnoses of the record are not read.",
    unwritten: "Codes cannot be written to the diagnoses.",
  },
  {
    resource: "Task",
    letters: "crus",
    without: "Questions that were sent and their answers are not found.",
    unwritten: "Questions cannot be sent to clinicians.",
  },
  {
    resource: "Provenance",
    letters: "crs",
    without: "What was coded before is not found.",
    unwritten: "It cannot be filed who coded.",
  },
];
const version1 = ({ resource, letters }: CoderNeed): string[] => [
  `user/${resource}.read`,
  ...(/[cu]/.test(letters) ? [`user/${resource}.write`] : []),
];

/** The scope string of a coder's launch (SMART App Launch 2.2): no patient is asked for, nothing may be deleted. */
export const coderScopes = (how: {
  launch: "ehr" | "standalone";
  syntax: "v1" | "v2";
  onlineAccess: boolean;
  openId: boolean;
}): string =>
  [
    ...(how.launch === "ehr" ? ["launch"] : []),
    ...(how.openId ? ["openid", "fhirUser"] : []),
    ...(how.onlineAccess ? ["online_access"] : []),
    ...CODER_NEEDS.flatMap((need) => (how.syntax === "v1" ? version1(need) : `user/${need.resource}.${need.letters}`)),
  ].join(" ");

/** What the coder has to do without, in sentences, because less was granted than was asked. */
export const coderLosses = (granted: readonly string[]): string[] =>
  CODER_NEEDS.flatMap(({ resource, letters, without, unwritten }) => {
    const missing = [...letters].filter((letter) => !covers(granted, resource, letter as ScopeLetter));
    if (missing.some((letter) => "rs".includes(letter))) return without;
    return missing.length > 0 && unwritten ? unwritten : [];
  });

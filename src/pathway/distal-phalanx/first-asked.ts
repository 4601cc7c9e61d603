import { HAND_FINDINGS } from "../hand/findings.ts";
import { FIRST_GROUPS, NAMING_QUESTIONS, RED_FLAG_QUESTIONS } from "../hand/first-questions.ts";
import type { AskedInjury } from "../module.ts";

/** What is asked first about a fracture of the distal phalanx; the bone's own questions come later. */
export const DISTAL_PHALANX_FIRST: AskedInjury = {
  id: "distal-phalanx",
  title: "Distal phalanx",
  findings: HAND_FINDINGS,
  questions: [...NAMING_QUESTIONS, ...RED_FLAG_QUESTIONS],
  groups: FIRST_GROUPS,
};

import type { AskedInjury } from "../module.ts";
import { DISTAL_PHALANX_FINDINGS } from "./findings.ts";
import { DISTAL_PHALANX_FIRST } from "./first-asked.ts";
import { GROUPS, QUESTIONS } from "./questions.ts";

/** What is asked about a fracture of the distal phalanx. */
export const DISTAL_PHALANX_ASKED: AskedInjury = {
  ...DISTAL_PHALANX_FIRST,
  findings: DISTAL_PHALANX_FINDINGS,
  questions: QUESTIONS,
  groups: GROUPS,
};

import type { AskedInjury } from "../module.ts";
import { DISTAL_PHALANX_FINDINGS } from "./findings.ts";
import { GROUPS, QUESTIONS } from "./questions.ts";

/** What is asked about a fracture of the distal phalanx. */
export const DISTAL_PHALANX_ASKED: AskedInjury = {
  id: "distal-phalanx",
  title: "Distal phalanx",
  findings: DISTAL_PHALANX_FINDINGS,
  questions: QUESTIONS,
  groups: GROUPS,
};

/**
 * The light door into the clinical rules: what is asked, and how answers are counted. No table, sign, text of a rule or
 * policy hangs on it, so that the questions can be on a screen while `index.ts` is still on its way.
 */
import { DISTAL_PHALANX_ASKED } from "./distal-phalanx/asked.ts";
import type { AskedInjury } from "./module.ts";

export { type Answers, type CaseRecord, dayZero, factsOf } from "./case-record.ts";
export type * from "./module.ts";
export { type Absent, isAbsent } from "./reasoning/known.ts";
export type { Facts } from "./reasoning/program.ts";
export { KNOWLEDGE_VERSION } from "./version.ts";

/** What each known injury asks, in the order of the modules. */
export const ASKED: readonly AskedInjury[] = [DISTAL_PHALANX_ASKED];

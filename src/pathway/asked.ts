/**
 * The light door into the clinical rules: what is asked first, and how answers are counted. No table, sign, text of a rule or
 * policy hangs on it, and no question that comes later (`all-asked.ts`), so that the first questions can be on a screen
 * while all else is still on its way.
 */
import { DISTAL_PHALANX_FIRST } from "./distal-phalanx/first-asked.ts";
import type { AskedInjury } from "./module.ts";

export { type Answers, type CaseRecord, dayZero, factsOf } from "./case-record.ts";
export type * from "./module.ts";
export { type Absent, isAbsent } from "./reasoning/known.ts";
export type { Facts } from "./reasoning/program.ts";
export { KNOWLEDGE_VERSION } from "./version.ts";

/** The first groups of questions of each known injury, in the order of the modules. */
export const FIRST_ASKED: readonly AskedInjury[] = [DISTAL_PHALANX_FIRST];

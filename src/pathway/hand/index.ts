/**
 * What any injury of the hand shares. A module composes it in this order:
 *
 * - findings: `{ ...HAND_FINDINGS, ...own }`, questions `[...HAND_QUESTIONS, ...own]`, groups from `HAND_GROUPS` (by id)
 * - policy: `{ ...HAND_POLICY, ...own }`
 * - signs: `[...handSigns(policy, alsoOpen), ...own, ...handSignsAfterModule(policy)]`; its own signs must include every
 *   one of `MODULE_SIGN_NAMES` and may read the hand signs before them
 * - tables: `[...handTables(policy), ...own]`; the first of them is the red-flag gate
 * - figures: `handFigures` (needs "blockLikely", "blockForbidden" and "epinephrineRisk" among the facts, as `assess.ts` passes them)
 */
import type { SitePolicy } from "../policy/policy-value.ts";
import { blockWarnings, epinephrine } from "./anaesthetic.ts";
import { antibiotic, antibioticAtOperation, antibioticClass } from "./antibiotics.ts";
import { dataQuality } from "./data-quality.ts";
import { afterReduction, exits, exitVisits, latePresentation } from "./exits.ts";
import { firstMinutes } from "./first-minutes.ts";
import type { HandTable } from "./hand-table.ts";
import { modifiers } from "./modifiers.ts";
import { advice, antibioticAdvice, redFlags, tetanusAdvice } from "./safety-net.ts";
import { tetanus, tetanusDetails } from "./tetanus.ts";
import { tuftWound, wound } from "./wound.ts";

export { FIGURES_READ, handFigures } from "./anaesthetic.ts";
export { HAND_FINDINGS, type HandFindings } from "./findings.ts";
export type { HandTable } from "./hand-table.ts";
export { ADULT_YEARS, DAYS_A_YEAR, DISLOCATION_SPLINT, HOURS_A_DAY, PHYSEAL_COURSE_DAYS } from "./limits.ts";
export { HAND_POLICY } from "./policy.ts";
export { HAND_GROUPS, HAND_QUESTIONS } from "./questions.ts";
export {
  BONE_KEPT,
  daysInHours,
  HAND_SIGN_NAMES,
  type HandRecord,
  type HandSigns,
  handSigns,
  handSignsAfterModule,
  LATE_HAND_SIGN_NAMES,
  MODULE_SIGN_NAMES,
  type ModuleSigns,
} from "./signs.ts";

/** All shared tables, the gate first. */
export const handTables = (policy: SitePolicy): readonly HandTable[] =>
  [
    exits,
    latePresentation,
    exitVisits,
    afterReduction,
    dataQuality,
    firstMinutes,
    wound,
    tuftWound,
    antibiotic,
    antibioticClass,
    antibioticAtOperation,
    tetanus,
    tetanusDetails,
    epinephrine,
    blockWarnings,
    modifiers,
    advice,
    antibioticAdvice,
    tetanusAdvice,
    redFlags,
  ].map((make) => make(policy));

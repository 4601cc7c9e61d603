/** The only door into the clinical rules. */
import { SITE_DEFINITIONS } from "./modules.ts";
import { checkSitePolicy, type PolicyReading, schemaOf } from "./policy/site-policy.ts";

export { askNext } from "./ask.ts";
export { assessCase, assessDigit, moreUrgent, type Pathway, pathwayFor, preparing } from "./assess.ts";
export type * from "./assessment.ts";
export { type Answers, type CaseRecord, dayZero, factsOf } from "./case-record.ts";
export { type CaseProblem, type CaseReading, caseSchema, readCase } from "./case-schema.ts";
export type { Citation, Strength } from "./evidence/citation.ts";
export { STRENGTH_WORDS } from "./evidence/citation.ts";
export { explain } from "./explain.ts";
export { CALL_WORDS, PURPOSE_WORDS } from "./hand/effect-words.ts";
export type * from "./hand/effects.ts";
export { URGENCIES } from "./hand/effects.ts";
export type * from "./module.ts";
export { FINDING_DEFINITIONS, MODULES, POLICY_DEFINITIONS, SITE_DEFINITIONS } from "./modules.ts";
export { CODING_POLICY } from "./policy/coding-policy.ts";
export type { PolicyDefinitions, PolicyValue, SitePolicy } from "./policy/policy-value.ts";
export { allowedFor, type PolicyProblem, type PolicyReading } from "./policy/site-policy.ts";
export { makeReady, makingReady } from "./possible.ts";
export type {
  ChoiceFinding,
  FindingDefinition,
  FindingDefinitions,
  NumberFinding,
  Scope,
} from "./reasoning/finding.ts";
export { type Absent, isAbsent } from "./reasoning/known.ts";
export type { Facts, Trace } from "./reasoning/program.ts";
export { KNOWLEDGE_VERSION } from "./version.ts";

/** Checks a site's policy file against everything the pathway lets a site set; undefined gives the defaults. See `checkSitePolicy`. */
export const readSitePolicy = (json: unknown): PolicyReading => checkSitePolicy(SITE_DEFINITIONS, json);
/** The form of a site's policy file, for a published schema. A function, so that no page builds what only a command asks for. */
export const sitePolicySchema = () => schemaOf(SITE_DEFINITIONS);
export { type UrgencyWords, urgencyWords } from "./hand/urgency-words.ts";

import { distalPhalanx } from "./distal-phalanx/index.ts";
import type { InjuryModule } from "./module.ts";
import { CODING_POLICY } from "./policy/coding-policy.ts";
import type { PolicyDefinitions } from "./policy/policy-value.ts";
import type { FindingDefinitions } from "./reasoning/finding.ts";

/** The injuries this knowledge covers. The next hand bone is one folder and one line here. */
export const MODULES: readonly InjuryModule[] = [distalPhalanx];

/** Everything a site may set, over all modules. */
export const POLICY_DEFINITIONS: PolicyDefinitions = Object.assign({}, ...MODULES.map((m) => m.policy));
/** All that a site's policy file may set: what rules read, and which codes are written. */
export const SITE_DEFINITIONS: PolicyDefinitions = { ...POLICY_DEFINITIONS, ...CODING_POLICY };
/** Every finding a case record may carry, over all modules. */
export const FINDING_DEFINITIONS: FindingDefinitions = Object.assign({}, ...MODULES.map((m) => m.findings));

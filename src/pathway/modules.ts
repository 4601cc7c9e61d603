import { distalPhalanx } from "./distal-phalanx/index.ts";
import type { InjuryModule } from "./module.ts";

/** The injuries this knowledge covers. The next hand bone is one folder and one line here. */
export const MODULES: readonly InjuryModule[] = [distalPhalanx];

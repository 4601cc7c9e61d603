/** All that is asked, still without any rule: for screens that show every question, and for the readers of a chart. */
import { DISTAL_PHALANX_ASKED } from "./distal-phalanx/asked.ts";
import type { AskedInjury } from "./module.ts";

/** What each known injury asks, in the order of the modules. */
export const ASKED: readonly AskedInjury[] = [DISTAL_PHALANX_ASKED];

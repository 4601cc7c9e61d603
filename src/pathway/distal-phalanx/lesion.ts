import type { Effect } from "../hand/effects.ts";
import type { Rule, Table } from "../reasoning/table.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

type EffectRule = Rule<DistalPhalanxFacts, readonly Effect[]>;

/**
 * A break through a bone lesion leaves the ordinary pathway, and still is the fracture that it is: rules of a class said once more for it,
 * as "FUP-L6" beside "FUP-6", as long as no other exit takes the finger over.
 *
 * @param ids rules of the table that hold with a lesion as well as without
 * @param kept which of their effects apply; absent: all
 */
export const besideLesion = (
  table: Table<DistalPhalanxFacts, readonly Effect[]>,
  ids: readonly string[],
  kept: (then: readonly Effect[]) => readonly Effect[] = (then) => then,
): readonly EffectRule[] =>
  table.rules
    .filter((rule) => ids.includes(rule.id))
    .map((rule) => ({
      ...rule,
      id: rule.id.replace("-", "-L"),
      when: { lesionAlone: "yes", ...rule.when },
      then: kept(rule.then),
    }));

import type { Facts, QuestionGroup, QuickAnswer } from "../pathway/asked.ts";
import type { Proposals } from "./proposals.ts";
import { valueState } from "./value-state.ts";

/** What one press would record, and what it leaves for the clinician to answer singly. */
export interface QuickOffer {
  readonly quick: QuickAnswer;
  readonly is: "ready" | "given" | "contradicted";
  readonly sets: readonly (readonly [finding: string, value: string])[];
  /** Findings of which the chart says otherwise: they are not waved through. */
  readonly except: readonly string[];
}
/**
 * A quick answer never wipes out an answer that was given by itself, and never denies what the chart says: while an answer
 * contradicts it, it is not offered; where the chart does, that finding stays open. It may replace another quick answer
 * of the same group that has just been given whole.
 */
export function quickOffers(group: QuestionGroup, facts: Facts, proposals: Proposals, digit: number): QuickOffer[] {
  const parts = group.quick.map((quick) => {
    const denies = ([finding, value]: readonly [string, string]) => {
      if (facts[finding] === undefined && proposals.bearing(finding).length > 0) return true;
      const { is } = valueState(undefined, proposals.of(finding, digit));
      return is === "chart-disagrees" || (is === "from-chart" && proposals.of(finding, digit)[0]?.value !== value);
    };
    const all = Object.entries(quick.sets);
    const except = all.filter(denies).map(([finding]) => finding);
    const sets = all.filter(([finding]) => !except.includes(finding));
    return {
      quick,
      sets,
      except,
      given: sets.length > 0 && sets.every(([finding, value]) => facts[finding] === value),
    };
  });
  // Of several that hold, the one that says most is the one that was given.
  const [given] = parts.filter((p) => p.given).sort((a, b) => b.sets.length - a.sets.length);
  const replaceable = new Set(given?.sets.map(([finding]) => finding));
  return parts.map(({ given: _, ...part }) => {
    const contradicted = part.sets.some(
      ([finding, value]) => facts[finding] !== undefined && facts[finding] !== value && !replaceable.has(finding),
    );
    return { ...part, is: part.quick === given?.quick ? "given" : contradicted ? "contradicted" : "ready" };
  });
}

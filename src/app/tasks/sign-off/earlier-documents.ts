import type { EarlierPlan } from "../../../fhir/chart.ts";
import { type Act, type DraftItem, documentKey, episodesOf, planIdOf, replacedBy } from "../../../fhir/drafts.ts";
import type { WriteReport } from "../../../smart/write-back.ts";

/**
 * Documents that a new one replaces: of this plan and of this injury, as the chart and the last report show them, and not replaced
 * already. The document of the very same act is that act's own.
 */
export function earlierDocuments(
  plans: readonly EarlierPlan[],
  report: WriteReport | undefined,
  items: readonly DraftItem[],
  act: Act,
  at: string,
): string[] {
  const own = documentKey(act, at);
  const planId = planIdOf(items[0]?.resource ?? {});
  const injury = new Set(items.flatMap((item) => episodesOf(item.resource)));
  const stored = plans.flatMap((plan) =>
    plan.items
      .filter((item) => item.type === "DocumentReference" && item.status === "current" && item.key !== own)
      .filter((item) => plan.planId === planId || episodesOf(item.resource).some((one) => injury.has(one))),
  );
  const justNow = (report?.items ?? []).flatMap(({ key, outcome, reference }) =>
    outcome === "saved" && reference?.startsWith("DocumentReference/") && key !== own ? [reference] : [],
  );
  const replaced = new Set(stored.flatMap(({ resource }) => replacedBy(resource)));
  return [...new Set([...stored.map(({ reference }) => reference), ...justNow])].filter((one) => !replaced.has(one));
}

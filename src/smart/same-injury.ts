/** Plans that somebody else signed for the same injury while this one was being made: two of them must not stand unnoticed. */
import { EPISODE } from "../fhir/codings.ts";
import type { DraftResource } from "../fhir/drafts.ts";
import { planItemOf, seenIn } from "./read-chart.ts";
import type { Session } from "./session.ts";
import type { FhirProblem, FhirResource } from "./transport.ts";

export type OtherPlans =
  | { readonly ok: true; readonly plans: readonly string[] }
  | { readonly ok: false; readonly problem: FhirProblem };

const NONE: OtherPlans = { ok: true, plans: [] };
const MANY = 20;
const IN_FORCE = ["active", "on-hold"];

/**
 * Signed plans in force for the injury of `resources`, "CarePlan/12", apart from the plan itself and from those that were
 * in the chart as this window read it, or as `seen` lists them, and from those that the same act changes. The injury is
 * recognised by the identifier of the episode that every plan carries.
 */
export async function unseenPlans(
  { fhir, context }: Pick<Session, "fhir" | "context">,
  resources: readonly DraftResource[],
  { seen, changed = [] }: { seen?: readonly string[] | undefined; changed?: readonly string[] } = {},
): Promise<OtherPlans> {
  const plan = resources.find(({ resourceType }) => resourceType === "CarePlan") as FhirResource | undefined;
  const episode = plan && episodeOf(plan);
  if (!plan || !episode) return NONE;
  const query = `CarePlan?identifier=${encodeURIComponent(`${EPISODE}|${episode}`)}&patient=${context.patientId}`;
  const answer = await fhir.search(query, { limit: MANY });
  if (!answer.ok) return answer;
  const { items, own } = seenIn(context);
  const others = answer.value.matches.filter((one) => {
    const item = planItemOf(one);
    const reference = `${one.resourceType}/${one.id}`;
    // What this page has stored itself is no rival, not even where the plan is to be filed in another way by now.
    const known =
      (item !== undefined && own.has(item)) ||
      changed.includes(reference) ||
      (seen ? seen.includes(reference) : item !== undefined && items.has(item));
    const isOther = item !== undefined && item !== planItemOf(plan) && !known;
    const isOfPatient = (one.subject as { reference?: string } | undefined)?.reference?.endsWith(
      `Patient/${context.patientId}`,
    );
    return isOther && isOfPatient && IN_FORCE.includes(String(one.status)) && episodeOf(one) === episode;
  });
  return { ok: true, plans: others.map(({ resourceType, id }) => `${resourceType}/${id}`) };
}

function episodeOf({ identifier }: FhirResource): string | undefined {
  const own = [identifier ?? []].flat() as ({ system?: unknown; value?: unknown } | undefined)[];
  const value = own.find((one) => one?.system === EPISODE)?.value;
  return typeof value === "string" ? value : undefined;
}

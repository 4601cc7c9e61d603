/** Two clinicians may plan one injury within seconds: each is told of the other's plan, and none is lost. */
import { EPISODE } from "../fhir/codings.ts";
import type { DraftItem } from "../fhir/drafts.ts";
import type { Problem } from "./problem.ts";
import type { Session } from "./session.ts";
import type { FhirResource } from "./transport.ts";

interface Listed extends FhirResource {
  readonly identifier?: readonly { system?: string; value?: string }[];
  readonly status?: string;
}
const identifiersOf = ({ identifier }: Listed) => (Array.isArray(identifier) ? identifier : []);
const IN_FORCE = ["active", "on-hold"];

/** Signed plans for the same injury that are in force and not among those the clinician has seen and decided about: "CarePlan/12". */
export async function rivalPlans(
  { fhir, context }: Pick<Session, "fhir" | "context">,
  items: readonly DraftItem[],
  seen: readonly string[],
): Promise<readonly string[]> {
  const plan = items.find((item) => item.kind === "plan" && !item.removed)?.resource as Listed | undefined;
  const own = plan ? identifiersOf(plan) : [];
  const episode = own.find((one) => one.system === EPISODE)?.value;
  if (episode === undefined) return [];
  const query = new URLSearchParams({ identifier: `${EPISODE}|${episode}`, patient: context.patientId });
  const answer = await fhir.search(`CarePlan?${query}`, { limit: 20 });
  // What cannot be looked up stops nothing here: the plan's own items are looked for by themselves.
  if (!answer.ok) return [];
  return (answer.value.matches as Listed[])
    .filter((one) => identifiersOf(one).some(({ system, value }) => system === EPISODE && value === episode))
    .filter((one) => IN_FORCE.includes(one.status ?? ""))
    .filter(
      (one) =>
        !identifiersOf(one).some((theirs) =>
          own.some((mine) => mine.system !== EPISODE && mine.value === theirs.value),
        ),
    )
    .map((one) => `CarePlan/${one.id}`)
    .filter((reference) => !seen.includes(reference));
}

export const rivalBefore = (rivals: readonly string[]): Problem => ({
  kind: "write",
  title: "Somebody else has signed a plan for this injury.",
  what: `It is in the record as ${rivals.join(" and ")}, and was not there when you read the chart. Nothing was written. Your draft is kept on this page.`,
  next: "Read the chart again, look at the other plan, then decide which one holds.",
});
export const rivalAfter = (rivals: readonly string[]): Problem => ({
  kind: "write",
  title: "Two signed plans for this injury are in the record.",
  what: `Yours is saved. ${rivals.join(" and ")} was signed at the same time by somebody else. Both are in force.`,
  next: "Agree which one holds, then withdraw the other one under Saved plans.",
});

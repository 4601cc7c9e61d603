import type { Appointment, CarePlan, Condition, ServiceRequest } from "fhir/r4";
import { REVISES } from "./chart-resource.ts";
import { dateWords, localOf, machineZone } from "./dates.ts";
import type { DraftItem, DraftResource, ExistingItem } from "./draft-item.ts";
import { wordsOf } from "./drafts.ts";
import type { EarlierItem, EarlierPlan } from "./earlier.ts";
import { REFINED_FROM } from "./plan-life.ts";
import { type Acting, type Changes, changesOf, type LeftAlone, startOf, titleOf } from "./stored-change.ts";

/** What a stored item says that it did not say when this program wrote it. */
export interface Drift {
  readonly title: string;
  readonly reference: string;
  /** In the record now, and not as it was written. */
  readonly added: readonly string[];
  readonly gone: readonly string[];
}
/** What a stored item says and the new one does not, and the other way round. */
export interface Difference {
  readonly title: string;
  readonly added: readonly string[];
  readonly gone: readonly string[];
}
export interface Revision extends Changes {
  /** The new plan's items: what is unchanged stands, a diagnosis is refined, the plan takes the old one's place. */
  readonly items: readonly DraftItem[];
}

const LINE = /<li>([\s\S]*?)<\/li>/g;
const PLAIN: Record<string, string> = { "&lt;": "<", "&gt;": ">", "&quot;": '"', "&#39;": "'", "&amp;": "&" };
const without = (all: readonly string[], some: readonly string[]) => all.filter((line) => !some.includes(line));

/** The words that this program put into the narrative when it wrote the item; undefined where another narrative stands there. */
function writtenWords(item: EarlierItem): string[] | undefined {
  const { div } = (item.resource.text ?? {}) as { div?: unknown };
  if (typeof div !== "string" || !/<b>(Draft, not signed|Signed by )/.test(div)) return undefined;
  return [...div.matchAll(LINE)].map(([, line]) => line!.replace(/&(?:lt|gt|quot|#39|amp);/g, (e) => PLAIN[e]!));
}

/**
 * What people changed in the record since this program wrote it, as far as its own narrative shows it: a state it did not set, and words
 * that differ. Nothing of it is overwritten without being said.
 */
export function driftOf({ items, signed }: Pick<EarlierPlan, "items" | "signed">): Drift[] {
  return items.flatMap((item): Drift[] => {
    const now = wordsOf(item.resource as unknown as DraftResource);
    const then = writtenWords(item);
    const moved = item.type !== "Condition" && !asWritten(item.type, signed).includes(item.status);
    const start = startOf(item);
    const added = [
      ...(moved ? [`It is now ${item.status}${start ? `, ${dateWords(start)}` : ""}.`] : []),
      ...(then === undefined
        ? ["Its text was rewritten by another program: read it in the record."]
        : without(now, then)),
    ];
    const gone = then === undefined ? [] : without(then, now);
    return added.length + gone.length === 0 ? [] : [{ title: titleOf(item), reference: item.reference, added, gone }];
  });
}
/** The state in which this program leaves an item. */
const asWritten = (type: string, signed: boolean): readonly string[] => {
  if (type === "Appointment") return ["proposed"];
  if (type === "QuestionnaireResponse") return signed ? ["completed", "amended"] : ["in-progress"];
  return [signed ? "active" : "draft"];
};

/** What the newly made items say otherwise than the stored draft: a draft made under other knowledge is looked at again, never signed as it was. */
export function differencesFrom(items: readonly DraftItem[], plan: Pick<EarlierPlan, "items">): Difference[] {
  const compared = items.filter((i) => !i.removed && i.kind !== "provenance");
  const changed = compared.flatMap((item): Difference[] => {
    const stored = plan.items.find((i) => i.key === item.key);
    if (!stored) return [{ title: item.title, added: meaningOf(item.resource), gone: [] }];
    const [now, then] = [meaningOf(item.resource), meaningOf(stored.resource as unknown as DraftResource)];
    const [added, gone] = [without(now, then), without(then, now)];
    return added.length + gone.length === 0 ? [] : [{ title: item.title, added, gone }];
  });
  const vanished = plan.items
    .filter((i) => i.type !== "Provenance" && !compared.some((c) => c.key === i.key))
    .map((i) => ({ title: titleOf(i), added: [], gone: meaningOf(i.resource as unknown as DraftResource) }));
  return [...changed, ...vanished];
}

/** The words of an item without who signed it, when, and how it stands. */
function meaningOf(resource: DraftResource): string[] {
  switch (resource.resourceType) {
    case "ServiceRequest": {
      const { requester: _, ...rest } = resource as ServiceRequest;
      return wordsOf(rest as ServiceRequest);
    }
    case "Condition": {
      const { code, onsetDateTime, extension } = resource as Condition;
      // Where an entry of the chart was refined, its older codes and its time of injury are the others'.
      const before = extension?.find((e) => e.url === REFINED_FROM)?.valueCodeableConcept;
      const theirs = (before?.coding ?? []).map((c) => c.code);
      return [
        ...(code?.text ? [code.text] : []),
        ...(code?.coding ?? [])
          .filter((c) => !theirs.includes(c.code))
          .map((c) => `${c.code} ${c.display ?? ""}`.trim()),
        ...(onsetDateTime && !before ? [injuredOn(onsetDateTime)] : []),
      ];
    }
    default:
      return wordsOf(resource);
  }
}
const injuredOn = (at: string): string => `Injured on ${dateWords(localOf(at, machineZone()))}.`;
function sameMeaning(item: DraftItem, stored: EarlierItem): boolean {
  const resource = stored.resource as unknown as DraftResource;
  const refined = resource.resourceType === "Condition" && resource.extension?.some((e) => e.url === REFINED_FROM);
  const now = meaningOf(item.resource).filter((line) => !refined || !line.startsWith("Injured on "));
  return JSON.stringify(now) === JSON.stringify(meaningOf(resource));
}

const existingOf = ({ reference, version, resource }: EarlierItem): ExistingItem => ({
  reference,
  resource,
  ...(version ? { version } : {}),
});
const TAKEN_UP = ["booked", "pending", "arrived", "checked-in", "waitlist"];
/** A visit that the clinic has booked still fits when its day lies in the window now asked for. */
function stillFits(visit: Appointment, stored: EarlierItem): boolean {
  const { start: first, end: last } = visit.requestedPeriod?.[0] ?? {};
  const day = startOf(stored)?.slice(0, 10);
  return day === undefined || ((!first || day >= first.slice(0, 10)) && (!last || day <= last.slice(0, 10)));
}

/**
 * The items of a new plan as a revision of a signed one. What is unchanged stands and is not written again; a diagnosis goes over its earlier
 * self; an order that changed replaces its earlier self; visits not yet booked are cancelled and asked for anew; a booked visit is never
 * touched. What a clinician left out of the new plan ends with the old one.
 */
export function revisionOf(asked: readonly DraftItem[], old: EarlierPlan, acting: Acting): Revision {
  const stored = new Map(old.items.map((i) => [i.key, i]));
  const standing = new Set<string>();
  const left: LeftAlone[] = [];
  const requests = new Map<string, DraftItem>();
  const stand = (item: DraftItem, earlier: EarlierItem): DraftItem => {
    standing.add(earlier.key);
    return { ...item, stands: existingOf(earlier) };
  };
  const withRequests = asked.map((item): DraftItem => {
    const earlier = stored.get(item.key);
    if (item.removed || !earlier || item.kind !== "request") return item;
    const next =
      ["active", "on-hold", "completed"].includes(earlier.status) && sameMeaning(item, earlier)
        ? stand(item, earlier)
        : replacing(item, earlier);
    requests.set(item.urn, next);
    return next;
  });
  const items = withRequests.map((item): DraftItem => {
    const earlier = stored.get(item.key);
    if (item.kind === "plan") {
      const plan = old.items.find((i) => i.type === "CarePlan");
      return plan ? revising(item, plan.reference) : item;
    }
    if (item.removed || !earlier) return item;
    if (item.kind === "condition" && !item.refines) {
      standing.add(earlier.key);
      return sameMeaning(item, earlier)
        ? { ...item, stands: existingOf(earlier) }
        : { ...item, refines: existingOf(earlier) };
    }
    if (item.kind !== "visit") return item;
    const visit = item.resource as Appointment;
    if (TAKEN_UP.includes(earlier.status) && stillFits(visit, earlier)) return stand(item, earlier);
    const request = requests.get(visit.basedOn?.[0]?.reference ?? "");
    const follows = request === undefined || request.stands !== undefined;
    if (["proposed", "fulfilled"].includes(earlier.status) && follows && sameMeaning(item, earlier))
      return stand(item, earlier);
    return item;
  });
  // A finger whose finding was put right keeps nothing of the old diagnosis; one that goes over an entry of the chart leaves its own behind.
  const ending = old.items.filter((i) => !standing.has(i.key));
  const ended = changesOf(ending, "supersede", true, acting);
  return { items, changes: ended.changes, left: [...left, ...ended.left] };
}
function revising(item: DraftItem, reference: string): DraftItem {
  const plan = item.resource as CarePlan;
  const extension = [...(plan.extension ?? []), { url: REVISES, valueReference: { reference } }];
  return { ...item, resource: { ...plan, extension } };
}
/** R4 ServiceRequest.replaces: only what is terminated by the same act, or was before. */
function replacing(item: DraftItem, earlier: EarlierItem): DraftItem {
  const request = item.resource as ServiceRequest;
  return { ...item, resource: { ...request, replaces: [{ reference: earlier.reference }] } };
}

/**
 * The plan whose place a signed one takes and which is still in force: the writing of a revision stopped before its end was written,
 * so that both would be followed.
 *
 * @param plans as read with the chart
 */
export function stillInForce(plan: EarlierPlan, plans: readonly EarlierPlan[]): EarlierPlan | undefined {
  if (!plan.signed || plan.revises === undefined || !["active", "on-hold"].includes(plan.status)) return undefined;
  const old = plans.find(
    (p) => p.planId !== plan.planId && p.items.some((i) => i.type === "CarePlan" && i.reference === plan.revises),
  );
  const nobody = { signer: { reference: "" }, at: "2000-01-01T00:00:00Z", why: "" };
  return old && endOf(old, nobody).changes.length > 0 ? old : undefined;
}
/** The end of a replaced plan by itself; what the newer plan took over is no longer among its items. */
export const endOf = (old: EarlierPlan, acting: Acting): Changes => changesOf(old.items, "supersede", true, acting);

/** What a stored draft holds and the plan no longer does: taken out with it, so that nothing is left behind. */
export function droppedFrom(items: readonly DraftItem[], draft: EarlierPlan, acting: Acting): Changes {
  const kept = new Set(items.filter((i) => !i.removed && !i.stands && !i.refines).map((i) => i.key));
  const gone = draft.items.filter(
    (i) => !kept.has(i.key) && i.type !== "CarePlan" && i.type !== "QuestionnaireResponse",
  );
  return changesOf(gone, "drop", draft.signed, acting);
}

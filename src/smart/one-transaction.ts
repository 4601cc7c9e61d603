/** The plan as one transaction: all of it or nothing (R4 http#transaction). */
import type { Bundle } from "fhir/r4";
import { type BundleItem, bundleJson, itemsOf, signedDifferences, withReferences } from "../fhir/drafts.ts";
import { addressUnder } from "./fhir-address.ts";
import type { Filing } from "./filing.ts";
import type { Problem } from "./problem.ts";
import { versionOf } from "./read-chart.ts";
import {
  actOf,
  isEqual,
  isNewEachTime,
  isRecord,
  type Look,
  type Looks,
  lookAll,
  referenceOf,
  standingOf,
  storedHere,
} from "./stored-look.ts";
import type { FhirAnswer, FhirProblem, FhirResource } from "./transport.ts";
import {
  AGAIN,
  type ItemOutcome,
  type Job,
  KEPT,
  notSaved,
  pauseOf,
  problem,
  reportFrom,
  signalOf,
  type WriteContext,
  type WriteReport,
} from "./write-report.ts";

/** Before each look for what became of a write, milliseconds. [common practice, no source] */
export const PACE = [500, 1000, 2000, 4000];
/** A search that finds nothing counts only when a second one, this much later, finds nothing either. */
export const APART = 2000;

export type Verdict = "committed" | "refused" | "conflict" | "unknown";

/** A client error means that nothing was stored; silence and server faults mean nothing at all. */
export function verdictOf(answer: FhirAnswer<FhirResource | undefined>): Verdict {
  if (answer.ok) {
    const entries = (answer.value as Bundle | undefined)?.entry ?? [];
    // A server that stores in parts answers 200 and tells of failures inside: then only looking helps.
    return entries.every((entry) => /^2\d\d/.test(entry?.response?.status ?? "200")) ? "committed" : "unknown";
  }
  const { kind, status } = answer.problem;
  if (lacksCondition(answer.problem)) return "refused";
  if (kind === "conflict") return "conflict";
  if (status === undefined) return ["ended", "locked"].includes(kind) ? "refused" : "unknown";
  if (status === 401) return "unknown";
  const refused = (status >= 400 && status < 500) || status === 501;
  return refused && kind !== "too-large" ? "refused" : "unknown";
}

/** The server refused a conditional create because it knows none: no other version stands in the way (R4 http#ccreate, HTTP 412). */
export const lacksCondition = ({ status, outcome }: FhirProblem): boolean =>
  status === 412 && (outcome ?? []).some((issue) => issue.code === "not-supported");

/** "Condition/12" at an address that lies under our base and is of the right type. */
export function placeIn(base: string, type: string, location: string | undefined): string | undefined {
  const path = location && addressUnder(base, location)?.pathname.slice(new URL(base).pathname.length + 1);
  const place = path ? /^([A-Z][A-Za-z]+)\/[A-Za-z0-9\-.]{1,64}/.exec(path) : null;
  return place?.[1] === type ? place[0] : undefined;
}
/** The place of each entry for which the server names one. Response entries come in order. */
function placesIn(base: string, entries: readonly BundleItem[], answer: FhirAnswer<FhirResource | undefined>) {
  const places = new Map<string, string>();
  const said = answer.ok ? ((answer.value as Bundle | undefined)?.entry ?? []) : [];
  if (said.length !== entries.length) return places;
  entries.forEach((entry, at) => {
    const place = placeIn(base, entry.resource.resourceType, said[at]?.response?.location);
    if (place) places.set(entry.key, place);
  });
  return places;
}

/**
 * The bundle for a server that does not know conditional create. It was looked whether anything is stored, so what is new is created
 * without a condition; what is new each time and was found is not sent again.
 */
export function unconditioned(bundle: Bundle, filing: Filing, looks: Looks): Bundle {
  const lacks = (type: string) => !filing.capabilities.offers(type).conditionalCreate;
  const there = new Map<string, string>();
  const found = itemsOf(bundle).map((item) => {
    const seen = looks.get(item.key);
    const drop = isNewEachTime(item) && lacks(item.resource.resourceType) && seen?.state === "found";
    if (drop && item.urn) there.set(item.urn, referenceOf(seen.resource));
    return drop;
  });
  const entry = (bundle.entry ?? []).flatMap((one, at) => {
    if (found[at]) return [];
    const { ifNoneExist, ...request } = one.request!;
    const keeps = ifNoneExist !== undefined && !lacks(one.resource!.resourceType);
    return [{ ...one, request: keeps ? { ...request, ifNoneExist } : request }];
  });
  const left = { ...bundle, entry };
  return there.size === 0 ? left : withReferences(left, Object.fromEntries(there));
}

/** Sends the transaction, at most twice, and does not stop before its fate is known or the looks are used up. A refusal comes back as such. */
export async function send(job: Job, bundle: Bundle): Promise<WriteReport | { refused: FhirProblem }> {
  const { session, context } = job;
  const wait = pauseOf(context);
  const json = bundleJson(bundle);
  const entries = itemsOf(bundle);
  const items = entries.filter((entry) => !isRecord(entry));

  for (let sending = 1; ; sending++) {
    context.onStep?.("sending");
    const answer = await session.fhir.transaction(json, signalOf(context));
    const verdict = verdictOf(answer);
    if (verdict === "refused" && !answer.ok) return { refused: answer.problem };
    const committed = verdict === "committed";
    context.onStep?.(committed ? "confirming" : "looking");
    // What was sent twice may be stored twice, and only a search shows both.
    const places = sending > 1 ? new Map<string, string>() : placesIn(session.context.base, entries, answer);
    let looks: Looks = new Map<string, Look>();
    let waited = 0;
    let emptyAt: number | undefined;
    let gone = false;
    let lookedForRecord = false;
    for (const pause of committed ? [0, ...PACE] : PACE) {
      if (pause > 0) await wait(pause + Math.random() * pause * 0.2);
      waited += pause;
      looks = await lookAll(session, entries, places);
      if (verdict === "conflict" && !answer.ok) {
        // It may be our own earlier sending that stands in the way.
        const equal = items.every((entry) => isEqual(entry, looks.get(entry.key)));
        if (equal) return reportOf(job, entries, looks, "sent");
        return notSaved(job, { ...answer.problem, what: `Nothing was overwritten. ${KEPT}` });
      }
      const standings = items.map((entry) => standingOf(entry, looks.get(entry.key)));
      if (standings.every((standing) => standing === "stored")) {
        // One more look for the record of who did what, which does not hold up the rest any longer than that.
        const recordSeen = entries.every((entry) => !isRecord(entry) || looks.get(entry.key)?.state === "found");
        if (recordSeen || lookedForRecord) return reportOf(job, entries, looks, "sent");
        lookedForRecord = true;
      }
      if (committed) continue;
      if (!standings.every((standing) => standing === "not-stored")) emptyAt = undefined;
      else if (emptyAt === undefined) emptyAt = waited;
      else if (waited - emptyAt >= APART) gone = true;
      if (gone) break;
    }
    // Surely not there: one more time, under the same identifiers.
    if (!gone || sending > 1) return reportOf(job, entries, looks, "sent", answer.ok ? undefined : answer.problem);
  }
}

/** The report from what was found. `how`: after a sending, absence proves nothing yet; after a mere look it does. */
export function reportOf(
  { session, items, act, context }: Job,
  entries: readonly BundleItem[],
  looks: Looks,
  how: "sent" | "looked",
  because?: FhirProblem,
): WriteReport {
  const titles = titlesOf(items, context);
  const outcomes = entries.map((entry): ItemOutcome => {
    const found = looks.get(entry.key);
    const head = { key: entry.key, title: titleOf(entry, titles) };
    if (how === "looked" && act === "sign" && found?.state === "found" && actOf(found.resource) === "draft") {
      const place = { reference: referenceOf(found.resource), ...versionOf(found.resource) };
      return { ...head, ...place, outcome: "as-draft", reason: AS_DRAFT };
    }
    if (found?.state !== "found" || standingOf(entry, found) === "not-stored") {
      if (how === "looked" && found?.state !== "unclear") {
        return { ...head, outcome: "not-saved", reason: "The record does not hold it." };
      }
      const why = found?.state === "unclear" ? found.problem.title : "It was not found in the record.";
      return { ...head, outcome: "unknown", reason: `${why} It may still be stored.` };
    }
    return foundAs(session, entry, found, head);
  });
  return reportFrom(
    act,
    outcomes,
    (at) => isRecord(entries[at]!),
    (written, outcome) =>
      outcome === "not-saved"
        ? problem("The record does not hold the plan.", `Nothing was written. ${KEPT}`, AGAIN)
        : unsure(written, because),
  );
}
export const AS_DRAFT = "It is stored as a draft and has no effect.";
/** Title of each thing that is written, by its key. */
export const titlesOf = (items: Job["items"], { changes = [] }: WriteContext): Map<string, string> =>
  new Map([...items, ...changes].map(({ key, title }) => [key, title]));
export const titleOf = (entry: BundleItem, titles: ReadonlyMap<string, string>): string =>
  titles.get(entry.key) ?? (isRecord(entry) ? "Record of who did what" : "The plan as a document");

/** What is said of an entry that was found: saved only when it equals what was sent. */
export function foundAs(
  session: Job["session"],
  entry: BundleItem,
  { resource, copies }: Extract<Look, { state: "found" }>,
  head: Pick<ItemOutcome, "key" | "title">,
): ItemOutcome {
  const place = { reference: referenceOf(resource), ...versionOf(resource) };
  if (copies.length > 1) {
    return { ...head, ...place, outcome: "unknown", reason: `It is stored twice: ${copies.join(", ")}.` };
  }
  const differences = signedDifferences(entry.resource, resource);
  if (differences.length > 0) {
    return { ...head, ...place, outcome: "unknown", differences, reason: "It is stored, but not as it was sent." };
  }
  storedHere(session.context, entry, resource);
  return { ...head, ...place, outcome: "saved" };
}

/** Why it is not certain what is stored, and the one next step. */
export function unsure(items: readonly ItemOutcome[], because: Problem | undefined): Problem {
  const saved = items.filter((item) => item.outcome === "saved").length;
  const altered = items.some((item) => item.differences);
  return {
    kind: "write",
    title: because?.title ?? (altered ? "The record system changed the plan." : "It is not known what was stored."),
    what: `${saved} of ${items.length} items are confirmed as sent. ${KEPT}`,
    next: altered
      ? "Compare the stored plan with what you meant before anyone acts on it."
      : "Check again in a moment.",
    ...(because?.serverSaid ? { serverSaid: because.serverSaid } : {}),
  };
}

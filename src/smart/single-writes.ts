/**
 * The plan one resource at a time, for servers without transactions, in such an order that a half-written plan never counts:
 *
 * 1. everything is created as a draft, each thing after what it points to (findings, diagnoses, orders, visits, plan);
 * 2. it is read back: all of it has to be there, as it was sent;
 * 3. only then it is signed over those drafts, each over the version that was read: findings, diagnoses and plan first, the
 *    document, and the orders and visits, on which somebody acts, last; at the end the record of who did what.
 *
 * So whatever stops it, an order is in effect only when the whole plan is in the record, and what is left over is drafts. A draft
 * order is not ready for action (R4 request-status), a draft visit is tagged as a draft and belongs to a draft order.
 */
import {
  type Act,
  type BundleItem,
  bundleOf,
  type ExistingItem,
  itemsOf,
  planIdOf,
  signedDifferences,
  withReferences,
} from "../fhir/drafts.ts";
import type { SignedInAs } from "./before-writing.ts";
import { learn, type Refusal } from "./capabilities.ts";
import { contentOf, type Filing, filedItems } from "./filing.ts";
import { closeJournal, type Journal, keepJournal } from "./journal.ts";
import {
  APART,
  AS_DRAFT,
  foundAs,
  lacksCondition,
  PACE,
  placeIn,
  titleOf,
  titlesOf,
  unsure,
  verdictOf,
} from "./one-transaction.ts";
import type { Problem } from "./problem.ts";
import { planItemOf, versionOf } from "./read-chart.ts";
import {
  asItStands,
  existingOf,
  isEqual,
  isNewEachTime,
  isRecord,
  isSigned,
  type Looks,
  look,
  lookAll,
  referenceOf,
  standingOf,
  storedHere,
  type There,
} from "./stored-look.ts";
import type { FhirProblem, FhirResource } from "./transport.ts";
import {
  changesIn,
  type ItemOutcome,
  type Job,
  KEPT,
  pauseOf,
  reportFrom,
  signalOf,
  type WriteReport,
} from "./write-report.ts";

/** In which order drafts come into effect. */
const EFFECT = [
  "QuestionnaireResponse",
  "Condition",
  "CarePlan",
  "DocumentReference",
  "ServiceRequest",
  "Appointment",
  "Provenance",
];
const isChangeKey = (key: string) => key.startsWith("old:");
/**
 * What ends an earlier plan comes after the new one is in effect: at no time is the patient without a plan. It ends the other way
 * round, with the orders and visits on which somebody would act.
 */
function rankOf(entry: BundleItem): number {
  if (isRecord(entry)) return 3 * EFFECT.length;
  const rank = EFFECT.indexOf(entry.resource.resourceType);
  return isChangeKey(entry.key) ? 2 * EFFECT.length - rank : rank;
}
const inOrderOfEffect = (entries: readonly BundleItem[]) => [...entries].sort((a, b) => rankOf(a) - rankOf(b));

/** Why it went no further, and at which entry. */
interface Stop {
  readonly entry: BundleItem;
  readonly fate: "refused" | "conflict" | "unknown" | "altered";
  readonly problem: Problem;
}

export interface SingleJob extends Job {
  readonly filing: Filing;
  readonly signer: SignedInAs;
}

/** Writes what is not there yet. `stored`: what is there of the plan; `looks`: what was found of it. */
export async function writeSingly(job: SingleJob, stored: There, looks: Looks): Promise<WriteReport> {
  const { session, act, context } = job;
  const run = new Run(job, looks);
  let there = stored.existing;
  const drafts = entriesOf(job, "draft", there).filter((entry) => !isNewEachTime(entry) && entry.method === "POST");
  let stop: Stop | undefined;
  const target = entriesOf(job, act, there);
  run.begin(target);
  // One thing alone is whole as soon as it is there.
  if (act === "sign" && target.filter((entry) => !isRecord(entry)).length > 1) {
    stop = await run.writeAll(drafts);
    if (!stop) {
      context.onStep?.("confirming");
      const confirmed = await run.readBack(drafts);
      if ("stop" in confirmed) stop = confirmed.stop;
      else there = { ...there, ...confirmed.existing };
    }
  }
  const entries = asItStands(entriesOf(job, act, there), stored);
  if (!stop) stop = await run.writeAll(act === "sign" ? inOrderOfEffect(entries) : entries, there);
  context.onStep?.("confirming");
  let found = await lookAll(session, entries, run.places);
  for (const pause of stop ? [] : PACE) {
    if (entries.every((entry) => run.isSettled(entry) || isEqual(entry, found.get(entry.key)))) break;
    await pauseOf(context)(pause);
    found = await lookAll(session, entries, run.places);
  }
  const report = reportOn(job, entries, found, run, stop);
  if (report.outcome === "saved" || report.outcome === "not-saved") closeJournal(session.context);
  else run.note(found);
  return report;
}

const entriesOf = (job: SingleJob, act: Act, existing: Readonly<Record<string, ExistingItem>>): BundleItem[] => {
  const { items, filing, signer, context } = job;
  const acting = { act, signer, at: context.at };
  const filed = filedItems(items, filing, acting, context.replaces);
  return itemsOf(bundleOf(filed, act, { ...acting, existing, ...changesIn(context) }));
};

/** One go at writing: what has been stored so far, and where. */
class Run {
  readonly places = new Map<string, string>();
  /** As it was last sent and stored. */
  readonly written = new Map<string, BundleItem>();
  /** Sent, and nobody knows whether it was stored. */
  readonly unsure = new Set<string>();
  /** Refused records of who did what: told, and no reason to stop. */
  readonly refused = new Map<string, Problem>();
  private readonly ids: Record<string, string> = {};
  private journal: Journal | undefined;
  private readonly job: SingleJob;
  private readonly looks: Looks;

  constructor(job: SingleJob, looks: Looks) {
    this.job = job;
    this.looks = looks;
    for (const [key, seen] of looks) if (seen.state === "found") this.places.set(key, referenceOf(seen.resource));
  }

  /** Its fate is known to be a refusal or not known at all: reading it once more adds nothing. */
  isSettled({ key }: BundleItem): boolean {
    return this.unsure.has(key) || this.refused.has(key);
  }

  begin(entries: readonly BundleItem[]): void {
    const { act, context, items, session } = this.job;
    const planId = planIdOf(items[0]?.resource ?? {});
    const keys = entries.filter((entry) => !isRecord(entry) && !isChangeKey(entry.key)).map(({ key }) => key);
    // An act that only changes what is stored leaves the journal of what was begun as it is.
    if (keys.length === 0) return;
    this.journal = { planId, act, at: context.at, items: keys.map((key) => this.journalled(key)) };
    keepJournal(session.context, this.journal);
  }
  private journalled(key: string) {
    const reference = this.places.get(key);
    return { key, ...(reference ? { reference } : {}) };
  }
  private keep(key: string, place: string): void {
    this.places.set(key, place);
    if (!this.journal) return;
    const items = this.journal.items.map((item) => (item.key === key ? { ...item, reference: place } : item));
    this.journal = { ...this.journal, items };
    keepJournal(this.job.session.context, this.journal);
  }
  /** The versions that were read back, for whoever takes it up again. */
  note(found: Looks): void {
    if (!this.journal) return;
    const items = this.journal.items.map(({ key }) => {
      const seen = found.get(key);
      return seen?.state === "found"
        ? { key, reference: referenceOf(seen.resource), ...versionOf(seen.resource) }
        : this.journalled(key);
    });
    keepJournal(this.job.session.context, { ...this.journal, items });
  }

  /** In this order, until one cannot be written. What stands as it should is left alone. */
  async writeAll(
    entries: readonly BundleItem[],
    there: Readonly<Record<string, ExistingItem>> = {},
  ): Promise<Stop | undefined> {
    for (const entry of entries) {
      const stored = there[entry.key]?.resource;
      if (entry.method === "PUT" && stored && signedDifferences(entry.resource, stored).length === 0) continue;
      const seen = this.looks.get(entry.key);
      if (isNewEachTime(entry) && seen?.state === "found") {
        if (entry.urn) this.ids[entry.urn] = referenceOf(seen.resource);
        continue;
      }
      const resource = withReferences(entry.resource, this.ids);
      const wrote = await writeOne(this.job, { ...entry, resource });
      if ("place" in wrote) {
        if (entry.urn) this.ids[entry.urn] = wrote.place;
        this.keep(entry.key, wrote.place);
        this.written.set(entry.key, { ...entry, resource });
        continue;
      }
      if (wrote.fate === "unknown") this.unsure.add(entry.key);
      if (wrote.fate === "refused") learnFrom(this.job, entry, wrote.problem);
      // The record of who did what comes last: its failure is told and undoes nothing.
      if (isRecord(entry)) {
        this.refused.set(entry.key, wrote.problem);
        continue;
      }
      return { entry, ...wrote };
    }
    return undefined;
  }

  /** Every draft has to be in the record, as it was sent, before the first of them comes into effect. */
  async readBack(drafts: readonly BundleItem[]): Promise<{ existing: Record<string, ExistingItem> } | { stop: Stop }> {
    const { session, context } = this.job;
    let found = await lookAll(session, drafts, this.places);
    for (const pause of PACE) {
      if (drafts.every((entry) => found.get(entry.key)?.state === "found")) break;
      await pauseOf(context)(pause);
      found = await lookAll(session, drafts, this.places);
    }
    const existing: Record<string, ExistingItem> = {};
    for (const entry of drafts) {
      const seen = found.get(entry.key);
      if (seen?.state !== "found" || !isEqual(entry, seen)) {
        const differs = seen?.state === "found";
        return {
          stop: {
            entry,
            fate: differs ? "altered" : "unknown",
            problem: {
              kind: "write",
              title: differs ? "The record system changed an item." : "A stored item could not be read back.",
              what: `Nothing of the plan is in effect. ${KEPT}`,
              next: "Compare it with what you meant before you go on.",
            },
          },
        };
      }
      existing[entry.key] = existingOf(seen.resource);
    }
    return { existing };
  }
}

type Wrote =
  | { readonly place: string }
  | { readonly fate: "refused" | "conflict" | "unknown"; readonly problem: FhirProblem };

const SENDINGS = 2;
const BUSY_TRIES = 3;
const LONGEST_WAIT_SECONDS = 60;

/** One write and its fate. It goes out a second time only after two looks, some time apart, found nothing of the first. */
export async function writeOne(job: SingleJob, entry: BundleItem): Promise<Wrote> {
  const { session, context, filing } = job;
  const { fhir } = session;
  const wait = pauseOf(context);
  const type = entry.resource.resourceType;
  const json = JSON.stringify(entry.resource);
  let condition = filing.capabilities.offers(type).conditionalCreate ? entry.ifNoneExist : undefined;
  let busy = 0;
  for (let sending = 1; ; ) {
    context.onStep?.("sending");
    const isUpdate = entry.method === "PUT";
    const header = isUpdate
      ? entry.ifMatch && { "if-match": entry.ifMatch }
      : condition && { "if-none-exist": condition };
    const answer = await fhir.write(isUpdate ? entry.url : type, json, {
      ...(isUpdate ? { method: "PUT" } : {}),
      ...(header ? { headers: header } : {}),
      ...signalOf(context),
    });
    const verdict = verdictOf(answer);
    if (answer.ok && verdict === "committed") {
      const named =
        entry.method === "PUT"
          ? entry.url
          : (placeIn(session.context.base, type, answer.location) ?? idIn(answer.value, type));
      if (named) return { place: named };
    }
    if (!answer.ok) {
      const { problem } = answer;
      if (problem.kind === "busy" && busy < BUSY_TRIES && (problem.retryAfterSeconds ?? 0) <= LONGEST_WAIT_SECONDS) {
        await wait((problem.retryAfterSeconds ?? 2 ** ++busy) * 1000);
        if (problem.retryAfterSeconds !== undefined) busy++;
        continue;
      }
      // It claims conditional create and cannot do it: it was looked before, so this goes without.
      if (condition && lacksCondition(problem)) {
        learn(session.context, { what: "conditional-create" });
        condition = undefined;
        continue;
      }
      if (verdict === "refused") return { fate: "refused", problem };
      if (verdict === "conflict") {
        // It may be our own earlier sending that stands in the way.
        const seen = await look(session, entry);
        return seen.state === "found" && isEqual(entry, seen)
          ? { place: referenceOf(seen.resource) }
          : { fate: "conflict", problem };
      }
    }
    context.onStep?.("looking");
    let waited = 0;
    let emptyAt: number | undefined;
    let gone = false;
    for (const pause of PACE) {
      await wait(pause + Math.random() * pause * 0.2);
      waited += pause;
      const seen = await look(session, entry);
      const standing = standingOf(entry, seen);
      if (standing === "stored" && seen.state === "found") return { place: referenceOf(seen.resource) };
      if (standing !== "not-stored") emptyAt = undefined;
      else if (emptyAt === undefined) emptyAt = waited;
      else if (waited - emptyAt >= APART) gone = true;
      if (gone) break;
    }
    if (!gone || sending >= SENDINGS) {
      const problem: FhirProblem = answer.ok
        ? { kind: "not-fhir", title: "It is not known where this was stored.", what: "", next: "" }
        : answer.problem;
      return { fate: "unknown", problem };
    }
    sending++;
  }
}

function idIn(resource: FhirResource | undefined, type: string): string | undefined {
  return resource?.resourceType === type && resource.id ? referenceOf(resource) : undefined;
}

/** A refusal counts from then on: for its type when the type is refused, for the item as it is when its content is. */
export function learnFrom(
  { items, session }: Pick<Job, "items" | "session">,
  entry: BundleItem,
  refused: FhirProblem,
): boolean {
  const refusal = refusalOf(items, entry, refused);
  if (refusal) learn(session.context, refusal);
  return refusal !== undefined;
}
function refusalOf(items: Job["items"], entry: BundleItem, refused: FhirProblem): Refusal | undefined {
  const said = refused.serverSaid;
  // That an earlier plan's item cannot be changed says nothing of the new ones.
  if (isChangeKey(entry.key)) return undefined;
  const type = entry.resource.resourceType;
  const isUpdate = entry.method === "PUT";
  if (refused.kind === "refused" || refused.kind === "unsupported")
    return { what: isUpdate ? "update" : "create", type, said };
  if (refused.kind !== "invalid") return undefined;
  const item = items.find(({ key }) => key === entry.key);
  if (item) return { what: "item", key: item.key, content: contentOf(item), said };
  // The document and the record of who did what have new keys each time.
  return { what: "create", type, said };
}

/** Item by item: saved, stored as a draft only, not stored, or not known. */
function reportOn(
  job: SingleJob,
  entries: readonly BundleItem[],
  found: Looks,
  run: Run,
  stop: Stop | undefined,
): WriteReport {
  const { session, act, items, context } = job;
  const titles = titlesOf(items, context);
  const outcomes = entries.map((entry): ItemOutcome => {
    const head = { key: entry.key, title: titleOf(entry, titles) };
    const seen = found.get(entry.key);
    const isUnsure = run.unsure.has(entry.key);
    if (seen?.state !== "found") {
      const isStopped = stop?.entry.key === entry.key && ["refused", "conflict"].includes(stop.fate);
      const refused = run.refused.get(entry.key) ?? (isStopped ? stop.problem : undefined);
      // What was stored before it was refused, and cannot be looked for now, is there in one form or another.
      if (!isUnsure && refused && !run.written.has(entry.key))
        return { ...head, outcome: "not-saved", reason: refused.title };
      if (!isUnsure && stop && seen?.state === "absent" && !run.written.has(entry.key))
        return { ...head, outcome: "not-saved", reason: "It was not sent." };
      return { ...head, outcome: "unknown", reason: "It was not found in the record. It may still be stored." };
    }
    if (isEqual(entry, seen)) return foundAs(session, entry, seen, head);
    const place = { reference: referenceOf(seen.resource), ...versionOf(seen.resource) };
    if (isUnsure)
      return { ...head, ...place, outcome: "unknown", reason: "It is not known in which version it is stored." };
    const last = run.written.get(entry.key);
    // An earlier plan's item, or an entry of the chart: it stands as it stood before.
    if (!last && standingOf(entry, seen) === "not-stored" && !isOwnDraft(entry, seen.resource))
      return { ...head, ...place, outcome: "not-saved", reason: "It was not changed." };
    // What the record system made of what it was sent is told, whatever it is.
    if (isSigned(seen.resource) || seen.copies.length > 1 || (last && !isEqual(last, seen)))
      return foundAs(session, last ?? entry, seen, head);
    // What this page wrote may be written over by it; what somebody else left there may not.
    if (last) storedHere(session.context, entry, seen.resource);
    const reason = last ? AS_DRAFT : "An earlier draft of it is stored; it has no effect.";
    return { ...head, ...place, outcome: act === "draft" && last ? "saved" : "as-draft", reason };
  });
  const report = reportFrom(
    act,
    outcomes,
    (at) => isRecord(entries[at]!),
    (written, outcome) => whyNot(written, outcome, stop),
  );
  return stop && isTaught(stop) ? { ...report, otherwise: true } : report;
}
/** Refusals of a type or an item; passing faults teach nothing. */
const isTaught = ({ entry, fate, problem }: Stop): boolean =>
  fate === "refused" && !isChangeKey(entry.key) && ["refused", "unsupported", "invalid"].includes(problem.kind);

const isOwnDraft = ({ key, resource }: BundleItem, stored: FhirResource): boolean =>
  !isChangeKey(key) && planItemOf(stored) === planItemOf(resource as unknown as FhirResource);

function whyNot(items: readonly ItemOutcome[], outcome: WriteReport["outcome"], stop: Stop | undefined): Problem {
  if (outcome === "part") return partly(items, stop?.problem);
  if (outcome !== "not-saved" || !stop) return unsure(items, stop?.problem);
  const what = `Nothing of the plan is stored. ${KEPT}`;
  return isTaught(stop)
    ? { ...stop.problem, what, next: "See below what can be filed instead, then decide again." }
    : { ...stop.problem, what };
}
const count = (n: number, words: string) => (n === 0 ? [] : [`${n} ${words}`]);
function partly(items: readonly ItemOutcome[], because: Problem | undefined): Problem {
  const number = (outcome: ItemOutcome["outcome"]) => items.filter((item) => item.outcome === outcome).length;
  const parts = [
    ...count(number("saved"), "saved"),
    ...count(number("as-draft"), "stored as a draft without effect"),
    ...count(number("not-saved"), "not stored"),
  ];
  return {
    kind: because?.kind ?? "write",
    title: because?.title ?? "Part of the plan is stored.",
    what: `Of ${items.length} items: ${parts.join(", ")}. ${KEPT}`,
    next: "See below what can be filed and write the rest; or withdraw what is stored; or take the plan along.",
    ...(because?.serverSaid ? { serverSaid: because.serverSaid } : {}),
  };
}

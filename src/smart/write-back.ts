/**
 * Writes the plan as one transaction, and tells the truth about it: an item is "saved" only when it was read back and
 * equals what was sent, "not-saved" only when the record system does not hold it, and "unknown" in every other case.
 */
import type { Bundle } from "fhir/r4";
import { chartFrom } from "../fhir/chart.ts";
import { ACT_TAG, type Act } from "../fhir/codings.ts";
import {
  type BundleItem,
  bundleJson,
  bundleOf,
  type DraftItem,
  type ExistingItem,
  itemsOf,
  signedDifferences,
} from "../fhir/drafts.ts";
import { inKnownFrame } from "./config.ts";
import { addressUnder } from "./fhir-address.ts";
import type { Problem } from "./problem.ts";
import { planItemOf, seenIn, versionOf } from "./read-chart.ts";
import { type OtherPlans, unseenPlans } from "./same-injury.ts";
import type { PatientContext, Session } from "./session.ts";
import type { FhirAnswer, FhirProblem, FhirResource } from "./transport.ts";

export interface WriteContext {
  /** Instant of the act with its offset, frozen when the review was opened. */
  readonly at: string;
  /** What the screen knows to be stored, by item key. */
  readonly known?: { readonly [key: string]: { readonly reference: string; readonly version?: string } };
  readonly onStep?: (step: WriteStep) => void;
  readonly signal?: AbortSignal;
  /** Waits so many milliseconds. */
  readonly wait?: (ms: number) => Promise<void>;
}
export type WriteStep = "checking" | "sending" | "looking" | "confirming";

export interface ItemOutcome {
  readonly key: string;
  readonly title: string;
  readonly outcome: "saved" | "not-saved" | "unknown";
  readonly reason?: string;
  /** "CarePlan/12" */
  readonly reference?: string;
  readonly version?: string;
  /** Paths of what the record system changed or dropped. */
  readonly differences?: readonly string[];
}
export interface WriteReport {
  readonly act: Act;
  /** All items saved, none saved, or anything else. */
  readonly outcome: "saved" | "not-saved" | "unknown";
  readonly items: readonly ItemOutcome[];
  /** Who did what; stored with the items. */
  readonly provenance?: ItemOutcome;
  readonly problem?: Problem;
}

type Writing = Pick<Session, "context" | "config" | "can" | "signer" | "state" | "lastsFor" | "fhir">;

/** A write takes several requests; it is not begun with less. Seconds. [common practice, no source] */
const LIFE_NEEDED = 60;
/** Before each look for what became of a write, milliseconds. [common practice, no source] */
const PACE = [500, 1000, 2000, 4000];
/** A search that finds nothing counts only when a second one, this much later, finds nothing either. */
const APART = 2000;

const KEPT = "Your draft is kept on this page.";
const AGAIN = "Try again.";

/** The items that the granted scopes do not let the plugin write, each with its reason; before anything is sent. */
export function cannotWrite(
  session: Pick<Session, "can">,
  items: readonly DraftItem[],
): { key: string; reason: string }[] {
  return items.flatMap(({ key, resource: { resourceType } }) =>
    session.can(resourceType, "c")
      ? []
      : [{ key, reason: `The record system does not let Fingerpost file ${NAMES[resourceType] ?? resourceType}.` }],
  );
}
const NAMES: Record<string, string> = {
  Condition: "a diagnosis",
  CarePlan: "a care plan",
  ServiceRequest: "an order",
  Appointment: "a follow-up visit",
  QuestionnaireResponse: "the findings",
  Provenance: "who did what",
};

let running: Promise<WriteReport> | undefined;

/**
 * Writes the items that were not left out, as drafts or signed. One write at a time: a second call while one is under
 * way (a double click) gets the same report. Safe to repeat: items are found again by their own identifiers.
 */
export function writeBack(
  session: Writing,
  items: readonly DraftItem[],
  act: Act,
  context: WriteContext,
): Promise<WriteReport> {
  running ??= write(session, items, act, context).finally(() => {
    running = undefined;
  });
  return running;
}

/** Looks what became of an earlier write, and sends nothing. */
export async function checkAgain(
  session: Writing,
  items: readonly DraftItem[],
  act: Act,
  context: WriteContext,
): Promise<WriteReport> {
  context.onStep?.("looking");
  const signer = await session.signer();
  if (!signer.ok) return unknownAll(items, act, signer.reason);
  const bundle = bundleOf(items, act, { signer: signerOf(signer), at: context.at, existing: context.known ?? {} });
  const entries = itemsOf(bundle);
  const looks = await lookAll(session, entries, new Map());
  return reportOf({ session, items, act, context }, entries, looks, "looked");
}

const signerOf = (signer: { reference: string; name?: string }) => ({
  reference: signer.reference,
  ...(signer.name ? { display: signer.name } : {}),
});

interface Job {
  readonly session: Writing;
  readonly items: readonly DraftItem[];
  readonly act: Act;
  readonly context: WriteContext;
}

async function write(
  session: Writing,
  items: readonly DraftItem[],
  act: Act,
  context: WriteContext,
): Promise<WriteReport> {
  const job: Job = { session, items, act, context };
  context.onStep?.("checking");
  const early = await obstacle(job);
  if ("problem" in early) return notSaved(job, early.problem);
  const { signer } = early;

  const first = itemsOf(bundleOf(items, act, { signer, at: context.at }));
  const [patient, looks, others] = await Promise.all([
    session.fhir.read(`Patient/${session.context.patientId}`, signalOf(context)),
    lookAll(session, first, new Map()),
    othersFor(job, first),
  ]);
  const stop = patientStop(session.context, patient);
  if (stop) return notSaved(job, stop);
  const already = whatIsThere(job, first, looks);
  if ("problem" in already) return notSaved(job, already.problem);
  if (already.allSaved) {
    // Nothing is written, so no new record of an act is due; the one of the act that wrote it may have another time.
    const there = first.filter((entry) => !isActRecord(entry) || looks.get(entry.key)?.state === "found");
    return reportOf(job, there, looks, "looked");
  }
  const colleague = signedMeanwhile(others);
  if (colleague) return notSaved(job, colleague);

  const bundle = bundleOf(items, act, { signer, at: context.at, existing: already.existing });
  const report = await send(job, bundle);
  if (report.outcome === "not-saved" || report.problem) return report;
  // Whoever signs at the same moment passes the look before sending; the one who looks last sees both.
  const double = signedTwice(report, await othersFor(job, first));
  return double ? { ...report, problem: double } : report;
}

/** Plans of others for the same injury matter when this one comes into force. */
const othersFor = ({ session, act }: Job, entries: readonly BundleItem[]): Promise<OtherPlans> =>
  act === "sign"
    ? unseenPlans(
        session,
        entries.map(({ resource }) => resource),
      )
    : Promise.resolve({ ok: true, plans: [] });

function signedMeanwhile(others: OtherPlans): Problem | undefined {
  if (!others.ok)
    return {
      ...others.problem,
      what: `It could not be checked whether somebody else signed a plan for this injury, so nothing was sent. ${KEPT}`,
    };
  if (others.plans.length === 0) return undefined;
  return problem(
    "A plan for this injury was signed since you read the chart.",
    `It is ${others.plans.join(" and ")}. Nothing was written. ${KEPT}`,
    "Reload this page, read that plan, then sign yours only if both are meant.",
  );
}

function signedTwice({ items }: WriteReport, others: OtherPlans): Problem | undefined {
  if (others.ok && others.plans.length === 0) return undefined;
  const own = items.find((item) => item.reference?.startsWith("CarePlan/"))?.reference ?? "yours";
  return others.ok
    ? problem(
        "Somebody else signed a plan for this injury at the same time.",
        `Both are in the chart: ${[own, ...others.plans].join(" and ")}.`,
        "Agree which of them holds, and have the other one withdrawn.",
      )
    : problem(
        "Your plan is in the chart.",
        "It could not be checked whether somebody else signed one for this injury at the same time.",
        "Look at the saved plans before you close the chart.",
      );
}

/** What stands in the way before the record system is asked for anything; else who signs. */
async function obstacle({
  session,
  items,
  act,
}: Job): Promise<{ problem: Problem } | { signer: { reference: string; display?: string } }> {
  const state = session.state();
  if (state.kind !== "open") return { problem: state.problem };
  const kept = items.filter((item) => !item.removed);
  if (!kept.some((item) => item.kind !== "provenance")) {
    return { problem: problem("Nothing is left to write.", "Every item was left out.", "Put an item back first.") };
  }
  if (act === "sign" && !inKnownFrame(session.config)) {
    return {
      problem: problem(
        "This page is shown inside an unknown page.",
        `Signing there is not safe; nothing was written. ${KEPT}`,
        "Open Fingerpost from your record system or in its own window.",
      ),
    };
  }
  const missing = cannotWrite(session, kept);
  if (missing.length > 0) {
    const reasons = [...new Set(missing.map(({ reason }) => reason))].join(" ");
    return {
      problem: problem(
        "Part of the plan cannot be filed here.",
        `${reasons} Nothing was written, so that no half plan stands in the chart. ${KEPT}`,
        "Leave out what cannot be filed and enter it by hand, or ask for the missing right.",
      ),
    };
  }
  const signer = await session.signer();
  if (!signer.ok) return { problem: problem("Nobody is known to sign.", `${signer.reason} ${KEPT}`, AGAIN) };
  if (!(await session.lastsFor(LIFE_NEEDED))) {
    const now = session.state();
    return {
      problem:
        now.kind === "open"
          ? problem(
              "Your sign-in is about to end.",
              `It might not last until everything is checked, so nothing was sent. ${KEPT}`,
              "Open Fingerpost from the chart again, then sign.",
            )
          : now.problem,
    };
  }
  return { signer: signerOf(signer) };
}

function problem(title: string, what: string, next: string): Problem {
  return { kind: "write", title, what, next };
}

/** The same patient as on screen, alive, current: or the reason why nothing may be written. */
function patientStop(context: PatientContext, answer: FhirAnswer<FhirResource>): Problem | undefined {
  if (!answer.ok) {
    return { ...answer.problem, what: `The patient could not be checked, so nothing was written. ${KEPT}` };
  }
  const patient = answer.value;
  const part = { state: "found" as const, resources: [patient], more: false };
  // No rule of age is asked for here: any day will do.
  const { patient: summary } = chartFrom(
    { patient: part },
    { patientId: context.patientId, today: "2000-01-01", base: context.base },
  );
  if (patient.id !== context.patientId || !summary) {
    return problem(
      "The record system answered with another patient.",
      `Nothing was written. ${KEPT}`,
      "Close this page and open Fingerpost again from the chart.",
    );
  }
  if (summary.stop) return problem("Nothing may be written for this patient.", `${summary.stop} ${KEPT}`, AGAIN);
  const seen = seenIn(context).patient;
  const changed = ["name", "birthDate", "gender", "identifier"].filter(
    (element) => seen && JSON.stringify(seen[element]) !== JSON.stringify(patient[element]),
  );
  if (changed.length > 0) {
    return problem(
      "The patient's details changed since the chart was read.",
      `Changed: ${changed.join(", ")}. Nothing was written. ${KEPT}`,
      "Reload this page, check that it is the right patient, then sign.",
    );
  }
  return undefined;
}

type Look =
  | { readonly state: "found"; readonly resource: FhirResource; readonly copies: readonly string[] }
  | { readonly state: "absent" }
  | { readonly state: "unclear"; readonly problem: FhirProblem };

const isActRecord = ({ resource }: BundleItem) => resource.resourceType === "Provenance";

const referenceOf = (resource: FhirResource) => `${resource.resourceType}/${resource.id}`;

const signalOf = ({ signal }: WriteContext) => (signal ? { signal } : {});

/** Finds what is stored of each entry: at the place the server named, else by the plan's own identifier. */
async function lookAll(
  session: Writing,
  entries: readonly BundleItem[],
  places: ReadonlyMap<string, string>,
): Promise<Map<string, Look>> {
  const looks = await Promise.all(entries.map((entry) => look(session, entry, places.get(entry.key))));
  return new Map(entries.map((entry, at) => [entry.key, looks[at]!]));
}

async function look({ fhir, context }: Writing, entry: BundleItem, place: string | undefined): Promise<Look> {
  if (place) {
    const answer = await fhir.read(place);
    if (answer.ok) return { state: "found", resource: answer.value, copies: [place] };
  }
  // R4 finds a Provenance under a patient only when it is about the Patient resource itself; ours is about the plan's items.
  const narrowed = isActRecord(entry) ? "" : `&patient=${context.patientId}`;
  const answer = await fhir.search(`${entry.search}${narrowed}`, { limit: 20 });
  if (!answer.ok) return { state: "unclear", problem: answer.problem };
  // A server may ignore the parameters it does not know: only what carries our identifier is ours.
  const wanted = planItemOf(entry.resource as unknown as FhirResource);
  const mine = answer.value.matches.filter((one) => carries(one, wanted));
  const [resource] = mine;
  if (!resource) return answer.value.more ? unclearList() : { state: "absent" };
  return { state: "found", resource, copies: mine.map(referenceOf) };
}

const unclearList = (): Look => ({
  state: "unclear",
  problem: {
    kind: "not-fhir",
    title: "The record system's list is not complete.",
    what: "It does not show whether this item is stored.",
    next: AGAIN,
  },
});

/** By identifier, or by tag where the resource has none (R4 Provenance) or the server dropped it. */
function carries(resource: FhirResource, planItem: string | undefined): boolean {
  if (planItem === undefined) return false;
  const own = resource.identifier;
  const identifiers = (Array.isArray(own) ? own : [own]) as ({ value?: unknown } | undefined)[];
  return planItemOf(resource) === planItem || identifiers.some((one) => one?.value === planItem);
}

const isSigned = (resource: FhirResource) =>
  ((resource.meta as { tag?: { system?: string; code?: string }[] } | undefined)?.tag ?? []).some(
    (tag) => tag.system === ACT_TAG && tag.code === "signed",
  );

/** What this page itself has stored, by "planId:key"; newer than anything that was read. */
const OWN = new WeakMap<PatientContext, Map<string, string | undefined>>();

/** Decides from what is stored already whether, and over which versions, may be written. */
function whatIsThere(
  { session, act, context }: Job,
  entries: readonly BundleItem[],
  looks: ReadonlyMap<string, Look>,
): { problem: Problem } | { allSaved: boolean; existing: Record<string, ExistingItem> } {
  const existing: Record<string, ExistingItem> = {};
  let allSaved = true;
  for (const entry of entries) {
    const found = looks.get(entry.key);
    // Every act is recorded anew, so an earlier record of another act stands in nobody's way.
    const isRecord = entry.resource.resourceType === "Provenance";
    if (found?.state !== "found") {
      if (found?.state === "unclear" && !isRecord) {
        return {
          problem: {
            ...found.problem,
            what: `It could not be checked whether the plan is stored already, so nothing was sent. ${KEPT}`,
          },
        };
      }
      if (!isRecord) allSaved = false;
      continue;
    }
    if (found.copies.length > 1) return { problem: twice(found.copies) };
    if (isRecord) continue;
    const { version } = versionOf(found.resource);
    existing[entry.key] = {
      reference: referenceOf(found.resource),
      resource: found.resource,
      ...(version ? { version } : {}),
    };
    if (signedDifferences(entry.resource, found.resource).length === 0) continue;
    allSaved = false;
    if (isSigned(found.resource)) {
      return {
        problem: problem(
          "This plan is signed already.",
          `A signed plan is not ${act === "sign" ? "signed over" : "turned back into a draft"}; nothing was written. ${KEPT}`,
          "See the stored plan, and begin a new one if it has to change.",
        ),
      };
    }
    const planItem = planItemOf(entry.resource as unknown as FhirResource) ?? "";
    const own = OWN.get(session.context);
    const known = own?.has(planItem)
      ? { version: own.get(planItem) }
      : (context.known?.[entry.key] ?? seenIn(session.context).items.get(planItem));
    if (!known || known.version !== version) {
      return {
        problem: problem(
          "The stored plan changed since you read it.",
          `Someone saved another version. Nothing was overwritten. ${KEPT}`,
          "Reload this page to read the chart again, compare, then sign.",
        ),
      };
    }
  }
  return { allSaved, existing };
}

const twice = (copies: readonly string[]) =>
  problem(
    "The record holds one item of this plan twice.",
    `${copies.join(" and ")}. Nothing was written or deleted. ${KEPT}`,
    "Have one of them marked as entered in error in the record system, then try again.",
  );

type Verdict = "committed" | "refused" | "conflict" | "unknown";

/** R4 http#transaction: a client error means that nothing was stored; silence and server faults mean nothing at all. */
function verdictOf(answer: FhirAnswer<FhirResource | undefined>): Verdict {
  if (answer.ok) {
    const entries = (answer.value as Bundle | undefined)?.entry ?? [];
    // A server that stores in parts answers 200 and tells of failures inside: then only looking helps.
    return entries.every((entry) => /^2\d\d/.test(entry?.response?.status ?? "200")) ? "committed" : "unknown";
  }
  const { kind, status } = answer.problem;
  if (kind === "conflict") return "conflict";
  if (status === undefined) return ["ended", "locked"].includes(kind) ? "refused" : "unknown";
  if (status === 401) return "unknown";
  const refused = (status >= 400 && status < 500) || status === 501;
  return refused && kind !== "too-large" ? "refused" : "unknown";
}

/** "Condition/12" for each entry for which the server names a place under our base. Response entries come in order. */
function placesIn(base: string, entries: readonly BundleItem[], answer: FhirAnswer<FhirResource | undefined>) {
  const places = new Map<string, string>();
  const said = answer.ok ? ((answer.value as Bundle | undefined)?.entry ?? []) : [];
  if (said.length !== entries.length) return places;
  entries.forEach((entry, at) => {
    const location = said[at]?.response?.location;
    const path = location && addressUnder(base, location)?.pathname.slice(new URL(base).pathname.length + 1);
    const place = path && /^([A-Z][A-Za-z]+)\/[A-Za-z0-9\-.]{1,64}/.exec(path);
    if (place && place[1] === entry.resource.resourceType) places.set(entry.key, place[0]);
  });
  return places;
}

/** Sends the transaction, at most twice, and does not stop before its fate is known or the looks are used up. */
async function send(job: Job, bundle: Bundle): Promise<WriteReport> {
  const { session, context } = job;
  const wait = context.wait ?? ((ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms)));
  const json = bundleJson(bundle);
  const entries = itemsOf(bundle);
  const items = entries.filter((entry) => entry.resource.resourceType !== "Provenance");

  for (let sending = 1; ; sending++) {
    context.onStep?.("sending");
    const answer = await session.fhir.transaction(json, signalOf(context));
    const verdict = verdictOf(answer);
    if (verdict === "refused" && !answer.ok) {
      return notSaved(job, { ...answer.problem, what: `${refusal(answer.problem)} Nothing was written. ${KEPT}` });
    }
    const committed = verdict === "committed";
    context.onStep?.(committed ? "confirming" : "looking");
    // What was sent twice may be stored twice, and only a search shows both.
    const places = sending > 1 ? new Map<string, string>() : placesIn(session.context.base, entries, answer);
    let looks = new Map<string, Look>();
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
        const recordSeen = entries.every((entry) => !isActRecord(entry) || looks.get(entry.key)?.state === "found");
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

function refusal(refused: FhirProblem): string {
  if (refused.kind === "refused") return "The record system does not let you file this plan.";
  if (refused.kind === "unsupported") return "The record system does not take a plan in one step.";
  if (refused.kind === "invalid") return "The record system did not accept part of the plan.";
  return refused.title;
}

const isEqual = (entry: BundleItem, found: Look | undefined) =>
  found?.state === "found" && signedDifferences(entry.resource, found.resource).length === 0;

function standingOf(entry: BundleItem, found: Look | undefined): "stored" | "not-stored" | "unclear" {
  if (!found || found.state === "unclear") return "unclear";
  if (found.state === "absent") return entry.method === "POST" ? "not-stored" : "unclear";
  if (entry.method === "POST" || isEqual(entry, found)) return "stored";
  const { version } = versionOf(found.resource);
  return version !== undefined && entry.ifMatch === `W/"${version}"` ? "not-stored" : "stored";
}

/** The report from what was found. `how`: after a sending, absence proves nothing yet; after a mere look it does. */
function reportOf(
  { session, items, act }: Job,
  entries: readonly BundleItem[],
  looks: ReadonlyMap<string, Look>,
  how: "sent" | "looked",
  because?: FhirProblem,
): WriteReport {
  const titles = new Map(items.map((item) => [item.key, item.title]));
  const outcomes = entries.map((entry): ItemOutcome => {
    const title = titles.get(entry.key) ?? "Record of who did what";
    const found = looks.get(entry.key);
    const head = { key: entry.key, title };
    if (found?.state !== "found" || standingOf(entry, found) === "not-stored") {
      if (how === "looked" && found?.state !== "unclear") {
        return { ...head, outcome: "not-saved", reason: "The record does not hold it." };
      }
      const why = found?.state === "unclear" ? found.problem.title : "It was not found in the record.";
      return { ...head, outcome: "unknown", reason: `${why} It may still be stored.` };
    }
    const place = { reference: referenceOf(found.resource), ...versionOf(found.resource) };
    if (found.copies.length > 1) {
      return { ...head, ...place, outcome: "unknown", reason: `It is stored twice: ${found.copies.join(", ")}.` };
    }
    const differences = signedDifferences(entry.resource, found.resource);
    if (differences.length > 0) {
      return { ...head, ...place, outcome: "unknown", differences, reason: "It is stored, but not as it was sent." };
    }
    const own = OWN.get(session.context) ?? new Map<string, string | undefined>();
    own.set(planItemOf(found.resource) ?? "", place.version);
    OWN.set(session.context, own);
    return { ...head, ...place, outcome: "saved" };
  });
  const isRecord = (at: number) => entries[at]?.resource.resourceType === "Provenance";
  const written = outcomes.filter((_, at) => !isRecord(at));
  const provenance = outcomes.find((_, at) => isRecord(at));
  const all = (outcome: ItemOutcome["outcome"]) => written.every((one) => one.outcome === outcome);
  const outcome = all("saved") ? "saved" : all("not-saved") ? "not-saved" : "unknown";
  return {
    act,
    outcome,
    items: written,
    ...(provenance ? { provenance } : {}),
    ...(outcome === "unknown" ? { problem: unsure(written, because) } : {}),
    ...(outcome === "not-saved"
      ? { problem: problem("The record does not hold the plan.", `Nothing was written. ${KEPT}`, AGAIN) }
      : {}),
  };
}

function unsure(items: readonly ItemOutcome[], because: FhirProblem | undefined): Problem {
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

function notSaved({ items, act }: Job, reason: Problem): WriteReport {
  const kept = items.filter((item) => !item.removed && item.kind !== "provenance");
  return {
    act,
    outcome: "not-saved",
    problem: reason,
    items: kept.map(({ key, title }) => ({ key, title, outcome: "not-saved", reason: reason.title })),
  };
}

function unknownAll(items: readonly DraftItem[], act: Act, reason: string): WriteReport {
  const kept = items.filter((item) => !item.removed && item.kind !== "provenance");
  return {
    act,
    outcome: "unknown",
    problem: problem("It could not be checked what was stored.", reason, AGAIN),
    items: kept.map(({ key, title }) => ({ key, title, outcome: "unknown", reason })),
  };
}

/**
 * A plan that was begun and not finished: found by the journal of this tab, or from the record alone when that tab is gone; what is
 * stored of it; and its withdrawal. Finishing it is an ordinary writing of the same plan, which finds what is there.
 */
import type { DocumentReference } from "fhir/r4";
import { APP_TAG, PLAN_ITEM } from "../fhir/codings.ts";
import { type Act, type DraftItem, planIdOf, replacedBy, storedItem } from "../fhir/drafts.ts";
import type { EarlierPlan } from "../fhir/earlier.ts";
import { stillInForce } from "../fhir/revision.ts";
import { type Acting, changeOf, type StoredChange, titleOf } from "../fhir/stored-change.ts";
import { WITHDRAWAL_DOCUMENT, withdrawalDocument } from "../fhir/withdrawal-document.ts";
import { withdrawalRecord } from "../fhir/withdrawal-record.ts";
import { signerOf } from "./before-writing.ts";
import { capabilitiesOf } from "./capabilities.ts";
import { closeJournal, unfinishedHere } from "./journal.ts";
import type { Problem } from "./problem.ts";
import { planItemOf, versionOf } from "./read-chart.ts";
import { actOf, referenceOf } from "./stored-look.ts";
import type { FhirResource } from "./transport.ts";
import { writeBack } from "./write-back.ts";
import { type ItemOutcome, KEPT, problem, type WriteContext, type Writing } from "./write-report.ts";

/** In the order in which they are taken out of effect: first what somebody would act on. */
const TYPES = [
  "Appointment",
  "ServiceRequest",
  "DocumentReference",
  "CarePlan",
  "Condition",
  "QuestionnaireResponse",
] as const;
const MANY = 100;

export interface StoredItem {
  readonly key: string;
  readonly reference: string;
  readonly version?: string;
  /** By which act it is as it is. */
  readonly act: Act | undefined;
  readonly resource: FhirResource & { readonly id: string };
  /** What it is, in a few words. */
  readonly title: string;
}
export interface StoredPlan {
  readonly items: readonly StoredItem[];
  /** Types that could not be searched: something of them may be stored. */
  readonly unread: readonly string[];
}

/** What the record holds of one plan now and what is not withdrawn, asked afresh. */
export async function storedOf(
  { fhir, context, can }: Pick<Writing, "fhir" | "context" | "can">,
  planId: string,
): Promise<StoredPlan> {
  const ours = encodeURIComponent(`${PLAN_ITEM}|`);
  const answers = await Promise.all(
    TYPES.filter((type) => can(type, "s")).map(async (type) => {
      const query = `${type}?patient=${context.patientId}&identifier=${ours}&_count=${MANY}`;
      return { type, answer: await fhir.search(query, { limit: MANY }) };
    }),
  );
  const found = answers
    .flatMap(({ answer }) => (answer.ok ? answer.value.matches : []))
    .filter((resource) => resource.id !== undefined && planItemOf(resource)?.startsWith(`${planId}:`));
  const replaced = new Set(found.flatMap(replacedBy));
  const items = found
    .filter((resource) => !isWithdrawn(resource) && !replaced.has(referenceOf(resource)))
    .map((resource) => ({
      key: planItemOf(resource)!.slice(planId.length + 1),
      reference: referenceOf(resource),
      ...versionOf(resource),
      act: actOf(resource),
      resource: resource as StoredItem["resource"],
      title: titleOf({ type: resource.resourceType, resource }),
    }))
    .filter(({ key }) => !key.startsWith(WITHDRAWAL_DOCUMENT));
  // A type that the server does not know holds nothing.
  const isUnread = ({ answer }: (typeof answers)[number]) =>
    answer.ok ? answer.value.more : answer.problem.kind !== "unsupported";
  return { items, unread: answers.filter(isUnread).map(({ type }) => type) };
}
const GONE = ["entered-in-error", "revoked", "cancelled", "stopped", "superseded"];
function isWithdrawn({ status, verificationStatus }: FhirResource): boolean {
  const coding = (verificationStatus as { coding?: { code?: string }[] } | undefined)?.coding?.[0]?.code;
  return GONE.includes(String(status)) || coding === "entered-in-error" || coding === "refuted";
}

export interface Unfinished {
  readonly planId: string;
  /** Instant at which it was begun, or was last stored. */
  readonly at: string | undefined;
  readonly act: Act | undefined;
  /** How many items it has; known only to the tab that began it. */
  readonly total: number | undefined;
  readonly stored: StoredPlan;
  /** Drafts that are left of a plan of which the rest is signed: they can be signed as they stand. */
  readonly rest: readonly DraftItem[];
  /** The earlier plan whose place it takes, still in force beside it. */
  readonly replaces: EarlierPlan | undefined;
}

/**
 * Plans of this patient that were begun and not finished: by this tab's journal, and by the record: a part of the plan is signed and
 * another is not, there are items without their plan, without a document of it, and without a record of who made them, or the plan
 * whose place it takes is still in force.
 *
 * @param plans as read with the chart
 */
export async function unfinishedPlans(session: Writing, plans: readonly EarlierPlan[]): Promise<Unfinished[]> {
  const journal = unfinishedHere(session.context);
  const replacedBy = (planId: string) => {
    const plan = plans.find((p) => p.planId === planId);
    return plan && stillInForce(plan, plans);
  };
  const begun: Unfinished[] = [];
  if (journal) {
    const stored = await storedOf(session, journal.planId);
    const done = (key: string) => {
      const item = stored.items.find((one) => one.key === key);
      return item !== undefined && (journal.act === "draft" || item.act === "sign");
    };
    const replaces = replacedBy(journal.planId);
    const isWhole =
      journal.items.every(({ key }) => done(key)) || (stored.items.length === 0 && stored.unread.length === 0);
    if (isWhole) closeJournal(session.context);
    if (!isWhole || replaces) {
      const { planId, at, act, items } = journal;
      begun.push({ planId, at, act, total: items.length, stored, rest: restOf(stored), replaces });
    }
  }
  const suspects = plans.filter(
    (plan) => plan.planId !== journal?.planId && (looksUnfinished(plan) || replacedBy(plan.planId)),
  );
  const found = await Promise.all(
    suspects.map(async ({ planId, written }): Promise<Unfinished[]> => {
      // What a newer plan took over belongs to that one, whatever key it still bears.
      const others = new Set(plans.filter((p) => p.planId !== planId).flatMap((p) => p.items.map((i) => i.reference)));
      const found = await storedOf(session, planId);
      const stored = { ...found, items: found.items.filter(({ reference }) => !others.has(reference)) };
      const rest = restOf(stored);
      const acts = new Set(stored.items.map(({ act }) => act));
      if (stored.items.length === 0) return [];
      const replaces = replacedBy(planId);
      if (!replaces && rest.length === 0 && (hasPlan(stored) || !(await lacksRecord(session, stored)))) return [];
      return [
        { planId, at: written, act: acts.has("sign") ? "sign" : undefined, total: undefined, stored, rest, replaces },
      ];
    }),
  );
  return [...begun, ...found.flat()];
}

const WHOLE = ["CarePlan", "DocumentReference"];
const hasPlan = ({ items }: StoredPlan) => items.some(({ resource }) => WHOLE.includes(resource.resourceType));

/** Worth a closer look, by what was read with the chart: the diagnoses are not among it. */
function looksUnfinished({ items }: EarlierPlan): boolean {
  const live = items.filter(({ resource }) => !isWithdrawn(resource as FhirResource));
  if (live.length === 0) return false;
  const acts = new Set(live.map(({ resource }) => actOf(resource as FhirResource)));
  return acts.size > 1 || !live.some(({ type }) => WHOLE.includes(type));
}

/** The drafts of a plan of which another part is signed, with a new record of who signs them. The plan itself has to be there. */
function restOf(stored: StoredPlan): DraftItem[] {
  const { items } = stored;
  const signed = items.find(({ act }) => act === "sign");
  const drafts = items.filter(({ act, resource }) => act === "draft" && resource.resourceType !== "DocumentReference");
  if (!signed || drafts.length === 0 || !hasPlan(stored)) return [];
  const tags = (signed.resource.meta as { tag?: { system?: string; code?: string }[] }).tag ?? [];
  const program = tags.find(({ system }) => system === APP_TAG)?.code ?? "";
  const record = { ...withdrawalRecord(planIdOf(signed.resource), program), title: "Who signed it" };
  return [...drafts.flatMap(({ key, title, resource }) => storedItem(key, title, resource) ?? []), record];
}

/** Ends the earlier plan by itself: what is written with it is the record of who did so. */
export const endingRecord = (planId: string, appVersion: string): DraftItem => ({
  ...withdrawalRecord(planId, appVersion),
  title: "Who ended it",
});

/** True only when the record system was asked for records of who made these items and has none, although it would take them. */
async function lacksRecord(session: Writing, { items }: StoredPlan): Promise<boolean> {
  const { offers } = await capabilitiesOf(session);
  if (!session.can("Provenance", "c") || !offers("Provenance").create) return false;
  // R4: the `patient` of a Provenance is a patient that is its target, so it is asked for by what it is about.
  const targets = items.map(({ reference }) => encodeURIComponent(reference)).join(",");
  const answer = await session.fhir.search(`Provenance?target=${targets}`, { limit: 1 });
  return answer.ok && answer.value.matches.length === 0;
}

export interface WithdrawalReport {
  readonly outcome: "withdrawn" | "part" | "not-withdrawn";
  /** "saved": its withdrawal was stored and read back. */
  readonly items: readonly ItemOutcome[];
  readonly problem?: Problem;
}

/**
 * Takes back what is stored of a plan: each item over the version just read, as the life of a plan has it, nothing deleted. What was in
 * effect is revoked or cancelled; what was not never should have been. A visit that the clinic has taken up is left to it.
 */
export async function withdrawPlan(
  session: Writing,
  planId: string,
  why: string,
  context: Pick<WriteContext, "at" | "wait" | "signal"> & { readonly appVersion: string },
): Promise<WithdrawalReport> {
  const { appVersion, ...writing } = context;
  const none = (because: Problem): WithdrawalReport => ({ outcome: "not-withdrawn", items: [], problem: because });
  const [stored, signer] = await Promise.all([storedOf(session, planId), session.signer()]);
  if (!signer.ok) return none(problem("Nobody is known to withdraw it.", signer.reason, "Try again."));
  if (stored.items.length === 0)
    return none(problem("Nothing of this plan is stored.", "There is nothing to withdraw.", KEPT));
  const acting: Acting = { signer: signerOf(signer), at: context.at, why };
  const changes: StoredChange[] = [];
  const documents: DraftItem[] = [];
  const left: ItemOutcome[] = [];
  let blocked = stored.unread.length > 0;
  for (const item of stored.items) {
    const { key, title, reference, resource } = item;
    if (resource.resourceType === "DocumentReference") {
      documents.push(withdrawalDocument(resource as unknown as DocumentReference, acting));
      continue;
    }
    const what = withdrawalOf(session, item, planId, acting);
    if ("change" in what) changes.push(what.change);
    else {
      left.push({ key, title, reference, outcome: "not-saved", reason: what.left.why });
      blocked ||= what.left.clinic;
    }
  }
  const items = [...documents, withdrawalRecord(planId, appVersion)];
  const report = await writeBack(session, items, "sign", { ...writing, changes });
  const taken = report.items.filter(({ outcome }) => outcome === "saved").length;
  const all = report.outcome === "saved" && !blocked;
  if (all) closeJournal(session.context);
  const unread = stored.unread.length > 0 ? ` ${stored.unread.join(", ")} could not be read.` : "";
  return {
    outcome: all ? "withdrawn" : taken > 0 ? "part" : "not-withdrawn",
    items: [...report.items, ...left],
    ...(all
      ? {}
      : {
          problem:
            report.problem ??
            problem(
              "Not everything could be withdrawn.",
              `${taken} of ${stored.items.length} stored items are withdrawn. Nothing was deleted.${unread}`,
              "Have the others marked as entered in error in the record system.",
            ),
        }),
  };
}

function withdrawalOf(session: Writing, item: StoredItem, planId: string, acting: Acting): ReturnType<typeof changeOf> {
  const { key, title, reference, version, act, resource } = item;
  const type = resource.resourceType;
  if (!session.can(type, "u"))
    return { left: { title, reference, why: "Your sign-in may not change it here.", clinic: true } };
  const isSigned = act === "sign";
  const hadEffect = isSigned && ["CarePlan", "ServiceRequest", "Appointment"].includes(type);
  const { status } = resource as { status?: string };
  const stored = { key, planItem: `${planId}:${key}`, type, reference, version, status: status ?? "", resource };
  return changeOf(stored, hadEffect ? "withdraw" : "void", isSigned, acting);
}

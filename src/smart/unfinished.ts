/**
 * A plan that was begun and not finished: found by the journal of this tab, or from the record alone when that tab is gone; what is
 * stored of it; and its withdrawal. Finishing it is an ordinary writing of the same plan, which finds what is there.
 */
import type { DocumentReference } from "fhir/r4";
import { APP_TAG, PLAN_ITEM, PLAN_TAG } from "../fhir/codings.ts";
import {
  type Act,
  type BundleItem,
  type DraftItem,
  planIdOf,
  replacedBy,
  signedDifferences,
  storedItem,
  storedTitle,
} from "../fhir/drafts.ts";
import type { EarlierPlan } from "../fhir/earlier.ts";
import {
  WITHDRAWAL_DOCUMENT,
  type Withdrawal,
  withdrawalDocument,
  withdrawalRecord,
  withdrawn,
} from "../fhir/withdrawal.ts";
import { obstacle, patientStop } from "./before-writing.ts";
import { capabilitiesOf } from "./capabilities.ts";
import { filingOf } from "./filing.ts";
import { closeJournal, unfinishedHere } from "./journal.ts";
import type { Problem } from "./problem.ts";
import { planItemOf, versionOf } from "./read-chart.ts";
import { type SingleJob, writeOne } from "./single-writes.ts";
import { actOf, referenceOf } from "./stored-look.ts";
import type { FhirResource } from "./transport.ts";
import { type ItemOutcome, KEPT, problem, signalOf, type WriteContext, type Writing } from "./write-report.ts";

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
      title: storedTitle(resource),
    }))
    .filter(({ key }) => !key.startsWith(WITHDRAWAL_DOCUMENT));
  // A type that the server does not know holds nothing.
  const isUnread = ({ answer }: (typeof answers)[number]) =>
    answer.ok ? answer.value.more : answer.problem.kind !== "unsupported";
  return { items, unread: answers.filter(isUnread).map(({ type }) => type) };
}
const GONE = ["entered-in-error", "revoked", "cancelled", "superseded"];
function isWithdrawn({ status, verificationStatus }: FhirResource): boolean {
  const coding = (verificationStatus as { coding?: { code?: string }[] } | undefined)?.coding?.[0]?.code;
  return GONE.includes(String(status)) || coding === "entered-in-error";
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
}

/**
 * Plans of this patient that were begun and not finished: by this tab's journal, and by the record: a part of the plan is signed and
 * another is not, or there are items without their plan, without a document of it, and without a record of who made them.
 *
 * @param plans as read with the chart
 */
export async function unfinishedPlans(session: Writing, plans: readonly EarlierPlan[]): Promise<Unfinished[]> {
  const journal = unfinishedHere(session.context);
  const begun: Unfinished[] = [];
  if (journal) {
    const stored = await storedOf(session, journal.planId);
    const done = (key: string) => {
      const item = stored.items.find((one) => one.key === key);
      return item !== undefined && (journal.act === "draft" || item.act === "sign");
    };
    const isOver =
      journal.items.every(({ key }) => done(key)) || (stored.items.length === 0 && stored.unread.length === 0);
    if (isOver) closeJournal(session.context);
    else {
      const { planId, at, act, items } = journal;
      begun.push({ planId, at, act, total: items.length, stored, rest: restOf(stored) });
    }
  }
  const suspects = plans.filter((plan) => plan.planId !== journal?.planId && looksUnfinished(plan));
  const found = await Promise.all(
    suspects.map(async ({ planId, written }): Promise<Unfinished[]> => {
      const stored = await storedOf(session, planId);
      const rest = restOf(stored);
      const acts = new Set(stored.items.map(({ act }) => act));
      if (stored.items.length === 0) return [];
      if (rest.length === 0 && (hasPlan(stored) || !(await lacksRecord(session, planId)))) return [];
      return [{ planId, at: written, act: acts.has("sign") ? "sign" : undefined, total: undefined, stored, rest }];
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
  const tag = ((signed.resource.meta as { tag?: { system?: string; code?: string }[] }).tag ?? []).filter(
    ({ system }) => system !== PLAN_ITEM,
  );
  const planId = planIdOf(signed.resource);
  const program = tag.find(({ system }) => system === APP_TAG)?.code ?? "";
  const record: DraftItem = {
    key: "provenance",
    kind: "provenance",
    title: "Who made it, from what",
    words: [],
    resource: {
      resourceType: "Provenance",
      meta: {
        tag: [
          { system: PLAN_ITEM, code: `${planId}:provenance` },
          { system: PLAN_TAG, code: planId },
        ],
      },
      target: [],
      recorded: "",
      agent: [{ type: { text: "Assembler" }, who: { display: `Fingerpost ${program}` } }],
    },
    urn: `urn:uuid:${planId.slice(0, 24)}ffffffffffff`,
    edits: [],
    changes: [],
  };
  return [...drafts.flatMap(({ key, resource }) => storedItem(key, resource) ?? []), record];
}

/** True only when the record system was asked for records of who made this plan and has none, although it would take them. */
async function lacksRecord(session: Writing, planId: string): Promise<boolean> {
  const { offers } = await capabilitiesOf(session);
  if (!session.can("Provenance", "c") || !offers("Provenance").create) return false;
  const tag = encodeURIComponent(`${PLAN_TAG}|${planId}`);
  const answer = await session.fhir.search(`Provenance?_tag=${tag}&patient=${session.context.patientId}`, { limit: 1 });
  return answer.ok && answer.value.matches.length === 0;
}

export interface WithdrawalReport {
  readonly outcome: "withdrawn" | "part" | "not-withdrawn";
  /** "saved": its withdrawal was stored and read back. */
  readonly items: readonly ItemOutcome[];
  readonly problem?: Problem;
}

/** Takes back what is stored of a plan: each over the version just read, orders and visits first, nothing deleted. */
export async function withdrawPlan(
  session: Writing,
  planId: string,
  reason: string,
  context: Pick<WriteContext, "at" | "wait" | "signal">,
): Promise<WithdrawalReport> {
  const none = (because: Problem): WithdrawalReport => ({ outcome: "not-withdrawn", items: [], problem: because });
  const [stored, patient, capabilities] = await Promise.all([
    storedOf(session, planId),
    session.fhir.read(`Patient/${session.context.patientId}`, signalOf(context)),
    capabilitiesOf(session),
  ]);
  const stop = patientStop(session.context, patient);
  // What was stored for a patient whose record is closed may still be taken back; another patient's may not.
  if (stop && (!patient.ok || patient.value.id !== session.context.patientId)) return none(stop);
  const items = stored.items.flatMap(({ key, resource }) => storedItem(key, resource) ?? []);
  if (items.length === 0)
    return none(problem("Nothing of this plan is stored.", "There is nothing to withdraw.", KEPT));
  const early = await obstacle({ session, items, act: "draft" });
  if ("problem" in early) return none(early.problem);
  const withdrawal: Withdrawal = { signer: early.signer, at: context.at, reason };
  const filing = filingOf(items, capabilities, session.can);
  const job: SingleJob = { session, items: [], act: "draft", context, filing, signer: early.signer };

  const outcomes: ItemOutcome[] = [];
  for (const item of stored.items) outcomes.push(await withdrawOne(job, item, withdrawal));
  const taken = outcomes.flatMap(({ outcome, reference }) => (outcome === "saved" && reference ? [reference] : []));
  if (taken.length > 0 && session.can("Provenance", "c") && capabilities.offers("Provenance").create) {
    const resource = withdrawalRecord(planId, taken, withdrawal);
    await writeOne(job, entryFor(resource.meta?.tag?.[0]?.code ?? "", resource));
  }
  const all = taken.length === outcomes.length && stored.unread.length === 0;
  if (all) closeJournal(session.context);
  return {
    outcome: all ? "withdrawn" : taken.length > 0 ? "part" : "not-withdrawn",
    items: outcomes,
    ...(all
      ? {}
      : {
          problem: problem(
            "Not everything could be withdrawn.",
            `${taken.length} of ${outcomes.length} stored items are withdrawn. Nothing was deleted.${stored.unread.length > 0 ? ` ${stored.unread.join(", ")} could not be read.` : ""}`,
            "Have the others marked as entered in error in the record system.",
          ),
        }),
  };
}

const entryFor = (planItem: string, resource: BundleItem["resource"]): BundleItem => {
  const type = resource.resourceType;
  const by = type === "Provenance" ? "_tag" : "identifier";
  return {
    key: planItem.slice(planItem.indexOf(":") + 1),
    resource,
    method: "POST",
    url: type,
    ifNoneExist: `${by}=${PLAN_ITEM}|${planItem}`,
    search: `${type}?${by}=${encodeURIComponent(`${PLAN_ITEM}|${planItem}`)}`,
  };
};

async function withdrawOne(job: SingleJob, item: StoredItem, withdrawal: Withdrawal): Promise<ItemOutcome> {
  const { session, filing } = job;
  const { key, title, reference, version, resource } = item;
  const head = { key, title, reference };
  const type = resource.resourceType;
  const changes = session.can(type, "u") && filing.capabilities.offers(type).update;
  const next = withdrawn(resource, withdrawal);
  if (!next)
    return {
      ...head,
      outcome: "not-saved",
      reason: "The clinic has taken this visit in hand. Ask there to cancel it.",
    };
  const replaces = !changes && type === "DocumentReference";
  if (!changes && !(replaces && session.can(type, "c")))
    return { ...head, outcome: "not-saved", reason: "It cannot be changed from here." };
  const sent: BundleItem = replaces
    ? documentEntry(withdrawalDocument(resource as unknown as DocumentReference, withdrawal))
    : {
        ...entryFor(planItemOf(resource) ?? "", next),
        method: "PUT",
        url: reference,
        ...(version ? { ifMatch: `W/"${version}"` } : {}),
      };
  const wrote = await writeOne(job, sent);
  if (!("place" in wrote)) {
    const outcome = wrote.fate === "unknown" ? "unknown" : "not-saved";
    return { ...head, outcome, reason: wrote.problem.title };
  }
  const back = await session.fhir.read(wrote.place);
  if (!back.ok) return { ...head, outcome: "unknown", reason: back.problem.title };
  const differences = signedDifferences(sent.resource, back.value);
  return differences.length > 0
    ? { ...head, outcome: "unknown", differences, reason: "It is stored, but not as it was sent." }
    : { ...head, ...versionOf(back.value), outcome: "saved" };
}
const documentEntry = (resource: DocumentReference): BundleItem =>
  entryFor(resource.identifier?.[0]?.value ?? "", resource);

/**
 * Writes the plan, in one transaction or one by one, and tells the truth about it: an item is "saved" only when it was read
 * back and equals what was sent, "not-saved" only when the record system does not hold it, and "unknown" in every other case.
 */
import { type Act, type BundleItem, bundleOf, type DraftItem, itemsOf } from "../fhir/drafts.ts";
import { obstacle, patientStop, signerOf } from "./before-writing.ts";
import { capabilitiesOf, learn } from "./capabilities.ts";
import { type Filing, filedItems, filingOf } from "./filing.ts";
import { lacksCondition, reportOf, send, unconditioned } from "./one-transaction.ts";
import type { Problem } from "./problem.ts";
import { type OtherPlans, unseenPlans } from "./same-injury.ts";
import { learnFrom, type SingleJob, writeSingly } from "./single-writes.ts";
import { asItStands, isRecord, type Looks, lookAll, type There, whatIsThere } from "./stored-look.ts";
import type { FhirProblem } from "./transport.ts";
import {
  changesIn,
  type Job,
  KEPT,
  notSaved,
  problem,
  signalOf,
  unknownAll,
  type WriteContext,
  type WriteReport,
  type Writing,
} from "./write-report.ts";

export type { ItemOutcome, WriteContext, WriteReport, WriteStep } from "./write-report.ts";

let running: Promise<WriteReport> | undefined;

/**
 * Writes the items that were not left out, as drafts or signed, each as its lane says. One write at a time: a second call while
 * one is under way (a double click) gets the same report. Safe to repeat: items are found again by their own identifiers.
 */
export function writeBack(
  session: Writing,
  items: readonly DraftItem[],
  act: Act,
  context: WriteContext,
): Promise<WriteReport> {
  running ??= write({ session, items, act, context }).finally(() => {
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
  const answer = await session.signer();
  if (!answer.ok) return unknownAll({ items, act, context }, answer.reason);
  const acting = { act, signer: signerOf(answer), at: context.at };
  const filing = context.filing ?? (await filingFor({ session, items, act, context }));
  const filed = filedItems(items, filing, acting, context.replaces);
  const entries = itemsOf(bundleOf(filed, act, { ...acting, existing: context.known ?? {}, ...changesIn(context) }));
  return reportOf({ session, items, act, context }, entries, await lookAll(session, entries), "looked");
}

/**
 * Type of what is known to be stored, by item key; also of what the last attempt left there as a draft: it is not filed once more as
 * something else.
 */
export const storedTypes = (known: WriteContext["known"] = {}, report?: WriteReport): Map<string, string> => {
  const left = (report?.items ?? []).flatMap(({ key, reference }) => (reference ? [[key, reference] as const] : []));
  const all = [...left, ...Object.entries(known).map(([key, { reference }]) => [key, reference] as const)];
  return new Map(all.map(([key, reference]) => [key, reference.split("/", 1)[0] ?? ""]));
};

const filingFor = async ({ session, items, context }: Job): Promise<Filing> =>
  filingOf(items, await capabilitiesOf(session), session.can, {
    stored: storedTypes(context.known),
    changes: (context.changes?.length ?? 0) > 0,
  });

async function write(job: Job): Promise<WriteReport> {
  const { session, items, act, context } = job;
  context.onStep?.("checking");
  const early = await obstacle(job);
  if ("problem" in early) return notSaved(job, early.problem);
  const { signer } = early;
  const acting = { act, signer, at: context.at };
  const filing = context.filing ?? (await filingFor(job));
  if (filing.way === "nothing") {
    return notSaved(
      job,
      problem(
        "The record system takes no part of this plan.",
        `Nothing was written. ${KEPT}`,
        "Take the plan along, and enter it by hand.",
      ),
    );
  }

  const filed = filedItems(items, filing, acting, context.replaces);
  const first = itemsOf(bundleOf(filed, act, { ...acting, ...changesIn(context) }));
  const [patient, looks, others] = await Promise.all([
    session.fhir.read(`Patient/${session.context.patientId}`, signalOf(context)),
    lookAll(session, first),
    othersFor(job, first),
  ]);
  const stop = patientStop(session.context, patient);
  if (stop) return notSaved(job, stop);
  const already = whatIsThere(job, first, looks);
  if ("problem" in already) return notSaved(job, already.problem);
  const isThere = (entry: BundleItem) => looks.get(entry.key)?.state === "found";
  if (already.allSaved && !(filing.way === "single" && !first.every(isThere))) {
    // Nothing is written, so no new record of an act is due; the one of the act that wrote it may have another time.
    const there = asItStands(first, already).filter((entry) => !isRecord(entry) || isThere(entry));
    return reportOf(job, there, looks, "looked");
  }
  const colleague = signedMeanwhile(others);
  if (colleague) return notSaved(job, colleague);
  const held = await context.beforeSending?.();
  if (held) return notSaved(job, held);

  const report = await sendFiled({ ...job, filing, signer }, filed, already, looks);
  if (report.outcome === "not-saved" || report.problem) return report;
  // Whoever signs at the same moment passes the look before sending; the one who looks last sees both.
  const double = signedTwice(report, await othersFor(job, first));
  return double ? { ...report, problem: double } : report;
}

/** Sends what is filed, in one step where the record system takes it so, else one by one. */
async function sendFiled(
  job: SingleJob,
  filed: readonly DraftItem[],
  already: There,
  looks: Looks,
): Promise<WriteReport> {
  const { session, act, context, filing, signer } = job;
  // What is signed in part was begun one by one, and is finished so.
  if (filing.way === "single" || already.done.size > 0) return writeSingly(job, already, looks);
  const acting = { signer, at: context.at, existing: already.existing, ...changesIn(context) };
  const whole = bundleOf(filed, act, acting);
  let bundle = unconditioned(whole, filing, looks);
  let sent = await send(job, bundle);
  if ("refused" in sent && lacksCondition(sent.refused)) {
    // It was looked before whether anything is there, so the same goes out without the condition.
    learn(session.context, { what: "conditional-create" });
    bundle = unconditioned(whole, await filingFor(job), looks);
    sent = await send(job, bundle);
  }
  if (!("refused" in sent)) return sent;
  const { refused } = sent;
  const taught = teach(job, itemsOf(bundle), refused);
  if (taught === "transaction") {
    const singly = await filingFor(job);
    // The same things are filed as was shown, only one by one.
    if (sameLanes(filing, singly)) return writeSingly({ ...job, filing: singly }, already, looks);
  }
  const report = notSaved(job, {
    ...refused,
    what: `${refusal(refused)} Nothing was written. ${KEPT}`,
    ...(taught ? { next: "See below what can be filed instead, then decide again." } : {}),
  });
  return taught ? { ...report, otherwise: true } : report;
}

/** Plans of others for the same injury matter when this one comes into force. */
const othersFor = (
  { session, act, context: { plansSeen, changes = [] } }: Job,
  entries: readonly BundleItem[],
): Promise<OtherPlans> =>
  act === "sign"
    ? unseenPlans(
        session,
        entries.map(({ resource }) => resource),
        { seen: plansSeen, changed: changes.map(({ reference }) => reference) },
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
        "Agree which of them holds, then withdraw the other one under Saved plans.",
      )
    : problem(
        "Your plan is in the chart.",
        "It could not be checked whether somebody else signed one for this injury at the same time.",
        "Look at the saved plans before you close the chart.",
      );
}

/** What a refused transaction teaches: one entry that is not taken, or that there are no transactions; nothing, when it is a passing fault. */
function teach(job: Job, entries: readonly BundleItem[], refused: FhirProblem): "transaction" | "entry" | undefined {
  if (!["refused", "unsupported", "invalid"].includes(refused.kind)) return undefined;
  const named = namedIn(refused, entries);
  if (named) return learnFrom(job, named, refused) ? "entry" : undefined;
  learn(job.session.context, { what: "transaction" });
  return "transaction";
}

/** The entry that the server's outcome points at: by its number, or as the only one of its type. */
function namedIn({ kind, outcome = [] }: FhirProblem, entries: readonly BundleItem[]): BundleItem | undefined {
  for (const { at, text } of outcome) {
    const number = /Bundle\.entry\[(\d+)\]/.exec([...at, text].join(" "))?.[1];
    if (number !== undefined) return entries[Number(number)];
    if (kind === "unsupported") continue;
    const type = /^([A-Z][A-Za-z]+)\b/.exec(at[0] ?? "")?.[1];
    const [only, ...others] = entries.filter((entry) => entry.resource.resourceType === type);
    if (only && others.length === 0) return only;
  }
  return undefined;
}

const sameLanes = (a: Filing, b: Filing): boolean =>
  b.way !== "nothing" &&
  a.lanes.size === b.lanes.size &&
  [...a.lanes].every(([key, one]) => {
    const other = b.lanes.get(key);
    return other?.lane === one.lane && other.as === one.as;
  });

function refusal(refused: FhirProblem): string {
  if (refused.kind === "refused") return "The record system does not let you file this plan.";
  if (refused.kind === "unsupported") return "The record system does not take this plan in one step.";
  if (refused.kind === "invalid") return "The record system did not accept part of the plan.";
  return refused.title;
}

/**
 * Every fault at every request of every flow. After each run the store is read directly: the whole plan is there once, or
 * nothing is and the draft can be signed again; never twice, never with another patient, and never said otherwise.
 */
import type { Act } from "../../src/fhir/codings.ts";
import { type DraftItem, documentKey } from "../../src/fhir/drafts.ts";
import { visitAsOrder } from "../../src/fhir/stand-ins.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import { AtTheScreen, type Press, stateOf } from "./clinician.ts";
import { FAULTS, type Fault, strikes } from "./faults.ts";
import type { Bend, Exchange } from "./proxy.ts";
import { keepRecord } from "./record.ts";
import { type Held, PATIENT, type Ward, type Window, type WriteBack } from "./ward.ts";

/** What a clinician does, as data: what is done before any fault, the act that is struck, and how it is finished. */
export interface Flow {
  readonly name: string;
  /** Puts the record and the screen into the state in which the act begins. */
  readonly prepare?: (at: AtTheScreen) => Promise<void>;
  /** The act, once; the fault strikes one of its requests. */
  readonly act: (at: AtTheScreen) => Promise<unknown>;
  /** What the clinician wants in the end. */
  readonly wants: Act;
  /** What the record system can do from the act on; everything unless given. Set once the page has been opened anew. */
  readonly server?: object;
  /** A fault that always happens in this flow, so that what follows from it can be struck as well. */
  readonly always?: (exchange: Exchange, nth: number) => Bend | undefined;
  /** Other checks of the end state than "every item that was kept is stored once". */
  readonly ends?: (at: AtTheScreen, held: Held) => string[];
}

export const TIMES = { once: 1, twice: 2, "until the writer gives up": Number.POSITIVE_INFINITY } as const;
export type Times = keyof typeof TIMES;

export interface Run {
  readonly flow: Flow;
  readonly step: string;
  /** The how manieth request of this kind is struck first. */
  readonly nth: number;
  readonly fault: Fault;
  readonly times: Times;
}
export interface Tally {
  runs: number;
  /** Runs in which the fault really struck. */
  struck: number;
  lost: string[];
  duplicated: string[];
  misfiled: string[];
  falseWords: string[];
  /** How the first report of each run ended. */
  outcomes: Record<string, number>;
}
export const emptyTally = (): Tally => ({
  runs: 0,
  struck: 0,
  lost: [],
  duplicated: [],
  misfiled: [],
  falseWords: [],
  outcomes: {},
});

/** Every flow in turn; prints what came of each. */
export async function matrixOf(
  ward: Ward,
  flows: readonly Flow[],
  { writer, only = () => true }: { writer?: WriteBack; only?: (step: string) => boolean } = {},
): Promise<Tally> {
  const whole = emptyTally();
  for (const flow of flows) {
    const requests = await requestsOf(ward, await ward.launch(), flow);
    const runs = runsOf(
      flow,
      requests.filter(({ step }) => only(step)),
    );
    const tally = await runAll(ward, runs, whole, writer);
    console.log(printed(flow.name, tally));
    if (EVERY_PAIR && !writer) {
      const { runs, struck, lost, duplicated, misfiled, falseWords } = tally;
      keepRecord(flow.name, {
        ...{ faults: FAULTS.length, requests: requests.length, combinations: runs, struck, lost: lost.length },
        ...{ duplicated: duplicated.length, misfiled: misfiled.length, falseWords: falseWords.length },
      });
    }
  }
  return whole;
}

const nameOf = ({ flow, step, nth, fault, times }: Run) => `${flow.name}: ${fault.name}, ${times}, at ${step} #${nth}`;

/** The requests of a flow when nothing goes wrong, apart from what always does: each kind with its count. */
async function requestsOf(ward: Ward, window: Window, flow: Flow): Promise<Struck[]> {
  const at = new AtTheScreen(ward, window);
  await prepared(flow, at);
  const requests: Struck[] = [];
  const counts = counter();
  ward.proxy.bend = (exchange) => {
    const nth = counts(exchange.step);
    requests.push({ step: exchange.step, nth });
    return flow.always?.(exchange, nth);
  };
  await flow.act(at);
  ward.proxy.bend = () => undefined;
  return requests;
}
/** The state in which the act begins, on the record system that it is tried with. */
async function prepared(flow: Flow, at: AtTheScreen): Promise<void> {
  await at.ward.control({ capabilities: {} });
  await flow.prepare?.(at);
  if (flow.server) await at.ward.control({ capabilities: flow.server });
}
/** How often a name has come by now, this time included. */
export function counter(): (name: string) => number {
  const counts = new Map<string, number>();
  return (name) => {
    const n = (counts.get(name) ?? 0) + 1;
    counts.set(name, n);
    return n;
  };
}

/** `FAULTS_TURN=3` deals other pairs of fault and request than the ones of every run; `FAULTS_TURN=all` tries every pair and keeps the record of it. */
const EVERY_PAIR = process.env.FAULTS_TURN === "all";
const FIRST_TURN = EVERY_PAIR ? 0 : Number(process.env.FAULTS_TURN ?? 0);
/** Requests that differ in their resource type only. */
const isAlike = ({ step, nth }: Struck) =>
  step !== "GET Patient/id" && (/^GET \w+\/id$/.test(step) || (/^GET \w+\?identifier$/.test(step) && nth === 1));
const isWrite = ({ step }: Struck) => strikes("write", step);
const WAYS = Object.keys(TIMES) as Times[];
/** A request of a flow: of this kind, the how manieth. */
export interface Struck {
  readonly step: string;
  readonly nth: number;
}
/**
 * The runs of a flow. With every pair: each fault at each request that it can strike. Else requests that are alike take turns; and
 * where a plan takes twenty writes instead of one, so do the writes, and whatever else is asked. A write is struck once, twice and until
 * the writer gives up, since it may be sent twice; a read once and until the reader gives up. Where not all ways are tried, they take turns.
 */
export function runsOf(flow: Flow, requests: readonly Struck[], faults = FAULTS): Run[] {
  return faults.flatMap((fault, at) => {
    const turn = at + FIRST_TURN;
    const run = ({ step, nth }: Struck, times: Times) => ({ flow, step, nth, fault, times });
    const waysOf = (one: Struck) => WAYS.filter((times) => isWrite(one) || times !== "twice");
    const inAllWays = (one: Struck) => waysOf(one).map((times) => run(one, times));
    const inTurn = (one: Struck, i: number) => run(one, waysOf(one)[(turn + i) % waysOf(one).length] as Times);
    const dealt = (hand: readonly Struck[], from = 0) =>
      hand.length ? [hand[(turn + from) % hand.length] as Struck] : [];

    const struck = requests.filter(({ step }) => strikes(fault.at, step));
    const writes = struck.filter(isWrite);
    const asked = struck.filter((one) => !isWrite(one));
    const [alike, others] = [asked.filter(isAlike), asked.filter((one) => !isAlike(one))];
    if (flow.server) {
      if (EVERY_PAIR) return struck.map(inTurn);
      const thirds = WAYS.flatMap((times, i) =>
        dealt(writes, Math.floor((i * writes.length) / WAYS.length)).map((one) => run(one, times)),
      );
      return [...thirds, ...[...dealt(others), ...dealt(alike)].map(inTurn)];
    }
    if (EVERY_PAIR) return [...writes.flatMap(inAllWays), ...asked.map(inTurn)];
    const searches = alike.filter(({ step }) => step.includes("?"));
    const reads = alike.filter(({ step }) => !step.includes("?"));
    const ofPatient = others.filter(({ step }) => step === "GET Patient/id");
    const apart = others.filter((one) => !ofPatient.includes(one));
    return [...[...writes, ...ofPatient, ...dealt(searches), ...dealt(reads)].flatMap(inAllWays), ...apart.map(inTurn)];
  });
}

/** A window for each run: the same one until its session is over, then a new launch. */
class Shift {
  private window: Window | undefined;
  private readonly ward: Ward;
  constructor(ward: Ward) {
    this.ward = ward;
  }
  async windowNow(): Promise<Window> {
    const { window } = this;
    const good = window?.session.state().kind === "open" && window.session.can("CarePlan", "c");
    if (!window || !good) this.window = await this.ward.launch();
    return this.window as Window;
  }
}

/** Many runs put many plans into the store; from time to time the charts are put back. */
const PLANS_BEFORE_CLEANING = 50;

/** Makes the runs and adds what came of them to `whole`; returns the tally of these alone. */
async function runAll(ward: Ward, runs: readonly Run[], whole: Tally, writer?: WriteBack): Promise<Tally> {
  const shift = new Shift(ward);
  const tally = emptyTally();
  for (const run of runs) {
    if (tally.runs++ % PLANS_BEFORE_CLEANING === 0) await ward.control({ reseed: true, clearLogs: true });
    await oneRun(ward, run, await shift.windowNow(), tally, writer);
  }
  whole.runs += tally.runs;
  whole.struck += tally.struck;
  for (const kind of ["lost", "duplicated", "misfiled", "falseWords"] as const) whole[kind].push(...tally[kind]);
  for (const [outcome, n] of Object.entries(tally.outcomes))
    whole.outcomes[outcome] = (whole.outcomes[outcome] ?? 0) + n;
  return tally;
}

async function oneRun(ward: Ward, run: Run, window: Window, tally: Tally, writer?: WriteBack): Promise<void> {
  const { flow, step, nth: first, fault, times } = run;
  const at = new AtTheScreen(ward, window, writer ? { writer } : {});
  await prepared(flow, at);
  await ward.accepted();
  const pressesBefore = at.presses.length;

  const counts = counter();
  let struck = 0;
  ward.proxy.bend = (exchange) => {
    const nth = counts(exchange.step);
    if (exchange.step.startsWith("POST token")) return struck > 0 ? fault.renewal : undefined;
    if (exchange.step === step && nth >= first && struck < TIMES[times]) {
      struck++;
      return fault.bend;
    }
    return flow.always?.(exchange, nth);
  };
  try {
    await flow.act(at);
  } finally {
    ward.proxy.bend = () => undefined;
  }
  if (struck > 0) tally.struck++;
  const report = at.last?.report.outcome ?? "none";
  tally.outcomes[report] = (tally.outcomes[report] ?? 0) + 1;

  // The fault is over: whoever goes on as the screen says gets the whole plan, once.
  const finished = await at.finish(flow.wants);
  const held = at.held();
  const missing = at.items
    .filter((item) => !item.removed && !isHeld(held, at, item) && !isInDocument(held, at, item.key))
    // Where it is the record of who did what that cannot be written, the plan stands and that is told.
    .filter(({ kind }) => kind !== "provenance" || !step.includes("Provenance") || recordOf(at) === "saved")
    .map(({ key }) => key);
  const lost = [
    ...(finished ? [] : [`not finished: ${at.last?.report.problem?.title}`]),
    ...missing,
    ...(flow.ends?.(at, held) ?? []),
  ];
  const duplicated = [...held]
    .filter(([, copies]) => copies.length > 1)
    .map(([key, { length }]) => `${key} × ${length}`);
  const presses = at.presses.slice(pressesBefore);
  const falseWords = presses.flatMap((press) => falseWordsOf(press));
  // Who did what is known whenever the plan is, unless it is just that which the fault keeps from being read.
  const record = recordOf(at) ?? "saved";
  if (at.last?.report.outcome === "saved" && record !== "saved" && !step.includes("Provenance"))
    falseWords.push(`the plan is saved and the record of who did what ${record}`);
  const misfiled = await strangersIn(ward, at, held);
  // One line for each run, whatever number of things is wrong in it.
  for (const [kind, found] of Object.entries({ lost, duplicated, misfiled, falseWords } as const))
    if (found.length) tally[kind as "lost"].push(`${nameOf(run)}: ${found.join("; ")}`);
}

const recordOf = ({ last }: AtTheScreen) => last?.report.provenance?.outcome;

/**
 * The record of who did what has a key of its own for each act, which begins with the item's. What stands unchanged is held by the
 * earlier plan.
 */
const isHeld = (held: Held, { earlier }: AtTheScreen, { key, kind, stands }: DraftItem) => {
  const keys = [...held.keys()];
  if (kind === "provenance") return keys.some((one) => one.startsWith(`${key}-`));
  return keys.includes(stands ? `old:${earlier}:${key}` : key);
};

/** Where the screen said beforehand that an item goes into the plan's document, and the current document has it. */
function isInDocument(held: Held, { last, planId }: AtTheScreen, key: string): boolean {
  if (last?.filing.lanes.get(key)?.lane !== "in-document") return false;
  const documents = [...held.values()].flat().filter((one) => one.resourceType === "DocumentReference");
  return documents
    .filter(({ status }) => status === "current")
    .some(({ content }) =>
      (content as { attachment: { contentType: string; data: string } }[])
        .filter(({ attachment }) => attachment.contentType.startsWith("application/fhir+json"))
        .some(({ attachment }) => Buffer.from(attachment.data, "base64").toString("utf8").includes(`${planId}:${key}`)),
    );
}

/** What was stored under another patient, or beside the plan. */
async function strangersIn(ward: Ward, at: AtTheScreen, held: Held): Promise<string[]> {
  const patient = `Patient/${PATIENT}`;
  const own = new Set<string>();
  const strangers: string[] = [];
  for (const resource of [...held.values()].flat()) {
    own.add(`${resource.resourceType}/${resource.id}`);
    const named = JSON.stringify(resource).match(/"Patient\/[^"/]+"/g) ?? [];
    const about =
      resource.resourceType === "Provenance"
        ? named.length === 0 || named.every((n) => n === `"${patient}"`)
        : named.length > 0 && named.every((n) => n === `"${patient}"`);
    if (!about) strangers.push(`${resource.resourceType}/${resource.id} names ${named.join(", ") || "nobody"}`);
  }
  for (const reference of await ward.accepted())
    if (!own.has(reference)) strangers.push(`${reference} is no part of the plan ${at.planId}`);
  return strangers;
}

const versionIn = (resource: FhirResource | undefined) =>
  (resource?.meta as { versionId?: string } | undefined)?.versionId;
const standingIn = (resource: FhirResource | undefined) =>
  (resource?.meta as { tag?: { code?: string }[] } | undefined)?.tag
    ?.map(({ code }) => code)
    .find((code) => code === "signed" || code === "draft");

/** What a report says and the store does not bear out, or what it leaves unsaid. */
export function falseWordsOf(press: Press): string[] {
  const { act, report, filing, before, after } = press;
  const wrong: string[] = [];
  const filed = press.items.filter((item) => !item.removed && filing.lanes.get(item.key)?.lane === "filed");
  const kept = [
    ...filed.filter((item) => item.kind !== "provenance").map(({ key }) => key),
    ...(filing.document ? [documentKey(act, press.at)] : []),
    ...press.changes.map(({ key }) => key),
  ];
  const told = report.items.map(({ key }) => key);
  if ([...kept].sort().join() !== [...told].sort().join())
    wrong.push(`reports on ${told.join()} instead of ${kept.join()}`);
  for (const item of [...report.items, ...(report.provenance ? [report.provenance] : [])]) {
    const [now, ...more] = after.get(item.key) ?? [];
    const [then] = before.get(item.key) ?? [];
    if (item.outcome === "saved") {
      const meant = act === "sign" ? "signed" : "draft";
      if (!now || more.length)
        wrong.push(`${item.key} is called saved and stands there ${1 + more.length - (now ? 0 : 1)} times`);
      else {
        if (item.reference !== `${now.resourceType}/${now.id}` || item.version !== versionIn(now))
          wrong.push(`${item.key} is called saved at ${item.reference}, version ${item.version}`);
        if (standingIn(now) !== meant) wrong.push(`${item.key} is called saved and stands there as ${standingIn(now)}`);
        const change = press.changes.find(({ key }) => key === item.key)?.resource as FhirResource | undefined;
        const lost = contentLost(change ?? meantBy(press, item.key), now);
        if (change && stateOf(now) !== stateOf(change))
          wrong.push(`${item.key} is called saved and is ${stateOf(now)}, not ${stateOf(change)}`);
        if (lost) wrong.push(`${item.key} is called saved without its ${lost}`);
      }
    }
    if (item.outcome === "as-draft" && (!now || more.length || standingIn(now) !== "draft"))
      wrong.push(`${item.key} is called a draft without effect and stands there as ${standingIn(now) ?? "nothing"}`);
    if (item.outcome === "not-saved" && versionIn(now) !== versionIn(then))
      wrong.push(`${item.key} is called not saved and was written`);
    if (item.outcome !== "saved" && !item.reason) wrong.push(`${item.key} is ${item.outcome} without a reason`);
  }
  const all = (outcome: string) => report.items.every((item) => item.outcome === outcome);
  // In part: each item is known to be saved, a draft without effect, or not there.
  const isKnown = report.items.every((item) => item.outcome !== "unknown");
  const whole = all("saved") ? "saved" : all("not-saved") ? "not-saved" : isKnown ? "part" : "unknown";
  if (report.outcome !== whole) wrong.push(`is called ${report.outcome} and its items are ${whole}`);
  if (report.outcome !== "saved") {
    const { title, what, next } = report.problem ?? {};
    if (!title || !what || !next) wrong.push("says not what happened, what was not done, and what to do next");
  }
  return wrong;
}

/** What the clinician left on the screen of an item: without links to what was left out or is filed otherwise. */
function meantBy({ items, filing }: Press, key: string): unknown {
  const isGone = (item: DraftItem) => item.removed || (!item.stands && filing.lanes.get(item.key)?.lane !== "filed");
  const gone = new Set(items.filter(isGone).map(({ urn }) => urn));
  const without = (value: unknown): unknown => {
    if (Array.isArray(value)) {
      const kept = value.map(without).filter((one) => one !== undefined);
      return kept.length ? kept : undefined;
    }
    if (value === null || typeof value !== "object") return value;
    if (gone.has((value as { reference?: string }).reference ?? "")) return undefined;
    const kept = Object.entries(value)
      .map(([name, one]) => [name, without(one)] as const)
      .filter(([, one]) => one !== undefined);
    return kept.length ? Object.fromEntries(kept) : undefined;
  };
  const item = items.find((one) => one.key === key);
  return without(item && filing.lanes.get(key)?.as === "order" ? visitAsOrder(item, items).resource : item?.resource);
}

/** The first thing in `meant` that `stored` does not have; links between the items and the act's own marks are left aside. */
function contentLost(meant: unknown, stored: unknown, path = ""): string | undefined {
  if (meant === null || typeof meant !== "object") return meant === stored ? undefined : path;
  if (stored === null || typeof stored !== "object") return path;
  for (const [name, value] of Object.entries(meant)) {
    if (!path && ACT_SETS.has(name)) continue;
    if (name === "reference" && String(value).startsWith("urn:uuid:")) continue;
    const lost = contentLost(value, (stored as Record<string, unknown>)[name], path ? `${path}.${name}` : name);
    if (lost) return lost;
  }
  return undefined;
}
/** What drafting or signing writes itself: state, author, time, narrative. */
const ACT_SETS = new Set([
  "status",
  "text",
  "meta",
  "verificationStatus",
  "author",
  "authored",
  "authoredOn",
  "created",
  "recordedDate",
  "recorder",
  "asserter",
  "requester",
  "source",
  "extension",
  "identifier",
]);

export function printed(
  name: string,
  { runs, struck, lost, duplicated, misfiled, falseWords, outcomes }: Tally,
): string {
  const first = Object.entries(outcomes).map(([outcome, n]) => `${n} ${outcome}`);
  return (
    `${name}: ${runs} combinations (${struck} struck; at first ${first.join(", ")}); ` +
    `${lost.length} lost, ${duplicated.length} duplicated, ${misfiled.length} misfiled, ${falseWords.length} false words`
  );
}

/**
 * Carries out what clinic staff decide on a visit: looks at it afresh, writes it in one transaction with version checks or, where the record
 * system takes one resource at a time, in a safe order with a way back, and says what became of it. Nothing half done stays unseen.
 */
import { type ActAnswer, type ActingStaff, type ActStep, actBundle, type ClinicAct } from "../fhir/clinic-act.ts";
import { signedDifferences, withReferences } from "../fhir/drafts.ts";
import type { Held } from "../fhir/listed-visit.ts";
import { type Capabilities, capabilitiesIn, UNKNOWN } from "./capabilities.ts";
import { placeIn, verdictOf } from "./one-transaction.ts";
import type { Problem } from "./problem.ts";
import type { ClinicSession } from "./session.ts";
import { referenceOf } from "./stored-look.ts";
import type { FhirAnswer, FhirProblem, FhirResource } from "./transport.ts";

export type Acting = Pick<ClinicSession, "context" | "fhir" | "signer" | "can" | "lastsFor">;
export type ActReport =
  /** `told`: the doctor was told; "phone": it could not be filed, tell them by phone; undefined: nobody had to be told. */
  | {
      readonly outcome: "done";
      readonly places: readonly string[];
      readonly told?: "filed" | "phone";
      readonly problem?: Problem;
    }
  /** The time was taken in the meantime: nothing was changed. Choose the next one, after reading the times again. */
  | { readonly outcome: "time-taken"; readonly problem: Problem }
  /** The visit or its plan was changed in the meantime: nothing was changed here. Read the list again. */
  | { readonly outcome: "visit-changed"; readonly problem: Problem }
  | { readonly outcome: "not-done"; readonly problem: Problem }
  /** It took effect, and something that belongs to it is missing; or it could not be put back whole. `left` says what, in sentences. */
  | { readonly outcome: "part"; readonly problem: Problem; readonly left: readonly string[] }
  /** The answer did not come: look at the visit again before anything else. */
  | { readonly outcome: "unknown"; readonly problem: Problem };

const problem = (title: string, what: string, next: string, said?: string): Problem => ({
  kind: "booking",
  title,
  what,
  next,
  ...(said ? { serverSaid: said } : {}),
});
const NOTHING = "Nothing was changed.";
const of = (from: FhirProblem, what = NOTHING, next = from.next) => problem(from.title, what, next, from.serverSaid);
const TAKEN = problem(
  "This time was taken a moment ago.",
  "Somebody else booked it; nothing was changed.",
  "Take the next free time.",
);
const CHANGED = problem(
  "This visit was changed a moment ago.",
  "Somebody else booked, moved or ended it; nothing was changed here.",
  "Read the list again.",
);
const AS_ASKED = problem(
  "This visit was changed a moment ago.",
  "It stands as you asked for it now: by this act, or by you in another window.",
  "Read the list again before you do anything else with it.",
);
/** Seconds that a sign-in must still last, so that no act dies on the way. [common practice, no source] */
const LASTING = 60;
/** Before each look for what became of an act whose answer did not come, milliseconds. [common practice, no source] */
const PACE = [500, 1000, 2000, 4000];

const STATED = new WeakMap<object, Promise<Capabilities>>();
/** What the record system takes, read once; one that says nothing is tried. */
async function capabilitiesOf({ context, fhir }: Pick<Acting, "context" | "fhir">): Promise<Capabilities> {
  let reading = STATED.get(context);
  if (!reading) {
    reading = fhir
      .read("metadata", { mayBeKept: true })
      .then((answer) => (answer.ok ? capabilitiesIn(answer.value) : UNKNOWN));
    STATED.set(context, reading);
  }
  const stated = await reading;
  if (!stated.known) STATED.delete(context);
  return stated;
}

export interface ActOptions {
  /** Instant of the act with its offset. */
  readonly at: string;
  readonly appVersion: string;
  readonly wait?: (ms: number) => Promise<void>;
}

/**
 * Does one act. `make` gets who is signed in, verified, and makes the act (`booking`, `moving`, `callingOff`, `missing`, `came` of fhir/clinic-act).
 * What the act rests on is read afresh first: the patient, the order and the visit must stand as they were.
 */
export async function carryOut(
  session: Acting,
  visits: readonly {
    readonly entry: Held;
    readonly order?: Held | undefined;
    readonly patient: { readonly reference: string };
  }[],
  make: (staff: ActingStaff) => ActAnswer,
  { at, appVersion, wait = pause }: ActOptions,
): Promise<ActReport> {
  const not = (why: Problem): ActReport => ({ outcome: "not-done", problem: why });
  if (!session.can("Appointment", "u"))
    return not(
      problem(
        "Visits cannot be changed here.",
        `The record system did not give the right to it. ${NOTHING}`,
        "Ask for the right to book.",
      ),
    );
  if (!(await session.lastsFor(LASTING)))
    return not(problem("Your sign-in is about to end.", NOTHING, "Open Fingerpost again, then go on."));
  const signer = await session.signer();
  if (!signer.ok)
    return not(problem("It is not certain who is signed in.", `${signer.reason} ${NOTHING}`, "Open Fingerpost again."));
  const made = make({ signer: { reference: signer.reference, display: signer.name }, at, appVersion });
  if (!made.ok) return not(problem("This cannot be done.", `${made.problem} ${NOTHING}`, "Change it and try again."));
  const stands = await standsAsRead(session, visits, made.act.name);
  if (stands) return stands;
  return written(session, made.act, wait);
}
/** Writes an act as one transaction where the record system takes one, else one resource after the other. */
export async function written(
  session: Acting,
  act: ClinicAct,
  wait: (ms: number) => Promise<void> = pause,
): Promise<ActReport> {
  const { transaction } = await capabilitiesOf(session);
  return transaction ? inOne(session, act, wait) : oneByOne(session, act, wait);
}

/** A plan that ended or a patient who died since the list was read stops a booking; calling off is what then remains to be done. */
async function standsAsRead(
  { fhir }: Acting,
  visits: Parameters<typeof carryOut>[1],
  name: ClinicAct["name"],
): Promise<ActReport | undefined> {
  const [first] = visits;
  if (!first || name === "call-off" || name === "missed" || name === "came") return undefined;
  const orders = [...new Set(visits.flatMap(({ order }) => order?.reference ?? []))];
  const [patient, ...read] = await Promise.all(
    [first.patient.reference, ...orders].map((reference) => fhir.read(reference)),
  );
  const failed = [patient!, ...read].find((answer) => !answer.ok);
  if (failed && !failed.ok) return { outcome: "not-done", problem: of(failed.problem) };
  const { deceasedBoolean, deceasedDateTime, active } = (patient as { value: FhirResource }).value;
  const ended = read.some((answer) => answer.ok && answer.value.status !== "active");
  return ended || deceasedBoolean === true || deceasedDateTime !== undefined || active === false
    ? { outcome: "visit-changed", problem: CHANGED }
    : undefined;
}

type Sent = FhirAnswer<FhirResource | undefined>;

async function inOne(session: Acting, act: ClinicAct, wait: (ms: number) => Promise<void>): Promise<ActReport> {
  const answer = await session.fhir.transaction(JSON.stringify(actBundle(act)));
  switch (verdictOf(answer)) {
    case "committed":
      return done(act, placesIn(session.context.base, act, answer), []);
    case "refused": {
      const why = (answer as Extract<Sent, { ok: false }>).problem;
      // Its statement was wrong, or it said nothing: what it takes one by one is tried.
      return why.kind === "unsupported" ? oneByOne(session, act, wait) : { outcome: "not-done", problem: of(why) };
    }
    case "conflict":
      // It may be our own act that stands in the way, when its first answer was lost; or the same one from another window.
      return (await lookAgain(session, act)) === "stored"
        ? { outcome: "visit-changed", problem: AS_ASKED }
        : whatChanged(session, act);
    case "unknown": {
      const why = answer.ok ? undefined : answer.problem;
      for (const ms of PACE) {
        await wait(ms);
        const looks = await lookAgain(session, act);
        if (looks === "stored") return done(act, [], []);
        if (looks === "as-before" && ms === PACE.at(-1)) return { outcome: "not-done", problem: why ? of(why) : TAKEN };
        if (looks === "changed") return whatChanged(session, act);
      }
      return unknown(why);
    }
  }
}
const unknown = (why: FhirProblem | undefined): ActReport => ({
  outcome: "unknown",
  problem: problem(
    why?.title ?? "It is not known what was stored.",
    "It may or may not have been done.",
    "Look at this visit again before you do anything else with it.",
    why?.serverSaid,
  ),
});

function placesIn(base: string, { steps }: ClinicAct, answer: Sent): string[] {
  const said = answer.ok ? ((answer.value?.entry ?? []) as { response?: { location?: string } }[]) : [];
  return steps.flatMap(({ resource }, i) => placeIn(base, resource.resourceType, said[i]?.response?.location) ?? []);
}
function done({ steps, tellByPhone }: ClinicAct, places: readonly string[], failed: readonly ActStep[]): ActReport {
  const messages = steps.filter(({ what }) => what === "message");
  const filed = messages.length > 0 && !messages.some((step) => failed.includes(step));
  const phone = tellByPhone !== undefined || (messages.length > 0 && !filed);
  return {
    outcome: "done",
    places,
    ...(phone ? { told: "phone" } : filed ? { told: "filed" } : {}),
    ...(phone
      ? {
          problem: problem(
            "The doctor has not been told.",
            tellByPhone ?? "It could not be filed for them.",
            "Phone whoever ordered the visit.",
          ),
        }
      : {}),
  };
}

/** How the visits and times of an act stand now. */
async function lookAgain(
  { fhir }: Acting,
  { steps }: ClinicAct,
): Promise<"stored" | "as-before" | "changed" | "unclear"> {
  const over = steps.filter(({ method, what }) => method === "PUT" && what !== "record");
  // Nothing was written over: there is nothing to tell by.
  if (over.length === 0) return "unclear";
  const answers = await Promise.all(over.map(({ url }) => fhir.read(url)));
  const states = answers.map((answer, i) => {
    if (!answer.ok) return "unclear";
    const { resource, version } = over[i]!;
    // References to what is created in the same act are the server's to choose.
    const same = signedDifferences({ ...resource, extension: undefined }, answer.value).filter(
      (path) => path !== "extension",
    );
    if (same.length === 0) return "stored";
    return versionIn(answer.value) === version ? "as-before" : "changed";
  });
  const all = (state: string) => states.every((one) => one === state);
  return all("stored") ? "stored" : all("as-before") ? "as-before" : states.includes("unclear") ? "unclear" : "changed";
}
const versionIn = (resource: FhirResource) => (resource.meta as { versionId?: string } | undefined)?.versionId;

/** Whether it was the time or the visit that somebody else changed. */
async function whatChanged({ fhir }: Acting, { steps, name }: ClinicAct): Promise<ActReport> {
  const visits = steps.filter(({ what, method }) => (what === "visit" || what === "diagnosis") && method === "PUT");
  for (const { url, version } of visits) {
    const answer = await fhir.read(url);
    if (answer.ok && versionIn(answer.value) !== version) return { outcome: "visit-changed", problem: CHANGED };
  }
  return name === "book" || name === "move"
    ? { outcome: "time-taken", problem: TAKEN }
    : { outcome: "visit-changed", problem: CHANGED };
}

/**
 * One resource after the other: the time is held first, so that nobody else can take it; then the visits, without which nothing has happened and
 * after which the act stands; then the time for good, the record and the message. A refusal before the act stands puts back what was written.
 */
async function oneByOne(session: Acting, act: ClinicAct, wait: (ms: number) => Promise<void>): Promise<ActReport> {
  const { fhir, context } = session;
  const versions = new Map<string, string>();
  const ids: Record<string, string> = {};
  const back: { url: string; resource: object }[] = [];
  const put = async (url: string, resource: object, version: string | undefined): Promise<Sent> => {
    const answer = await fhir.write(url, JSON.stringify(resource), {
      method: "PUT",
      ...(version ? { headers: { "if-match": `W/"${version}"` } } : {}),
    });
    const settled = answer.ok || verdictOf(answer) === "refused" ? answer : await settle(url, resource, answer);
    const now = settled.ok ? (settled.value ?? (await read(url))) : undefined;
    const next = now && versionIn(now);
    if (next) versions.set(url, next);
    return settled;
  };
  const read = async (url: string) => {
    const answer = await fhir.read(url);
    return answer.ok ? answer.value : undefined;
  };
  /** The answer did not come, or it is our own writing that stands in the way: what is stored now tells. */
  const settle = async (url: string, resource: object, answer: Sent): Promise<Sent> => {
    const looks = verdictOf(answer) === "conflict" ? [0] : PACE.slice(0, 2);
    for (const ms of looks) {
      if (ms > 0) await wait(ms);
      const now = await read(url);
      if (now && signedDifferences(resource, now).length === 0) return { ok: true, value: now, status: 200 };
    }
    return answer;
  };
  /** Likewise of what is created: it is looked for by the name that it has in its plan. */
  const post = async ({ url, ifNoneExist }: ActStep, resource: FhirResource): Promise<Sent> => {
    const answer = await fhir.write(
      url,
      JSON.stringify(resource),
      ifNoneExist ? { headers: { "if-none-exist": ifNoneExist } } : {},
    );
    if (answer.ok || verdictOf(answer) === "refused" || !ifNoneExist) return answer;
    const found = await fhir.search(`${url}?${ifNoneExist}`, { limit: 2 });
    const [only, ...more] = found.ok ? found.value.matches : [];
    return only && more.length === 0 && signedDifferences(resource, only).length === 0
      ? { ok: true, value: only, status: 200 }
      : answer;
  };
  const putBack = async (): Promise<string[]> => {
    const left: string[] = [];
    for (const { url, resource } of back.reverse()) {
      const answer = await put(url, { ...resource, id: url.split("/")[1] }, versions.get(url));
      if (!answer.ok) left.push(`${url} could not be put back as it was: ${answer.problem.title}`);
    }
    return left;
  };
  const stopped = async (answer: Sent, step: ActStep): Promise<ActReport> => {
    const left = await putBack();
    const why = (answer as Extract<Sent, { ok: false }>).problem;
    if (left.length > 0)
      return {
        outcome: "part",
        left,
        problem: of(why, "It was not done, and not all could be put back.", "Check the times again."),
      };
    const verdict = verdictOf(answer);
    if (verdict === "unknown") return unknown(why);
    if (verdict !== "conflict") return { outcome: "not-done", problem: of(why) };
    return step.what === "time"
      ? { outcome: "time-taken", problem: TAKEN }
      : { outcome: "visit-changed", problem: CHANGED };
  };

  for (const step of act.steps) {
    if (!step.hold) continue;
    const answer = await put(step.url, step.hold, step.version);
    if (!answer.ok) return stopped(answer, step);
    if (step.undo) back.push({ url: step.url, resource: step.undo });
  }
  const failed: ActStep[] = [];
  const why: string[] = [];
  const places: string[] = [];
  for (const step of act.steps) {
    const resource = withReferences(step.resource, ids) as unknown as FhirResource;
    const answer: Sent =
      step.method === "PUT"
        ? await put(step.url, resource, versions.get(step.url) ?? step.version)
        : await post(step, resource);
    const place =
      step.method === "PUT"
        ? step.url
        : answer.ok
          ? (placeIn(context.base, step.url, answer.location) ?? referenceIn(answer))
          : undefined;
    if (answer.ok && place) {
      places.push(place);
      if (step.urn) ids[step.urn] = place;
      const created = step.method === "POST" && answer.value ? versionIn(answer.value) : undefined;
      if (created) versions.set(place, created);
      if (step.before && step.undo) back.push({ url: place, resource: step.undo });
      continue;
    }
    if (step.before && !answer.ok) return stopped(answer, step);
    failed.push(step);
    why.push(answer.ok ? "" : answer.problem.title);
  }
  const left = failed.flatMap(({ what }, i) => (what === "message" ? [] : [`${LEFT[what]} ${why[i]}`.trim()]));
  if (left.length === 0) return done(act, places, failed);
  return {
    outcome: "part",
    left,
    problem: problem(
      "It is done, but not all of it could be filed.",
      left.join(" "),
      "Put the times in order, then look at the visit again.",
    ),
  };
}
const referenceIn = (answer: Sent) => (answer.ok && answer.value?.id ? referenceOf(answer.value) : undefined);
const LEFT: Record<ActStep["what"], string> = {
  visit: "The visit was not written.",
  need: "The visit was not asked for again.",
  time: "The time is held and not yet marked as it should be.",
  record: "It was not filed who did it.",
  message: "The doctor was not told.",
  diagnosis: "The code was not written.",
};

const pause = (ms: number) => new Promise<void>((resolve) => setTimeout(resolve, ms));

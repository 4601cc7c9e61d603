/**
 * Faults at the requests of the clinic's acts: a visit is booked once into one time, or called off and its time free again, whatever goes
 * wrong; whoever goes on as the screen says gets there; no time is taken twice, and none is left taken for nobody.
 */
import { addDays, format, formatISO } from "date-fns";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { booking, callingOff, type Place } from "../../src/fhir/clinic-act.ts";
import type { ListedVisit } from "../../src/fhir/listed-visit.ts";
import { offers, placeInDays } from "../../src/fhir/slot.ts";
import { type ActReport, carryOut } from "../../src/smart/booking.ts";
import { readBookedOf, readVisits } from "../../src/smart/clinic-list.ts";
import { looseTimes, mendTime, readSchedules, readTime, readTimes } from "../../src/smart/clinic-times.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import { FAULTS, type Fault, strikes } from "./faults.ts";
import { counter, type Struck } from "./matrix.ts";
import { noPause, openWard, type Ward } from "./ward.ts";

type Json = Record<string, unknown> & { id: string; resourceType: string; status?: string };
type Act = "book" | "call off";

let ward: Ward;
let session: ClinicSession;
beforeAll(async () => {
  ward = await openWard({ clinics: true });
  session = await ward.launchClinic();
});
afterAll(() => ward?.close());

const day = { today: format(new Date(), "yyyy-MM-dd"), zone: Intl.DateTimeFormat().resolvedOptions().timeZone };
const until = format(addDays(new Date(), 80), "yyyy-MM-dd");
const stored = (type: string) => ward.practice.stored(type) as unknown as Json[];
function given<T>(answer: { ok: true; value: T } | { ok: false; problem: { title: string } }): T {
  if (!answer.ok) throw new Error(answer.problem.title);
  return answer.value;
}
/** A page that has asked and learned nothing yet; whose sign-in is over signs in again. */
async function freshPage(): Promise<ClinicSession> {
  if (session.state().kind !== "open" || !session.can("Appointment", "u")) session = await ward.launchClinic();
  return Object.create(session, { context: { value: Object.freeze({ ...session.context }) } }) as ClinicSession;
}

interface Wanted {
  readonly visit: ListedVisit;
  readonly place: Place;
}
/** Visits that wait and can be booked inside their days, and where: each of another patient, and another time. */
async function bookable(): Promise<Wanted[]> {
  const wanted = new Map<string, Wanted>();
  const schedules = given(await readSchedules(session));
  const asked = { schedules: schedules.map(({ reference }) => reference), from: day.today, to: until };
  const { times } = given(await readTimes(session, day, asked));
  for (const visit of given(await readVisits(session, day)).visits) {
    if (visit.patient.stop || visit.state !== "asked" || !visit.days.latest || !visit.order || visit.minutes) continue;
    const suits = schedules.filter((one) => offers(one, visit));
    const time = times.find(
      (one) =>
        suits.some(({ reference }) => reference === one.schedule) &&
        Date.parse(one.start) > Date.now() &&
        placeInDays(one.day, visit.days) === "within" &&
        ![...wanted.values()].some(({ place }) => place.time.reference === one.reference),
    );
    const schedule = suits.find(({ reference }) => reference === time?.schedule);
    if (time && schedule && !wanted.has(visit.patient.reference))
      wanted.set(visit.patient.reference, { visit, place: { time, schedule } });
  }
  const good: Wanted[] = [];
  for (const one of wanted.values()) {
    const report = await goOn("book", one);
    if (report?.outcome === "done") good.push(one);
  }
  if (good.length < 5) throw new Error("too few visits can be booked");
  return good;
}

/** Of the visit, however often it was asked for again. */
const isOf =
  ({ visit: { key } }: Wanted) =>
  ({ identifier }: Json) =>
    ((identifier as { value?: string }[] | undefined) ?? []).some(
      ({ value }) => value === key || value?.startsWith(`${key}-again-`),
    );
/** All entries of the visit, and the times that are not free, as the store has them. */
function standing(wanted: Wanted): { entries: Json[]; taken: string[]; all: string } {
  const entries = stored("Appointment").filter(isOf(wanted));
  const taken = stored("Slot").filter(({ status }) => status !== "free");
  // What an act that broke off has taken back itself stays as an entry that was made in error.
  const inEffect = entries.filter((one) => !JSON.stringify(one.cancelationReason ?? "").includes('"oth-err"'));
  const all = JSON.stringify([inEffect, stored("Slot").find(({ id }) => `Slot/${id}` === wanted.place.time.reference)]);
  return { entries, taken: taken.map(({ id }) => `Slot/${id}`).sort(), all };
}
/** What is not as it was wanted; `before`: times that were taken all along. */
async function wrongIn(act: Act, wanted: Wanted, before: readonly string[]): Promise<string[]> {
  const { entries, taken } = standing(wanted);
  const booked = entries.filter(({ status }) => status === "booked");
  const waiting = (await waitingOf(wanted)).length;
  const meant = booked.flatMap(({ slot }) => (slot as { reference: string }[] | undefined) ?? []);
  const times = [...new Set([...before, ...(act === "book" ? meant.map(({ reference }) => reference) : [])])].sort();
  return [
    ...(booked.length === (act === "book" ? 1 : 0) && waiting === (act === "book" ? 0 : 1)
      ? []
      : [`${booked.length} booked, ${waiting} in the list`]),
    ...(taken.join() === times.join() ? [] : [`taken: ${taken.filter((one) => !times.includes(one)).join()}`]),
  ];
}
/** The visit as it stands in the list of those to arrange: once, or not at all. */
async function waitingOf({ visit }: Wanted): Promise<ListedVisit[]> {
  const page = await freshPage();
  const { visits } = given(await readVisits(page, day, { filter: { patient: visit.patient.reference } }));
  return visits.filter(({ key }) => key === visit.key);
}

/** Reads the list anew and does what is still to be done, as a person would; undefined when nothing is. */
async function goOn(act: Act, wanted: Wanted): Promise<ActReport | undefined> {
  const page = await freshPage();
  const options = { at: formatISO(new Date()), appVersion: "0.1.0", wait: noPause };
  if (act === "book") {
    const [visit] = await waitingOf(wanted);
    if (!visit) return undefined;
    const time = await readTime(page, wanted.place.time.reference, day.zone);
    const place = time ? { ...wanted.place, time } : wanted.place;
    return carryOut(page, [visit], (staff) => booking([visit], place, staff), options);
  }
  const { visits } = given(await readBookedOf(page, day, wanted.visit.patient.reference));
  const visit = visits.find(({ key }) => key === wanted.visit.key);
  if (!visit) return undefined;
  const time = await readTime(page, wanted.place.time.reference, day.zone);
  const how = { by: "patient", reason: "Has a cold", needRemains: true } as const;
  return carryOut(page, [visit], (staff) => callingOff(visit, time ? [time] : [], staff, how), options);
}
/** Puts in order what an act left behind, as the screen of left times offers it some minutes later. */
async function putInOrder({ place }: Wanted): Promise<void> {
  const page = await freshPage();
  const time = await readTime(page, place.time.reference, day.zone);
  const later = { now: () => new Date(Date.now() + 3_600_000) } as ClinicSession["clock"];
  for (const loose of await looseTimes({ fhir: page.fhir, clock: later }, time ? [time] : []))
    await mendTime(page, loose);
}

/** What a report says and the store does not bear out, or what it leaves unsaid. */
async function falseWordsOf(
  report: ActReport,
  act: Act,
  wanted: Wanted,
  taken: readonly string[],
  before: string,
): Promise<string[]> {
  const wrong: string[] = [];
  const asAsked = report.outcome !== "done" && report.problem.what.startsWith("It stands as you asked for it now");
  if (report.outcome === "done" || asAsked)
    wrong.push(...(await wrongIn(act, wanted, taken)).map((one) => `is called done: ${one}`));
  else if (
    ["not-done", "time-taken", "visit-changed"].includes(report.outcome) &&
    stateIn(standing(wanted).all) !== stateIn(before)
  )
    wrong.push(`is called ${report.outcome}, and something was changed`);
  if (report.outcome === "part" && report.left.length === 0) wrong.push("is done in part, and not said which");
  if (report.outcome !== "done") {
    const { title, what, next } = report.problem;
    if (!title || !what || !next) wrong.push("says not what happened, what was not done, and what to do next");
  }
  return wrong;
}
/** A time that was held and given back has another version, and is free as before. */
const stateIn = (all: string) => all.replaceAll(/"(versionId|lastUpdated)":"[^"]*"/g, "");

const WAYS = { once: 1, "until it is given up": Number.POSITIVE_INFINITY } as const;
/** Each fault at one reading and at two of the writes, by turns; with `FAULTS_TURN=all` at every request. */
function runsOf(requests: readonly Struck[]): { fault: Fault; at: Struck; way: keyof typeof WAYS }[] {
  const isWrite = ({ step }: Struck) => strikes("write", step);
  return FAULTS.flatMap((fault, turn) => {
    const struck = requests.filter(({ step }) => strikes(fault.at, step));
    const [writes, reads] = [struck.filter(isWrite), struck.filter((one) => !isWrite(one))];
    const dealt = (hand: readonly Struck[], from = 0) => (hand.length ? [hand[(turn + from) % hand.length]!] : []);
    const half = Math.ceil(writes.length / 2);
    const own =
      process.env.FAULTS_TURN === "all"
        ? struck
        : [...new Set([...dealt(writes), ...dealt(writes, half), ...dealt(reads)])];
    const ways = Object.keys(WAYS) as (keyof typeof WAYS)[];
    return own.map((at, i) => ({ fault, at, way: ways[(turn + i) % ways.length]! }));
  });
}

describe.each<{ act: Act; singly: boolean; name: string }>([
  { act: "book", singly: false, name: "book a visit" },
  { act: "book", singly: true, name: "book a visit, one by one" },
  { act: "call off", singly: false, name: "call off a booked visit" },
  { act: "call off", singly: true, name: "call off a booked visit, one by one" },
])("REL-25 REL-43 REL-45 GATE-01: every fault at the steps of the clinic's act: $name", ({ act, singly, name }) => {
  const tally = {
    runs: 0,
    struck: 0,
    lost: [] as string[],
    taken: [] as string[],
    misfiled: [] as string[],
    falseWords: [] as string[],
  };
  const outcomes: Record<string, number> = {};

  /** The charts as at the start, the visit booked where it is to be called off, and what the record system can do. */
  async function prepared(wanted: Wanted, anew: boolean): Promise<{ taken: string[]; all: string }> {
    // Putting all charts back takes longest: the runs between take another visit each.
    await ward.control({ reset: true, ...(anew ? { reseed: true } : {}), clearLogs: true });
    const { taken } = standing(wanted);
    if (act === "call off") {
      const report = await goOn("book", wanted);
      if (report?.outcome !== "done") throw new Error(`not booked at first: ${report?.outcome}`);
    }
    if (singly) await ward.control({ capabilities: { transaction: false } });
    await ward.control({ clearLogs: true });
    return { taken, all: standing(wanted).all };
  }
  beforeAll(async () => {
    await ward.control({ reset: true, reseed: true, clearLogs: true });
    const all = await bookable();
    const requests: Struck[] = [];
    await prepared(all[0]!, true);
    let nth = counter();
    let begun = false;
    // The list is read first, and that is no part of the act.
    const isAct = (step: string) => {
      begun ||= /^(GET Patient\/id|GET metadata|POST transaction|PUT |POST [A-Z]\w+$)/.test(step);
      return begun;
    };
    ward.proxy.bend = ({ step }) => {
      if (isAct(step)) requests.push({ step, nth: nth(step) });
      return undefined;
    };
    await goOn(act, all[0]!);
    ward.proxy.bend = () => undefined;

    for (const { fault, at, way } of runsOf(requests)) {
      const wanted = all[tally.runs % all.length]!;
      const before = await prepared(wanted, tally.runs % all.length === 0);
      const { taken } = before;
      tally.runs++;
      let struck = 0;
      nth = counter();
      begun = false;
      ward.proxy.bend = ({ step }) => {
        if (step.startsWith("POST token")) return struck > 0 ? fault.renewal : undefined;
        if (!isAct(step) || step !== at.step || nth(step) < at.nth || struck >= WAYS[way]) return undefined;
        struck++;
        return fault.bend;
      };
      const first = await goOn(act, wanted).finally(() => {
        ward.proxy.bend = () => undefined;
      });
      if (struck > 0) tally.struck++;
      const run = `${name}: ${fault.name}, ${way}, at ${at.step} #${at.nth}`;
      const reports = first ? [first] : [];
      if (first) {
        outcomes[first.outcome] = (outcomes[first.outcome] ?? 0) + 1;
        const wrong = await falseWordsOf(first, act, wanted, taken, before.all);
        if (wrong.length) tally.falseWords.push(`${run}: ${wrong.join("; ")}`);
      }
      for (let i = 0; i < 4 && (await wrongIn(act, wanted, taken)).length > 0; i++) {
        await putInOrder(wanted);
        const next = await goOn(act, wanted);
        if (next) reports.push(next);
      }
      const wrong = await wrongIn(act, wanted, taken);
      const said = reports.map(({ outcome }) => outcome).join(", ");
      if (wrong.some((one) => one.startsWith("taken"))) tally.taken.push(`${run} (${said}): ${wrong.join("; ")}`);
      else if (wrong.length) tally.lost.push(`${run} (${said}): ${wrong.join("; ")}`);
      const patient = `"${wanted.visit.patient.reference}"`;
      for (const reference of await ward.accepted()) {
        const [type, id] = reference.split("/");
        const resource = stored(type ?? "").find((one) => one.id === id);
        const named = JSON.stringify(resource ?? {}).match(/"Patient\/[^"/]+"/g) ?? [];
        if (named.some((one) => one !== patient)) tally.misfiled.push(`${run}: ${reference} names ${named.join()}`);
        if (type === "Slot" && reference !== wanted.place.time.reference) tally.misfiled.push(`${run}: ${reference}`);
      }
    }
    const { runs, lost, taken, misfiled, falseWords } = tally;
    const first = Object.entries(outcomes).map(([outcome, n]) => `${n} ${outcome}`);
    console.log(
      `${name}: ${runs} combinations (${tally.struck} struck; at first ${first.join(", ")}); ` +
        `${lost.length} lost, ${taken.length} times taken for nobody, ${misfiled.length} misfiled, ${falseWords.length} false words`,
    );
  }, 1_800_000);

  it("really strikes", () => {
    expect(tally.runs).toBeGreaterThanOrEqual(60);
    expect(tally.struck).toBe(tally.runs);
  });
  it("INV-1 loses nothing: whoever reads the list again and goes on gets there", () => expect(tally.lost).toEqual([]));
  it("INV-2 books one time for it, and leaves none taken for nobody", () => expect(tally.taken).toEqual([]));
  it("INV-3 writes nothing of another patient, and takes no other time", () => expect(tally.misfiled).toEqual([]));
  it("INV-4 INV-6 says nothing that the record does not bear out, and always what to do next", () =>
    expect(tally.falseWords).toEqual([]));
});

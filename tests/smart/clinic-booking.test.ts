import type { Appointment, Communication, Slot } from "fhir/r4";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { booking, callingOff, moving, type Place } from "../../src/fhir/clinic-act.ts";
import { longEnough } from "../../src/fhir/slot.ts";
import { HELD_FOR } from "../../src/fhir/visit-marks.ts";
import { looseTimes, mendTime, readTime } from "../../src/smart/clinic-times.ts";
import type { ClinicSession } from "../../src/smart/session.ts";
import { type House, MORNING, openHouse } from "../app/clinic-house.ts";
import { act, atTheClinic, DAY } from "../app/clinic-staff.ts";

beforeEach(() => {
  vi.useFakeTimers({ now: MORNING, toFake: ["Date"] });
});
afterEach(() => {
  vi.unstubAllGlobals();
  vi.useRealTimers();
});

const MISSED = { status: "noshow", start: "2026-03-09T09:00:00Z", end: "2026-03-09T09:15:00Z" };
const WITHOUT_TRANSACTIONS = { transaction: false };
async function clinic(offered: object = {}, session: Partial<ClinicSession> = {}) {
  const house = openHouse({ session });
  Object.assign(house.behaviour.capabilities, offered);
  const staff = await atTheClinic(house, "ansgar-brackenridge");
  const entry = () => house.one<Appointment>(staff.visit.entry.reference);
  const slot = ({ time }: Place) => house.one<Slot>(time.reference);
  const book = (place: Place, reason = "", visit = staff.visit) =>
    act(house, [visit], (who) => booking([visit], place, who, reason));
  return { ...staff, house, entry, slot, book, place: staff.where("within") };
}
const OFF = { by: "patient", reason: "Has a cold", needRemains: true } as const;
const writes = (house: House) => house.asked.filter((line) => /^(PUT|POST)/.test(line));

describe("REL-44 nothing is sent", () => {
  it.each<[string, Partial<ClinicSession>, string]>([
    ["without the right to change visits", { can: () => false }, "Visits cannot be changed here."],
    ["when the sign-in is about to end", { lastsFor: async () => false }, "Your sign-in is about to end."],
    [
      "when nobody knows who is signed in",
      { signer: async () => ({ ok: false, reason: "The record system does not name you." }) as never },
      "It is not certain who is signed in.",
    ],
  ])("%s", async (_name, session, title) => {
    const { house, book, place } = await clinic({}, session);
    expect(await book(place)).toMatchObject({ outcome: "not-done", problem: { title } });
    expect(writes(house)).toEqual([]);
  });
  it("when what it rests on cannot be read afresh, or the patient's record is not used any more", async () => {
    const { house, book, place } = await clinic();
    house.fail = (line) => (line.startsWith("GET Patient/") ? 403 : undefined);
    expect((await book(place)).outcome).toBe("not-done");
    house.fail = () => undefined;
    house.enter({ ...house.one("Patient/ansgar-brackenridge"), active: false });
    expect((await book(place)).outcome).toBe("visit-changed");
    expect(writes(house)).toEqual([]);
  });
});

describe("one transaction whose answer does not come", () => {
  it("W2 REL-26 although it was stored: the visit is found booked, and nobody books it twice", async () => {
    const { house, book, place, entry, slot } = await clinic();
    house.fail = (line) => (line.startsWith("POST ") ? "lost" : undefined);
    expect((await book(place)).outcome).toBe("done");
    expect([entry().status, slot(place).status]).toEqual(["booked", "busy"]);
    expect(writes(house)).toHaveLength(1);
  });
  it("W2 because it never arrived: all is as before, and that is said", async () => {
    const { house, book, place, entry, slot } = await clinic();
    house.fail = (line) => (line.startsWith("POST ") ? "none" : undefined);
    expect((await book(place)).outcome).toBe("not-done");
    expect([entry().status, slot(place).status]).toEqual(["proposed", "free"]);
  });
  it("W2 and nothing can be read either: it is not known, and the visit has to be looked at again", async () => {
    const { house, book, place } = await clinic();
    house.fail = (line) =>
      line.startsWith("POST ") || house.asked.some((one) => one.startsWith("POST ")) ? "none" : undefined;
    const report = await book(place);
    expect(report).toMatchObject({
      outcome: "unknown",
      problem: { next: expect.stringContaining("Look at this visit") },
    });
  });
  it("W2 and somebody else has the time by now: they are told as after any race", async () => {
    const { house, book, place, entry, slot } = await clinic();
    house.fail = (line) => {
      if (line.startsWith("POST ")) house.enter({ ...slot(place), status: "busy" });
      return line.startsWith("POST ") ? "none" : undefined;
    };
    expect((await book(place)).outcome).toBe("time-taken");
    expect(entry().status).toBe("proposed");
  });
  it("W2 answered with 200 although a part of it failed: it is looked for, not believed", async () => {
    const { house, book, place, entry } = await clinic();
    const body = { resourceType: "Bundle", type: "transaction-response", entry: [{ response: { status: "500" } }] };
    house.fail = (line) => (line.startsWith("POST ") ? body : undefined);
    expect((await book(place)).outcome).toBe("not-done");
    expect(entry().status).toBe("proposed");
  });
});

describe("a transaction that the record system refuses", () => {
  it("W2 although it said that it takes one: the visit is booked one resource after the other", async () => {
    const { house, book, place, entry, slot } = await clinic();
    house.fail = (line) => (line === "POST " ? 405 : undefined);
    expect((await book(place)).outcome).toBe("done");
    expect([entry().status, slot(place).status]).toEqual(["booked", "busy"]);
    expect(writes(house).map((line) => line.split(/[ /]/)[1])).toEqual([
      "",
      "Slot",
      "Appointment",
      "Slot",
      "Provenance",
    ]);
  });
  it("REL-46 for its content: nothing was changed, and it is not tried in pieces", async () => {
    const { house, book, place } = await clinic();
    house.fail = (line) => (line === "POST " ? 422 : undefined);
    expect(await book(place)).toMatchObject({ outcome: "not-done", problem: { what: "Nothing was changed." } });
    expect(writes(house)).toHaveLength(1);
  });
  it("W4 because the time to be given back was changed: calling off is told to read the list again, not to take another time", async () => {
    const { house, book, place, booked, times, slot } = await clinic();
    await book(place);
    const now = await booked();
    const own = (await times("any")).filter(({ reference }) => now.slots.includes(reference));
    house.enter({ ...slot(place), comment: "Room 3" });
    const report = await act(house, [now], (who) => callingOff(now, own, who, OFF));
    expect(report.outcome).toBe("visit-changed");
    expect(house.one<Appointment>(now.entry.reference).status).toBe("booked");
  });
});

describe("one resource after the other", () => {
  it("W2 a time that cannot be held is told as taken, and the visit is not touched", async () => {
    const { house, book, place, entry, slot } = await clinic(WITHOUT_TRANSACTIONS);
    house.enter({ ...slot(place), comment: "Room 3" });
    expect((await book(place)).outcome).toBe("time-taken");
    expect([entry().status, slot(place).status]).toEqual(["proposed", "free"]);
    expect(writes(house)).toHaveLength(1);
  });
  it("REL-43 a time that a colleague holds for the same visit at the same moment stays theirs", async () => {
    const { house, book, place, visit, slot, entry } = await clinic(WITHOUT_TRANSACTIONS);
    const valueReference = { reference: visit.entry.reference, display: "Held by Somebody Else, 2026-03-10" };
    const theirs = { status: "busy-tentative", extension: [{ url: HELD_FOR, valueReference }] } as const;
    house.fail = (line) => {
      if (line.startsWith("PUT Slot/")) house.enter({ ...slot(place), ...theirs });
      return undefined;
    };
    expect((await book(place)).outcome).toBe("time-taken");
    expect([slot(place).extension, entry().status]).toEqual([theirs.extension, "proposed"]);
    expect(writes(house)).toHaveLength(1);
  });
  it("W2 a visit that cannot be written, and a hold that cannot be taken back: both are told", async () => {
    const { house, book, place, slot } = await clinic(WITHOUT_TRANSACTIONS);
    let held = false;
    house.fail = (line) => {
      if (line.startsWith("PUT Appointment")) held = true;
      return line.startsWith("PUT Appointment") || (held && line.startsWith("PUT Slot")) ? 422 : undefined;
    };
    const report = await book(place);
    expect(report).toMatchObject({ outcome: "part", left: [expect.stringContaining("could not be put back")] });
    expect(slot(place).status).toBe("busy-tentative");
  });
  it("W2 an answer about the visit that never comes, and nothing can be seen: the hold goes back, and it is not known", async () => {
    const { house, book, place, slot, entry } = await clinic(WITHOUT_TRANSACTIONS);
    house.fail = (line) => (line.startsWith("PUT Appointment") ? "none" : undefined);
    expect((await book(place)).outcome).toBe("unknown");
    expect([slot(place).status, entry().status]).toEqual(["free", "proposed"]);
  });
  it("W5 the visit is booked and nobody could file who did it: that is said, the booking stands", async () => {
    const { house, book, place, entry } = await clinic(WITHOUT_TRANSACTIONS);
    house.fail = (line) => (line.startsWith("POST Provenance") ? 422 : undefined);
    expect(await book(place)).toMatchObject({
      outcome: "part",
      left: [expect.stringMatching(/^It was not filed who did it\./)],
    });
    expect(entry().status).toBe("booked");
  });
  it("W3 a message to the doctor is filed once, although its first answer was lost", async () => {
    const { house, book, where } = await clinic(WITHOUT_TRANSACTIONS);
    house.fail = (line) => (line.startsWith("POST Communication") ? "lost" : undefined);
    expect(await book(where("after"), "Away")).toMatchObject({ outcome: "done", told: "filed" });
    house.fail = () => undefined;
    const [message] = house.all<Communication>("Communication");
    const again = await house.session.fhir.write("Communication", JSON.stringify({ ...message, id: undefined }), {
      headers: { "if-none-exist": `identifier=${message!.identifier![0]!.system}|${message!.identifier![0]!.value}` },
    });
    expect([again.ok, house.all("Communication").length]).toEqual([true, 1]);
  });
  it("W3 REL-26 a message whose answer was lost, and which cannot be looked for, is told by phone", async () => {
    const { house, book, where } = await clinic(WITHOUT_TRANSACTIONS);
    house.fail = (line) =>
      line.startsWith("POST Communication") ? "lost" : line.startsWith("GET Communication") ? 403 : undefined;
    expect(await book(where("after"), "Away")).toMatchObject({ outcome: "done", told: "phone" });
  });
  it("W4 a missed visit that is booked anew points from its time, its record and its message to the new entry", async () => {
    const { house, visit, listed, where } = await clinic(WITHOUT_TRANSACTIONS);
    house.enter({ ...visit.entry.resource, ...MISSED });
    const missed = await listed();
    const place = where("after");
    const report = await act(house, [missed], (who) => booking([missed], place, who, "No time before"));
    expect(report).toMatchObject({ outcome: "done", told: "filed" });
    const again = house
      .all<Appointment>("Appointment")
      .find((a) => JSON.stringify(a.identifier).includes(`${visit.key}-again-2"`))!;
    const reference = `Appointment/${again.id}`;
    expect(again.status).toBe("booked");
    const held = house.one<Slot>(place.time.reference).extension?.filter(({ url }) => url === HELD_FOR);
    expect(held?.map((e) => e.valueReference?.reference)).toEqual([reference]);
    expect(house.all<Communication>("Communication")[0]!.about).toEqual([{ reference }]);
  });
  it("REL-45 a missed visit whose new entry is refused, and whose hold stays behind: the hold is found later", async () => {
    const { house, visit, listed, times, place, slot } = await clinic(WITHOUT_TRANSACTIONS);
    house.enter({ ...visit.entry.resource, ...MISSED });
    const missed = await listed();
    house.fail = (line) => (writes(house).length > 1 && line.startsWith("P") ? 422 : undefined);
    expect((await act(house, [missed], (who) => booking([missed], place, who))).outcome).toBe("part");
    expect(slot(place).status).toBe("busy-tentative");
    house.fail = () => undefined;
    vi.setSystemTime(new Date(MORNING.getTime() + 10 * 60_000));
    const found = await looseTimes(house.session, await times("any"));
    expect(found.map(({ time, should }) => [time.reference, should])).toEqual([[place.time.reference, "free"]]);
  });
});

describe.each([
  ["in one transaction", {}],
  ["one resource after the other", WITHOUT_TRANSACTIONS],
])("W2 W4 a visit of several times in a row, %s", (_name, offered) => {
  /** A visit that says it lasts as long as two of the clinic's times, and two free ones in a row inside its days. */
  async function long() {
    const opened = await clinic(offered);
    const { house, visit, times, place } = opened;
    const minutes = 2 * place.time.minutes;
    house.enter({ ...visit.entry.resource, minutesDuration: minutes });
    const now = await opened.listed();
    const rows = longEnough(await times(), now.minutes).filter(({ rest, day }) => rest && day <= visit.days.latest!);
    const at = (time: (typeof rows)[number]): Place => ({ time, schedule: place.schedule });
    const statuses = ({ time }: Place) =>
      [time, ...time.rest!].map(({ reference }) => house.one<Slot>(reference).status);
    const apart = rows.find(({ start }) => Date.parse(start) >= Date.parse(rows[0]!.end))!;
    return { ...opened, now, minutes, first: at(rows[0]!), second: at(apart), statuses };
  }
  it("takes both, and is booked from the first to the end of the second", async () => {
    const { book, now, first, statuses, entry, minutes, booked } = await long();
    expect((await book(first, "", now)).outcome).toBe("done");
    expect(statuses(first)).toEqual(["busy", "busy"]);
    expect(entry()).toMatchObject({ start: first.time.start, end: first.time.rest![0]!.end, minutesDuration: minutes });
    expect((await booked()).slots).toEqual([first.time.reference, first.time.rest![0]!.reference]);
  });
  it("REL-43 takes neither when somebody has the second by now", async () => {
    const { house, book, now, first, statuses, entry } = await long();
    house.enter({ ...house.one<Slot>(first.time.rest![0]!.reference), status: "busy" });
    expect((await book(first, "", now)).outcome).toBe("time-taken");
    expect([statuses(first), entry().status]).toEqual([["free", "busy"], "proposed"]);
  });
  it("gives both back when it is moved, and both of the next when it is called off; asked for again it is as long", async () => {
    const { house, book, now, first, second, statuses, booked, listed, minutes } = await long();
    await book(first, "", now);
    const timesOf = async (slots: readonly string[]) =>
      (await Promise.all(slots.map((slot) => readTime(house.session, slot, DAY.zone)))).map((time) => time!);
    const before = await booked();
    expect(before.minutes).toBe(minutes);
    const own = await timesOf(before.slots);
    expect((await act(house, [before], (who) => moving(before, own, second, who))).outcome).toBe("done");
    expect([statuses(first), statuses(second)]).toEqual([
      ["free", "free"],
      ["busy", "busy"],
    ]);
    const after = await booked();
    const next = await timesOf(after.slots);
    expect((await act(house, [after], (who) => callingOff(after, next, who, OFF))).outcome).toBe("done");
    expect(statuses(second)).toEqual(["free", "free"]);
    expect(await listed()).toMatchObject({ state: "asked", before: 1, minutes });
  });
});

describe("a time that an act left behind", () => {
  const loose = async (house: House, times: Awaited<ReturnType<Awaited<ReturnType<typeof clinic>>["times"]>>) =>
    (await looseTimes(house.session, times)).map(({ time, should }) => [time.reference, should]);
  /** A time that is held for a visit since some minutes ago. */
  async function held(status: "busy" | "busy-tentative", minutesAgo: number, visit?: string) {
    const opened = await clinic();
    const { house, place } = opened;
    vi.setSystemTime(new Date(MORNING.getTime() - minutesAgo * 60_000));
    const valueReference = { reference: visit ?? opened.visit.entry.reference };
    house.enter({ ...house.one<Slot>(place.time.reference), status, extension: [{ url: HELD_FOR, valueReference }] });
    vi.setSystemTime(MORNING);
    return opened;
  }
  it("REL-45 is found: held for a visit that was never booked, or for one that is gone, it should be free", async () => {
    for (const visit of [undefined, "Appointment/never-there"]) {
      const { house, times, place } = await held("busy-tentative", 10, visit);
      expect(await loose(house, await times("any"))).toEqual([[place.time.reference, "free"]]);
      vi.unstubAllGlobals();
    }
    const { house, times, place } = await held("busy", 0);
    expect(await loose(house, await times("any"))).toEqual([[place.time.reference, "free"]]);
  });
  it("is left alone while it may still be on its way, when its visit cannot be read, and once it has gone by", async () => {
    const young = await held("busy-tentative", 2);
    expect(await loose(young.house, await young.times("any"))).toEqual([]);
    const { house, times, place } = await held("busy-tentative", 10);
    const all = await times("any");
    house.fail = (line) => (line.startsWith("GET Appointment/") ? 500 : undefined);
    expect(await loose(house, all)).toEqual([]);
    house.fail = () => undefined;
    vi.setSystemTime(new Date(Date.parse(place.time.end)));
    expect(await loose(house, all)).toEqual([]);
  });
  it("W2 is put in order over the version that was read, or not at all", async () => {
    const { house, times, slot, place } = await held("busy-tentative", 10);
    const [found] = await looseTimes(house.session, await times("any"));
    house.enter({ ...slot(place), comment: "Room 3" });
    expect((await mendTime(house.session, found!)).ok).toBe(false);
    const [again] = await looseTimes(
      { ...house.session, clock: { now: () => new Date(MORNING.getTime() + 600_000) } as never },
      await times("any"),
    );
    expect((await mendTime(house.session, again!)).ok).toBe(true);
    expect([slot(place).status, slot(place).extension]).toEqual(["free", undefined]);
    expect(await readTime(house.session, "Slot/never-there", DAY.zone)).toBeUndefined();
  });
});

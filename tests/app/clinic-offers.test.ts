import { describe, expect, it } from "vitest";
import {
  agreedTime,
  freeDays,
  isOutside,
  offerFor,
  placesFor,
  scheduleOf,
  seriesOf,
  timeAndPlace,
} from "../../src/app/tasks/arrange-visits/offers.ts";
import { answerOf, searchSlowly, wholeProblem } from "../../src/app/tasks/arrange-visits/proposal.ts";
import { booking } from "../../src/fhir/clinic-act.ts";
import type { ListedVisit } from "../../src/fhir/listed-visit.ts";
import type { ClinicTime } from "../../src/fhir/slot.ts";
import { aBooked, aTime, aVisit, CLINIC, ZONE } from "./clinic-visits.ts";

const TODAY = "2026-03-12";
const around = { today: TODAY, now: new Date(Date.UTC(2026, 2, 12, 8)), zone: ZONE };
const always = () => true;
const one = (visit: ListedVisit, times: readonly ClinicTime[]) => {
  const { series } = seriesOf([visit], [], always);
  return offerFor(series[0]!, times, around);
};
const at = (times: readonly ClinicTime[]) => times.map((time) => time.at);

describe("times that are offered for one visit", () => {
  const times = [
    aTime("2026-03-13", "09:00"),
    aTime("2026-03-16", "09:00"),
    aTime("2026-03-16", "09:15"),
    aTime("2026-03-17", "09:00", { status: "busy" }),
    aTime("2026-03-17", "10:00"),
    aTime("2026-03-19", "09:00"),
    aTime("2026-03-23", "09:00"),
  ];
  it("W2 W3 are three free ones inside the days, the nearest to the best day first, each on a day of its own", () => {
    expect(at(one(aVisit({}), times).suggested)).toEqual(["2026-03-17T10:00", "2026-03-16T09:00", "2026-03-19T09:00"]);
  });
  it("never one that has gone by, nor one before today, though the window began earlier", () => {
    const visit = aVisit({ days: { earliest: "2026-03-10", ideal: "2026-03-11", latest: "2026-03-13" } });
    const offer = one(visit, [
      aTime("2026-03-11", "09:00"),
      aTime("2026-03-12", "07:00"),
      aTime("2026-03-12", "09:00"),
    ]);
    expect(at(offer.suggested)).toEqual(["2026-03-12T09:00"]);
  });
  it("come with the reason why it can be neither earlier nor later", () => {
    const { bounds } = one(
      aVisit({ days: { earliest: "2026-03-14", ideal: "2026-03-17", latest: "2026-03-20" } }),
      times,
    );
    expect(bounds).toEqual([
      "Not before Mon 16 March 2026: No session of the hand clinic on 2 days.",
      "Not after Thu 19 March 2026: No session of the hand clinic on 1 day.",
    ]);
  });
  it("W3 without one inside the days say what is in the way, and offer the least bad way out", () => {
    const full = [aTime("2026-03-17", "09:00", { status: "busy" }), aTime("2026-03-23", "09:00")];
    const offer = one(aVisit({}), full);
    expect(offer.suggested).toEqual([]);
    expect(offer.obstacles).toEqual(["No session of the hand clinic on 4 days.", "The hand clinic is full on 1 day."]);
    expect(offer.leastBad.map(({ time, words }) => [time.at, words])).toEqual([
      ["2026-03-23T09:00", "Mon 23 March 2026, 3 days after the last day: needs a reason, and the doctor is told."],
    ]);
    expect(isOutside(full[1]!, [aVisit({})])).toBe(true);
    expect(isOutside(full[0]!, [aVisit({})])).toBe(false);
  });
  it("are listed by day, each day with where it lies", () => {
    expect(freeDays(one(aVisit({}), times).free, aVisit({}).days).map(({ words }) => words)).toEqual([
      "Fri 13 March 2026: 1 free, before the first day",
      "Mon 16 March 2026: 2 free, inside the days",
      "Tue 17 March 2026: 1 free, inside the days",
      "Thu 19 March 2026: 1 free, inside the days",
      "Mon 23 March 2026: 1 free, after the last day",
    ]);
  });
  it("belong to a schedule that offers who sees the patient, whatever the case of its words", () => {
    expect(placesFor({ who: "Hand Clinic" }, [CLINIC])).toEqual([CLINIC]);
    expect(placesFor({ who: "hand therapist" }, [CLINIC])).toEqual([]);
    expect(placesFor({ who: "hand clinic" }, [CLINIC], ["Schedule/other"])).toEqual([]);
    expect(timeAndPlace(times[0]!, [CLINIC])).toBe("Fri 13 March 2026, 09:00, Hand clinic, Alder Quay");
  });
});

describe("a time that was agreed where the record system offers none", () => {
  it("W7 is an instant of the clinic's clock, summer time and winter time", () => {
    expect(agreedTime("2026-03-30", "09:15", 20, around)).toMatchObject({
      start: "2026-03-30T09:15:00+01:00",
      end: "2026-03-30T09:35:00+01:00",
      at: "2026-03-30T09:15",
      reference: "",
    });
    expect(agreedTime("2026-03-27", "09:15", 20, around)?.start).toBe("2026-03-27T09:15:00Z");
  });
  it("is refused when it has gone by, does not exist, or lasts no sensible time", () => {
    expect(agreedTime("2026-03-11", "09:15", 20, around)).toBeUndefined();
    expect(agreedTime("2026-02-30", "09:15", 20, around)).toBeUndefined();
    // clocks go from one to two
    expect(agreedTime("2026-03-29", "01:30", 20, around)).toBeUndefined();
    expect(agreedTime("2026-03-30", "9:15", 20, around)).toBeUndefined();
    for (const minutes of [0, 4, 481, 12.5, Number.NaN])
      expect(agreedTime("2026-03-30", "09:15", minutes, around)).toBeUndefined();
  });
  it("W2 takes no slot, since it is nobody's: the visit alone is written, with who booked it", () => {
    const time = agreedTime("2026-03-17", "09:15", 20, around)!;
    const staff = { signer: { reference: "Practitioner/tobias" }, at: "2026-03-12T08:00:00Z", appVersion: "1" };
    const place = { time, schedule: scheduleOf(time, [CLINIC], aVisit({})) };
    const base = aVisit({});
    const entry = {
      ...base.entry,
      resource: { ...base.entry.resource, status: "proposed", slot: [{ reference: "Slot/old" }], participant: [] },
    };
    const answer = booking([{ ...base, entry }], place, staff);
    if (!answer.ok) throw new Error(answer.problem);
    expect(answer.act.steps.map(({ what }) => what)).toEqual(["visit", "record"]);
    expect(answer.act.steps[0]!.resource).toMatchObject({ status: "booked", start: "2026-03-17T09:15:00Z" });
    expect(answer.act.steps[0]!.resource).not.toHaveProperty("slot");
  });
  it("is booked with nobody's schedule", () => {
    const time = agreedTime("2026-03-30", "09:15", 20, around)!;
    expect(scheduleOf(time, [CLINIC], { who: "hand clinic" })).toMatchObject({ name: "hand clinic", actors: [] });
  });
});

describe("the visits of one patient", () => {
  const stitches = aVisit({ key: "plan-1:stitches", purpose: "stitches-out", words: "Stitches out" });
  const wound = aVisit({ key: "plan-1:wound", purpose: "wound-check", words: "Wound check" });
  const therapy = aVisit({
    key: "plan-1:therapy",
    purpose: "therapy",
    words: "Hand therapy",
    who: "hand therapist",
    after: "stitches-out",
  });
  it("are one visit where days and place are the same", () => {
    const { series } = seriesOf([stitches, wound], [], always);
    expect(series.map(({ parts }) => parts.map(({ words }) => words).sort())).toEqual([
      ["Stitches out", "Wound check"],
    ]);
  });
  it("that wait for another are told so until that one has its day, and then come not before it", () => {
    const alone = seriesOf([stitches, therapy], [], always).series.find(({ parts }) => parts[0] === therapy)!;
    expect(alone.first).toEqual([{ words: "Stitches out" }]);
    expect(offerFor(alone, [aTime("2026-03-17", "09:00")], around).suggested).toEqual([]);
    const booked = aBooked({ ...stitches, at: "2026-03-18T09:00" });
    const after = seriesOf([therapy], [booked], always).series[0]!;
    expect(after.first).toEqual([{ words: "Stitches out", day: "2026-03-18" }]);
    const offer = offerFor(after, [aTime("2026-03-17", "09:00"), aTime("2026-03-19", "09:00")], around);
    expect(at(offer.suggested)).toEqual(["2026-03-19T09:00"]);
  });
  it("W2 of a visit that says how long it lasts are several in a row, offered as one, and said to be as long", () => {
    const long = aVisit({ minutes: 30 });
    const row = [aTime("2026-03-17", "09:00"), aTime("2026-03-17", "09:15"), aTime("2026-03-18", "09:00")];
    const offer = one(long, row);
    expect(at(offer.free)).toEqual(["2026-03-17T09:00"]);
    expect(at(offer.suggested)).toEqual(["2026-03-17T09:00"]);
    expect(timeAndPlace(offer.suggested[0]!, [CLINIC])).toBe(
      "Tue 17 March 2026, 09:00, 30 minutes, Hand clinic, Alder Quay",
    );
    const none = one(long, row.slice(1));
    expect([none.suggested, none.obstacles.length > 0]).toEqual([[], true]);
  });
  it("W2 on a day on which one of two clinics is closed are those of the other; closed at both, the day is named", () => {
    const other = "Schedule/other";
    const both = [aTime("2026-03-17", "09:00"), aTime("2026-03-17", "10:00", { schedule: other })];
    const offered = (...closedAt: string[]) => {
      const { series } = seriesOf([aVisit({})], [], always);
      const closed = (place: string) => (closedAt.includes(place) ? "Founders' Day" : undefined);
      const offer = offerFor(series[0]!, both, { ...around, closed });
      return [at(offer.suggested), offer.obstacles, freeDays(offer.free, aVisit({}).days, closed)[0]!.words] as const;
    };
    const [here, none, day] = offered(CLINIC.reference);
    expect([here, none, day]).toEqual([["2026-03-17T10:00"], [], "Tue 17 March 2026: 2 free, inside the days"]);
    const [nowhere, why, closedDay] = offered(CLINIC.reference, other);
    expect([nowhere, why[0]]).toEqual([[], "Closed on 5 days: Founders' Day."]);
    expect(closedDay).toBe("Tue 17 March 2026: 2 free, inside the days, closed: Founders' Day");
  });
  it("without a day to count from are named, not lost", () => {
    const { series, notYet } = seriesOf([aVisit({ days: {} })], [], always);
    expect(series).toEqual([]);
    expect(notYet.map(({ because }) => because)).toEqual(["no-day-to-count-from"]);
  });
});

describe("a proposal for everyone shown", () => {
  const people = ["a", "b", "c"].map((who) =>
    aVisit({ key: `${who}:clinic`, planId: who, patient: { ...aVisit({}).patient, reference: `Patient/${who}` } }),
  );
  const propose = async (visits: readonly ListedVisit[], times: readonly ClinicTime[], stopped = false) => {
    const whole = wholeProblem(visits, [], times, [CLINIC], { today: TODAY, zone: ZONE, at: undefined });
    const told: number[] = [];
    const { assignment, cancelled } = await searchSlowly(whole.problem, {
      onProgress: ({ round }) => told.push(round),
      isCancelled: () => stopped,
      breath: async () => {},
    });
    return { ...answerOf(whole, assignment, cancelled), told };
  };
  it("gives each free time once, and says that nobody could leave fewer over", async () => {
    const { proposed, left, numbers, told } = await propose(people, [
      aTime("2026-03-17", "09:00"),
      aTime("2026-03-18", "09:00"),
      aTime("2026-03-23", "09:00"),
    ]);
    expect(at(proposed.map(({ time }) => time))).toEqual(["2026-03-17T09:00", "2026-03-18T09:00"]);
    expect(left).toHaveLength(1);
    expect([numbers.bounds.fewestLeftOver, numbers.fewestLeftOver]).toEqual([1, true]);
    expect(told[0]).toBe(1);
  });
  it("gives a time that two kinds of visits could use to one of them only", async () => {
    const phone = aVisit({
      key: "d:clinic",
      planId: "d",
      who: "by phone",
      patient: { ...aVisit({}).patient, reference: "Patient/d" },
    });
    const both = { ...CLINIC, services: ["hand clinic", "by phone"] };
    const whole = wholeProblem([people[0]!, phone], [], [aTime("2026-03-17", "09:00")], [both], {
      today: TODAY,
      zone: ZONE,
      at: undefined,
    });
    const { assignment } = await searchSlowly(whole.problem, {
      onProgress: () => {},
      isCancelled: () => false,
      breath: async () => {},
    });
    const { proposed, left } = answerOf(whole, assignment, false);
    expect([proposed.length, left.length]).toEqual([1, 1]);
  });
  it("W2 leaves a visit that needs several times in a row to be arranged by itself, and says so", async () => {
    const long = { ...people[0]!, minutes: 30 };
    const row = [aTime("2026-03-17", "09:00"), aTime("2026-03-17", "09:15")];
    const { proposed, left } = await propose([long, people[1]!], row);
    expect(proposed.map(({ arranging }) => arranging.parts[0]!.key)).toEqual(["b:clinic"]);
    expect(left.map(({ parts }) => parts[0]!.key)).toEqual(["a:clinic"]);
  });
  it("stopped early holds all the same, and says that it was stopped", async () => {
    const { proposed, numbers } = await propose(people, [aTime("2026-03-17", "09:00")], true);
    expect(numbers.cancelled).toBe(true);
    expect(proposed.length).toBeLessThanOrEqual(1);
  });
  it("leaves out whoever nothing may be booked for, and marks what is overdue", async () => {
    const died = { ...people[0]!, patient: { ...people[0]!.patient, stop: "The record says that this patient died." } };
    const late = { ...people[1]!, days: { earliest: "2026-03-02", ideal: "2026-03-02", latest: "2026-03-06" } };
    const { proposed, left } = await propose(
      [died, late],
      [aTime("2026-03-17", "09:00"), aTime("2026-03-18", "09:00")],
    );
    expect(proposed.map(({ arranging, overdue }) => [arranging.parts[0]!.key, overdue])).toEqual([["b:clinic", true]]);
    expect(left).toEqual([]);
  });
});

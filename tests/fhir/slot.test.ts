import { describe, expect, it } from "vitest";
import { bookedIn, ListReading } from "../../src/fhir/listed-visit.ts";
import { isAt, longEnough, placeInDays, timesIn, timesOf } from "../../src/fhir/slot.ts";
import { aBooked, aTime } from "../app/clinic-visits.ts";

const slot = (start: string, end: string) => ({
  resourceType: "Slot",
  id: "s1",
  schedule: { reference: "Schedule/hands" },
  status: "free",
  start,
  end,
});

describe("times of a clinic", () => {
  it("W7 are shown on the wall clock of the clinic, on both sides of a clock change", () => {
    const at = (start: string) => timesIn([slot(start, start)], "Europe/Berlin")[0];
    // The last Sunday of October 2026 is the 25th: from UTC+2 to UTC+1 (Directive 2000/84/EC).
    expect(at("2026-10-24T07:30:00Z")).toMatchObject({ at: "2026-10-24T09:30", day: "2026-10-24" });
    expect(at("2026-10-26T08:30:00Z")).toMatchObject({ at: "2026-10-26T09:30", day: "2026-10-26" });
    expect(at("2026-10-26T23:30:00Z")).toMatchObject({ at: "2026-10-27T00:30", day: "2026-10-27" });
  });

  it("W7 lie in days of the plan by the calendar of the clinic, both ends counted", () => {
    const days = { earliest: "2026-10-24", latest: "2026-10-26" };
    expect(["2026-10-23", "2026-10-24", "2026-10-26", "2026-10-27"].map((day) => placeInDays(day, days))).toEqual([
      "before",
      "within",
      "within",
      "after",
    ]);
    expect(placeInDays("2026-10-24", {})).toBe("unknown");
  });

  it("REL-47 a time without a zone is told and not offered, a visit booked so is told and not given one", () => {
    const problems: string[] = [];
    expect(timesIn([slot("2026-10-24T09:30:00", "2026-10-24T09:45:00")], "Europe/Berlin", problems)).toEqual([]);
    expect(problems.join(" ")).toContain("Slot.start");
    const visit = {
      resourceType: "Appointment",
      id: "a1",
      identifier: [{ system: "https://fingerpost.example/plan-item", value: "p:visit-film-fup-4" }],
      status: "booked",
      start: "2026-10-24T09:30:00",
      participant: [{ actor: { reference: "Patient/p1" }, status: "accepted" }],
    };
    const said: string[] = [];
    expect(bookedIn(new ListReading([visit], "2026-10-20", "Europe/Berlin"), said)).toEqual([]);
    expect(said.join(" ")).toContain("Appointment/a1");
    expect(said.join(" ")).toContain("no time zone");
  });
});

describe("W2 a visit that is longer than one time of the clinic", () => {
  const day = "2026-03-17";
  const joined = (times: Parameters<typeof longEnough>[0], minutes: number) =>
    longEnough(times, minutes)
      .filter(({ status }) => status === "free")
      .map((time) => [time.at.slice(11), time.minutes, timesOf(time).length]);
  it("takes several in a row, as few as are long enough, until the end of the last one", () => {
    const times = ["09:00", "09:15", "09:30"].map((clock) => aTime(day, clock));
    expect(joined(times, 30)).toEqual([
      ["09:00", 30, 2],
      ["09:15", 30, 2],
    ]);
    expect(joined(times, 40)).toEqual([["09:00", 45, 3]]);
    expect(joined(times, 46)).toEqual([]);
    expect(longEnough(times, 30)[0]!.end).toBe(times[1]!.end);
  });
  it("stops at a gap, at one that is taken, and at another clinic's", () => {
    const first = aTime(day, "09:00");
    expect(joined([first, aTime(day, "09:30")], 30)).toEqual([]);
    expect(joined([first, aTime(day, "09:15", { status: "busy" })], 30)).toEqual([]);
    expect(joined([first, aTime(day, "09:15", { schedule: "Schedule/other" })], 30)).toEqual([]);
    const between = [first, aTime(day, "09:00", { schedule: "Schedule/other" }), aTime(day, "09:15")];
    expect(joined(between, 30)).toEqual([["09:00", 30, 2]]);
  });
  it("is no longer than one time where nothing says how long it lasts, or one time is long enough", () => {
    const times = ["09:00", "09:15"].map((clock) => aTime(day, clock));
    expect(longEnough(times, undefined)).toBe(times);
    expect(joined(times, 15)).toEqual([
      ["09:00", 15, 1],
      ["09:15", 15, 1],
    ]);
  });
  it("is joined across the change of the clock by the true minutes, not by what the clock shows", () => {
    // Directive 2000/84/EC: at 01:00 UTC on 29 March 2026 the clock of Berlin goes from 02:00 to 03:00.
    const before = slot("2026-03-29T01:45:00+01:00", "2026-03-29T03:00:00+02:00");
    const next = { ...slot("2026-03-29T03:00:00+02:00", "2026-03-29T03:15:00+02:00"), id: "s2" };
    expect(joined(timesIn([before, next], "Europe/Berlin"), 30)).toEqual([["01:45", 30, 2]]);
  });
});

describe("a clinic's booked visits", () => {
  it("are those in which all that is booked with the clinic takes part, and no longer name that begins alike", () => {
    const visit = aBooked({});
    expect(isAt(visit, [{ reference: "Location/hands" }])).toBe(true);
    expect(isAt(visit, [{ reference: "Location/hand" }])).toBe(false);
    expect(isAt(visit, [{ reference: "Location/hands" }, { reference: "PractitionerRole/other" }])).toBe(false);
    expect(isAt(visit, [])).toBe(false);
  });
});

import { describe, expect, it } from "vitest";
import { publicHolidays } from "../../src/scheduling/holidays.ts";
import {
  type Clinic,
  closedDaysOf,
  readClinics,
  seatsOfSessions,
  seatsOfSlots,
  timeOf,
} from "../../src/scheduling/index.ts";

const HARBOUR: Clinic = {
  id: "harbour",
  name: "Harbour Street Hand Unit (invented)",
  zone: "Europe/London",
  country: "GB",
  region: "ENG",
  sessions: [
    { weekday: "mon", from: "09:00", to: "10:00", role: "hand clinic", slotMinutes: 15, capacity: 2 },
    { weekday: "sun", from: "00:00", to: "04:00", role: "hand therapist", slotMinutes: 30, capacity: 1 },
  ],
  closedDays: [{ day: "2026-03-09", why: "Training day" }],
};
const problems = (json: unknown) => {
  const read = readClinics(json);
  return read.ok ? [] : read.problems.map((p) => `${p.path}: ${p.problem}; ${p.allowed}`);
};

describe("a description of clinics", () => {
  it("is taken over when all of it is right", () => {
    expect(readClinics([HARBOUR])).toEqual({ ok: true, clinics: [HARBOUR] });
  });
  it("is refused with what is wrong, where, and what is allowed", () => {
    const session = HARBOUR.sessions[0]!;
    const bad = (change: object) => problems([{ ...HARBOUR, ...change }]);
    expect(bad({ zone: "+01:00" })).toEqual(['0.zone: has the wrong form; a time zone such as "Europe/London"']);
    expect(bad({ closedDays: [{ day: "2026-02-30", why: "x" }] })).toEqual([
      "0.closedDays.0.day: has the wrong form; a day that exists, yyyy-MM-dd",
    ]);
    expect(bad({ sessions: [{ ...session, to: "24:10" }] })[0]).toContain("0.sessions.0.to: has the wrong form");
    expect(bad({ sessions: [{ ...session, to: "09:10" }] })[0]).toContain("holds no visit of 15 minutes");
    expect(bad({ sessions: [session, { ...session, from: "09:30", to: "11:00" }] })[0]).toContain("overlaps session 0");
    expect(bad({ sessions: [session, { ...session, weekday: "tue", slotMinutes: 20 }] })[0]).toContain(
      "differs from 15",
    );
    expect(bad({ sessions: [{ ...session, capacity: 0 }] })[0]).toContain("0.sessions.0.capacity: 0 is too small");
    expect(bad({ country: undefined })[0]).toContain("0.region: stands without a country");
    expect(bad({ holidays: true })[0]).toContain('0.holidays: "holidays" is not known here');
    expect(problems([HARBOUR, HARBOUR])[0]).toContain('1.id: "harbour" is the id of an earlier clinic');
    expect(problems("clinics")).toHaveLength(1);
  });
});

describe("W7 sessions become seats", () => {
  const seats = (first: string, last: string) => seatsOfSessions([HARBOUR], closedDaysOf([HARBOUR]), first, last);
  it("on the weekday of the session, side by side, with the offset of the season", () => {
    const week = seats("2026-03-02", "2026-03-07");
    expect(week.map((s) => `${s.start} ${s.staff}`)).toEqual(
      ["09:00", "09:15", "09:30", "09:45"].flatMap((t) => [1, 2].map((n) => `2026-03-02T${t}:00Z hand clinic ${n}`)),
    );
    expect(seats("2026-03-30", "2026-03-30")[0]!.start).toBe("2026-03-30T09:00:00+01:00");
  });
  it("and none on a day on which the clinic is closed", () => {
    expect(seats("2026-03-09", "2026-03-09")).toEqual([]);
  });
  it("but not in the hour that is left out when clocks go forward, and once in the hour that comes twice", () => {
    expect(seats("2026-03-29", "2026-03-29").map((s) => s.start.slice(11))).toEqual([
      ...["00:00:00Z", "02:00:00+01:00", "02:30:00+01:00", "03:00:00+01:00", "03:30:00+01:00"],
    ]);
    const twice = seats("2026-10-25", "2026-10-25");
    const starts = twice.map((s) => timeOf(s.start));
    expect(new Set(starts).size).toBe(starts.length);
    for (const seat of twice) expect(timeOf(seat.end) - timeOf(seat.start)).toBe(30 * 60_000);
  });
});

describe("free slots of a server become seats", () => {
  const slot = (id: string, start: string, end: string, staff = "Dr Ada Example") => ({
    ...{ id, staff, clinic: "harbour", role: "hand clinic" },
    ...{ start: `2026-03-30T${start}:00+01:00`, end: `2026-03-30T${end}:00+01:00` },
  });
  it("joined until a visit fits, over no gap and never over two people", () => {
    const free = [
      slot("c", "09:30", "09:45"),
      slot("a", "09:00", "09:15"),
      slot("b", "09:15", "09:30"),
      slot("d", "10:00", "10:15"),
      slot("e", "10:30", "10:45"),
      slot("f", "10:15", "10:30", "Dr Sam Sample"),
    ];
    const found = seatsOfSlots([HARBOUR], free, () => 30);
    expect(found.map((s) => [s.slots, s.start, s.end])).toEqual([
      [["a", "b"], "2026-03-30T09:00:00+01:00", "2026-03-30T09:30:00+01:00"],
    ]);
    expect(seatsOfSlots([HARBOUR], free, () => undefined).map((s) => s.slots)).toEqual([
      ["a"],
      ["b"],
      ["c"],
      ["d"],
      ["f"],
      ["e"],
    ]);
  });
  it("on the day that the clinic's clocks show, whatever offset the server wrote", () => {
    const late = { ...slot("n", "00:00", "00:15"), start: "2026-06-01T23:30:00Z", end: "2026-06-01T23:45:00Z" };
    expect(seatsOfSlots([HARBOUR], [late], () => 15)[0]).toMatchObject({
      day: "2026-06-02",
      end: "2026-06-02T00:45:00+01:00",
    });
  });
});

describe("public holidays, beside published calendars", () => {
  const days = (country: string, region: string | undefined, year: number) =>
    [...new Set(publicHolidays(country, region, [year]).map((h) => h.day))].sort();
  it("of the United States: 5 U.S.C. 6103(a), and (b) for a Saturday (rules of the law; the dates follow from them)", () => {
    // Third Monday of January and February, last of May, first of September, second of October, fourth Thursday of November.
    const law = ["2026-01-01", "2026-01-19", "2026-02-16", "2026-05-25", "2026-06-19", "2026-07-03", "2026-09-07"];
    expect(days("US", undefined, 2026)).toEqual(
      [...law, "2026-10-12", "2026-11-11", "2026-11-26", "2026-12-25", "2026-07-04"].sort(),
    );
  });
  it("of England: bank holidays on gov.uk for 2024 to 2026 (from memory)", () => {
    const published = {
      2024: ["01-01", "03-29", "04-01", "05-06", "05-27", "08-26", "12-25", "12-26"],
      2025: ["01-01", "04-18", "04-21", "05-05", "05-26", "08-25", "12-25", "12-26"],
      // Boxing Day falls on a Saturday: Monday stands in for it.
      2026: ["01-01", "04-03", "04-06", "05-04", "05-25", "08-31", "12-25", "12-26", "12-28"],
    };
    for (const [year, list] of Object.entries(published))
      expect(days("GB", "ENG", Number(year))).toEqual(list.map((day) => `${year}-${day}`));
  });
  it("of Scotland and England differ (gov.uk, from memory): 2 January and St Andrew's Day against Easter Monday", () => {
    const [scotland, england] = [days("GB", "SCT", 2026), days("GB", "ENG", 2026)];
    expect(scotland).toEqual(expect.arrayContaining(["2026-01-02", "2026-11-30"]));
    expect(scotland).not.toContain("2026-04-06");
    expect(england).not.toContain("2026-01-02");
  });
  it("close a clinic as its own closed days do, which name their reason first", () => {
    const closed = closedDaysOf([HARBOUR], (c) => publicHolidays(c.country!, c.region, [2026])).get("harbour")!;
    expect(closed.get("2026-04-06")).toBe("Easter Monday");
    expect(closed.get("2026-03-09")).toBe("Training day");
  });
  it("of a country or region nobody knows are an error, for no holidays would look the same", () => {
    expect(() => publicHolidays("XX", undefined, [2026])).toThrow('no calendar of public holidays for "XX"');
    expect(() => publicHolidays("GB", "NOWHERE", [2026])).toThrow("Known: ");
  });
});

/** Dates and clock times beside luxon, an independent library (its own arithmetic, the same tz data of the platform). */
import { DateTime, IANAZone } from "luxon";
import { afterAll, describe, expect, it } from "vitest";
import * as calendar from "../../src/scheduling/index.ts";
import { seeded } from "../bench/seeded.ts";

const ZONES = [
  "Europe/London",
  "America/New_York",
  "Australia/Lord_Howe", // clocks change by half an hour
  "Pacific/Apia", // a day was left out in 2011
  "America/Sao_Paulo", // clocks changed at midnight until 2019
  "Asia/Kathmandu",
  "Pacific/Auckland",
  "UTC",
];
const CASES = 10_000;
const HERE = process.env.TZ;
afterAll(() => {
  if (HERE === undefined) delete process.env.TZ;
  else process.env.TZ = HERE;
});

describe("W7 calendar days, beside luxon", () => {
  it("are counted alike in 10,000 random cases with leap days and turns of the year", () => {
    const random = seeded(5);
    let leapDays = 0;
    for (let i = 0; i < CASES; i++) {
      // The computer may stand anywhere.
      if (i % 2500 === 0) process.env.TZ = ZONES[(i / 2500) * 2]!;
      const base = DateTime.utc(1996 + Math.floor(random() * 110), 1, 1);
      // Every fourth case starts around the end of February.
      const first =
        i % 4 === 0
          ? base.plus({ days: 57 + Math.floor(random() * 4) })
          : base.plus({ days: Math.floor(random() * 366) });
      const count = Math.floor(random() * 800) - 400;
      const [from, to] = [first.toISODate()!, first.plus({ days: count }).toISODate()!];
      if (from.endsWith("02-29") || to.endsWith("02-29")) leapDays++;
      expect(calendar.dayAfter(from, count)).toBe(to);
      expect(calendar.daysFrom(from, to)).toBe(count);
      expect(calendar.isoWeekOf(to)).toBe(DateTime.fromISO(to).toFormat("kkkk-'W'WW"));
      expect(calendar.WEEKDAYS.indexOf(calendar.weekdayOf(to)) + 1).toBe(DateTime.fromISO(to).weekday);
    }
    expect(leapDays).toBeGreaterThan(100);
  });
  it("between two days the Mondays to Fridays are counted one by one", () => {
    const random = seeded(6);
    for (let i = 0; i < 500; i++) {
      const from = calendar.dayAfter("2026-01-01", Math.floor(random() * 2000));
      const to = calendar.dayAfter(from, Math.floor(random() * 60));
      const between = calendar.daysBetween(from, calendar.dayAfter(to, -1));
      const working = between.filter((day) => DateTime.fromISO(day).weekday <= 5).length;
      expect(calendar.workingDayOf(to) - calendar.workingDayOf(from)).toBe(working);
    }
  });
  it("that do not exist are no days", () => {
    expect(["2028-02-29", "2026-12-31"].map(calendar.isDay)).toEqual([true, true]);
    expect(["2026-02-29", "2026-02-30", "2026-13-01", "26-01-01", "2026-01-01T10:00"].map(calendar.isDay)).toEqual([
      false,
      false,
      false,
      false,
      false,
    ]);
  });
});

describe("W7 clock times of a clinic, beside luxon", () => {
  it("are the same instants in 10,000 random cases in eight zones; of an hour that comes twice the first, of one left out none", () => {
    const random = seeded(7);
    const seen = { twice: 0, none: 0 };
    for (let i = 0; i < CASES; i++) {
      const zone = ZONES[Math.floor(random() * ZONES.length)]!;
      // Half lie in the years before 2020, in which each of these zones but two changed its clocks.
      const year = (i % 2 === 0 ? 2009 : 2020) + Math.floor(random() * 11);
      // Half of the cases lie on a day on which clocks may change, around the hours where they do.
      const changes = i % 2 === 0 ? changesOf(zone, year) : [];
      const local = DateTime.utc(year, 1, 1).plus({ minutes: Math.floor(random() * 525_600) });
      const near = changes[Math.floor(random() * changes.length)];
      const wall = near ? near.plus({ minutes: Math.floor(random() * 360) - 180 }) : local;
      const [day, clock] = [wall.toISODate()!, wall.toFormat("HH:mm")];
      const found = calendar.instantOf(day, clock, zone);
      const possible = instantsOf(wall, zone);
      if (possible.length === 0) {
        seen.none++;
        expect(found, `${day} ${clock} ${zone}`).toBeUndefined();
        continue;
      }
      if (possible.length > 1) seen.twice++;
      const first = Math.min(...possible);
      expect(calendar.timeOf(found!), `${day} ${clock} ${zone}`).toBe(first);
      expect(found).toBe(
        DateTime.fromMillis(first, { zone })
          .toISO({ suppressMilliseconds: true })!
          .replace(/\+00:00$/, "Z"),
      );
      expect(calendar.wallOf(found!, zone)).toEqual({ day, clock });
    }
    expect(seen.twice).toBeGreaterThan(100);
    expect(seen.none).toBeGreaterThan(100);
  });
  it("need the name of a place, not an offset that never changes", () => {
    expect(["Europe/London", "America/Argentina/Buenos_Aires", "UTC"].map(calendar.isZone)).toEqual([true, true, true]);
    expect(["+01:00", "Europe/Nowhere", "London", ""].map(calendar.isZone)).toEqual([false, false, false, false]);
    expect(IANAZone.isValidZone("Europe/Nowhere")).toBe(false);
  });
});

/** Every instant at which a zone shows a wall clock: by each offset that it has a day before, then and a day after (luxon's own reading of a wall clock errs in Apia). */
function instantsOf(wall: DateTime, zone: string): number[] {
  const at = wall.startOf("minute").toMillis();
  const offset = new IANAZone(zone);
  const offsets = new Set([-26, 0, 26].map((hours) => offset.offset(at + hours * 3_600_000)));
  return [...offsets]
    .map((minutes) => at - minutes * 60_000)
    .filter((t) => offsets.has(offset.offset(t)) && t + offset.offset(t) * 60_000 === at);
}

const known = new Map<string, DateTime[]>();
/** Wall clock just before each change of the clocks in a year, found by asking luxon for the offset of every hour. */
function changesOf(zone: string, year: number): DateTime[] {
  const key = `${zone} ${year}`;
  if (!known.has(key)) {
    const found: DateTime[] = [];
    const offset = new IANAZone(zone);
    const hour = 3_600_000;
    const start = DateTime.utc(year, 1, 1).toMillis();
    for (let day = 0, before = offset.offset(start); day < 366; day++) {
      const at = start + day * 24 * hour;
      const after = offset.offset(at + 24 * hour);
      if (after !== before)
        for (let t = at; t < at + 24 * hour; t += hour)
          if (offset.offset(t) !== offset.offset(t + hour))
            found.push(DateTime.fromMillis(t + hour + offset.offset(t) * 60_000, { zone: "utc" }));
      before = after;
    }
    known.set(key, found);
  }
  return known.get(key)!;
}

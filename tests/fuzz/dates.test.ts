import { afterAll, describe, expect, it } from "vitest";
import { dayAfter, sayFullDay } from "../../src/app/say-date.ts";
import { ageWords, dateWords, localOf } from "../../src/fhir/dates.ts";
import { daysBefore } from "../../src/fhir/searches.ts";
import type { Visit } from "../../src/pathway/hand/effects.ts";
import { datedVisits } from "../../src/pathway/hand/follow-up.ts";
import { pathway } from "../pathway/distal-phalanx/records.ts";

/**
 * Days numbered and named without any date library or clock: the year is counted from March, so that the leap day comes last
 * (the civil calendar as in Richards, "Calendars", Explanatory Supplement to the Astronomical Almanac, 3rd ed. 2013).
 */
function dayNumber(y: number, m: number, d: number): number {
  const year = m <= 2 ? y - 1 : y;
  const era = Math.floor(year / 400);
  const ofEra = year - era * 400;
  const ofYear = Math.floor((153 * ((m + 9) % 12) + 2) / 5) + d - 1;
  return era * 146_097 + ofEra * 365 + Math.floor(ofEra / 4) - Math.floor(ofEra / 100) + ofYear;
}
const leap = (y: number) => (y % 4 === 0 && y % 100 !== 0) || y % 400 === 0;
const LENGTHS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"];
/** 1 January 2024 was a Monday. */
const MONDAY = dayNumber(2024, 1, 1);
interface Day {
  readonly date: string;
  readonly weekday: string;
}
const two = (n: number) => String(n).padStart(2, "0");
/** Every day from 2023 to 2030, in order. */
const DAYS: Day[] = [];
for (let y = 2023; y <= 2030; y++)
  LENGTHS.forEach((length, m) => {
    for (let d = 1; d <= length + (m === 1 && leap(y) ? 1 : 0); d++)
      DAYS.push({
        date: `${y}-${two(m + 1)}-${two(d)}`,
        weekday: WEEKDAYS[(dayNumber(y, m + 1, d) - MONDAY + 7000) % 7]!,
      });
  });
const FIRST = DAYS.findIndex((day) => day.date === "2024-01-01");
const LAST = DAYS.findIndex((day) => day.date === "2028-12-31");

const ZONES = ["UTC", ...Intl.supportedValuesOf("timeZone")];
/** The distances that the rules plan visits at. */
const OFFSETS = [
  ...new Set(
    pathway.tables
      .flatMap((t) => t.rules.flatMap((r) => r.then))
      .flatMap((e) => (e.kind === "visit" ? [e.visit.earliest, e.visit.ideal, e.visit.latest] : [])),
  ),
].sort((a, b) => a - b);

const before = process.env.TZ;
afterAll(() => {
  if (before === undefined) delete process.env.TZ;
  else process.env.TZ = before;
});

describe("days in every zone of the world", () => {
  it("the reference itself: known weekdays, leap years, the number of days", () => {
    const on = (date: string) => DAYS.find((day) => day.date === date)?.weekday;
    // Weekdays of published calendars: New Year's days, a leap day, Christmas 2026.
    expect([on("2024-01-01"), on("2024-02-29"), on("2026-12-25"), on("2028-02-29"), on("2030-01-01")]).toEqual([
      "Monday",
      "Thursday",
      "Friday",
      "Tuesday",
      "Tuesday",
    ]);
    expect(on("2025-02-29")).toBeUndefined();
    expect(LAST - FIRST + 1).toBe(366 + 365 + 365 + 365 + 366);
    expect(dayNumber(2028, 12, 31) - dayNumber(2024, 1, 1)).toBe(LAST - FIRST);
    expect(OFFSETS.length).toBeGreaterThan(10);
    expect(OFFSETS.at(-1)).toBeLessThan(DAYS.length - LAST);
  });
  it("REL-41 REL-42 GATE-11 every day of 2024 to 2028 in every zone: no visit, deadline or weekday is off by one", () => {
    const wrong: string[] = [];
    let checked = 0;
    const visit = (i: number): Visit => ({
      purpose: "film",
      who: "hand clinic",
      check: "",
      earliest: OFFSETS[i % OFFSETS.length]!,
      ideal: OFFSETS[(i + 1) % OFFSETS.length]!,
      latest: OFFSETS[(i + 2) % OFFSETS.length]!,
    });
    ZONES.forEach((zone, z) => {
      process.env.TZ = zone;
      for (let i = FIRST; i <= LAST; i++) {
        const { date } = DAYS[i]!;
        // Each zone begins elsewhere in the list of distances, so that all of them meet all changes of the clock.
        const plan = visit(i + z);
        const at = (days: number) => DAYS[i + days]!.date;
        const [dated] = datedVisits([plan], date);
        const { earliest, ideal, latest } = dated!.dates!;
        if (earliest !== at(plan.earliest) || ideal !== at(plan.ideal) || latest !== at(plan.latest))
          wrong.push(`${zone} ${date} ${JSON.stringify(dated!.dates)}`);
        checked += 3;
      }
    });
    expect(wrong.slice(0, 5)).toEqual([]);
    console.log(
      `${ZONES.length} zones, ${LAST - FIRST + 1} days, ${OFFSETS.length} distances of the rules: ${checked} dates, ${wrong.length} wrong`,
    );
  }, 300_000);
  it("REL-41 SAF-19 what is said of a day, counted back from it and of an age is the same in every zone", () => {
    const wrong: string[] = [];
    ZONES.forEach((zone, z) => {
      process.env.TZ = zone;
      for (let i = FIRST + (z % 97); i <= LAST; i += 97) {
        const { date, weekday } = DAYS[i]!;
        const next = DAYS[i + 1]!.date;
        if (
          !sayFullDay(date)
            .replace(",", "")
            .startsWith(`${weekday} ${Number(date.slice(8))} `)
        )
          wrong.push(`${zone} ${sayFullDay(date)}`);
        if (!dateWords(date).startsWith(weekday.slice(0, 3))) wrong.push(`${zone} ${dateWords(date)}`);
        if (dayAfter(date, 1) !== next || daysBefore(next, 1) !== date) wrong.push(`${zone} ${date} +-1`);
        if (ageWords(date, next) !== "1 day" || ageWords(next, date) !== "not known") wrong.push(`${zone} ${date} age`);
        if (localOf(date, zone) !== date) wrong.push(`${zone} ${date} local`);
      }
    });
    expect(wrong.slice(0, 5)).toEqual([]);
  }, 300_000);
  it("are a check that can fail: days counted as 24 hours from local midnight are wrong somewhere", () => {
    const naive = (date: string, days: number) => {
      const [y, m, d] = date.split("-").map(Number) as [number, number, number];
      const at = new Date(new Date(y, m - 1, d).getTime() + days * 24 * 3_600_000);
      return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
    };
    process.env.TZ = "Europe/Berlin";
    const wrong = DAYS.slice(FIRST, LAST).filter(({ date }, i) => naive(date, 14) !== DAYS[FIRST + i + 14]!.date);
    expect(wrong.length).toBeGreaterThan(30);
  });
});

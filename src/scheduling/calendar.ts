/** Days, weeks and clock times of a clinic. A day is text (yyyy-MM-dd) and has no zone; an instant carries its offset. */
import { TZDate, tzOffset } from "@date-fns/tz";
import {
  addDays,
  differenceInCalendarDays,
  formatISO,
  getISODay,
  getISOWeek,
  getISOWeekYear,
  parseISO,
} from "date-fns";

/** yyyy-MM-dd. Such texts sort as the days do. */
export type Day = string;
/** Date and time with offset, "2026-03-30T09:15:00+01:00". */
export type Instant = string;
export const WEEKDAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"] as const;
export type Weekday = (typeof WEEKDAYS)[number];

// At noon no clock changes anywhere, so the zone of the computer does not matter.
const NOON = 12;
function dateOf(day: Day): Date {
  const [year, month, date] = day.split("-").map(Number) as [number, number, number];
  return new Date(year, month - 1, date, NOON);
}
const dayOf = (date: Date): Day => formatISO(date, { representation: "date" });

export const isDay = (text: string): boolean => /^\d{4}-\d{2}-\d{2}$/.test(text) && dayOf(dateOf(text)) === text;
/** The day that lies `days` after (before, if negative). */
export const dayAfter = (day: Day, days: number): Day => dayOf(addDays(dateOf(day), days));
/** Calendar days from one day to another; negative if `to` is earlier. */
export const daysFrom = (from: Day, to: Day): number => differenceInCalendarDays(dateOf(to), dateOf(from));
/** The later of two days; the first where there is no second. */
export const laterDay = (a: Day, b: Day | undefined): Day => (b !== undefined && b > a ? b : a);
export const weekdayOf = (day: Day): Weekday => WEEKDAYS[getISODay(dateOf(day)) - 1]!;
/** ISO 8601 week, "2026-W53"; its year is the one that holds its Thursday. */
export const isoWeekOf = (day: Day): string => {
  const date = dateOf(day);
  return `${getISOWeekYear(date)}-W${String(getISOWeek(date)).padStart(2, "0")}`;
};
/** Every day from the first to the last, both counted. */
export function daysBetween(first: Day, last: Day): Day[] {
  const count = daysFrom(first, last) + 1;
  return Array.from({ length: Math.max(0, count) }, (_, i) => dayAfter(first, i));
}
const WORKING = 5;
const IN_A_WEEK = 7;
const A_MONDAY = "1970-01-05";
/** Mondays to Fridays since a fixed Monday: the difference of two is the number of working days between them. Public holidays are counted as any day. */
export function workingDayOf(day: Day): number {
  const days = daysFrom(A_MONDAY, day);
  const weeks = Math.floor(days / IN_A_WEEK);
  return weeks * WORKING + Math.min(days - weeks * IN_A_WEEK, WORKING);
}

/** A place where clocks are set by law ("Europe/London"), as the tz database names it; a bare offset is none, for it never changes. */
export function isZone(name: string): boolean {
  if (!/^(UTC|[A-Za-z_]+\/[A-Za-z0-9_+\-/]+)$/.test(name)) return false;
  try {
    new Intl.DateTimeFormat("en", { timeZone: name });
    return true;
  } catch {
    return false;
  }
}
const CLOCK = /^([01]\d|2[0-3]):([0-5]\d)$/;
export const isClock = (text: string): boolean => CLOCK.test(text);
/** Minutes after midnight of a wall clock, "09:15" being 555. */
export const minutesOf = (clock: string): number => Number(clock.slice(0, 2)) * 60 + Number(clock.slice(3));
export const clockOf = (minutes: number): string =>
  `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;

const FURTHEST_HOURS = 26;
/**
 * The instant at which the wall clock of a zone shows a time. An hour that is left out when clocks go forward gives undefined; of an hour that
 * comes twice the first is meant.
 */
export function instantOf(day: Day, clock: string, zone: string): Instant | undefined {
  const [year, month, date] = day.split("-").map(Number) as [number, number, number];
  const wall = Date.UTC(year, month - 1, date, 0, minutesOf(clock));
  // No zone is further from UTC than this, so one of the two offsets holds then: clocks do not change twice in two days.
  const offsets = [-FURTHEST_HOURS, FURTHEST_HOURS].map((h) => tzOffset(zone, new Date(wall + h * 3_600_000)));
  const shown = offsets
    .map((offset) => wall - offset * 60_000)
    .filter((time) => time + tzOffset(zone, new Date(time)) * 60_000 === wall);
  return shown.length === 0 ? undefined : formatISO(new TZDate(Math.min(...shown), zone));
}
/** Day and wall clock that a zone shows at an instant. */
export function wallOf(instant: Instant, zone: string): { readonly day: Day; readonly clock: string } {
  const t = new TZDate(parseISO(instant).getTime(), zone);
  return { day: formatISO(t, { representation: "date" }), clock: clockOf(t.getHours() * 60 + t.getMinutes()) };
}
/** Milliseconds of an instant, to compare two. */
export const timeOf = (instant: Instant): number => parseISO(instant).getTime();
/** The same instant some minutes later, told in the offset of the zone then. */
export const minutesLater = (instant: Instant, minutes: number, zone: string): Instant =>
  formatISO(new TZDate(timeOf(instant) + minutes * 60_000, zone));

const LONG = new Intl.DateTimeFormat("en-GB", {
  weekday: "short",
  day: "numeric",
  month: "long",
  year: "numeric",
});
/** "Thu 12 March 2026". */
export const dayWords = (day: Day): string => LONG.format(dateOf(day)).replace(",", "");

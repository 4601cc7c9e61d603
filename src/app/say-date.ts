import { addDays, formatISO, parseISO } from "date-fns";

/**
 * Dates of care are calendar days, never instants: shown with weekday and month name, and never shifted by a time zone.
 * An instant (with an offset) is shown in the clinic's own time.
 */

const DAY = /^(\d{4})-(\d{2})-(\d{2})(?:T(\d{2}):(\d{2}))?/;
const INSTANT = /T.+(Z|[+-]\d{2}:\d{2})$/;
const LOCALE = "en-GB";
const long = new Intl.DateTimeFormat(LOCALE, {
  weekday: "short",
  day: "numeric",
  month: "long",
  year: "numeric",
  timeZone: "UTC",
});
const plain = new Intl.DateTimeFormat(LOCALE, { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });
const full = new Intl.DateTimeFormat(LOCALE, {
  weekday: "long",
  day: "numeric",
  month: "long",
  year: "numeric",
  timeZone: "UTC",
});
const two = (n: number) => String(n).padStart(2, "0");

function said(date: string | undefined, format: Intl.DateTimeFormat): string {
  const part = date === undefined ? null : DAY.exec(INSTANT.test(date) ? localTime(new Date(date)) : date);
  // A partial date (yyyy or yyyy-MM) is a true FHIR date: it is shown as it stands.
  if (!part) return date ?? "";
  const at = Date.UTC(Number(part[1]), Number(part[2]) - 1, Number(part[3]));
  // A day that no calendar has is not turned into another one.
  if (new Date(at).getUTCDate() !== Number(part[3])) return date ?? "";
  const day = format.format(at);
  return part[4] === undefined ? day : `${day}, ${part[4]}:${part[5]}`;
}
/** "Mon 24 November 2025", with the time when there is one. */
export const sayDay = (date: string | undefined): string => said(date, long);
/** "24 Nov 2025". */
export const sayShortDay = (date: string | undefined): string => said(date, plain);
/** "Monday 24 November 2025": for sentences that are signed. */
export const sayFullDay = (date: string | undefined): string => said(date, full);

/** A moment as local wall-clock time, yyyy-MM-ddTHH:mm: the form in which a case keeps its times. */
export const localTime = (at: Date): string =>
  `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T${two(at.getHours())}:${two(at.getMinutes())}`;
/** The calendar day so many days after (or before) a yyyy-MM-dd day. */
export const dayAfter = (date: string, days: number): string =>
  DAY.test(date) ? formatISO(addDays(parseISO(date), days), { representation: "date" }) : date;

import { differenceInDays, differenceInMonths, differenceInYears, isValid, parseISO } from "date-fns";

/** R4 date or dateTime, possibly partial: yyyy, yyyy-MM, yyyy-MM-dd, or with time and zone. */
const FHIR_DATE_TIME =
  /^\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01])(T([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d+)?)?(Z|[+-]\d{2}:\d{2})?)?)?)?$/;
export const isFhirDate = (value: string): boolean =>
  FHIR_DATE_TIME.test(value) && (value.length < 10 || isValid(parseISO(value)));

export const machineZone = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone;

const CLOCKS = new Map<string, Intl.DateTimeFormat>();
/** Kept, since making one takes longer than reading a whole entry. */
function clockIn(zone: string): Intl.DateTimeFormat {
  const made =
    CLOCKS.get(zone) ??
    new Intl.DateTimeFormat("en-CA", {
      timeZone: zone,
      hourCycle: "h23",
      year: "numeric",
      month: "2-digit",
      day: "2-digit",
      hour: "2-digit",
      minute: "2-digit",
    });
  CLOCKS.set(zone, made);
  return made;
}

/** Date-time with a zone, or an instant, as local wall-clock time of the clinic: yyyy-MM-ddTHH:mm. Dates and partial dates stay as they are. */
export function localOf(value: string, zone: string): string {
  if (!/T.*(Z|[+-]\d\d:\d\d)$/.test(value)) return value.slice(0, 16);
  const parts = Object.fromEntries(
    clockIn(zone)
      .formatToParts(new Date(value))
      .map((p) => [p.type, p.value]),
  );
  return `${parts.year!.padStart(4, "0")}-${parts.month}-${parts.day}T${parts.hour}:${parts.minute}`;
}

/** Local wall-clock time (yyyy-MM-ddTHH:mm) with the offset of the clinic's zone on that day, as FHIR wants it. Dates stay dates. */
export function zonedOf(local: string, zone: string): string {
  if (!local.includes("T")) return local;
  const asUtc = Date.parse(`${local.slice(0, 16)}:00Z`);
  // The offset at the wrong instant may be the one beyond a clock change; a second look at the corrected instant settles it.
  const offset = offsetMinutes(asUtc - offsetMinutes(asUtc, zone) * 60_000, zone);
  const sign = offset < 0 ? "-" : "+";
  const pad = (n: number) => String(Math.trunc(Math.abs(n))).padStart(2, "0");
  return `${local.slice(0, 16)}:00${sign}${pad(offset / 60)}:${pad(offset % 60)}`;
}
const offsetMinutes = (at: number, zone: string): number =>
  (Date.parse(`${localOf(new Date(at).toISOString(), zone)}:00Z`) - Math.floor(at / 60_000) * 60_000) / 60_000;

const OLDEST_YEARS = 120;
const plural = (n: number, unit: string) => `${n} ${unit}${n === 1 ? "" : "s"}`;

/** Age in words. A partial birth date gives both ages it may be; a missing, future or impossible one gives "not known". */
export function ageWords(birthDate: string | undefined, today: string): string {
  if (!birthDate || !isFhirDate(birthDate)) return "not known";
  const day = birthDate.slice(0, 10);
  if (day > today) return "not known";
  const now = parseISO(today.slice(0, 10));
  const whole = (date: string) => differenceInYears(now, parseISO(date));
  if (day.length < 10) {
    const [year, month] = day.split("-");
    const oldest = whole(`${year}-${month ?? "01"}-01`);
    const youngest = differenceInYears(
      now,
      month ? new Date(Number(year), Number(month), 0) : new Date(Number(year), 11, 31),
    );
    if (oldest > OLDEST_YEARS) return "not known";
    return oldest === youngest ? plural(oldest, "year") : `${Math.max(0, youngest)} or ${plural(oldest, "year")}`;
  }
  const born = parseISO(day);
  const years = differenceInYears(now, born);
  if (years > OLDEST_YEARS) return "not known";
  if (years >= 2) return plural(years, "year");
  const months = differenceInMonths(now, born);
  return months >= 2 ? plural(months, "month") : plural(differenceInDays(now, born), "day");
}

const MONTH = { year: "numeric", month: "long", timeZone: "UTC" } as const;
// Made once: making one costs far more than showing a date with it.
const MONTH_WORDS = new Intl.DateTimeFormat("en-GB", MONTH);
const DAY_WORDS = new Intl.DateTimeFormat("en-GB", { ...MONTH, day: "numeric", weekday: "short" });
/** "Mon 4 May 2026", "May 2026", "2026": with weekday and month name, so that no reader mixes up day and month. */
export function dateWords(value: string): string {
  if (!isFhirDate(value)) return value;
  const [day, time] = [value.slice(0, 10), value.slice(11, 16)];
  if (day.length === 4) return day;
  const at = Date.parse(`${day.length === 7 ? `${day}-01` : day}T00:00:00Z`);
  if (day.length === 7) return MONTH_WORDS.format(at);
  return DAY_WORDS.format(at).replace(",", "") + (time ? `, ${time}` : "");
}

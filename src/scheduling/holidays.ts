/**
 * Public holidays of a country or a part of it. For commands only: the calendars weigh 12 MB, so nothing that runs in a browser may import this
 * file (checked); screens are given closed days. The calendars come from Wikipedia articles (CC BY-SA 3.0).
 */
import Holidays from "date-holidays";
import { dayAfter } from "./calendar.ts";
import type { ClosedDay } from "./closed-days.ts";

/**
 * Days on which offices are closed by law, with those that stand in for one on a weekend.
 *
 * @param country ISO 3166-1 code, "GB"
 * @param region part of the country as the calendars name it, "ENG"; without it only what holds in the whole country
 * @throws Error for a country or region without a calendar: it would otherwise seem to be open on every day
 */
export function publicHolidays(country: string, region: string | undefined, years: readonly number[]): ClosedDay[] {
  const calendar = new Holidays();
  if (!calendar.getCountries()[country])
    throw new Error(`There is no calendar of public holidays for "${country}". Enter its closed days with the clinic.`);
  if (region !== undefined && !calendar.getStates(country)?.[region])
    throw new Error(
      `There is no calendar of public holidays for "${region}" in ${country}. Known: ${Object.keys(calendar.getStates(country) ?? {}).join(", ") || "none"}.`,
    );
  if (region === undefined) calendar.init(country);
  else calendar.init(country, region);
  const found = years.flatMap((year) =>
    calendar.getHolidays(year, "en").filter((holiday) => holiday.type === "public"),
  );
  // One may last several days; its date is the wall clock of that country.
  return found.flatMap(({ date, start, end, name }) => {
    const length = Math.max(1, Math.round((end.getTime() - start.getTime()) / 3_600_000 / 24));
    return Array.from({ length }, (_, i) => ({ day: dayAfter(date.slice(0, 10), i), why: name }));
  });
}

/**
 * `npm run -s closed-days -- --country GB --region ENG`: the public holidays of a place as the file that the clinic's screens read. The
 * calendars behind it weigh 12 MB, so no screen loads them.
 */

import { publicHolidays } from "../scheduling/holidays.ts";
import { readClosedDays, type SiteClosedDay } from "../scheduling/index.ts";
import { BadInput, optionsOf, readJson, run } from "./command.ts";

const HELP = `Days on which the clinics are closed, as a file for "closedDays" in config.json.

  npm run -s closed-days -- --country CODE [options] > closed-days.json

  --country CODE  ISO 3166-1, such as GB, US, AU
  --region CODE   part of the country, such as ENG; without it only what holds in the whole country
  --from YEAR     first year (default: this one)
  --to YEAR       last year (default: the next one)
  --clinic NAME   the public holidays hold for this clinic alone: name of its schedule in the record system, or reference (Schedule/3)
  --add FILE      also the days of this file, of the same form: days of your own, each for all clinics or for the one it names
  --help          print this and stop

The calendars come from Wikipedia articles (CC BY-SA 3.0): look the result over before you serve it. Exit codes:
  0  written;  2  wrong options or a file that cannot be used: one line per problem on standard error
`;
/** Years that are written at most: nobody arranges further ahead. [common practice, no source] */
const MOST_YEARS = 10;

function main(words: readonly string[]): string {
  const { values, positionals } = optionsOf(words, {
    country: { type: "string" },
    region: { type: "string" },
    from: { type: "string" },
    to: { type: "string" },
    clinic: { type: "string" },
    add: { type: "string" },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return HELP;
  if (positionals.length > 0) throw new BadInput([`options: ${positionals[0]} is not an option; allowed: see --help`]);
  const { country, region, clinic } = values;
  if (clinic?.trim() === "")
    throw new BadInput(["options: --clinic is empty; allowed: the name of a schedule, or leave it out"]);
  if (country === undefined) throw new BadInput(["options: --country is missing; allowed: a code such as GB"]);
  const thisYear = new Date().getFullYear();
  const [from, to] = [values.from ?? String(thisYear), values.to ?? String(thisYear + 1)];
  for (const year of [from, to])
    if (!/^20\d\d$/.test(year)) throw new BadInput([`options: ${year} is not a year; allowed: 2000 to 2099`]);
  const years = Array.from({ length: Number(to) - Number(from) + 1 }, (_, i) => Number(from) + i);
  if (years.length < 1 || years.length > MOST_YEARS)
    throw new BadInput([`options: ${from} to ${to}; allowed: 1 to ${MOST_YEARS} years, the first one first`]);
  const holidays = holidaysOf(country, region, years).map(({ day, why }) => ({
    day,
    why: `public holiday, ${why}`,
    ...(clinic === undefined ? {} : { clinic }),
  }));
  const all: readonly SiteClosedDay[] = [...holidays, ...(values.add === undefined ? [] : added(values.add))];
  const once = new Map(all.map((one) => [`${one.day} ${one.clinic ?? ""}`, one]));
  const closedDays = [...once].sort(([a], [b]) => a.localeCompare(b)).map(([, one]) => one);
  return `${JSON.stringify({ from: `${from}-01-01`, to: `${to}-12-31`, closedDays }, null, 2)}\n`;
}
function holidaysOf(...asked: Parameters<typeof publicHolidays>) {
  try {
    return publicHolidays(...asked);
  } catch (error) {
    throw new BadInput([`options: ${(error as Error).message}`]);
  }
}
function added(file: string): readonly SiteClosedDay[] {
  const read = readClosedDays(readJson(file, "closed days in JSON").json);
  if (read.ok) return read.value.closedDays;
  throw new BadInput(read.problems.map((p) => `${file}: ${p.path || "the file"} ${p.problem}; allowed: ${p.allowed}`));
}

run(main);

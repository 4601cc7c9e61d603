/**
 * `npm run -s closed-days -- --country GB --region ENG`: the public holidays of a place as the file that the clinic's screens read. The
 * calendars behind it weigh 12 MB, so no screen loads them.
 */

import { publicHolidays } from "../scheduling/holidays.ts";
import { readClosedDays } from "../scheduling/index.ts";
import { BadInput, optionsOf, readJson, run } from "./command.ts";

const HELP = `Days on which the clinics are closed, as a file for "closedDays" in config.json.

  npm run -s closed-days -- --country CODE [options] > closed-days.json

  --country CODE  ISO 3166-1, such as GB, US, AU
  --region CODE   part of the country, such as ENG; without it only what holds in the whole country
  --from YEAR     first year (default: this one)
  --to YEAR       last year (default: the next one)
  --add FILE      also the days of this file, of the same form: days of your own
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
    add: { type: "string" },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return HELP;
  if (positionals.length > 0) throw new BadInput([`options: ${positionals[0]} is not an option; allowed: see --help`]);
  const { country, region } = values;
  if (country === undefined) throw new BadInput(["options: --country is missing; allowed: a code such as GB"]);
  const thisYear = new Date().getFullYear();
  const [from, to] = [values.from ?? String(thisYear), values.to ?? String(thisYear + 1)];
  for (const year of [from, to])
    if (!/^20\d\d$/.test(year)) throw new BadInput([`options: ${year} is not a year; allowed: 2000 to 2099`]);
  const years = Array.from({ length: Number(to) - Number(from) + 1 }, (_, i) => Number(from) + i);
  if (years.length < 1 || years.length > MOST_YEARS)
    throw new BadInput([`options: ${from} to ${to}; allowed: 1 to ${MOST_YEARS} years, the first one first`]);
  const holidays = holidaysOf(country, region, years);
  const own = values.add === undefined ? [] : added(values.add);
  const days = new Map([...holidays.map(({ day, why }) => [day, `public holiday, ${why}`] as const), ...own]);
  const closedDays = [...days].sort(([a], [b]) => a.localeCompare(b)).map(([day, why]) => ({ day, why }));
  return `${JSON.stringify({ from: `${from}-01-01`, to: `${to}-12-31`, closedDays }, null, 2)}\n`;
}
function holidaysOf(...asked: Parameters<typeof publicHolidays>) {
  try {
    return publicHolidays(...asked);
  } catch (error) {
    throw new BadInput([`options: ${(error as Error).message}`]);
  }
}
function added(file: string) {
  const read = readClosedDays(readJson(file, "closed days in JSON").json);
  if (read.ok) return [...read.value.closed];
  throw new BadInput(read.problems.map((p) => `${file}: ${p.path || "the file"} ${p.problem}; allowed: ${p.allowed}`));
}

run(main);

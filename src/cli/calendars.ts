/**
 * `npm run -s calendars -- --out FOLDER URL`: a calendar of each clinic's booked visits, for a web server to publish and for other
 * programs to subscribe to. Same visits as the clinic's screen "Booked visits".
 */
import { mkdirSync, readdirSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type CalendarTitles, calendarOf } from "../fhir/calendar.ts";
import { plainText } from "../fhir/plain-text.ts";
import { type ClinicSchedule, isAt } from "../fhir/slot.ts";
import { dayAfter, MOST_AHEAD, readBooked } from "../smart/clinic-list.ts";
import { readSchedules } from "../smart/clinic-times.ts";
import { RESOURCE_ID } from "../smart/fhir-address.ts";
import { clinicServer, notRead, serverHelp, TOKEN, ZONE_HELP, ZONE_OPTION } from "./clinic-server.ts";
import { BadInput, optionsOf, runStreaming } from "./command.ts";

/** Twelve weeks. [common practice, no source] */
const DAYS = 84;
const MOST_DAYS = 366;
const TITLES: readonly CalendarTitles[] = ["plain", "place", "purpose"];
/** Minutes that who subscribes is asked to wait between two looks. [common practice, no source] */
const READ_AGAIN_AFTER = 15;

const HELP = `A calendar file (iCalendar, RFC 5545) of each clinic's booked visits from today on, for others to subscribe to.

  ${TOKEN}=... npm run -s calendars -- --out FOLDER [options] URL

${serverHelp("Schedule, Appointment, Patient, ServiceRequest and Condition")}

  --out FOLDER    where the files go: clinic-ID.ics, by the id of the clinic's Schedule
  --days N        how many days from today on, 1 to ${MOST_DAYS} (default ${DAYS})
  --titles NAME   what the title of a visit may tell: plain (only that there is one, default), place (also where) or
                  purpose (also what for); never whose it is
  ${ZONE_HELP}
  --help          print this and stop

Prints a line for each file: path, name of the clinic, number of visits, with tabs between; and how many visits are at none
of the clinics. A clinic without visits gets a calendar without events, so that a visit that was called off disappears. Files
are replaced as a whole or not at all.
Exit codes:
  0  every clinic's file is written
  1  a fault in the program itself
  2  wrong options, no token, a server that cannot be read, a list that is not complete (then no file is touched: a visit
     left out would look called off), or a file that cannot be written or that no clinic fills any more: one line per
     problem on standard error
`;

const FILE = /^clinic-.+\.ics$/;
const fileOf = ({ reference }: ClinicSchedule) => `clinic-${reference.slice("Schedule/".length)}.ics`;

/** Why the visits of a clinic cannot be told or stored: with an empty file they would look called off. */
const unusable = (clinics: readonly ClinicSchedule[]): string[] =>
  clinics.flatMap(({ reference, actors }) => [
    ...(RESOURCE_ID.test(reference.slice("Schedule/".length)) ? [] : ["A clinic has an id that R4 does not allow."]),
    ...(actors.length > 0 ? [] : [`${reference} names nobody who is booked with it: its visits cannot be told.`]),
  ]);

const cannot = (path: string, error: unknown) =>
  new BadInput([
    `${path}: cannot be written (${(error as NodeJS.ErrnoException).code}); allowed: a folder you may write to`,
  ]);

/** Makes the folder where it is missing, and says which calendars it holds. @throws BadInput */
function calendarsIn(folder: string): string[] {
  try {
    mkdirSync(folder, { recursive: true });
    return readdirSync(folder).filter((file) => FILE.test(file));
  } catch (error) {
    throw cannot(folder, error);
  }
}

/** Replaces a file as a whole: who reads it meanwhile gets the old one or the new one. @throws BadInput */
function replaceFile(folder: string, name: string, text: string): void {
  const half = join(folder, `.${name}.${process.pid}.part`);
  try {
    writeFileSync(half, text, { flush: true });
    renameSync(half, join(folder, name));
  } catch (error) {
    rmSync(half, { force: true });
    throw cannot(join(folder, name), error);
  }
}

async function* main(words: readonly string[], problem: (line: string) => void): AsyncGenerator<string> {
  const { values, positionals } = optionsOf(words, {
    out: { type: "string", default: "" },
    days: { type: "string", default: String(DAYS) },
    titles: { type: "string", default: "plain" },
    zone: ZONE_OPTION,
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return yield HELP;
  const { out, zone } = values;
  const days = /^\d{1,3}$/.test(values.days) ? Number(values.days) : 0;
  const titles = TITLES.find((one) => one === values.titles);
  const { base, fhir, now, day } = clinicServer(positionals, zone, [
    ...(out ? [] : ["options: --out is not set; allowed: a folder you may write to"]),
    ...(days >= 1 && days <= MOST_DAYS ? [] : [`options: --days ${values.days}; allowed: 1 to ${MOST_DAYS}`]),
    ...(titles ? [] : [`options: --titles ${values.titles}; allowed: ${TITLES.join(", ")}`]),
  ]);
  const missing: string[] = [];
  const [clinics, booked] = await Promise.all([
    readSchedules({ fhir }, missing),
    readBooked({ fhir }, day, day.today, dayAfter(day.today, days - 1), MOST_AHEAD),
  ]);
  if (!clinics.ok) throw notRead(base, clinics.problem);
  if (!booked.ok) throw notRead(base, booked.problem);
  missing.push(...booked.value.problems, ...unusable(clinics.value));
  if (missing.length > 0)
    throw new BadInput([
      ...missing.map((text) => `${base}: ${text}`),
      `${out}: no calendar is written, because visits may be missing; the files that were there stay as they are`,
    ]);

  const before = calendarsIn(out);
  const { visits } = booked.value;
  const written: string[] = [];
  for (const clinic of clinics.value) {
    const own = visits.filter((visit) => isAt(visit, clinic.actors));
    const { name } = clinic;
    const text = calendarOf(own, { name, titles: titles!, stamp: now, readAgainAfter: READ_AGAIN_AFTER });
    try {
      replaceFile(out, fileOf(clinic), text);
      written.push(`${join(out, fileOf(clinic))}\t${plainText(name)}\t${own.length}\n`);
    } catch (error) {
      if (!(error instanceof BadInput)) throw error;
      for (const line of error.problems) problem(line);
    }
  }
  const nowhere = visits.filter((visit) => !clinics.value.some(({ actors }) => isAt(visit, actors)));
  if (nowhere.length > 0) written.push(`-\tat none of these clinics, in no file\t${nowhere.length}\n`);
  const filled = clinics.value.map(fileOf);
  for (const old of before.filter((file) => !filled.includes(file)))
    problem(`${join(out, old)}: no clinic in use fills this file any more: tell who subscribed to it, and remove it`);
  // Only now: a reader of standard output that goes away ends the command.
  yield* written;
}

runStreaming(main);

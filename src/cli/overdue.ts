/**
 * `npm run -s overdue -- URL`: the nightly check that no visit is forgotten, without a browser. Same function as the clinic's screen
 * "Nothing lost".
 */
import { formatISO } from "date-fns";
import Papa from "papaparse";
import { FORMULA } from "../coding/export.ts";
import { LOST_COLUMNS, lostBundle, lostRows } from "../fhir/lost-list.ts";
import { readLost } from "../smart/nothing-lost.ts";
import { clinicServer, notRead, serverHelp, TOKEN, ZONE_HELP, ZONE_OPTION } from "./clinic-server.ts";
import { optionsOf, runStreaming } from "./command.ts";

const HELP = `Visits that would be forgotten: due without a time, missed without a new one, booked for a plan or a patient that changed.

  ${TOKEN}=... npm run -s overdue -- [options] URL

${serverHelp("Patient, ServiceRequest, Appointment and Condition")}

  --format NAME   csv (default, RFC 4180) or bundle (FHIR R4 collection: a List that says why, the visits, their orders)
  ${ZONE_HELP}
  --help          print this and stop

A cell of the CSV that a spreadsheet would take as a formula begins with an apostrophe. Exit codes:
  0  the list is complete and empty: nothing is overdue, missed or to be decided about
  1  a fault in the program itself
  2  wrong options, no token, a server that cannot be read, or a list that is not complete: one line per problem on
     standard error; what could be read is written all the same
  3  the list is complete and has entries: somebody has to act
`;
const FORMATS = ["csv", "bundle"];
const CRLF = "\r\n";

async function* main(words: readonly string[], problem: (line: string) => void): AsyncGenerator<string> {
  const { values, positionals } = optionsOf(words, {
    format: { type: "string", default: "csv" },
    zone: ZONE_OPTION,
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return yield HELP;
  const { format, zone } = values;
  const { base, fhir, now, day } = clinicServer(
    positionals,
    zone,
    FORMATS.includes(format) ? [] : [`options: --format ${format}; allowed: ${FORMATS.join(", ")}`],
  );
  const answer = await readLost({ fhir }, day);
  if (!answer.ok) throw notRead(base, answer.problem);
  const { value: lost } = answer;
  const { today } = day;
  for (const text of lost.problems) problem(`${base}: ${text}`);
  if (format === "bundle") yield `${JSON.stringify(lostBundle(lost, today, { base, at: formatISO(now) }), null, 2)}\n`;
  else {
    const rows = lostRows(lost, today).map((row) => LOST_COLUMNS.map((column) => row[column]));
    yield Papa.unparse([[...LOST_COLUMNS], ...rows], { newline: CRLF, escapeFormulae: FORMULA }) + CRLF;
  }
  if (lost.problems.length === 0 && lost.due.length + lost.missed.length + lost.flagged.length > 0)
    process.exitCode = 3;
}

runStreaming(main);

/**
 * `npm run -s overdue -- URL`: the nightly check that no visit is forgotten, without a browser. Same function as the clinic's screen
 * "Nothing lost".
 */
import { formatISO } from "date-fns";
import Papa from "papaparse";
import { FORMULA } from "../coding/export.ts";
import { localOf, machineZone } from "../fhir/dates.ts";
import { LOST_COLUMNS, lostBundle, lostRows } from "../fhir/lost-list.ts";
import { fhirBase } from "../smart/fhir-address.ts";
import { readLost } from "../smart/nothing-lost.ts";
import { fhirTransport } from "../smart/transport.ts";
import { BadInput, optionsOf, runStreaming } from "./command.ts";

const TOKEN = "FINGERPOST_TOKEN";
const HELP = `Visits that would be forgotten: due without a time, missed without a new one, booked for a plan or a patient that changed.

  ${TOKEN}=... npm run -s overdue -- [options] URL

URL is the base of a FHIR R4 server (https, or http on this computer). The access token is read from the environment
variable ${TOKEN}, never from the command line, where other programs could read it. It needs user/ or system/ scopes to
read and search Patient, ServiceRequest, Appointment and Condition; nothing is written.

  --format NAME   csv (default, RFC 4180) or bundle (FHIR R4 collection: a List that says why, the visits, their orders)
  --zone NAME     IANA time zone of the clinic (default: that of this computer)
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

const zoneIsKnown = (zone: string): boolean => {
  try {
    return Boolean(Intl.DateTimeFormat("en", { timeZone: zone }));
  } catch {
    return false;
  }
};

async function* main(words: readonly string[], problem: (line: string) => void): AsyncGenerator<string> {
  const { values, positionals } = optionsOf(words, {
    format: { type: "string", default: "csv" },
    zone: { type: "string", default: machineZone() },
    help: { type: "boolean", short: "h" },
  });
  if (values.help) return yield HELP;
  const { format, zone } = values;
  const [url, ...more] = positionals;
  const base = url === undefined ? undefined : fhirBase(url);
  const token = process.env[TOKEN]?.trim();
  const wrong = [
    ...(url === undefined || more.length > 0
      ? [`options: ${positionals.length} addresses are named; allowed: one URL, the base of a FHIR R4 server`]
      : base === undefined
        ? [
            `options: ${url} cannot be used; allowed: https://HOST/PATH, or http on this computer, without user or query`,
          ]
        : []),
    ...(FORMATS.includes(format) ? [] : [`options: --format ${format}; allowed: ${FORMATS.join(", ")}`]),
    ...(zoneIsKnown(zone) ? [] : [`options: --zone ${zone}; allowed: an IANA name such as Europe/London`]),
    // RFC 6750 2.1: the characters of a bearer token
    ...(token && /^[A-Za-z0-9\-._~+/]+=*$/.test(token)
      ? []
      : [
          `environment: ${TOKEN} ${token ? "is no bearer token" : "is not set"}; allowed: an access token of the server`,
        ]),
  ];
  if (wrong.length > 0 || !base || !token) throw new BadInput(wrong);

  const now = new Date();
  const today = localOf(now.toISOString(), zone).slice(0, 10);
  const fhir = fhirTransport({
    base,
    // There is no other token to try: the second refusal of the same one is the answer.
    token: { current: async () => token, renewAfter: async () => true, state: () => ({ kind: "open" }) },
  });
  const answer = await readLost({ fhir }, { today, zone });
  if (!answer.ok) {
    const { title, what, status, serverSaid } = answer.problem;
    // A command cannot open anything from a chart: what the screens advise is not said.
    const why = status === 401 ? [`The token was refused: get a new one and set ${TOKEN}.`] : [title, what];
    throw new BadInput([`${base}: ${[...why, ...(serverSaid ? [serverSaid] : [])].join(" ")}`]);
  }
  const { value: lost } = answer;
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

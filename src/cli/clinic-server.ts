/** The FHIR server that a command over the clinics asks: its address, the token, the clinic's day, and the words for what goes wrong. */
import { localOf, machineZone } from "../fhir/dates.ts";
import type { ClinicDay } from "../smart/clinic-list.ts";
import { fhirBase } from "../smart/fhir-address.ts";
import { type FhirProblem, fhirTransport, type Transport } from "../smart/transport.ts";
import { BadInput } from "./command.ts";

export const TOKEN = "FINGERPOST_TOKEN";
/** For the help of a command. @param types what it reads, in words */
export const serverHelp = (types: string) => `URL is the base of a FHIR R4 server (https, or http on this computer).
The access token is read from the environment variable ${TOKEN}, never from the command line, where other programs could
read it. It needs user/ or system/ scopes to read and search ${types}. Nothing is written to the server.`;
/** Of a command that asks a clinic's server. */
export const ZONE_OPTION = { type: "string", default: machineZone() } as const;
export const ZONE_HELP = "--zone NAME     IANA time zone of the clinic (default: that of this computer)";

const zoneIsKnown = (zone: string): boolean => {
  try {
    return Boolean(Intl.DateTimeFormat("en", { timeZone: zone }));
  } catch {
    return false;
  }
};

export interface ClinicServer {
  readonly base: string;
  readonly fhir: Transport;
  readonly now: Date;
  readonly day: ClinicDay;
}

/**
 * The server of a command line with one URL, asked with the token of the environment.
 *
 * @param zone IANA time zone of the clinic
 * @param ownProblems what is wrong with the command's own options
 * @throws BadInput with everything that is wrong at once
 */
export function clinicServer(
  positionals: readonly string[],
  zone: string,
  ownProblems: readonly string[],
): ClinicServer {
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
    ...ownProblems,
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
  const fhir = fhirTransport({
    base,
    // There is no other token to try: the second refusal of the same one is the answer.
    token: { current: async () => token, renewAfter: async () => true, state: () => ({ kind: "open" }) },
  });
  return { base, fhir, now, day: { today: localOf(now.toISOString(), zone).slice(0, 10), zone } };
}

/** What to end a command with that could not read. */
export function notRead(base: string, { title, what, status, serverSaid }: FhirProblem): BadInput {
  // A command cannot open anything from a chart: what the screens advise is not said.
  const why = status === 401 ? [`The token was refused: get a new one and set ${TOKEN}.`] : [title, what];
  return new BadInput([`${base}: ${[...why, ...(serverSaid ? [serverSaid] : [])].join(" ")}`]);
}

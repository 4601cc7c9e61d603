/** What the clinic has configured: which record systems may launch the plugin, and as which client. */
import * as z from "zod/mini";
import { fhirBase } from "./fhir-address.ts";
import { failed, type Problem } from "./problem.ts";

const text = z.string("must be a text").check(z.trim(), z.minLength(1, "must not be empty"));

const issuer = z.strictObject(
  {
    /** FHIR base of the record system. */
    iss: text.check(
      z.refine(
        (value) => fhirBase(value) !== undefined,
        'must be a full https address without user name, "?" or "#" (http only for this computer)',
      ),
    ),
    /** The client id under which the plugin is registered there. */
    clientId: text,
    /** The client id of the clinic's own launch, which works on many patients; the one above unless given. */
    clinicClientId: z.optional(text),
    /** The client id of the coders' launch, likewise. */
    coderClientId: z.optional(text),
    /** Name of the record system, shown to the clinician. */
    label: text,
    /** Scope syntax; "auto" goes by what the server says of itself. */
    scopes: z.optional(z.enum(["auto", "v1", "v2"], 'must be "auto", "v1" or "v2"')),
    /** Ask for a refresh token that ends with the clinician's own sign-in. Default true. */
    onlineAccess: z.optional(z.boolean("must be true or false")),
    /** Send a nonce and demand it back in the id_token. Default true; false for servers that do not return it. */
    nonce: z.optional(z.boolean("must be true or false")),
  },
  "must be an object with iss, clientId and label",
);

const ownFile = text.check(
  z.refine((value) => !/^[a-z+.-]*:|^[/\\]{2}|\\/i.test(value), "must be a relative address on the plugin's own host"),
);

const pluginConfig = z.strictObject(
  {
    issuers: z.array(issuer, "must be a list").check(z.minLength(1, "must name at least one record system")),
    /** Origins whose pages may show the plugin in a frame. */
    frameAncestors: z._default(
      z.array(
        text.check(
          z.refine(
            (value) => URL.canParse(value) && new URL(value).origin === value,
            'must be an origin such as "https://ehr.example"',
          ),
        ),
        "must be a list",
      ),
      [],
    ),
    /** So long without input covers the page, in minutes. Default 10. */
    coverAfterMinutes: z.optional(
      z
        .number("must be a number")
        .check(z.refine((minutes) => minutes >= 3 && minutes <= 60, "must be from 3 to 60 (minutes)")),
    ),
    /** What the title of a visit in a calendar file may say: that there is one, also where, or also what for. Default "plain". */
    calendarTitles: z.optional(z.enum(["plain", "place", "purpose"], "must be plain, place or purpose")),
    /** Where the site policy lies, relative to the plugin's page. */
    sitePolicy: z.optional(ownFile),
    /** Where the days lie on which the clinics are closed. */
    closedDays: z.optional(ownFile),
  },
  "must be an object",
);

export type Issuer = z.output<typeof issuer>;
export type PluginConfig = z.output<typeof pluginConfig>;
export type ConfigAnswer =
  | { readonly ok: true; readonly config: PluginConfig }
  | { readonly ok: false; readonly problem: Problem<"config"> };

const NEXT = "Ask the person who installed Fingerpost to correct config.json. Reload this page afterwards.";

/** `issuers[0].iss: must be …`, one line per mistake. */
function mistakes(error: z.core.$ZodError): string {
  return error.issues
    .map((issue) => {
      const at = issue.path.map((step) => (typeof step === "number" ? `[${step}]` : `.${String(step)}`)).join("");
      const says =
        issue.code === "unrecognized_keys"
          ? `has the unknown entry "${issue.keys.join('", "')}"`
          : issue.message === "Invalid input"
            ? "is missing or of the wrong kind"
            : issue.message;
      return `config.json${at}: ${says}`;
    })
    .join("\n");
}

/** Checks a parsed config.json; two entries for one FHIR base are refused, since neither could win. */
export function readConfig(json: unknown): ConfigAnswer {
  const answer = pluginConfig.safeParse(json);
  if (!answer.success) {
    return failed("config", "The plugin is not set up correctly.", mistakes(answer.error), NEXT);
  }
  const bases = answer.data.issuers.map((one) => fhirBase(one.iss));
  const twice = bases.find((base, at) => bases.indexOf(base) !== at);
  if (twice) {
    return failed("config", "The plugin is not set up correctly.", `config.json.issuers: ${twice} stands twice.`, NEXT);
  }
  return { ok: true, config: answer.data };
}

/** Fetches and checks `config.json` beside the page. */
export async function loadConfig(): Promise<ConfigAnswer> {
  let json: unknown;
  try {
    const response = await fetch(new URL("config.json", location.href), { signal: AbortSignal.timeout(10_000) });
    if (!response.ok) throw new Error(String(response.status));
    json = await response.json();
  } catch {
    return failed(
      "config",
      "The plugin's settings could not be read.",
      "No record system was asked for anything.",
      "Check the connection and reload this page. If that does not help, config.json is missing or broken: tell the person who installed Fingerpost.",
    );
  }
  return readConfig(json);
}

/** The configured record system with exactly this FHIR base, or none. */
export function issuerFor(config: PluginConfig, base: string): Issuer | undefined {
  const wanted = fhirBase(base);
  return wanted === undefined ? undefined : config.issuers.find((one) => fhirBase(one.iss) === wanted);
}

/** False when the page is shown in the frame of a page that the clinic has not listed, as far as the browser tells. */
export function inKnownFrame(config: PluginConfig): boolean {
  if (typeof window === "undefined" || window.top === window) return true;
  const around = window.location.ancestorOrigins;
  return !around || [...around].every((origin) => origin === location.origin || config.frameAncestors.includes(origin));
}

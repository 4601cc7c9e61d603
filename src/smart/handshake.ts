/**
 * The ground under fhirclient's handshake: the page it believes to be on, the tab's storage, the server's own
 * description. fhirclient gets an address made by us, never the one in the address bar, so no URL parameter can pick
 * the server, the client or the patient.
 */

import { fetchWellKnownJson } from "fhirclient/lib/smart.js";
import type { fhirclient } from "fhirclient/lib/types";
import * as z from "zod/mini";
import { isPrivateConnection } from "./fhir-address.ts";

/** fhirclient's name for "which launch this tab is in". */
export const CURRENT_LAUNCH = "SMART_KEY";
const OUR_RECORD = "fingerpost.launch";

/** False where the browser blocks storage, as some do for pages in another site's frame. */
export function storageWorks(): boolean {
  try {
    sessionStorage.setItem("fingerpost.probe", "1");
    sessionStorage.removeItem("fingerpost.probe");
    return true;
  } catch {
    return false;
  }
}

/** JSON values in the tab's session storage. Unreadable ones count as absent. */
export const tabStorage = {
  get(key: string): unknown {
    try {
      return JSON.parse(sessionStorage.getItem(key) ?? "null");
    } catch {
      return null;
    }
  },
  set(key: string, value: unknown): void {
    sessionStorage.setItem(key, JSON.stringify(value));
  },
  unset(key: string): void {
    sessionStorage.removeItem(key);
  },
};

/** What we remember of a launch beside fhirclient's own state. No token and no patient data in it. */
const launchRecord = z.object({
  state: z.string(),
  launchId: z.string(),
  /** A launch of clinic staff, on no patient in particular. */
  clinic: z.optional(z.literal(true)),
  /** A launch of a coder, likewise. */
  coder: z.optional(z.literal(true)),
  nonce: z.optional(z.string()),
  /** Milliseconds since 1970. */
  startedAt: z.number(),
  /** When the id_token arrived, milliseconds since 1970. */
  signedInAt: z.optional(z.number()),
});
export type LaunchRecord = z.output<typeof launchRecord>;

export function rememberLaunch(record: LaunchRecord): void {
  tabStorage.set(OUR_RECORD, record);
}

/** The launch this tab is in, when its record is there and whole. */
export function rememberedLaunch(): LaunchRecord | undefined {
  const answer = launchRecord.safeParse(tabStorage.get(OUR_RECORD));
  return answer.success ? answer.data : undefined;
}

/** Removes everything a launch left in the tab, tokens included; a newer launch in the same tab stays. */
export function forgetLaunch(state: string | undefined): void {
  if (state !== undefined) tabStorage.unset(state);
  const current = tabStorage.get(CURRENT_LAUNCH);
  if (state !== undefined && typeof current === "string" && current !== state) return;
  if (typeof current === "string") tabStorage.unset(current);
  tabStorage.unset(CURRENT_LAUNCH);
  tabStorage.unset(OUR_RECORD);
}

/** The browser as fhirclient sees it, standing on `address`. */
export function browserAt(address: URL, security?: object): fhirclient.Adapter {
  const storage = {
    get: async (key: string) => tabStorage.get(key),
    set: async (key: string, value: unknown) => {
      tabStorage.set(key, value);
      return value;
    },
    unset: async (key: string) => {
      tabStorage.unset(key);
      return true;
    },
  };
  const environment = {
    // We clean the address bar ourselves, before anything else happens.
    options: { replaceBrowserHistory: false, fullSessionStorageSupport: true },
    security,
    getUrl: () => address,
    getStorage: () => storage,
    relative: (path: string) => new URL(path, address).href,
    redirect: () => {
      throw new Error("The handshake may not leave the page by itself.");
    },
    // fhirclient guesses a missing expiry from inside the access token, which only the server may read: "null" stops it.
    atob: () => "null",
  };
  return environment as unknown as fhirclient.Adapter;
}

const endpoint = z.string().check(z.refine((text) => URL.canParse(text) && isPrivateConnection(new URL(text))));

/** The parts of `.well-known/smart-configuration` that we rely on. */
const smartConfiguration = z.object({
  authorization_endpoint: endpoint,
  token_endpoint: endpoint,
  issuer: z.optional(z.string()),
  jwks_uri: z.optional(endpoint),
  capabilities: z.catch(z.array(z.string()), []),
  code_challenge_methods_supported: z.catch(z.array(z.string()), []),
});
export type SmartConfiguration = z.output<typeof smartConfiguration>;

/** Not asked for: fhirclient's detour over the whole CapabilityStatement, which never names PKCE and so cannot help. */
export const NO_DETOUR: RequestInit = { signal: AbortSignal.abort() };

/** For every discovery request: 10 s, and the HTTP cache may answer. */
export const discoveryRequest = (): RequestInit => ({ signal: AbortSignal.timeout(10_000), credentials: "omit" });

/** Asks the server for its SMART endpoints; undefined when there is no usable answer. */
export async function discover(base: string): Promise<SmartConfiguration | undefined> {
  try {
    const answer = smartConfiguration.safeParse(await fetchWellKnownJson(base, discoveryRequest()));
    return answer.success ? answer.data : undefined;
  } catch {
    return undefined;
  }
}

/** From the EHR's launch link, or from a choice of record system, to the address where the clinician signs in. */
import { authorize } from "fhirclient/lib/smart.js";
import { base64url } from "jose";
import { clinicScopes } from "./clinic-scopes.ts";
import { coderScopes } from "./coder-scopes.ts";
import type { Issuer, PluginConfig } from "./config.ts";
import { issuerFor } from "./config.ts";
import { fhirBase, hostIn } from "./fhir-address.ts";
import {
  browserAt,
  discover,
  discoveryRequest,
  forgetLaunch,
  NO_DETOUR,
  rememberLaunch,
  storageWorks,
} from "./handshake.ts";
import { AGAIN_FROM_CHART, failed, type LaunchProblem } from "./problem.ts";
import { scopesFor } from "./scopes.ts";

export type LaunchStart =
  | { readonly ok: true; readonly goTo: string }
  | { readonly ok: false; readonly problem: LaunchProblem };

/** With these a link could replace the server, the client or the patient. */
const FORBIDDEN = ["fhirServiceUrl", "patientId", "clientId", "encounterId"];

const NOTHING_SENT = "No record system was asked for anything, and nothing was read.";

function notHere(): LaunchStart | undefined {
  if (!globalThis.isSecureContext) {
    return failed(
      "insecure",
      "This connection is not private.",
      `Fingerpost signs in only over https. ${NOTHING_SENT}`,
      "Ask the person who installed Fingerpost to serve it over https.",
    );
  }
  if (!storageWorks()) {
    return failed(
      "storage-blocked",
      "The browser lets this page remember nothing.",
      "It is shown inside another page, where the browser blocks storage. Signing in cannot work here.",
      "Open Fingerpost in its own window.",
    );
  }
  return undefined;
}

/**
 * EHR launch: `launch.html?iss=…&launch=…`. The server is one of the configured ones or none. Clinic staff are launched at
 * `launch.html?for=clinic`, coders at `?for=coder` (the record system adds iss and launch): they work on many patients, under scopes of their own.
 * @returns the address to go to with `location.replace`, or what is wrong.
 */
export async function beginLaunch(url: URL, config: PluginConfig): Promise<LaunchStart> {
  const asked = url.searchParams;
  const smuggled = FORBIDDEN.filter((name) => asked.has(name));
  if (smuggled.length > 0) {
    return failed(
      "bad-launch-link",
      "This launch link is not accepted.",
      `It carries ${smuggled.join(", ")}, which a launch may not choose. ${NOTHING_SENT}`,
    );
  }
  const [iss, ...moreIss] = asked.getAll("iss");
  const [launch, ...moreLaunch] = asked.getAll("launch");
  if (!iss || !launch || moreIss.length > 0 || moreLaunch.length > 0) {
    return failed(
      "bad-launch-link",
      "This launch link is not complete.",
      `A launch names one record system (iss) and one launch (launch). ${NOTHING_SENT}`,
    );
  }
  const issuer = issuerFor(config, iss);
  if (!issuer) {
    return failed(
      "unknown-issuer",
      "This record system is not known here.",
      `The launch names ${hostIn(iss)}. ${NOTHING_SENT}`,
      "Open Fingerpost from your own record system. If it is the right one, its address has to be added to config.json.",
      { host: hostIn(iss) },
    );
  }
  if (asked.getAll("for").length > 1 || (asked.has("for") && !staffIn(url))) {
    return failed(
      "bad-launch-link",
      "This launch link is not accepted.",
      `It is for a role that Fingerpost does not know. ${NOTHING_SENT}`,
    );
  }
  return notHere() ?? signIn(url, issuer, launch);
}

/** Who gets no patient but scopes over those of their lists. */
export type Staff = "clinic" | "coder";
const SCOPES_OF = { clinic: clinicScopes, coder: coderScopes } as const;
/** For whom of the staff a link is (`?for=clinic`, `?for=coder`); undefined: for a clinician with one patient, or for nobody known. */
export function staffIn(url: URL): Staff | undefined {
  const named = url.searchParams.get("for");
  return named === "clinic" || named === "coder" ? named : undefined;
}

/** Standalone launch at one configured record system; its sign-in page lets the clinician choose the patient. */
export async function beginStandaloneLaunch(url: URL, issuer: Issuer): Promise<LaunchStart> {
  return notHere() ?? signIn(url, issuer, undefined);
}

/** The S256 challenge of a PKCE verifier (RFC 7636, section 4.2). */
export async function challengeOf(codeVerifier: string): Promise<string> {
  const digest = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(codeVerifier));
  return base64url.encode(new Uint8Array(digest));
}

/** A fresh verifier of 43 characters and its challenge; fhirclient's own pair needs a base64 library of 8 kB. */
async function generatePKCEChallenge() {
  const codeVerifier = base64url.encode(crypto.getRandomValues(new Uint8Array(32)));
  return { codeVerifier, codeChallenge: await challengeOf(codeVerifier) };
}

async function signIn(url: URL, issuer: Issuer, launch: string | undefined): Promise<LaunchStart> {
  const base = fhirBase(issuer.iss) ?? issuer.iss;
  const server = await discover(base);
  if (!server) {
    return failed(
      "server-unreachable",
      `${issuer.label} does not answer.`,
      `Its sign-in description at ${hostIn(base)} could not be read. Nothing was sent to it, and nothing was read.`,
      "Check the connection and try again. If it stays so, tell the person who looks after the record system.",
      { host: hostIn(base) },
    );
  }
  if (!server.code_challenge_methods_supported.includes("S256")) {
    return failed(
      "no-pkce",
      `${issuer.label} does not offer a safe sign-in.`,
      "It does not state PKCE with S256, without which a stolen sign-in could be used by others. You were not signed in.",
      "Tell the person who looks after the record system.",
    );
  }
  const can = (name: string) => server.capabilities.includes(name);
  const syntax = issuer.scopes === "v1" || issuer.scopes === "v2" ? issuer.scopes : undefined;
  const state = crypto.randomUUID();
  const nonce = issuer.nonce === false ? undefined : crypto.randomUUID();
  const staff = staffIn(url);
  const ownClient = staff && { clinic: issuer.clinicClientId, coder: issuer.coderClientId }[staff];
  const page = new URL("./", url);
  const address = new URL(page);
  address.searchParams.set("iss", base);
  if (launch) address.searchParams.set("launch", launch);
  try {
    // The array form is the only one in which the library compares the issuer at all.
    const answer = await authorize(browserAt(address, { generatePKCEChallenge }), [
      {
        issMatch: base,
        clientId: ownClient ?? issuer.clientId,
        redirectUri: page.href,
        scope: (staff ? SCOPES_OF[staff] : scopesFor)({
          launch: launch ? "ehr" : "standalone",
          syntax: syntax ?? (can("permission-v1") && !can("permission-v2") ? "v1" : "v2"),
          onlineAccess: issuer.onlineAccess !== false,
          openId: true,
        }),
        stateKey: state,
        pkceMode: "required",
        noRedirect: true,
        completeInTarget: true,
        wellKnownRequestOptions: discoveryRequest(),
        conformanceRequestOptions: NO_DETOUR,
      },
    ]);
    const goTo = new URL(String(answer));
    const expected = new URL(server.authorization_endpoint);
    if (goTo.origin !== expected.origin || goTo.pathname !== expected.pathname) throw new Error("unexpected address");
    rememberLaunch({
      state,
      launchId: crypto.randomUUID(),
      startedAt: Date.now(),
      ...(staff ? { [staff]: true } : {}),
      ...(nonce ? { nonce } : {}),
    });
    return { ok: true, goTo: nonce ? `${goTo.href}&nonce=${nonce}` : goTo.href };
  } catch {
    forgetLaunch(state);
    return failed(
      "server-unreachable",
      `Signing in to ${issuer.label} could not be started.`,
      "You were not signed in, and nothing was read.",
      AGAIN_FROM_CHART,
      { host: hostIn(base) },
    );
  }
}

/**
 * The authorization endpoint (SMART App Launch 2.2, 2.1 "Obtain authorization code"; RFC 6749 4.1; RFC 7636).
 * An EHR launch is answered at once; a standalone launch shows a page to choose who signs in and which patient.
 */
import { redirect, type WebAnswer } from "../web.ts";
import type { AuthorizationServer } from "./authorization-server.ts";
import type { Client } from "./clients.ts";
import type { Asked, Context } from "./grants.ts";
import { secret } from "./grants.ts";
import { grantScopes, readScope } from "./scopes.ts";

export interface AuthorizePages {
  /** A page for a fault that must not be sent to an unchecked address. */
  fault: (message: string) => WebAnswer;
  /** The page that asks who signs in and, if wanted, for which patient. */
  choice: (asked: {
    choice: string;
    client: Client;
    scopes: readonly string[];
    wantsPatient: boolean;
  }) => Promise<WebAnswer>;
}

const CHALLENGE = /^[A-Za-z0-9_-]{43}$/; // base64url of a SHA-256
const SINGLE = [
  "response_type",
  "client_id",
  "redirect_uri",
  "scope",
  "state",
  "aud",
  "launch",
  "nonce",
  "code_challenge",
  "code_challenge_method",
];

/** @param params of the query (GET) or the form (POST) */
export async function authorize(
  server: AuthorizationServer,
  params: URLSearchParams,
  pages: AuthorizePages,
): Promise<WebAnswer> {
  const client = server.clients.find(params.get("client_id") ?? undefined);
  const redirectUri = params.get("redirect_uri") ?? "";
  // until both are known to be right, nothing is sent anywhere (RFC 6749 4.1.2.1)
  if (!client) return pages.fault("This app is not registered here (client_id).");
  if (!client.redirectUris.includes(redirectUri))
    return pages.fault("The return address of the app is not the registered one (redirect_uri).");
  const state = params.get("state");
  const seen = {
    clientId: client.clientId,
    redirectUri,
    responseType: params.get("response_type"),
    scope: params.get("scope"),
    aud: params.get("aud"),
    hasLaunch: params.has("launch"),
    stateLength: state?.length ?? 0,
    challengeMethod: params.get("code_challenge_method"),
    challengeLength: params.get("code_challenge")?.length ?? 0,
    hasNonce: params.has("nonce"),
  };
  const refuse = (error: string, description: string): WebAnswer => {
    server.record({ step: "authorize", outcome: error, seen });
    return backToApp(server, redirectUri, { error, error_description: description, ...(state ? { state } : {}) });
  };
  const repeated = SINGLE.find((name) => params.getAll(name).length > 1);
  if (repeated) return refuse("invalid_request", `${repeated} may be given once.`);
  if (params.get("response_type") !== "code") return refuse("unsupported_response_type", "response_type must be code.");
  if (!state) return refuse("invalid_request", "state is missing.");
  if (params.get("aud")?.replace(/\/$/, "") !== server.addresses.fhirBase)
    return refuse("invalid_request", "aud must be the FHIR base of this server.");
  if (params.get("code_challenge_method") !== "S256")
    return refuse("invalid_request", "PKCE with code_challenge_method S256 is required.");
  const challenge = params.get("code_challenge") ?? "";
  if (!CHALLENGE.test(challenge))
    return refuse("invalid_request", "code_challenge is not the base64url form of a SHA-256.");
  const scopes = (params.get("scope") ?? "").split(" ").filter(Boolean);
  if (scopes.length === 0) return refuse("invalid_scope", "scope is missing.");
  const launch = params.get("launch");
  const asked: Asked = {
    clientId: client.clientId,
    redirectUri,
    scopes,
    state,
    challenge,
    nonce: params.get("nonce") ?? undefined,
    launched: launch !== null,
  };
  if (launch === null) {
    if (scopes.includes("launch"))
      return refuse("invalid_request", "The scope launch needs the launch value that the chart gave.");
    const choice = server.grants.choices.add(asked);
    server.record({ step: "authorize", outcome: "choice", seen });
    return pages.choice({ choice, client, scopes, wantsPatient: wantsPatient(scopes) });
  }
  if (!scopes.includes("launch")) return refuse("invalid_request", "A launch value needs the scope launch.");
  const context = server.grants.launches.take(launch);
  if (context?.state !== "fresh")
    return refuse(
      "invalid_request",
      "The launch value is unknown, used or older than five minutes. Launch again from the chart.",
    );
  server.record({ step: "authorize", outcome: "code", seen });
  return issueCode(server, asked, context.value);
}

const wantsPatient = (scopes: readonly string[]) =>
  scopes.includes("launch/patient") || scopes.some((scope) => readScope(scope)?.level === "patient");

/** The answer to the choice page. `context` is what was chosen; undefined means that the person declined. */
export function finishChoice(
  server: AuthorizationServer,
  choice: string,
  context: Context | undefined,
  pages: AuthorizePages,
): WebAnswer {
  const taken = server.grants.choices.take(choice);
  if (taken?.state !== "fresh")
    return pages.fault("This choice was already made or is older than ten minutes. Start again from the app.");
  const asked = taken.value;
  if (!context) {
    server.record({ step: "choose", outcome: "access_denied", seen: { clientId: asked.clientId } });
    return backToApp(server, asked.redirectUri, {
      error: "access_denied",
      error_description: "Access was declined.",
      state: asked.state,
    });
  }
  server.record({ step: "choose", outcome: "code", seen: { clientId: asked.clientId } });
  return issueCode(server, asked, context);
}

function issueCode(server: AuthorizationServer, asked: Asked, context: Context): WebAnswer {
  const scopes = grantScopes(asked.scopes, context.person, server.behaviour.denyScopes, asked.launched);
  if (scopes.length === 0)
    return backToApp(server, asked.redirectUri, {
      error: "access_denied",
      error_description: "None of the scopes can be granted.",
      state: asked.state,
    });
  const code = server.grants.codes.add({
    asked,
    context,
    scopes,
    family: secret(),
    authTime: Math.floor(Date.now() / 1000),
  });
  return backToApp(server, asked.redirectUri, { code, state: asked.state });
}

function backToApp(
  { addresses, behaviour }: AuthorizationServer,
  redirectUri: string,
  answer: Record<string, string>,
): WebAnswer {
  const url = new URL(redirectUri);
  for (const [name, value] of Object.entries(answer)) url.searchParams.set(name, value);
  if (behaviour.callbackIss !== "none")
    url.searchParams.set("iss", behaviour.callbackIss === "right" ? addresses.issuer : "https://somebody-else.example");
  return redirect(url.href);
}

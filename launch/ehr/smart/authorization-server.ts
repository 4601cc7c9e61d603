/** What the parts of the authorization server share. */
import type { Clients } from "./clients.ts";
import type { SmartAddresses } from "./discovery.ts";
import type { Grants } from "./grants.ts";
import type { Signer } from "./keys.ts";

/** How the authorization server misbehaves, or is set, on demand. */
export interface SmartBehaviour {
  /** Life of an access token in seconds. */
  tokenSeconds: number;
  /** Scopes withheld from whoever signs in: "patient/CarePlan.c", "CarePlan", "online_access". */
  denyScopes: string[];
  /** A refresh answers with this patient instead of the one in context. */
  patientOnRefresh: string | null;
  /** The token response names no patient. */
  omitPatient: boolean;
  /** RFC 9207: add `iss` to the callback, the right one or a wrong one. */
  callbackIss: "none" | "right" | "wrong";
  needPatientBanner: boolean;
  /** Answer `expires_in` as text, as some servers do. */
  expiresInAsText: boolean;
  /** Spoil the id_token: another nonce, another audience, or out of date. */
  idToken: "good" | "wrong-nonce" | "wrong-audience" | "expired";
}
export const WELL_SET: SmartBehaviour = {
  tokenSeconds: 300,
  denyScopes: [],
  patientOnRefresh: null,
  omitPatient: false,
  callbackIss: "none",
  needPatientBanner: true,
  expiresInAsText: false,
  idToken: "good",
};

/** One step of a sign-in as the server saw it; holds no code, token, verifier or state. */
export interface SignInStep {
  at: string;
  step: "authorize" | "choose" | "token" | "refresh" | "revoke";
  outcome: string;
  seen: Record<string, string | number | boolean | null>;
}
export interface AuthorizationServer {
  readonly addresses: SmartAddresses;
  readonly clients: Clients;
  readonly grants: Grants;
  readonly signer: Signer;
  readonly behaviour: SmartBehaviour;
  readonly record: (step: Omit<SignInStep, "at">) => void;
  /** Address of the signed-in person's resource, for `fhirUser`. */
  readonly fhirUser: (practitionerId: string) => string;
}

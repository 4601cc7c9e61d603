/**
 * What an app owes at every launch, counted as it happens: the fifteen points on which the SMART App Launch test kit of
 * Inferno (client side, 2025) judges an app. The server answers strictly as well; this is for asking afterwards.
 */
import type { SignInStep } from "./authorization-server.ts";

type Seen = SignInStep["seen"];
/** SMART App Launch 2.2: 122 random bits or more; a UUID has 36 characters. */
const STATE_LENGTH = 22;
const CHALLENGE_LENGTH = 43; // base64url of a SHA-256
const between = (value: unknown, least: number, most: number) => Number(value) >= least && Number(value) <= most;

const AUTHORIZE: Readonly<Record<string, (seen: Seen, fhirBase: string) => boolean>> = {
  "response_type is code": ({ responseType }) => responseType === "code",
  "client_id is registered": ({ clientId }) => Boolean(clientId),
  "redirect_uri is registered": ({ redirectUri }) => Boolean(redirectUri),
  "launch comes with its scope": ({ hasLaunch, scope }) => hasLaunch === words(scope).includes("launch"),
  "scope is given": ({ scope }) => words(scope).length > 0,
  "state is given": ({ stateLength }) => Number(stateLength) > 0,
  "state is long enough": ({ stateLength }) => Number(stateLength) >= STATE_LENGTH,
  "aud is the FHIR base": ({ aud }, fhirBase) => aud === fhirBase,
  "code_challenge is given": ({ challengeLength }) => challengeLength === CHALLENGE_LENGTH,
  "code_challenge_method is S256": ({ challengeMethod }) => challengeMethod === "S256",
};
const TOKEN: Readonly<Record<string, (seen: Seen) => boolean>> = {
  "the code is exchanged once, by its own app": ({ because }) =>
    because === undefined || !/code (was|is|belongs)/.test(String(because)),
  "redirect_uri is the same again": ({ because }) => !/redirect_uri/.test(String(because ?? "")),
  "code_verifier fits": ({ verifierLength, because }) =>
    between(verifierLength, 43, 128) && !/verifier/.test(String(because ?? "")),
};
const REFRESH = "a refresh token is one that was issued here";
const BEARER = "the access token is used as bearer";
export const LAUNCH_CHECKS: readonly string[] = [...Object.keys(AUTHORIZE), ...Object.keys(TOKEN), REFRESH, BEARER];

const words = (scope: unknown) =>
  String(scope ?? "")
    .split(" ")
    .filter(Boolean);

export interface LaunchChecks {
  readonly launches: number;
  readonly checks: Readonly<Record<string, { readonly passed: number; readonly failed: number }>>;
}

/** Counts from the start of the server; clearing its logs does not clear it. */
export class LaunchRecorder {
  private launches = 0;
  private readonly counts = new Map(LAUNCH_CHECKS.map((name) => [name, { passed: 0, failed: 0 }]));
  private readonly fhirBase: string;
  constructor(fhirBase: string) {
    this.fhirBase = fhirBase;
  }

  see({ step, outcome, seen }: Omit<SignInStep, "at">): void {
    if (step === "authorize") {
      this.launches++;
      for (const [name, holds] of Object.entries(AUTHORIZE)) this.count(name, holds(seen, this.fhirBase));
    }
    if (step === "token") for (const [name, holds] of Object.entries(TOKEN)) this.count(name, holds(seen));
    if (step === "refresh") this.count(REFRESH, outcome === "token");
  }
  /** A FHIR request that needs a token came: with one as bearer, or not. */
  bearer(isThere: boolean): void {
    this.count(BEARER, isThere);
  }
  private count(name: string, holds: boolean): void {
    const counts = this.counts.get(name);
    if (counts) counts[holds ? "passed" : "failed"]++;
  }
  shown(): LaunchChecks {
    return { launches: this.launches, checks: Object.fromEntries(this.counts) };
  }
}

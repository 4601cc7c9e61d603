/** Who is signed in: read from the id_token for display, and verified against the server's keys before anyone signs. */
import * as z from "zod/mini";
import { addressUnder } from "./fhir-address.ts";
import { discover } from "./handshake.ts";

const claims = z.object({
  fhirUser: z.optional(z.string()),
  name: z.optional(z.string()),
  nonce: z.optional(z.string()),
  azp: z.optional(z.string()),
  aud: z.optional(z.union([z.string(), z.array(z.string())])),
});
type Claims = z.output<typeof claims>;

export interface ClaimedUser {
  readonly reference?: string;
  readonly name?: string;
}

export type Signer =
  | { readonly ok: true; readonly reference: string; readonly name?: string }
  | { readonly ok: false; readonly reason: string };

/** `Practitioner/12`, whether the claim is relative or an absolute address under our base; undefined for other hosts. */
function userReference(fhirUser: string | undefined, base: string): string | undefined {
  const address = fhirUser === undefined ? undefined : addressUnder(base, fhirUser);
  if (!address || address.search) return undefined;
  const path = address.pathname.slice(new URL(base).pathname.replace(/\/+$/, "").length + 1);
  return /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/.test(path) ? path : undefined;
}

function userIn(said: Claims, base: string): ClaimedUser {
  const reference = userReference(said.fhirUser, base);
  const name = said.name?.trim();
  return { ...(reference ? { reference } : {}), ...(name ? { name } : {}) };
}

/** The user as the id_token claims, unverified: good for a greeting, never for a signature. */
export function claimedUser(idToken: string | undefined, base: string): ClaimedUser {
  const payload = idToken?.split(".")[1];
  if (!payload) return {};
  try {
    // base64url with UTF-8 inside, which atob alone reads wrongly.
    const bytes = Uint8Array.from(atob(payload.replace(/-/g, "+").replace(/_/g, "/")), (char) => char.charCodeAt(0));
    const answer = claims.safeParse(JSON.parse(new TextDecoder("utf-8", { fatal: true }).decode(bytes)));
    return answer.success ? userIn(answer.data, base) : {};
  } catch {
    return {};
  }
}

/** SMART requires RS256; the others are the asymmetric ones in use. Never "none", never a shared secret. */
const ALGORITHMS = ["RS256", "RS384", "RS512", "PS256", "PS384", "ES256", "ES384", "EdDSA"];

const cannot = (reason: string): Signer => ({
  ok: false,
  reason: `${reason} You can go on, but you cannot sign. Open Fingerpost from the chart again.`,
});

/**
 * Verifies the id_token (signature, iss, aud, exp, nonce; OpenID Connect Core 3.1.3.7) as of the moment it arrived,
 * since it may rightly have run out by the time the plan is ready.
 */
export async function verifiedSigner(
  idToken: string | undefined,
  expected: { base: string; clientId: string; nonce: string | undefined; arrivedAt: number },
): Promise<Signer & { final: boolean }> {
  if (!idToken) {
    return { ...cannot("The record system did not say who is signed in."), final: true };
  }
  const server = await discover(expected.base);
  if (!server) return { ...cannot("The record system could not be asked for its keys."), final: false };
  if (!server.issuer || !server.jwks_uri) {
    return { ...cannot("The record system publishes no keys to check who is signed in."), final: true };
  }
  let keys: unknown;
  try {
    const response = await fetch(server.jwks_uri, { signal: AbortSignal.timeout(10_000), credentials: "omit" });
    if (!response.ok) throw new Error(String(response.status));
    keys = await response.json();
  } catch {
    return { ...cannot("The record system could not be asked for its keys."), final: false };
  }
  const { createLocalJWKSet, jwtVerify } = await import("jose");
  try {
    const { payload } = await jwtVerify(idToken, createLocalJWKSet(keys as Parameters<typeof createLocalJWKSet>[0]), {
      issuer: server.issuer,
      audience: expected.clientId,
      algorithms: ALGORITHMS,
      requiredClaims: ["exp"],
      currentDate: new Date(expected.arrivedAt),
      clockTolerance: 30,
    });
    const said = claims.parse(payload);
    if (Array.isArray(said.aud) && said.aud.length > 1 && said.azp !== expected.clientId) {
      return { ...cannot("The proof of sign-in was made for another program."), final: true };
    }
    if (expected.nonce !== undefined && said.nonce !== expected.nonce) {
      return { ...cannot("The proof of sign-in does not belong to this launch."), final: true };
    }
    const user = userIn(said, expected.base);
    if (!user.reference || !/^Practitioner(Role)?\//.test(user.reference)) {
      return { ...cannot("The person signed in is not known to the record system as a clinician."), final: true };
    }
    return { ok: true, reference: user.reference, ...(user.name ? { name: user.name } : {}), final: true };
  } catch (error) {
    const late = error instanceof Error && "code" in error && error.code === "ERR_JWT_EXPIRED";
    return {
      ...cannot(
        late
          ? "The proof of sign-in had already run out when it came; the clock of this computer may be wrong."
          : "The proof of who is signed in could not be verified.",
      ),
      final: true,
    };
  }
}

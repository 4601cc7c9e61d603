/** Who is signed in, verified against the server's keys before anyone signs. Loaded only for that. */
import { claims, userIn } from "./claimed-user.ts";
import { discover } from "./handshake.ts";

export type Signer =
  | { readonly ok: true; readonly reference: string; readonly name?: string }
  | { readonly ok: false; readonly reason: string };

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

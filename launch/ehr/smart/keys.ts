/** Signing with RS256, the algorithm that SMART asks for in an id_token; a new key at each start. */
import { exportJWK, generateKeyPair, type JWK, type JWTPayload, jwtVerify, SignJWT } from "jose";

export interface Signer {
  sign(claims: JWTPayload, typ: "JWT" | "at+jwt", seconds: number): Promise<string>;
  /** Claims of a valid token of ours; undefined for any that is not (alg, signature, issuer, audience, expiry). */
  verify(token: string, issuer: string, audience: string): Promise<JWTPayload | undefined>;
  readonly jwks: { keys: JWK[] };
}

export async function makeSigner(): Promise<Signer> {
  const { privateKey, publicKey } = await generateKeyPair("RS256", { modulusLength: 2048 });
  const kid = `practice-${Date.now().toString(36)}`;
  const jwks = { keys: [{ ...(await exportJWK(publicKey)), kid, use: "sig", alg: "RS256" }] };
  return {
    jwks,
    sign: (claims, typ, seconds) => {
      const now = Math.floor(Date.now() / 1000);
      return new SignJWT(claims)
        .setProtectedHeader({ alg: "RS256", kid, typ })
        .setIssuedAt(now)
        .setExpirationTime(now + seconds)
        .sign(privateKey);
    },
    verify: async (token, issuer, audience) => {
      try {
        return (
          await jwtVerify(token, publicKey, {
            issuer,
            audience,
            algorithms: ["RS256"],
            typ: "at+jwt",
            clockTolerance: 0,
          })
        ).payload;
      } catch {
        return undefined;
      }
    },
  };
}

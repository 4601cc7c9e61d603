/** Who is signed in, as the id_token says: read without any check of it. */
import * as z from "zod/mini";
import { addressUnder } from "./fhir-address.ts";

/** What we read of an id_token. */
export const claims = z.object({
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

/** `Practitioner/12`, whether the claim is relative or an absolute address under our base; undefined for other hosts. */
function userReference(fhirUser: string | undefined, base: string): string | undefined {
  const address = fhirUser === undefined ? undefined : addressUnder(base, fhirUser);
  if (!address || address.search) return undefined;
  const path = address.pathname.slice(new URL(base).pathname.replace(/\/+$/, "").length + 1);
  return /^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/.test(path) ? path : undefined;
}

/** The user of these claims, as far as it is one of our server. */
export function userIn(said: Claims, base: string): ClaimedUser {
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

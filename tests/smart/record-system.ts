/** A record system in miniature for fault tests: discovery, token, keys and FHIR answers, each replaceable. */
import { exportJWK, generateKeyPair, SignJWT } from "jose";
import { HttpResponse, http } from "msw";
import { setupServer } from "msw/node";

export const BASE = "https://ehr.example/fhir";
export const PLUGIN = "https://plugin.example/";
export const AUTHORIZE = "https://login.ehr.example/authorize";
const TOKEN = "https://login.ehr.example/token";
const JWKS = "https://login.ehr.example/jwks";
export const ISSUER = "https://login.ehr.example";

export const CONFIG = {
  ok: true as const,
  config: { issuers: [{ iss: BASE, clientId: "fingerpost", label: "Ward record" }], frameAncestors: [] as string[] },
};

export const WELL_KNOWN = {
  issuer: ISSUER,
  jwks_uri: JWKS,
  authorization_endpoint: AUTHORIZE,
  token_endpoint: TOKEN,
  capabilities: ["launch-ehr", "permission-v2"],
  code_challenge_methods_supported: ["S256"],
};

export const TOKEN_ANSWER = {
  access_token: "access-canary-1",
  token_type: "Bearer",
  expires_in: 300,
  scope: "launch openid fhirUser online_access patient/Patient.rs patient/Condition.crus",
  refresh_token: "refresh-canary-1",
  patient: "p1",
  encounter: "e1",
  need_patient_banner: true,
};

export interface Seen {
  readonly method: string;
  readonly url: string;
  readonly authorization: string | null;
  readonly body: string;
}

type Responder = (request: Request, body: string) => Response | Promise<Response>;

const fhirJson = (body: unknown, init: ResponseInit = {}) =>
  new HttpResponse(typeof body === "string" ? body : JSON.stringify(body), {
    status: 200,
    ...init,
    headers: { "content-type": "application/fhir+json", ...(init.headers as Record<string, string>) },
  });

/** A FHIR answer. */
export { fhirJson };

export const bundleOf = (resources: readonly object[], next?: string) => ({
  resourceType: "Bundle",
  type: "searchset",
  ...(next === undefined ? {} : { link: [{ relation: "next", url: next }] }),
  entry: resources.map((resource) => ({ resource, search: { mode: "match" } })),
});

export const outcome = (text: string) => ({
  resourceType: "OperationOutcome",
  issue: [{ severity: "error", code: "processing", diagnostics: text, expression: ["CarePlan.status"] }],
});

/** Answers every request; what a test does not replace is a working server. Hosts nobody configured are recorded too. */
export class RecordSystem {
  readonly seen: Seen[] = [];
  wellKnown: Responder = () => HttpResponse.json(WELL_KNOWN);
  token: Responder = () => HttpResponse.json(TOKEN_ANSWER);
  jwks: Responder = () => HttpResponse.json({ keys: [] });
  fhir: Responder = () => fhirJson(bundleOf([]));
  elsewhere: Responder = () => HttpResponse.json({});

  private readonly server = setupServer(
    http.all("*", async ({ request }) => {
      const body = await request.clone().text();
      const url = request.url;
      this.seen.push({ method: request.method, url, authorization: request.headers.get("authorization"), body });
      if (url === `${BASE}/.well-known/smart-configuration`) return this.wellKnown(request, body);
      if (url === TOKEN) return this.token(request, body);
      if (url === JWKS) return this.jwks(request, body);
      if (url === BASE || url.startsWith(`${BASE}/`) || url.startsWith(`${BASE}?`)) return this.fhir(request, body);
      return this.elsewhere(request, body);
    }),
  );

  start(): void {
    this.server.listen({ onUnhandledRequest: "error" });
  }
  stop(): void {
    this.server.close();
  }
  to(part: string): Seen[] {
    return this.seen.filter((one) => one.url.includes(part));
  }
  get tokenRequests(): URLSearchParams[] {
    return this.to(TOKEN).map((one) => new URLSearchParams(one.body));
  }
}

/** A key pair of the record system and the id_tokens it makes. */
export async function signingKey(kid = "k1") {
  const { publicKey, privateKey } = await generateKeyPair("RS256", { extractable: true });
  return {
    /** Signs exactly these claims, whatever they are. */
    sign: (claims: object) => new SignJWT({ ...claims }).setProtectedHeader({ alg: "RS256", kid }).sign(privateKey),
    jwks: { keys: [{ ...(await exportJWK(publicKey)), kid, alg: "RS256", use: "sig" }] },
    idToken: (claims: Record<string, unknown>, expires: number | string = "5m") =>
      new SignJWT({ fhirUser: `${BASE}/Practitioner/dr-1`, name: "Zoë Ünal", ...claims })
        .setProtectedHeader({ alg: "RS256", kid })
        .setIssuer((claims.iss as string | undefined) ?? ISSUER)
        .setAudience((claims.aud as string | undefined) ?? "fingerpost")
        .setIssuedAt()
        .setExpirationTime(expires)
        .sign(privateKey),
  };
}

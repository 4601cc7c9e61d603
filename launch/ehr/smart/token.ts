/** Token, introspection and revocation endpoints (SMART App Launch 2.2; RFC 6749, 7636, 7662, 7009). */
import { randomUUID, timingSafeEqual } from "node:crypto";
import type { JWTPayload } from "jose";
import { formOf, json, type WebAnswer, type WebRequest } from "../web.ts";
import type { AuthorizationServer } from "./authorization-server.ts";
import { type Grant, sha256 } from "./grants.ts";

const VERIFIER = /^[A-Za-z0-9\-._~]{43,128}$/; // RFC 7636 4.1
const NO_CACHE = { "cache-control": "no-store", pragma: "no-cache" };
const refuse = (error: string, error_description: string, status = 400): WebAnswer =>
  json(status, { error, error_description }, NO_CACHE);

/** POST of a form: authorization_code or refresh_token. */
export async function token(server: AuthorizationServer, request: WebRequest): Promise<WebAnswer> {
  const form = formOf(request);
  if (request.method !== "POST" || !form) return refuse("invalid_request", "POST application/x-www-form-urlencoded.");
  for (const name of new Set(form.keys()))
    if (form.getAll(name).length > 1) return refuse("invalid_request", `${name} may be given once.`);
  const client = server.clients.find(form.get("client_id") ?? undefined);
  if (!client) return refuse("invalid_client", "client_id is missing or not registered.", 401);
  switch (form.get("grant_type")) {
    case "authorization_code":
      return exchangeCode(server, form, client.clientId);
    case "refresh_token":
      return refresh(server, form, client.clientId);
    default:
      return refuse("unsupported_grant_type", "authorization_code and refresh_token are supported.");
  }
}

async function exchangeCode(server: AuthorizationServer, form: URLSearchParams, clientId: string): Promise<WebAnswer> {
  const verifier = form.get("code_verifier") ?? "";
  const seen = { clientId, verifierLength: verifier.length, redirectUri: form.get("redirect_uri") };
  const fail = (description: string, error = "invalid_grant") => {
    server.record({ step: "token", outcome: error, seen: { ...seen, because: description } });
    return refuse(error, description);
  };
  const taken = server.grants.codes.take(form.get("code") ?? "");
  if (!taken) return fail("The code is unknown or older than a minute.");
  const { value: grant, state } = taken;
  if (state === "spent") {
    server.grants.revokeFamily(grant.family); // a code used twice was stolen, or the app is broken: both end the session
    return fail("The code was used before; everything given for it is revoked.");
  }
  if (grant.asked.clientId !== clientId) return fail("The code belongs to another app.");
  if (grant.asked.redirectUri !== form.get("redirect_uri"))
    return fail("redirect_uri is not the one of the authorization request.");
  if (!VERIFIER.test(verifier)) return fail("code_verifier needs 43 to 128 unreserved characters.", "invalid_request");
  if (!sameText(sha256(verifier), grant.asked.challenge)) return fail("code_verifier does not fit the challenge.");
  server.record({ step: "token", outcome: "token", seen });
  return tokenAnswer(server, grant, grant.scopes);
}

async function refresh(server: AuthorizationServer, form: URLSearchParams, clientId: string): Promise<WebAnswer> {
  const fail = (description: string, error = "invalid_grant") => {
    server.record({ step: "refresh", outcome: error, seen: { clientId, because: description } });
    return refuse(error, description);
  };
  const presented = form.get("refresh_token") ?? "";
  const grant = server.grants.refreshTokens.peek(presented);
  if (grant && grant.asked.clientId !== clientId) return fail("The refresh token belongs to another app.");
  const narrower = form.get("scope")?.split(" ").filter(Boolean);
  if (grant && narrower?.some((scope) => !grant.scopes.includes(scope)))
    return fail("A refresh cannot ask for more than was granted.", "invalid_scope");
  const taken = server.grants.refreshTokens.take(presented);
  if (!taken) return fail("The refresh token is unknown or too old.");
  if (taken.state === "spent") {
    server.grants.revokeFamily(taken.value.family); // rotation: an old token that comes back ends the session
    return fail("The refresh token was used before; everything given for it is revoked.");
  }
  if (server.grants.isRevoked(taken.value.family)) return fail("The session was revoked.");
  server.record({ step: "refresh", outcome: "token", seen: { clientId } });
  return tokenAnswer(
    server,
    taken.value,
    narrower ?? taken.value.scopes,
    server.behaviour.patientOnRefresh ?? undefined,
  );
}

async function tokenAnswer(
  server: AuthorizationServer,
  grant: Grant,
  scopes: readonly string[],
  otherPatient?: string,
): Promise<WebAnswer> {
  const { addresses, behaviour, signer, grants } = server;
  const { person, patient: chosen, encounter, fhirContext, intent } = grant.context;
  const patient = behaviour.omitPatient ? undefined : (otherPatient ?? chosen);
  const claims: JWTPayload = {
    iss: addresses.issuer,
    aud: addresses.fhirBase,
    sub: person.id,
    client_id: grant.asked.clientId,
    scope: scopes.join(" "),
    jti: randomUUID(),
    family: sha256(grant.family),
    ...(patient ? { patient } : {}),
    ...(encounter ? { encounter } : {}),
  };
  const may = (scope: string) => scopes.includes(scope);
  return json(
    200,
    {
      access_token: await signer.sign(claims, "at+jwt", behaviour.tokenSeconds),
      token_type: "Bearer",
      expires_in: behaviour.expiresInAsText ? String(behaviour.tokenSeconds) : behaviour.tokenSeconds,
      scope: scopes.join(" "),
      ...(patient ? { patient } : {}),
      ...(encounter ? { encounter } : {}),
      need_patient_banner: behaviour.needPatientBanner,
      smart_style_url: `${new URL(addresses.fhirBase).origin}/smart-style.json`,
      ...(fhirContext.length > 0 ? { fhirContext } : {}),
      ...(intent ? { intent } : {}),
      ...(may("openid") ? { id_token: await idToken(server, grant, may("fhirUser") || may("profile")) } : {}),
      ...(may("offline_access") || may("online_access") ? { refresh_token: grants.refreshTokens.add(grant) } : {}),
    },
    NO_CACHE,
  );
}

function idToken(
  { addresses, behaviour, signer, fhirUser }: AuthorizationServer,
  grant: Grant,
  withUser: boolean,
): Promise<string> {
  const { person } = grant.context;
  const nonce = behaviour.idToken === "wrong-nonce" ? "not-the-nonce" : grant.asked.nonce;
  return signer.sign(
    {
      iss: addresses.issuer,
      aud: behaviour.idToken === "wrong-audience" ? "another-app" : grant.asked.clientId,
      sub: person.id,
      auth_time: grant.authTime,
      ...(nonce ? { nonce } : {}),
      ...(withUser ? { fhirUser: fhirUser(person.practitionerId), name: person.name } : {}),
    },
    "JWT",
    behaviour.idToken === "expired" ? -60 : behaviour.tokenSeconds,
  );
}

/** RFC 7662. The caller shows a valid access token of its own; SMART 2.2 adds the launch context to the answer. */
export async function introspect(server: AuthorizationServer, request: WebRequest): Promise<WebAnswer> {
  const form = formOf(request);
  if (request.method !== "POST" || !form) return refuse("invalid_request", "POST application/x-www-form-urlencoded.");
  if (!(await accessTokenClaims(server, bearer(request)))) {
    return {
      ...refuse("invalid_client", "Introspection needs an access token as bearer.", 401),
      headers: { ...NO_CACHE, "content-type": "application/json", "www-authenticate": "Bearer" },
    };
  }
  const claims = await accessTokenClaims(server, form.get("token") ?? undefined);
  if (!claims) return json(200, { active: false }, NO_CACHE);
  const { family: _family, jti: _jti, ...shown } = claims;
  return json(200, { active: true, token_type: "Bearer", ...shown }, NO_CACHE);
}

/** RFC 7009: always 200 for a registered app, also for tokens that are unknown. */
export async function revoke(server: AuthorizationServer, request: WebRequest): Promise<WebAnswer> {
  const form = formOf(request);
  if (request.method !== "POST" || !form?.get("token"))
    return refuse("invalid_request", "POST application/x-www-form-urlencoded with token.");
  const clientId = form.get("client_id") ?? undefined;
  if (!server.clients.find(clientId)) return refuse("invalid_client", "client_id is missing or not registered.", 401);
  const presented = form.get("token") ?? "";
  const grant = server.grants.refreshTokens.peek(presented);
  if (grant && grant.asked.clientId === clientId) server.grants.revokeFamily(grant.family);
  const claims = grant ? undefined : await accessTokenClaims(server, presented);
  if (claims?.client_id === clientId && claims?.jti) server.grants.revokeToken(claims.jti);
  server.record({
    step: "revoke",
    outcome: grant || claims ? "revoked" : "unknown",
    seen: { clientId: clientId ?? null },
  });
  return json(200, {}, NO_CACHE);
}

export const bearer = ({ headers }: Pick<WebRequest, "headers">): string | undefined =>
  /^Bearer\s+(\S+)$/i.exec(headers.authorization ?? "")?.[1];

/** Claims of an access token that is ours, in date and not revoked. */
export async function accessTokenClaims(
  { addresses, grants, signer }: AuthorizationServer,
  presented: string | undefined,
): Promise<JWTPayload | undefined> {
  if (!presented) return undefined;
  const claims = await signer.verify(presented, addresses.issuer, addresses.fhirBase);
  if (!claims || grants.isRevoked(String(claims.family), claims.jti)) return undefined;
  return claims;
}

function sameText(a: string, b: string): boolean {
  const [x, y] = [Buffer.from(a), Buffer.from(b)];
  return x.length === y.length && timingSafeEqual(x, y);
}

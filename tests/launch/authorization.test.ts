import { createRemoteJWKSet, jwtVerify } from "jose";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import type { Practice } from "../../launch/start.ts";
import {
  authorize,
  authorizeParams,
  CLINICIAN_SCOPES,
  call,
  callback,
  control,
  exchange,
  type Json,
  launchValue,
  openPractice,
  pkce,
  postForm,
  practiceLog,
  signIn,
} from "./practice.ts";

let practice: Practice;
beforeAll(async () => {
  practice = await openPractice();
});
afterAll(() => practice.close());
afterEach(() => control(practice, { reset: true }));

const authorizeWith = async (more: Record<string, string | undefined>) => {
  const { challenge } = pkce();
  return authorize(
    practice,
    authorizeParams(practice, { launch: await launchValue(practice), code_challenge: challenge, ...more }),
  );
};

describe("discovery (SMART App Launch 2.2 section 6)", () => {
  it("names absolute endpoints, S256 and both scope versions, and may be cached", async () => {
    const answer = await fetch(`${practice.fhirBase}/.well-known/smart-configuration`);
    const found = (await answer.json()) as Json;
    expect(answer.headers.get("content-type")).toMatch(/^application\/json/);
    expect(answer.headers.get("cache-control")).toBe("public, max-age=600");
    for (const name of [
      "authorization_endpoint",
      "token_endpoint",
      "introspection_endpoint",
      "revocation_endpoint",
      "jwks_uri",
      "issuer",
    ]) {
      expect(new URL(found[name]).origin, name).toBe(practice.ehrUrl);
    }
    expect(found.code_challenge_methods_supported).toEqual(["S256"]);
    expect(found.capabilities).toEqual(
      expect.arrayContaining([
        "launch-ehr",
        "launch-standalone",
        "client-public",
        "sso-openid-connect",
        "context-ehr-patient",
        "permission-v1",
        "permission-v2",
      ]),
    );
    const openid = (await (await fetch(`${found.issuer}/.well-known/openid-configuration`)).json()) as Json;
    expect(openid).toMatchObject({
      issuer: found.issuer,
      jwks_uri: found.jwks_uri,
      id_token_signing_alg_values_supported: ["RS256"],
    });
  });
});

describe("authorization request (SMART App Launch 2.2, 2.1; RFC 6749 4.1; RFC 7636)", () => {
  it("an EHR launch comes back at once with a code and the same state", async () => {
    const answer = await authorizeWith({ state: "a-state-of-the-app" });
    expect(answer.status).toBe(303);
    expect(answer.headers.get("location")).toMatch(`${practice.pluginUrl}/?`);
    expect(callback(answer).get("state")).toBe("a-state-of-the-app");
    expect(callback(answer).get("code")).toMatch(/^[\w-]{43}$/);
    expect(callback(answer).has("iss")).toBe(false);
  });

  it("the same request as a form by POST works too", async () => {
    const params = authorizeParams(practice, { launch: await launchValue(practice), code_challenge: pkce().challenge });
    const answer = await fetch(`${practice.ehrUrl}/auth/authorize`, {
      method: "POST",
      body: params,
      redirect: "manual",
    });
    expect(callback(answer).get("code")).toBeTruthy();
  });

  it.each([
    ["an unknown app", { client_id: "somebody" }],
    ["a return address with one more letter", { redirect_uri: "PLUGIN/x" }],
    ["a return address on another port", { redirect_uri: "http://localhost:1/" }],
    ["no return address", { redirect_uri: undefined }],
  ])("%s is told on a page and sent nowhere (RFC 6749 4.1.2.1)", async (_, more) => {
    const redirect =
      "redirect_uri" in more ? { redirect_uri: more.redirect_uri?.replace("PLUGIN", practice.pluginUrl) } : {};
    const answer = await authorizeWith({ ...more, ...redirect });
    expect(answer.status).toBe(400);
    expect(answer.headers.get("location")).toBeNull();
    expect(answer.headers.get("content-security-policy")).toContain("default-src 'none'");
  });

  it.each([
    ["another response type", { response_type: "token" }, "unsupported_response_type"],
    ["no state", { state: undefined }, "invalid_request"],
    ["no aud", { aud: undefined }, "invalid_request"],
    ["aud of another server", { aud: "http://localhost:1/fhir" }, "invalid_request"],
    ["no challenge", { code_challenge: undefined }, "invalid_request"],
    ["the plain challenge method", { code_challenge_method: "plain" }, "invalid_request"],
    ["no challenge method, which means plain", { code_challenge_method: undefined }, "invalid_request"],
    ["a challenge that is no SHA-256", { code_challenge: "short" }, "invalid_request"],
    ["no scope", { scope: undefined }, "invalid_scope"],
    ["a launch value without the scope launch", { scope: "patient/Patient.rs" }, "invalid_request"],
    ["the scope launch without a launch value", { launch: undefined }, "invalid_request"],
    ["a launch value nobody gave", { launch: "made-up" }, "invalid_request"],
  ])("%s is refused by redirect", async (_, more, error) => {
    const answer = await authorizeWith(more);
    expect(callback(answer).get("error")).toBe(error);
    expect(callback(answer).has("code")).toBe(false);
  });

  it("a parameter given twice is refused (RFC 6749 3.1)", async () => {
    const params = authorizeParams(practice, { launch: await launchValue(practice), code_challenge: pkce().challenge });
    params.append("aud", practice.fhirBase);
    expect(callback(await authorize(practice, params)).get("error")).toBe("invalid_request");
  });

  it("a slash at the end of aud is tolerated", async () => {
    expect(callback(await authorizeWith({ aud: `${practice.fhirBase}/` })).has("code")).toBe(true);
  });

  it("a launch value works once", async () => {
    const launch = await launchValue(practice);
    expect(callback(await authorizeWith({ launch })).has("code")).toBe(true);
    expect(callback(await authorizeWith({ launch })).get("error")).toBe("invalid_request");
  });

  it("a standalone launch asks who signs in and for which patient, then comes back (2.1 standalone launch)", async () => {
    const { verifier, challenge } = pkce();
    const scope = "launch/patient openid fhirUser patient/Patient.rs";
    const pageAnswer = await authorize(
      practice,
      authorizeParams(practice, { scope, code_challenge: challenge, state: "standalone" }),
    );
    const text = await pageAnswer.text();
    expect(pageAnswer.status).toBe(200);
    expect(text).toContain("Odalys Fennimore");
    expect(pageAnswer.headers.get("content-security-policy")).toContain(`form-action 'self' ${practice.pluginUrl}`);
    const choice = /name="choice" value="([^"]+)"/.exec(text)?.[1] ?? "";
    const choose = (answer: string) =>
      fetch(`${practice.ehrUrl}/auth/choose`, {
        method: "POST",
        redirect: "manual",
        body: new URLSearchParams({ choice, as: "coder", patient: "theda-lindqvist-marr", answer }),
      });
    const chosen = callback(await choose("allow"));
    expect(chosen.get("state")).toBe("standalone");
    const token = (await (await exchange(practice, chosen.get("code") ?? "", verifier)).json()) as Json;
    expect(token).toMatchObject({ patient: "theda-lindqvist-marr", scope });
    expect((await choose("allow")).status, "a choice is made once").toBe(400);
  });

  it("who declines on the choice page is sent back with access_denied", async () => {
    const text = await (await authorizeWith({ scope: "launch/patient patient/Patient.rs", launch: undefined })).text();
    const choice = /name="choice" value="([^"]+)"/.exec(text)?.[1] ?? "";
    const answer = await fetch(`${practice.ehrUrl}/auth/choose`, {
      method: "POST",
      redirect: "manual",
      body: new URLSearchParams({ choice, answer: "decline" }),
    });
    expect(callback(answer).get("error")).toBe("access_denied");
  });

  it("adds the right or a wrong iss to the callback on demand (RFC 9207)", async () => {
    await control(practice, { callbackIss: "right" });
    expect(callback(await authorizeWith({})).get("iss")).toBe(`${practice.ehrUrl}/auth`);
    await control(practice, { callbackIss: "wrong" });
    expect(callback(await authorizeWith({})).get("iss")).toBe("https://somebody-else.example");
  });
});

describe("token request (RFC 6749 4.1.3, RFC 7636 4.5)", () => {
  const freshCode = async () => {
    const { verifier, challenge } = pkce();
    const answer = await authorize(
      practice,
      authorizeParams(practice, { launch: await launchValue(practice), code_challenge: challenge }),
    );
    return { verifier, code: callback(answer).get("code") ?? "" };
  };

  it("gives token, launch context and what the app may do, and must not be cached (SMART 2.1, 2.2)", async () => {
    const { verifier, code } = await freshCode();
    const answer = await exchange(practice, code, verifier);
    expect(answer.status).toBe(200);
    expect(answer.headers.get("cache-control")).toBe("no-store");
    expect(answer.headers.get("pragma")).toBe("no-cache");
    const body = (await answer.json()) as Json;
    expect(body).toMatchObject({
      token_type: "Bearer",
      expires_in: 300,
      patient: "odalys-fennimore",
      encounter: "odalys-fennimore-visit",
      need_patient_banner: true,
      scope: CLINICIAN_SCOPES,
      smart_style_url: `${practice.ehrUrl}/smart-style.json`,
    });
    expect(body.fhirContext).toEqual(
      expect.arrayContaining([
        { reference: "ImagingStudy/odalys-fennimore-film" },
        { reference: "DiagnosticReport/odalys-fennimore-report" },
      ]),
    );
    expect((await fetch(body.smart_style_url)).status).toBe(200);
  });

  it.each([
    ["another verifier", { code_verifier: "x".repeat(43) }, "invalid_grant"],
    ["a verifier that is too short", { code_verifier: "x".repeat(42) }, "invalid_request"],
    ["a verifier with a forbidden sign", { code_verifier: `${"x".repeat(43)}!` }, "invalid_request"],
    ["no verifier", { code_verifier: "" }, "invalid_request"],
    ["another return address", { redirect_uri: "http://localhost:1/" }, "invalid_grant"],
    ["another grant type", { grant_type: "password" }, "unsupported_grant_type"],
    ["an unknown app", { client_id: "somebody" }, "invalid_client"],
    ["a code nobody gave", { code: "made-up" }, "invalid_grant"],
  ])("%s is refused", async (_, more, error) => {
    const { verifier, code } = await freshCode();
    const answer = await exchange(practice, code, verifier, more as Record<string, string>);
    expect(answer.status).toBe(error === "invalid_client" ? 401 : 400);
    expect(((await answer.json()) as Json).error).toBe(error);
  });

  it("a code that comes twice ends the session it began (RFC 6749 4.1.2)", async () => {
    const { token, code, verifier, response } = await signIn(practice);
    expect((await call(practice, token, "Patient/odalys-fennimore")).status).toBe(200);
    expect((await exchange(practice, code, verifier)).status).toBe(400);
    expect((await call(practice, token, "Patient/odalys-fennimore")).status).toBe(401);
    const refreshed = await postForm(`${practice.ehrUrl}/auth/token`, {
      grant_type: "refresh_token",
      refresh_token: response.refresh_token,
      client_id: "fingerpost",
    });
    expect(refreshed.status).toBe(400);
  });

  it("JSON instead of a form is refused", async () => {
    const answer = await fetch(`${practice.ehrUrl}/auth/token`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: "{}",
    });
    expect(answer.status).toBe(400);
  });

  it("the id_token is RS256, for this app, with nonce and the signed-in practitioner (OpenID Connect Core 2; SMART 2.2 fhirUser)", async () => {
    const { response, token } = await signIn(practice, { nonce: "n-0S6_WzA2Mj" });
    const keys = createRemoteJWKSet(new URL(`${practice.ehrUrl}/auth/jwks`));
    const { payload, protectedHeader } = await jwtVerify(response.id_token, keys, {
      issuer: `${practice.ehrUrl}/auth`,
      audience: "fingerpost",
    });
    expect(protectedHeader.alg).toBe("RS256");
    expect(payload).toMatchObject({
      nonce: "n-0S6_WzA2Mj",
      fhirUser: `${practice.fhirBase}/Practitioner/imke-harrowgate`,
    });
    expect(token).not.toBe(response.id_token);
  });

  it.each(["wrong-nonce", "wrong-audience", "expired"] as const)(
    "spoils the id_token on demand: %s",
    async (idToken) => {
      await control(practice, { idToken });
      const { response } = await signIn(practice, { nonce: "mine" });
      const keys = createRemoteJWKSet(new URL(`${practice.ehrUrl}/auth/jwks`));
      const check = jwtVerify(response.id_token, keys, { audience: "fingerpost" });
      if (idToken === "wrong-nonce") expect((await check).payload.nonce).not.toBe("mine");
      else await expect(check).rejects.toThrow();
    },
  );

  it("without openid there is no id_token, without online or offline access no refresh token", async () => {
    const { response } = await signIn(practice, { scope: "launch patient/Patient.rs" });
    expect(response.id_token).toBeUndefined();
    expect(response.refresh_token).toBeUndefined();
  });
});

describe("refresh (RFC 6749 6; rotation as in RFC 9700 4.14)", () => {
  const refresh = (refresh_token: string, more: Record<string, string> = {}) =>
    postForm(`${practice.ehrUrl}/auth/token`, {
      grant_type: "refresh_token",
      refresh_token,
      client_id: "fingerpost",
      ...more,
    });

  it("each refresh token works once and brings the next, with the same patient", async () => {
    const { response } = await signIn(practice);
    const second = (await (await refresh(response.refresh_token)).json()) as Json;
    expect(second.patient).toBe("odalys-fennimore");
    expect(second.refresh_token).not.toBe(response.refresh_token);
    const third = (await (await refresh(second.refresh_token)).json()) as Json;
    expect((await call(practice, third.access_token, "Patient/odalys-fennimore")).status).toBe(200);
  });

  it("an old refresh token that comes back revokes the whole family", async () => {
    const { response } = await signIn(practice);
    const second = (await (await refresh(response.refresh_token)).json()) as Json;
    expect(((await (await refresh(response.refresh_token)).json()) as Json).error).toBe("invalid_grant");
    expect((await refresh(second.refresh_token)).status).toBe(400);
    expect((await call(practice, second.access_token, "Patient/odalys-fennimore")).status).toBe(401);
  });

  it("may narrow the scopes, never widen them", async () => {
    const { response } = await signIn(practice);
    expect(
      ((await (await refresh(response.refresh_token, { scope: "patient/Patient.rs user/Patient.rs" })).json()) as Json)
        .error,
    ).toBe("invalid_scope");
    const narrower = (await (await refresh(response.refresh_token, { scope: "patient/Patient.rs" })).json()) as Json;
    expect(narrower.scope).toBe("patient/Patient.rs");
    expect((await call(practice, narrower.access_token, "Condition")).status).toBe(403);
  });

  it("another app cannot use it", async () => {
    await control(practice, {
      clients: [{ clientId: "other-app", name: "Other", redirectUris: ["http://localhost:9/"] }],
    });
    const { response } = await signIn(practice);
    expect((await refresh(response.refresh_token, { client_id: "other-app" })).status).toBe(400);
    expect((await refresh(response.refresh_token)).status, "and the rightful one still can").toBe(200);
  });

  it("answers with another patient on demand, so that a client can be seen to notice", async () => {
    const { response } = await signIn(practice);
    await control(practice, { patientOnRefresh: "pim-okonjo-vale" });
    expect(((await (await refresh(response.refresh_token)).json()) as Json).patient).toBe("pim-okonjo-vale");
  });
});

describe("introspection (RFC 7662) and revocation (RFC 7009)", () => {
  it("tells scope, app, expiry and launch context of an active token, to a caller with a token", async () => {
    const { token } = await signIn(practice);
    const url = `${practice.ehrUrl}/auth/introspect`;
    expect((await postForm(url, { token })).status).toBe(401);
    const seen = (await (await postForm(url, { token }, { authorization: `Bearer ${token}` })).json()) as Json;
    expect(seen).toMatchObject({
      active: true,
      client_id: "fingerpost",
      patient: "odalys-fennimore",
      scope: CLINICIAN_SCOPES,
    });
    expect(seen.exp).toBeGreaterThan(seen.iat);
    const nonsense = (await (
      await postForm(url, { token: "nonsense" }, { authorization: `Bearer ${token}` })
    ).json()) as Json;
    expect(nonsense).toEqual({ active: false });
  });

  it("a revoked access token is refused from then on; the refresh token lives", async () => {
    const { token, response } = await signIn(practice);
    const revoked = await postForm(`${practice.ehrUrl}/auth/revoke`, { token, client_id: "fingerpost" });
    expect(revoked.status).toBe(200);
    expect((await call(practice, token, "Patient/odalys-fennimore")).status).toBe(401);
    const refreshed = await postForm(`${practice.ehrUrl}/auth/token`, {
      grant_type: "refresh_token",
      refresh_token: response.refresh_token,
      client_id: "fingerpost",
    });
    expect(refreshed.status).toBe(200);
  });

  it("a revoked refresh token ends the access tokens too; an unknown token is answered with 200 all the same", async () => {
    const { token, response } = await signIn(practice);
    await postForm(`${practice.ehrUrl}/auth/revoke`, { token: response.refresh_token, client_id: "fingerpost" });
    expect((await call(practice, token, "Patient/odalys-fennimore")).status).toBe(401);
    expect(
      (await postForm(`${practice.ehrUrl}/auth/revoke`, { token: "unknown", client_id: "fingerpost" })).status,
    ).toBe(200);
  });
});

describe("cross-origin calls (only origins of registered apps, on every answer)", () => {
  const from = (origin: string, path: string, init: RequestInit = {}) =>
    fetch(`${practice.ehrUrl}${path}`, { ...init, headers: { origin, ...init.headers } });

  it("a preflight is allowed, and remembered for ten minutes", async () => {
    const answer = await from(practice.pluginUrl, "/fhir/Condition", {
      method: "OPTIONS",
      headers: {
        "access-control-request-method": "POST",
        "access-control-request-headers": "authorization,if-none-exist",
      },
    });
    expect(answer.status).toBe(204);
    expect(answer.headers.get("access-control-allow-origin")).toBe(practice.pluginUrl);
    expect(answer.headers.get("access-control-max-age")).toBe("600");
    for (const name of ["Authorization", "If-Match", "If-None-Exist", "Prefer", "Content-Type"]) {
      expect(answer.headers.get("access-control-allow-headers")).toContain(name);
    }
  });

  it.each([
    ["401", "/fhir/Condition", 401],
    ["404", "/fhir/nothing/of/this/kind/here", 401],
    ["the token endpoint's 401", "/auth/token", 400],
    ["discovery", "/fhir/.well-known/smart-configuration", 200],
  ])("%s carries them, with the headers that an app must see", async (_, path, status) => {
    const answer = await from(practice.pluginUrl, path);
    expect(answer.status).toBe(status);
    expect(answer.headers.get("access-control-allow-origin")).toBe(practice.pluginUrl);
    for (const name of ["ETag", "Location", "WWW-Authenticate", "Last-Modified"])
      expect(answer.headers.get("access-control-expose-headers")).toContain(name);
  });

  it("a faulty 500 carries them too", async () => {
    await control(practice, { faults: [{ kind: "status", status: 500, path: "/fhir/Condition" }] });
    const answer = await from(practice.pluginUrl, "/fhir/Condition");
    expect([answer.status, answer.headers.get("access-control-allow-origin")]).toEqual([500, practice.pluginUrl]);
  });

  it("an origin that is not registered gets none", async () => {
    const answer = await from("http://localhost:1", "/fhir/metadata");
    expect(answer.headers.get("access-control-allow-origin")).toBeNull();
  });
});

describe("record of sign-ins", () => {
  it("tells what an app sent, without code, token, verifier or state", async () => {
    await control(practice, { clearLogs: true });
    const { token, code, verifier, response } = await signIn(practice, { state: "state-not-to-be-kept" });
    const steps = await practiceLog(practice, "sign-ins");
    expect(steps.map(({ step, outcome }) => [step, outcome])).toEqual([
      ["authorize", "code"],
      ["token", "token"],
    ]);
    expect(steps[0].seen).toMatchObject({
      responseType: "code",
      clientId: "fingerpost",
      hasLaunch: true,
      challengeMethod: "S256",
      aud: practice.fhirBase,
    });
    const text = JSON.stringify(steps);
    for (const secret of [token, code, verifier, response.refresh_token, "state-not-to-be-kept"])
      expect(text).not.toContain(secret);
  });
});

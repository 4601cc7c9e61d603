import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { ConfigAnswer } from "../../src/smart/config.ts";
import { lostFunctions } from "../../src/smart/scopes.ts";
import type { SessionAnswer } from "../../src/smart/session.ts";
import { duplicate, openTab, reload, type Tab } from "./page.ts";
import { BASE, CONFIG, fhirJson, ISSUER, PLUGIN, RecordSystem, signingKey, TOKEN_ANSWER } from "./record-system.ts";

let server: RecordSystem;
beforeEach(() => {
  server = new RecordSystem();
  server.start();
});
afterEach(() => {
  server.stop();
  vi.restoreAllMocks();
  vi.unstubAllGlobals();
});

/** Launches from the chart, up to the moment the record system sends the clinician back. */
async function signedIn() {
  const tab = openTab(`${PLUGIN}launch.html?iss=${encodeURIComponent(BASE)}&launch=xyz`);
  const { beginLaunch } = await import("../../src/smart/launch.ts");
  const start = await beginLaunch(new URL(tab.address()), CONFIG.config);
  if (!start.ok) throw new Error(start.problem.title);
  const asked = new URL(start.goTo).searchParams;
  return { tab, state: asked.get("state")!, nonce: asked.get("nonce")!, challenge: asked.get("code_challenge")! };
}

async function open(config: ConfigAnswer | Promise<ConfigAnswer> = CONFIG): Promise<SessionAnswer> {
  const { openSession } = await import("../../src/smart/session.ts");
  return openSession(config);
}

const back = (tab: Tab, parameters: Record<string, string>) =>
  reload(tab, `${PLUGIN}?${new URLSearchParams(parameters)}`);

/** A whole launch: the session, and the tab it lives in. */
async function launched() {
  const { tab, state } = await signedIn();
  const page = back(tab, { code: "c1", state });
  const answer = await open();
  if (!answer.ok) throw new Error(`${answer.problem.title} ${answer.problem.what}`);
  return { session: answer.session, tab: page, state };
}

async function outcomeOf(parameters: (state: string) => Record<string, string>) {
  const { tab, state } = await signedIn();
  const page = back(tab, parameters(state));
  const answer = await open();
  return { answer, page };
}

describe("coming back from the sign-in", () => {
  it("opens one patient on one server, frozen", async () => {
    const { session } = await launched();
    expect(session.context).toMatchObject({ base: BASE, patientId: "p1", encounterId: "e1" });
    expect(() => {
      (session.context as { patientId: string }).patientId = "p2";
    }).toThrow(TypeError);
    expect(session.state()).toEqual({ kind: "open", secondsLeft: 300 });
  });

  it("SEC-07 L6 takes code and state out of the address bar before anything else happens", async () => {
    const { tab, state } = await signedIn();
    const page = back(tab, { code: "c1", state });
    const { openSession } = await import("../../src/smart/session.ts");
    void openSession(new Promise(() => {}));
    expect(page.address()).toBe(PLUGIN);
    expect(page.visited).toEqual([PLUGIN]);
  });

  it("REL-03 exchanges the code once, however often React starts the page", async () => {
    const { tab, state } = await signedIn();
    back(tab, { code: "c1", state });
    const { openSession } = await import("../../src/smart/session.ts");
    const [first, second] = await Promise.all([openSession(CONFIG), openSession(CONFIG)]);
    expect(first).toBe(second);
    expect(server.tokenRequests).toHaveLength(1);
  });

  it("SEC-04 proves that it began the launch, with a verifier of 43 to 128 characters", async () => {
    await launched();
    expect(server.tokenRequests[0]?.get("code_verifier")).toMatch(/^[\w.~-]{43,128}$/);
    expect(server.tokenRequests[0]?.get("client_id")).toBe("fingerpost");
    expect(server.tokenRequests[0]?.get("redirect_uri")).toBe(PLUGIN);
  });

  it("sends a code with signs of its own exactly as it came", async () => {
    await outcomeOf((state) => ({ code: "a+b&client_id=evil=%2F c", state }));
    expect(server.tokenRequests[0]?.get("code")).toBe("a+b&client_id=evil=%2F c");
    expect(server.tokenRequests[0]?.getAll("client_id")).toEqual(["fingerpost"]);
  });

  it.each<[string, (state: string) => Record<string, string>]>([
    ["a wrong state", () => ({ code: "c1", state: "11111111-1111-4111-8111-111111111111" })],
    ["no state", () => ({ code: "c1" })],
    ["a state and no code", (state) => ({ state })],
    ["another storage key as state", () => ({ code: "c1", state: "SMART_KEY" })],
  ])("SEC-04 stops at %s without asking for a token", async (_name, parameters) => {
    const { answer, page } = await outcomeOf(parameters);
    expect(answer).toMatchObject({ ok: false, problem: { kind: "state" } });
    expect(server.tokenRequests).toEqual([]);
    expect(page.address()).toBe(PLUGIN);
  });

  it("SEC-04 stops at a state of an earlier launch in this window", async () => {
    const { tab, state } = await signedIn();
    const next = reload(tab, `${PLUGIN}launch.html?iss=${encodeURIComponent(BASE)}&launch=second`);
    const { beginLaunch } = await import("../../src/smart/launch.ts");
    expect((await beginLaunch(new URL(next.address()), CONFIG.config)).ok).toBe(true);
    back(next, { code: "c1", state });
    expect(await open()).toMatchObject({ ok: false, problem: { kind: "state" } });
    expect(server.tokenRequests).toEqual([]);
  });

  it("SEC-04 stops at a state that is older than ten minutes", async () => {
    const { tab, state } = await signedIn();
    back(tab, { code: "c1", state });
    const later = Date.now() + 11 * 60_000;
    vi.spyOn(Date, "now").mockReturnValue(later);
    expect(await open()).toMatchObject({ ok: false, problem: { kind: "state", title: "The sign-in took too long." } });
    expect(server.tokenRequests).toEqual([]);
  });

  it("REL-03 a replayed callback resumes the session and exchanges nothing", async () => {
    const { tab, state } = await launched();
    back(tab, { code: "c1", state });
    expect(await open()).toMatchObject({ ok: true, session: { context: { patientId: "p1" } } });
    expect(server.tokenRequests).toHaveLength(1);
  });

  it("REL-02 L7 says so when access is denied, keeps nothing, and shows the server's words apart", async () => {
    const { answer, page } = await outcomeOf((state) => ({
      error: "access_denied",
      error_description: "<b>No</b>\u202e consent",
      state,
    }));
    expect(answer).toMatchObject({
      ok: false,
      problem: { kind: "denied", title: "Access was not granted.", serverSaid: "access_denied: <b>No</b>  consent" },
    });
    expect(page.storage.size).toBe(0);
    expect(page.address()).toBe(PLUGIN);
  });

  it("L7 explains itself when it is opened without a launch", async () => {
    openTab(PLUGIN);
    expect(await open()).toMatchObject({ ok: false, problem: { kind: "no-launch" } });
  });

  it.each([
    ["that of another server", "https://evil.example", "other-server", 0],
    ["the right one", ISSUER, undefined, 1],
  ])("SEC-05 checks the issuer that the callback names: %s", async (_name, iss, kind, exchanges) => {
    const { answer } = await outcomeOf((state) => ({ code: "c1", state, iss }));
    expect(answer.ok ? undefined : answer.problem.kind).toBe(kind);
    expect(server.tokenRequests).toHaveLength(exchanges);
  });

  it("SEC-01 opens nothing for a server that is no longer configured", async () => {
    const { tab, state } = await signedIn();
    back(tab, { code: "c1", state });
    const other = {
      ok: true as const,
      config: { ...CONFIG.config, issuers: [{ ...CONFIG.config.issuers[0]!, iss: "https://new.example/fhir" }] },
    };
    expect(await open(other)).toMatchObject({ ok: false, problem: { kind: "unknown-issuer", host: "ehr.example" } });
    expect(server.tokenRequests).toEqual([]);
  });

  it.each([
    ["code is expired", 400, { error: "invalid_grant" }, "code-refused"],
    ["client is not known", 401, { error: "invalid_client" }, "code-refused"],
    ["server is down", 503, {}, "server-unreachable"],
  ])("REL-04 stops with a way on when the %s, and asks only once", async (_name, status, body, kind) => {
    server.token = () => HttpResponse.json(body, { status });
    const { answer, page } = await outcomeOf((state) => ({ code: "c1", state }));
    expect(answer).toMatchObject({ ok: false, problem: { kind } });
    expect(server.tokenRequests).toHaveLength(1);
    expect(page.storage.size).toBe(0);
  });

  it("REL-04 stops when the connection is cut", async () => {
    server.token = () => HttpResponse.error();
    const { answer } = await outcomeOf((state) => ({ code: "c1", state }));
    expect(answer).toMatchObject({ ok: false, problem: { kind: "server-unreachable" } });
  });
});

describe("the answer to the sign-in", () => {
  const opened = async (token: object) => {
    server.token = () => HttpResponse.json(token);
    return (await outcomeOf((state) => ({ code: "c1", state }))).answer;
  };

  it("L9 REL-05 stops when it names no patient, and forgets the token", async () => {
    const { patient: _none, ...rest } = TOKEN_ANSWER;
    server.token = () => HttpResponse.json(rest);
    const { answer, page } = await outcomeOf((state) => ({ code: "c1", state }));
    expect(answer).toMatchObject({ ok: false, problem: { kind: "no-patient" } });
    expect(page.storage.size).toBe(0);
  });

  it.each(["../Patient/2", "p1?_count=0", "", "a".repeat(65)])("SEC-20 refuses the patient id %j", async (patient) => {
    expect(await opened({ ...TOKEN_ANSWER, patient })).toMatchObject({ ok: false, problem: { kind: "bad-token" } });
  });

  it.each([
    ["a number in a text", "300", 300],
    ["missing", undefined, undefined],
    ["negative", -5, undefined],
    ["no number", "soon", undefined],
  ])("REL-06 an expiry that is %s never makes an endless session", async (_name, expires_in, secondsLeft) => {
    const answer = await opened({ ...TOKEN_ANSWER, expires_in });
    if (!answer.ok) throw new Error(answer.problem.what);
    expect(answer.session.state()).toEqual({ kind: "open", ...(secondsLeft === undefined ? {} : { secondsLeft }) });
  });

  it("REL-06 takes an opaque token with dots in it for what it is", async () => {
    const { expires_in: _none, ...rest } = TOKEN_ANSWER;
    expect(await opened({ ...rest, access_token: "a.%%%.c" })).toMatchObject({ ok: true });
  });

  it.each([
    ["a web page", () => HttpResponse.html("<h1>Sign in</h1>")],
    ["half a JSON", () => new HttpResponse('{"access_', { headers: { "content-type": "application/json" } })],
    ["no token", () => HttpResponse.json({ patient: "p1" })],
  ])("REL-04 is refused when it is %s", async (_name, token) => {
    server.token = token;
    const { answer, page } = await outcomeOf((state) => ({ code: "c1", state }));
    expect(answer.ok).toBe(false);
    expect(page.storage.size).toBe(0);
  });

  it("S4 SEC-11 knows from the granted scopes what cannot be done, and says it in words", async () => {
    const { session } = await launched();
    expect(session.can("Condition", "c")).toBe(true);
    expect(session.can("Condition", "d")).toBe(false);
    expect(session.can("CarePlan", "c")).toBe(false);
    const lost = lostFunctions(session.granted);
    expect(lost.find((one) => one.scope.includes("CarePlan"))).toEqual({
      scope: "patient/CarePlan.crus",
      words: "Earlier plans are not found. The care plan cannot be filed.",
    });
    expect(lost.some((one) => one.scope.includes("Patient."))).toBe(false);
  });

  it("SEC-08 L13 leaves the tokens in one place only, and no code verifier", async () => {
    const { tab, state } = await launched();
    const holding = [...tab.storage].filter(([, value]) => value.includes("canary")).map(([key]) => key);
    expect(holding).toEqual([state]);
    expect([...tab.storage.values()].join()).not.toContain("codeVerifier");
    expect(tab.visited.join()).not.toContain("canary");
  });

  it("forgets every token at the end", async () => {
    const { session, tab } = await launched();
    session.end();
    expect(tab.storage.size).toBe(0);
    expect(session.state().kind).toBe("ended");
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "ended" } });
    expect(server.to(`${BASE}/Patient`)).toEqual([]);
  });
});

describe("reload and other windows", () => {
  it("a reload keeps the session without a new sign-in", async () => {
    const { tab } = await launched();
    reload(tab);
    expect(await open()).toMatchObject({ ok: true, session: { context: { patientId: "p1", base: BASE } } });
    expect(server.tokenRequests).toHaveLength(1);
  });

  it("SEC-09 a duplicated tab is told to use the first one, so that both never spend one refresh token", async () => {
    const { tab } = await launched();
    vi.spyOn(AbortSignal, "timeout").mockReturnValue(AbortSignal.timeout(20));
    duplicate(tab);
    expect(await open()).toMatchObject({ ok: false, problem: { kind: "open-elsewhere" } });
  });

  it("SEC-03 REL-08 L12 a page of an earlier launch in this window does not resume the later one", async () => {
    const { tab } = await launched();
    const first = tab.state;
    const later = await launched();
    tab.browser.closed(tab.page);
    openTab(PLUGIN, { storage: later.tab.storage, state: first });
    expect(await open()).toMatchObject({ ok: false, problem: { kind: "replaced" } });
  });
});

describe("renewing the access token", () => {
  const dying = () => {
    server.token = (_request, body) =>
      HttpResponse.json(
        new URLSearchParams(body).get("grant_type") === "refresh_token"
          ? { access_token: "access-canary-2", refresh_token: "refresh-canary-2", expires_in: 300, patient: "p1" }
          : { ...TOKEN_ANSWER, expires_in: 5 },
      );
    server.fhir = (request) =>
      request.headers.get("authorization") === "Bearer access-canary-2"
        ? fhirJson({ resourceType: "Patient", id: "p1" })
        : fhirJson({}, { status: 401 });
  };

  it("SEC-09 renews once for twenty parallel reads, and every read succeeds", async () => {
    dying();
    const { session, tab, state } = await launched();
    const answers = await Promise.all(Array.from({ length: 20 }, () => session.fhir.read("Patient/p1")));
    expect(answers.every((answer) => answer.ok)).toBe(true);
    expect(server.tokenRequests.map((one) => one.get("grant_type"))).toEqual(["authorization_code", "refresh_token"]);
    expect(server.tokenRequests[1]?.get("client_id")).toBe("fingerpost");
    expect(tab.storage.get(state)).toContain("refresh-canary-2");
  });

  it("REL-11 renews once when a token is refused before its time, and repeats each read once", async () => {
    dying();
    const first = server.token;
    server.token = (request, body) =>
      body.includes("refresh_token") ? first(request, body) : HttpResponse.json(TOKEN_ANSWER);
    const { session } = await launched();
    const answers = await Promise.all(Array.from({ length: 20 }, () => session.fhir.read("Patient/p1")));
    expect(answers.every((answer) => answer.ok)).toBe(true);
    expect(server.tokenRequests).toHaveLength(2);
    expect(server.to("/Patient/p1")).toHaveLength(40);
  });

  it("REL-11 a refusal that arrives after the renewal does not renew again", async () => {
    dying();
    server.token = (_request, body) =>
      HttpResponse.json(
        body.includes("refresh_token")
          ? { access_token: "access-canary-2", refresh_token: "refresh-canary-2" }
          : TOKEN_ANSWER,
      );
    let release: () => void = () => {};
    const held = new Promise<void>((resolve) => {
      release = resolve;
    });
    const well = server.fhir;
    server.fhir = async (request, body) => {
      if (request.url.endsWith("/slow") && request.headers.get("authorization")?.endsWith("1")) await held;
      return well(request, body);
    };
    const { session } = await launched();
    const slow = session.fhir.read("Patient/slow");
    expect((await session.fhir.read("Patient/p1")).ok).toBe(true);
    release();
    expect((await slow).ok).toBe(true);
    expect(server.tokenRequests).toHaveLength(2);
  });

  it("REL-11 a server that refuses even the fresh token is asked twice and no more", async () => {
    dying();
    server.fhir = () => fhirJson({}, { status: 401 });
    const { session } = await launched();
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "refused" } });
    expect(server.to("/Patient/p1")).toHaveLength(2);
  });

  it("SEC-09 survives a cut connection: the refresh token is kept and used again", async () => {
    dying();
    const well = server.token;
    const { session } = await launched();
    server.token = () => HttpResponse.error();
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "offline" } });
    expect(session.state().kind).toBe("open");
    server.token = well;
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: true });
  });

  it("L14 ends only when the server says the grant is over, tells those who listen, and forgets the tokens", async () => {
    dying();
    const { session, tab } = await launched();
    const heard = vi.fn();
    session.onChange(heard);
    server.token = () => HttpResponse.json({ error: "invalid_grant" }, { status: 400 });
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "ended" } });
    expect(session.state()).toMatchObject({ kind: "ended", problem: { kind: "ended" } });
    expect(heard).toHaveBeenCalledOnce();
    expect(tab.storage.size).toBe(0);
  });

  it("INV-3 locks everything when the renewed token is for another patient", async () => {
    dying();
    const { session } = await launched();
    server.token = () => HttpResponse.json({ access_token: "x", patient: "OTHER" });
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "locked" } });
    expect(session.state()).toMatchObject({ kind: "locked" });
    expect(session.context.patientId).toBe("p1");
    expect(await session.fhir.transaction("{}")).toMatchObject({ ok: false, problem: { kind: "locked" } });
    expect(server.seen.filter((one) => one.method === "POST" && one.url === BASE)).toEqual([]);
  });

  it("S4 a renewed token with fewer scopes takes the functions away", async () => {
    dying();
    const { session } = await launched();
    expect(session.can("Condition", "c")).toBe(true);
    server.token = () => HttpResponse.json({ access_token: "access-canary-2", scope: "patient/Patient.rs" });
    await session.fhir.read("Patient/p1");
    expect(session.can("Condition", "c")).toBe(false);
  });

  it("REL-09 a clock that is set a day forward or back ends nothing", async () => {
    const { session } = await launched();
    const now = Date.now();
    for (const hours of [-24, 24]) {
      vi.spyOn(Date, "now").mockReturnValue(now + hours * 3_600_000);
      expect(session.state()).toEqual({ kind: "open", secondsLeft: 300 });
    }
  });

  it("without a refresh token the session ends with the token", async () => {
    const { refresh_token: _none, ...rest } = TOKEN_ANSWER;
    server.token = () => HttpResponse.json(rest);
    const { session } = await launched();
    const now = performance.now();
    vi.spyOn(performance, "now").mockReturnValue(now + 301_000);
    expect(await session.fhir.read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "ended" } });
    expect(server.to("/Patient/")).toEqual([]);
  });

  it("a write is not begun with a token about to die", async () => {
    const { refresh_token: _none, ...rest } = TOKEN_ANSWER;
    server.token = () => HttpResponse.json({ ...rest, expires_in: 59 });
    const { session } = await launched();
    expect(await session.lastsFor(60)).toBe(false);
    expect(await session.lastsFor(10)).toBe(true);
  });
});

describe("L8 L10 the launch context beside the patient", () => {
  it.each<[string, object, boolean]>([
    ["asks for the patient's name", { need_patient_banner: true }, true],
    ["shows the patient's name itself", { need_patient_banner: false }, false],
    ["says nothing of it", { need_patient_banner: undefined }, true],
    ["says something else than yes or no", { need_patient_banner: "no" }, true],
  ])("a record system that %s", async (_how, said, needed) => {
    server.token = () => HttpResponse.json({ ...TOKEN_ANSWER, ...said });
    expect((await launched()).session.needPatientBanner).toBe(needed);
  });

  it("what was open in the chart is known by its reference; items that name something else are left aside", async () => {
    const fhirContext = [
      { reference: "ImagingStudy/i1", role: "launch" },
      { reference: `${BASE}/DiagnosticReport/r1` },
      { canonical: "https://example.org/Questionnaire/1", type: "Questionnaire" },
    ];
    server.token = () => HttpResponse.json({ ...TOKEN_ANSWER, fhirContext });
    expect((await launched()).session.opened).toEqual(["ImagingStudy/i1", "DiagnosticReport/r1"]);
  });
});

describe("who signs", () => {
  type Key = Awaited<ReturnType<typeof signingKey>>;
  const KEYS: { ours?: Key; foreign?: Key } = {};

  async function signerFor(make: (keys: { ours: Key; foreign: Key }, nonce: string) => Promise<string>) {
    KEYS.ours ??= await signingKey();
    KEYS.foreign ??= await signingKey();
    const keys = { ours: KEYS.ours, foreign: KEYS.foreign };
    server.jwks = () => HttpResponse.json(keys.ours.jwks);
    const { tab, state, nonce } = await signedIn();
    const id_token = await make(keys, nonce);
    server.token = () => HttpResponse.json({ ...TOKEN_ANSWER, id_token });
    back(tab, { code: "c1", state });
    const answer = await open();
    if (!answer.ok) throw new Error(answer.problem.title);
    return { signer: await answer.session.signer(), session: answer.session };
  }

  it("L11 a clinician is verified, with a name beyond ASCII and an absolute fhirUser", async () => {
    const { signer, session } = await signerFor(({ ours }, nonce) => ours.idToken({ nonce }));
    expect(signer).toEqual({ ok: true, reference: "Practitioner/dr-1", name: "Zoë Ünal" });
    expect(session.user).toEqual({ reference: "Practitioner/dr-1", name: "Zoë Ünal" });
  });

  it("a relative fhirUser and a role will do", async () => {
    const { signer } = await signerFor(({ ours }, nonce) => ours.idToken({ nonce, fhirUser: "PractitionerRole/r9" }));
    expect(signer).toMatchObject({ ok: true, reference: "PractitionerRole/r9" });
  });

  it("an id_token that ran out after it arrived still proves who signed in", async () => {
    const { signer } = await signerFor(({ ours }, nonce) => ours.idToken({ nonce }, Math.floor(Date.now() / 1000) + 1));
    expect(signer.ok).toBe(true);
  });

  it.each([
    ["ahead", 24],
    ["behind", -24],
  ])(
    "REL-09 with the computer's clock a day %s a clinician who signed in just now is still known",
    async (_how, hours) => {
      const trueTime = Date.now();
      vi.spyOn(Date, "now").mockImplementation(() => trueTime + hours * 3_600_000);
      KEYS.ours ??= await signingKey();
      const { ours } = KEYS as { ours: Key };
      server.jwks = () => HttpResponse.json(ours.jwks);
      server.fhir = () =>
        fhirJson({ resourceType: "Patient", id: "p1" }, { headers: { date: new Date(trueTime).toUTCString() } });
      const { tab, state, nonce } = await signedIn();
      const seconds = Math.floor(trueTime / 1000);
      const id_token = await ours.idToken({ nonce, iat: seconds }, seconds + 300);
      server.token = () => HttpResponse.json({ ...TOKEN_ANSWER, id_token });
      back(tab, { code: "c1", state });
      const answer = await open();
      if (!answer.ok) throw new Error(answer.problem.title);
      const { session } = answer;
      await session.fhir.read("Patient/p1");
      expect(Math.abs(session.clock.now().getTime() - trueTime)).toBeLessThan(2000);
      expect(await session.signer()).toMatchObject({ ok: true, reference: "Practitioner/dr-1" });
    },
  );

  const none = (nonce: string) => {
    const part = (value: object) => Buffer.from(JSON.stringify(value)).toString("base64url");
    return `${part({ alg: "none" })}.${part({ iss: ISSUER, aud: "fingerpost", exp: 9e9, nonce, fhirUser: "Practitioner/x" })}.`;
  };
  const altered = async (key: Key, nonce: string) => {
    const [head, , signature] = (await key.idToken({ nonce })).split(".");
    const body = { iss: ISSUER, aud: "fingerpost", exp: 9e9, nonce, fhirUser: "Practitioner/boss" };
    return [head, Buffer.from(JSON.stringify(body)).toString("base64url"), signature].join(".");
  };

  it.each<[string, (keys: { ours: Key; foreign: Key }, nonce: string) => Promise<string>]>([
    ["unsigned (alg none)", async (_keys, nonce) => none(nonce)],
    ["signed with another key", ({ foreign }, nonce) => foreign.idToken({ nonce })],
    ["altered after signing", ({ ours }, nonce) => altered(ours, nonce)],
    ["of another issuer", ({ ours }, nonce) => ours.idToken({ nonce, iss: "https://evil.example" })],
    ["for another program", ({ ours }, nonce) => ours.idToken({ nonce, aud: "other-app" })],
    [
      "for several programs, made for another",
      ({ ours }, nonce) => ours.idToken({ nonce, aud: ["fingerpost", "other"] as never }),
    ],
    ["long expired", ({ ours }, nonce) => ours.idToken({ nonce }, Math.floor(Date.now() / 1000) - 3600)],
    ["of another launch", ({ ours }) => ours.idToken({ nonce: "11111111-1111-4111-8111-111111111111" })],
    ["without the nonce", ({ ours }) => ours.idToken({})],
    ["of a patient", ({ ours }, nonce) => ours.idToken({ nonce, fhirUser: "Patient/p1" })],
    [
      "of a user on another server",
      ({ ours }, nonce) => ours.idToken({ nonce, fhirUser: "https://evil.example/fhir/Practitioner/1" }),
    ],
    ["of nobody", ({ ours }, nonce) => ours.idToken({ nonce, fhirUser: undefined })],
    ["no JWT at all", async () => "not.a.token"],
  ])("SEC-12 an id_token that is %s signs nothing, and the chart stays open", async (_name, make) => {
    const { signer, session } = await signerFor(make);
    expect(signer.ok).toBe(false);
    expect(session.state().kind).toBe("open");
  });

  it("L11 without an id_token nobody can sign, and the reason is said", async () => {
    const { session } = await launched();
    expect(await session.signer()).toMatchObject({ ok: false, reason: expect.stringContaining("cannot sign") });
  });

  it("asks for the keys again after a fault, since a fault is no forgery", async () => {
    const key = await signingKey();
    const { tab, state, nonce } = await signedIn();
    const id_token = await key.idToken({ nonce });
    server.token = () => HttpResponse.json({ ...TOKEN_ANSWER, id_token });
    server.jwks = () => HttpResponse.error();
    back(tab, { code: "c1", state });
    const answer = await open();
    if (!answer.ok) throw new Error(answer.problem.title);
    expect((await answer.session.signer()).ok).toBe(false);
    server.jwks = () => HttpResponse.json(key.jwks);
    expect((await answer.session.signer()).ok).toBe(true);
  });
});

describe("SEC-23 nothing of the launch is printed", () => {
  it("in a whole launch with faults", async () => {
    const printed = (["log", "warn", "error", "info", "debug"] as const).map((name) => vi.spyOn(console, name));
    await launched();
    server.token = () => HttpResponse.json({ error: "invalid_grant" }, { status: 400 });
    await outcomeOf((state) => ({ code: "c2", state }));
    expect(printed.flatMap((one) => one.mock.calls)).toEqual([]);
  });
});

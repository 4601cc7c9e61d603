import { createRequire } from "node:module";
import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { openTab, type TabOptions } from "./page.ts";
import { AUTHORIZE, BASE, CONFIG, PLUGIN, RecordSystem, WELL_KNOWN } from "./record-system.ts";

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

async function launch(query: string, options: TabOptions = {}, config: object = {}) {
  const tab = openTab(`${PLUGIN}launch.html${query}`, options);
  const { beginLaunch } = await import("../../src/smart/launch.ts");
  const answer = await beginLaunch(new URL(tab.address()), {
    ...CONFIG.config,
    issuers: [{ ...CONFIG.config.issuers[0]!, ...config }],
  });
  return { answer, tab, asked: answer.ok ? new URL(answer.goTo).searchParams : new URLSearchParams() };
}
const query = (parameters: Record<string, string>) => `?${new URLSearchParams(parameters)}`;
const FROM_CHART = query({ iss: BASE, launch: "xyz" });

describe("EHR launch", () => {
  it("L2 SEC-04 asks with code, client, redirect, launch, scope, state, aud and an S256 challenge, and comes back here", async () => {
    const { answer, asked } = await launch(FROM_CHART);
    expect(answer.ok && answer.goTo.startsWith(`${AUTHORIZE}?`)).toBe(true);
    expect(Object.fromEntries(asked)).toMatchObject({
      response_type: "code",
      client_id: "fingerpost",
      redirect_uri: PLUGIN,
      launch: "xyz",
      aud: BASE,
      code_challenge_method: "S256",
    });
    expect(asked.get("code_challenge")).toMatch(/^[\w-]{43}$/);
  });

  it("L3 SEC-06 takes state from the system's own randomness, never from Math.random", async () => {
    vi.spyOn(Math, "random").mockReturnValue(0.5);
    const states = new Set<string>();
    for (let n = 0; n < 20; n++) states.add((await launch(FROM_CHART)).asked.get("state") ?? "");
    expect(states.size).toBe(20);
    for (const state of states)
      expect(state).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  });

  it("asks for the server's description once", async () => {
    await launch(FROM_CHART);
    // The handshake library keeps it in memory, except under test, where it asks once more.
    expect(server.to("smart-configuration").length).toBeLessThanOrEqual(2);
    expect(server.to("metadata")).toEqual([]);
  });

  it("S1 asks per resource and action: no wildcard, no delete, no offline access", async () => {
    const { asked } = await launch(FROM_CHART);
    expect(asked.get("scope")?.split(" ")).toEqual([
      "launch",
      "openid",
      "fhirUser",
      "online_access",
      "patient/Patient.rs",
      "patient/Condition.crus",
      "patient/ImagingStudy.rs",
      "patient/DiagnosticReport.rs",
      "patient/Observation.rs",
      "patient/AllergyIntolerance.rs",
      "patient/Immunization.rs",
      "patient/MedicationRequest.rs",
      "patient/MedicationStatement.rs",
      "patient/Encounter.rs",
      "patient/CarePlan.crus",
      "patient/ServiceRequest.crus",
      "patient/Appointment.crus",
      "patient/QuestionnaireResponse.crus",
      "patient/DocumentReference.crs",
      "patient/Provenance.crs",
      "patient/Task.rus",
      "patient/Communication.rs",
    ]);
  });

  it("S3 speaks the older scope syntax to a server that lists only that", async () => {
    server.wellKnown = () => HttpResponse.json({ ...WELL_KNOWN, capabilities: ["permission-v1"] });
    const { asked } = await launch(FROM_CHART);
    expect(asked.get("scope")).toContain("patient/Condition.read patient/Condition.write");
    expect(asked.get("scope")).toContain("patient/ImagingStudy.read patient/");
    expect(asked.get("scope")).not.toContain(".rs");
  });

  it("S5 asks for no refresh token when the clinic does not want one", async () => {
    const { asked } = await launch(FROM_CHART, {}, { onlineAccess: false });
    expect(asked.get("scope")).not.toContain("_access");
  });

  it.each([
    ["another host", "https://evil.example/fhir", "evil.example"],
    ["user name trick", "https://ehr.example@evil.example/fhir", "evil.example"],
    ["look-alike", "https://ehr.examp1e/fhir", "ehr.examp1e"],
    ["plain http", "http://ehr.example/fhir", "ehr.example"],
    ["script", "javascript:alert(1)", "an address that cannot be read"],
    ["nonsense", "%%%", "an address that cannot be read"],
    ["other path", "https://ehr.example/fhir/evil", "ehr.example"],
  ])(
    "SEC-01 L1 stops at an unknown issuer (%s), names its host as text and sends nothing",
    async (_name, iss, host) => {
      const { answer, tab } = await launch(query({ iss, launch: "xyz" }));
      expect(answer).toMatchObject({ ok: false, problem: { kind: "unknown-issuer", host } });
      expect(server.seen).toEqual([]);
      expect(tab.storage.size).toBe(0);
    },
  );

  it.each(["fhirServiceUrl", "patientId", "clientId", "encounterId"])(
    "SEC-02 refuses a link that brings its own %s, sends nothing and stores nothing",
    async (name) => {
      const { answer, tab } = await launch(`${FROM_CHART}&${name}=victim`);
      expect(answer).toMatchObject({ ok: false, problem: { kind: "bad-launch-link" } });
      expect(server.seen).toEqual([]);
      expect(tab.storage.size).toBe(0);
    },
  );

  it.each([
    ["two issuers", `${FROM_CHART}&iss=https://evil.example/fhir`],
    ["two launches", `${FROM_CHART}&launch=other`],
    ["no launch", query({ iss: BASE })],
    ["no issuer", "?launch=xyz"],
  ])("SEC-01 refuses a link with %s", async (_name, link) => {
    const { answer } = await launch(link);
    expect(answer).toMatchObject({ ok: false, problem: { kind: "bad-launch-link" } });
    expect(server.seen).toEqual([]);
  });

  it("SEC-02 sends the configured issuer and client, whatever way the link spells the issuer", async () => {
    const { asked } = await launch(query({ iss: "https://EHR.example:443/x/../fhir/", launch: "xyz" }));
    expect(asked.get("aud")).toBe(BASE);
    expect(asked.get("client_id")).toBe("fingerpost");
  });

  it.each([[[]], [["plain"]], [undefined]])("L4 SEC-04 refuses a server that offers no S256 (%j)", async (methods) => {
    server.wellKnown = () => HttpResponse.json({ ...WELL_KNOWN, code_challenge_methods_supported: methods });
    const { answer, tab } = await launch(FROM_CHART);
    expect(answer).toMatchObject({ ok: false, problem: { kind: "no-pkce" } });
    expect([...tab.storage.keys()]).toEqual([]);
  });

  it.each<[string, () => Response]>([
    ["is missing", () => new HttpResponse(null, { status: 404 })],
    ["is a web page", () => HttpResponse.html("<h1>Sign in to the network</h1>")],
    ["names no token endpoint", () => HttpResponse.json({ authorization_endpoint: AUTHORIZE })],
    ["names an open connection", () => HttpResponse.json({ ...WELL_KNOWN, token_endpoint: "http://ehr.example/t" })],
    ["is no JSON", () => new HttpResponse("{", { headers: { "content-type": "application/json" } })],
    ["fails", () => HttpResponse.error()],
  ])("REL-01 L5 stops plainly when the server's description %s", async (_name, wellKnown) => {
    server.wellKnown = wellKnown;
    const { answer, tab } = await launch(FROM_CHART);
    expect(answer).toMatchObject({ ok: false, problem: { kind: "server-unreachable", host: "ehr.example" } });
    expect([...tab.storage.keys()]).toEqual([]);
  });

  it("REL-07 says so when the frame blocks storage, before anything is sent", async () => {
    const { answer } = await launch(FROM_CHART, { storageBlocked: true });
    expect(answer).toMatchObject({
      ok: false,
      problem: { kind: "storage-blocked", next: "Open Fingerpost in its own window." },
    });
    expect(server.seen).toEqual([]);
  });

  it("SEC-13 signs in over a private connection only", async () => {
    const { answer } = await launch(FROM_CHART, { insecure: true });
    expect(answer).toMatchObject({ ok: false, problem: { kind: "insecure" } });
    expect(server.seen).toEqual([]);
  });
});

describe("standalone launch", () => {
  it("S2 asks the record system to let the clinician choose a patient, with its own scope string", async () => {
    openTab(`${PLUGIN}launch.html`);
    const { beginStandaloneLaunch } = await import("../../src/smart/launch.ts");
    const answer = await beginStandaloneLaunch(new URL(`${PLUGIN}launch.html`), CONFIG.config.issuers[0]!);
    const asked = new URL(answer.ok ? answer.goTo : "about:blank").searchParams;
    expect(asked.get("scope")).toMatch(/^launch\/patient openid /);
    expect(asked.get("scope")?.split(" ")).not.toContain("launch");
    expect(asked.has("launch")).toBe(false);
    expect(asked.get("aud")).toBe(BASE);
  });
});

describe("proof key (RFC 7636)", () => {
  it("makes the challenge of appendix B of RFC 7636", async () => {
    openTab(PLUGIN);
    const { challengeOf } = await import("../../src/smart/launch.ts");
    // RFC 7636, appendix B: verifier and S256 challenge.
    expect(await challengeOf("dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk")).toBe(
      "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM",
    );
  });
});

describe("the slimmed handshake library", () => {
  const load = createRequire(import.meta.url);
  it("keeps the storage key that the whole library uses", () => {
    const whole = load("fhirclient/lib/settings.js") as { SMART_KEY: string };
    const slim = load("../../src/smart/shims/launch-settings.cjs") as { SMART_KEY: string };
    expect(slim.SMART_KEY).toBe(whole.SMART_KEY);
  });
  it("hands on the state it was given, as the whole library's client does", () => {
    const { default: Client } = load("../../src/smart/shims/launch-state.cjs") as {
      default: new (environment: object, state: object) => { state: object };
    };
    const state = { serverUrl: BASE };
    expect(new Client({}, state).state).toBe(state);
  });
});

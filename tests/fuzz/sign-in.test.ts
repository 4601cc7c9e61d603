import fc from "fast-check";
import { base64url, SignJWT } from "jose";
import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import { openTab, reload } from "../smart/page.ts";
import {
  AUTHORIZE,
  BASE,
  CONFIG,
  ISSUER,
  PLUGIN,
  RecordSystem,
  signingKey,
  TOKEN_ANSWER,
} from "../smart/record-system.ts";
import { deepJson, INHERITED, ODD_WORDS } from "./texts.ts";

const LINKS = 2000;
const TOKEN_ANSWERS = 1000;
const ID_TOKENS = 500;
/** Milliseconds; a busy machine must not end what is counted, not timed. */
const PATIENCE = 300_000;
const LISTED = ["ehr.example", "login.ehr.example"];

let server: RecordSystem;
beforeEach(() => {
  server = new RecordSystem();
  server.start();
});
afterEach(() => {
  server.stop();
  vi.unstubAllGlobals();
});
const strangers = () => server.seen.map((one) => new URL(one.url).host).filter((host) => !LISTED.includes(host));

/** Spellings of the one record system that is configured, and of others that would like to be taken for it. */
const RIGHT = [
  BASE,
  `${BASE}/`,
  "https://EHR.example/fhir",
  "https://ehr.example:443/fhir",
  "https://ehr.example/x/../fhir",
  " https://ehr.example/fhir",
];
const WRONG = [
  "https://evil.example/fhir",
  "https://ehr.example@evil.example/fhir",
  "https://ehr.example:x@evil.example/fhir",
  "https://ok@ehr.example/fhir",
  "https://ehr.example./fhir",
  "https://ehr.example:8443/fhir",
  "https://ehr.example.evil.example/fhir",
  "https://ehr\u0435.example/fhir",
  "https://xn--hr-2mc.example/fhir",
  "http://ehr.example/fhir",
  "https://ehr.example/fhir/evil",
  "https://ehr.example/fhirs",
  "https://ehr.example/",
  "https://ehr.example/fhir%2f",
  "https://ehr.example/%66hir",
  "https://ehr.example/fhir?x",
  "https://ehr.example/fhir#x",
  "https://ehr.example\\@evil.example/fhir",
  "//ehr.example/fhir",
  "/fhir",
  "javascript:alert(1)//https://ehr.example/fhir",
  "data:text/html,https://ehr.example/fhir",
  "blob:https://ehr.example/fhir",
  "file:///fhir",
  "ftp://ehr.example/fhir",
  ...ODD_WORDS,
  ...INHERITED,
];
const part = fc.oneof(
  fc.constantFrom(...ODD_WORDS, ...WRONG),
  fc.string({ maxLength: 30, unit: "binary" }),
  fc.webUrl(),
);
const parameter = fc.tuple(
  fc.constantFrom(
    "iss",
    "launch",
    "fhirServiceUrl",
    "patientId",
    "clientId",
    "encounterId",
    "state",
    "code",
    "aud",
    "redirect_uri",
    "scope",
    "__proto__",
  ),
  part,
);
const link = fc.record({
  iss: fc.oneof(fc.constantFrom(...RIGHT), fc.constantFrom(...WRONG), part),
  launch: fc.oneof(fc.constant("xyz"), part),
  more: fc.array(parameter, { maxLength: 2 }),
  /** Raw text behind it, not encoded. */
  tail: fc.constantFrom(
    "",
    "&iss",
    "&iss=https://evil.example",
    "&%69ss=https%3A%2F%2Fevil.example",
    "#iss=https://evil.example",
    "&launch",
    "?iss=x",
    "&&=&;",
    "%",
    "%zz",
  ),
});
type Link = typeof link extends fc.Arbitrary<infer L> ? L : never;
/** An address bar takes lone halves of characters as U+FFFD. */
const parameters = (one: Link) => new URLSearchParams([["iss", one.iss], ["launch", one.launch], ...one.more]);

describe("launch links of every kind, generated", () => {
  it(
    "SEC-01 SEC-02 L1 GATE-08 2,000 of them: no crash, no request to a host that is not listed, no way in but the configured one",
    async () => {
      const tab = openTab(`${PLUGIN}launch.html`);
      const { beginLaunch } = await import("../../src/smart/launch.ts");
      let opened = 0;
      await fc.assert(
        fc.asyncProperty(link, async (one) => {
          const address = new URL(`${PLUGIN}launch.html?${parameters(one)}${one.tail}`);
          server.seen.length = 0;
          const answer = await beginLaunch(address, CONFIG.config);
          expect(strangers()).toEqual([]);
          const asked = address.searchParams;
          if (!answer.ok) {
            expect(server.seen, "nothing is asked before the launch is accepted").toEqual([]);
            expect(`${answer.problem.title}${answer.problem.what}${answer.problem.next}`).not.toMatch(
              /undefined|\[object/,
            );
            return;
          }
          opened++;
          const goTo = new URL(answer.goTo);
          expect(goTo.origin + goTo.pathname).toBe(AUTHORIZE);
          expect(goTo.searchParams.getAll("aud")).toEqual([BASE]);
          expect(goTo.searchParams.getAll("client_id")).toEqual(["fingerpost"]);
          expect(goTo.searchParams.getAll("redirect_uri")).toEqual([PLUGIN]);
          expect(goTo.searchParams.getAll("launch")).toEqual(asked.getAll("launch"));
          expect(WRONG).not.toContain(asked.get("iss"));
          expect([asked.getAll("iss").length, asked.getAll("launch").length]).toEqual([1, 1]);
          for (const never of ["fhirServiceUrl", "patientId", "clientId", "encounterId"])
            expect(asked.has(never)).toBe(false);
          tab.storage.clear();
        }),
        { numRuns: LINKS },
      );
      expect(opened, "right links are among them, so the check is not empty").toBeGreaterThan(LINKS / 20);
    },
    PATIENCE,
  );
});

const odd = fc.oneof(
  fc.constantFrom<unknown>(null, undefined, 0, -1, 1e308, true, [], {}, "", "300", "soon", ["patient"], {
    reference: "Patient/p1",
  }),
  fc.constantFrom<unknown>(...ODD_WORDS, ...INHERITED),
  fc.constantFrom<unknown>("../Patient/2", "p1?_count=0", "https://evil.example/fhir/Patient/p1", "a".repeat(65)),
);
const FIELDS = [
  ...Object.keys(TOKEN_ANSWER),
  "id_token",
  "fhirContext",
  "error",
  "serverUrl",
  "tokenUri",
  "tenant",
  "smart_style_url",
];
/** A good answer with up to three fields that are not, or a text that is no answer at all. */
const tokenAnswer = fc.oneof(
  { weight: 8, arbitrary: fc.array(fc.tuple(fc.constantFrom(...FIELDS), odd), { maxLength: 3 }) },
  {
    weight: 2,
    arbitrary: fc.constantFrom(
      "",
      "null",
      "[]",
      "{",
      "<html>sign in</html>",
      '"token"',
      deepJson(10_000),
      '{"__proto__":{"access_token":"x","patient":"p2"}}',
    ),
  },
);
const bodyOf = (answer: string | [string, unknown][]): string =>
  typeof answer === "string" ? answer : JSON.stringify({ ...TOKEN_ANSWER, ...Object.fromEntries(answer) });

describe("answers to the sign-in, generated", () => {
  it(
    "REL-05 REL-06 SEC-20 GATE-08 1,000 of them: a session of one well-named patient on the configured server, or a plain stop",
    async () => {
      let opened = 0;
      const launching = openTab(`${PLUGIN}launch.html?${new URLSearchParams({ iss: BASE, launch: "xyz" })}`);
      const { beginLaunch } = await import("../../src/smart/launch.ts");
      await fc.assert(
        fc.asyncProperty(tokenAnswer, async (said) => {
          const start = await beginLaunch(
            new URL(`${PLUGIN}launch.html?${new URLSearchParams({ iss: BASE, launch: "xyz" })}`),
            CONFIG.config,
          );
          if (!start.ok) throw new Error(start.problem.title);
          const state = new URL(start.goTo).searchParams.get("state")!;
          const body = bodyOf(said);
          server.token = () => new HttpResponse(body, { headers: { "content-type": "application/json" } });
          server.seen.length = 0;
          const tab = reload(launching, `${PLUGIN}?${new URLSearchParams({ code: "c1", state })}`);
          const { openSession } = await import("../../src/smart/session.ts");
          const answer = await openSession(CONFIG);
          expect(strangers()).toEqual([]);
          if (!answer.ok) {
            expect([...tab.storage.values()].join(), "no token stays behind").not.toContain("canary");
            expect(`${answer.problem.title}${answer.problem.what}`).not.toMatch(/undefined|\[object|canary/);
            return;
          }
          opened++;
          const { context, fhir } = answer.session;
          expect(context.base).toBe(BASE);
          expect(context.patientId).toMatch(/^[A-Za-z0-9\-.]{1,64}$/);
          expect(fhir.base).toBe(BASE);
          expect(answer.session.user.reference ?? "Practitioner/1").toMatch(/^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/);
          answer.session.end();
          expect([...tab.storage.values()].join()).not.toContain("canary");
          tab.storage.clear();
        }),
        { numRuns: TOKEN_ANSWERS },
      );
      expect(opened).toBeGreaterThan(TOKEN_ANSWERS / 20);
    },
    PATIENCE,
  );
});

const CLAIMS = ["iss", "aud", "exp", "nbf", "iat", "nonce", "azp", "fhirUser", "name", "sub", "__proto__"];
const idToken = fc.record({
  made: fc.constantFrom("well", "well", "well", "alg-none", "shared-secret", "other-key", "garbage", "cut", "deep"),
  claims: fc.array(
    fc.tuple(
      fc.constantFrom(...CLAIMS),
      fc.oneof(
        odd,
        fc.constantFrom<unknown>(
          "https://evil.example/fhir/Practitioner/dr-1",
          "Patient/p1",
          "Practitioner/dr-1",
          "https://evil.example",
          ["fingerpost"],
          ["fingerpost", "other"],
        ),
      ),
    ),
    { maxLength: 2 },
  ),
  text: fc.string({ maxLength: 60 }),
});

describe("proofs of who is signed in, generated", () => {
  it(
    "SEC-12 GATE-08 500 of them: nobody signs but a clinician of this server whose proof holds",
    async () => {
      openTab(PLUGIN);
      const [{ claimedUser }, { verifiedSigner }, key, other] = await Promise.all([
        import("../../src/smart/claimed-user.ts"),
        import("../../src/smart/identity.ts"),
        signingKey(),
        signingKey(),
      ]);
      server.jwks = () => HttpResponse.json(key.jwks);
      const good = {
        iss: ISSUER,
        aud: "fingerpost",
        nonce: "n1",
        fhirUser: `${BASE}/Practitioner/dr-1`,
        exp: Math.floor(Date.now() / 1000) + 300,
      };
      const encoded = (value: unknown) => base64url.encode(JSON.stringify(value));
      let signs = 0;
      await fc.assert(
        fc.asyncProperty(idToken, async ({ made, claims, text }) => {
          const payload = { ...good, ...Object.fromEntries(claims) };
          const forged = (header: object) =>
            `${encoded(header)}.${encoded(payload)}.${base64url.encode("x".repeat(256))}`;
          const token = await {
            well: () => key.sign(payload),
            "other-key": () => other.sign(payload),
            "alg-none": () => `${encoded({ alg: "none" })}.${encoded(payload)}.`,
            "shared-secret": () =>
              new SignJWT({ ...good })
                .setProtectedHeader({ alg: "HS256", kid: "k1" })
                .sign(new TextEncoder().encode(JSON.stringify(key.jwks.keys[0]))),
            garbage: () => text,
            cut: () => forged({ alg: "RS256", kid: "k1" }).slice(0, text.length * 3),
            deep: () => `${encoded({ alg: "RS256" })}.${base64url.encode(deepJson(10_000))}.x`,
          }[made]();
          const claimed = claimedUser(token, BASE);
          expect(claimed.reference ?? "Practitioner/1").toMatch(/^[A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64}$/);
          const signer = await verifiedSigner(token, {
            base: BASE,
            clientId: "fingerpost",
            nonce: "n1",
            arrivedAt: Date.now(),
          });
          expect(strangers()).toEqual([]);
          if (!signer.ok) return;
          signs++;
          expect(made).toBe("well");
          expect(signer.reference).toBe("Practitioner/dr-1");
          expect([payload.iss, payload.nonce, [payload.aud].flat()[0]]).toEqual([ISSUER, "n1", "fingerpost"]);
        }),
        { numRuns: ID_TOKENS },
      );
      expect(signs).toBeGreaterThan(ID_TOKENS / 50);
    },
    PATIENCE,
  );
});

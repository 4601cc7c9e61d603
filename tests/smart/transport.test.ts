import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { TokenSource, TokenState } from "../../src/smart/token.ts";
import { fhirTransport, retryAfter, type TransportLimits } from "../../src/smart/transport.ts";
import { BASE, bundleOf, fhirJson, outcome, RecordSystem } from "./record-system.ts";

let server: RecordSystem;
beforeEach(() => {
  server = new RecordSystem();
  server.start();
});
afterEach(() => server.stop());

const OPEN: TokenState = { kind: "open" };
const token: TokenSource = {
  current: async () => "secret-token",
  renewAfter: async () => false,
  state: () => OPEN,
};
const waits: number[] = [];
beforeEach(() => {
  waits.length = 0;
});
const transport = (limits: Partial<TransportLimits> = {}) =>
  fhirTransport({
    base: BASE,
    token,
    limits,
    wait: async (ms) => {
      waits.push(ms);
    },
  });

const condition = (id: string) => ({ resourceType: "Condition", id, subject: { reference: "Patient/p1" } });
const search = (limits?: Partial<TransportLimits>, limit = 100) =>
  transport(limits).search("Condition?patient=p1&_count=2", { limit });

describe("reading", () => {
  it("asks for FHIR JSON with the token, and takes the answer", async () => {
    server.fhir = () => fhirJson({ resourceType: "Patient", id: "p1" });
    expect(await transport().read("Patient/p1")).toMatchObject({ ok: true, value: { id: "p1" } });
    expect(server.seen[0]).toMatchObject({ url: `${BASE}/Patient/p1`, authorization: "Bearer secret-token" });
  });

  it.each([
    [403, "refused"],
    [404, "not-found"],
    [410, "not-found"],
    [405, "unsupported"],
    [501, "unsupported"],
    [400, "invalid"],
    [422, "invalid"],
    [409, "conflict"],
    [412, "conflict"],
    [500, "server"],
  ])("R4 REL-10 tells HTTP %i apart as %s", async (status, kind) => {
    server.fhir = () => fhirJson(outcome("Zebra Quagga has no film"), { status });
    const answer = await transport().read("Patient/p1");
    expect(answer).toMatchObject({ ok: false, problem: { kind, status } });
    expect(server.seen).toHaveLength(1);
  });

  it("R4 a type that the server does not know is 'unsupported', not an empty list", async () => {
    server.fhir = () => fhirJson(outcome("Unknown type"), { status: 404 });
    expect(await search()).toMatchObject({ ok: false, problem: { kind: "unsupported" } });
  });

  it("SEC-28 keeps the server's words as an object, apart from the sentences, which hold no chart data", async () => {
    server.fhir = () => fhirJson(outcome("Zebra Quagga has no film"), { status: 422 });
    const answer = await transport().read("Patient/p1");
    if (answer.ok) throw new Error("accepted");
    const { title, what, next, outcome: issues } = answer.problem;
    expect(issues).toEqual([
      { severity: "error", code: "processing", text: "Zebra Quagga has no film", at: ["CarePlan.status"] },
    ]);
    expect([title, what, next].join()).not.toMatch(/Zebra|p1|ehr\.example/);
  });

  it.each<[string, () => Response]>([
    ["a web page", () => HttpResponse.html("<h1>Network sign-in</h1>")],
    ["half a JSON", () => fhirJson('{"resourceType":"Pati')],
    ["another type", () => fhirJson({ resourceType: "Group", id: "p1" })],
    ["no resource", () => fhirJson({ hello: 1 })],
    ["a list", () => fhirJson("[]")],
    [
      "plain text",
      () => new HttpResponse('{"resourceType":"Patient","id":"p1"}', { headers: { "content-type": "text/plain" } }),
    ],
    [
      "broken letters",
      () =>
        new HttpResponse(
          new Uint8Array([...new TextEncoder().encode('{"resourceType":"Patient","id":"'), 0xff, 0x22, 0x7d]),
          {
            headers: { "content-type": "application/fhir+json" },
          },
        ),
    ],
  ])("REL-16 uses nothing of an answer that is %s", async (_name, fhir) => {
    server.fhir = fhir;
    expect(await transport().read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "not-fhir" } });
  });

  it("REL-16 reads past a byte order mark", async () => {
    server.fhir = () => fhirJson('\uFEFF{"resourceType":"Patient","id":"p1"}');
    expect((await transport().read("Patient/p1")).ok).toBe(true);
  });

  it("SEC-19 stops reading an answer that is larger than the cap, and pollutes nothing", async () => {
    server.fhir = () => fhirJson({ resourceType: "Patient", id: "p1", text: "x".repeat(5000) });
    expect(await transport({ bytes: 4000 }).read("Patient/p1")).toMatchObject({
      ok: false,
      problem: { kind: "too-large" },
    });
    server.fhir = () => fhirJson('{"resourceType":"Patient","id":"p1","__proto__":{"polluted":true}}');
    expect((await transport().read("Patient/p1")).ok).toBe(true);
    expect(({} as { polluted?: boolean }).polluted).toBeUndefined();
  });

  it("gives up on a server that never answers", async () => {
    server.fhir = () => new Promise(() => {});
    expect(await transport({ read: 20 }).read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "timeout" } });
    expect(server.seen).toHaveLength(1);
  });

  it("stops when it is told to", async () => {
    server.fhir = () => new Promise(() => {});
    const stop = new AbortController();
    const reading = transport().read("Patient/p1", { signal: stop.signal });
    stop.abort();
    expect(await reading).toMatchObject({ ok: false, problem: { kind: "stopped" } });
  });

  it.each(["https://evil.example/fhir/Patient/p1", "../admin", "//evil.example/x"])(
    "SEC-10 sends nothing to %s",
    async (reference) => {
      expect(await transport().read(reference)).toMatchObject({ ok: false, problem: { kind: "foreign-url" } });
      expect(server.seen).toEqual([]);
    },
  );

  it("SEC-10 follows no redirect, wherever it leads", async () => {
    server.fhir = () => new HttpResponse(null, { status: 302, headers: { location: "https://evil.example/" } });
    expect(await transport().read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "offline" } });
    expect(server.to("evil.example")).toEqual([]);
  });
});

describe("trying again", () => {
  it.each([429, 502, 503, 504])("REL-12 reads again after HTTP %i, three times at most", async (status) => {
    server.fhir = () => fhirJson({}, { status });
    expect((await transport().read("Patient/p1")).ok).toBe(false);
    expect(server.seen).toHaveLength(3);
    expect(waits).toHaveLength(2);
    expect(Math.max(...waits)).toBeLessThanOrEqual(8000);
  });

  it("REL-12 waits as long as the server asks", async () => {
    let asked = 0;
    server.fhir = () =>
      ++asked === 1
        ? fhirJson({}, { status: 503, headers: { "retry-after": "7" } })
        : fhirJson({ resourceType: "Patient", id: "p1" });
    expect((await transport().read("Patient/p1")).ok).toBe(true);
    expect(waits).toEqual([7000]);
  });

  it("REL-12 does not wait for a day, but says how long it would be", async () => {
    server.fhir = () => fhirJson({}, { status: 429, headers: { "retry-after": "86400" } });
    expect(await transport().read("Patient/p1")).toMatchObject({
      ok: false,
      problem: { kind: "busy", retryAfterSeconds: 86_400 },
    });
    expect(waits).toEqual([]);
  });

  it("REL-12 understands both forms of Retry-After", () => {
    const now = Date.UTC(2026, 0, 1, 12, 0, 0);
    expect(retryAfter("0", now)).toBe(0);
    expect(retryAfter("120", now)).toBe(120);
    expect(retryAfter("Thu, 01 Jan 2026 12:00:30 GMT", now)).toBe(30);
    expect(retryAfter("Thu, 01 Jan 2026 11:00:00 GMT", now)).toBe(0);
    // RFC 9110 5.6.7: the obsolete form, which ends with a number, is to be understood too.
    expect(retryAfter("Sun Nov  6 08:49:37 1994", now)).toBe(0);
    expect(retryAfter("soon", now)).toBeUndefined();
    expect(retryAfter(null, now)).toBeUndefined();
  });

  it("reads again after a cut connection", async () => {
    let asked = 0;
    server.fhir = () => (++asked === 1 ? HttpResponse.error() : fhirJson({ resourceType: "Patient", id: "p1" }));
    expect((await transport().read("Patient/p1")).ok).toBe(true);
  });

  it.each([503, 500, 429])("never sends a write twice (HTTP %i)", async (status) => {
    server.fhir = () => fhirJson({}, { status });
    expect((await transport().transaction("{}")).ok).toBe(false);
    expect(server.seen).toHaveLength(1);
  });
});

describe("R1 REL-14 pages", () => {
  it("are followed to the end, and one resource on two pages counts once", async () => {
    server.fhir = (request) =>
      fhirJson(
        request.url.includes("page=2")
          ? bundleOf([condition("b"), condition("c")])
          : bundleOf([condition("a"), condition("b")], `${BASE}/Condition?page=2`),
      );
    const answer = await search();
    if (!answer.ok) throw new Error(answer.problem.title);
    expect(answer.value.matches.map((one) => one.id)).toEqual(["a", "b", "c"]);
    expect(answer.value.more).toBe(false);
  });

  it("stop at the limit, and it is said that there is more", async () => {
    let page = 0;
    server.fhir = () =>
      fhirJson(bundleOf([condition(`x${page}`), condition(`y${page}`)], `${BASE}/Condition?page=${++page}`));
    const answer = await search({}, 5);
    expect(answer).toMatchObject({ ok: true, value: { more: true, stoppedBy: "limit" } });
    expect(server.seen).toHaveLength(3);
  });

  it("stop at the cap of pages when every page is empty", async () => {
    let page = 0;
    server.fhir = () => fhirJson(bundleOf([], `${BASE}/Condition?page=${++page}`));
    expect(await search({ pages: 4 })).toMatchObject({ ok: true, value: { more: true, stoppedBy: "limit" } });
    expect(server.seen).toHaveLength(4);
  });

  it.each([
    ["to itself", [`${BASE}/Condition?patient=p1&_count=2`]],
    [
      "in a circle of three",
      [`${BASE}/Condition?p=1`, `${BASE}/Condition?p=2`, `${BASE}/Condition?patient=p1&_count=2`],
    ],
  ])("that lead %s end, and it is said that the rest is missing", async (_name, links) => {
    let at = 0;
    server.fhir = () => fhirJson(bundleOf([condition("a")], links[at++ % links.length]));
    expect(await search()).toMatchObject({
      ok: true,
      value: { more: true, stoppedBy: "loop", matches: [{ id: "a" }] },
    });
    expect(server.seen).toHaveLength(links.length);
  });

  it.each([
    "https://evil.example/fhir/Condition?page=2",
    "https://ehr.example/other/Condition?page=2",
    "http://ehr.example:8080/fhir/Condition?page=2",
    "https://ehr.example@evil.example/fhir/Condition",
  ])("SEC-10 on another server (%s) never get the token", async (next) => {
    server.fhir = () => fhirJson(bundleOf([condition("a")], next));
    expect(await search()).toMatchObject({
      ok: true,
      value: { more: true, stoppedBy: "foreign-link", matches: [{ id: "a" }] },
    });
    expect(server.seen).toHaveLength(1);
  });

  it("with http from a proxy are asked for over https", async () => {
    server.fhir = (request) =>
      fhirJson(
        request.url.includes("page=2")
          ? bundleOf([condition("b")])
          : bundleOf([condition("a")], "http://ehr.example/fhir/Condition?page=2"),
      );
    expect(await search()).toMatchObject({ ok: true, value: { more: false, matches: [{ id: "a" }, { id: "b" }] } });
    expect(server.seen.every((one) => one.url.startsWith("https:"))).toBe(true);
  });

  it("that fail later leave what was read, called incomplete", async () => {
    server.fhir = (request) =>
      request.url.includes("page=2")
        ? fhirJson(outcome("gone"), { status: 404 })
        : fhirJson(bundleOf([condition("a")], `${BASE}/Condition?page=2`));
    expect(await search()).toMatchObject({
      ok: true,
      value: { more: true, stoppedBy: "unsupported", matches: [{ id: "a" }] },
    });
  });
});

describe("search results", () => {
  it("R2 REL-13 keep matches, included resources and the server's remarks apart", async () => {
    server.fhir = () =>
      fhirJson({
        resourceType: "Bundle",
        type: "searchset",
        entry: [
          { resource: condition("a"), search: { mode: "match" } },
          { resource: { resourceType: "Patient", id: "p1" }, search: { mode: "include" } },
          { resource: outcome("_sort was ignored"), search: { mode: "outcome" } },
          { resource: { resourceType: "Practitioner", id: "d1" } },
          { resource: condition("b") },
          { fullUrl: "urn:uuid:1" },
          { resource: { id: "no type" } },
          "nonsense",
        ],
      });
    const answer = await search();
    if (!answer.ok) throw new Error(answer.problem.title);
    expect(answer.value.matches.map((one) => one.id)).toEqual(["a", "b"]);
    expect(answer.value.included.map((one) => one.id)).toEqual(["p1", "d1"]);
    expect(answer.value.remarks).toHaveLength(1);
    expect(answer.value.unreadable).toBe(3);
  });

  it.each([
    ["more than it sent", 3, "total"],
    ["what it sent", 2, undefined],
    ["fewer than it sent, which leaves nothing out", 1, undefined],
    ["in words", "three", undefined],
  ])("R3 REL-13 whose total counts %s", async (_name, total, stoppedBy) => {
    server.fhir = () => fhirJson({ ...bundleOf([condition("a"), condition("b")]), total });
    const answer = await search();
    if (!answer.ok) throw new Error("refused");
    expect(answer.value.matches).toHaveLength(2);
    expect(answer.value.stoppedBy).toBe(stoppedBy);
    expect(answer.value.more).toBe(stoppedBy !== undefined);
  });

  it("REL-16 that hold entries without an id lose none of them", async () => {
    server.fhir = () =>
      fhirJson(bundleOf([{ resourceType: "Condition" }, { resourceType: "Condition" }, condition("a")]));
    const answer = await search();
    expect(answer.ok && answer.value.matches).toHaveLength(3);
  });

  it("SEC-19 that hold an entry nested too deep, or with keys that tamper with objects, count it and use the rest", async () => {
    const deep = `{"resourceType":"Condition","id":"d","note":${"[".repeat(10_000)}${"]".repeat(10_000)}}`;
    const tampering = ["__proto__", "constructor", "prototype"].map(
      (key, i) => `{"resourceType":"Condition","id":"t${i}","code":{"${key}":{"polluted":true}}}`,
    );
    const entries = [deep, ...tampering, JSON.stringify(condition("a"))].map((one) => `{"resource":${one}}`);
    server.fhir = () => fhirJson(`{"resourceType":"Bundle","entry":[${entries}]}`);
    const answer = await search();
    if (!answer.ok) throw new Error("refused");
    expect(answer.value.matches.map((one) => one.id)).toEqual(["a"]);
    expect(answer.value.unreadable).toBe(4);
    server.fhir = () => fhirJson(deep);
    expect(await transport().read("Condition/d")).toMatchObject({ ok: false, problem: { kind: "not-fhir" } });
    expect(({} as { polluted?: boolean }).polluted).toBeUndefined();
  });

  it("SEC-19 of 50 megabytes are not read to the end", async () => {
    const piece = new TextEncoder().encode(`{"resourceType":"Bundle","x":"${"a".repeat(1_000_000)}`);
    let sent = 0;
    server.fhir = () =>
      new HttpResponse(
        new ReadableStream({
          pull(controller) {
            if (sent >= 50) return controller.close();
            sent++;
            controller.enqueue(piece);
          },
        }),
        { headers: { "content-type": "application/fhir+json" } },
      );
    expect(await search()).toMatchObject({ ok: false, problem: { kind: "too-large" } });
    expect(sent, "megabytes taken").toBeLessThan(30);
  });

  it("REL-16 that are no Bundle are no empty list", async () => {
    server.fhir = () => fhirJson({ resourceType: "OperationOutcome", issue: [] });
    expect(await search()).toMatchObject({ ok: false, problem: { kind: "not-fhir" } });
  });
});

/** What goes out to the record system, request by request, and what is made of each answer: with the network replaced. */
import { beforeEach, describe, expect, it, vi } from "vitest";
import type { TokenState } from "../../src/smart/token.ts";
import {
  type FhirProblemKind,
  fhirProblem,
  fhirTransport,
  outcomeIn,
  retryAfter,
  type TransportLimits,
} from "../../src/smart/transport.ts";
import { fakeNetwork, json } from "./fake-network.ts";
import { BASE, bundleOf, outcome } from "./record-system.ts";

const { sent, answering } = fakeNetwork();

interface Signing {
  tokens: (string | undefined)[];
  renews: boolean;
  state: TokenState;
  refused: string[];
}
let signing: Signing;
let waits: number[];
beforeEach(() => {
  signing = { tokens: ["first"], renews: false, state: { kind: "open" }, refused: [] };
  waits = [];
});
const transport = (limits: Partial<TransportLimits> = {}) =>
  fhirTransport({
    base: BASE,
    token: {
      current: async () => (signing.tokens.length > 1 ? signing.tokens.shift() : signing.tokens[0]),
      renewAfter: async (used) => {
        signing.refused.push(used);
        return signing.renews;
      },
      state: () => signing.state,
    },
    limits,
    wait: async (ms) => void waits.push(ms),
  });
const timeouts = () => vi.spyOn(AbortSignal, "timeout");

describe("SEC-11 one request", () => {
  it("that reads carries the token and asks for FHIR JSON, without a body, cookies, redirects or the page's address", async () => {
    await transport().read("Patient/p1");
    expect(sent[0]?.url).toBe(`${BASE}/Patient/p1`);
    const { signal, ...init } = sent[0]!.init;
    expect(signal).toBeInstanceOf(AbortSignal);
    expect(init).toEqual({
      headers: { accept: "application/fhir+json", authorization: "Bearer first" },
      cache: "no-store",
      credentials: "omit",
      redirect: "error",
      referrerPolicy: "no-referrer",
    });
  });

  it("of the first reading of a chart may come out of what the record system allows to be kept", async () => {
    await transport().read("Patient/p1", { mayBeKept: true });
    answering(() => json(bundleOf([])));
    await transport().search("Condition?patient=p1", { limit: 5, mayBeKept: true });
    await transport().search("Condition?patient=p1", { limit: 5 });
    expect(sent.map(({ init }) => init.cache)).toEqual(["default", "default", "no-store"]);
  });

  it("that writes has a body, its kind and its condition", async () => {
    answering(() => json("", 201));
    await transport().write("Condition", '{"a":1}', { headers: { "if-none-exist": "identifier=x|1" } });
    await transport().write("Condition/12", '{"a":2}', { method: "PUT", headers: { "if-match": 'W/"3"' } });
    await transport().transaction("{}");
    expect(sent.map(({ url, init }) => [init.method, url, init.body])).toEqual([
      ["POST", `${BASE}/Condition`, '{"a":1}'],
      ["PUT", `${BASE}/Condition/12`, '{"a":2}'],
      ["POST", BASE.replace(/\/$/, ""), "{}"],
    ]);
    expect(sent[0]?.init.headers).toEqual({
      accept: "application/fhir+json",
      authorization: "Bearer first",
      "content-type": "application/fhir+json",
      "if-none-exist": "identifier=x|1",
    });
    expect(sent[1]?.init.headers["if-match"]).toBe('W/"3"');
  });

  it.each([
    ["a read", 20_000, () => transport().read("Patient/p1")],
    ["the first page of a search", 20_000, () => transport().search("Condition?x=1", { limit: 1 })],
    ["a write", 30_000, () => transport().write("Condition", "{}")],
    ["a transaction", 30_000, () => transport().transaction("{}")],
  ])("REL-12 %s is given up after %i milliseconds", async (_what, ms, act) => {
    const asked = timeouts();
    await act();
    expect(asked.mock.calls).toEqual([[ms]]);
  });

  it("REL-12 later pages have a time of their own", async () => {
    const asked = timeouts();
    answering(
      () => json(bundleOf([], `${BASE}/Condition?page=2`)),
      () => json(bundleOf([])),
    );
    await transport().search("Condition?x=1", { limit: 5 });
    expect(asked.mock.calls).toEqual([[20_000], [30_000]]);
  });

  it("SEC-10 outside the base is not sent, be it read, search or write", async () => {
    const FOREIGN = { ok: false, problem: { kind: "foreign-url" } };
    expect(await transport().read("https://evil.example/Patient/p1")).toMatchObject(FOREIGN);
    expect(await transport().search("https://evil.example/Patient", { limit: 1 })).toMatchObject(FOREIGN);
    expect(await transport().write("https://evil.example/Patient", "{}")).toMatchObject(FOREIGN);
    expect(sent).toEqual([]);
  });

  it("ends with the page's own signal, or with its own time, whichever comes first", async () => {
    const stop = new AbortController();
    await transport().read("Patient/p1", { signal: stop.signal });
    const { signal } = sent[0]!.init;
    expect(signal?.aborted).toBe(false);
    stop.abort();
    expect(signal?.aborted).toBe(true);
  });

  it("hears the date of each answer, and whether it may be an old one", async () => {
    const heard: unknown[] = [];
    const clock = { hear: (...all: unknown[]) => void heard.push(all) };
    answering(() => json({ resourceType: "Patient" }, 200, { date: "Tue, 10 Mar 2026 12:00:00 GMT" }));
    const one = fhirTransport({
      base: BASE,
      token: { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) },
      clock: clock as never,
    });
    await one.read("Patient/p1", { mayBeKept: true });
    await one.read("Patient/p1");
    expect(heard).toEqual([
      ["Tue, 10 Mar 2026 12:00:00 GMT", true],
      ["Tue, 10 Mar 2026 12:00:00 GMT", undefined],
    ]);
  });
});

describe("a sign-in that ends", () => {
  const ENDED: TokenState = { kind: "ended", problem: { kind: "ended", title: "", what: "", next: "" } };
  const LOCKED: TokenState = { kind: "locked", problem: { kind: "locked", title: "", what: "", next: "" } };
  it.each<[TokenState, FhirProblemKind]>([
    [ENDED, "ended"],
    [LOCKED, "locked"],
    [{ kind: "open" }, "offline"],
  ])("REL-34 before a request: nothing is sent, and it is told why (%j)", async (state, kind) => {
    signing = { ...signing, tokens: [undefined], state };
    expect(await transport().read("Patient/p1")).toEqual({ ok: false, problem: fhirProblem(kind) });
    expect(await transport().write("Condition", "{}")).toEqual({ ok: false, problem: fhirProblem(kind) });
    expect(sent).toEqual([]);
  });

  it("REL-11 a refused read is repeated once with the renewed token", async () => {
    signing = { ...signing, tokens: ["first", "second"], renews: true };
    answering(
      () => json("", 401),
      () => json({ resourceType: "Patient", id: "p1" }),
    );
    expect(await transport().read("Patient/p1")).toMatchObject({ ok: true, value: { id: "p1" } });
    expect(sent.map(({ init }) => init.headers.authorization)).toEqual(["Bearer first", "Bearer second"]);
    expect(signing.refused).toEqual(["first"]);
  });

  it("REL-11 refused with a fresh token too, it is a refusal, and no third one is asked for", async () => {
    signing = { ...signing, renews: true };
    answering(() => json("", 401));
    expect(await transport().read("Patient/p1")).toEqual({
      ok: false,
      problem: fhirProblem("refused", { status: 401 }),
    });
    expect(sent).toHaveLength(2);
    expect(signing.refused).toHaveLength(1);
  });

  it("REL-11 where it cannot be renewed it is told how the session stands", async () => {
    signing = { ...signing, state: ENDED };
    answering(() => json("", 401));
    expect(await transport().read("Patient/p1")).toEqual({ ok: false, problem: fhirProblem("ended") });
    expect(sent).toHaveLength(1);
  });

  it("REL-11 a refused write is not repeated, but the token is renewed for the next", async () => {
    signing = { ...signing, renews: true };
    answering(() => json("", 401));
    expect(await transport().write("Condition", "{}")).toMatchObject({ ok: false, problem: { status: 401 } });
    expect(sent).toHaveLength(1);
    expect(signing.refused).toEqual(["first"]);
    answering(() => json("", 403));
    await transport().write("Condition", "{}");
    expect(signing.refused, "any other refusal is none of the token").toHaveLength(1);
  });
});

describe("REL-12 reading again", () => {
  beforeEach(() => vi.spyOn(Math, "random").mockReturnValue(1));
  it("waits longer each time, and no more than three times in all", async () => {
    answering(() => json("", 503));
    expect(await transport().read("Patient/p1")).toMatchObject({ ok: false, problem: { kind: "server", status: 503 } });
    expect(waits).toEqual([2000, 8000]);
    expect(sent).toHaveLength(3);
  });
  it.each([
    [60, [60_000, 60_000], 3],
    [61, [], 1],
    [0, [0, 0], 3],
  ])("when the server asks for %i seconds", async (seconds, waited, times) => {
    answering(() => json("", 429, { "retry-after": String(seconds) }));
    const answer = await transport().read("Patient/p1");
    expect(answer).toMatchObject({ problem: { kind: "busy", retryAfterSeconds: seconds } });
    expect(waits).toEqual(waited);
    expect(sent).toHaveLength(times);
  });
  it.each([400, 404, 500, 501])("not after HTTP %i, which says all there is to say", async (status) => {
    answering(() => json("", status));
    await transport().read("Patient/p1");
    expect(sent).toHaveLength(1);
  });
  it.each([undefined, new AbortController().signal])(
    "after a cut connection, which is no stop (%s)",
    async (signal) => {
      answering(() => {
        throw new TypeError("cut");
      });
      expect(await transport().read("Patient/p1", { signal })).toEqual({ ok: false, problem: fhirProblem("offline") });
      expect(sent).toHaveLength(3);
    },
  );
  it("not after the page stopped it", async () => {
    const stop = new AbortController();
    answering(() => {
      stop.abort();
      throw new TypeError("aborted");
    });
    expect(await transport().read("Patient/p1", { signal: stop.signal })).toEqual({
      ok: false,
      problem: fhirProblem("stopped"),
    });
    expect(sent).toHaveLength(1);
  });
  it("waits of itself, and no longer once it is stopped", async () => {
    vi.useFakeTimers();
    try {
      answering(() => json("", 503, { "retry-after": "30" }));
      const stop = new AbortController();
      const one = fhirTransport({
        base: BASE,
        token: { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) },
      });
      const reading = one.read("Patient/p1", { signal: stop.signal });
      await vi.advanceTimersByTimeAsync(29_000);
      expect(sent).toHaveLength(1);
      await vi.advanceTimersByTimeAsync(1000);
      expect(sent).toHaveLength(2);
      stop.abort();
      await vi.advanceTimersByTimeAsync(0);
      await reading;
      expect(sent).toHaveLength(3);
      expect(vi.getTimerCount(), "nothing waits on").toBe(0);
    } finally {
      vi.useRealTimers();
    }
  });
});

describe("REL-16 what is made of an answer", () => {
  const reading = () => transport().read("Patient/p1");
  it.each<[string, () => Response, FhirProblemKind]>([
    ["nothing at all", () => json(""), "not-fhir"],
    ["no body", () => new Response(null, { status: 200 }), "not-fhir"],
    ["a type in small letters", () => json({ resourceType: "patient", id: "p1" }), "not-fhir"],
    ["a type of one letter", () => json({ resourceType: "P", id: "p1" }), "not-fhir"],
    ["a type with a number", () => json({ resourceType: "Patient2", id: "p1" }), "not-fhir"],
    ["an id that is a number", () => json({ resourceType: "Patient", id: 1 }), "not-fhir"],
    [
      "JSON called something else",
      () => json({ resourceType: "Patient" }, 200, { "content-type": "x/jsonp" }),
      "not-fhir",
    ],
  ])("a read that brings %s brings nothing", async (_what, answer, kind) => {
    answering(answer);
    expect(await reading()).toEqual({ ok: false, problem: fhirProblem(kind, { status: 200 }) });
  });

  it("a plain JSON type will do, with its status", async () => {
    answering(() =>
      json({ resourceType: "Patient", id: "p1" }, 203, { "content-type": "application/json; charset=utf-8" }),
    );
    expect(await reading()).toEqual({ ok: true, value: { resourceType: "Patient", id: "p1" }, status: 203 });
  });

  it("R4 the server's statement is asked for by a name that is not its type", async () => {
    answering(() => json({ resourceType: "CapabilityStatement" }));
    expect(await transport().read("metadata")).toMatchObject({ ok: true });
    answering(() => json({ resourceType: "Patient" }));
    expect(await transport().read("metadata")).toMatchObject({ ok: false, problem: { kind: "not-fhir" } });
    expect(await transport().read("Patient?_id=1")).toMatchObject({ ok: true });
  });

  it("a write may bring nothing, or what was stored and where; anything else is not understood", async () => {
    const write = () => transport().write("Condition", "{}");
    answering(() => json("", 201, { location: `${BASE}/Condition/1` }));
    expect(await write()).toStrictEqual({ ok: true, value: undefined, status: 201, location: `${BASE}/Condition/1` });
    answering(() => json({ resourceType: "Condition", id: "1" }, 200));
    expect(await write()).toStrictEqual({ ok: true, value: { resourceType: "Condition", id: "1" }, status: 200 });
    answering(() => json({ hello: 1 }, 201));
    expect(await write()).toEqual({ ok: false, problem: fhirProblem("not-fhir", { status: 201 }) });
    answering(() => new Response("<h1>Sign in</h1>", { status: 200, headers: { "content-type": "text/html" } }));
    expect(await write()).toEqual({ ok: false, problem: fhirProblem("not-fhir", { status: 200 }) });
  });

  it("R4 404 for a kind of entry means that it is not taken; for one entry, that it is not there", async () => {
    answering(() => json("", 404));
    const kindOf = async (answer: Promise<{ ok: boolean; problem?: { kind: string } }>) => (await answer).problem?.kind;
    expect(await kindOf(transport().write("Condition", "{}"))).toBe("unsupported");
    expect(await kindOf(transport().transaction("{}"))).toBe("unsupported");
    expect(await kindOf(transport().write("Condition/12", "{}", { method: "PUT" }))).toBe("not-found");
    expect(await kindOf(transport().search("Condition?x=1", { limit: 1 }))).toBe("unsupported");
    expect(await kindOf(reading())).toBe("not-found");
  });

  it.each<[number, FhirProblemKind]>([
    [499, "invalid"],
    [500, "server"],
    [599, "server"],
    [409, "conflict"],
    [412, "conflict"],
    [402, "invalid"],
  ])("HTTP %i is '%s'", async (status, kind) => {
    answering(() => json("", status));
    expect(await transport().write("Condition", "{}")).toStrictEqual({
      ok: false,
      problem: { ...fhirProblem(kind), status },
    });
  });

  it("SEC-19 an answer of exactly the cap is read, one byte more is not", async () => {
    const body = JSON.stringify({ resourceType: "Patient", id: "p1" });
    answering(() => json(body));
    expect(await transport({ bytes: body.length }).read("Patient/p1")).toMatchObject({ ok: true });
    expect(await transport({ bytes: body.length - 1 }).read("Patient/p1")).toEqual({
      ok: false,
      problem: fhirProblem("too-large", { status: 200 }),
    });
  });

  it("a fault that says something in letters that are none is still the fault", async () => {
    answering(() => new Response("<h1>Oh</h1>", { status: 500, headers: { "content-type": "text/html" } }));
    expect(await reading()).toStrictEqual({ ok: false, problem: { ...fhirProblem("server"), status: 500 } });
  });
});

describe("SEC-28 the server's words", () => {
  it("are read issue by issue, with what is missing filled in and what is none left out", () => {
    expect(outcomeIn({ resourceType: "Patient" })).toBeUndefined();
    expect(outcomeIn(undefined)).toBeUndefined();
    expect(outcomeIn({ resourceType: "OperationOutcome" })).toEqual([]);
    expect(
      outcomeIn({
        resourceType: "OperationOutcome",
        issue: [
          { severity: "warning", code: "invalid", details: { text: "details" }, diagnostics: "diagnostics" },
          { details: {}, diagnostics: "only this", expression: ["A.b"] },
          { severity: 1, code: 2, details: 3, diagnostics: 4, expression: 5 },
          "nonsense",
        ],
      }),
    ).toEqual([
      { severity: "warning", code: "invalid", text: "details", at: [] },
      { severity: "error", code: "unknown", text: "only this", at: ["A.b"] },
      { severity: "error", code: "unknown", text: "", at: [] },
    ]);
  });

  it("stand beside our sentences, joined and shortened, and only where there are any", async () => {
    const said = { resourceType: "OperationOutcome", issue: [{ diagnostics: "one" }, {}, { diagnostics: "two" }] };
    answering(() => json(said, 422));
    const answer = await transport().write("Condition", "{}");
    expect(answer).toMatchObject({ problem: { serverSaid: "one two", outcome: [{}, {}, {}] } });
    expect(fhirProblem("invalid", { outcome: [] })).not.toHaveProperty("serverSaid");
    answering(() => json(outcome(""), 422));
    expect(await transport().write("Condition", "{}")).not.toHaveProperty("problem.serverSaid");
  });

  it("every kind of failure has three sentences of ours", () => {
    const kinds: FhirProblemKind[] = [
      ...(["refused", "unsupported", "not-found", "invalid", "conflict", "busy", "server", "offline"] as const),
      ...(["timeout", "stopped", "not-fhir", "too-large", "foreign-url", "ended", "locked"] as const),
    ];
    for (const kind of kinds)
      for (const part of ["title", "what", "next"] as const)
        expect(fhirProblem(kind)[part], kind).toMatch(/^[A-Z].+\.$/);
    expect(new Set(kinds.map((kind) => fhirProblem(kind).title)).size).toBe(kinds.length);
  });

  it("REL-12 Retry-After in every form that RFC 9110 and its users know", () => {
    const now = Date.UTC(2026, 0, 1, 12, 0, 0);
    expect(retryAfter(" 7 ", now)).toBe(7);
    expect(retryAfter("2026-01-01T12:00:30Z", now)).toBe(30);
    expect(retryAfter("2026-01-01T12:00:00.200Z", now)).toBe(1);
    expect(retryAfter("in 7", now) ?? 0, "not understood, or in the past").toBe(0);
  });
});

describe("REL-14 lists", () => {
  const condition = (id?: string) => ({ resourceType: "Condition", ...(id ? { id } : {}) });
  const search = (query = "Condition?x=1", limit = 100, limits: Partial<TransportLimits> = {}) =>
    transport(limits).search(query, { limit });
  it("of one page tell what they hold and nothing more", async () => {
    answering(() => json({ ...bundleOf([condition("a")]), total: 1 }));
    expect(await search()).toStrictEqual({
      ok: true,
      status: 200,
      value: { matches: [condition("a")], included: [], remarks: [], unreadable: 0, more: false, total: 1 },
    });
    answering(() => json({ resourceType: "Bundle" }));
    expect(await search()).toStrictEqual({
      ok: true,
      status: 200,
      value: { matches: [], included: [], remarks: [], unreadable: 0, more: false },
    });
  });

  it("that go on name the next page where reading stopped, so that it can be gone on with", async () => {
    const next = `${BASE}/Condition?page=2`;
    answering(() => json({ ...bundleOf([condition("a"), condition("b")], next), total: 9 }));
    expect(await search("Condition?x=1", 2)).toMatchObject({
      value: { next, total: 9, more: true, stoppedBy: "limit" },
    });
    expect(sent).toHaveLength(1);
    expect(await search("Condition?x=1", 3, { pages: 1 })).toMatchObject({ value: { next, stoppedBy: "limit" } });
    expect(sent).toHaveLength(2);
  });

  it("follow the link that is called next, not the one to themselves or back", async () => {
    const link = ["self", "previous"].map((relation) => ({ relation, url: `${BASE}/Condition?page=${relation}` }));
    answering(() => json({ resourceType: "Bundle", link }));
    expect(await search()).toMatchObject({ value: { more: false } });
    expect(sent).toHaveLength(1);
  });

  it("whose first page fails are no list; whose later page fails are incomplete, with the reason", async () => {
    answering(() => json("", 403));
    expect(await search()).toMatchObject({ ok: false, problem: { kind: "refused" } });
    answering(
      () => json(bundleOf([condition("a")], `${BASE}/Condition?page=2`)),
      () => json({ resourceType: "Patient" }),
    );
    expect(await search()).toMatchObject({ ok: true, status: 200, value: { more: true, stoppedBy: "not-fhir" } });
  });

  it("count what cannot be read as sent, so that the rest is not called missing", async () => {
    const entry = [
      { resource: condition("a") },
      { resource: { resourceType: "Condition2" } },
      { resource: condition("b"), search: { mode: 5 } },
    ];
    answering(() => json({ resourceType: "Bundle", total: 3, entry }));
    expect(await search()).toMatchObject({
      value: { unreadable: 1, more: false, matches: [{ id: "a" }, { id: "b" }] },
    });
    answering(() => json({ resourceType: "Bundle", total: 4, entry }));
    expect(await search()).toMatchObject({ value: { more: true, stoppedBy: "total" } });
  });

  it("what comes along with the matches is not counted as one of them", async () => {
    const entry = [
      { resource: condition("a") },
      { resource: { resourceType: "Patient", id: "p1" } },
      { resource: condition("c"), search: { mode: "include" } },
    ];
    answering(() => json({ resourceType: "Bundle", total: 3, entry }));
    const answer = await search(`${BASE}/Condition?x=1`);
    expect(answer).toMatchObject({
      value: { matches: [{ id: "a" }], included: [{ id: "p1" }, { id: "c" }], stoppedBy: "total" },
    });
  });

  it("with links that are no links are one page", async () => {
    answering(() => json({ resourceType: "Bundle", link: "next", entry: [{ resource: condition("a") }] }));
    expect(await search()).toMatchObject({ ok: true, value: { more: false, matches: [{ id: "a" }] } });
  });
});

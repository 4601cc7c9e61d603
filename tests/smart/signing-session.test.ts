/** Around a writing: rivals for the same injury, what a refused transaction teaches, the tab's memory of its launch, and what is offered. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { type DraftItem, type DraftResource, removeDraft } from "../../src/fhir/drafts.ts";
import {
  capabilitiesIn,
  capabilitiesOf,
  forgetRefusals,
  learn,
  lessRefused,
  UNKNOWN,
} from "../../src/smart/capabilities.ts";
import { filingOf } from "../../src/smart/filing.ts";
import {
  browserAt,
  CURRENT_LAUNCH,
  discover,
  discoveryRequest,
  forgetLaunch,
  NO_DETOUR,
  rememberedLaunch,
  rememberLaunch,
  storageWorks,
  tabStorage,
} from "../../src/smart/handshake.ts";
import { closeJournal, keepJournal, unfinishedHere } from "../../src/smart/journal.ts";
import { seenIn } from "../../src/smart/read-chart.ts";
import { unseenPlans } from "../../src/smart/same-injury.ts";
import { type FhirProblemKind, type FhirResource, fhirProblem } from "../../src/smart/transport.ts";
import { checkAgain, storedTypes, type WriteContext, writeBack } from "../../src/smart/write-back.ts";
import type { WriteReport, Writing } from "../../src/smart/write-report.ts";
import { listOf, no, RecordInMemory, storageOver } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts, PLAN_ID } from "./stored-plan.ts";

const AT = "2026-06-01T10:00:00+02:00";
const EPISODE = "https://fingerpost.example/episode";
const ITEM = "https://fingerpost.example/plan-item";

let record: RecordInMemory;
let tab: Map<string, string>;
beforeEach(() => {
  record = new RecordInMemory();
  record.put({ resourceType: "Patient", active: true, birthDate: "1990-02-03", name: [{ text: "Ann" }] }, "p1");
  tab = new Map();
  vi.stubGlobal("sessionStorage", storageOver(tab));
});
afterEach(() => vi.unstubAllGlobals());
const session = (changed: Partial<Writing> = {}): Writing => ({
  context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }),
  config: { issuers: [], frameAncestors: [] },
  can: () => true,
  signer: async () => ({ ok: true as const, reference: "Practitioner/dr-1", name: "Dr Example" }),
  state: () => ({ kind: "open" as const }),
  lastsFor: async () => true,
  fhir: record,
  ...changed,
});
const NOW: WriteContext = { at: AT, wait: async () => {} };

describe("REL-28 rivals for the same injury", () => {
  const plan = (key: string, more: object = {}) =>
    ({
      ...{ resourceType: "CarePlan", status: "active", subject: { reference: "Patient/p1" } },
      meta: { tag: [{ system: ITEM, code: key }] },
      identifier: [
        { system: ITEM, value: key },
        { system: EPISODE, value: "e-1" },
      ],
      ...more,
    }) as FhirResource;
  const mine = [{ resourceType: "Condition" }, plan("mine:plan")] as unknown as DraftResource[];
  const rivals = async (
    others: readonly FhirResource[],
    how: Parameters<typeof unseenPlans>[2] = {},
    one = session(),
  ) => {
    record.bendSearch = () => listOf(others);
    return unseenPlans(one, mine, how);
  };
  const theirs = plan("theirs:plan", { id: "t1" });

  it("are asked for by the injury, within this patient", async () => {
    expect(await rivals([theirs])).toEqual({ ok: true, plans: ["CarePlan/t1"] });
    expect(record.calls.map(({ at }) => at)).toEqual([
      `CarePlan?identifier=${encodeURIComponent(`${EPISODE}|e-1`)}&patient=p1`,
    ]);
  });
  it("on hold are rivals too, several are all named, and a subject in full is the same patient", async () => {
    const held = plan("x:plan", { id: "t2", status: "on-hold", subject: { reference: `${BASE}/Patient/p1` } });
    expect(await rivals([theirs, held])).toEqual({ ok: true, plans: ["CarePlan/t1", "CarePlan/t2"] });
  });
  it.each<[string, FhirResource]>([
    ["a draft", plan("theirs:plan", { id: "t1", status: "draft" })],
    ["a revoked plan", plan("theirs:plan", { id: "t1", status: "revoked" })],
    ["the plan itself", plan("mine:plan", { id: "t1" })],
    ["a plan of another program", plan("theirs:plan", { id: "t1", meta: {} })],
    ["a plan of another patient", plan("theirs:plan", { id: "t1", subject: { reference: "Patient/p2" } })],
    ["a plan of nobody", plan("theirs:plan", { id: "t1", subject: undefined })],
    ["a plan of another injury", plan("theirs:plan", { id: "t1", identifier: [{ system: EPISODE, value: "e-2" }] })],
    ["a plan without an injury", plan("theirs:plan", { id: "t1", identifier: { system: "x", value: "e-1" } })],
    [
      "a plan whose injury is no word",
      plan("theirs:plan", { id: "t1", identifier: [undefined, { system: EPISODE, value: 1 }] }),
    ],
  ])("%s is none", async (_what, one) => expect(await rivals([one])).toEqual({ ok: true, plans: [] }));
  it("known from the chart as it was read are none; those that the clinician was shown take the place of these", async () => {
    const one = session();
    seenIn(one.context).items.set("theirs:plan", { reference: "CarePlan/t1" });
    expect(await rivals([theirs], {}, one)).toEqual({ ok: true, plans: [] });
    expect(await rivals([theirs], { seen: [] }, one)).toEqual({ ok: true, plans: ["CarePlan/t1"] });
    expect(await rivals([theirs], { seen: ["CarePlan/t1"] })).toEqual({ ok: true, plans: [] });
    expect(await rivals([theirs], { seen: [], changed: ["CarePlan/t1"] })).toEqual({ ok: true, plans: [] });
    const writer = session();
    seenIn(writer.context).own.set("theirs:plan", "1");
    expect(await rivals([theirs], { seen: [] }, writer)).toEqual({ ok: true, plans: [] });
  });
  it("are not asked for without a plan, or a plan of no injury; a failed search is told", async () => {
    expect(await unseenPlans(session(), [mine[0]!])).toEqual({ ok: true, plans: [] });
    expect(await unseenPlans(session(), [plan("mine:plan", { identifier: undefined }) as never])).toEqual({
      ok: true,
      plans: [],
    });
    expect(record.calls).toEqual([]);
    record.bendSearch = () => no("server");
    expect(await unseenPlans(session(), mine)).toEqual({ ok: false, problem: fhirProblem("server") });
  });
});

describe("P2 a refused transaction", () => {
  const refused = (kind: FhirProblemKind, status: number, issue?: { text?: string; at?: string[] }) => {
    const outcome = issue ? [{ severity: "error", code: "x", text: "", at: [], ...issue }] : undefined;
    record.bend = ({ how }, go) =>
      how === "transaction" ? no(kind, { status, ...(outcome ? { outcome } : {}) }) : go();
  };
  const sign = async (one = session(), items: readonly DraftItem[] = drafts(), act: Act = "sign") => {
    const report = await writeBack(one, items, act, NOW);
    return { report, known: (await capabilitiesOf(one)).refusals };
  };
  it.each<[FhirProblemKind, number]>([
    ["unsupported", 404],
    ["refused", 403],
    ["invalid", 400],
  ])("as a whole (%s) is written one by one, as it was shown", async (kind, status) => {
    refused(kind, status);
    const { report, known } = await sign();
    expect(report.outcome).toBe("saved");
    expect(known).toEqual([{ what: "transaction" }]);
    expect(record.writes).toHaveLength(7);
  });
  it.each<[string, { text?: string; at?: string[] }, number]>([
    ["its number among the places", { at: ["Bundle.entry[1].resource"] }, 1],
    ["its number in the words", { text: "fault at Bundle.entry[2]" }, 2],
    ["the only one of its kind", { at: ["ServiceRequest.status"] }, 1],
  ])("for one entry, named by %s, teaches about that one and writes nothing", async (_how, issue, at) => {
    refused("invalid", 422, issue);
    const { report, known } = await sign();
    expect(report).toMatchObject({ outcome: "not-saved", otherwise: true });
    expect(report.problem).toMatchObject({
      what: "The record system did not accept part of the plan. Nothing was written. Your draft is kept on this page.",
      next: "See below what can be filed instead, then decide again.",
    });
    expect(known).toMatchObject([{ what: "item", key: drafts()[at]!.key }]);
    expect(record.writes).toEqual([]);
  });
  it("that names a kind of which there are several, or a number that is none, names no entry", async () => {
    const second = { ...drafts()[1]!, key: "second", urn: "urn:uuid:6f1c2a10-0000-4000-8000-0000000000bb" };
    const other = {
      ...second,
      resource: {
        ...second.resource,
        meta: {
          tag: [
            { system: ITEM, code: `${PLAN_ID}:second` },
            { system: "https://fingerpost.example/fhir/CodeSystem/plan", code: PLAN_ID },
          ],
        },
      },
    } as DraftItem;
    refused("invalid", 422, { at: ["ServiceRequest.status"] });
    const [condition, request, ...rest] = drafts();
    expect((await sign(session(), [condition!, request!, other, ...rest])).known).toEqual([{ what: "transaction" }]);
    refused("invalid", 422, { at: ["Bundle.entry[99]"] });
    record.held.clear();
    record.put({ resourceType: "Patient", active: true }, "p1");
    expect((await sign()).known).toEqual([{ what: "transaction" }]);
  });
  it("of a kind that is not known names its entry by number only", async () => {
    refused("unsupported", 404, { at: ["ServiceRequest"] });
    expect((await sign()).known).toEqual([{ what: "transaction" }]);
    refused("unsupported", 404, { at: ["Bundle.entry[0]"] });
    const { report, known } = await sign(session(), drafts(), "sign");
    expect(known.concat(known)).toBeDefined();
    expect(report.act).toBe("sign");
  });
  it.each<[FhirProblemKind, number, string]>([
    ["busy", 429, fhirProblem("busy").title],
    ["ended", 403, fhirProblem("ended").title],
  ])("for a passing reason (%s) teaches nothing", async (kind, status, says) => {
    refused(kind, status);
    const { report, known } = await sign();
    expect(report).toMatchObject({ outcome: "not-saved", problem: { what: expect.stringContaining(says) } });
    expect(report.otherwise).toBeUndefined();
    expect(known).toEqual([]);
  });
  it("is not written one by one where other things would then be filed than were shown", async () => {
    refused("unsupported", 404);
    const statement = {
      resourceType: "CapabilityStatement",
      rest: [
        {
          mode: "server",
          interaction: [{ code: "transaction" }],
          resource: ["Condition", "ServiceRequest", "CarePlan", "Provenance"].map((type) => ({
            type,
            interaction: ["create", "search-type", ...(type === "CarePlan" ? [] : ["update"])].map((code) => ({
              code,
            })),
          })),
        },
      ],
    };
    record.held.set("metadata", statement);
    const { report } = await sign();
    expect(report).toMatchObject({ outcome: "not-saved", otherwise: true });
    expect(report.problem?.what).toMatch(
      /^The record system does not take this plan in one step\. Nothing was written\./,
    );
    expect(record.writes).toEqual([]);
  });
  it("for its condition goes out once more without it", async () => {
    const lacks = no("conflict", {
      status: 412,
      outcome: [{ severity: "error", code: "not-supported", text: "", at: [] }],
    });
    const conditions: boolean[] = [];
    record.bend = ({ how, resource }, go) => {
      if (how !== "transaction") return go();
      conditions.push(JSON.stringify(resource).includes("ifNoneExist"));
      return conditions.length === 1 ? lacks : no("busy", { status: 429 });
    };
    const { known } = await sign();
    expect(conditions).toEqual([true, false]);
    expect(known).toEqual([{ what: "conditional-create" }]);
  });
  it("INV-1 nothing is sent of a plan of which nothing is taken", async () => {
    const none = filingOf(
      drafts(),
      {
        ...UNKNOWN,
        known: true,
        offers: () => ({ create: false, update: false, search: false, conditionalCreate: false }),
      },
      () => true,
    );
    const report = await writeBack(session(), drafts(), "sign", { ...NOW, filing: none });
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: { title: "The record system takes no part of this plan." },
    });
    expect(record.calls).toEqual([]);
  });
  it("REL-24 what is asked right before the sending can stop it", async () => {
    const held = { kind: "write", title: "The chart changed.", what: "", next: "" };
    const report = await writeBack(session(), drafts(), "sign", { ...NOW, beforeSending: async () => held });
    expect(report).toMatchObject({ outcome: "not-saved", problem: held });
    expect(record.calls.some(({ how }) => how === "transaction")).toBe(false);
  });
  it("I7 looks again without sending, and says who could not be asked", async () => {
    const nobody = { signer: async () => ({ ok: false as const, reason: "No id_token." }) };
    expect(await checkAgain(session(nobody), drafts(), "sign", NOW)).toMatchObject({
      outcome: "unknown",
      problem: { what: "No id_token." },
    });
    expect(await checkAgain(session(), drafts(), "sign", NOW)).toMatchObject({ outcome: "not-saved" });
    expect(record.calls.every(({ how }) => how === "read" || how === "search")).toBe(true);
    const steps: string[] = [];
    await checkAgain(session(), [removeDraft(drafts()[0]!, "no"), drafts()[1]!], "draft", {
      ...NOW,
      onStep: (step) => steps.push(step),
    });
    expect(steps).toEqual(["looking"]);
  });
  it("P4 what is stored is known by its kind: from the screen, and from what the last attempt left", () => {
    const report = {
      items: [{ key: "a", reference: "ServiceRequest/1" }, { key: "b" }, { key: "c", reference: "Condition/1" }],
    };
    expect([...storedTypes({ c: { reference: "CarePlan/2" } }, report as unknown as WriteReport)]).toEqual([
      ["a", "ServiceRequest"],
      ["c", "CarePlan"],
    ]);
    expect(storedTypes().size).toBe(0);
  });
});

describe("P1 what a record system says that it takes", () => {
  const offer = (rest: unknown) => capabilitiesIn({ resourceType: "CapabilityStatement", rest });
  const codes = (...all: string[]) => all.map((code) => ({ code }));
  it("is read kind by kind, from all parts that speak of a server", () => {
    const read = offer([
      {
        mode: "client",
        interaction: codes("transaction"),
        resource: [{ type: "Group", interaction: codes("create") }],
      },
      {
        mode: "server",
        resource: [{ type: "Condition", interaction: codes("create", "read", "search-type") }, "nonsense"],
      },
      {
        interaction: codes("transaction"),
        resource: [
          { type: "CarePlan", interaction: codes("update"), conditionalCreate: true },
          { type: "Slot", conditionalCreate: "yes" },
        ],
      },
    ]);
    expect([read.known, read.transaction, read.refusals]).toEqual([true, true, []]);
    expect(read.offers("Condition")).toEqual({ create: true, update: false, search: true, conditionalCreate: false });
    expect(read.offers("CarePlan")).toEqual({ create: false, update: true, search: false, conditionalCreate: true });
    for (const type of ["Group", "Slot", "Nothing"])
      expect(read.offers(type)).toEqual({ create: false, update: false, search: false, conditionalCreate: false });
    expect(offer([{ mode: "server", interaction: codes("batch") }]).transaction).toBe(false);
  });
  it.each([[undefined], [[]], [[{ mode: "client" }]], ["x"]])(
    "that cannot be read (%j) leaves everything to be tried",
    (rest) => {
      expect(offer(rest)).toBe(UNKNOWN);
      expect(UNKNOWN.offers("Any")).toEqual({ create: true, update: true, search: true, conditionalCreate: true });
      expect([UNKNOWN.known, UNKNOWN.transaction]).toEqual([false, true]);
    },
  );
  it("less what it refused", () => {
    expect(lessRefused(UNKNOWN, [])).toBe(UNKNOWN);
    const all = { create: true, update: true, search: true, conditionalCreate: true };
    const less = lessRefused(UNKNOWN, [
      { what: "create", type: "A" },
      { what: "update", type: "B" },
    ]);
    expect([less.offers("A"), less.offers("B"), less.offers("C")]).toEqual([
      { ...all, create: false },
      { ...all, update: false },
      all,
    ]);
    expect([less.transaction, less.known, less.refusals.length]).toEqual([true, false, 2]);
    expect(lessRefused(UNKNOWN, [{ what: "transaction" }]).transaction).toBe(false);
    expect(lessRefused(UNKNOWN, [{ what: "conditional-create" }]).offers("A")).toEqual({
      ...all,
      conditionalCreate: false,
    });
  });
  it("is asked for once, unless it could not be read; refusals are kept once each until they are forgotten", async () => {
    const one = session();
    await capabilitiesOf(one);
    record.held.set("metadata", { resourceType: "CapabilityStatement", rest: [{ mode: "server" }] });
    expect((await capabilitiesOf(one)).known).toBe(true);
    await capabilitiesOf(one);
    expect(record.calls).toEqual(Array(2).fill({ how: "read", at: "metadata" }));
    learn(one.context, { what: "transaction" });
    learn(one.context, { what: "transaction" });
    learn(one.context, { what: "create", type: "A" });
    expect((await capabilitiesOf(one)).refusals).toEqual([{ what: "transaction" }, { what: "create", type: "A" }]);
    expect((await capabilitiesOf(session())).refusals, "of another launch").toEqual([]);
    forgetRefusals(one.context);
    expect((await capabilitiesOf(one)).refusals).toEqual([]);
  });
});

describe("what a tab remembers of its launch", () => {
  const LAUNCH = { state: "s1", launchId: "l1", startedAt: 5 };
  const blocked = () => {
    throw new DOMException("The operation is insecure.", "SecurityError");
  };
  it("is whole or nothing", () => {
    expect(rememberedLaunch()).toBeUndefined();
    rememberLaunch({ ...LAUNCH, clinic: true, coder: true, nonce: "n", signedInAt: 6 });
    expect(rememberedLaunch()).toEqual({ ...LAUNCH, clinic: true, coder: true, nonce: "n", signedInAt: 6 });
    for (const broken of [{ ...LAUNCH, state: 1 }, { ...LAUNCH, startedAt: "5" }, { ...LAUNCH, clinic: false }, null]) {
      tabStorage.set("fingerpost.launch", broken);
      expect(rememberedLaunch()).toBeUndefined();
    }
    tab.set("fingerpost.launch", "{half");
    expect(tabStorage.get("fingerpost.launch")).toBeNull();
  });
  it("SEC-13 goes with the launch, tokens included; a newer launch in the tab stays", () => {
    const begin = () => {
      tabStorage.set(CURRENT_LAUNCH, "s1");
      tabStorage.set("s1", { token: "t" });
      rememberLaunch(LAUNCH);
    };
    begin();
    forgetLaunch("s1");
    expect([...tab.keys()]).toEqual([]);
    begin();
    tabStorage.set("s0", { token: "older" });
    forgetLaunch("s0");
    expect([...tab.keys()].sort()).toEqual(["SMART_KEY", "fingerpost.launch", "s1"]);
    forgetLaunch(undefined);
    expect([...tab.keys()]).toEqual([]);
    rememberLaunch(LAUNCH);
    forgetLaunch("s1");
    expect([...tab.keys()]).toEqual([]);
  });
  it("is told to be impossible where the browser blocks storage, and probing leaves nothing behind", () => {
    expect(storageWorks()).toBe(true);
    expect(tab.size).toBe(0);
    vi.stubGlobal("sessionStorage", { setItem: blocked, getItem: blocked, removeItem: blocked });
    expect(storageWorks()).toBe(false);
  });
  it("SEC-20 of a plan that was begun: under a name that tells neither server nor patient, one for each", () => {
    const owner = { base: BASE, patientId: "p1" };
    const begun = {
      planId: "x",
      act: "sign" as const,
      at: AT,
      items: [{ key: "a", reference: "CarePlan/1", version: "2" }],
    };
    keepJournal(owner, begun);
    keepJournal({ ...owner, patientId: "p2" }, begun);
    keepJournal({ ...owner, base: "https://other.example" }, begun);
    expect(tab.size).toBe(3);
    for (const name of tab.keys()) expect(name).toMatch(/^fingerpost\.unfinished\.[0-9a-z]{1,7}$/);
    expect(unfinishedHere(owner)).toEqual(begun);
    closeJournal(owner);
    expect(unfinishedHere(owner)).toBeUndefined();
    expect(tab.size).toBe(2);
    keepJournal(owner, { ...begun, items: Array.from({ length: 501 }, () => ({ key: "a" })) });
    expect(unfinishedHere(owner), "no journal of ours is that long").toBeUndefined();
    vi.stubGlobal("sessionStorage", { setItem: blocked, getItem: blocked, removeItem: blocked });
    expect(() => keepJournal(owner, begun)).not.toThrow();
    expect(() => closeJournal(owner)).not.toThrow();
  });
  it("SEC-14 the handshake stands on an address of ours, and may not leave the page by itself", async () => {
    const adapter = browserAt(new URL("https://plugin.example/a/b"), { x: 1 }) as never as {
      options: object;
      security: object;
      getUrl(): URL;
      getStorage(): {
        get(k: string): Promise<unknown>;
        set(k: string, v: unknown): Promise<unknown>;
        unset(k: string): Promise<boolean>;
      };
      relative(path: string): string;
      redirect(): void;
      atob(): string;
    };
    expect(adapter.getUrl().href).toBe("https://plugin.example/a/b");
    expect(adapter.relative("../c")).toBe("https://plugin.example/c");
    expect(adapter.options).toEqual({ replaceBrowserHistory: false, fullSessionStorageSupport: true });
    expect(adapter.security).toEqual({ x: 1 });
    expect(adapter.atob()).toBe("null");
    expect(() => adapter.redirect()).toThrow("may not leave the page");
    const storage = adapter.getStorage();
    expect(await storage.set("k", { v: 1 })).toEqual({ v: 1 });
    expect(await storage.get("k")).toEqual({ v: 1 });
    expect(await storage.unset("k")).toBe(true);
    expect(tab.size).toBe(0);
  });
  it("L3 discovery takes endpoints over private connections only, and fills in what is optional", async () => {
    const answer = (body: unknown) =>
      vi.stubGlobal(
        "fetch",
        async () => new Response(JSON.stringify(body), { headers: { "content-type": "application/json" } }),
      );
    const good = { authorization_endpoint: "https://a.example/authorize", token_endpoint: "https://a.example/token" };
    const asked = async (n: number, body: unknown) => {
      answer(body);
      return discover(`https://ehr${n}.example/fhir`);
    };
    expect(await asked(1, good)).toEqual({ ...good, capabilities: [], code_challenge_methods_supported: [] });
    expect(
      await asked(2, {
        ...good,
        issuer: "i",
        jwks_uri: "http://localhost/jwks",
        capabilities: ["a"],
        code_challenge_methods_supported: ["S256"],
      }),
    ).toEqual({
      ...good,
      ...{
        issuer: "i",
        jwks_uri: "http://localhost/jwks",
        capabilities: ["a"],
        code_challenge_methods_supported: ["S256"],
      },
    });
    expect(await asked(3, { ...good, token_endpoint: "http://a.example/token" })).toBeUndefined();
    expect(await asked(4, { ...good, authorization_endpoint: "no address" })).toBeUndefined();
    expect(await asked(5, { ...good, capabilities: "x", code_challenge_methods_supported: 1 })).toEqual({
      ...good,
      capabilities: [],
      code_challenge_methods_supported: [],
    });
    vi.stubGlobal("fetch", async () => {
      throw new TypeError("cut");
    });
    expect(await discover("https://ehr6.example/fhir")).toBeUndefined();
    expect(NO_DETOUR.signal?.aborted).toBe(true);
    const timeout = vi.spyOn(AbortSignal, "timeout");
    expect(discoveryRequest()).toMatchObject({ credentials: "omit" });
    expect(timeout).toHaveBeenCalledWith(10_000);
    timeout.mockRestore();
  });
});

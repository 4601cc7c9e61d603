/** What is remembered beside the page: what the record system offers and refused, the launch of the tab, and a plan that was begun. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import {
  capabilitiesIn,
  capabilitiesOf,
  forgetRefusals,
  learn,
  lessRefused,
  UNKNOWN,
} from "../../src/smart/capabilities.ts";
import {
  browserAt,
  CURRENT_LAUNCH,
  discoveryRequest,
  forgetLaunch,
  NO_DETOUR,
  rememberedLaunch,
  rememberLaunch,
  storageWorks,
  tabStorage,
} from "../../src/smart/handshake.ts";
import { closeJournal, keepJournal, unfinishedHere } from "../../src/smart/journal.ts";
import { RecordInMemory, storageOver } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";

const AT = "2026-06-01T10:00:00+02:00";

let record: RecordInMemory;
let tab: Map<string, string>;
beforeEach(() => {
  record = new RecordInMemory();
  tab = new Map();
  vi.stubGlobal("sessionStorage", storageOver(tab));
});
afterEach(() => vi.unstubAllGlobals());
const session = () => ({ context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }), fhir: record });

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
  it("L3 discovery is given ten seconds, without cookies, and never takes the detour over the whole statement", () => {
    expect(NO_DETOUR.signal?.aborted).toBe(true);
    const timeout = vi.spyOn(AbortSignal, "timeout");
    expect(discoveryRequest()).toMatchObject({ credentials: "omit" });
    expect(timeout).toHaveBeenCalledWith(10_000);
    timeout.mockRestore();
  });
});

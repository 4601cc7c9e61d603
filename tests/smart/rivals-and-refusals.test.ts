/** Rivals for the same injury, and what a refused transaction teaches. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { type DraftItem, type DraftResource, removeDraft } from "../../src/fhir/drafts.ts";
import { capabilitiesOf, UNKNOWN } from "../../src/smart/capabilities.ts";
import { filingOf } from "../../src/smart/filing.ts";
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
    record.held.clear();
    record.put({ resourceType: "Patient", active: true }, "p1");
    refused("unsupported", 404, { at: ["Bundle.entry[0]"] });
    expect((await sign()).known).toMatchObject([{ what: "create", type: "Condition" }]);
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

/** Launch, chart, draft, signature against the practice EHR over the network: nothing in between is a stand-in. */
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import { lostFunctions } from "../../src/smart/scopes.ts";
import type { Session } from "../../src/smart/session.ts";
import {
  control as controlOf,
  launched as launchedOn,
  openPractice,
  PATIENT,
  type Practice,
  planFor,
} from "./on-practice.ts";

let practice: Practice;
beforeAll(async () => {
  practice = await openPractice();
});
afterAll(() => practice.close());
beforeEach(() => control({ reset: true, reseed: true, clearLogs: true }));
afterEach(() => vi.unstubAllGlobals());

const control = (setting: object) => controlOf(practice, setting);
const launched = (as?: string): Promise<Session> => launchedOn(practice, as);
const plan = planFor;
const AT = "2026-11-25T15:10:00+01:00";
const write = async () => (await import("../../src/smart/write-back.ts")).writeBack;
const oursOf = (type: string, planId: string) =>
  practice.stored(type).filter((one) => JSON.stringify(one).includes(planId));
/** Items of the plan and, of each, how many are stored. */
const copies = (items: ReturnType<typeof plan>, planId: string) =>
  items.map(
    // A record of who did what has a key of its own for each act, which begins with the item's.
    ({ key, kind, resource }) =>
      oursOf(resource.resourceType, planId).filter((one) =>
        JSON.stringify(one).includes(`"${planId}:${key}${kind === "provenance" ? "-" : '"'}`),
      ).length,
  );

describe("a launch from the practice EHR", () => {
  it("knows the patient, the visit and the clinician", async () => {
    const session = await launched();
    expect(session.context.patientId).toBe(PATIENT);
    expect(session.context.encounterId).toBeTruthy();
    expect(lostFunctions(session.granted)).toEqual([]);
    expect(await session.signer()).toMatchObject({ ok: true, reference: "Practitioner/imke-harrowgate" });
  });

  it("reads every part of the chart", async () => {
    const session = await launched();
    const { readChart } = await import("../../src/smart/read-chart.ts");
    const parts = await readChart(session, () => {});
    expect(parts.patient?.state).toBe("found");
    for (const part of Object.values(parts)) expect(["found", "empty"]).toContain(part?.state);
  });

  it.each(["wrong-nonce", "wrong-audience", "expired"])(
    "SEC-12 lets nobody sign with an id_token that is %s",
    async (idToken) => {
      await control({ idToken });
      const session = await launched();
      expect((await session.signer()).ok).toBe(false);
    },
  );

  it("S4 tells a person who may only read what cannot be filed", async () => {
    const session = await launched("coder");
    expect(session.can("CarePlan", "c")).toBe(false);
    expect(lostFunctions(session.granted).map((one) => one.words)).toContain("Orders cannot be filed.");
  });
});

describe("a plan written to the practice EHR", () => {
  it("is saved as drafts, then signed over those same drafts, and each item is stored once", async () => {
    const session = await launched();
    const planId = crypto.randomUUID();
    const items = plan(session, planId);
    const writeBack = await write();
    const draft = await writeBack(session, items, "draft", { at: AT });
    expect(draft.items.filter((item) => item.outcome !== "saved")).toEqual([]);
    expect(draft).toMatchObject({ outcome: "saved", provenance: { outcome: "saved" } });
    expect(oursOf("CarePlan", planId)).toMatchObject([{ status: "draft" }]);

    const signed = await writeBack(session, items, "sign", { at: AT });
    expect(signed.items.filter((item) => item.outcome !== "saved")).toEqual([]);
    expect(signed.outcome).toBe("saved");
    expect(oursOf("CarePlan", planId)).toMatchObject([
      {
        status: "active",
        subject: { reference: `Patient/${PATIENT}` },
        author: { reference: "Practitioner/imke-harrowgate" },
      },
    ]);
    expect(
      new Set(
        copies(
          items.filter((item) => item.kind !== "provenance"),
          planId,
        ),
      ),
    ).toEqual(new Set([1]));
  });

  it.each([
    ["the connection is cut after it was stored", { kind: "cut-after" }],
    ["the connection is cut before it was stored", { kind: "cut-before" }],
    ["a fault is reported after it was stored", { kind: "status", status: 500, afterCommit: true }],
    ["a web page comes back after it was stored", { kind: "html", afterCommit: true }],
    ["half an answer comes back", { kind: "truncated" }],
    ["the answer is empty", { kind: "empty" }],
    ["a fault is reported and nothing was stored", { kind: "status", status: 503 }],
  ])("REL-26 is stored once and called saved when %s", async (_name, fault) => {
    const session = await launched();
    const planId = crypto.randomUUID();
    const items = plan(session, planId);
    await session.signer();
    await control({ faults: [{ method: "POST", path: "^/fhir/?$", ...fault }] });
    const report = await (await write())(session, items, "sign", { at: AT, wait: async () => {} });
    expect(report.outcome).toBe("saved");
    expect(new Set(copies(items, planId))).toEqual(new Set([1]));
  });

  it("REL-36 is not called saved by a server that drops our identifier", async () => {
    const session = await launched();
    await control({ dropIdentifier: true });
    const report = await (await write())(session, plan(session, crypto.randomUUID()), "sign", {
      at: AT,
      wait: async () => {},
    });
    expect(report.outcome).toBe("unknown");
  });

  it("REL-37 is found again behind a search index that lags", async () => {
    const session = await launched();
    const planId = crypto.randomUUID();
    await control({ staleSearchMs: 300, faults: [{ method: "POST", path: "^/fhir/?$", kind: "cut-after" }] });
    const report = await (await write())(session, plan(session, planId), "sign", { at: AT });
    expect(report.outcome).toBe("saved");
    expect(oursOf("CarePlan", planId)).toHaveLength(1);
  });

  it("INV-3 is not written when the record system switches to another patient on renewal", async () => {
    await control({ tokenSeconds: 30, patientOnRefresh: "someone-else" });
    const session = await launched();
    const planId = crypto.randomUUID();
    const report = await (await write())(session, plan(session, planId), "sign", { at: AT });
    expect(report).toMatchObject({ outcome: "not-saved", problem: { kind: "locked" } });
    expect(oursOf("CarePlan", planId)).toEqual([]);
  });
});

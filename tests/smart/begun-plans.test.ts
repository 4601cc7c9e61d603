/** Plans that were begun and not finished: how they are recognised, and how they are taken back. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { bundleOf, itemsOf } from "../../src/fhir/drafts.ts";
import type { EarlierPlan } from "../../src/fhir/earlier.ts";
import { keepJournal, unfinishedHere } from "../../src/smart/journal.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import { endingRecord, storedOf, unfinishedPlans, withdrawPlan } from "../../src/smart/unfinished.ts";
import type { Writing } from "../../src/smart/write-report.ts";
import { listOf, no, RecordInMemory, storageOver } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts, PLAN_ID } from "./stored-plan.ts";

const AT = "2026-06-01T10:00:00+02:00";
const SIGNER = { reference: "Practitioner/dr-1", display: "Dr Example" };
const OWNER = { base: BASE, patientId: "p1" };

let record: RecordInMemory;
beforeEach(() => {
  record = new RecordInMemory();
  record.put({ resourceType: "Patient", active: true, birthDate: "1990-02-03", name: [{ text: "Ann" }] }, "p1");
  vi.stubGlobal("sessionStorage", storageOver(new Map()));
});
afterEach(() => vi.unstubAllGlobals());

const session = (changed: Partial<Writing> = {}): Writing => ({
  context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }),
  config: { issuers: [], frameAncestors: [] },
  can: () => true,
  signer: async () => ({ ok: true as const, reference: SIGNER.reference, name: SIGNER.display }),
  state: () => ({ kind: "open" as const }),
  lastsFor: async () => true,
  fhir: record,
  ...changed,
});
/** Puts parts of the plan into the record, each as the act left it. */
function store(parts: Readonly<Record<string, Act>>, change: (one: FhirResource) => FhirResource = (one) => one): void {
  for (const act of ["draft", "sign"] as const)
    for (const entry of itemsOf(bundleOf(drafts(), act, { signer: SIGNER, at: AT })))
      if (parts[entry.key] === act) record.put(change(entry.resource as unknown as FhirResource), entry.key);
}
const DOCUMENT = {
  resourceType: "DocumentReference",
  status: "current",
  description: "Plan for the left ring finger",
  subject: { reference: "Patient/p1" },
  context: { encounter: [{ reference: "Encounter/e1" }], related: [{ reference: "CarePlan/plan" }] },
  meta: {
    tag: [
      { system: "https://fingerpost.example/plan-item", code: `${PLAN_ID}:document-sign-1` },
      { system: "https://fingerpost.example/fhir/CodeSystem/plan", code: PLAN_ID },
      { system: "https://fingerpost.example/fhir/CodeSystem/act", code: "signed" },
    ],
  },
  content: [{ attachment: { contentType: "text/html" } }],
};
/** The plan as it was read with the chart: what is in the record of it now. */
const asRead = (more: Partial<EarlierPlan> = {}): EarlierPlan => ({
  planId: PLAN_ID,
  title: "Plan",
  status: "active",
  written: "2026-05-31T09:00:00+02:00",
  signed: true,
  items: [...record.held.values()]
    .filter((one) => JSON.stringify(one).includes(PLAN_ID))
    .map((one) => ({
      key: String(one.id),
      planItem: `${PLAN_ID}:${one.id}`,
      type: one.resourceType,
      reference: `${one.resourceType}/${one.id}`,
      version: "1",
      status: String(one.status),
      resource: one,
    })),
  ...more,
});
const journal = (act: Act, ...keys: string[]) =>
  keepJournal(OWNER, { planId: PLAN_ID, act, at: AT, items: keys.map((key) => ({ key })) });
const ALL_SIGNED = { condition: "sign", request: "sign", plan: "sign" } as const;
const ALL_DRAFT = { condition: "draft", request: "draft", plan: "draft" } as const;

describe("REL-29 what is stored of a plan", () => {
  it("is asked for type by type, what somebody acts on first, within this patient and this plan", async () => {
    store(ALL_SIGNED);
    record.put({
      resourceType: "CarePlan",
      meta: { tag: [{ system: "https://fingerpost.example/plan-item", code: "other:plan" }] },
    });
    const { items, unread } = await storedOf(session(), PLAN_ID);
    expect(record.calls.map(({ at }) => at.split("?")[0])).toEqual([
      ...["Appointment", "ServiceRequest", "DocumentReference", "CarePlan", "Condition", "QuestionnaireResponse"],
    ]);
    expect(record.calls[0]?.at).toBe(
      `Appointment?patient=p1&identifier=${encodeURIComponent("https://fingerpost.example/plan-item|")}&_count=100`,
    );
    expect(items.map(({ key, reference, version, act, title }) => [key, reference, version, act, title])).toEqual([
      ["request", "ServiceRequest/request", "1", "sign", "Order without a name"],
      ["plan", "CarePlan/plan", "1", "sign", "Plan"],
      ["condition", "Condition/condition", "1", "sign", "Diagnosis: Broken finger tip"],
    ]);
    expect(unread).toEqual([]);
  });

  it("leaves out what is withdrawn already, and documents that a newer one replaced", async () => {
    store(ALL_SIGNED, (one) => {
      if (one.resourceType === "CarePlan") return { ...one, status: "revoked" };
      if (one.resourceType !== "Condition") return one;
      return { ...one, verificationStatus: { coding: [{ code: "entered-in-error" }] } };
    });
    record.put(DOCUMENT, "d1");
    record.put({ ...DOCUMENT, relatesTo: [{ code: "replaces", target: { reference: "DocumentReference/d1" } }] }, "d2");
    const stored = async () => (await storedOf(session(), PLAN_ID)).items.map(({ reference }) => reference);
    expect(await stored()).toEqual(["ServiceRequest/request", "DocumentReference/d2"]);
    const { plan: _plan, ...others } = ALL_SIGNED;
    record.held.clear();
    store(others, (one) => ({ ...one, verificationStatus: { coding: [{ code: "refuted" }] } }));
    expect(await stored()).toEqual([]);
  });

  it.each(["entered-in-error", "revoked", "cancelled", "stopped", "superseded"])(
    "leaves out what is %s",
    async (status) => {
      store(ALL_SIGNED, (one) => ({ ...one, status }));
      expect((await storedOf(session(), PLAN_ID)).items).toEqual([]);
    },
  );

  it("says which kinds could not be read; a kind that is not known holds nothing, one without permission is not asked", async () => {
    record.bendSearch = ({ at }, go) => {
      if (at.startsWith("Appointment")) return no("server");
      if (at.startsWith("CarePlan")) return listOf([], { more: true });
      return at.startsWith("Condition") ? no("unsupported") : go();
    };
    const can = (type: string, letter: string) => letter === "s" && type !== "QuestionnaireResponse";
    expect((await storedOf(session({ can }), PLAN_ID)).unread).toEqual(["Appointment", "CarePlan"]);
    expect(record.calls).toHaveLength(5);
  });
});

describe("REL-29 a plan is unfinished", () => {
  const found = async (plans = [asRead()], one = session()) => unfinishedPlans(one, plans);

  it("by this tab's journal, when a part of what was begun is not there", async () => {
    store({ condition: "sign", plan: "sign" });
    journal("sign", "condition", "plan", "request");
    expect(await found([])).toMatchObject([
      { planId: PLAN_ID, at: AT, act: "sign", total: 3, rest: [], replaces: undefined, stored: { unread: [] } },
    ]);
    expect(unfinishedHere(OWNER)).toBeDefined();
  });

  it("by the journal, when a part that was to be signed is a draft; saved as a draft it is done", async () => {
    store(ALL_DRAFT);
    journal("sign", "condition", "plan", "request");
    expect(await found([])).toHaveLength(1);
    journal("draft", "condition", "plan", "request");
    expect(await found([])).toEqual([]);
    expect(unfinishedHere(OWNER), "nothing to take up again").toBeUndefined();
  });

  it("not, when all is there, or nothing at all; but while something cannot be read it may be", async () => {
    journal("sign", "condition", "plan");
    expect(await found([])).toEqual([]);
    expect(unfinishedHere(OWNER)).toBeUndefined();
    journal("sign", "condition", "plan");
    record.bendSearch = () => no("server");
    expect(await found([])).toMatchObject([{ total: 2, stored: { items: [] } }]);
  });

  it("from the record alone, when a part is signed and another is not: the rest can be signed as it stands", async () => {
    store({ condition: "sign", plan: "sign", request: "draft" });
    const [one, ...others] = await found();
    expect(others).toEqual([]);
    expect(one).toMatchObject({ planId: PLAN_ID, at: "2026-05-31T09:00:00+02:00", act: "sign", total: undefined });
    expect(one?.rest.map(({ key, kind, title, urn }) => [key, kind, title, urn])).toEqual([
      ["request", "request", "Order without a name", "ServiceRequest/request"],
      ["provenance", "provenance", "Who signed it", expect.stringContaining(PLAN_ID.slice(0, 24))],
    ]);
    expect(JSON.stringify(one?.rest.at(-1)?.resource.meta)).toContain("0.1.0");
    expect(JSON.stringify(one?.rest.at(-1)?.resource.meta)).toContain(PLAN_ID);
  });

  it("is not signed as it stands while its plan is missing, nor for a document", async () => {
    store({ condition: "sign", request: "draft" });
    expect(await found()).toMatchObject([{ act: "sign", rest: [] }]);
    record.held.clear();
    store({ condition: "sign", plan: "sign" });
    record.put(
      { ...DOCUMENT, meta: { tag: DOCUMENT.meta.tag.map((t) => (t.code === "signed" ? { ...t, code: "draft" } : t)) } },
      "d1",
    );
    expect(await found()).toEqual([]);
  });

  it("from the record alone, when items stand there without their plan and without a record of who made them", async () => {
    store({ condition: "draft", request: "draft" });
    expect(await found()).toMatchObject([{ act: undefined, rest: [], total: undefined }]);
    expect(record.calls.at(-1)?.at).toBe("Provenance?target=ServiceRequest%2Frequest,Condition%2Fcondition");
    record.put({ resourceType: "Provenance", meta: { tag: [{ code: PLAN_ID }] } });
    expect(await found(), "somebody left the plan out").toEqual([]);
  });

  it("is not said of items without their plan where no record of who made them is taken, or none could be looked for", async () => {
    store({ condition: "draft", request: "draft" });
    const can = (type: string, letter: string) => type !== "Provenance" || letter !== "c";
    expect(await found(undefined, session({ can }))).toEqual([]);
    record.bendSearch = ({ at }, go) => (at.startsWith("Provenance") ? no("server") : go());
    expect(await found()).toEqual([]);
    record.bendSearch = (_call, go) => go();
    record.put({ resourceType: "CapabilityStatement", rest: [{ mode: "server" }] }, "x");
    record.held.set("metadata", { resourceType: "CapabilityStatement", rest: [{ mode: "server" }] });
    expect(await found()).toEqual([]);
  });

  it.each([
    ["a plan that is signed whole", ALL_SIGNED],
    ["a plan that is a draft as a whole", ALL_DRAFT],
  ])("is not said of %s, and nothing more is asked", async (_what, parts) => {
    store(parts);
    expect(await found()).toEqual([]);
    expect(record.calls).toEqual([]);
  });

  it("is not said of a plan of which the chart held only what was withdrawn", async () => {
    store({ condition: "draft", request: "draft" }, (one) => ({
      ...one,
      status: "revoked",
      verificationStatus: { coding: [{ code: "refuted" }] },
    }));
    expect(await found()).toEqual([]);
    expect(record.calls).toEqual([]);
  });

  it("is not said of a plan that was taken back since the chart was read", async () => {
    store({ condition: "sign", plan: "sign", request: "draft" });
    const plan = asRead();
    record.held.clear();
    expect(await found([plan])).toEqual([]);
  });

  it("a document of it stands for the plan itself", async () => {
    store({ condition: "sign", request: "sign" });
    record.put(DOCUMENT, "d1");
    expect(await found()).toEqual([]);
    expect(record.calls).toEqual([]);
  });

  it("X2 when it took the place of an earlier plan that is still in force, which is named", async () => {
    const old: EarlierPlan = {
      planId: "old",
      title: "Old plan",
      status: "active",
      signed: true,
      items: [
        {
          ...{ key: "plan", planItem: "old:plan", type: "CarePlan", reference: "CarePlan/o1", status: "active" },
          resource: { resourceType: "CarePlan", id: "o1", status: "active" },
        },
      ],
    };
    store(ALL_SIGNED);
    const newer = asRead({ revises: "CarePlan/o1" });
    expect(await found([newer, old])).toMatchObject([
      { planId: PLAN_ID, act: "sign", rest: [], replaces: { planId: "old" } },
    ]);
    journal("sign", "condition", "request", "plan");
    expect(await found([newer, old]), "told once, by the journal").toMatchObject([
      { total: 3, replaces: { planId: "old" } },
    ]);
    expect(endingRecord(PLAN_ID, "0.1.0")).toMatchObject({ kind: "provenance", title: "Who ended it" });
  });
});

describe("REL-38 a plan is withdrawn", () => {
  const withdraw = (one = session()) =>
    withdrawPlan(one, PLAN_ID, "Wrong patient.", { at: AT, appVersion: "0.1.0", wait: async () => {} });
  const statusOf = (at: string) => (record.held.get(at) as { status?: string } | undefined)?.status;

  it("X3 signed: what was in effect is revoked, the diagnosis never should have been, and nothing is deleted", async () => {
    store(ALL_SIGNED);
    journal("sign", "condition", "plan", "request");
    const report = await withdraw();
    expect(report.problem).toBeUndefined();
    expect(report.outcome).toBe("withdrawn");
    expect(report.items.map(({ outcome }) => outcome)).toEqual(["saved", "saved", "saved"]);
    expect([statusOf("CarePlan/plan"), statusOf("ServiceRequest/request")]).toEqual(["revoked", "revoked"]);
    expect(record.held.get("Condition/condition")).toMatchObject({
      verificationStatus: { coding: [{ code: "entered-in-error" }] },
    });
    expect(JSON.stringify(record.held.get("CarePlan/plan"))).toContain("Wrong patient.");
    expect(unfinishedHere(OWNER), "nothing to take up again").toBeUndefined();
    expect(record.of("Provenance").length).toBeGreaterThan(0);
  });

  it("X3 a draft: it never should have been", async () => {
    store(ALL_DRAFT);
    expect(await withdraw()).toMatchObject({ outcome: "withdrawn" });
    expect([statusOf("CarePlan/plan"), statusOf("ServiceRequest/request")]).toEqual([
      "entered-in-error",
      "entered-in-error",
    ]);
  });

  it("P6 its document is replaced by one that says so, since a document is never changed", async () => {
    store(ALL_SIGNED);
    record.put(DOCUMENT, "d1");
    const report = await withdraw();
    expect(report.outcome).toBe("withdrawn");
    const [, newer, ...more] = record.of("DocumentReference");
    expect(more).toEqual([]);
    expect(newer).toMatchObject({
      status: "current",
      description: "Withdrawn: Plan for the left ring finger",
      relatesTo: [{ code: "replaces", target: { reference: "DocumentReference/d1" } }],
      context: { encounter: [{ reference: "Encounter/e1" }] },
    });
    expect(newer?.context).not.toHaveProperty("related");
    const page = Buffer.from(
      (newer as never as typeof DOCUMENT & { content: { attachment: { data: string } }[] }).content[0]!.attachment.data,
      "base64",
    );
    expect(page.toString()).toContain("Withdrawn: Wrong patient. By Dr Example");
    expect((await storedOf(session(), PLAN_ID)).items, "it is no part of a plan in force").toEqual([]);
  });

  it("X4 what the sign-in may not change stays, and it is told that the clinic has to be asked", async () => {
    store(ALL_SIGNED);
    const can = (type: string, letter: string) => type !== "ServiceRequest" || letter !== "u";
    const report = await withdraw(session({ can }));
    expect(report).toMatchObject({
      outcome: "part",
      problem: {
        title: "Not everything could be withdrawn.",
        what: "2 of 3 stored items are withdrawn. Nothing was deleted.",
      },
    });
    expect(report.items.at(-1)).toEqual({
      key: "request",
      title: "Order without a name",
      reference: "ServiceRequest/request",
      outcome: "not-saved",
      reason: "Your sign-in may not change it here.",
    });
    expect(statusOf("ServiceRequest/request")).toBe("active");
  });

  it("is not called withdrawn while a kind could not be read", async () => {
    store(ALL_SIGNED);
    record.bendSearch = ({ at }, go) =>
      at.startsWith("Appointment") && at.includes("_count=100") ? no("server") : go();
    expect(await withdraw()).toMatchObject({
      outcome: "part",
      problem: { what: expect.stringMatching(/^3 of 3 .* Appointment could not be read\.$/) },
    });
  });

  it("of which the orders are done is withdrawn as far as it can be", async () => {
    store(ALL_SIGNED, (one) => (one.resourceType === "ServiceRequest" ? { ...one, status: "completed" } : one));
    const report = await withdraw();
    expect(report.outcome).toBe("withdrawn");
    expect(report.items.at(-1)).toMatchObject({ key: "request", outcome: "not-saved" });
    expect(statusOf("ServiceRequest/request")).toBe("completed");
  });

  it("of which nothing is stored: there is nothing to take back", async () => {
    expect(await withdraw()).toMatchObject({
      outcome: "not-withdrawn",
      items: [],
      problem: { title: "Nothing of this plan is stored." },
    });
    expect(record.writes).toEqual([]);
  });

  it("L11 by nobody who is known: nothing is changed", async () => {
    store(ALL_SIGNED);
    const signer = async () => ({ ok: false as const, reason: "No id_token." });
    expect(await withdraw(session({ signer }))).toMatchObject({
      outcome: "not-withdrawn",
      problem: { title: "Nobody is known to withdraw it.", what: "No id_token." },
    });
    expect(record.writes).toEqual([]);
  });

  it("refused by the record system, nothing of it is withdrawn, in its own words", async () => {
    store(ALL_SIGNED);
    record.bend = ({ how, method }, go) =>
      how === "write" && method === "PUT" ? no("refused", { status: 403 }) : go();
    expect(await withdraw()).toMatchObject({
      outcome: "not-withdrawn",
      problem: { title: "The record system does not allow this." },
    });
    expect(statusOf("CarePlan/plan")).toBe("active");
  });
});

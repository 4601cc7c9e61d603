/** A plan that goes into the record one thing at a time, each step looked at by itself. */
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { bundleOf, type DraftItem, draftPlan, itemsOf } from "../../src/fhir/drafts.ts";
import type { StoredChange } from "../../src/fhir/stored-change.ts";
import { capabilitiesOf } from "../../src/smart/capabilities.ts";
import { contentOf, filingOf } from "../../src/smart/filing.ts";
import { unfinishedHere } from "../../src/smart/journal.ts";
import { seenIn } from "../../src/smart/read-chart.ts";
import { type SingleJob, writeSingly } from "../../src/smart/single-writes.ts";
import { lookAll, whatIsThere } from "../../src/smart/stored-look.ts";
import { type FhirResource, fhirProblem } from "../../src/smart/transport.ts";
import { writeBack } from "../../src/smart/write-back.ts";
import type { WriteContext } from "../../src/smart/write-report.ts";
import { inputFor, MALLET } from "../fhir/cases.ts";
import { no, RecordInMemory, storageOver, yes } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts, PLAN_ID } from "./stored-plan.ts";
import { ALL, AT, ONE_BY_ONE, SIGNER, singleJobOver } from "./writing-job.ts";

const RECORD_KEY = "provenance-sign-202606011000000200";

let record: RecordInMemory;
let waits: number[];
let steps: string[];
let tab: Map<string, string>;
beforeEach(() => {
  record = new RecordInMemory();
  waits = [];
  steps = [];
  tab = new Map();
  vi.stubGlobal("sessionStorage", storageOver(tab));
  vi.spyOn(Math, "random").mockReturnValue(0);
});
afterEach(() => {
  vi.unstubAllGlobals();
  vi.restoreAllMocks();
});

const job = (
  items: readonly DraftItem[] = drafts(),
  act: Act = "sign",
  more: Partial<WriteContext> = {},
  capabilities = ONE_BY_ONE,
): SingleJob => {
  const context = {
    wait: async (ms: number) => void waits.push(ms),
    onStep: (step: string) => steps.push(step),
    ...more,
  };
  return singleJobOver(record, { items, act, context }, capabilities);
};
/** As `writeBack` does: looks what is there, then writes the rest. */
async function write(one: SingleJob = job()) {
  const { items, act, context } = one;
  const changes = context.changes ? { changes: context.changes } : {};
  const entries = itemsOf(bundleOf(items, act, { signer: SIGNER, at: AT, ...changes }));
  const looks = await lookAll(one.session, entries);
  const there = whatIsThere(one, entries, looks);
  if ("problem" in there) throw new Error(there.problem.title);
  record.calls.length = 0;
  return writeSingly(one, there, looks);
}
const only = (...kinds: DraftItem["kind"][]) => drafts().filter(({ kind }) => kinds.includes(kind));
/** An item of an earlier plan, put into the record, and its end. */
function endOf(type: string, id: string): StoredChange {
  const key = `11111111-0000-4000-8000-000000000001:${id}`;
  const meta = {
    tag: [
      { system: "https://fingerpost.example/plan-item", code: key },
      { system: "https://fingerpost.example/fhir/CodeSystem/plan-life", code: "supersede" },
    ],
  };
  const before = { resourceType: type, id, status: "active", subject: { reference: "Patient/p1" }, meta };
  record.put({ ...before, meta: {} }, id);
  const resource = { ...before, status: "revoked" } as unknown as StoredChange["resource"];
  return { key: `old:${key}`, title: id, words: [], reference: `${type}/${id}`, version: "1", resource };
}
const told = (report: Awaited<ReturnType<typeof write>>) =>
  Object.fromEntries(report.items.map(({ key, outcome }) => [key, outcome]));
const sent = (nth: number) => record.calls.filter(({ how }) => how === "write")[nth]!;
const refusing = (at: string, answer: ReturnType<typeof no>, from = 1) => {
  let seen = 0;
  record.bend = ({ how, at: path }, go) => (how === "write" && path === at && ++seen >= from ? answer : go());
};

describe("P4 a plan written one thing at a time", () => {
  it("INV-1 stands whole as drafts before its first part comes into effect, and the order on which somebody acts comes last", async () => {
    const report = await write();
    expect(record.writes).toEqual([
      "POST Condition",
      "POST ServiceRequest",
      "POST CarePlan",
      "PUT Condition/n1",
      "PUT CarePlan/n3",
      "PUT ServiceRequest/n2",
      "POST Provenance",
    ]);
    expect([0, 1, 2].map((at) => sent(at).resource?.status)).toEqual([undefined, "draft", "draft"]);
    expect([3, 4, 5].map((at) => sent(at).resource?.status)).toEqual([undefined, "active", "active"]);
    expect(report).toMatchObject({ act: "sign", outcome: "saved", provenance: { outcome: "saved" } });
    expect(report.problem).toBeUndefined();
    expect(report.items.map(({ reference, version }) => [reference, version])).toEqual([
      ["Condition/n1", "2"],
      ["ServiceRequest/n2", "2"],
      ["CarePlan/n3", "2"],
    ]);
    expect(steps).toEqual([
      ...["sending", "sending", "sending", "confirming"],
      ...["sending", "sending", "sending", "sending", "confirming"],
    ]);
    expect(waits).toEqual([]);
  });

  it("I2 each is created only where none of its kind and name is there, and changed only in the version that was read back", async () => {
    await write();
    expect(sent(0).headers).toEqual({
      "if-none-exist": `identifier=https://fingerpost.example/plan-item|${PLAN_ID}:condition`,
    });
    expect([3, 4, 5].map((at) => sent(at).headers)).toEqual(Array(3).fill({ "if-match": 'W/"1"' }));
    expect(sent(6).headers).toEqual({
      "if-none-exist": `_tag=https://fingerpost.example/plan-item|${PLAN_ID}:${RECORD_KEY}`,
    });
  });

  it("D9 points to what is stored, not to names that only this page knows", async () => {
    await write();
    expect(sent(1).resource?.reasonReference).toEqual([{ reference: "Condition/n1" }]);
    expect(sent(2).resource?.activity).toEqual([{ reference: { reference: "ServiceRequest/n2" } }]);
    expect(sent(6).resource?.target).toEqual(
      ["Condition/n1", "ServiceRequest/n2", "CarePlan/n3"].map((reference) => ({ reference })),
    );
    expect(JSON.stringify(record.calls.map(({ resource }) => resource))).not.toContain("urn:uuid:");
  });

  it("as a draft is created once, changed never, and every item of it is saved", async () => {
    const report = await write(job(drafts(), "draft"));
    expect(record.writes).toEqual(["POST Condition", "POST ServiceRequest", "POST CarePlan", "POST Provenance"]);
    expect(told(report)).toEqual({ condition: "saved", request: "saved", plan: "saved" });
    expect(report.outcome).toBe("saved");
    expect(steps).toEqual(["sending", "sending", "sending", "sending", "confirming"]);
  });

  it("INV-1 comes into effect kind by kind: what was found, the diagnosis, the plan, and last what somebody acts on", async () => {
    const whole = draftPlan(inputFor(MALLET));
    expect((await write(job(whole))).outcome).toBe("saved");
    const kinds = record.writes.filter((one) => !one.startsWith("POST ") || one.endsWith("Provenance"));
    expect([...new Set(kinds.map((one) => one.split(/[ /]/)[1]))]).toEqual([
      ...["QuestionnaireResponse", "Condition", "CarePlan", "ServiceRequest", "Appointment", "Provenance"],
    ]);
    const orders = kinds.filter((one) => one.includes("ServiceRequest"));
    expect(kinds.slice(3, 3 + orders.length), "orders stand together").toEqual(orders);
  });

  it("needs nobody who listens to its steps", async () => {
    const { onStep: _nobody, ...context } = job().context;
    let nth = 0;
    record.bend = ({ how }, go) => (how === "write" && ++nth === 1 ? no("offline") : go());
    expect((await write({ ...job(), context })).outcome).toBe("saved");
  });

  it("REL-37 signed, but still shown in its old form, is looked for again, and saved once it shows", async () => {
    let old: FhirResource | undefined;
    let looks = 0;
    record.bend = ({ how, at }, go) => {
      if (how === "write" && at === "CarePlan/n3") old = record.held.get(at);
      return how === "read" && at === "CarePlan/n3" && old && ++looks <= 2 ? yes(old) : go();
    };
    expect((await write()).outcome).toBe("saved");
    expect(waits).toEqual([500, 1000]);
  });

  it("of one thing alone needs no draft first: it is whole as soon as it is there", async () => {
    expect((await write(job(only("request", "provenance")))).outcome).toBe("saved");
    expect(record.writes).toEqual(["POST ServiceRequest", "POST Provenance"]);
    expect(sent(0).resource?.status).toBe("active");
  });

  it("where the record system knows no conditional create goes out without the condition", async () => {
    const plain = { ...ONE_BY_ONE, offers: () => ({ ...ALL, conditionalCreate: false }) };
    await write(job(drafts(), "draft", {}, plain));
    expect(record.calls.filter(({ how }) => how === "write").map(({ headers }) => headers)).toEqual([{}, {}, {}, {}]);
  });

  it("REL-29 leaves alone what an earlier attempt has left as it should be", async () => {
    await write(job(drafts(), "draft"));
    const begun = job();
    for (const one of record.held.values()) seenIn(begun.session.context).own.set(tagOf(one), "1");
    expect((await write(begun)).outcome).toBe("saved");
    expect(record.writes).toEqual(["PUT Condition/n1", "PUT CarePlan/n3", "PUT ServiceRequest/n2", "POST Provenance"]);
  });

  it("P4 signed over by nobody: what was signed already at another time is left as it stands", async () => {
    refusing("ServiceRequest/n2", no("server", { status: 500 }));
    expect((await write()).outcome).toBe("unknown");
    record.bend = (_call, go) => go();
    const again = job();
    for (const one of record.held.values()) seenIn(again.session.context).own.set(tagOf(one), versionIn(one));
    const entries = itemsOf(bundleOf(drafts(), "sign", { signer: SIGNER, at: "2026-06-01T11:30:00+02:00" }));
    const later = { ...again, context: { ...again.context, at: "2026-06-01T11:30:00+02:00" } };
    const looks = await lookAll(again.session, entries);
    const there = whatIsThere(later, entries, looks);
    if ("problem" in there) throw new Error(there.problem.title);
    record.calls.length = 0;
    expect((await writeSingly(later, there, looks)).outcome).toBe("saved");
    expect(record.writes).toEqual(["PUT ServiceRequest/n2", "POST Provenance"]);
  });

  it("X2 ends the earlier plan only once the new one is in effect, its orders before the plan itself", async () => {
    const changes = [endOf("CarePlan", "oldplan"), endOf("ServiceRequest", "oldorder")];
    const life = itemsOf(bundleOf(drafts(), "sign", { signer: SIGNER, at: AT, changes })).filter(({ key }) =>
      key.startsWith("old:"),
    );
    expect(life, "recognised as changes").toHaveLength(2);
    const report = await write(job(drafts(), "sign", { changes }));
    expect(record.writes.slice(3)).toEqual([
      ...["PUT Condition/n1", "PUT CarePlan/n3", "PUT ServiceRequest/n2"],
      ...["PUT ServiceRequest/oldorder", "PUT CarePlan/oldplan"],
      ...["POST Provenance", "POST Provenance"],
    ]);
    expect(report.outcome).toBe("saved");
    expect(report.items.map(({ title }) => title)).toContain("oldorder");
  });
});
const NOTHING_YET = { allSaved: false, existing: {}, done: new Map() };
const tagOf = (one: FhirResource) =>
  (one.meta as { tag: { system: string; code: string }[] }).tag.find(({ system }) => system.endsWith("plan-item"))!
    .code;
const versionIn = (one: FhirResource) => (one.meta as { versionId: string }).versionId;

describe("INV-4 REL-29 a plan that stands in a record system that takes one thing at a time, signed once more", () => {
  const held = { kind: "chart-changed", title: "Changed.", what: "w", next: "n" };
  const again = (beforeSending: WriteContext["beforeSending"]) => {
    const { session, items, act, context, filing } = job();
    record.put({ resourceType: "Patient", active: true, birthDate: "1990-02-03", name: [{ text: "Ann" }] }, "p1");
    record.calls.length = 0;
    return writeBack(session, items, act, { ...context, filing, beforeSending: beforeSending! });
  };
  it("is called saved, whatever else changed in the chart, and nothing is sent", async () => {
    await write();
    const report = await again(async () => held);
    expect([report.outcome, report.provenance?.outcome]).toEqual(["saved", "saved"]);
    expect(record.writes).toEqual([]);
  });
  it("D9 gets the record of who did what when that alone is missing", async () => {
    await write();
    for (const { id } of record.of("Provenance")) record.held.delete(`Provenance/${id}`);
    const report = await again(async () => undefined);
    expect([report.outcome, report.provenance?.outcome]).toEqual(["saved", "saved"]);
    expect(record.writes).toEqual(["POST Provenance"]);
  });
});

describe("INV-5 drafts that are read back before anything comes into effect", () => {
  it("REL-36 one that the record system changed stops it: nothing is in effect, and it says where", async () => {
    record.alter = (one) => (one.resourceType === "CarePlan" ? { ...one, note: [{ text: "cut off" }] } : one);
    const report = await write();
    expect(record.writes).toEqual(["POST Condition", "POST ServiceRequest", "POST CarePlan"]);
    expect(report.outcome).toBe("unknown");
    expect(report.items.find(({ key }) => key === "plan")).toMatchObject({
      outcome: "unknown",
      reference: "CarePlan/n3",
      differences: ["note[0].text"],
      reason: "It is stored, but not as it was sent.",
    });
    expect(told(report)).toEqual({ condition: "as-draft", request: "as-draft", plan: "unknown" });
    expect(report.items[0]?.reason).toBe("It is stored as a draft and has no effect.");
    expect(report.problem).toMatchObject({ title: "The record system changed an item." });
    expect(report.otherwise).toBeUndefined();
  });

  it("REL-37 one that is not found yet is looked for again, slower each time, and the plan is then signed", async () => {
    let looks = 0;
    record.bend = ({ how, at }, go) => (how === "read" && at === "CarePlan/n3" && ++looks <= 2 ? no("server") : go());
    const search = record.search.bind(record);
    let searches = 0;
    record.search = async (at) => (at.startsWith("CarePlan") && ++searches <= 2 ? no("server") : search(at));
    const report = await writeSingly(job(), NOTHING_YET, new Map());
    expect(report.outcome).toBe("saved");
    expect(waits).toEqual([500, 1000]);
  });

  it("REL-37 one that is never found is not known, and nothing is signed", async () => {
    record.bend = ({ how, at }, go) => (how === "read" && at === "CarePlan/n3" ? no("server") : go());
    record.bendSearch = ({ at }, go) => (at.startsWith("CarePlan") ? no("server") : go());
    const report = await writeSingly(job(), NOTHING_YET, new Map());
    expect(record.writes).toEqual(["POST Condition", "POST ServiceRequest", "POST CarePlan"]);
    expect(waits).toEqual([500, 1000, 2000, 4000]);
    expect(told(report)).toEqual({ condition: "as-draft", request: "as-draft", plan: "unknown" });
    expect(report.items[2]).toMatchObject({ reason: "It was not found in the record. It may still be stored." });
    expect(report.problem).toMatchObject({ title: "A stored item could not be read back." });
  });
});

describe("INV-6 a plan of which a part is refused", () => {
  it.each([
    ["its kind is not allowed", no("refused", { status: 403 }), { what: "create", type: "ServiceRequest" }],
    ["its kind is not known", no("unsupported", { status: 404 }), { what: "create", type: "ServiceRequest" }],
  ])("P1 REL-33 since %s: the rest is not sent, and the next attempt knows", async (_why, answer, refusal) => {
    refusing("ServiceRequest", answer);
    const one = job();
    const report = await write(one);
    expect(record.writes).toEqual(["POST Condition", "POST ServiceRequest"]);
    expect(report).toMatchObject({ outcome: "part", otherwise: true, problem: { title: answer.problem.title } });
    expect(told(report)).toEqual({ condition: "as-draft", plan: "not-saved", request: "not-saved" });
    expect(report.items.map(({ reason }) => reason)).toEqual([
      "It is stored as a draft and has no effect.",
      answer.problem.title,
      "It was not sent.",
    ]);
    expect(report.problem?.what).toBe(
      "Of 3 items: 1 stored as a draft without effect, 2 not stored. Your draft is kept on this page.",
    );
    expect(report.problem?.next).toMatch(/^See below what can be filed/);
    expect((await capabilitiesOf(one.session)).refusals).toMatchObject([refusal]);
  });

  it("P7 as it is worded: only this wording is known as refused, with what the record system said", async () => {
    const said = [{ severity: "error", code: "invalid", text: "reason is unknown", at: [] }];
    refusing("ServiceRequest", no("invalid", { status: 422, outcome: said }));
    const one = job();
    const report = await write(one);
    expect(report.otherwise).toBe(true);
    expect(report.problem?.serverSaid).toBe("reason is unknown");
    const item = drafts().find(({ key }) => key === "request")!;
    expect((await capabilitiesOf(one.session)).refusals).toEqual([
      { what: "item", key: "request", content: contentOf(item), said: "reason is unknown" },
    ]);
  });

  it("P4 at its very first thing: nothing is stored, which is said, and there is nothing to take up again", async () => {
    refusing("Condition", no("refused", { status: 403 }));
    const one = job();
    const report = await write(one);
    expect(report).toMatchObject({ outcome: "not-saved", otherwise: true });
    expect(report.problem).toMatchObject({
      what: "Nothing of the plan is stored. Your draft is kept on this page.",
      next: "See below what can be filed instead, then decide again.",
    });
    expect(unfinishedHere(one.session.context)).toBeUndefined();
  });

  it("I5 by a conflict teaches nothing: the same may be taken later", async () => {
    refusing("Condition", no("conflict", { status: 409 }));
    const one = job();
    const report = await write(one);
    expect(report).toMatchObject({ outcome: "not-saved", problem: { kind: "conflict" } });
    expect(report.otherwise).toBeUndefined();
    expect(report.problem?.next).toBe(fhirProblem("conflict").next);
    expect((await capabilitiesOf(one.session)).refusals).toEqual([]);
  });

  it("X1 when it is signed: what may not be changed is known as that, and stays a draft", async () => {
    refusing("CarePlan/n3", no("refused", { status: 403 }));
    const one = job();
    const report = await write(one);
    expect(told(report)).toEqual({ condition: "saved", plan: "as-draft", request: "as-draft" });
    expect(report.outcome).toBe("part");
    expect(report.problem?.what).toMatch(/^Of 3 items: 1 saved, 2 stored as a draft without effect\./);
    expect((await capabilitiesOf(one.session)).refusals).toMatchObject([{ what: "update", type: "CarePlan" }]);
  });

  it("X2 an earlier plan's item that may not be changed stands as it stood, and says nothing of the new ones", async () => {
    const changes = [endOf("ServiceRequest", "oldorder"), endOf("CarePlan", "oldplan")];
    refusing("ServiceRequest/oldorder", no("refused", { status: 403 }));
    const one = job(drafts(), "sign", { changes });
    const report = await write(one);
    expect(report.outcome).toBe("part");
    expect(report.otherwise).toBeUndefined();
    expect(
      report.items.filter(({ key }) => key.startsWith("old:")).map(({ outcome, reason }) => [outcome, reason]),
    ).toEqual([
      ["not-saved", "It was not changed."],
      ["not-saved", "It was not changed."],
    ]);
    expect(report.problem?.what).toMatch(/^Of 5 items: 3 saved, 2 not stored\./);
    expect((await capabilitiesOf(one.session)).refusals).toEqual([]);
  });

  it("X2 REL-29 the end of an earlier plan alone that stops half way begins nothing that would be taken up again", async () => {
    const changes = [endOf("ServiceRequest", "oldorder"), endOf("CarePlan", "oldplan")];
    refusing("CarePlan/oldplan", no("refused", { status: 403 }));
    const items = only("provenance");
    const filing = filingOf(items, ONE_BY_ONE, () => true, { changes: true });
    const one = { ...job(items, "sign", { changes }), filing };
    const report = await write(one);
    expect(report.outcome).toBe("part");
    expect(report.items.map(({ outcome }) => outcome).sort()).toEqual(["not-saved", "saved"]);
    expect(unfinishedHere(one.session.context)).toBeUndefined();
  });

  it("D9 INV-5 in its record of who did what only: the plan is saved, and the refusal is told", async () => {
    refusing("Provenance", no("refused", { status: 403 }));
    const one = job();
    const report = await write(one);
    expect(report.outcome).toBe("saved");
    expect(report.provenance).toMatchObject({
      key: RECORD_KEY,
      title: "Record of who did what",
      outcome: "not-saved",
      reason: fhirProblem("refused").title,
    });
    expect(report.otherwise).toBeUndefined();
    expect(waits).toEqual([]);
    expect((await capabilitiesOf(one.session)).refusals).toMatchObject([{ what: "create", type: "Provenance" }]);
  });
});

describe("SEC-20 REL-29 what was begun is noted in the tab", () => {
  it("before the first thing goes out, with each place as it becomes known, and no more once all is saved", async () => {
    const notes: unknown[] = [];
    record.bend = ({ how }, go) => {
      if (how === "write") notes.push(unfinishedHere({ base: BASE, patientId: "p1" })?.items.map((i) => i.reference));
      return go();
    };
    const one = job();
    await write(one);
    expect(notes.slice(0, 4)).toEqual([
      [undefined, undefined, undefined],
      ["Condition/n1", undefined, undefined],
      ["Condition/n1", "ServiceRequest/n2", undefined],
      ["Condition/n1", "ServiceRequest/n2", "CarePlan/n3"],
    ]);
    expect(unfinishedHere(one.session.context)).toBeUndefined();
  });

  it("and stays, with the versions that were read back, when it was stopped", async () => {
    refusing("CarePlan", no("refused", { status: 403 }));
    const one = job();
    await write(one);
    expect(unfinishedHere(one.session.context)).toEqual({
      planId: PLAN_ID,
      act: "sign",
      at: AT,
      items: [
        { key: "condition", reference: "Condition/n1", version: "1" },
        { key: "request", reference: "ServiceRequest/n2", version: "1" },
        { key: "plan" },
      ],
    });
  });
});

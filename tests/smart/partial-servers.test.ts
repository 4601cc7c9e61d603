/** Writing back to record systems that support only part of what a plan needs: against the practice EHR, over the network. */
import type { DocumentReference } from "fhir/r4";
import { afterAll, beforeAll, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act, DraftItem, DraftKind } from "../../src/fhir/drafts.ts";
import type { Lane } from "../../src/smart/filing.ts";
import type { Session } from "../../src/smart/session.ts";
import type { WriteReport } from "../../src/smart/write-back.ts";
import { control as controlOf, launched, openPractice, PATIENT, type Practice, planFor } from "./on-practice.ts";

let practice: Practice;
let first: Session;
beforeAll(async () => {
  practice = await openPractice();
  first = await launched(practice);
});
afterAll(async () => {
  vi.unstubAllGlobals();
  await practice.close();
});
beforeEach(() => control({ reset: true, clearLogs: true }));

/** The same sign-in as a launch that has seen, asked and learned nothing yet. */
const newSession = (): Session => ({ ...first, context: Object.freeze({ ...first.context }) });

const control = (setting: object) => controlOf(practice, setting);
const AT = "2026-11-25T15:10:00+01:00";
const SIGNER = { reference: "Practitioner/imke-harrowgate", display: "Dr Imke Harrowgate" };
const ALL = [
  "QuestionnaireResponse",
  "Condition",
  "ServiceRequest",
  "Appointment",
  "CarePlan",
  "DocumentReference",
  "Provenance",
] as const;

type Stored = { resourceType: string; id: string; status?: string; meta: { tag?: { system: string; code: string }[] } };
const stored = (type: string, planId: string) =>
  (practice.stored(type) as unknown as Stored[]).filter((one) => tagOf(one, "/plan") === planId);
const tagOf = ({ meta }: Stored, system: string) => meta.tag?.find((t) => t.system.endsWith(system))?.code;
const keyOf = (one: Stored) => tagOf(one, "plan-item")?.split(":")[1] ?? "";
const everything = (planId: string) => ALL.flatMap((type) => stored(type, planId));
/** What somebody would act on: orders in effect, and visits that are no draft. */
const actionable = (planId: string) => [
  ...stored("ServiceRequest", planId).filter((one) => one.status === "active"),
  ...stored("Appointment", planId).filter((one) => one.status === "proposed" && tagOf(one, "/act") === "signed"),
];
const writes = async () => {
  const answer = await fetch(`${practice.ehrUrl}/practice/requests`);
  const log = (await answer.json()) as { method: string; path: string; status: number }[];
  return log.filter(({ method, path }) => ["POST", "PUT", "DELETE"].includes(method) && path.startsWith("/fhir"));
};

/** The modules of the page that is open: each launch loads them anew. */
const rooms = async () => ({
  ...(await import("../../src/smart/write-back.ts")),
  ...(await import("../../src/smart/capabilities.ts")),
  ...(await import("../../src/smart/filing.ts")),
  ...(await import("../../src/smart/journal.ts")),
  ...(await import("../../src/smart/unfinished.ts")),
  ...(await import("../../src/smart/read-chart.ts")),
  ...(await import("../../src/fhir/chart.ts")),
  ...(await import("../../src/fhir/drafts.ts")),
});
/** By a clinician who knows of every plan that the record holds: other tests have left theirs in it. */
const write = async (session: Session, items: readonly DraftItem[], act: Act, at = AT): Promise<WriteReport> =>
  (await rooms()).writeBack(session, items, act, {
    at,
    wait: async () => {},
    plansSeen: practice.stored("CarePlan").map(({ id }) => `CarePlan/${id}`),
  });
const lanesFor = async (session: Session, items: readonly DraftItem[]) => {
  const { filingOf, capabilitiesOf } = await rooms();
  return filingOf(items, await capabilitiesOf(session), session.can);
};

type Lanes = Partial<Record<DraftKind, Lane | "as-order">>;
const SERVERS: readonly (readonly [name: string, capabilities: object, otherwise: Lanes])[] = [
  ["takes no transactions", { transaction: false }, {}],
  ["knows no conditional create", { conditionalCreate: false }, {}],
  ["takes no transactions and knows no conditional create", { transaction: false, conditionalCreate: false }, {}],
  ["takes no care plans", { noCreate: ["CarePlan"] }, { plan: "in-document" }],
  ["takes no visits", { noCreate: ["Appointment"] }, { visit: "as-order" }],
  [
    "takes no care plans and no visits",
    { noCreate: ["CarePlan", "Appointment"] },
    { plan: "in-document", visit: "as-order" },
  ],
  [
    "takes no care plans, no visits and no transactions",
    { noCreate: ["CarePlan", "Appointment"], transaction: false },
    { plan: "in-document", visit: "as-order" },
  ],
  ["takes no diagnoses", { noCreate: ["Condition"] }, { condition: "in-document" }],
  ["takes no orders", { noCreate: ["ServiceRequest"] }, { request: "in-document" }],
  [
    "takes no orders and no visits",
    { noCreate: ["ServiceRequest", "Appointment"] },
    { request: "in-document", visit: "in-document" },
  ],
  ["takes no findings", { noCreate: ["QuestionnaireResponse"] }, { findings: "in-document" }],
  ["takes no records of who did what", { noCreate: ["Provenance"] }, { provenance: "in-document" }],
  [
    "takes documents only",
    { noCreate: ALL.filter((type) => type !== "DocumentReference"), transaction: false },
    {
      findings: "in-document",
      condition: "in-document",
      request: "in-document",
      visit: "in-document",
      plan: "in-document",
      provenance: "in-document",
    },
  ],
  ["takes neither care plans nor documents", { noCreate: ["CarePlan", "DocumentReference"] }, { plan: "by-hand" }],
  [
    "lets nobody change an order, one by one",
    { transaction: false, noUpdate: ["ServiceRequest"] },
    { request: "in-document" },
  ],
];

const laneOf = (otherwise: Lanes, kind: DraftKind) => otherwise[kind] ?? "filed";
/** The page that a document holds, and the resources attached to it. */
function opened(document: Stored) {
  const { content } = document as unknown as DocumentReference;
  const text = (at: number) => Buffer.from(content[at]!.attachment.data!, "base64").toString("utf8");
  return { page: text(0), bundle: JSON.parse(text(1)) as { type: string; entry: { resource: Stored }[] } };
}

describe.each(SERVERS)("a record system that %s", (_name, capabilities, otherwise) => {
  it.each<Act>(["draft", "sign"])(
    "P1 P2 P4 P6 P7 says before what becomes of each item, and so it is: %s",
    async (act) => {
      await control({ capabilities });
      const session = newSession();
      const planId = crypto.randomUUID();
      const items = planFor(session, planId);
      const filing = await lanesFor(session, items);
      for (const item of items) {
        const placed = filing.lanes.get(item.key);
        expect([item.key, placed?.as === "order" ? "as-order" : placed?.lane]).toEqual([
          item.key,
          laneOf(otherwise, item.kind),
        ]);
        if (laneOf(otherwise, item.kind) !== "filed")
          expect(`${placed?.reason} ${placed?.instead}`).toMatch(/\. .*\.$/);
      }
      expect(everything(planId), "nothing is written before the act").toEqual([]);

      const report = await write(session, items, act);
      expect(report.problem).toBeUndefined();
      expect(report.outcome).toBe("saved");
      expect(
        (await writes()).filter(({ status }) => status >= 400),
        "nothing is tried that is known not to work",
      ).toEqual([]);
      check(planId, items, otherwise, act);
      await wordsAreSomewhere(session, planId, items, otherwise, act);
    },
  );

  it("P1 P6 REL-33 claims to support everything and refuses when tried: in the end the same stands in the record", async () => {
    await control({ capabilities: { ...capabilities, stated: false } });
    const session = newSession();
    const planId = crypto.randomUUID();
    const items = planFor(session, planId);
    let report = await write(session, items, "sign");
    for (let again = 0; report.outcome !== "saved" && again < 8; again++) {
      expect(actionable(planId), "INV-5: a refusal on the way leaves nothing in effect").toEqual([]);
      expect(report.problem?.next).toMatch(/below/);
      report = await write(session, items, "sign");
    }
    expect(report.problem).toBeUndefined();
    // A draft that stands already and cannot be changed is no order any more, and is left for the clinician to see.
    if ("noUpdate" in capabilities) return;
    check(planId, items, otherwise, "sign");
  });
});

/** Each item is where it should be, once. */
function check(planId: string, items: readonly DraftItem[], otherwise: Lanes, act: Act) {
  for (const item of items) {
    const lane = laneOf(otherwise, item.kind);
    const mine = everything(planId).filter((one) =>
      item.kind === "provenance" ? keyOf(one).startsWith("provenance-") : keyOf(one) === item.key,
    );
    const type = lane === "as-order" ? "ServiceRequest" : item.resource.resourceType;
    expect([item.key, mine.map((one) => one.resourceType)]).toEqual([
      item.key,
      lane === "filed" || lane === "as-order" ? [type] : [],
    ]);
    for (const one of mine) {
      if (one.resourceType === "ServiceRequest") expect(one.status).toBe(act === "sign" ? "active" : "draft");
      if (one.resourceType === "CarePlan") expect(one.status).toBe(act === "sign" ? "active" : "draft");
      if (one.resourceType !== "Provenance") expect(tagOf(one, "/act")).toBe(act === "sign" ? "signed" : "draft");
      expect(JSON.stringify(one)).toContain(`Patient/${PATIENT}`.slice(one.resourceType === "Provenance" ? 99 : 0));
    }
  }
  const documents = stored("DocumentReference", planId);
  const expected = Object.values(otherwise).includes("in-document") ? 1 : 0;
  expect(documents.map(({ status }) => status)).toEqual(Array(expected).fill("current"));
  for (const document of documents as unknown as DocumentReference[]) {
    expect([document.docStatus, document.date, document.author?.[0]?.reference]).toEqual([
      act === "sign" ? "final" : "preliminary",
      AT,
      SIGNER.reference,
    ]);
    const { page, bundle } = opened(document as unknown as Stored);
    expect(page).toContain(
      act === "sign" ? "Signed by Dr Imke Harrowgate, Wed 25 November 2026" : "Draft by Dr Imke Harrowgate",
    );
    expect(bundle.type).toBe("collection");
    expect(bundle.entry.map(({ resource }) => resource.resourceType)).toEqual(
      items.map((i) => i.resource.resourceType),
    );
  }
}

/** Nothing is lost: every line of every item stands in an entry, in the document, or in what is to be entered by hand. */
async function wordsAreSomewhere(
  session: Session,
  planId: string,
  items: readonly DraftItem[],
  otherwise: Lanes,
  act: Act,
) {
  const { byHand, asNote, readableOf } = await rooms();
  const filing = await lanesFor(session, items);
  const acting = { act, signer: SIGNER, at: AT };
  const note = byHand(items, filing, acting);
  const [document] = stored("DocumentReference", planId);
  for (const part of readableOf(items, acting).parts) {
    const kind = items.find(({ key }) => key === part.key)!.kind;
    const lane = laneOf(otherwise, kind);
    const place =
      lane === "by-hand"
        ? asNote(note!)
        : lane === "in-document"
          ? opened(document!).page.replaceAll("&#39;", "'").replaceAll("&amp;", "&").replaceAll("&quot;", '"')
          : undefined;
    for (const line of place === undefined ? [] : part.words) expect(place).toContain(line);
  }
  if (note) {
    expect(note.title).toMatch(/^NOT FILED in the record system/);
    expect(note.standing).toContain("Dr Imke Harrowgate, Wed 25 November 2026");
  }
}

const SINGLY = { capabilities: { transaction: false } };
const LATER = "2026-11-25T15:40:00+01:00";
/** Items of the plan that are written, without the record of who did what. */
const itemsIn = (items: readonly DraftItem[]) => items.filter(({ kind }) => kind !== "provenance");
/** From the k-th write on (0 is the first) the network is gone: all are created first, then signed over. */
const goneFrom = (k: number, created: number, times = 500, kind = "cut-before") => [
  { method: "POST", path: "^/fhir/[A-Z]", skip: Math.min(k, created), times, kind },
  { method: "PUT", skip: Math.max(0, k - created), times, kind },
];
/** A new launch in a tab with this storage, after the chart was read. */
async function launchedAgain(storage: Map<string, string>) {
  const session = await launched(practice, "emergency", storage);
  const { readChart, chartFrom } = await rooms();
  const parts = await readChart(session, () => {});
  const { earlierPlans } = chartFrom(parts as Parameters<typeof chartFrom>[0], {
    patientId: PATIENT,
    today: "2026-11-25",
    base: session.context.base,
  });
  return { session, earlierPlans };
}
const kept = () => new Map<string, string>();

describe("a plan written one by one that is stopped on the way", () => {
  let tab: Map<string, string>;
  let session: Session;
  let planId: string;
  let items: DraftItem[];
  async function stoppedAt(k: number, storage = kept()) {
    tab = storage;
    await control({ reset: true, clearLogs: true, reseed: true, ...SINGLY });
    session = await launched(practice, "emergency", tab);
    await session.signer();
    planId = crypto.randomUUID();
    items = planFor(session, planId);
    await control({ faults: goneFrom(k, itemsIn(items).length) });
    const report = await write(session, items, "sign");
    await control({ reset: true, ...SINGLY });
    return report;
  }
  const STEPS = 2 * itemsIn(planFor({ context: { patientId: PATIENT } } as Session, crypto.randomUUID())).length;
  const HALF = STEPS / 2;
  // Before anything, in the midst and at the end of the drafts, at the turn, and in the midst and at the end of signing.
  const STOPS = [0, 1, 6, HALF - 1, HALF, HALF + 1, HALF + 6, STEPS - 1];

  it.each(STOPS)(
    "INV-1 INV-5 INV-6 REL-25 REL-29 P4 after %i writes: nothing is in effect unless all of it is there, each item is told as it is, and it can be finished at the next launch",
    async (k) => {
      const report = await stoppedAt(k);
      const keys = itemsIn(items).map(({ key }) => key);
      expect(everything(planId)).toHaveLength(Math.min(k, keys.length));
      if (actionable(planId).length > 0) {
        expect(new Set(everything(planId).map(keyOf))).toEqual(new Set(keys));
        expect(stored("CarePlan", planId)).toMatchObject([{ status: "active" }]);
      }
      expect(report.outcome).toBe("unknown");
      for (const { key, outcome } of report.items) {
        const [held] = everything(planId).filter((one) => keyOf(one) === key);
        if (outcome === "saved") expect(tagOf(held!, "/act")).toBe("signed");
        if (outcome === "as-draft") expect(tagOf(held!, "/act")).toBe("draft");
        if (outcome === "not-saved") expect(held).toBeUndefined();
      }
      expect(report.items.filter(({ outcome }) => outcome === "unknown")).toHaveLength(1);

      const again = await launchedAgain(tab);
      const found = await (await rooms()).unfinishedPlans(again.session, again.earlierPlans);
      if (k === 0) expect(found).toEqual([]);
      else {
        expect(found).toMatchObject([{ planId, at: AT, act: "sign", total: keys.length }]);
        expect(new Set(found[0]?.stored.items.map(({ key }) => key))).toEqual(new Set(keys.slice(0, k)));
      }
      const finished = await write(again.session, planFor(again.session, planId), "sign", LATER);
      expect(finished.problem).toBeUndefined();
      expect(finished.outcome).toBe("saved");
      check(planId, items, {}, "sign");
      expect(await (await rooms()).unfinishedPlans(again.session, again.earlierPlans)).toEqual([]);
    },
  );

  it.each([1, HALF, STEPS - 1])(
    "P4 REL-29 REL-38 after %i writes it can be withdrawn at the next launch: nothing stays in effect, nothing is deleted, and the reason is kept",
    async (k) => {
      await stoppedAt(k);
      const before = everything(planId).length;
      const { session: next, earlierPlans } = await launchedAgain(tab);
      const { withdrawPlan, unfinishedPlans } = await rooms();
      const report = await withdrawPlan(next, planId, "The network was gone.", { at: LATER, appVersion: "0.1.0" });
      expect(report.problem).toBeUndefined();
      expect(report.outcome).toBe("withdrawn");
      const left = everything(planId).filter(({ resourceType }) => resourceType !== "Provenance");
      expect(left).toHaveLength(before);
      expect(actionable(planId)).toEqual([]);
      for (const one of left) {
        const status =
          one.status ?? JSON.stringify((one as unknown as { verificationStatus: unknown }).verificationStatus);
        expect(status).toMatch(/entered-in-error|revoked|cancelled/);
      }
      for (const one of left) expect(JSON.stringify(one)).toContain("The network was gone.");
      const targets = stored("Provenance", planId).flatMap(
        (one) => (one as unknown as { target: { reference: string }[] }).target,
      );
      expect(new Set(targets.map(({ reference }) => reference))).toEqual(
        new Set(left.map(({ resourceType, id }) => `${resourceType}/${id}`)),
      );
      expect((await writes()).map(({ method }) => method)).not.toContain("DELETE");
      expect(await unfinishedPlans(next, earlierPlans)).toEqual([]);
    },
  );

  it.each([1, HALF - 1, HALF + 1, STEPS - 1])(
    "REL-29 after %i writes, with the tab and its journal gone, the record alone shows that it is unfinished",
    async (k) => {
      await stoppedAt(k);
      const { session: elsewhere, earlierPlans } = await launchedAgain(kept());
      const { unfinishedPlans } = await rooms();
      const found = await unfinishedPlans(elsewhere, earlierPlans);
      expect(found.map((one) => [one.planId, one.stored.items.length, one.total])).toEqual([
        [planId, Math.min(k, HALF), undefined],
      ]);
    },
  );

  it("REL-29 whose signing stopped half-way can be signed as it stands from another computer", async () => {
    await stoppedAt(HALF + 4);
    const { session: elsewhere, earlierPlans } = await launchedAgain(kept());
    const { unfinishedPlans, writeBack } = await rooms();
    const [found] = await unfinishedPlans(elsewhere, earlierPlans);
    expect(found?.rest.length).toBeGreaterThan(1);
    const known = Object.fromEntries(
      found!.stored.items.map(({ key, reference, version }) => [key, { reference, ...(version ? { version } : {}) }]),
    );
    const report = await writeBack(elsewhere, found!.rest, "sign", { at: LATER, known });
    expect(report.outcome).toBe("saved");
    check(planId, items, {}, "sign");
    expect(await unfinishedPlans(elsewhere, (await launchedAgain(kept())).earlierPlans)).toEqual([]);
  });

  it("X4 REL-38 a visit that the clinic has booked is left to it when the plan is withdrawn, and that is said", async () => {
    await control({ reset: true, reseed: true, ...SINGLY });
    const { session: one } = await launchedAgain(kept());
    const id = crypto.randomUUID();
    await write(one, planFor(one, id), "sign");
    const [visit] = stored("Appointment", id);
    const booked = { status: "booked", start: "2026-12-02T09:00:00Z", end: "2026-12-02T09:20:00Z" };
    await one.fhir.write(`Appointment/${visit!.id}`, JSON.stringify({ ...visit, ...booked }), { method: "PUT" });
    const { withdrawPlan } = await rooms();
    const report = await withdrawPlan(one, id, "Another hospital.", { at: LATER, appVersion: "0.1.0" });
    expect(report.outcome).toBe("part");
    expect(report.items.find(({ key }) => key === keyOf(visit!))?.reason).toMatch(/tell the clinic/);
    expect(stored("Appointment", id).find((each) => each.id === visit!.id)).toMatchObject(booked);
    expect(stored("CarePlan", id)).toMatchObject([{ status: "revoked" }]);
  });

  it("REL-38 P7 where no record of who did what is taken, a withdrawal says it in each entry", async () => {
    await control({ reset: true, reseed: true, capabilities: { transaction: false, noCreate: ["Provenance"] } });
    const { session: one } = await launchedAgain(kept());
    const id = crypto.randomUUID();
    await write(one, planFor(one, id), "draft");
    const { withdrawPlan } = await rooms();
    const report = await withdrawPlan(one, id, "Another hospital.", { at: LATER, appVersion: "0.1.0" });
    expect(report.problem).toBeUndefined();
    expect(report.outcome).toBe("withdrawn");
    for (const each of everything(id).filter(({ resourceType }) => resourceType !== "DocumentReference"))
      expect(JSON.stringify(each)).toContain("Another hospital. By Dr Imke Harrowgate, Wed 25 November 2026");
  });

  it("finished drafts and signed plans are not called unfinished", async () => {
    for (const act of ["draft", "sign"] as const) {
      await control({ reset: true, ...SINGLY });
      const { session: one } = await launchedAgain(kept());
      const id = crypto.randomUUID();
      expect((await write(one, planFor(one, id), act)).outcome).toBe("saved");
      const { session: next, earlierPlans } = await launchedAgain(kept());
      expect(earlierPlans.map((plan) => plan.planId)).toContain(id);
      const found = await (await rooms()).unfinishedPlans(next, earlierPlans);
      expect(found.map((plan) => plan.planId)).not.toContain(id);
    }
  });

  it("SEC-20 the journal holds the plan's own id, keys, places, act and time, and nothing of the patient", async () => {
    await stoppedAt(5);
    const slots = [...tab].filter(([slot]) => slot.startsWith("fingerpost.unfinished."));
    expect(slots).toHaveLength(1);
    const [slot, text] = slots[0]!;
    expect(Object.keys(JSON.parse(text)).toSorted()).toEqual(["act", "at", "items", "planId"]);
    for (const item of JSON.parse(text).items)
      expect(["key", "reference", "version"]).toEqual(expect.arrayContaining(Object.keys(item)));
    expect(slot + text).not.toMatch(new RegExp(`${PATIENT}|Halloway|localhost|Patient/`));
  });

  it("answers that changed meanwhile are not mixed with what is signed already", async () => {
    await stoppedAt(HALF + 2);
    const { session: next } = await launchedAgain(tab);
    const changed = planFor(next, planId).map((item) =>
      item.resource.resourceType === "Condition"
        ? { ...item, resource: { ...item.resource, code: { text: "Another finger" } } }
        : item,
    );
    const report = await write(next, changed, "sign", LATER);
    expect(report).toMatchObject({ outcome: "not-saved", problem: { title: "This plan is signed already." } });
    expect(actionable(planId)).toEqual([]);
  });

  it.each([
    ["the connection is cut after it was stored", { kind: "cut-after" }],
    ["a fault is reported after it was stored", { kind: "status", status: 500, afterCommit: true }],
    ["the answer is empty", { kind: "empty" }],
    ["the connection is cut before it was stored", { kind: "cut-before" }],
    ["the server is too busy for a moment", { kind: "status", status: 429, retryAfter: "1" }],
    ["the token dies on the way", { kind: "status", status: 401 }],
  ])("REL-26 P4 is stored once and called saved when at one write %s, whichever it is", async (_, fault) => {
    for (const k of [0, 4, HALF - 1]) {
      await control({ reset: true, ...SINGLY });
      const session = newSession();
      const id = crypto.randomUUID();
      await control({
        faults: [
          { method: "POST", path: "^/fhir/[A-Z]", skip: k, ...fault },
          { method: "PUT", skip: k, ...fault },
        ],
      });
      const plan = planFor(session, id);
      const report = await write(session, plan, "sign");
      expect([k, report.outcome]).toEqual([k, "saved"]);
      check(id, plan, {}, "sign");
    }
  });

  it("D9 INV-5 the record of who did what comes last, points to real places, and its refusal undoes nothing but is told", async () => {
    await control(SINGLY);
    const session = newSession();
    const id = crypto.randomUUID();
    expect((await write(session, planFor(session, id), "sign")).outcome).toBe("saved");
    const [record] = stored("Provenance", id) as unknown as { target: { reference: string }[] }[];
    const places = everything(id).flatMap((one) =>
      one.resourceType === "Provenance" ? [] : [`${one.resourceType}/${one.id}`],
    );
    expect(new Set(record!.target.map(({ reference }) => reference))).toEqual(new Set(places));
    const log = (await writes()).map(({ method, path }) => `${method} ${path.split("/")[2]}`);
    expect(log.at(-1)).toBe("POST Provenance");
    const firstEffect = log.findIndex((one) => one === "PUT ServiceRequest" || one === "PUT Appointment");
    expect(log.slice(firstEffect).filter((one) => !/^PUT (ServiceRequest|Appointment)$/.test(one))).toEqual([
      "POST Provenance",
    ]);

    await control({ reset: true, capabilities: { transaction: false, noCreate: ["Provenance"], stated: false } });
    const other = newSession();
    const second = await write(other, planFor(other, crypto.randomUUID()), "sign");
    expect(second).toMatchObject({ outcome: "saved", provenance: { outcome: "not-saved" } });
  });

  it("P4 I4 a draft that a colleague changed while it was being written is not signed over", async () => {
    await stoppedAt(HALF + 1);
    const [order] = stored("ServiceRequest", planId);
    const { session: next } = await launchedAgain(tab);
    const phoned = JSON.stringify({ ...order, note: [{ text: "Phoned the clinic." }] });
    await next.fhir.write(`ServiceRequest/${order!.id}`, phoned, { method: "PUT" });
    const report = await write(next, planFor(next, planId), "sign", LATER);
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: { title: "The stored plan changed since you read it." },
    });
    expect(actionable(planId)).toEqual([]);
  });
});

describe("a record system that lets nobody write", () => {
  it.each<Act>(["draft", "sign"])(
    "P1 P6 P7 nothing is sent, and the plan is taken along, not filed, with author and time: %s",
    async (act) => {
      await control({ capabilities: { readOnly: true } });
      const session = newSession();
      const id = crypto.randomUUID();
      const items = planFor(session, id);
      const filing = await lanesFor(session, items);
      expect([filing.way, filing.document]).toEqual(["nothing", false]);
      expect(new Set([...filing.lanes.values()].map(({ lane }) => lane))).toEqual(new Set(["by-hand"]));
      const report = await write(session, items, act);
      expect(report).toMatchObject({
        outcome: "not-saved",
        problem: { title: "The record system takes no part of this plan." },
      });
      expect(await writes()).toEqual([]);
      await wordsAreSomewhere(session, id, items, Object.fromEntries(items.map(({ kind }) => [kind, "by-hand"])), act);
    },
  );

  it("P1 REL-33 but says otherwise: each refusal is told, nothing is stored, and in the end it is taken along", async () => {
    await control({ capabilities: { readOnly: true, stated: false, refuseWith: 403 } });
    const session = newSession();
    const id = crypto.randomUUID();
    const items = planFor(session, id);
    for (let again = 0; again < 9 && (await lanesFor(session, items)).way !== "nothing"; again++) {
      const report = await write(session, items, "sign");
      expect([report.outcome, report.problem?.kind]).toEqual(["not-saved", "refused"]);
    }
    expect((await lanesFor(session, items)).way).toBe("nothing");
    expect(everything(id)).toEqual([]);
  });
});

describe("the document of a plan", () => {
  const NO_PLANS = { reseed: true, capabilities: { noCreate: ["CarePlan"] } };
  it("P6 X1 of the draft is replaced by that of the signed plan, and that by the next version", async () => {
    await control(NO_PLANS);
    const session = newSession();
    const id = crypto.randomUUID();
    const items = planFor(session, id);
    const { writeBack } = await rooms();
    expect((await writeBack(session, items, "draft", { at: AT })).outcome).toBe("saved");
    const [draft] = stored("DocumentReference", id);
    const replaces = [`DocumentReference/${draft!.id}`];
    expect((await writeBack(session, items, "sign", { at: LATER, replaces })).outcome).toBe("saved");
    const signed = stored("DocumentReference", id).find((one) => one.id !== draft!.id);
    expect(signed).toMatchObject({
      docStatus: "final",
      relatesTo: [{ code: "replaces", target: { reference: replaces[0] } }],
    });
  });

  it("P6 is withdrawn by one that replaces it, since a document is never changed", async () => {
    await control(NO_PLANS);
    const session = newSession();
    const id = crypto.randomUUID();
    await write(session, planFor(session, id), "sign");
    const [filed] = stored("DocumentReference", id);
    const { withdrawPlan } = await rooms();
    const report = await withdrawPlan(session, id, "Wrong patient's findings.", { at: LATER, appVersion: "0.1.0" });
    expect(report.outcome).toBe("withdrawn");
    const next = stored("DocumentReference", id).find((one) => one.id !== filed!.id);
    expect(next).toMatchObject({
      status: "current",
      relatesTo: [{ code: "replaces", target: { reference: `DocumentReference/${filed!.id}` } }],
    });
    expect(
      Buffer.from((next as unknown as DocumentReference).content[0]!.attachment.data!, "base64").toString(),
    ).toContain("Wrong patient&#39;s findings.");
    expect(actionable(id)).toEqual([]);
  });

  it("P6 is found again in the chart as a saved plan", async () => {
    await control(NO_PLANS);
    const { session } = await launchedAgain(kept());
    const id = crypto.randomUUID();
    await write(session, planFor(session, id), "sign");
    const { earlierPlans } = await launchedAgain(kept());
    expect(earlierPlans).toMatchObject([
      { planId: id, signed: true, title: "Finger tip injury plan: left ring finger" },
    ]);
  });
});

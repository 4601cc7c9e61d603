import type { Appointment, CarePlan, Condition, Provenance, QuestionnaireResponse, ServiceRequest } from "fhir/r4";
import { describe, expect, it } from "vitest";
import { draftPlan, editDraft, itemsOf, removeDraft } from "../../src/fhir/drafts.ts";
import { moveOf, NONE } from "../../src/fhir/plan-life.ts";
import { refineDraft, sameDiagnoses } from "../../src/fhir/refine.ts";
import { differencesFrom, driftOf, droppedFrom, endOf, revisionOf, stillInForce } from "../../src/fhir/revision.ts";
import { samePlans } from "../../src/fhir/same-injury.ts";
import { actedUpon, withdrawal } from "../../src/fhir/stored-change.ts";
import { withdrawalRecord } from "../../src/fhir/withdrawal-record.ts";
import type { CaseRecord } from "../../src/pathway/index.ts";
import { AT, inputFor, MALLET, PLAN_ID, pathway, SIGNER, TWO_DIGITS } from "./cases.ts";
import { Visits } from "./chart-after.ts";

const NEXT_PLAN = "8d1f0c55-2b7e-4a3d-9e61-0c4b5a697788";
const OTHER_PLAN = "c2b7d1f4-6e08-4d19-a3f5-7b9a0c1d2e3f";
const ACTING = { signer: SIGNER, at: "2026-11-27T09:30:00+01:00", why: "seen again in clinic" };
const WHY = { ...ACTING, why: "wrong finger was recorded" };
const made = (record: CaseRecord, planId = PLAN_ID) => draftPlan(inputFor(record, { planId }));
const byKey = <T extends { key: string }>(all: readonly T[], key: string): T => all.find((i) => i.key === key)!;
const signed = (record: CaseRecord = MALLET): Visits => {
  const visits = new Visits();
  visits.write(made(record), "sign");
  return visits;
};
/** The same injury seen again the same evening. */
const AGAIN: CaseRecord = { ...MALLET, assessedAt: "2026-11-25T20:00" };
const WIDER: CaseRecord = {
  ...AGAIN,
  digits: [{ ...MALLET.digits[0], fragmentGapMm: 3, jointPosition: "volar-subluxed", displacement: "seen" }],
};
const revise = (visits: Visits, record: CaseRecord) => {
  const revision = revisionOf(made(record, NEXT_PLAN), visits.plan(PLAN_ID), ACTING);
  const bundle = visits.write(revision.items, "sign", { changes: revision.changes, at: ACTING.at });
  return { revision, bundle };
};

describe("X1 a second run of the same injury in which nothing changed", () => {
  const visits = signed();
  const before = new Map(visits.store.held);
  const { revision } = revise(visits, AGAIN);
  it("writes a new plan over new findings, and rewrites no order, visit or diagnosis", () => {
    for (const type of ["ServiceRequest", "Appointment", "Condition"])
      for (const r of visits.store.of(type)) expect(before.get(`${type}/${r.id}`)).toEqual(r);
    expect(revision.items.filter((i) => i.stands).map((i) => i.kind)).toEqual(
      revision.items.filter((i) => ["condition", "request", "visit"].includes(i.kind)).map((i) => i.kind),
    );
    expect(visits.all<QuestionnaireResponse>("QuestionnaireResponse").map((q) => q.status)).toEqual([
      "completed",
      "completed",
    ]);
  });
  it("X2 the new plan replaces the old one, which is revoked in the same transaction over the version that was read", () => {
    const [old, next] = visits.all<CarePlan>("CarePlan");
    expect([old!.status, next!.status]).toEqual(["revoked", "active"]);
    expect(next!.replaces).toEqual([{ reference: `CarePlan/${old!.id}` }]);
    expect(old!.note?.at(-1)?.text).toContain("seen again in clinic");
    expect(old!.text?.div).toContain("Replaced by a newer plan");
  });
  it("lists what stands, and read again it belongs to the new plan: a later withdrawal finds it", () => {
    const plan = visits.plan(NEXT_PLAN);
    expect(plan.items.filter((i) => i.type === "Appointment").length).toBe(visits.all("Appointment").length);
    expect(plan.items.filter((i) => i.type === "Condition").length).toBe(1);
    expect(
      visits
        .plan(PLAN_ID)
        .items.map((i) => i.type)
        .sort(),
    ).toEqual(["CarePlan", "QuestionnaireResponse"]);
    expect(plan.revises).toBe(`CarePlan/${visits.all<CarePlan>("CarePlan")[0]!.id}`);
  });
  it("and is still shown with it once that one is withdrawn, through however many revisions", () => {
    const third = "5a0e3c11-9d2f-4c57-8b7e-11c2d3e4f506";
    const later = signed();
    revise(later, AGAIN);
    const again = revisionOf(made(AGAIN, third), later.plan(NEXT_PLAN), ACTING);
    later.write(again.items, "sign", { changes: again.changes, at: "2026-11-28T09:00:00+01:00" });
    later.write([withdrawalRecord(third, "0.1.0")], "sign", {
      changes: withdrawal(later.plan(third), "withdraw", WHY).changes,
    });
    const counted = (planId: string) => later.plan(planId).items.filter((i) => i.type === "ServiceRequest").length;
    expect([counted(PLAN_ID), counted(NEXT_PLAN), counted(third)]).toEqual([0, 0, later.all("ServiceRequest").length]);
    expect(new Set(later.all<ServiceRequest>("ServiceRequest").map((o) => o.status))).toEqual(new Set(["revoked"]));
  });
  it("a plan withdrawn after that takes the orders of the first visit with it", () => {
    const { changes } = withdrawal(visits.plan(NEXT_PLAN), "withdraw", WHY);
    expect(changes.filter((c) => c.resource.resourceType === "ServiceRequest").length).toBe(
      visits.all("ServiceRequest").length,
    );
  });
});

describe("X1 seen again ten days later", () => {
  const LATER: CaseRecord = { ...MALLET, assessedAt: "2026-12-05T10:00" };
  const TODAY = "2026-12-05";
  const again = (record: CaseRecord, earlier: Visits) =>
    draftPlan(inputFor(record, { planId: NEXT_PLAN, policy: pathway.policy, revises: earlier.plan(PLAN_ID) }));
  const windows = (items: ReturnType<typeof made>) =>
    new Map(
      items.flatMap((i) => (i.kind === "visit" ? [[i.key, (i.resource as Appointment).requestedPeriod?.[0]]] : [])),
    );
  const first = windows(made(MALLET));

  it("a splint worn since the first visit is not counted from the second: every visit keeps its days", () => {
    expect(windows(again(LATER, signed()))).toEqual(first);
    const anew = windows(made(LATER, NEXT_PLAN));
    const later = [...first].filter(([key, window]) => (anew.get(key)?.end ?? "") > window!.end!);
    expect(later.length, "counted anew they would all be later").toBeGreaterThan(2);
  });
  it("so nothing of the orders and visits is written again", () => {
    const earlier = signed();
    const revision = revisionOf(again(LATER, earlier), earlier.plan(PLAN_ID), ACTING);
    const kinds = ["condition", "request", "visit"];
    expect(revision.items.filter((i) => kinds.includes(i.kind) && !i.stands).map((i) => i.key)).toEqual([]);
    expect(revision.changes.map((c) => c.resource.resourceType)).toEqual(["CarePlan"]);
  });
  it("a visit that was missed is asked for anew, from today", () => {
    const earlier = signed();
    const [missed] = earlier.all<Appointment>("Appointment");
    earlier.elsewhere(`Appointment/${missed!.id}`, (r) => Object.assign(r, { status: "noshow" }));
    const key = earlier.plan(PLAN_ID).items.find((i) => i.status === "noshow")!.key;
    const now = windows(again(LATER, earlier));
    expect(now.get(key)!.start! >= TODAY).toBe(true);
    expect([...now].filter(([other]) => other !== key)).toEqual([...first].filter(([other]) => other !== key));
  });
  const SLIPPED = { ...WIDER, assessedAt: LATER.assessedAt };
  it("what is asked for the first time counts from today, also the days of a referral", () => {
    const items = again(SLIPPED, signed());
    // What awaits an operation has no days yet.
    const fresh = [...windows(items)].filter(([key, window]) => window && !first.has(key));
    expect(fresh.length).toBeGreaterThan(0);
    for (const [key, window] of fresh) expect(window!.start! >= TODAY, key).toBe(true);
    const referral = items.find((i) => i.key.startsWith("referral-"))!.resource as ServiceRequest;
    expect(referral.occurrencePeriod).toEqual({ start: TODAY, end: "2026-12-12" });
  });
  it("a referral that is as urgent as before keeps its last day, though it has passed", () => {
    const items = again(SLIPPED, signed(WIDER));
    const referral = items.find((i) => i.key.startsWith("referral-"))!.resource as ServiceRequest;
    expect(referral.occurrencePeriod).toEqual({ start: "2026-11-25", end: "2026-12-02" });
  });
});

describe("X1 X2 the joint has slipped by the second visit", () => {
  const visits = signed();
  const { revision, bundle } = revise(visits, WIDER);
  it("orders that changed are revoked and replaced, visits of theirs not yet booked are cancelled with a reason", () => {
    const ended = revision.changes.filter((c) => c.resource.resourceType === "ServiceRequest");
    expect(ended.length).toBeGreaterThan(0);
    for (const { reference } of ended)
      expect((visits.store.held.get(reference) as unknown as ServiceRequest).status).toBe("revoked");
    const cancelled = revision.changes.filter((c) => c.resource.resourceType === "Appointment");
    for (const { reference } of cancelled) {
      const visit = visits.store.held.get(reference) as unknown as Appointment;
      expect([visit.status, visit.cancelationReason?.text]).toEqual([
        "cancelled",
        "Replaced by a newer plan: seen again in clinic",
      ]);
    }
    const replaced = visits.all<ServiceRequest>("ServiceRequest").flatMap((order) => order.replaces ?? []);
    expect(replaced.length).toBeGreaterThan(0);
    for (const { reference } of replaced)
      expect((visits.store.held.get(reference!) as unknown as ServiceRequest).status).toBe("revoked");
  });
  it("the diagnosis goes over its earlier self: one entry, with the code of today", () => {
    const conditions = visits.all<Condition>("Condition");
    expect(conditions).toHaveLength(1);
    expect(conditions[0]!.meta?.versionId).toBe("2");
    expect(conditions[0]!.code?.coding?.filter((c) => c.system?.includes("icd-10-cm"))).toHaveLength(1);
  });
  it("I8 every change goes over the version that was read, under a key of its own", () => {
    const olds = itemsOf(bundle).filter((i) => i.key.startsWith("old:"));
    expect(olds.map((i) => i.key).sort()).toEqual(revision.changes.map((c) => c.key).sort());
    for (const { method, ifMatch } of olds) expect([method, ifMatch]).toEqual(["PUT", 'W/"1"']);
    expect(new Set(itemsOf(bundle).map((i) => i.key)).size).toBe(itemsOf(bundle).length);
  });
  it("D8 the superseding is recorded by itself, with its reason, its person and exactly what it changed", () => {
    const records = visits.all<Provenance>("Provenance");
    const superseding = records.find((p) => p.reason)!;
    expect(superseding.target.map((t) => t.reference).sort()).toEqual(revision.changes.map((c) => c.reference).sort());
    expect(superseding.activity?.coding?.[0]?.code).toBe("UPDATE");
    expect(superseding.reason?.[0]?.text).toContain("seen again in clinic");
    expect(superseding.agent.at(-1)?.who).toEqual(SIGNER);
    expect(records.filter((p) => p.activity?.coding?.[0]?.code === "LA")).toHaveLength(2);
  });
  it("X1 what another program added to a stored resource is still there afterwards", () => {
    const other = signed();
    const [order] = other.all<ServiceRequest>("ServiceRequest");
    other.elsewhere(`ServiceRequest/${order!.id}`, (r) => {
      r.locationCode = [{ text: "Outpatients, door 4" }];
    });
    const { changes } = revisionOf(made(WIDER, NEXT_PLAN), other.plan(PLAN_ID), ACTING);
    const change = changes.find((c) => c.reference === `ServiceRequest/${order!.id}`);
    if (change) expect(change.resource).toMatchObject({ locationCode: [{ text: "Outpatients, door 4" }] });
    expect(
      withdrawal(other.plan(PLAN_ID), "withdraw", WHY)
        .changes.map((c) => JSON.stringify(c.resource))
        .join(),
    ).toContain("door 4");
  });
});

describe("X4 visits that the clinic has booked meanwhile", () => {
  const booked = () => {
    const visits = signed();
    const visit = visits.all<Appointment>("Appointment").find((a) => a.description?.startsWith("Splint"))!;
    visits.elsewhere(`Appointment/${visit.id}`, (r) => {
      Object.assign(r, { status: "booked", start: "2026-12-02T09:00:00+01:00", end: "2026-12-02T09:20:00+01:00" });
    });
    return { visits, reference: `Appointment/${visit.id}` };
  };
  it("stays as it is when its day still fits, and is not asked for again", () => {
    const { visits, reference } = booked();
    const before = visits.store.held.get(reference);
    const { revision } = revise(visits, AGAIN);
    expect(visits.store.held.get(reference)).toEqual(before);
    expect(revision.items.some((i) => i.stands?.reference === reference)).toBe(true);
  });
  it("is asked for anew when its day lies behind the last day that it is asked for, and the booked one is left to the clinic", () => {
    const { visits, reference } = booked();
    visits.elsewhere(reference, (r) => {
      Object.assign(r, { start: "2027-03-01T09:00:00+01:00", end: "2027-03-01T09:20:00+01:00" });
    });
    const { items, left } = revisionOf(made(AGAIN, NEXT_PLAN), visits.plan(PLAN_ID), ACTING);
    expect(items.some((i) => i.stands?.reference === reference)).toBe(false);
    expect(left.find((l) => l.reference === reference)?.clinic).toBe(true);
  });
  it("is left to the clinic, with its day, when the plan is withdrawn", () => {
    const { visits, reference } = booked();
    const { changes, left } = withdrawal(visits.plan(PLAN_ID), "withdraw", WHY);
    expect(changes.some((c) => c.reference === reference)).toBe(false);
    expect(left.find((l) => l.reference === reference)).toMatchObject({
      clinic: true,
      why: expect.stringContaining("Wed 2 December 2026"),
    });
  });
  it("is left to the clinic when the new plan leaves the visit out", () => {
    const { visits, reference } = booked();
    const items = made(AGAIN, NEXT_PLAN).map((i) =>
      i.key.startsWith("visit-splint") ? removeDraft(i, "seen at home") : i,
    );
    const { changes, left } = revisionOf(items, visits.plan(PLAN_ID), ACTING);
    expect(changes.some((c) => c.reference === reference)).toBe(false);
    expect(left.find((l) => l.reference === reference)?.clinic).toBe(true);
  });
  it("and what was done or booked keeps the plan from being called an error", () => {
    expect(actedUpon(signed().plan(PLAN_ID))).toBe(false);
    expect(actedUpon(booked().visits.plan(PLAN_ID))).toBe(true);
  });
});

describe("X1 what a person changed in the record is shown", () => {
  it("nothing, straight after signing", () => expect(driftOf(signed().plan(PLAN_ID))).toEqual([]));
  it("an order whose words somebody changed: what it said, and what it says now", () => {
    const visits = signed();
    const [order] = visits.all<ServiceRequest>("ServiceRequest");
    visits.elsewhere(`ServiceRequest/${order!.id}`, (r) => {
      r.performerType = { text: "ward physiotherapist" };
    });
    const [drift, ...others] = driftOf(visits.plan(PLAN_ID));
    expect(others).toEqual([]);
    expect(drift!.added).toEqual(["Asked of: ward physiotherapist."]);
    expect(drift!.gone).toHaveLength(1);
  });
  it("an order that somebody completed or revoked, and a text that another program rewrote", () => {
    const visits = signed();
    const [first, second] = visits.all<ServiceRequest>("ServiceRequest");
    visits.elsewhere(`ServiceRequest/${first!.id}`, (r) => {
      r.status = "completed";
    });
    visits.elsewhere(`ServiceRequest/${second!.id}`, (r) => {
      r.text = { status: "generated", div: "<div>by the ward system</div>" };
    });
    const drift = driftOf(visits.plan(PLAN_ID));
    expect(drift.find((d) => d.reference.endsWith(first!.id!))?.added).toContain("It is now completed.");
    expect(drift.find((d) => d.reference.endsWith(second!.id!))?.added[0]).toContain("rewritten by another program");
  });
  it("an order that is done stands; it is neither revoked nor ordered again", () => {
    const visits = signed();
    const [order] = visits.all<ServiceRequest>("ServiceRequest");
    visits.elsewhere(`ServiceRequest/${order!.id}`, (r) => {
      r.status = "completed";
    });
    const { revision } = revise(visits, AGAIN);
    expect(revision.items.some((i) => i.stands?.reference === `ServiceRequest/${order!.id}`)).toBe(true);
    expect(visits.all<ServiceRequest>("ServiceRequest").find((o) => o.id === order!.id)?.status).toBe("completed");
  });
});

describe("a draft saved over an older draft", () => {
  it("X1 a plan with one visit less updates each other visit, and cancels the one that fell away", () => {
    const visits = new Visits();
    const items = made(TWO_DIGITS);
    visits.write(items, "draft");
    const before = new Map(visits.all<Appointment>("Appointment").map((a) => [a.identifier?.[0]?.value, a.id]));
    const [gone] = items.filter((i) => i.kind === "visit");
    const fewer = items.filter((i) => i.key !== gone!.key);
    const { changes } = droppedFrom(fewer, visits.plan(PLAN_ID), ACTING);
    visits.write(fewer, "draft", { changes });
    for (const visit of visits.all<Appointment>("Appointment")) {
      expect(before.get(visit.identifier?.[0]?.value)).toBe(visit.id);
      expect(visit.status).toBe(visit.identifier?.[0]?.value === `${PLAN_ID}:${gone!.key}` ? "cancelled" : "proposed");
    }
    expect(visits.all("Appointment").length).toBe(before.size);
  });
  it("keys name rule and purpose, so that one visit less renames none", () => {
    const keys = (record: CaseRecord) =>
      made(record)
        .filter((i) => i.kind === "visit" || i.kind === "request")
        .map((i) => i.key);
    const one: CaseRecord = { ...TWO_DIGITS, digits: [TWO_DIGITS.digits[1]!] };
    const both = keys(TWO_DIGITS);
    expect(keys(one).filter((k) => k.startsWith("visit-")).length).toBeGreaterThan(0);
    // The closed shaft fracture asks for the same films and exercises, whether or not another finger is hurt as well.
    expect(
      keys(one)
        .filter((k) => k.startsWith("visit-film"))
        .every((k) => both.includes(k)),
    ).toBe(true);
    expect(new Set(both).size).toBe(both.length);
  });
  it("a finger put right: the wrong diagnosis of the draft is marked as entered in error, without a clinical status (con-5)", () => {
    const visits = new Visits();
    visits.write(made(MALLET), "draft");
    const right: CaseRecord = { ...MALLET, digits: [{ ...MALLET.digits[0], digit: "little" }] };
    const draft = visits.plan(PLAN_ID);
    // A provisional diagnosis of a draft is found through its plan only.
    expect(draft.items.map((i) => i.key)).toContain("condition-left-ring");
    const { changes } = droppedFrom(made(right), draft, ACTING);
    visits.write(made(right), "sign", { changes });
    const [wrong, now] = visits.all<Condition>("Condition");
    expect([wrong!.verificationStatus?.coding?.[0]?.code, wrong!.clinicalStatus]).toEqual([
      "entered-in-error",
      undefined,
    ]);
    expect(now!.verificationStatus?.coding?.[0]?.code).toBe("confirmed");
  });
  it("an order left out of the stored draft does not stay behind in it", () => {
    const visits = new Visits();
    const items = made(MALLET);
    visits.write(items, "draft");
    const [order] = items.filter((i) => i.kind === "request");
    const fewer = items.map((i) => (i.key === order!.key ? removeDraft(i, "asked by phone") : i));
    const { changes } = droppedFrom(fewer, visits.plan(PLAN_ID), ACTING);
    expect(changes.map((c) => c.key)).toEqual([`old:${PLAN_ID}:${order!.key}`]);
    visits.write(fewer, "sign", { changes });
    expect(visits.all<ServiceRequest>("ServiceRequest").filter((o) => o.status === "draft")).toEqual([]);
  });
  it("what was taken out may come back, in the same place", () => {
    const visits = new Visits();
    const items = made(MALLET);
    visits.write(items, "draft");
    const [order] = items.filter((i) => i.kind === "request");
    const fewer = items.filter((i) => i.key !== order!.key);
    visits.write(fewer, "draft", { changes: droppedFrom(fewer, visits.plan(PLAN_ID), ACTING).changes });
    const state = visits.all<ServiceRequest>("ServiceRequest").find((o) => o.status === "entered-in-error")!;
    expect(moveOf("ServiceRequest", "save", state.status, false)).toMatchObject({ to: "draft" });
  });
  it("D3 a draft of a revision leaves the plan in force as it is, and says whose place it is to take", () => {
    const visits = signed();
    const before = new Map(visits.store.held);
    const { items } = revisionOf(made(WIDER, NEXT_PLAN), visits.plan(PLAN_ID), ACTING);
    visits.write(items, "draft");
    for (const [reference, resource] of before) expect(visits.store.held.get(reference)).toEqual(resource);
    const draft = visits.plan(NEXT_PLAN);
    expect([draft.signed, draft.revises]).toEqual([false, `CarePlan/${visits.all<CarePlan>("CarePlan")[0]!.id}`]);
    for (const order of visits.all<ServiceRequest>("ServiceRequest")) expect(order.replaces).toBeUndefined();
    const plan = visits.all<CarePlan>("CarePlan").find((p) => p.status === "draft")!;
    expect(plan.replaces).toBeUndefined();
  });
});

describe("another clinician goes on with a draft", () => {
  const OTHER = { reference: "Practitioner/dr-brandt", display: "Dr Jonas Brandt" };
  const visits = new Visits();
  visits.write(made(MALLET), "draft");
  it("finds who drafted it, when, and from which findings", () => {
    const [draft] = visits.chart(OTHER.reference).earlierPlans;
    expect(draft).toMatchObject({
      signed: false,
      author: { own: false, name: "Dr Ada Okafor", reference: SIGNER.reference },
      knowledgeVersion: inputFor(MALLET).assessment.knowledgeVersion,
    });
    expect(draft!.findings?.digits[0]).toMatchObject({ digit: "ring", side: "left" });
  });
  it("D8 and signs it under their own name, with both named in the record of who did what", () => {
    const items = draftPlan(inputFor(MALLET, { draftedBy: SIGNER }));
    visits.write(items, "sign", { signer: OTHER, at: "2026-11-25T17:00:00+01:00" });
    expect(visits.all("CarePlan")).toHaveLength(1);
    expect(visits.all<CarePlan>("CarePlan")[0]!.author).toEqual(OTHER);
    const signature = visits.all<Provenance>("Provenance").find((p) => p.activity?.coding?.[0]?.code === "LA")!;
    expect(signature.agent.map((a) => [a.type?.coding?.[0]?.code, a.who.reference])).toEqual([
      ["assembler", "#program"],
      ["enterer", SIGNER.reference],
      ["author", OTHER.reference],
    ]);
    const drafting = visits.all<Provenance>("Provenance").find((p) => p.activity?.coding?.[0]?.code === "CREATE")!;
    expect(drafting.agent.at(-1)?.who).toEqual(SIGNER);
  });
});

describe("SAF-12 a draft made under another version of the clinical knowledge", () => {
  it("is compared line by line with what the rules say now", () => {
    const visits = new Visits();
    const items = made(MALLET);
    visits.write(items, "draft");
    expect(differencesFrom(made(MALLET), visits.plan(PLAN_ID))).toEqual([]);
    const [visit] = items.filter((i) => i.kind === "visit");
    const now = editDraft(visit!, "comment", "Look at the skin under the splint.");
    if (!now.ok) throw new Error(now.problem);
    const differences = differencesFrom(
      items
        .filter((i) => i.kind !== "request" || i.key !== "film-check")
        .map((i) => (i.key === visit!.key ? now.item : i)),
      visits.plan(PLAN_ID),
    );
    expect(differences.find((d) => d.title === visit!.title)).toMatchObject({
      added: ["Look at the skin under the splint."],
    });
    const order = byKey(items, "film-check");
    expect(differences.some((d) => d.title.includes(order.title) && d.added.length === 0 && d.gone.length > 0)).toBe(
      true,
    );
  });
});

describe("an earlier plan of this chart", () => {
  const plans = signed().chart().earlierPlans;
  const fits = (record: CaseRecord) => samePlans(plans, record, "p1").map((s) => s.fit);
  it("X1 is for the same injury when the same finger was hurt on the same day, whoever assesses it when", () =>
    expect(fits({ ...AGAIN, assessedAt: "2026-12-20T10:00" })).toEqual(["same"]));
  it.each<[string, Partial<CaseRecord>, string[]]>([
    [
      "a finger more, hurt on the same day",
      { digits: [...MALLET.digits, { digit: "little", side: "left" }] },
      ["same"],
    ],
    [
      "the same finger a day later, day of injury not known this time",
      { injuredAt: undefined as never, assessedAt: "2026-11-26T10:00" },
      ["perhaps"],
    ],
    ["the same finger, the day put right by one", { injuredAt: "2026-11-24" }, ["perhaps"]],
    [
      "another finger of the same day: perhaps the finger is put right",
      { digits: [{ digit: "little", side: "left" }] },
      ["perhaps"],
    ],
    ["another finger, another day", { injuredAt: "2026-11-26", digits: [{ digit: "index", side: "right" }] }, []],
    ["the same finger, broken again two years later", { injuredAt: "2028-11-20", assessedAt: "2028-11-20T12:00" }, []],
    [
      "the same finger of the other hand, another day",
      { injuredAt: "2026-11-20", digits: [{ digit: "ring", side: "right" }] },
      [],
    ],
    ["a finger that nobody has named yet", { injuredAt: "2026-11-01", digits: [{}] }, []],
  ])("%s", (_, change, expected) => {
    const { injuredAt, ...rest } = { ...AGAIN, ...change };
    expect(fits(injuredAt ? { ...rest, injuredAt } : rest)).toEqual(expected);
  });
  it("is no longer offered once it was replaced, withdrawn or voided", () => {
    for (const how of ["withdraw", "void"] as const) {
      const visits = signed();
      visits.write([withdrawalRecord(PLAN_ID, "0.1.0")], "sign", {
        changes: withdrawal(visits.plan(PLAN_ID), how, WHY).changes,
      });
      expect(samePlans(visits.chart().earlierPlans, AGAIN, "p1")).toEqual([]);
    }
  });
});

describe("REL-38 a signed plan is withdrawn", () => {
  const withdrawn = (how: "withdraw" | "void", diagnosis: "stands" | "wrong" = "stands") => {
    const visits = signed();
    const count = visits.store.held.size;
    const { changes } = withdrawal(visits.plan(PLAN_ID), how, WHY, diagnosis);
    const bundle = visits.write([withdrawalRecord(PLAN_ID, "0.1.0")], "sign", { changes, at: WHY.at });
    return { visits, bundle, added: visits.store.held.size - count };
  };
  const states = ({ visits }: ReturnType<typeof withdrawn>) => ({
    plans: visits.all<CarePlan>("CarePlan").map((p) => p.status),
    orders: [...new Set(visits.all<ServiceRequest>("ServiceRequest").map((o) => o.status))],
    visits: [...new Set(visits.all<Appointment>("Appointment").map((a) => a.status))],
    findings: visits.all<QuestionnaireResponse>("QuestionnaireResponse").map((q) => q.status),
    diagnoses: visits.all<Condition>("Condition").map((c) => c.verificationStatus?.coding?.[0]?.code),
  });
  it("X3 as no longer holding: plan and orders revoked, open visits cancelled, diagnosis and findings stand", () =>
    expect(states(withdrawn("withdraw"))).toEqual({
      plans: ["revoked"],
      orders: ["revoked"],
      visits: ["cancelled"],
      findings: ["completed"],
      diagnoses: ["confirmed"],
    }));
  it("with a diagnosis that was wrong too: refuted, without a clinical status", () => {
    const after = withdrawn("withdraw", "wrong");
    expect(states(after).diagnoses).toEqual(["refuted"]);
    expect(after.visits.all<Condition>("Condition")[0]!.clinicalStatus).toBeUndefined();
  });
  it("X3 as never having existed: everything entered in error, without a clinical status (con-5); visits without a time cancelled (app-3)", () => {
    const after = withdrawn("void");
    expect(states(after)).toEqual({
      plans: ["entered-in-error"],
      orders: ["entered-in-error"],
      visits: ["cancelled"],
      findings: ["entered-in-error"],
      diagnoses: ["entered-in-error"],
    });
    expect(after.visits.all<Condition>("Condition")[0]!.clinicalStatus).toBeUndefined();
  });
  it("nothing is deleted; each change goes over the version that was read, with the reason in words", () => {
    const { bundle, added } = withdrawn("withdraw");
    for (const { request, resource } of bundle.entry ?? []) {
      expect(["PUT", "POST"]).toContain(request?.method);
      if (resource?.resourceType === "Provenance") continue;
      expect(request?.ifMatch).toBe('W/"1"');
      expect(JSON.stringify(resource)).toContain("wrong finger was recorded");
    }
    expect(added, "only the record of who did it is new").toBe(1);
  });
  it.each([
    ["withdraw", "UPDATE"],
    ["void", "NULLIFY"],
  ] as const)("who did it and why is on record: %s", (how, code) => {
    const record = withdrawn(how)
      .visits.all<Provenance>("Provenance")
      .find((p) => p.reason)!;
    expect(record.activity?.coding?.[0]?.code).toBe(code);
    expect(record.reason?.[0]?.text).toContain("wrong finger was recorded");
    expect(record.agent.map((a) => a.who.reference)).toEqual(["#program", SIGNER.reference]);
  });
  it("a draft that is dropped leaves no provisional diagnosis and no unfinished findings behind", () => {
    const visits = new Visits();
    visits.write(made(MALLET), "draft");
    const { changes } = withdrawal(visits.plan(PLAN_ID), "withdraw", WHY);
    visits.write([withdrawalRecord(PLAN_ID, "0.1.0")], "sign", { changes });
    expect(states({ visits, bundle: { resourceType: "Bundle", type: "transaction" }, added: 0 })).toMatchObject({
      plans: ["revoked"],
      findings: ["stopped"],
      diagnoses: ["entered-in-error"],
    });
  });
});

describe("what is written is what the table of states says", () => {
  it.each(["draft", "sign"] as const)("%s", (act) => {
    const visits = new Visits();
    visits.write(made(MALLET), act);
    const say = act === "draft" ? "save" : "sign";
    for (const type of ["CarePlan", "ServiceRequest", "Appointment", "QuestionnaireResponse", "Condition"] as const)
      for (const r of visits.all<CarePlan>(type as "CarePlan")) {
        const state =
          type === "Condition" ? (r as unknown as Condition).verificationStatus?.coding?.[0]?.code : r.status;
        expect(moveOf(type, say, NONE, false)).toMatchObject({ to: state });
      }
  });
});

describe("a diagnosis that the chart holds already", () => {
  const ENTRY = {
    resourceType: "Condition",
    subject: { reference: "Patient/p1" },
    encounter: { reference: "Encounter/e1" },
    clinicalStatus: {
      coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-clinical", code: "active" }],
    },
    verificationStatus: {
      coding: [{ system: "http://terminology.hl7.org/CodeSystem/condition-ver-status", code: "provisional" }],
    },
    code: {
      text: "Injury of left ring finger",
      coding: [
        { system: "http://hl7.org/fhir/sid/icd-10-cm", code: "S69.92XA" },
        { system: "https://ward.example/codes", code: "TRIAGE-7" },
      ],
    },
    bodySite: [
      { coding: [{ system: "http://snomed.info/sct", code: "770817006" }] },
      { coding: [{ system: "http://snomed.info/sct", code: "7771000" }] },
    ],
    onsetDateTime: "2026-11-25T11:00:00+01:00",
    recorder: { reference: "Practitioner/triage" },
    recordedDate: "2026-11-25T11:40:00+01:00",
    severity: { text: "moderate" },
    note: [{ text: "Brought in by a neighbour." }],
  };
  const withEntry = (change: object = {}) => {
    const visits = new Visits();
    visits.file({ ...ENTRY, ...change }, "triage-1");
    return visits;
  };
  const entriesFor = (visits: Visits, record: CaseRecord = MALLET) =>
    sameDiagnoses(visits.chart().conditions, record.digits[0]!).map((e) => e.fit);
  const refining = (visits: Visits, act: "draft" | "sign") => {
    const [entry] = sameDiagnoses(visits.chart().conditions, MALLET.digits[0]!);
    const items = made(MALLET).map((i) => (i.kind === "condition" ? refineDraft(i, entry!.existing) : i));
    return visits.write(items, act);
  };

  it("is recognised by its coded finger and side", () => expect(entriesFor(withEntry())).toEqual(["same"]));
  it("is only perhaps the same without a side, and never the same with the other one", () => {
    expect(
      entriesFor(
        withEntry({
          bodySite: [ENTRY.bodySite[0]],
          code: { coding: [{ system: "http://hl7.org/fhir/sid/icd-10-cm", code: "S69.90XA" }] },
        }),
      ),
    ).toEqual(["perhaps"]);
    expect(
      entriesFor(
        withEntry({
          bodySite: [ENTRY.bodySite[0], { coding: [{ system: "http://snomed.info/sct", code: "24028007" }] }],
          code: { coding: [{ system: "http://hl7.org/fhir/sid/icd-10-cm", code: "S69.91XA" }] },
        }),
      ),
    ).toEqual(["other-side"]);
  });
  it.each(["refuted", "entered-in-error"])("is never touched when it is %s", (code) =>
    expect(entriesFor(withEntry({ verificationStatus: { coding: [{ code }] } }))).toEqual([]),
  );
  it("is none of today's when it is an old one", () => {
    const { encounter: _, ...old } = ENTRY;
    const visits = new Visits();
    visits.file({ ...old, onsetDateTime: "2023-05-01", recordedDate: "2023-05-01" }, "old-1");
    expect(entriesFor(visits)).toEqual([]);
  });

  it("I4 is refined, not doubled: the fracture code goes before the others' codings, which stay, and so does all else", () => {
    const visits = withEntry();
    refining(visits, "sign");
    const conditions = visits.all<Condition>("Condition");
    expect(conditions).toHaveLength(1);
    const [now] = conditions;
    expect(now!.id).toBe("triage-1");
    expect(now!.code?.coding?.map((c) => c.code)).toEqual(["S62.635A", "24424003", "S69.92XA", "TRIAGE-7"]);
    expect(now!.verificationStatus?.coding?.[0]?.code).toBe("confirmed");
    expect(now).toMatchObject({
      severity: ENTRY.severity,
      note: ENTRY.note,
      recorder: ENTRY.recorder,
      recordedDate: ENTRY.recordedDate,
      onsetDateTime: ENTRY.onsetDateTime,
      asserter: SIGNER,
    });
    expect(now!.extension?.find((e) => e.url.endsWith("/refined-from"))?.valueCodeableConcept).toEqual(ENTRY.code);
    expect(visits.all<CarePlan>("CarePlan")[0]!.addresses).toEqual([{ reference: "Condition/triage-1" }]);
  });
  it("D3 a draft points to it and leaves it as it is", () => {
    const visits = withEntry();
    const before = visits.store.held.get("Condition/triage-1");
    refining(visits, "draft");
    expect(visits.store.held.get("Condition/triage-1")).toEqual(before);
    expect(visits.all("Condition")).toHaveLength(1);
    expect(visits.all<CarePlan>("CarePlan")[0]!.addresses).toEqual([{ reference: "Condition/triage-1" }]);
  });
  it("is not taken back with the plan: it was there before", () => {
    const visits = withEntry();
    refining(visits, "sign");
    const { changes, left } = withdrawal(visits.plan(PLAN_ID), "void", WHY);
    expect(changes.some((c) => c.reference === "Condition/triage-1")).toBe(false);
    expect(left.map((l) => l.reference)).toContain("Condition/triage-1");
  });
  it("X1 once refined, it stands at the next visit when nothing changed", () => {
    const visits = withEntry();
    refining(visits, "sign");
    const before = visits.store.held.get("Condition/triage-1");
    const { revision } = revise(visits, AGAIN);
    expect(visits.store.held.get("Condition/triage-1")).toEqual(before);
    expect(revision.items.find((i) => i.kind === "condition")?.stands?.reference).toBe("Condition/triage-1");
  });
  it("refined a second time, our own older code makes way and the others' still stay", () => {
    const visits = withEntry();
    refining(visits, "sign");
    revise(visits, { ...AGAIN, digits: [{ ...MALLET.digits[0], openness: "open-nail-bed" }] });
    const [now] = visits.all<Condition>("Condition");
    expect(visits.all("Condition")).toHaveLength(1);
    expect(now!.code?.coding?.map((c) => c.code)).toEqual(["S62.635B", "21698002", "S69.92XA", "TRIAGE-7"]);
    expect(AT).not.toBe(now!.recordedDate);
  });
});

describe("REL-29 a revision that stopped between the new plan and the end of the old one", () => {
  it("leaves both in force: that is seen from the chart alone, and the old one can be ended by itself", () => {
    const visits = signed();
    visits.write(revisionOf(made(WIDER, NEXT_PLAN), visits.plan(PLAN_ID), ACTING).items, "sign", { at: ACTING.at });
    const plans = visits.chart().earlierPlans;
    const old = stillInForce(visits.plan(NEXT_PLAN), plans);
    expect(old?.planId).toBe(PLAN_ID);
    const { changes } = endOf(old!, ACTING);
    visits.write([withdrawalRecord(NEXT_PLAN, "0.1.0")], "sign", { changes, at: ACTING.at });
    expect(visits.all<CarePlan>("CarePlan").map((p) => p.status)).toEqual(["revoked", "active"]);
    const [diagnosis, ...more] = visits.all<Condition>("Condition");
    expect(more).toEqual([]);
    expect(JSON.stringify(diagnosis!.verificationStatus), "what the new plan took over stands").toContain("confirmed");
    const now = visits.chart().earlierPlans;
    expect(stillInForce(visits.plan(NEXT_PLAN), now)).toBeUndefined();
  });
  it("is ended at the plan that it replaces, not at one for another injury that came before it", () => {
    const visits = signed();
    visits.write(made(TWO_DIGITS, OTHER_PLAN), "sign");
    visits.write(revisionOf(made(WIDER, NEXT_PLAN), visits.plan(PLAN_ID), ACTING).items, "sign", { at: ACTING.at });
    const plans = [visits.plan(OTHER_PLAN), visits.plan(PLAN_ID)];
    expect(stillInForce(visits.plan(NEXT_PLAN), plans)?.planId).toBe(PLAN_ID);
  });
  it("is no such thing where the old plan ended with it, where the new one is a draft, or was taken back", () => {
    const ended = signed();
    revise(ended, WIDER);
    expect(stillInForce(ended.plan(NEXT_PLAN), ended.chart().earlierPlans)).toBeUndefined();
    const drafted = signed();
    drafted.write(revisionOf(made(WIDER, NEXT_PLAN), drafted.plan(PLAN_ID), ACTING).items, "draft", { at: ACTING.at });
    expect(stillInForce(drafted.plan(NEXT_PLAN), drafted.chart().earlierPlans)).toBeUndefined();
    const back = signed();
    back.write(revisionOf(made(WIDER, NEXT_PLAN), back.plan(PLAN_ID), ACTING).items, "sign", { at: ACTING.at });
    const { changes } = withdrawal(back.plan(NEXT_PLAN), "withdraw", WHY);
    back.write([withdrawalRecord(NEXT_PLAN, "0.1.0")], "sign", { changes, at: WHY.at });
    expect(stillInForce(back.plan(NEXT_PLAN), back.chart().earlierPlans)).toBeUndefined();
  });
});

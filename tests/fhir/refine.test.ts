/** What becomes of an entry that the chart holds already, and what stands in for one that the record system does not take. */
import type { Appointment, Condition, ServiceRequest } from "fhir/r4";
import { describe, expect, it } from "vitest";
import type { Chart, ConditionLine } from "../../src/fhir/chart.ts";
import { metaOf, planItem } from "../../src/fhir/codings.ts";
import type { DraftItem } from "../../src/fhir/draft-item.ts";
import { removeDraft } from "../../src/fhir/drafts.ts";
import { freeDiagnoses, refined, sameDiagnoses } from "../../src/fhir/refine.ts";
import { reasonInWords, visitAsOrder } from "../../src/fhir/stand-ins.ts";
import { drafts, PLAN_ID } from "../smart/stored-plan.ts";

const AT = "2026-06-01T10:00:00+02:00";
const ITEM = "https://fingerpost.example/plan-item";
const CODES = "https://fingerpost.example/fhir/CodeSystem";
const REFINED_FROM = "https://fingerpost.example/fhir/StructureDefinition/refined-from";

describe("I4 an entry of the chart that is refined", () => {
  const ours = {
    resourceType: "Condition",
    subject: { reference: "Patient/p1" },
    meta: {
      tag: [
        { system: ITEM, code: "x:condition" },
        { system: `${CODES}/plan`, code: "x" },
      ],
    },
    identifier: [{ system: ITEM, value: "x:condition" }],
    clinicalStatus: { coding: [{ code: "active" }] },
    verificationStatus: { coding: [{ code: "confirmed" }] },
    category: [{ coding: [{ code: "encounter-diagnosis" }] }],
    code: { text: "Open fracture", coding: [{ system: "http://hl7.org/fhir/sid/icd-10-cm", code: "S62.63" }] },
    bodySite: [{ text: "left ring finger" }],
    onsetDateTime: "2026-05-31",
    recordedDate: AT,
    recorder: { reference: "Practitioner/dr-1" },
    encounter: { reference: "Encounter/e1" },
    extension: [{ url: "https://fingerpost.example/fhir/ours" }],
    evidence: [{ detail: [{ reference: "QuestionnaireResponse/1" }] }],
  } as Condition;
  const theirs = {
    resourceType: "Condition",
    id: "c9",
    meta: {
      versionId: "4",
      lastUpdated: AT,
      profile: ["p"],
      tag: [
        { system: "their", code: "tag" },
        { system: `${CODES}/plan`, code: "old" },
      ],
    },
    identifier: [{ system: "their", value: "77" }],
    clinicalStatus: { coding: [{ code: "recurrence" }] },
    category: [{ coding: [{ code: "problem-list-item" }] }],
    code: { text: "Broken finger", coding: [{ system: "their", code: "F1" }] },
    bodySite: [{ text: "finger" }],
    onsetString: "yesterday",
    recordedDate: "2026-05-31",
    recorder: { reference: "Practitioner/other" },
    encounter: { reference: "Encounter/e0" },
    note: [{ text: "theirs" }],
    extension: [{ url: "https://other.example/x" }, { url: "https://fingerpost.example/fhir/old" }],
  };
  it("keeps everything of others, with ours before it, and says what it said before", () => {
    expect(refined(ours, theirs)).toEqual({
      ...theirs,
      subject: ours.subject,
      meta: { profile: ["p"], tag: [...ours.meta!.tag!, { system: "their", code: "tag" }] },
      identifier: [...ours.identifier!, ...theirs.identifier],
      verificationStatus: ours.verificationStatus,
      category: [...theirs.category, ...ours.category!],
      code: { text: "Open fracture", coding: [...ours.code!.coding!, { system: "their", code: "F1" }] },
      bodySite: [...ours.bodySite!, { text: "finger" }],
      evidence: ours.evidence,
      extension: [
        { url: "https://fingerpost.example/fhir/ours" },
        { url: "https://other.example/x" },
        { url: REFINED_FROM, valueCodeableConcept: theirs.code },
      ],
    });
  });
  it("where it said little, ours stands", () => {
    const bare = refined(ours, { resourceType: "Condition", id: "c9" });
    expect(bare).toEqual({ ...ours, id: "c9", extension: ours.extension });
    expect(refined({ resourceType: "Condition", subject: {} }, { resourceType: "Condition" })).toEqual({
      ...{ resourceType: "Condition", subject: {}, meta: {}, extension: [], code: {} },
    });
  });
  it("each coding and category once, though both name it", () => {
    const both = refined(ours, {
      code: ours.code,
      category: ours.category,
      bodySite: ours.bodySite,
      identifier: ours.identifier,
    });
    expect(both.code?.coding).toEqual(ours.code?.coding);
    expect(both.category).toEqual(ours.category);
    expect(both.bodySite).toEqual(ours.bodySite);
    expect(both.identifier).toEqual(ours.identifier);
  });
  it("a second time, our own older code makes way, what others coded first or since stays", () => {
    const before = { text: "Broken finger", coding: [{ system: "their", code: "F1" }] };
    const again = refined(ours, {
      identifier: ours.identifier,
      code: {
        coding: [
          { system: "http://hl7.org/fhir/sid/icd-10-cm", code: "S62.66" },
          { system: "http://snomed.info/sct", code: "1" },
          { system: "their", code: "F2" },
          { code: "F3" },
        ],
      },
      extension: [{ url: REFINED_FROM, valueCodeableConcept: before }],
    });
    expect(again.code?.coding?.map(({ code }) => code)).toEqual(["S62.63", "F1", "F2", "F3"]);
    expect(again.extension?.at(-1)).toEqual({ url: REFINED_FROM, valueCodeableConcept: before });
  });
});

describe("X4 entries of the chart that may mean the same injury", () => {
  const line = (id: string, digits: string[], sides: string[]) =>
    ({ injury: { digits, sides }, from: { reference: `Condition/${id}` }, resource: {} }) as unknown as ConditionLine;
  const LINES = [
    line("other-hand", ["ring"], ["right"]),
    line("some-finger", [], ["left"]),
    line("ring", ["ring"], ["left"]),
  ];
  const fits = (digit: unknown) => sameDiagnoses(LINES, { digit, side: "left" }).map(({ fit }) => fit);
  it("come with the surest first, however the chart sorts them", () =>
    expect(fits("ring")).toEqual(["same", "perhaps", "other-side"]));
  it.each(["cannot-tell", undefined])("are not looked for while the finger is not known: %s", (digit) =>
    expect(fits(digit)).toEqual([]),
  );
  it.each([
    ["active", []],
    ["on-hold", []],
    ["completed", []],
    ["revoked", ["Condition/ring"]],
  ])("one that belongs to a plan that is %s: free for a new plan are %j", (status, free) => {
    const items = [{ type: "Condition", reference: "Condition/ring" }];
    const chart = { conditions: [LINES[2]!], earlierPlans: [{ status, items }] } as unknown as Chart;
    expect(freeDiagnoses(chart).map(({ from }) => from.reference)).toEqual(free);
  });
});

describe("a visit as an order", () => {
  const visit: DraftItem = {
    ...drafts()[1]!,
    key: "visit",
    kind: "visit",
    urn: "urn:uuid:6f1c2a10-0000-4000-8000-0000000000aa",
    resource: {
      resourceType: "Appointment",
      status: "proposed",
      meta: metaOf(PLAN_ID, "visit", "1.0.0", "0.1.0"),
      identifier: [{ system: "x", value: "y" }, planItem(PLAN_ID, "visit")],
      description: "Wound check: hand clinic",
      serviceType: [{ text: "Wound check", coding: [{ code: "wc" }] }],
      basedOn: [{ reference: drafts()[1]!.urn }],
      requestedPeriod: [{ start: "2026-06-08", end: "2026-06-10" }],
      reasonReference: [{ reference: drafts()[0]!.urn }],
      participant: [{ actor: { reference: "Patient/p1" }, status: "needs-action" }],
      extension: [{ url: "https://x.example/e" }],
    } as Appointment,
  };
  const order = {
    ...drafts()[1]!,
    resource: {
      ...(drafts()[1]!.resource as ServiceRequest),
      priority: "urgent",
      encounter: { reference: "Encounter/e1" },
      performerType: { text: "hand clinic" },
      instantiatesCanonical: ["https://x.example/p|1"],
    },
  } as DraftItem;
  it("P4 within its order is the order of one occurrence, with its window and all that the order says of it", () => {
    const { kind, key, resource } = visitAsOrder(visit, [drafts()[0]!, order]);
    expect([kind, key]).toEqual(["request", "visit"]);
    const { note: _note, ...said } = resource as ServiceRequest;
    expect(said).toEqual({
      resourceType: "ServiceRequest",
      meta: visit.resource.meta,
      extension: [{ url: "https://x.example/e" }],
      identifier: (visit.resource as Appointment).identifier,
      instantiatesCanonical: ["https://x.example/p|1"],
      basedOn: [{ reference: order.urn }],
      requisition: planItem(PLAN_ID, "requisition"),
      status: "draft",
      intent: "instance-order",
      category: [{ coding: [{ system: `${CODES}/request-kind`, code: "visit" }] }],
      priority: "urgent",
      code: { coding: [{ code: "wc" }], text: "Wound check: hand clinic" },
      subject: { reference: "Patient/p1" },
      encounter: { reference: "Encounter/e1" },
      occurrencePeriod: { start: "2026-06-08", end: "2026-06-10" },
      performerType: { text: "hand clinic" },
      reasonReference: [{ reference: drafts()[0]!.urn }],
    });
  });
  it("P4 without its order, or with one that is left out, is an order by itself", () => {
    const alone = { intent: "order", priority: "routine", performerType: { text: "Wound check: hand clinic" } };
    for (const others of [[], [removeDraft(order, "no")], [drafts()[0]!]]) {
      const { resource } = visitAsOrder(visit, others);
      expect(resource).toMatchObject(alone);
      for (const part of ["basedOn", "encounter", "instantiatesCanonical"]) expect(resource).not.toHaveProperty(part);
    }
  });
  it("of which little is said names what it can", () => {
    const bare = {
      ...visit,
      resource: { resourceType: "Appointment", status: "proposed", participant: [] } as Appointment,
    };
    const { resource } = visitAsOrder(bare, []);
    expect(resource).toMatchObject({
      code: { text: "Follow-up visit" },
      subject: { display: "not stated" },
      performerType: { text: "clinic" },
      requisition: planItem("", "requisition"),
    });
    expect(resource).not.toHaveProperty("meta");
    const named = { ...bare, resource: { ...bare.resource, serviceType: [{ text: "Film" }] } as Appointment };
    expect(visitAsOrder(named, []).resource).toMatchObject({ code: { text: "Film" } });
  });
  it("P6 a diagnosis that is not filed is named in code and words by the orders that rest on it", () => {
    const [condition, request, plan] = drafts();
    expect(reasonInWords(request!, [condition!]).resource).toMatchObject({
      reasonCode: [{ text: "Broken finger tip" }],
    });
    expect(reasonInWords(request!, [plan!])).toBe(request);
    expect(reasonInWords(plan!, [condition!])).toBe(plan);
    expect(reasonInWords(visit, [condition!]).resource).toMatchObject({ reasonCode: [{ text: "Broken finger tip" }] });
    const coded = { ...request!, resource: { ...request!.resource, reasonCode: [{ text: "Fall" }] } as ServiceRequest };
    expect(reasonInWords(coded, [condition!]).resource).toMatchObject({
      reasonCode: [{ text: "Fall" }, { text: "Broken finger tip" }],
    });
  });
});

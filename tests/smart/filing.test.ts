import type { DocumentReference } from "fhir/r4";
import { describe, expect, it } from "vitest";
import { type DraftItem, draftPlan, removeDraft } from "../../src/fhir/drafts.ts";
import { type Capabilities, type Refusal, type TypeOffer, UNKNOWN } from "../../src/smart/capabilities.ts";
import { contentOf, filedItems, filingOf } from "../../src/smart/filing.ts";
import { verdictOf } from "../../src/smart/one-transaction.ts";
import type { FhirAnswer, FhirProblem, FhirResource } from "../../src/smart/transport.ts";
import { AT, inputFor, MALLET, SIGNER } from "../fhir/cases.ts";

const ACTING = { act: "sign", signer: SIGNER, at: AT } as const;
const PLAN = draftPlan(inputFor(MALLET));
const one = (kind: DraftItem["kind"]) => PLAN.find((item) => item.kind === kind)!;
const [CONDITION, REQUEST, VISIT, CARE_PLAN] = [one("condition"), one("request"), one("visit"), one("plan")];

/** A record system that takes everything but what is said. */
function server(
  less: Readonly<Record<string, Partial<TypeOffer>>> = {},
  more: { readonly transaction?: boolean; readonly refusals?: readonly Refusal[] } = {},
): Capabilities {
  const all: TypeOffer = { create: true, update: true, search: true, conditionalCreate: true };
  return {
    known: true,
    transaction: more.transaction ?? true,
    offers: (type) => ({ ...all, ...less[type] }),
    refusals: more.refusals ?? [],
  };
}
const mayAll = () => true;
const mayNot = (resource: string, letter: string) => (type: string, asked: string) =>
  type !== resource || asked !== letter;

describe("what becomes of each item of a plan", () => {
  it("P1 a sign-in that may not file diagnoses is named as the reason, and the diagnosis goes into the document", () => {
    const { lanes, document } = filingOf(PLAN, server(), mayNot("Condition", "c"));
    expect(lanes.get(CONDITION.key)).toEqual({
      lane: "in-document",
      reason: "Your sign-in may not file diagnoses here.",
      instead: "It is filed in the plan's document.",
    });
    expect(document).toBe(true);
    expect(lanes.get(CARE_PLAN.key)).toEqual({ lane: "filed" });
  });
  it.each([
    ["goes into the document", true],
    ["has to be entered by hand", false],
  ])(
    "P1 a saved draft that cannot be changed any more stays in the record, which is said where it %s",
    (_, document) => {
      const can = (type: string, asked: string) =>
        (type !== "CarePlan" || asked !== "u") && (document || type !== "DocumentReference");
      const stored = new Map([[CARE_PLAN.key, "CarePlan"]]);
      const placed = filingOf(PLAN, server(), can, { stored }).lanes.get(CARE_PLAN.key);
      expect(placed?.lane).toBe(document ? "in-document" : "by-hand");
      expect(placed?.instead).toMatch(/What is stored of it already stays as it is\.$/);
      expect(
        filingOf(PLAN, server({ CarePlan: { create: false } }), can).lanes.get(CARE_PLAN.key)?.instead,
      ).not.toContain("stored of it");
    },
  );
  it.each([
    ["QuestionnaireResponse", "recorded findings"],
    ["Condition", "diagnoses"],
    ["ServiceRequest", "orders"],
    ["Appointment", "visits to be booked"],
    ["CarePlan", "care plans"],
    ["Provenance", "records of who did what"],
  ])("P1 a record system that takes no %s is told in plain words", (type, all) => {
    const item = PLAN.find(({ resource }) => resource.resourceType === type)!;
    const { lanes } = filingOf(PLAN, server({ [type]: { create: false } }), mayAll);
    expect(lanes.get(item.key)?.reason).toBe(`The record system takes no ${all} from other programs.`);
  });
  it("P1 what nobody may look for is not filed as an entry: it could be stored twice and never be called saved", () => {
    const closed = server({ CarePlan: { search: false } });
    const reason = filingOf(PLAN, closed, mayAll).lanes.get(CARE_PLAN.key)?.reason;
    expect(reason).toContain("does not let anyone look for care plans");
    expect(filingOf(PLAN, server(), mayNot("CarePlan", "s")).lanes.get(CARE_PLAN.key)?.reason).toBe(reason);
  });
  it("P7 a kind that was refused when it was tried is told with what the record system said, or without when it said nothing", () => {
    const refused = (said?: string) =>
      filingOf(PLAN, server({}, { refusals: [{ what: "create", type: "CarePlan", said }] }), mayAll).lanes.get(
        CARE_PLAN.key,
      )?.reason;
    expect(refused("no plans, please")).toBe(
      "The record system refused this care plan when it was tried: “no plans, please”.",
    );
    expect(refused()).toBe("The record system refused this care plan when it was tried.");
  });
  it("P7 one wording that was refused stays out; the same item in other words is tried", () => {
    const refusals: Refusal[] = [{ what: "item", key: REQUEST.key, content: contentOf(REQUEST), said: "unknown code" }];
    const reworded = { ...REQUEST, resource: { ...REQUEST.resource, priority: "stat" } } as DraftItem;
    const lane = (item: DraftItem) =>
      filingOf([CARE_PLAN, item], server({}, { refusals }), mayAll).lanes.get(item.key)?.lane;
    expect([lane(REQUEST), lane(reworded)]).toEqual(["in-document", "filed"]);
    const twin = { ...REQUEST, key: "request-of-the-other-finger" };
    expect(lane(twin), "another item that says the same was never refused").toBe("filed");
  });
  it("X1 a stored draft that cannot be changed is told as that, and with the refusal where there was one", () => {
    const stored = new Map([[CARE_PLAN.key, "CarePlan"]]);
    const fixed = server({ CarePlan: { update: false } });
    expect(filingOf(PLAN, fixed, mayAll, { stored }).lanes.get(CARE_PLAN.key)?.reason).toBe(
      "It is stored as a draft that cannot be changed from here.",
    );
    const tried = server({ CarePlan: { update: false } }, { refusals: [{ what: "update", type: "CarePlan" }] });
    expect(filingOf(PLAN, tried, mayAll, { stored }).lanes.get(CARE_PLAN.key)?.reason).toContain("refused");
    expect(filingOf(PLAN, server(), mayAll, { stored }).lanes.get(CARE_PLAN.key)).toEqual({ lane: "filed" });
  });
  it("X4 a diagnosis that would go over the chart's own is not filed beside it when that entry cannot be changed", () => {
    const over = { ...CONDITION, refines: { reference: "Condition/of-chart" } };
    const items = PLAN.map((item) => (item === CONDITION ? over : item));
    expect(filingOf(items, server(), mayNot("Condition", "u")).lanes.get(over.key)?.reason).toBe(
      "The entry of the chart that it would go over cannot be changed from here.",
    );
    expect(filingOf(items, server(), mayAll).lanes.get(over.key)?.lane).toBe("filed");
  });
  it("P2 one by one, nothing is filed that could not be taken back; in one step it may be", () => {
    const reason = (transaction: boolean) =>
      filingOf(PLAN, server({ ServiceRequest: { update: false } }, { transaction }), mayAll).lanes.get(REQUEST.key)
        ?.reason;
    expect(reason(false)).toContain("could not be taken back if the rest of the plan failed");
    expect(reason(true)).toBeUndefined();
    const way = (transaction: boolean) => filingOf(PLAN, server({}, { transaction }), mayAll).way;
    expect([way(false), way(true)]).toEqual(["single", "transaction"]);
  });
  it("P2 one by one, a record of who did what is filed where none may be changed: each act makes a new one", () => {
    const fixed = server({ Provenance: { update: false } }, { transaction: false });
    expect(filingOf(PLAN, fixed, mayAll).lanes.get(one("provenance").key)).toEqual({ lane: "filed" });
  });
  it("P4 a visit stored as an order stays one; a stored visit is never filed as an order too", () => {
    const lane = (type: string, capabilities: Capabilities) =>
      filingOf(PLAN, capabilities, mayAll, { stored: new Map([[VISIT.key, type]]) }).lanes.get(VISIT.key);
    expect(lane("ServiceRequest", server())).toMatchObject({ lane: "filed", as: "order" });
    expect(lane("Appointment", server({ Appointment: { update: false } }))).toMatchObject({ lane: "in-document" });
    expect(lane("ServiceRequest", server({ ServiceRequest: { update: false } }))).toMatchObject({
      lane: "in-document",
    });
  });
  it("P6 who wrote it stands in the text to copy when neither records nor documents are taken", () => {
    const none = server({ Provenance: { create: false }, DocumentReference: { create: false } });
    const record = PLAN.find((item) => item.kind === "provenance") ?? {
      ...CARE_PLAN,
      key: "record",
      kind: "provenance" as const,
      resource: { resourceType: "Provenance" } as unknown as DraftItem["resource"],
    };
    const items = [...PLAN.filter((item) => item !== record), record];
    expect(filingOf(items, none, mayAll).lanes.get(record.key)).toMatchObject({
      lane: "by-hand",
      instead: "Who wrote it and when stands in each entry and in the text to copy.",
    });
    // A record of who did what is not kept alone: without anything it speaks of, nothing is written.
    const alone = filingOf([record], server({ DocumentReference: { create: false } }), mayAll);
    expect([alone.way, alone.lanes.get(record.key)?.lane, alone.warnings]).toEqual(["nothing", "by-hand", []]);
    expect(filingOf([record], server(), mayAll, { changes: true }).way).toBe("transaction");
  });
  it("P1 a kind of entry without a name of ours is called by its type", () => {
    const other = { ...CARE_PLAN, resource: { resourceType: "Communication" } as unknown as DraftItem["resource"] };
    const lane = filingOf([other], server({ Communication: { create: false } }), mayAll).lanes.get(other.key);
    expect(lane?.reason).toBe("The record system takes no Communication from other programs.");
  });
  it("P2 says how the plan goes: one by one, without the server's own guard against copies, or unknown", () => {
    const warnings = (capabilities: Capabilities) => filingOf(PLAN, capabilities, mayAll).warnings.join(" ");
    expect(warnings(server())).toBe("");
    expect(warnings(server({}, { transaction: false }))).toContain("one item at a time");
    expect(warnings(server({ CarePlan: { conditionalCreate: false } }))).toContain(
      "do not sign this plan in two windows",
    );
    expect(warnings(UNKNOWN)).toContain("does not say what it takes");
  });
  it("D3 an item that the clinician left out goes nowhere, with the clinician's reason", () => {
    const items = PLAN.map((item) => (item === VISIT ? removeDraft(item, "seen elsewhere") : item));
    const filing = filingOf(items, server(), mayAll);
    expect(filing.lanes.has(VISIT.key)).toBe(false);
    expect(filedItems(items, filing, ACTING).find(({ key }) => key === VISIT.key)?.removed?.reason).toBe(
      "seen elsewhere",
    );
  });
  it("P6 the document holds what is not an entry, and stands last when no record of who did what is among the items", () => {
    const items = PLAN.filter((item) => item.kind !== "provenance");
    const filing = filingOf(items, server({ CarePlan: { create: false } }), mayAll);
    const filed = filedItems(items, filing, ACTING);
    expect(filed.at(-1)?.kind).toBe("document");
    expect(filed.find(({ key }) => key === CARE_PLAN.key)?.removed?.reason).toContain("takes no care plans");
    expect(JSON.stringify(filed.at(-1)?.resource)).not.toContain("undefined");
  });
  it("P6 the document points to each entry that is filed beside it, not to the record of who did what", () => {
    const filing = filingOf(PLAN, server({ CarePlan: { create: false } }), mayAll);
    const document = filedItems(PLAN, filing, ACTING).find(({ kind }) => kind === "document")!;
    const related = (document.resource as DocumentReference).context?.related?.map(({ reference }) => reference);
    const beside = PLAN.filter(({ kind }) => kind !== "plan" && kind !== "provenance");
    expect(related).toEqual(beside.map(({ urn }) => urn));
  });
});

describe("what an answer says of a write", () => {
  const failed = (status: number | undefined, kind: FhirProblem["kind"], code?: string): FhirAnswer<FhirResource> => ({
    ok: false,
    problem: {
      title: "",
      what: "",
      next: "",
      kind,
      ...(status === undefined ? {} : { status }),
      ...(code ? { outcome: [{ code }] as unknown as NonNullable<FhirProblem["outcome"]> } : {}),
    },
  });
  const done = (value: unknown): FhirAnswer<FhirResource> => ({ ok: true, status: 200, value: value as FhirResource });
  it.each([
    ["every entry stored", done({ entry: [{ response: { status: "201 Created" } }, {}] }), "committed"],
    ["no word of single entries", done(undefined), "committed"],
    ["one entry of it failed", done({ entry: [{ response: { status: "422" } }] }), "unknown"],
    ["no conditional create known (R4 http: 412)", failed(412, "conflict", "not-supported"), "refused"],
    ["another version stands there", failed(412, "conflict"), "conflict"],
    ["the sign-in had ended before", failed(undefined, "ended"), "refused"],
    ["no answer at all", failed(undefined, "offline" as FhirProblem["kind"]), "unknown"],
    ["the token was not taken", failed(401, "ended"), "unknown"],
    ["a client error (RFC 9110 15.5)", failed(422, "refused" as FhirProblem["kind"]), "refused"],
    ["not implemented (RFC 9110 15.6.2)", failed(501, "server" as FhirProblem["kind"]), "refused"],
    ["too large for a gate in between, which knows nothing of the store", failed(413, "too-large"), "unknown"],
    ["a server fault", failed(503, "server" as FhirProblem["kind"]), "unknown"],
  ] as const)("INV-4 %s", (_story, answer, verdict) => {
    expect(verdictOf(answer)).toBe(verdict);
  });
});

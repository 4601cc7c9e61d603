/** What a later act makes of one stored item, and of the plan's document. */
import type { Condition, DocumentReference } from "fhir/r4";
import { describe, expect, it } from "vitest";
import { fingerprint } from "../../src/fhir/draft-item.ts";
import { actedUpon, changeOf, changesOf, saidBy, titleOf, withdrawal } from "../../src/fhir/stored-change.ts";
import { withdrawalDocument } from "../../src/fhir/withdrawal-document.ts";
import { PLAN_ID } from "../smart/stored-plan.ts";

const AT = "2026-06-01T10:00:00+02:00";
const SIGNER = { reference: "Practitioner/dr-1", display: "Dr Example" };
const ITEM = "https://fingerpost.example/plan-item";
const CODES = "https://fingerpost.example/fhir/CodeSystem";
const REFINED_FROM = "https://fingerpost.example/fhir/StructureDefinition/refined-from";
const WHY = { signer: SIGNER, at: AT, why: "slipped." };

describe("a stored item that a later act changes", () => {
  const item = (type: string, status: string, resource: object = {}) => ({
    ...{ key: "k", planItem: "p:k", type, reference: `${type}/1`, version: "2", status },
    resource: { resourceType: type, id: "1", status, ...resource },
  });
  it.each([
    ["CarePlan", {}, "Plan"],
    ["QuestionnaireResponse", {}, "Findings"],
    ["DocumentReference", {}, "Document of the plan"],
    ["Appointment", { description: "Wound check" }, "Visit: Wound check"],
    ["Condition", { code: { text: "Mallet" }, description: "no" }, "Diagnosis: Mallet"],
    ["ServiceRequest", { description: "no", code: { coding: [{ display: "Film" }] } }, "Order: Film"],
    ["ServiceRequest", { code: { coding: [] } }, "Order without a name"],
    ["Group", {}, "Group without a name"],
  ])("is called what a clinician calls it: %s %j", (type, resource, title) =>
    expect(titleOf(item(type, "active", resource))).toBe(title),
  );

  it("X3 an order is revoked over its version, with the reason as a note and in the narrative", () => {
    const note = [{ text: "theirs" }];
    const meta = {
      versionId: "2",
      lastUpdated: AT,
      profile: ["p"],
      tag: [
        { system: "t", code: "u" },
        { system: ITEM, code: "other:k" },
        { system: `${CODES}/plan-life`, code: "drop" },
      ],
    };
    const what = changeOf(
      item("ServiceRequest", "active", { note, meta, intent: "order", subject: {} }),
      "withdraw",
      true,
      WHY,
    );
    if ("left" in what) throw new Error(what.left.why);
    expect(what.change).toMatchObject({
      key: "old:p:k",
      title: "Order without a name",
      words: ["Now active, will be revoked. Withdrawn: slipped."],
      reference: "ServiceRequest/1",
      version: "2",
      resource: {
        status: "revoked",
        note: [{ text: "theirs" }, { time: AT, text: "Withdrawn: slipped.", authorReference: SIGNER }],
        text: { div: expect.stringContaining("<b>Withdrawn: slipped. By Dr Example, Mon 1 June 2026, 10:00.</b>") },
      },
    });
    expect(what.change.resource.meta).toEqual({
      profile: ["p"],
      tag: [
        { system: ITEM, code: "p:k" },
        { system: "t", code: "u" },
        { system: `${CODES}/plan-life`, code: "withdraw" },
      ],
    });
  });
  it("X3 a visit is cancelled with its reason (R4 app-4), and has no note", () => {
    const what = changeOf(item("Appointment", "proposed", { participant: [] }), "withdraw", true, WHY);
    if ("left" in what) throw new Error(what.left.why);
    expect(what.change.resource).toMatchObject({
      status: "cancelled",
      cancelationReason: {
        coding: [
          {
            system: "http://terminology.hl7.org/CodeSystem/appointment-cancellation-reason",
            code: "prov",
            display: "Provider",
          },
        ],
        text: "Withdrawn: slipped.",
      },
    });
    expect(what.change.resource).not.toHaveProperty("note");
    expect(
      changeOf({ ...item("Appointment", "proposed", { participant: [] }), version: undefined }, "withdraw", true, WHY),
    ).not.toHaveProperty("change.version");
  });
  it("X3 a diagnosis loses its clinical status (R4 con-5), and its state is that of its certainty", () => {
    const stored = {
      clinicalStatus: { coding: [{ code: "active" }] },
      verificationStatus: { coding: [{ code: "confirmed" }] },
      subject: {},
    };
    const what = changeOf(item("Condition", "", stored), "refute", true, WHY);
    if ("left" in what) throw new Error(what.left.why);
    expect(what.change.words).toEqual(["Now confirmed, will be refuted. Ruled out: slipped."]);
    expect(what.change.resource).toMatchObject({ verificationStatus: { coding: [{ code: "refuted" }] } });
    expect(what.change.resource).not.toHaveProperty("clinicalStatus");
    const bare = changeOf(item("Condition", "", { subject: {} }), "refute", true, WHY);
    expect(bare).toMatchObject({ change: { words: ["Now unconfirmed, will be refuted. Ruled out: slipped."] } });
  });
  it("X4 is left alone with a reason: booked, no part of a plan, or in the chart before", () => {
    expect(changeOf(item("Appointment", "booked", { start: "2026-06-09T09:00:00Z" }), "withdraw", true, WHY)).toEqual({
      left: {
        title: "Visit without a name",
        reference: "Appointment/1",
        why: "Booked for Tue 9 June 2026, 09:00. The clinic has taken it up, so it is not changed from here: tell the clinic.",
        clinic: true,
      },
    });
    expect(
      changeOf(item("Appointment", "fulfilled", { start: "2026-06-09T09:00:00Z" }), "withdraw", true, WHY),
    ).toMatchObject({
      left: { why: "The visit took place, so it stays as it is.", clinic: false },
    });
    expect(changeOf(item("Appointment", "booked"), "withdraw", true, WHY)).toMatchObject({
      left: { why: expect.stringMatching(/^The clinic/) },
    });
    expect(changeOf(item("Group", "active"), "withdraw", true, WHY)).toMatchObject({
      left: { why: "It is no part of a plan.", clinic: false },
    });
    const refinedEntry = {
      verificationStatus: { coding: [{ code: "confirmed" }] },
      extension: [{ url: REFINED_FROM }],
    };
    expect(changeOf(item("Condition", "", refinedEntry), "refute", true, WHY)).toMatchObject({
      left: { why: expect.stringContaining("It was in the chart before this plan"), clinic: false },
    });
  });
  it("says by whom, also where no name is known", () =>
    expect(saidBy("void", { signer: { reference: "Practitioner/1" }, at: "2026-06-01", why: "twice" })).toBe(
      "Entered in error: twice. By Practitioner/1, Mon 1 June 2026.",
    ));
  it("of several, what merely stays on record is not worth a line", () => {
    const several = [
      item("QuestionnaireResponse", "completed"),
      item("ServiceRequest", "completed"),
      item("CarePlan", "active", { intent: "plan", subject: {} }),
    ];
    const { changes, left } = changesOf(several, "withdraw", true, WHY);
    expect(changes.map(({ reference }) => reference)).toEqual(["CarePlan/1"]);
    expect(left.map(({ reference }) => reference)).toEqual(["ServiceRequest/1"]);
  });
  it.each(["completed", "fulfilled", "arrived", "checked-in", "booked", "pending", "noshow"])(
    "X3 a plan of which something is %s may have been acted upon; findings that are complete are no act",
    (status) => {
      expect(actedUpon({ items: [item("CarePlan", "active"), item("Appointment", status)] })).toBe(true);
      expect(actedUpon({ items: [item("CarePlan", "active"), item("QuestionnaireResponse", status)] })).toBe(false);
    },
  );
  it.each([
    ["withdraw", true, "stands", undefined],
    ["withdraw", true, "wrong", "refuted"],
    ["withdraw", false, "stands", "entered-in-error"],
    ["void", true, "stands", "entered-in-error"],
  ] as const)("X3 %s of a plan (signed: %s) whose diagnosis %s leaves that %s", (how, signed, diagnosis, state) => {
    const items = [
      item("CarePlan", signed ? "active" : "draft", { intent: "plan", subject: {} }),
      item("Condition", "", {
        verificationStatus: { coding: [{ code: signed ? "confirmed" : "provisional" }] },
        subject: {},
      }),
    ];
    const { changes, left } = withdrawal({ items, signed } as never, how, WHY, diagnosis);
    expect(changes[0]?.reference).toBe("CarePlan/1");
    const condition = changes.find(({ reference }) => reference === "Condition/1")?.resource as Condition | undefined;
    expect(condition?.verificationStatus?.coding?.[0]?.code).toBe(state);
    expect(left).toHaveLength(state === undefined ? 1 : 0);
  });
  it("P6 its document is replaced by one that says that the plan was withdrawn", () => {
    const stored: DocumentReference = {
      resourceType: "DocumentReference",
      id: "d1",
      status: "current",
      text: { status: "generated", div: "<div/>" },
      authenticator: { reference: "Practitioner/x" },
      relatesTo: [{ code: "replaces", target: { reference: "DocumentReference/d0" } }],
      meta: {
        tag: [
          { system: ITEM, code: `${PLAN_ID}:document-1` },
          { system: `${CODES}/plan`, code: PLAN_ID },
          { system: "a", code: "signed" },
          { system: "a", code: "draft" },
        ],
      },
      subject: { reference: "Patient/p1" },
      context: { encounter: [{ reference: "Encounter/e1" }], related: [{ reference: "CarePlan/1" }] },
      content: [{ attachment: {} }],
    };
    const made = withdrawalDocument(stored, WHY);
    expect(made).toMatchObject({
      key: "document-withdrawn-d1",
      kind: "document",
      title: "Withdrawn: finger tip injury plan",
      words: ["Withdrawn: slipped. By Dr Example, Mon 1 June 2026, 10:00."],
      urn: `urn:uuid:${PLAN_ID.slice(0, 24)}${fingerprint("document-withdrawn-d1")}`,
      edits: [],
      changes: [],
    });
    const { content, ...resource } = made.resource as DocumentReference;
    expect(resource).toEqual({
      resourceType: "DocumentReference",
      status: "current",
      subject: { reference: "Patient/p1" },
      meta: {
        tag: [
          { system: ITEM, code: `${PLAN_ID}:document-withdrawn-d1` },
          { system: `${CODES}/plan`, code: PLAN_ID },
        ],
      },
      identifier: [{ system: ITEM, value: `${PLAN_ID}:document-withdrawn-d1` }],
      description: "Withdrawn: finger tip injury plan",
      relatesTo: [{ code: "replaces", target: { reference: "DocumentReference/d1" } }],
      context: { encounter: [{ reference: "Encounter/e1" }] },
    });
    expect(content).toMatchObject([{ attachment: { contentType: "text/html", language: "en", title: made.title } }]);
    const { context: _context, ...homeless } = stored;
    expect(withdrawalDocument(homeless, WHY).resource).not.toHaveProperty("context");
  });
});

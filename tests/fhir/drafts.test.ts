import fc from "fast-check";
import type {
  Appointment,
  Bundle,
  CarePlan,
  Condition,
  Extension,
  FhirResource,
  Provenance,
  QuestionnaireResponse,
  ServiceRequest,
} from "fhir/r4";
import { describe, expect, it } from "vitest";
import { tableOn } from "../../src/coding/tables.ts";
import { chartFrom } from "../../src/fhir/chart.ts";
import type { DraftInput, Override } from "../../src/fhir/draft-item.ts";
import {
  bundleJson,
  bundleOf,
  type DraftItem,
  draftPlan,
  editDraft,
  itemsOf,
  removeDraft,
  restoreDraft,
  signedDifferences,
  withReferences,
} from "../../src/fhir/drafts.ts";
import { findingsBack } from "../../src/fhir/findings-back.ts";
import { findingsQuestionnaire, findingsResponse } from "../../src/fhir/findings-record.ts";
import { purposeNames } from "../../src/fhir/visit-words.ts";
import { type CaseRecord, factsOf } from "../../src/pathway/index.ts";
import {
  AT,
  anyRecord,
  inputFor,
  MALLET,
  PLAN_ID,
  pathway,
  SIGNER,
  TWO_DIGITS,
  UNDECIDED,
  WHITE_TIP,
} from "./cases.ts";

const CONTEXT = { signer: SIGNER, at: AT };
const all = <T extends FhirResource>(bundle: Bundle, type: T["resourceType"]): T[] =>
  (bundle.entry ?? []).flatMap((e) => (e.resource?.resourceType === type ? [e.resource as T] : []));
const one = <T extends FhirResource>(bundle: Bundle, type: T["resourceType"]): T => {
  const [first, ...others] = all<T>(bundle, type);
  if (!first || others.length) throw new Error(`expected exactly one ${type}`);
  return first;
};
const item = (items: readonly DraftItem[], key: string): DraftItem => items.find((i) => i.key === key)!;
const replace = (items: readonly DraftItem[], next: DraftItem) => items.map((i) => (i.key === next.key ? next : i));
const edited = (draft: DraftItem, field: string, value: string, reason?: string): DraftItem => {
  const result = editDraft(draft, field, value, reason);
  if (!result.ok) throw new Error(result.problem);
  return result.item;
};
const references = (value: unknown): string[] =>
  Array.isArray(value)
    ? value.flatMap(references)
    : value && typeof value === "object"
      ? Object.entries(value).flatMap(([k, v]) => (k === "reference" && typeof v === "string" ? [v] : references(v)))
      : [];

describe("a closed mallet of the left ring finger", () => {
  const items = draftPlan(inputFor(MALLET));
  const draft = bundleOf(items, "draft", CONTEXT);
  const signed = bundleOf(items, "sign", CONTEXT);

  it("is drafted as findings, a diagnosis, requests, visits, the plan and the record of who made it", () => {
    expect([...new Set(items.map((i) => i.kind))]).toEqual([
      "findings",
      "condition",
      "request",
      "visit",
      "plan",
      "provenance",
    ]);
    expect(items.filter((i) => i.words.length === 0)).toEqual([]);
  });
  it("gets the ICD-10-CM code of its digit, side, displacement and openness, and the verified SNOMED codes", () => {
    const condition = one<Condition>(signed, "Condition");
    // Official descriptions: ICD-10-CM FY2027 order file; SNOMED CT ids from published value sets.
    expect(condition.code?.coding).toEqual([
      {
        system: "http://hl7.org/fhir/sid/icd-10-cm",
        version: "2027",
        code: "S62.635A",
        display: "Displaced fracture of distal phalanx of left ring finger, initial encounter for closed fracture",
      },
      { system: "http://snomed.info/sct", code: "24424003", display: "Closed fracture of phalanx of finger" },
    ]);
    expect(condition.code?.text).toContain("left ring finger: Bony mallet");
    expect(condition.onsetDateTime).toBe("2026-11-25T11:30:00+01:00");
    expect(condition.encounter).toEqual({ reference: "Encounter/e1" });
  });
  const wanting = (values: object) => ({
    policy: { ...pathway.policy, values: { ...pathway.policy.values, ...values } },
  });
  it("is written without SNOMED CT where the site has no licence for it", () => {
    const json = bundleJson(
      bundleOf(draftPlan(inputFor(MALLET, wanting({ "coding.snomed": "off" }))), "sign", CONTEXT),
    );
    expect(json).toContain("S62.635A");
    expect(json).not.toContain("snomed.info");
  });
  it("carries the classifications that the site's policy names, and those alone", () => {
    const codesOf = (values: object) =>
      one<Condition>(
        bundleOf(draftPlan(inputFor(MALLET, wanting(values))), "sign", CONTEXT),
        "Condition",
      ).code?.coding?.map((c) => c.code);
    expect(codesOf({ "coding.icd10": "on", "coding.aoOta": "on" })).toEqual([
      "S62.635A",
      "S62.6",
      "24424003",
      "78.4.3.1B",
    ]);
    expect(codesOf({ "coding.icd10cm": "off", "coding.icd10": "on", "coding.snomed": "off" })).toEqual(["S62.6"]);
    expect(codesOf({ "coding.icd10cm": "off", "coding.snomed": "off" })).toBeUndefined();
  });
  it("keeps the other codes when the position of the fragments is corrected", () => {
    const item = draftPlan(inputFor(MALLET, wanting({ "coding.icd10": "on" }))).find((i) => i.kind === "condition")!;
    const now = edited(item, "displaced", "no").resource as Condition;
    expect(now.code?.coding?.map((c) => c.code)).toEqual(["S62.665A", "S62.6", "24424003"]);
  });
  it("is left without an ICD-10-CM code on a day for which no table is here, and says so", () => {
    const late = { ...MALLET, injuredAt: "2027-10-01T11:30", assessedAt: "2027-10-01T14:45" };
    const item = draftPlan(inputFor(late)).find((i) => i.kind === "condition")!;
    expect((item.resource as Condition).code?.coding?.map((c) => c.code)).toEqual(["24424003"]);
    expect(item.words.join(" ")).toContain("No ICD-10-CM table here holds on 2027-10-01");
  });
  it("of a bruised tip without a fracture carries the code that coders are proposed, once its table is there", async () => {
    const bruised = {
      ...MALLET,
      digits: [
        { ...MALLET.digits[0]!, fractureSite: "no-fracture-seen", activeExtension: "full", haematoma: "over-half" },
      ],
    } as typeof MALLET;
    const table = await tableOn("2026-11-25");
    const codesOf = (more: object) =>
      (draftPlan(inputFor(bruised, more)).find((i) => i.kind === "condition")!.resource as Condition).code?.coding;
    expect(codesOf({ table })?.map((c) => c.code)).toEqual(["S60.142A"]);
    expect(codesOf({})).toBeUndefined();
  });

  it("D2 D3 a draft has no effect: draft plan and orders, proposed visits, provisional diagnosis, unfinished findings, no orderer", () => {
    expect([one<CarePlan>(draft, "CarePlan").status, one<CarePlan>(draft, "CarePlan").intent]).toEqual([
      "draft",
      "plan",
    ]);
    for (const r of all<ServiceRequest>(draft, "ServiceRequest"))
      expect([r.status, r.intent, r.authoredOn, r.requester]).toEqual(["draft", "order", undefined, undefined]);
    for (const a of all<Appointment>(draft, "Appointment"))
      expect([a.status, a.start, a.end]).toEqual(["proposed", undefined, undefined]);
    const condition = one<Condition>(draft, "Condition");
    expect([condition.verificationStatus?.coding?.[0]?.code, condition.asserter, condition.recorder]).toEqual([
      "provisional",
      undefined,
      undefined,
    ]);
    expect(one<QuestionnaireResponse>(draft, "QuestionnaireResponse").status).toBe("in-progress");
  });
  it("D2 D4 D5 signing makes it active under the clinician's name and time, and changes no intent", () => {
    expect([one<CarePlan>(signed, "CarePlan").status, one<CarePlan>(signed, "CarePlan").intent]).toEqual([
      "active",
      "plan",
    ]);
    expect(all<ServiceRequest>(signed, "ServiceRequest").length).toBeGreaterThan(0);
    for (const r of all<ServiceRequest>(signed, "ServiceRequest"))
      expect([r.status, r.intent, r.authoredOn, r.requester]).toEqual(["active", "order", AT, SIGNER]);
    for (const a of all<Appointment>(signed, "Appointment"))
      expect([a.status, a.start, a.end]).toEqual(["proposed", undefined, undefined]);
    const condition = one<Condition>(signed, "Condition");
    expect([
      condition.verificationStatus?.coding?.[0]?.code,
      condition.asserter,
      condition.recorder,
      condition.recordedDate,
    ]).toEqual(["confirmed", SIGNER, SIGNER, AT]);
    expect(one<QuestionnaireResponse>(signed, "QuestionnaireResponse")).toMatchObject({
      status: "completed",
      authored: AT,
      author: SIGNER,
    });
  });
  it("draft and signed differ only in standing, people, time and narrative", () => {
    const changing = new Set([
      "status",
      "text",
      "meta",
      "authoredOn",
      "requester",
      "recorder",
      "asserter",
      "recordedDate",
      "verificationStatus",
      "created",
    ]);
    const rest = (b: Bundle) =>
      (b.entry ?? [])
        .filter((e) => e.resource?.resourceType !== "Provenance")
        .map((e) => Object.fromEntries(Object.entries(e.resource!).filter(([k]) => !changing.has(k))));
    expect(rest(signed)).toEqual(rest(draft));
  });

  it("D6 D7 the plan lists its diagnosis, requests and visits; what it lists does not point back to it", () => {
    const plan = one<CarePlan>(signed, "CarePlan");
    const urnOf = (kind: string) => items.filter((i) => i.kind === kind).map((i) => i.urn);
    expect(plan.addresses?.map((a) => a.reference)).toEqual(urnOf("condition"));
    expect(plan.activity?.flatMap((a) => a.reference?.reference ?? [])).toEqual([
      ...urnOf("request"),
      ...urnOf("visit"),
    ]);
    for (const activity of plan.activity ?? [])
      expect(Object.keys(activity).filter((k) => k === "reference" || k === "detail").length).toBe(1);
    for (const r of all<ServiceRequest>(signed, "ServiceRequest")) expect(r.basedOn).toBeUndefined();
  });
  it("each visit has its window as calendar days and the request it belongs to", () => {
    const requests = items.filter((i) => i.kind === "request").map((i) => i.urn);
    const visits = all<Appointment>(signed, "Appointment");
    expect(visits.length).toBe(inputFor(MALLET).assessment.visits.length);
    visits.forEach((visit, i) => {
      const { dates } = inputFor(MALLET).assessment.visits[i]!;
      expect(visit.requestedPeriod).toEqual([{ start: dates!.earliest, end: dates!.latest }]);
      expect(requests).toContain(visit.basedOn?.[0]?.reference);
      expect(visit.participant).toEqual([
        { actor: { reference: "Patient/p1", display: "Mira Halloway" }, required: "required", status: "needs-action" },
      ]);
    });
  });
  it("every line of advice keeps its rule, its reason and its source with strength", () => {
    const plan = one<CarePlan>(signed, "CarePlan");
    const basis = (e: { extension?: Extension[] | undefined } | undefined) =>
      e?.extension?.find((x) => x.url.endsWith("/rule-basis"))?.extension ?? [];
    const lines = [
      ...(plan.activity ?? []).flatMap((a) => (a.detail ? [a.detail] : [])),
      ...(plan.note ?? []).filter((n) => basis(n).length > 0),
    ];
    expect(lines.length).toBeGreaterThan(10);
    for (const line of lines)
      expect(basis(line).map((e) => e.url)).toEqual(expect.arrayContaining(["rule", "because", "source"]));
    const splint = plan.activity?.find((a) => a.detail?.code?.text === "Management")?.detail;
    const assessed = inputFor(MALLET).assessment.digits[0]!.management[0]!;
    expect(basis(splint).find((e) => e.url === "rule")?.valueString).toBe(assessed.rule);
    expect(splint?.description).toBe(assessed.text);
  });

  it("D13 X5 SAF-13 every resource carries the plan, the program and the knowledge it came from, and a stable identifier", () => {
    for (const { resource } of signed.entry ?? []) {
      const tags = Object.fromEntries((resource?.meta?.tag ?? []).map((t) => [t.system, t.code]));
      expect(tags).toMatchObject({
        "https://fingerpost.example/fhir/CodeSystem/plan": PLAN_ID,
        "https://fingerpost.example/fhir/CodeSystem/knowledge-version": inputFor(MALLET).assessment.knowledgeVersion,
        "https://fingerpost.example/fhir/CodeSystem/app-version": "0.1.0",
        "https://fingerpost.example/fhir/CodeSystem/act": "signed",
      });
      expect(tags["https://fingerpost.example/plan-item"]).toMatch(new RegExp(`^${PLAN_ID}:`));
    }
    const canonical = `https://fingerpost.example/fhir/PlanDefinition/distal-phalanx|${inputFor(MALLET).assessment.knowledgeVersion}`;
    expect(one<CarePlan>(signed, "CarePlan").instantiatesCanonical).toEqual([canonical]);
    for (const r of all<ServiceRequest>(signed, "ServiceRequest")) {
      expect(r.instantiatesCanonical).toEqual([canonical]);
      expect(r.requisition?.value).toBe(`${PLAN_ID}:requisition`);
    }
  });
  it("D8 D10 R14 provenance: the signer as author, the program as assembler, the chart entries read and the rule set as entities, all resources as targets", () => {
    const provenance = one<Provenance>(signed, "Provenance");
    expect(provenance.target.map((t) => t.reference)).toEqual(
      items.filter((i) => i.kind !== "provenance").map((i) => i.urn),
    );
    expect(provenance.agent.map((a) => [a.type?.coding?.[0]?.code, a.who.reference])).toEqual([
      ["assembler", "#program"],
      ["author", SIGNER.reference],
    ]);
    expect(provenance.entity?.filter((e) => e.role === "source").map((e) => e.what.reference)).toEqual([
      "Patient/p1/_history/3",
      "ImagingStudy/film-7",
    ]);
    expect(provenance.entity?.find((e) => e.role === "derivation")?.what.identifier?.value).toBe(
      inputFor(MALLET).assessment.knowledgeVersion,
    );
    expect([provenance.recorded, provenance.activity?.coding?.[0]?.code, provenance.signature]).toEqual([
      AT,
      "LA",
      undefined,
    ]);
  });
  it("REL-24 R14 what came into the chart and was seen before signing is kept as a source in its version, with those words", () => {
    const words = "New: Allergy to penicillin, recorded 10:42";
    const seenNews = [
      { words, references: ["AllergyIntolerance/5/_history/1"] },
      { words: "Not known: Medicines could not be read again", references: [] },
    ];
    const news = draftPlan(inputFor(MALLET, { seenNews }));
    const { entity = [] } = one<Provenance>(bundleOf(news, "sign", CONTEXT), "Provenance");
    expect(entity.filter((e) => e.what.display?.startsWith("Seen before signing"))).toEqual([
      {
        role: "source",
        what: {
          reference: "AllergyIntolerance/5/_history/1",
          display: `Seen before signing, after the chart was read: ${words}`,
        },
      },
      {
        role: "source",
        what: {
          display: "Seen before signing, after the chart was read: Not known: Medicines could not be read again",
        },
      },
    ]);
    const shown = (all: typeof news) => all.find((i) => i.kind === "provenance")!.words;
    expect(shown(news)).toContain(`Seen before signing, after the chart was read: ${words}.`);
    const counted = (all: typeof news) => shown(all).find((line) => line.includes("used."));
    expect(counted(news), "what was only seen is not counted as used").toBe(counted(items));
  });
  it("SAF-12 that a newer program was installed and this one signed all the same stands beside its version", () => {
    const rules = (olderProgram: boolean) =>
      one<Provenance>(
        bundleOf(draftPlan(inputFor(MALLET, { olderProgram })), "sign", CONTEXT),
        "Provenance",
      ).entity?.find((e) => e.role === "derivation")?.what.display;
    expect(rules(false)).not.toContain("newer");
    expect(rules(true)).toBe(
      `${rules(false)}. A newer version of the program was installed; the clinician chose to sign with this one`,
    );
  });
  it("provenance of a draft claims no authorship", () => {
    const provenance = one<Provenance>(draft, "Provenance");
    expect(provenance.agent.map((a) => a.type?.coding?.[0]?.code)).toEqual(["assembler", "enterer"]);
    expect(provenance.activity?.coding?.[0]?.code).toBe("CREATE");
  });
  it("D11 the narrative says first whether it is signed", () => {
    for (const { resource } of draft.entry ?? [])
      expect((resource as CarePlan).text?.div).toContain("<b>Draft, not signed.</b>");
    for (const { resource } of signed.entry ?? [])
      expect((resource as CarePlan).text?.div).toContain(
        "<b>Signed by Dr Ada Okafor, Wed 25 November 2026, 15:10.</b>",
      );
  });
});

describe("other cases", () => {
  it("two digits: one plan, one diagnosis each, lines that name their finger", () => {
    const items = draftPlan(inputFor(TWO_DIGITS));
    const bundle = bundleOf(items, "sign", CONTEXT);
    expect(all<Condition>(bundle, "Condition").map((c) => c.code?.coding?.[0]?.code)).toEqual(["S62.630B", "S62.662A"]);
    expect(one<CarePlan>(bundle, "CarePlan").addresses?.length).toBe(2);
    const words = item(items, "plan").words;
    expect(words.some((w) => w.includes("right index finger: "))).toBe(true);
    expect(words.filter((w) => w.includes("Dressing that does not stick")).length).toBe(1);
  });
  it("the same finger entered twice keeps two diagnoses, each found again by its own identifier", () => {
    const [digit] = MALLET.digits;
    const keys = draftPlan(inputFor({ ...MALLET, digits: [digit!, digit!] })).flatMap((i) =>
      i.resource.resourceType === "Condition" ? [[i.key, i.resource.identifier?.[0]?.value]] : [],
    );
    expect(keys).toEqual([
      ["condition-left-ring", `${PLAN_ID}:condition-left-ring`],
      ["condition-left-ring-2", `${PLAN_ID}:condition-left-ring-2`],
    ]);
  });
  it("grossly contaminated open crush: the surgeon is asked at once (stat), with the urgency on the order", () => {
    const referral = draftPlan(inputFor(TWO_DIGITS)).find((i) => i.key.startsWith("referral-hand"))!
      .resource as ServiceRequest;
    expect(referral.priority).toBe("stat");
    expect(referral.extension?.find((e) => e.url.endsWith("/urgency"))?.valueCode).toBe("NOW");
    expect(referral.bodySite?.map((b) => b.text)).toEqual(["Distal phalanx, right index finger"]);
    expect(referral.reasonReference?.length).toBe(1);
  });
  it("a white finger tip: referred where the red flag sends, at once, with no ordinary follow-up beside it", () => {
    const items = draftPlan(inputFor(WHITE_TIP));
    const requests = items.filter((i) => i.kind === "request").map((i) => i.resource as ServiceRequest);
    const exits = inputFor(WHITE_TIP).assessment.digits[0]!.exits;
    expect(exits.length).toBeGreaterThan(0);
    for (const exit of exits)
      expect(requests.some((r) => r.priority === "stat" && r.performerType?.text === exit.effect.sendTo)).toBe(true);
    expect(items.filter((i) => i.kind === "visit").length).toBe(inputFor(WHITE_TIP).assessment.visits.length);
  });
  it("an undecided case says that urgency is open and what is missing, and codes no fracture", () => {
    const bundle = bundleOf(draftPlan(inputFor(UNDECIDED)), "sign", CONTEXT);
    expect(one<CarePlan>(bundle, "CarePlan").description).toContain("Urgency cannot be decided yet.");
    expect(one<CarePlan>(bundle, "CarePlan").note?.some((n) => n.text.startsWith("Still open"))).toBe(true);
    const condition = one<Condition>(bundle, "Condition");
    expect(condition.code).toEqual({ text: "Finger tip injury, right thumb; fracture not confirmed" });
    expect(condition.verificationStatus?.coding?.[0]?.code).toBe("provisional");
    expect(condition.onsetDateTime).toBeUndefined();
  });
  it.each([
    ["no fracture seen", { fractureSite: "no-fracture-seen" }, "No fracture was seen, so no fracture code is given."],
    [
      "site cannot be told",
      { fractureSite: "cannot-tell" },
      "The fracture is not confirmed, so no fracture code is given.",
    ],
    ["no film taken", { filmTaken: "no" }, "The fracture is not confirmed, so no fracture code is given."],
    [
      "bone lost with the tip",
      { tissueLoss: "amputation-replantable" },
      "Bone was lost with the tip: the coder decides between amputation and fracture.",
    ],
    [
      "diseased bone",
      { boneLesion: "yes" },
      "The bone looks diseased: the cause must be stated before a fracture is coded.",
    ],
    ["digit not stated", { digit: "cannot-tell" }, "The digit is not stated, so no fracture code is given."],
  ])("%s: no fracture code, and the reason is said", (_, change, words) => {
    const record = { ...MALLET, digits: [{ ...MALLET.digits[0], ...change }] };
    const condition = draftPlan(inputFor(record)).find((i) => i.kind === "condition")!;
    expect((condition.resource as Condition).code?.coding).toBeUndefined();
    expect(condition.words).toContain(words);
  });
  it("without a day of injury a visit has no invented dates but its days after injury", () => {
    const { injuredAt: _, ...record } = MALLET;
    const visits = draftPlan(inputFor(record)).filter((i) => i.kind === "visit");
    expect(visits.length).toBeGreaterThan(0);
    for (const visit of visits) {
      expect((visit.resource as Appointment).requestedPeriod).toBeUndefined();
      expect(visit.words.join(" ")).toMatch(/The day of (injury|operation) is not known: book for day/);
    }
  });
  it("D14 SAF-10 the clinician's other decision is kept with the rule's proposal and the reason", () => {
    const override = {
      rule: "MAL-5",
      proposed: "splint for six to eight weeks",
      decided: "pinning tomorrow",
      reason: "cannot keep a splint at work",
    };
    const bundle = bundleOf(draftPlan(inputFor(MALLET, { overrides: [override] })), "sign", CONTEXT);
    expect(one<CarePlan>(bundle, "CarePlan").note?.map((n) => n.text)).toContain(
      "The clinician decided differently: pinning tomorrow. The rule proposed: splint for six to eight weeks. Reason: cannot keep a splint at work.",
    );
    expect(
      one<Provenance>(bundle, "Provenance")
        .entity?.filter((e) => e.role === "revision")
        .map((e) => e.what.display),
    ).toEqual([expect.stringContaining("Rule MAL-5 proposed")]);
  });
  it("D11 SEC-14 text from a clinician cannot become markup in the narrative", () => {
    const items = draftPlan(inputFor(MALLET));
    const next = edited(item(items, "plan"), "own-note", `<script>alert("x")</script> & more\u0000`);
    const div = one<CarePlan>(bundleOf(replace(items, next), "sign", CONTEXT), "CarePlan").text!.div;
    expect(div).toContain("&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt; &amp; more");
    expect(div).not.toContain("<script>");
    expect(div).not.toContain("\u0000");
  });
});

describe("the clinician decides differently", () => {
  const first = inputFor(MALLET).assessment.urgency.because[0]!;
  const sooner: Override = {
    on: "urgency",
    digit: 0,
    rule: first.rule,
    proposed: "Within one week",
    decided: "Same day",
    choice: "D0",
    reason: "skin is blanching",
  };
  const WORDS = "Clinician's decision: Same day instead of Within one week: skin is blanching.";
  const write = (more: Partial<DraftInput> = {}) => draftPlan(inputFor(MALLET, { policy: pathway.policy, ...more }));

  it("same day instead of a week: a referral of today's priority and date, and plan words that say whose decision it is", () => {
    const before = write().find((i) => i.key === "referral-hand-surgery")?.resource as ServiceRequest | undefined;
    expect(before?.priority ?? "routine").toBe("routine");
    const after = write({ overrides: [sooner] });
    const referral = item(after, "referral-hand-surgery").resource as ServiceRequest;
    expect(referral.priority).toBe("asap");
    expect(referral.occurrencePeriod).toEqual({ start: "2026-11-25", end: "2026-11-25" });
    expect(referral.note?.map((n) => n.text)).toContain(WORDS);
    const plan = item(after, "plan").resource as CarePlan;
    expect(plan.description).toContain(`Urgency: Same day. ${WORDS}`);
    expect(plan.extension?.find((e) => e.url.endsWith("/urgency"))?.valueCode).toBe("D0");
  });
  it("less urgent than a red flag proposes: no request stays more urgent than the decision", () => {
    const flagged = inputFor(WHITE_TIP);
    const rule = flagged.assessment.urgency.because[0]!.rule;
    const later = { ...sooner, rule, proposed: "Now", decided: "Next working day", choice: "D1" };
    const requests = draftPlan({ ...flagged, policy: pathway.policy, overrides: [later] }).flatMap((i) =>
      i.resource.resourceType === "ServiceRequest" && i.key.startsWith("referral") ? [i.resource] : [],
    );
    expect(requests.length).toBeGreaterThan(0);
    for (const request of requests) expect(["urgent", "routine"]).toContain(request.priority);
  });
  it("operation instead of a splint: the surgeon is asked, and the management line is the clinician's", () => {
    const manage = inputFor(MALLET).assessment.digits[0]!.management[0]!;
    const operate: Override = {
      ...sooner,
      on: "management",
      rule: manage.rule,
      proposed: "Treat without operation",
      decided: "Operation",
      choice: "operative",
    };
    const words = item(write({ overrides: [operate] }), "plan").words;
    expect(words).toContain(
      "Management: Clinician's decision: Operation instead of Treat without operation: skin is blanching.",
    );
    expect(words.join(" ")).not.toContain(manage.text);
    expect(write({ overrides: [operate] }).some((i) => i.key === "referral-hand-surgery")).toBe(true);
  });
  it.each(["antibiotic", "splint"] as const)("another %s: the line that is written is the decision", (on) => {
    const digit = inputFor(MALLET).assessment.digits[0]!;
    const line = on === "splint" ? digit.splints[0]! : digit.antibiotic[0]!;
    const own = { ...sooner, on, rule: line.rule, proposed: line.text, decided: "Another one" };
    const words = item(write({ overrides: [own] }), "plan").words.join("\n");
    expect(words).toContain(`Clinician's decision: Another one instead of ${line.text}`);
    expect(words).not.toMatch(new RegExp(`^(Splint|Antibiotic): ${line.text.replace(/[^\w ]/g, ".")}$`, "m"));
  });
  it("a decision about advice that is no longer given is not written", () => {
    const stale = { ...sooner, rule: "GONE-1" };
    expect(JSON.stringify(write({ overrides: [stale] }))).not.toContain("skin is blanching");
  });
});

describe("what is asked of whom, by when", () => {
  const requests = (input: DraftInput) =>
    draftPlan(input).flatMap((i) => (i.resource.resourceType === "ServiceRequest" ? [i.resource] : []));
  it("no order spans more than seven weeks, unless one single visit does", () => {
    fc.assert(
      fc.property(anyRecord, (record) => {
        const input = inputFor(record, { policy: pathway.policy });
        const items = draftPlan(input);
        for (const request of items.filter((i) => i.kind === "request")) {
          const visits = items.flatMap((i) =>
            i.resource.resourceType === "Appointment" && i.resource.basedOn?.[0]?.reference === request.urn
              ? [i.resource]
              : [],
          );
          const days = visits.flatMap((v) => v.requestedPeriod ?? []);
          if (days.length < 2) continue;
          const start = days.map((d) => d.start!).sort()[0]!;
          const end = days
            .map((d) => d.end!)
            .sort()
            .at(-1)!;
          expect((Date.parse(end) - Date.parse(start)) / 86_400_000).toBeLessThanOrEqual(49);
        }
      }),
      { numRuns: 40 },
    );
  });
  it("a surgeon's review on the day of the injury is not routine", () => {
    const visit = inputFor(MALLET).assessment.visits[0]!;
    const dates = { earliest: "2026-11-25", ideal: "2026-11-25", latest: "2026-11-26" };
    const review = { ...visit, purpose: "surgeon-review", earliest: 0, ideal: 0, latest: 1, dates } as const;
    const input = inputFor(MALLET);
    const [request] = requests({ ...input, assessment: { ...input.assessment, visits: [review] } }).filter((r) =>
      /[Ss]urg/.test(r.code?.text ?? ""),
    );
    expect(request?.priority).toBe("asap");
  });
  it.each([
    // 25 November 2026 is a Wednesday, 27 November a Friday.
    ["W1", "2026-11-25T14:45", { start: "2026-11-25", end: "2026-12-02" }],
    ["R2", "2026-11-25T14:45", { start: "2026-12-02", end: "2026-12-09" }],
    ["D1", "2026-11-27T14:45", { start: "2026-11-27", end: "2026-11-30" }],
  ] as const)("a referral of urgency %s, made %s, has this site's days", (level, assessedAt, period) => {
    const input = inputFor(MALLET, { policy: pathway.policy });
    const [digit] = input.assessment.digits;
    const urgency = { level, sure: level, open: false, because: digit!.urgency.because };
    const refer = { ...digit!.management[0]!, effect: { kind: "manage", call: "must-refer", say: "Refer." } } as const;
    const [referral] = requests({
      ...input,
      record: { ...MALLET, assessedAt },
      assessment: { ...input.assessment, digits: [{ ...digit!, urgency, management: [refer] }], visits: [] },
    }).filter((r) => r.code?.text === "Referral: hand surgery");
    expect(referral?.occurrencePeriod).toEqual(period);
  });
  it("a rule that is only possible is not told as a fact, in the plan or in a request", () => {
    const input = inputFor(MALLET);
    const [digit] = input.assessment.digits;
    const maybe = { rule: "DPU-X", text: "The answers contradict each other.", because: "x", sources: [] };
    const line = { ...maybe, effect: { kind: "urgency", urgency: "D0", say: maybe.text } } as const;
    const urgency = { level: "D0", sure: "D1", open: true, because: [maybe] } as const;
    const items = draftPlan({
      ...input,
      assessment: {
        ...input.assessment,
        urgency: { ...urgency, words: { title: "Same day", means: "" } },
        digits: [{ ...digit!, urgency, stillPossible: [line] }],
      },
    });
    expect((item(items, "plan").resource as CarePlan).description).toContain(
      "Not excluded while questions are open: The answers contradict each other.",
    );
    const notes = (item(items, "referral-hand-surgery").resource as ServiceRequest).note?.map((n) => n.text) ?? [];
    expect(notes).not.toContain(maybe.text);
    expect(notes).toContain(`Not excluded while questions are open: ${maybe.text}`);
  });
});

describe("the diagnosis card", () => {
  const card = (record: CaseRecord) => draftPlan(inputFor(record)).find((i) => i.kind === "condition")!;
  const standing = (record: CaseRecord, act: "draft" | "sign") =>
    one<Condition>(bundleOf(draftPlan(inputFor(record)), act, CONTEXT), "Condition").verificationStatus?.coding?.[0]
      ?.code;
  it("says what the act does: provisional as a draft, confirmed by signing", () => {
    expect(card(MALLET).words).toContain("Provisional as a draft, confirmed when you sign.");
    expect([standing(MALLET, "draft"), standing(MALLET, "sign")]).toEqual(["provisional", "confirmed"]);
  });
  it("promises no confirmation while no film shows the fracture", () => {
    const unfilmed = { ...MALLET, digits: [{ digit: "ring", side: "left", filmTaken: "no" }] } as const;
    expect(card(unfilmed).words).toContain("Provisional, also once it is signed: the fracture is not confirmed.");
    expect(standing(unfilmed, "sign")).toBe("provisional");
  });
});

describe("a visit has one name", () => {
  it("in its own title, in what the clinic reads and in the order it belongs to", () => {
    const items = draftPlan(inputFor(MALLET));
    const visits = items.filter((i) => i.kind === "visit");
    const orders = items.flatMap((i) => (i.kind === "request" ? [i.title.toLowerCase()] : []));
    expect(visits.map((v) => v.title)).toContain("Visit: True lateral film");
    for (const visit of visits) {
      const name = visit.title.replace("Visit: ", "");
      const { description, serviceType } = visit.resource as Appointment;
      expect(description).toMatch(new RegExp(`^${name}, `));
      expect(serviceType?.[0]?.coding?.[0]?.display).toBe(name);
      expect(
        orders.some((o) => o.includes(name.toLowerCase())),
        name,
      ).toBe(true);
    }
  });
  it("where one order asks for several, it names each of them once", () => {
    const purposes = ["wound-check", "stitches-out", "wound-check"] as const;
    expect(purposeNames(purposes.map((purpose) => ({ purpose })))).toBe("Wound check, stitches out");
  });
});

describe("visits in words", () => {
  const visitWith = (more: object) => {
    const input = inputFor(MALLET);
    const visit = { ...input.assessment.visits[0]!, countFrom: "injury", check: "Pin site", ...more } as const;
    const found = draftPlan({ ...input, assessment: { ...input.assessment, visits: [visit] } }).find(
      (i) => i.kind === "visit",
    )!;
    return { comment: (found.resource as Appointment).comment, words: found.words.join(" ") };
  };
  it("that hang on a treatment say so, once, in the comment and the words", () => {
    const { comment, words } = visitWith({ onlyIf: "if a wire was placed", countFrom: "treatment" });
    expect(comment).toBe("Only if a wire was placed. Counted from the day of treatment. Pin site");
    expect(words).toContain("Only if a wire was placed.");
    expect(visitWith({ onlyIf: "if wired", check: "If wired: pin site" }).comment).toBe("If wired: pin site");
  });
  it("that wait for an operation carry days and no date, so that nobody books stitches or wires too early", () => {
    const { injuredAt: _, ...undatedRecord } = MALLET;
    expect(undatedRecord.operatedOn).toBeUndefined();
    const days = { earliest: 10, ideal: 12, latest: 14, dates: undefined };
    const { comment, words } = visitWith({ ...days, countFrom: "operation" });
    expect(comment).toBe("Days 10 to 14 after the operation; booked once its day is known. Pin site");
    expect(words).toContain("The day of operation is not known: book for day 10 to 14 after it, best on day 12.");
    const dates = { earliest: "2026-12-07", ideal: "2026-12-09", latest: "2026-12-11" };
    const booked = visitWith({ ...days, dates, countFrom: "operation" });
    expect(booked.comment).toBe("Counted from the day of the operation. Pin site");
    expect(booked.words).toContain("from Mon 7 December 2026");
  });
  it("that wait for an operation are ordered apart, without the dates of the others", () => {
    const torn = { ...MALLET, digits: [{ ...MALLET.digits[0]!, activeFlexion: "absent" }] };
    const orders = draftPlan(inputFor(torn)).flatMap((i) =>
      i.kind === "request" ? [i.resource as ServiceRequest] : [],
    );
    const waits = orders.filter((r) => r.code?.text?.endsWith("after the operation"));
    expect(waits.length).toBeGreaterThan(0);
    for (const r of waits) expect(r.occurrencePeriod).toBeUndefined();
  });
  it("on a Saturday keep their date and leave the session to the clinic; on a Monday nothing is said", () => {
    const on = (ideal: string) => visitWith({ dates: { earliest: "2026-11-20", ideal, latest: "2026-12-04" } }).words;
    expect(on("2026-11-28")).toContain("best on Sat 28 November 2026");
    expect(on("2026-11-28")).toContain("falls on a weekend: the clinic picks the nearest session inside the window");
    expect(on("2026-11-30")).not.toContain("weekend");
  });
});

describe("open or closed, for the code", () => {
  const coded = (digit: object, more: (input: DraftInput) => Partial<DraftInput> = () => ({})) => {
    const { openness: _, ...rest } = MALLET.digits[0]!;
    const input = inputFor({ ...MALLET, digits: [{ ...rest, ...digit }] });
    const found = draftPlan({ ...input, ...more(input) }).find((i) => i.kind === "condition")!;
    return { code: (found.resource as Condition).code?.coding?.[0]?.code, words: found.words.join(" "), item: found };
  };
  const classed = (id: string, name: string) => (input: DraftInput) => ({
    assessment: {
      ...input.assessment,
      digits: input.assessment.digits.map((d) => ({
        ...d,
        classes: [{ rule: "CLS-1", text: id, because: "", sources: [], class: id, name }],
      })),
    },
  });
  it("a Seymour fracture is coded open although nobody answered the question, and the reason is said", () => {
    const { code, words, item: condition } = coded({}, classed("SEYMOUR", "Seymour fracture"));
    expect(code).toBe("S62.635B");
    expect(words).toContain("Counted as open: the class Seymour fracture is an open injury.");
    expect(words).not.toContain("Open or closed not stated");
    expect(edited(condition, "displaced", "no").words.join(" ")).toContain("Counted as open");
  });
  it("blood at the nail fold that the rules count as an opening is coded open", () => {
    const uncertain = { openness: "uncertain", bloodAtNailFold: "yes" };
    const signs = (input: DraftInput) => ({ signs: [pathway.evaluate(factsOf(input.record, 0)).signs] });
    expect(coded(uncertain, signs).code).toBe("S62.635B");
  });
  it("a cut that does not reach the fracture is a closed fracture", () => {
    expect(coded({ openness: "skin-cut" }, classed("TUFT-S", "Tuft, simple")).code).toBe("S62.635A");
  });
  it("a bony mallet of which nothing is said stays not stated", () => {
    expect(coded({}, classed("MALLET", "Bony mallet")).words).toContain("Open or closed not stated");
  });
});

describe("editing", () => {
  const items = draftPlan(inputFor(MALLET));
  it("a visit window moves, its words follow, the change is recorded with its reason", () => {
    const visit = item(items, "visit-splint-review-fup-6");
    const next = edited(edited(visit, "end", "2026-12-04", "clinic closed"), "start", "2026-12-01");
    expect((next.resource as Appointment).requestedPeriod).toEqual([{ start: "2026-12-01", end: "2026-12-04" }]);
    expect(next.words.join(" ")).toContain("from Tue 1 December 2026 to Fri 4 December 2026");
    expect(next.changes).toEqual([
      { field: "end", label: "Latest day", from: "2026-12-02", to: "2026-12-04", reason: "clinic closed" },
      { field: "start", label: "Earliest day", from: "2026-11-30", to: "2026-12-01" },
    ]);
    expect((visit.resource as Appointment).requestedPeriod?.[0]?.end).toBe("2026-12-02");
    const provenance = one<Provenance>(bundleOf(replace(items, next), "sign", CONTEXT), "Provenance");
    expect(provenance.entity?.map((e) => e.what.display)).toContain(
      `Visit: Splint review, Latest day: "2026-12-02" changed to "2026-12-04". Reason: clinic closed.`,
    );
  });
  it("a best day outside the new window is dropped", () => {
    const next = edited(item(items, "visit-splint-review-fup-6"), "end", "2026-12-01");
    expect(next.words.join(" ")).not.toContain("best on");
  });
  it("changed and changed back is no change", () => {
    const visit = item(items, "visit-splint-review-fup-6");
    expect(edited(edited(visit, "end", "2026-12-04"), "end", "2026-12-02").changes).toEqual([]);
  });
  it.each([
    ["visit-splint-review-fup-6", "end", "2026-11-01", /last day .* is before the first/],
    ["visit-splint-review-fup-6", "start", "1.12.2026", /is not a date/],
    ["visit-splint-review-fup-6", "start", "2026-02-30", /is not a date/],
    ["visit-splint-review-fup-6", "end", "soon", /is not a date/],
    ["film-check", "priority", "yesterday", /Choose one of/],
    ["film-check", "who", "  ", /Write something/],
    ["plan", "description", "", /Write something/],
    ["plan", "own-note", "x".repeat(2001), /At most 2000 characters/],
    ["plan", "activity-99", "x", /no field/],
    ["condition-left-ring", "displaced", "maybe", /Choose one of/],
    ["findings", "digit.0.side", "right", /findings page/],
    ["provenance", "recorded", "x", /cannot be edited/],
  ])("%s: %s = %s is refused with what is allowed", (key, field, value, words) => {
    expect(editDraft(item(items, key), field, value)).toEqual({ ok: false, problem: expect.stringMatching(words) });
  });
  it("the clinician states the position of the fragments, and the code follows", () => {
    const next = edited(item(items, "condition-left-ring"), "displaced", "no");
    expect((next.resource as Condition).code?.coding?.[0]?.code).toBe("S62.665A");
    expect(next.words.join(" ")).toContain("Nondisplaced fracture of distal phalanx of left ring finger");
    expect(edited(next, "displaced", "unknown").words.join(" ")).toContain("Displacement not stated");
  });
  it("a plan line the clinician empties stays on record as not wanted", () => {
    const plan = item(items, "plan");
    const field = plan.edits.find((e) => e.label === "Antibiotic")!;
    const next = edited(plan, field.id, "", "given already");
    const line = (next.resource as CarePlan).activity?.[Number(field.id.split("-")[1])]?.detail;
    expect(line).toMatchObject({
      status: "cancelled",
      statusReason: { text: expect.stringContaining("Not wanted by the clinician") },
    });
    expect(next.words.some((w) => w.startsWith("Antibiotic"))).toBe(false);
  });
});

describe("leaving items out", () => {
  const items = draftPlan(inputFor(MALLET));
  it("D1 drops the item with every reference to it, and records why", () => {
    const request = items.find((i) => i.kind === "request")!;
    const bundle = bundleOf(replace(items, removeDraft(request, "arranged by phone")), "sign", CONTEXT);
    expect((bundle.entry ?? []).map((e) => e.fullUrl)).not.toContain(request.urn);
    expect(references(bundle)).not.toContain(request.urn);
    expect(one<Provenance>(bundle, "Provenance").entity?.at(-1)).toEqual({
      role: "removal",
      what: { display: `${request.title}: left out. Reason: arranged by phone` },
    });
  });
  it("can be taken back", () => {
    const visit = items.find((i) => i.kind === "visit")!;
    expect(bundleOf(replace(items, restoreDraft(removeDraft(visit, "x"))), "sign", CONTEXT)).toEqual(
      bundleOf(items, "sign", CONTEXT),
    );
  });
  it("no combination of removals leaves a reference to nothing", () => {
    fc.assert(
      fc.property(fc.array(fc.boolean(), { minLength: items.length, maxLength: items.length }), (out) => {
        const some = items.map((i, n) => (out[n] && i.kind !== "plan" ? removeDraft(i, "test") : i));
        const bundle = bundleOf(some, "sign", CONTEXT);
        const there = new Set((bundle.entry ?? []).map((e) => e.fullUrl));
        for (const reference of references(bundle.entry))
          if (reference.startsWith("urn:uuid:")) expect(there.has(reference)).toBe(true);
      }),
      { numRuns: 100 },
    );
  });
  it("with everything left out there is nothing to write", () => {
    expect(() =>
      bundleOf(
        items.map((i) => removeDraft(i, "no")),
        "sign",
        CONTEXT,
      ),
    ).toThrow("nothing to write");
  });
});

describe("the transaction", () => {
  it("is the same bytes for the same items and time, whatever the case", () => {
    fc.assert(
      fc.property(anyRecord, (record) => {
        const once = () => bundleJson(bundleOf(draftPlan(inputFor(record)), "sign", CONTEXT));
        expect(once()).toBe(once());
      }),
      { numRuns: 25 },
    );
  });
  it("I1 D9 creates each item once only: POST under its identifier, unique keys and addresses, in dependency order", () => {
    fc.assert(
      fc.property(anyRecord, (record) => {
        const bundle = bundleOf(draftPlan(inputFor(record)), "sign", CONTEXT);
        const entries = itemsOf(bundle);
        expect(new Set(entries.map((e) => e.key)).size).toBe(entries.length);
        expect(new Set(entries.map((e) => e.urn)).size).toBe(entries.length);
        const seen = new Set<string>();
        for (const entry of entries) {
          expect(entry.method).toBe("POST");
          expect(entry.urn).toMatch(/^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/);
          const by = entry.resource.resourceType === "Provenance" ? "_tag" : "identifier";
          expect(entry.ifNoneExist).toBe(`${by}=https://fingerpost.example/plan-item|${PLAN_ID}:${entry.key}`);
          if (by === "identifier")
            expect(JSON.stringify((entry.resource as CarePlan).identifier)).toContain(`"${PLAN_ID}:${entry.key}"`);
          for (const reference of references(entry.resource))
            if (reference.startsWith("urn:")) expect(seen.has(reference)).toBe(true);
          seen.add(entry.urn!);
        }
      }),
      { numRuns: 25 },
    );
  });
  it("I4 I6 I8 updates what a stored draft already is, in the version that was read, and keeps what others added", () => {
    const items = draftPlan(inputFor(MALLET));
    const stored = {
      resourceType: "CarePlan",
      id: "77",
      status: "draft",
      language: "en-GB",
      careTeam: [{ reference: "CareTeam/4" }],
      note: [{ text: "old" }],
      extension: [{ url: "https://other.test/x", valueString: "keep" }],
    };
    const bundle = bundleOf(items, "sign", {
      ...CONTEXT,
      existing: { plan: { reference: "CarePlan/77", version: "5", resource: stored } },
    });
    const entry = bundle.entry!.find((e) => e.resource?.resourceType === "CarePlan")!;
    expect(entry.request).toEqual({ method: "PUT", url: "CarePlan/77", ifMatch: 'W/"5"' });
    const plan = entry.resource as CarePlan;
    expect([plan.id, plan.status, plan.language, plan.careTeam?.[0]?.reference]).toEqual([
      "77",
      "active",
      "en-GB",
      "CareTeam/4",
    ]);
    expect(plan.note?.some((n) => n.text === "old")).toBe(false);
    expect(plan.extension?.some((e) => e.url === "https://other.test/x")).toBe(true);
    expect(one<Provenance>(bundle, "Provenance").target.map((t) => t.reference)).toContain("CarePlan/77");
  });
  it("findings that were signed before become amended", () => {
    const existing = {
      findings: {
        reference: "QuestionnaireResponse/8",
        version: "2",
        resource: { resourceType: "QuestionnaireResponse", id: "8", status: "completed" },
      },
    };
    expect(
      one<QuestionnaireResponse>(
        bundleOf(draftPlan(inputFor(MALLET)), "sign", { ...CONTEXT, existing }),
        "QuestionnaireResponse",
      ).status,
    ).toBe("amended");
  });
  it("each act is recorded anew, a repeated request of one act is not", () => {
    const items = draftPlan(inputFor(MALLET));
    const key = (at: string, act: "draft" | "sign") =>
      itemsOf(bundleOf(items, act, { ...CONTEXT, at })).at(-1)!.ifNoneExist;
    expect(key(AT, "sign")).toBe(key(AT, "sign"));
    expect(new Set([key(AT, "sign"), key(AT, "draft"), key("2026-11-25T15:11:00+01:00", "sign")]).size).toBe(3);
  });
  it("REL-28 two clinicians who plan the same injury write the same episode; another finger is another episode", () => {
    const episode = (more: object, record = MALLET) =>
      (item(draftPlan(inputFor(record, more)), "plan").resource as CarePlan).identifier?.find((i) =>
        i.system?.endsWith("/episode"),
      )?.value;
    expect(episode({ planId: "00000000-0000-4000-8000-000000000000" })).toBe(episode({}));
    expect(episode({}, { ...MALLET, digits: [{ ...MALLET.digits[0], digit: "little" }] })).not.toBe(episode({}));
  });
  it("real ids take the place of temporary ones for servers that take one resource at a time", () => {
    const request = itemsOf(bundleOf(draftPlan(inputFor(MALLET)), "sign", CONTEXT)).find(
      (i) => i.resource.resourceType === "ServiceRequest",
    )!;
    const urn = (request.resource as ServiceRequest).reasonReference![0]!.reference!;
    expect((withReferences(request.resource, { [urn]: "Condition/9" }) as ServiceRequest).reasonReference).toEqual([
      { reference: "Condition/9" },
    ]);
  });
});

describe("comparing what was stored with what was signed", () => {
  const sent = one<CarePlan>(bundleOf(draftPlan(inputFor(MALLET)), "sign", CONTEXT), "CarePlan");
  const stored = {
    ...structuredClone(sent),
    id: "12",
    meta: { ...sent.meta, versionId: "1", lastUpdated: AT },
    text: undefined,
  };
  it("ids, versions, resolved references and additions are not differences", () => {
    expect(
      signedDifferences(sent, {
        ...stored,
        addresses: [{ reference: "Condition/3" }],
        created: "2026-11-25T14:10:00Z",
        careTeam: [{ reference: "CareTeam/1" }],
      }),
    ).toEqual([]);
  });
  it.each([
    ["a status set back", { status: "draft" }, ["status"]],
    ["an identifier dropped", { identifier: undefined }, ["identifier"]],
    ["a note cut", { note: sent.note!.slice(0, -1) }, [`note[${sent.note!.length - 1}]`]],
    ["tags lost", { meta: { versionId: "1" } }, ["meta.tag"]],
    ["another patient", { subject: { reference: "Patient/p2", display: "Mira Halloway" } }, ["subject.reference"]],
  ])("%s is found", (_, change, paths) => {
    expect(signedDifferences(sent, { ...stored, ...change })).toEqual(paths);
  });
});

describe("findings there and back", () => {
  it("a stored record gives back exactly the confirmed answers, with cannot-tell kept and not-asked absent", () => {
    fc.assert(
      fc.property(anyRecord, (record) => {
        const bundle = bundleOf(draftPlan(inputFor(record)), "sign", CONTEXT);
        const response = { ...one<QuestionnaireResponse>(bundle, "QuestionnaireResponse"), id: "q1" };
        const chart = chartFrom(
          { earlier: { state: "found", resources: [JSON.parse(JSON.stringify(response))], more: false } },
          { patientId: "p1", today: "2026-12-10", zone: "Europe/Berlin" },
        );
        const asked = (answers: object) =>
          Object.fromEntries(Object.entries(answers).filter(([, v]) => v !== "not-asked"));
        const back = chart.earlierPlans[0]?.findings;
        expect(back).toEqual({
          ...(record.birthDate ? { birthDate: record.birthDate } : {}),
          ...(record.injuredAt ? { injuredAt: record.injuredAt } : {}),
          assessedAt: record.assessedAt,
          patient: asked(record.patient),
          injury: asked(record.injury),
          digits: record.digits.map(asked).filter((d) => Object.keys(d).length > 0),
          notUnderstood: [],
        });
        // On a later day only what belongs to the patient is proposed, and "cannot tell" is not.
        for (const p of chart.proposals) {
          expect([p.scope, p.note]).toEqual(["patient", "from earlier findings"]);
          expect(record.patient[p.finding]).toBe(p.value);
        }
      }),
      { numRuns: 40 },
    );
  });
  it("answers stand in the order of the Questionnaire, whatever the clinician answered first (R4 QuestionnaireResponse.item)", () => {
    const backwards = (answers: object) => Object.fromEntries(Object.entries(answers).reverse());
    const record = {
      ...TWO_DIGITS,
      patient: backwards(TWO_DIGITS.patient),
      injury: backwards(TWO_DIGITS.injury),
      digits: TWO_DIGITS.digits.map(backwards),
    } as CaseRecord;
    const asked = findingsQuestionnaire(pathway.module).item!;
    for (const { linkId, item = [] } of findingsResponse(inputFor(record)).item!) {
      const order = asked.find((group) => group.linkId === linkId)!.item!.map((question) => question.linkId);
      const given = item.map((answer) => answer.linkId);
      expect(given.length).toBeGreaterThan(2);
      expect(given).toEqual(order.filter((question) => given.includes(question)));
    }
  });
  it("each link id of the Questionnaire stands once (R4 que-2)", () => {
    const all = findingsQuestionnaire(pathway.module).item!.flatMap(({ linkId, item = [] }) => [
      linkId,
      ...item.map((question) => question.linkId),
    ]);
    expect(all.length).toBeGreaterThan(40);
    expect(all).toEqual([...new Set(all)]);
  });
  it("'cannot tell' is one of the options of its question (R4 Questionnaire.item.answerOption)", () => {
    const record: CaseRecord = { ...MALLET, digits: [{ ...MALLET.digits[0], sensation: "cannot-tell" }] };
    const response = findingsResponse(inputFor(record));
    const answer = response.item!.at(-1)!.item!.find((item) => item.linkId === "sensation")!.answer![0]!;
    const question = findingsQuestionnaire(pathway.module)
      .item!.at(-1)!
      .item!.find((q) => q.linkId === "sensation")!;
    expect(question.answerOption!.map((option) => option.valueCoding)).toContainEqual(answer.valueCoding);
    const back = findingsBack(response, [pathway.module], "Europe/Berlin");
    expect(back?.digits[0]).toMatchObject({ sensation: "cannot-tell" });
  });
  it("'cannot tell' as it was stored before, a choice whose value is absent, is still read", () => {
    const response = findingsResponse(inputFor(MALLET));
    const url = "http://hl7.org/fhir/StructureDefinition/data-absent-reason";
    response.item!.at(-1)!.item!.find((item) => item.linkId === "sensation")!.answer = [
      { valueCoding: { extension: [{ url, valueCode: "asked-unknown" }] } },
    ];
    const back = findingsBack(response, [pathway.module], "Europe/Berlin");
    expect(back?.digits[0]).toMatchObject({ sensation: "cannot-tell" });
    expect(back?.notUnderstood).toEqual([]);
  });
  it("the day of an operation is stored as a date and comes back with the others", () => {
    const bundle = bundleOf(draftPlan(inputFor({ ...MALLET, operatedOn: "2026-11-25" })), "sign", CONTEXT);
    const response = one<QuestionnaireResponse>(bundle, "QuestionnaireResponse");
    const injury = response.item!.find((i) => i.linkId === "injury")!;
    expect(injury.item).toContainEqual({
      linkId: "operatedOn",
      text: "Day of the operation",
      answer: [{ valueDate: "2026-11-25" }],
    });
    const back = findingsBack(response, [pathway.module], "Europe/Berlin");
    expect(back).toMatchObject({ injuredAt: MALLET.injuredAt, operatedOn: "2026-11-25", notUnderstood: [] });
  });
  it("of two fingers each line says whose it is; of one finger none does", () => {
    const lines = (record: CaseRecord) => item(draftPlan(inputFor(record)), "findings").words;
    const begin = (record: CaseRecord, finger: string) =>
      lines(record).filter((w) => w.startsWith(`${finger}: `)).length;
    TWO_DIGITS.digits.forEach((answers, i) => {
      expect(begin(TWO_DIGITS, ["Right index finger", "Right middle finger"][i]!)).toBe(Object.keys(answers).length);
    });
    expect(lines(MALLET).some((w) => w.includes("finger: "))).toBe(false);
  });
  it("from a colleague's draft say whose it was, and never that it was the reader's own", () => {
    const label = "Draft by Dr Ines Halvorsen, 9 Mar 2026";
    const origins = {
      "patient.diabetes": { kind: "others-draft-confirmed", reference: "QuestionnaireResponse/q1", label },
      "patient.smoker": {
        kind: "others-draft-changed",
        reference: "QuestionnaireResponse/q1",
        label,
        chartSaid: "yes",
      },
    } as const;
    const words = item(draftPlan(inputFor(MALLET, { origins })), "findings").words.join("\n");
    expect(words).toContain("(from the draft by Dr Ines Halvorsen, 9 Mar 2026)");
    expect(words).toContain("(changed by the clinician; the draft by Dr Ines Halvorsen, 9 Mar 2026 says otherwise)");
    expect(words).not.toContain("your");
  });
  it("SAF-14 says of each answer whether the clinician gave it or confirmed it from the chart", () => {
    const origins = {
      "digit.0.side": { kind: "chart-confirmed", reference: "Condition/c1" },
      "patient.smoker": { kind: "chart-changed", chartSaid: "yes" },
      "patient.diabetes": { kind: "draft-confirmed", reference: "QuestionnaireResponse/q1" },
    } as const;
    const words = item(draftPlan(inputFor(MALLET, { origins })), "findings").words;
    expect(words.filter((w) => w.includes("(from the chart, confirmed)")).length).toBe(1);
    expect(words.filter((w) => w.includes("the chart says otherwise")).length).toBe(1);
    expect(words.filter((w) => w.includes("(from your saved draft)")).length).toBe(1);
  });
  it.each([
    ["the one who is signed in", SIGNER.reference, "draft", "Your saved draft"],
    ["a colleague", "Practitioner/other", "others-draft", `Draft by ${SIGNER.display}`],
    ["somebody, and nobody is known to be signed in", undefined, "others-draft", `Draft by ${SIGNER.display}`],
  ] as const)("of a draft written by %s are proposed under the right name", (_, user, written, label) => {
    const bundle = bundleOf(draftPlan(inputFor(MALLET)), "draft", CONTEXT);
    const response = one<QuestionnaireResponse>(bundle, "QuestionnaireResponse");
    const { proposals } = chartFrom(
      { earlier: { state: "found", resources: [{ ...response, id: "q1" }], more: false } },
      { patientId: "p1", today: "2026-12-10", user },
    );
    expect(proposals.length).toBeGreaterThan(0);
    for (const p of proposals) expect([p.written, p.from.label, p.from.date]).toEqual([written, label, AT]);
  });
  it("an answer that this version does not know is named and not used", () => {
    const response = structuredClone(
      one<QuestionnaireResponse>(bundleOf(draftPlan(inputFor(MALLET)), "sign", CONTEXT), "QuestionnaireResponse"),
    );
    const digit = response.item!.find((i) => i.linkId === "injured-digit")!;
    digit.item!.find((i) => i.linkId === "side")!.answer![0]!.valueCoding!.code = "side.middle";
    const chart = chartFrom(
      { earlier: { state: "found", resources: [{ ...response, id: "q1" }], more: false } },
      { patientId: "p1", today: "2026-12-10" },
    );
    expect(chart.earlierPlans[0]?.findings?.notUnderstood).toEqual(["side"]);
    expect(chart.earlierPlans[0]?.findings?.digits[0]).not.toHaveProperty("side");
  });
  it("a whole stored plan is found again with its items, versions and standing", () => {
    const bundle = bundleOf(draftPlan(inputFor(MALLET)), "sign", CONTEXT);
    const stored = (bundle.entry ?? []).flatMap((e, i) =>
      ["CarePlan", "ServiceRequest", "Appointment", "QuestionnaireResponse"].includes(e.resource!.resourceType)
        ? [{ ...e.resource, id: `r${i}`, meta: { ...e.resource!.meta, versionId: "1" } }]
        : [],
    );
    const [plan, ...others] = chartFrom(
      { earlier: { state: "found", resources: stored, more: false } },
      { patientId: "p1", today: "2026-12-10" },
    ).earlierPlans;
    expect(others).toEqual([]);
    expect(plan).toMatchObject({
      planId: PLAN_ID,
      signed: true,
      status: "active",
      title: "Finger tip injury plan: left ring finger",
    });
    expect(plan?.items.length).toBe(stored.length);
    expect(plan?.items.find((i) => i.key === "plan")).toMatchObject({
      type: "CarePlan",
      version: "1",
      status: "active",
    });
  });
});

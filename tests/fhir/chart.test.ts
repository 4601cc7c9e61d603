import { describe, expect, it } from "vitest";
import { readCharts } from "../../launch/ehr/seed.ts";
import { type Chart, type ChartContext, chartFrom, joinResults, type PartResult } from "../../src/fhir/chart.ts";
import type { ChartPartName } from "../../src/fhir/searches.ts";
import { MODULES } from "../../src/pathway/index.ts";

const CONTEXT: ChartContext = {
  patientId: "p1",
  today: "2026-11-25",
  zone: "Europe/Berlin",
  base: "https://ehr.test/fhir",
  encounterId: "e1",
};
const found = (...resources: unknown[]): PartResult => ({ state: "found", resources, more: false });
const chart = (parts: { [part in ChartPartName]?: PartResult }): Chart => chartFrom(parts, CONTEXT);
const PATIENT = {
  resourceType: "Patient",
  id: "p1",
  meta: { versionId: "3" },
  name: [{ use: "official", family: "Halloway", given: ["Mira", "June"] }],
  gender: "female",
  birthDate: "1988-03-14",
  identifier: [{ type: { text: "MRN" }, value: "PR-4471" }],
};
const subject = { reference: "Patient/p1" };
const code = (system: string, value: string, display?: string) => ({
  coding: [{ system, code: value, ...(display ? { display } : {}) }],
});
const ICD = "http://hl7.org/fhir/sid/icd-10-cm";
const SCT = "http://snomed.info/sct";
const status = (system: string, value: string) => ({
  coding: [{ system: `http://terminology.hl7.org/CodeSystem/${system}`, code: value }],
});
const condition = (id: string, concept: unknown, more: object = {}) => ({
  resourceType: "Condition",
  id,
  subject,
  clinicalStatus: status("condition-clinical", "active"),
  verificationStatus: status("condition-ver-status", "confirmed"),
  code: concept,
  ...more,
});
const values = (c: Chart, finding: string) => c.proposals.filter((p) => p.finding === finding).map((p) => p.value);

describe("who the patient is", () => {
  it("L8 SAF-03 name, age, sex and identifier are in words for the banner", () => {
    expect(chart({ patient: found(PATIENT) }).patient).toMatchObject({
      name: "Mira June Halloway",
      age: "38 years",
      sex: "female",
      identifiers: [{ label: "MRN", value: "PR-4471" }],
      deceased: false,
      active: true,
      version: "3",
    });
  });
  it.each([
    ["only the year is known: both ages are given, none is chosen", { birthDate: "1988" }, "37 or 38 years"],
    ["year and month: the day still decides in the birth month", { birthDate: "1988-11" }, "37 or 38 years"],
    ["year and month, month over: one age", { birthDate: "1988-03" }, "38 years"],
    ["an infant in months", { birthDate: "2026-04-20" }, "7 months"],
    ["a newborn in days", { birthDate: "2026-11-22" }, "3 days"],
    ["a birth date in the future is not believed", { birthDate: "2027-01-01" }, "not known"],
    ["126 years old is not believed", { birthDate: "1900-01-01" }, "not known"],
    ["30 February is not believed", { birthDate: "1988-02-30" }, "not known"],
    ["no birth date", { birthDate: undefined }, "not known"],
  ])("%s", (_, more, age) => {
    expect(chart({ patient: found({ ...PATIENT, ...more }) }).patient?.age).toBe(age);
  });
  it("R8 REL-20 a birth date that the chart marks as unknown is asked for, with its reason", () => {
    const absent = { url: "http://hl7.org/fhir/StructureDefinition/data-absent-reason", valueCode: "asked-unknown" };
    const { patient, dates } = chart({
      patient: found({ ...PATIENT, birthDate: undefined, _birthDate: { extension: [absent] } }),
    });
    expect(patient?.birthDateNote).toBe("no birth date in the chart (asked-unknown)");
    expect(dates).toEqual([]);
  });
  it("R9 a partial birth date stays partial", () => {
    expect(chart({ patient: found({ ...PATIENT, birthDate: "1988-03" }) }).dates).toMatchObject([
      { field: "birthDate", value: "1988-03", conflict: false },
    ]);
  });
  it.each([
    ["deceased", { deceasedBoolean: true }, /deceased/],
    ["deceased on a day", { deceasedDateTime: "2026-01-02" }, /deceased/],
    ["merged into another record", { link: [{ type: "replaced-by", other: { reference: "Patient/p9" } }] }, /merged/],
    ["not in use", { active: false }, /not in use/],
  ])("REL-21 REL-22 a record that is %s stops all writing", (_, more, words) => {
    expect(chart({ patient: found({ ...PATIENT, ...more }) }).patient?.stop).toMatch(words);
  });
  it("REL-18 INV-3 another patient in the answer is never shown, and blocks signing", () => {
    const { patient, problems } = chart({ patient: found({ ...PATIENT, id: "p2" }) });
    expect(patient).toBeUndefined();
    expect(problems).toMatchObject([{ kind: "other-patient", blocksSigning: true }]);
  });
  it.each([
    ["a name in one piece", [{ text: "Ahmad bin Yusof" }], "Ahmad bin Yusof"],
    [
      "the usual name before the former one",
      [
        { use: "old", family: "Before" },
        { use: "usual", given: ["Ana"] },
      ],
      "Ana",
    ],
    ["no name", [], "Name not recorded"],
    ["an empty name", [{ given: [null], family: "" }], "Name not recorded"],
  ])("%s", (_, name, words) => {
    expect(chart({ patient: found({ ...PATIENT, name }) }).patient?.name).toBe(words);
  });
});

describe("the parts of the chart that did not come", () => {
  const STATES = ["empty", "refused", "unsupported", "failed", "not-allowed", "reading"] as const;
  it.each(STATES)("%s stays that state, and proposes nothing", (state) => {
    const c = chart({ patient: found(PATIENT), allergies: { state, resources: [], more: false } });
    expect(c.parts.allergies.state).toBe(state);
    expect(c.allergies).toEqual([]);
    expect(values(c, "penicillinAllergy")).toEqual([]);
  });
  it("a part not yet there counts as being read", () => {
    expect(chart({}).parts.conditions.state).toBe("reading");
  });
  it("two searches of one part: what was found is kept, and what was refused is said", () => {
    const joined = joinResults([
      found({ resourceType: "MedicationRequest" }),
      { state: "refused", resources: [], more: false, note: "MedicationStatement: no permission" },
    ]);
    expect(joined).toMatchObject({
      state: "found",
      note: "MedicationStatement: no permission; part of this could not be read",
    });
    expect(joined.resources.length).toBe(1);
  });
  it("an empty answer beside a failed one is not an empty chart", () => {
    expect(
      joinResults([
        { state: "empty", resources: [], more: false },
        { state: "failed", resources: [], more: false },
      ]).state,
    ).toBe("failed");
  });
  it("a cut answer says that there is more", () => {
    expect(chart({ conditions: { ...found(), more: true } }).parts.conditions.more).toBe(true);
  });
});

describe("today's injury", () => {
  const fracture = condition(
    "c1",
    code(ICD, "S62.665A", "Nondisplaced fracture of distal phalanx of left ring finger"),
    { encounter: { reference: "Encounter/e1" }, onsetDateTime: "2026-11-25T10:30:00Z" },
  );
  it("a coded fracture proposes digit, side and time of injury in the clinic's own time", () => {
    const c = chart({ conditions: found(fracture) });
    expect(c.proposals.map((p) => [p.finding, p.value, p.from.reference])).toEqual([
      ["digit", "ring", "Condition/c1"],
      ["side", "left", "Condition/c1"],
    ]);
    expect(c.dates).toMatchObject([{ field: "injuredAt", value: "2026-11-25T11:30" }]);
  });
  it("REL-23 chart and film that disagree on the side are both shown, and neither is suggested", () => {
    const study = {
      resourceType: "ImagingStudy",
      id: "i1",
      status: "available",
      subject,
      started: "2026-11-25T11:00:00+01:00",
      series: [{ bodySite: { system: SCT, code: "7569003" }, laterality: { system: SCT, code: "24028007" } }],
    };
    const c = chart({ conditions: found(fracture), imaging: found(study) });
    expect(c.proposals.filter((p) => p.finding === "side").map((p) => [p.value, p.conflict])).toEqual([
      ["left", true],
      ["right", true],
    ]);
    expect(c.proposals.find((p) => p.finding === "digit")?.conflict).toBe(false);
    expect(c.problems).toMatchObject([{ kind: "conflict", blocksSigning: false }]);
  });
  it("Rowan Castellane: the injury coded by its side only is left, the film is right; both are shown and neither suggested", () => {
    const now = new Date(2026, 10, 25, 14, 0);
    const { resources } = readCharts(now).find((c) => c.name === "side-conflict")!;
    const of = (...types: string[]) => found(...resources.filter((r) => types.includes(r.resourceType)));
    const c = chartFrom(
      { conditions: of("Condition"), imaging: of("ImagingStudy"), encounter: of("Encounter") },
      { patientId: "rowan-castellane", today: "2026-11-25", zone: "Europe/Berlin" },
    );
    const said = (finding: string) =>
      c.proposals.filter((p) => p.finding === finding).map((p) => [p.value, p.conflict, p.from.reference]);
    expect(said("side")).toEqual([
      ["left", true, "Condition/rowan-castellane-injury"],
      ["right", true, "ImagingStudy/rowan-castellane-film"],
    ]);
    expect(said("digit")).toEqual([["ring", false, "Condition/rowan-castellane-injury"]]);
    expect(c.problems.map((p) => p.say).join()).toMatch(/left \(.*\) and right \(.*\)\. None is suggested/);
  });
  it("a code and a body site of one entry that disagree are both proposed", () => {
    const c = chart({
      conditions: found(
        condition("c1", code(ICD, "S62.665A"), { recordedDate: "2026-11-25", bodySite: [code(SCT, "24028007")] }),
      ),
    });
    expect(c.proposals.filter((p) => p.finding === "side").map((p) => [p.value, p.conflict])).toEqual([
      ["left", true],
      ["right", true],
    ]);
  });
  it("an uncoded diagnosis of this visit tells its finger by its coded site; one of another visit does not", () => {
    const sited = (id: string, visit: string) =>
      condition(
        id,
        { text: "Crushed finger" },
        {
          encounter: { reference: `Encounter/${visit}` },
          recordedDate: "2026-11-25",
          bodySite: [code(SCT, "770817006"), code(SCT, "7771000")],
        },
      );
    const c = chart({ conditions: found(sited("c1", "e1")) });
    expect([values(c, "digit"), values(c, "side")]).toEqual([["ring"], ["left"]]);
    expect(chart({ conditions: found(sited("c1", "e9")) }).proposals).toEqual([]);
  });
  describe("separate entries that name different fingers", () => {
    const ofFinger = (id: string, icd: string) =>
      condition(id, code(ICD, icd), {
        encounter: { reference: "Encounter/e1" },
        onsetDateTime: "2026-11-25T10:30:00Z",
      });
    const filmOf = (id: string, site: string, side: string) => ({
      resourceType: "ImagingStudy",
      id,
      status: "available",
      subject,
      started: "2026-11-25",
      series: [{ bodySite: { system: SCT, code: site }, laterality: { system: SCT, code: side } }],
    });
    const [RIGHT_SIDE, LEFT_SIDE, RING_SITE, HAND_FILM] = ["24028007", "7771000", "770817006", "7569003"];
    const [RIGHT_RING, RIGHT_LITTLE] = [ofFinger("c1", "S62.664A"), ofFinger("c2", "S62.666A")];
    const said = (c: Chart, finding: string) =>
      c.proposals.filter((p) => p.finding === finding).map((p) => [p.value, p.ofDigit, p.from.reference, p.conflict]);

    it("may be two injuries: each finger keeps its side and its entry, and nothing counts as a contradiction", () => {
      const c = chart({ conditions: found(RIGHT_RING, RIGHT_LITTLE) });
      expect(said(c, "digit")).toEqual([
        ["ring", "ring", "Condition/c1", false],
        ["little", "little", "Condition/c2", false],
      ]);
      expect(said(c, "side")).toEqual([
        ["right", "ring", "Condition/c1", false],
        ["right", "little", "Condition/c2", false],
      ]);
      expect(c.problems).toEqual([]);
    });
    it("a film of one of them is proposed for that one, a film of no named finger for none by name", () => {
      const c = chart({
        conditions: found(RIGHT_RING, RIGHT_LITTLE),
        imaging: found(filmOf("i1", RING_SITE!, RIGHT_SIDE!), filmOf("i2", HAND_FILM!, RIGHT_SIDE!)),
      });
      expect(said(c, "filmTaken")).toEqual([
        ["yes", "ring", "ImagingStudy/i1", false],
        ["yes", undefined, "ImagingStudy/i2", false],
      ]);
    });
    it("a film that shows the other hand still contradicts the side of its own finger, and only of that one", () => {
      const c = chart({
        conditions: found(RIGHT_RING, RIGHT_LITTLE),
        imaging: found(filmOf("i1", RING_SITE!, LEFT_SIDE!)),
      });
      expect(said(c, "side")).toEqual([
        ["right", "ring", "Condition/c1", true],
        ["right", "little", "Condition/c2", false],
        ["left", "ring", "ImagingStudy/i1", true],
      ]);
      expect(c.problems).toMatchObject([{ kind: "conflict", say: expect.stringContaining("None is suggested") }]);
    });
    it("one entry whose code and body site name two fingers contradicts itself: no injury is told from another", () => {
      const torn = condition("c1", code(ICD, "S62.664A"), {
        encounter: { reference: "Encounter/e1" },
        bodySite: [code(SCT, "770818001")],
      });
      const c = chart({ conditions: found(torn) });
      expect(said(c, "digit")).toEqual([
        ["ring", undefined, "Condition/c1", true],
        ["little", undefined, "Condition/c1", true],
      ]);
    });
  });
  it("films of both hands in one study are two answers, not one and not none", () => {
    const study = {
      resourceType: "ImagingStudy",
      id: "i1",
      status: "available",
      subject,
      started: "2026-11-25",
      series: ["24028007", "7771000"].map((side) => ({
        bodySite: { system: SCT, code: "770817006" },
        laterality: { system: SCT, code: side },
      })),
    };
    const c = chart({ imaging: found(study) });
    expect(c.proposals.filter((p) => p.finding === "side").map((p) => [p.value, p.conflict])).toEqual([
      ["right", true],
      ["left", true],
    ]);
  });
  it("our own unsigned draft of a diagnosis is no evidence; once signed it is a diagnosis like any other", () => {
    const written = (act: string) => ({
      ...fracture,
      identifier: [{ system: "https://fingerpost.example/plan-item", value: "p:condition-left-ring" }],
      meta: { tag: [{ system: "https://fingerpost.example/fhir/CodeSystem/act", code: act }] },
    });
    const draft = chart({ conditions: found(written("draft")) });
    expect([draft.proposals, draft.dates, draft.conditions, draft.used]).toEqual([[], [], [], []]);
    expect(values(chart({ conditions: found(written("signed")) }), "side")).toEqual(["left"]);
  });
  it("the same side from two sources is one proposal", () => {
    const study = {
      resourceType: "ImagingStudy",
      id: "i1",
      status: "available",
      subject,
      started: "2026-11-25",
      procedureCode: [code("http://loinc.org", "26125-5")],
    };
    const c = chart({ conditions: found(fracture), imaging: found(study) });
    expect(values(c, "side")).toEqual(["left"]);
    expect(values(c, "filmTaken")).toEqual(["yes"]);
  });
  it.each([
    ["an old injury with the sequela letter", condition("c1", code(ICD, "S62.665S"), { recordedDate: "2026-11-25" })],
    [
      "a fracture of two years ago that nobody closed",
      condition("c1", code(ICD, "S62.665A"), { onsetDateTime: "2024-05-01" }),
    ],
    [
      "a resolved fracture",
      condition("c1", code(ICD, "S62.665A"), {
        recordedDate: "2026-11-25",
        clinicalStatus: status("condition-clinical", "resolved"),
      }),
    ],
    [
      "a display that names a finger without a code",
      condition("c1", { text: "Fracture of left ring finger" }, { recordedDate: "2026-11-25" }),
    ],
    [
      "a code of another system with the same letters",
      condition("c1", code("http://hl7.org/fhir/sid/icd-10", "S62.665A"), { recordedDate: "2026-11-25" }),
    ],
    [
      "a nail disease of the thumb",
      condition("c1", code(ICD, "B35.1"), { recordedDate: "2026-11-25", bodySite: [code(SCT, "76505004")] }),
    ],
  ])("%s proposes no digit", (_, resource) => {
    expect(values(chart({ conditions: found(resource) }), "digit")).toEqual([]);
  });
  it("a SNOMED fracture with digit and side as body sites", () => {
    const c = chart({
      conditions: found(
        condition("c1", code(SCT, "24424003"), {
          recordedDate: "2026-11-25",
          bodySite: [code(SCT, "770816002"), code(SCT, "24028007")],
        }),
      ),
    });
    expect([values(c, "digit"), values(c, "side")]).toEqual([["middle"], ["right"]]);
  });
  it("the day of arrival stands in for the day of injury only when no condition tells it, and says so", () => {
    const encounter = {
      resourceType: "Encounter",
      id: "e1",
      status: "in-progress",
      subject,
      period: { start: "2026-11-25T12:00:00+01:00" },
    };
    expect(chart({ encounter: found(encounter) }).dates).toMatchObject([
      { field: "injuredAt", value: "2026-11-25", note: "day of arrival; the injury may be earlier" },
    ]);
    expect(
      chart({ encounter: found(encounter), conditions: found(fracture) }).dates.map((d) => d.from.reference),
    ).toEqual(["Condition/c1"]);
  });
});

describe("what is never taken from a chart", () => {
  it("SAF-02 skin, circulation, tendons, feeling and tissue loss are not proposed, whatever an earlier record says", () => {
    const examined = [
      "tipColour",
      "capillaryRefill",
      "sensation",
      "tissueLoss",
      "openness",
      "activeExtension",
      "activeFlexion",
      "nailPlate",
      "bloodAtNailFold",
    ];
    const answers = examined.map((f) => ({
      linkId: f,
      answer: [{ valueCoding: { system: "https://fingerpost.example/fhir/CodeSystem/finding", code: `${f}.normal` } }],
    }));
    const earlier = {
      resourceType: "QuestionnaireResponse",
      id: "q1",
      status: "completed",
      subject,
      identifier: { system: "https://fingerpost.example/plan-item", value: "x:findings" },
      questionnaire: "https://fingerpost.example/fhir/Questionnaire/distal-phalanx-findings|0.1.0",
      item: [{ linkId: "digit", item: answers }],
    };
    const c = chart({
      earlier: found(earlier),
      conditions: found(condition("c1", code(ICD, "S61.317A"), { recordedDate: "2026-11-25" })),
    });
    expect(c.proposals.map((p) => p.finding)).toEqual(["digit", "side"]);
  });
  it.each([
    [
      "entered in error",
      { verificationStatus: status("condition-ver-status", "entered-in-error"), clinicalStatus: undefined },
      "entered-in-error",
    ],
    ["refuted", { verificationStatus: status("condition-ver-status", "refuted") }, "refuted"],
    [
      "carrying an unknown modifier",
      { modifierExtension: [{ url: "http://example.org/not", valueBoolean: true }] },
      "modifier",
    ],
    ["under rules we do not know", { implicitRules: "http://example.org/rules" }, "modifier"],
    ["of another patient", { subject: { reference: "Patient/p2" } }, "other-patient"],
    [
      "of the same id on another server",
      { subject: { reference: "https://other.test/fhir/Patient/p1" } },
      "other-patient",
    ],
    ["of nobody in particular", { subject: { display: "Mira Halloway" } }, "other-patient"],
  ])("R5 R6 R7 REL-17 diabetes %s is left out and counted", (_, more, kind) => {
    const c = chart({ conditions: found(condition("c1", code(ICD, "E11.9"), more)) });
    expect(c.proposals).toEqual([]);
    expect(c.conditions).toEqual([]);
    expect(c.problems).toMatchObject([{ kind, blocksSigning: kind === "other-patient" }]);
    expect(c.used).toEqual([]);
  });
  it("R11 an absolute reference on our own server is ours", () => {
    expect(
      values(
        chart({
          conditions: found(
            condition("c1", code(ICD, "E11.9"), { subject: { reference: "https://ehr.test/fhir/Patient/p1" } }),
          ),
        }),
        "diabetes",
      ),
    ).toEqual(["yes"]);
  });
  it("REL-16 one broken entry is named and the rest is used", () => {
    const c = chart({
      conditions: found(
        condition("c1", code(ICD, "E11.9")),
        { resourceType: "Condition", id: "c2", subject, code: "diabetes" },
        null,
        7,
      ),
    });
    expect(values(c, "diabetes")).toEqual(["yes"]);
    expect(c.problems.map((p) => p.kind).sort()).toEqual(["unreadable", "wrong-type"]);
    expect(c.problems.find((p) => p.kind === "unreadable")?.say).toContain("Condition/c2");
  });
  it("the same condition from two searches counts once", () => {
    expect(
      chart({ conditions: found(condition("c1", code(ICD, "E11.9")), condition("c1", code(ICD, "E11.9"))) }).conditions
        .length,
    ).toBe(1);
  });
});

describe("history that changes the treatment", () => {
  it("is proposed only where the injury's own question lets a chart answer", () => {
    const [injury] = MODULES;
    const strict = {
      ...injury!,
      questions: injury!.questions.map((q) => (q.finding === "diabetes" ? { ...q, chartMayPropose: false } : q)),
    };
    const parts = { conditions: found(condition("c1", code(ICD, "E11.9")), condition("c2", code(ICD, "I73.00"))) };
    expect(chartFrom(parts, CONTEXT).proposals.map((p) => p.finding)).toEqual(["diabetes", "vasospasm"]);
    expect(chartFrom(parts, { ...CONTEXT, modules: [strict] }).proposals.map((p) => p.finding)).toEqual(["vasospasm"]);
  });
  it.each([
    ["type 2 diabetes in ICD-10-CM", code(ICD, "E11.65"), "diabetes"],
    ["diabetes in SNOMED CT", code(SCT, "73211009"), "diabetes"],
    ["long-term anticoagulant", code(ICD, "Z79.01"), "bleedingTendency"],
    ["Raynaud", code(ICD, "I73.00"), "vasospasm"],
    ["pregnancy", code(SCT, "77386006"), "pregnant"],
    ["smoking", code(ICD, "F17.210"), "smoker"],
  ])("%s is proposed with its source", (_, concept, finding) => {
    const c = chart({ conditions: found(condition("c1", concept, { recordedDate: "2019-02-01" })) });
    expect(c.proposals).toMatchObject([
      {
        finding,
        value: "yes",
        scope: "patient",
        conflict: false,
        from: { reference: "Condition/c1", date: "2019-02-01" },
      },
    ]);
    expect(c.used).toEqual([{ reference: "Condition/c1" }]);
  });
  it("R15 a family history or a past statement with other codes is not a diagnosis", () => {
    const c = chart({
      conditions: found(
        condition("c1", code(SCT, "160303001", "FH: Diabetes mellitus")),
        condition("c2", code(ICD, "Z83.3")),
      ),
    });
    expect(c.proposals).toEqual([]);
    expect(c.conditions.length).toBe(2);
  });
  it("R6 an unconfirmed diagnosis is proposed as unconfirmed", () => {
    const c = chart({
      conditions: found(
        condition("c1", code(ICD, "E10.9"), { verificationStatus: status("condition-ver-status", "provisional") }),
      ),
    });
    expect(c.proposals[0]?.note).toBe("not confirmed in the chart");
    expect(c.conditions[0]?.unconfirmed).toBe(true);
  });
  it("warfarin taken now proposes bleeding; stopped or advised against does not", () => {
    const warfarin = (id: string, more: object) => ({
      resourceType: "MedicationRequest",
      id,
      status: "active",
      intent: "order",
      subject,
      medicationCodeableConcept: code(SCT, "48603004", "Warfarin"),
      ...more,
    });
    expect(values(chart({ medications: found(warfarin("m1", {})) }), "bleedingTendency")).toEqual(["yes"]);
    expect(
      values(
        chart({ medications: found(warfarin("m1", { status: "stopped" }), warfarin("m2", { doNotPerform: true })) }),
        "bleedingTendency",
      ),
    ).toEqual([]);
  });
});

describe("what is known only in words", () => {
  const medicine = (concept: unknown, more: object = {}) => ({
    resourceType: "MedicationRequest",
    id: "m1",
    status: "active",
    intent: "order",
    subject,
    medicationCodeableConcept: concept,
    ...more,
  });
  // Substance names: from memory.
  it.each([
    ["Apixaban 5 mg twice daily", ["bleedingTendency"]],
    ["Clopidogrel 75 mg", ["bleedingTendency"]],
    ["ASPIRIN 100 MG TABLET", ["bleedingTendency"]],
    ["Prednisolone 20 mg", ["immuneCompromise"]],
    ["Methotrexate weekly", ["immuneCompromise"]],
    ["Metformin 1 g", []],
  ])("%s taken now bears on %j and proposes nothing", (text, bearsOn) => {
    const c = chart({ medications: found(medicine({ text })) });
    expect(c.medications.map((m) => m.bearsOn)).toEqual([bearsOn]);
    expect(c.proposals).toEqual([]);
  });
  it("a coded brand name bears by its display, whatever the code system", () => {
    const c = chart({
      medications: found(
        medicine({ text: "Tablet", coding: [{ system: "urn:x", code: "1", display: "rivaroxaban" }] }),
      ),
    });
    expect(c.medications[0]?.bearsOn).toEqual(["bleedingTendency"]);
  });
  it("a stopped anticoagulant bears on nothing", () => {
    expect(chart({ medications: found(medicine({ text: "Apixaban" }, { status: "stopped" })) }).medications).toEqual(
      [],
    );
  });
  it.each([
    // ATC and RxNorm codes: from memory.
    ["apixaban by ATC", code("http://www.whocc.no/atc", "B01AF02"), ["yes"]],
    ["apixaban by RxNorm", code("http://www.nlm.nih.gov/research/umls/rxnorm", "1364430"), ["yes"]],
    ["a platelet inhibitor by ATC", code("http://www.whocc.no/atc", "B01AC04"), []],
  ])("%s", (_, concept, proposed) => {
    expect(values(chart({ medications: found(medicine(concept)) }), "bleedingTendency")).toEqual(proposed);
  });
  it("R15 a disease without a code keeps its question open and answers nothing", () => {
    const c = chart({
      conditions: found(
        condition("c1", { text: "Type 2 diabetes" }),
        condition("c2", code("http://hl7.org/fhir/sid/icd-10", "I73.0", "Raynaud's syndrome")),
        condition("c3", { text: "Hay fever" }),
      ),
    });
    expect(c.conditions.map((l) => l.bearsOn)).toEqual([["diabetes"], ["vasospasm"], []]);
    expect(c.proposals).toEqual([]);
  });
});

describe("allergies", () => {
  const allergy = (id: string, concept: unknown, more: object = {}) => ({
    resourceType: "AllergyIntolerance",
    id,
    patient: subject,
    clinicalStatus: status("allergyintolerance-clinical", "active"),
    verificationStatus: status("allergyintolerance-verification", "confirmed"),
    code: concept,
    ...more,
  });
  const penicillin = code(SCT, "91936005", "Penicillin allergy");
  it("penicillin with high criticality is proposed as severe", () => {
    expect(
      values(chart({ allergies: found(allergy("a1", penicillin, { criticality: "high" })) }), "penicillinAllergy"),
    ).toEqual(["severe"]);
  });
  it("a severe reaction to penicillin is enough", () => {
    const c = chart({
      allergies: found(
        allergy("a1", code("http://www.nlm.nih.gov/research/umls/rxnorm", "7980"), {
          reaction: [{ severity: "severe", manifestation: [{ text: "Anaphylaxis" }] }],
        }),
      ),
    });
    expect(values(c, "penicillinAllergy")).toEqual(["severe"]);
    expect(c.allergies[0]?.reactions).toEqual(["Anaphylaxis, severe"]);
  });
  it("low criticality is not a low-risk history: it is listed, and nothing is proposed", () => {
    const c = chart({ allergies: found(allergy("a1", penicillin, { criticality: "low" })) });
    expect(c.allergies.map((a) => a.substance)).toEqual(["Penicillin allergy"]);
    expect(values(c, "penicillinAllergy")).toEqual([]);
  });
  it("a stated 'no known allergy' is shown as the chart's own statement, and proposes no 'none'", () => {
    const c = chart({ allergies: found(allergy("a1", code(SCT, "716186003", "No Known Allergy (situation)"))) });
    expect(c.allergies[0]?.noKnown).toBe(true);
    expect(c.proposals).toEqual([]);
  });
  it("lidocaine, adhesive and cephalosporin answer the questions they belong to", () => {
    const c = chart({
      allergies: found(
        allergy("a1", code(SCT, "293722000")),
        allergy("a2", code(SCT, "294189007")),
        allergy("a3", code(SCT, "294532003")),
      ),
    });
    expect(c.proposals.map((p) => [p.finding, p.value])).toEqual([
      ["localAnaestheticAllergy", "yes"],
      ["latexOrAdhesiveAllergy", "yes"],
      ["otherAntibioticAllergy", "yes"],
    ]);
  });
  it("a refuted and a resolved allergy are not listed; a free-text one is", () => {
    const c = chart({
      allergies: found(
        allergy("a1", penicillin, { verificationStatus: status("allergyintolerance-verification", "refuted") }),
        allergy("a2", penicillin, { clinicalStatus: status("allergyintolerance-clinical", "resolved") }),
        allergy("a3", { text: "plasters" }),
      ),
    });
    expect(c.allergies.map((a) => a.substance)).toEqual(["plasters"]);
    expect(c.problems.map((p) => p.kind).sort()).toEqual(["over", "refuted"]);
  });
});

describe("tetanus", () => {
  const dose = (id: string, cvx: string, occurrenceDateTime?: string, more: object = {}) => ({
    resourceType: "Immunization",
    id,
    status: "completed",
    patient: subject,
    vaccineCode: code("http://hl7.org/fhir/sid/cvx", cvx),
    ...(occurrenceDateTime ? { occurrenceDateTime } : { occurrenceString: "in childhood" }),
    ...more,
  });
  it("three doses and the day of the last", () => {
    const c = chart({
      immunizations: found(
        dose("v1", "115", "2019-04-02"),
        dose("v2", "20", "1990-01-01"),
        dose("v3", "20", "1990-03-01"),
      ),
    });
    expect(c.proposals).toMatchObject([{ finding: "tetanusDoses", value: "three-or-more" }]);
    expect(c.dates).toMatchObject([
      { field: "lastTetanusDoseOn", value: "2019-04-02", from: { reference: "Immunization/v1" } },
    ]);
  });
  it("one dose in the chart is proposed as what is documented, and warns that the chart may be incomplete", () => {
    expect(chart({ immunizations: found(dose("v1", "113", "2020-01-01")) }).proposals).toMatchObject([
      { value: "one-or-two", note: "1 documented in this chart; it may be incomplete" },
    ]);
  });
  it.each([
    ["immune globulin is no vaccine", dose("v1", "13", "2020-01-01")],
    ["a dose that was not given", dose("v1", "115", "2020-01-01", { status: "not-done" })],
    ["a subpotent dose", dose("v1", "115", "2020-01-01", { isSubpotent: true })],
    ["influenza", dose("v1", "140", "2020-01-01")],
    ["no vaccine at all", undefined],
  ])("%s proposes nothing, not even 'none'", (_, resource) => {
    const c = chart({ immunizations: resource ? found(resource) : { state: "empty", resources: [], more: false } });
    expect([c.proposals, c.dates]).toEqual([[], []]);
  });
  it("a dose without a date is said and not dated", () => {
    const c = chart({ immunizations: found(dose("v1", "115")) });
    expect(c.dates).toEqual([]);
    expect(c.problems).toMatchObject([{ kind: "date", at: "Immunization/v1" }]);
  });
  it("a partial date stays partial", () => {
    expect(chart({ immunizations: found(dose("v1", "115", "2019")) }).dates).toMatchObject([{ value: "2019" }]);
  });
});

describe("weight", () => {
  const weight = (
    id: string,
    valueQuantity: unknown,
    effectiveDateTime = "2025-11-01T08:00:00Z",
    more: object = {},
  ) => ({
    resourceType: "Observation",
    id,
    status: "final",
    subject,
    code: code("http://loinc.org", "29463-7"),
    effectiveDateTime,
    valueQuantity,
    ...more,
  });
  it("the newest weight, with the day it was measured", () => {
    const c = chart({
      weight: found(weight("w1", { value: 70, code: "kg" }, "2020-01-01"), weight("w2", { value: 71.5, code: "kg" })),
    });
    expect(c.proposals).toMatchObject([{ finding: "weightKg", value: 71.5, note: "measured Sat 1 November 2025" }]);
  });
  it("pounds are turned into kilograms", () => {
    expect(values(chart({ weight: found(weight("w1", { value: 150, code: "[lb_av]" })) }), "weightKg")).toEqual([
      68.04,
    ]);
  });
  it.each([
    ["a unit nobody knows", { value: 70, unit: "stone" }, {}],
    ["a weight 'above 200'", { value: 200, code: "kg", comparator: ">" }, {}],
    ["no value", undefined, { dataAbsentReason: { text: "not done" } }],
    ["a cancelled measurement", { value: 70, code: "kg" }, { status: "cancelled" }],
  ])("%s is not proposed", (_, quantity, more) => {
    expect(chart({ weight: found(weight("w1", quantity, undefined, more)) }).proposals).toEqual([]);
  });
});

describe("films and reports", () => {
  const study = (id: string, more: object = {}) => ({
    resourceType: "ImagingStudy",
    id,
    status: "available",
    subject,
    started: "2026-11-25T11:00:00+01:00",
    description: "Finger left",
    series: [
      {
        bodySite: { system: SCT, code: "7569003", display: "Finger structure" },
        laterality: { system: SCT, code: "7771000" },
      },
    ],
    numberOfInstances: 2,
    ...more,
  });
  it("a finger film of today is listed and proposes that a film was taken", () => {
    const c = chart({ imaging: found(study("i1")) });
    expect(c.imaging).toMatchObject([
      { kind: "study", title: "Finger left", site: "Finger structure", side: "left", images: 2 },
    ]);
    expect(values(c, "filmTaken")).toEqual(["yes"]);
  });
  it.each([
    ["announced, with no image yet", { status: "registered" }],
    ["of last year", { started: "2025-11-25" }],
    ["of the chest", { series: [{ bodySite: { system: SCT, code: "51185008" } }] }],
    ["without a date", { started: undefined }],
  ])("a film %s is listed but does not propose that a film was taken", (_, more) => {
    const c = chart({ imaging: found(study("i1", more)) });
    expect(c.imaging.length).toBe(1);
    expect(values(c, "filmTaken")).toEqual([]);
  });
  it("R10 a report that is not final is marked, and its words are shown, not used", () => {
    const report = {
      resourceType: "DiagnosticReport",
      id: "r1",
      status: "preliminary",
      subject,
      code: { text: "X-ray finger" },
      effectiveDateTime: "2026-11-25",
      conclusion: "Tuft fracture left ring finger",
    };
    const c = chart({ reports: found(report) });
    expect(c.imaging).toMatchObject([
      { kind: "report", preliminary: true, conclusion: "Tuft fracture left ring finger" },
    ]);
    expect(c.proposals).toEqual([]);
  });
  it("a coded conclusion proposes digit and side", () => {
    const report = {
      resourceType: "DiagnosticReport",
      id: "r1",
      status: "final",
      subject,
      code: { text: "X-ray" },
      effectiveDateTime: "2026-11-25",
      conclusionCode: [code(ICD, "S62.634A")],
    };
    const c = chart({ reports: found(report) });
    expect([values(c, "digit"), values(c, "side")]).toEqual([["ring"], ["right"]]);
  });
});

describe("what a chart marks as missing", () => {
  const ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason";
  const weight = (more: object) => ({
    resourceType: "Observation",
    id: "w1",
    subject,
    status: "final",
    code: code("http://loinc.org", "29463-7"),
    effectiveDateTime: "2026-11-01",
    ...more,
  });
  it.each([
    ["a weight that was not performed", { dataAbsentReason: code(ABSENT, "not-performed") }],
    ["a weight that is a word of every object, not a unit", { valueQuantity: { value: 70, code: "constructor" } }],
    ["a weight without its day", { valueQuantity: { value: 70, code: "kg" }, effectiveDateTime: undefined }],
  ])("R8 %s is told and asked for, never filled in", (_, more) => {
    const c = chart({ weight: found(weight(more)) });
    expect(values(c, "weightKg")).toEqual([]);
    expect(c.problems).toMatchObject([{ kind: "no-value", entries: 1, blocksSigning: false }]);
  });
  it.each([-5, 0, 4000, 1e308])("R8 REL-16 a weight of %d kg cannot be right: it is told, not proposed", (value) => {
    const c = chart({ weight: found(weight({ valueQuantity: { value, code: "kg" } })) });
    expect(values(c, "weightKg")).toEqual([]);
    expect(c.problems).toMatchObject([
      { kind: "no-value", at: "Observation/w1", say: expect.stringContaining("kg cannot be right; ask.") },
    ]);
  });
  it("R8 a diagnosis whose day is marked as unknown proposes no day", () => {
    const onset = {
      extension: [{ url: "http://hl7.org/fhir/StructureDefinition/data-absent-reason", valueCode: "unknown" }],
    };
    const c = chart({
      conditions: found(condition("c1", code(ICD, "S62.634A"), { _onsetDateTime: onset, recordedDate: "2026-11-24" })),
    });
    expect(values(c, "digit")).toEqual(["ring"]);
    expect(c.dates).toEqual([]);
  });
});

describe("references in every form", () => {
  const medicine = (reference: object, more: object = {}) => ({
    resourceType: "MedicationRequest",
    id: "m1",
    subject,
    status: "active",
    medicationReference: reference,
    ...more,
  });
  const inside = { contained: [{ resourceType: "Medication", id: "med", code: code(SCT, "48603004", "Warfarin") }] };
  it.each([
    ["relative", { reference: "Medication/7" }, {}, "Medication/7"],
    ["absolute", { reference: "https://ehr.test/fhir/Medication/7" }, {}, "https://ehr.test/fhir/Medication/7"],
    ["contained", { reference: "#med" }, inside, "Warfarin"],
    ["by identifier", { identifier: { system: "urn:pzn", value: "PZN 0815" } }, {}, "PZN 0815"],
    ["by its words", { reference: "Medication/7", display: "Warfarin 5 mg" }, {}, "Warfarin 5 mg"],
    ["broken", { reference: "#nowhere" }, inside, "#nowhere"],
    ["empty", {}, {}, "Medicine not named"],
  ])("R11 a medicine that is referred to as %s is listed by what it says of itself", (_, reference, more, text) => {
    expect(chart({ medications: found(medicine(reference, more)) }).medications.map((m) => m.text)).toEqual([text]);
  });
  it("R11 a blood thinner inside its own prescription is proposed like one that stands in it", () => {
    expect(values(chart({ medications: found(medicine({ reference: "#med" }, inside)) }), "bleedingTendency")).toEqual([
      "yes",
    ]);
  });
  it.each([
    ["contained", { reference: "#p" }],
    ["by identifier only", { identifier: { value: "PR-4471" } }],
    ["by a name only", { display: "Mira June Halloway" }],
    ["broken", { reference: "Patient/" }],
  ])(
    "R11 INV-3 an entry that names its patient as %s proves no patient: it is left out, told, and nothing is signed",
    (_, who) => {
      const c = chart({ conditions: found(condition("c1", code(ICD, "E11.9"), { subject: who })) });
      expect(c.conditions).toEqual([]);
      expect(c.problems).toMatchObject([{ kind: "other-patient", blocksSigning: true }]);
    },
  );
  it.each([
    ["relative", { reference: "Encounter/e1" }, 1],
    ["absolute on this server", { reference: "https://ehr.test/fhir/Encounter/e1" }, 1],
    ["of the same id on another server", { reference: "https://other.test/fhir/Encounter/e1" }, 0],
    ["of another visit that ends alike", { reference: "Encounter/some-Encounter/e1" }, 0],
  ])("R11 an old injury counts as one of this visit only where the visit is %s", (_, encounter, digits) => {
    const c = chart({
      conditions: found(condition("c1", code(ICD, "S62.634A"), { encounter, recordedDate: "2020-01-01" })),
    });
    expect(values(c, "digit")).toHaveLength(digits);
  });
  it("R11 REL-22 a merged record says in any form where it went", () => {
    const other = (reference: object) =>
      chart({ patient: found({ ...PATIENT, link: [{ type: "replaced-by", other: reference }] }) }).patient?.replacedBy;
    expect([
      other({ reference: "Patient/p9" }),
      other({ identifier: { value: "PR-1" } }),
      other({ display: "Mira H." }),
      other({}),
    ]).toEqual(["Patient/p9", "PR-1", "Mira H.", "another record"]);
  });
});

describe("words that every object knows", () => {
  it("REL-16 SEC-19 are no finger, side, film, sex or unit", () => {
    for (const word of ["constructor", "__proto__", "toString", "valueOf"]) {
      const c = chart({
        patient: found({ ...PATIENT, gender: word }),
        conditions: found(
          condition(
            "c1",
            { text: "x", coding: [{ system: SCT, code: "18171007" }] },
            { bodySite: [code(SCT, word)], recordedDate: "2026-11-24" },
          ),
        ),
        imaging: found({
          resourceType: "ImagingStudy",
          id: "i1",
          subject,
          status: "available",
          started: "2026-11-24",
          procedureCode: [code("http://loinc.org", word)],
          series: [{ bodySite: { system: SCT, code: word }, laterality: { code: word } }],
        }),
      });
      expect(c.patient?.sex).toBe("not recorded");
      expect(c.proposals).toEqual([]);
    }
  });
  it("REL-16 a date that is none makes nothing recent, and crashes nothing", () => {
    const c = chart({
      conditions: found(condition("c1", code(ICD, "S62.634A"), { onsetDateTime: "yesterday", recordedDate: "zz" })),
    });
    expect(values(c, "digit")).toEqual([]);
    expect(c.conditions).toHaveLength(1);
  });
});

describe("a chart of thousands", () => {
  /** Counts how often any property of the entries is read: work, whatever the machine. */
  function counting(entries: readonly object[]) {
    const work = { reads: 0 };
    const watch = (value: unknown): unknown =>
      typeof value !== "object" || value === null
        ? value
        : new Proxy(value, {
            get(target, key) {
              work.reads++;
              return watch(Reflect.get(target, key));
            },
          });
    return { work, entries: entries.map(watch) };
  }
  const onset = (i: number) =>
    `20${String(10 + (i % 16)).padStart(2, "0")}-${String(1 + (i % 12)).padStart(2, "0")}-${String(1 + (i % 28)).padStart(2, "0")}T${String(i % 24).padStart(2, "0")}:${String(i % 60).padStart(2, "0")}:00Z`;
  const injuries = (n: number) =>
    Array.from({ length: n }, (_, i) =>
      condition(`c${i}`, code(ICD, ["S62.634A", "S62.635A", "S62.636A", "E11.9"][i % 4]!), {
        onsetDateTime: onset(i),
        encounter: { reference: "Encounter/e1" },
      }),
    );
  it("R13 REL-15 of 5,000 entries takes ten times the work of one of 500, not a hundred times", () => {
    const workFor = (n: number) => {
      const { work, entries } = counting(injuries(n));
      const c = chart({ conditions: found(...entries) });
      expect(c.conditions).toHaveLength(n);
      return work.reads;
    };
    expect(workFor(5000) / workFor(500)).toBeLessThan(11);
  });
  it("R13 REL-15 keeps what it says short, whatever disagrees in it", () => {
    const c = chart({ conditions: found(...injuries(5000)) });
    expect(c.problems.length).toBeLessThan(20);
    expect(Math.max(...c.problems.map((p) => p.say.length))).toBeLessThan(600);
    expect(c.problems.find((p) => p.kind === "conflict" && p.say.includes("more"))?.say).toMatch(
      /and \d+ more\. None is suggested\.$/,
    );
    expect(values(c, "digit")).toEqual(["ring", "little"]);
    expect(c.used).toHaveLength(new Set(c.used.map((u) => u.reference)).size);
  });
  it("REL-16 broken ones by the thousand are counted, not listed one by one", () => {
    const broken = Array.from({ length: 5000 }, (_, i) => ({
      resourceType: "Condition",
      id: `not an id ${i}`,
      subject,
    }));
    const { problems } = chart({ conditions: found(...broken) });
    expect(problems).toHaveLength(1);
    expect(problems[0]).toMatchObject({ kind: "unreadable", entries: 5000 });
  });
});

describe("notes from the server", () => {
  it("an OperationOutcome among the results is shown as a note, not counted as a resource", () => {
    const outcome = {
      resourceType: "OperationOutcome",
      issue: [{ severity: "warning", code: "processing", diagnostics: "Unknown search parameter '_elements'" }],
    };
    const c = chart({ conditions: found(outcome) });
    expect(c.problems).toMatchObject([
      { kind: "outcome", say: expect.stringContaining("_elements"), blocksSigning: false },
    ]);
  });
});

import { describe, expect, it } from "vitest";
import { assessCase, assessDigit, type CaseRecord, factsOf } from "../../../src/pathway/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, distalPhalanx, pathway, told, without } from "../distal-phalanx/records.ts";

/** The shared rules of the hand in a whole assessment: a crushed finger tip, all else ordinary. */
const TUFT: Facts = { ...ADULT, fractureSite: "tuft" };
const of = (facts: Facts, scope: string) =>
  Object.fromEntries(Object.entries(facts).filter(([id]) => distalPhalanx.findings[id]!.scope === scope)) as Record<
    string,
    string | number
  >;
const record = (facts: Facts, more: Partial<CaseRecord> = {}): CaseRecord => ({
  assessedAt: "2026-03-02T10:00",
  patient: of(facts, "patient"),
  injury: of(facts, "injury"),
  digits: [of(facts, "digit")],
  ...more,
});
const means = (facts: Facts) => assessCase(pathway, record(facts)).urgency.words!.means;

describe("a wound counts, whatever was answered to 'open or closed'", () => {
  it.each<[string, Facts]>([
    [
      "a cut over the joint with a drooping tip and no broken bone",
      { fractureSite: "no-fracture-seen", activeExtension: "lag", woundOverJoint: "cut" },
    ],
    [
      "a star-shaped nail bed tear under a missing nail",
      { fractureSite: "tuft", nailBed: "stellate", nailPlate: "missing" },
    ],
    ["a cut nail bed, seen", { fractureSite: "shaft", nailBed: "simple" }],
  ])("%s, recorded as closed: treated as open, and the contradiction is said", (_story, findings) => {
    const { assessment, antibiotic } = told({ ...ADULT, ...findings, openness: "closed", tetanusDoses: "none" });
    expect(antibiotic).not.toContain("no");
    expect(assessment.tetanus.map((t) => t.effect)).toMatchObject([{ vaccine: true, immunoglobulin: true }]);
    expect(assessment.quality.map((q) => q.rule)).toContain("DQ4d");
  });
  it("a cut extensor without a broken bone goes to the hand surgeon today", () =>
    expect(told({ ...ADULT, activeExtension: "lag", woundOverJoint: "cut", mechanism: "laceration" }).urgency).toBe(
      "D0",
    ));
  it("a nail torn out at the fold by a fall is a wound, and no clean minor one: booster after 7 years", () => {
    const facts = { ...TUFT, mechanism: "fall", nailPlate: "avulsed-at-fold", tetanusYearsSinceLast: 7 };
    expect(told(facts).antibiotic).toEqual(["not-routinely"]);
    expect(assessDigit(pathway, facts).tetanus.map((t) => t.effect)).toMatchObject([{ vaccine: true }]);
  });
  it("whole skin over a closed tuft fracture asks nothing about tetanus", () =>
    expect(told(TUFT).antibiotic).toEqual(["no"]));
});

describe("a dusky tip that nobody has looked at again", () => {
  const dusky = { ...without(TUFT, "perfusionAfterFirstSteps"), tipColour: "dusky" };
  it("is now, says until when, and the fracture waits", () => {
    const { assessment, urgency } = told(dusky);
    expect(urgency).toBe("NOW");
    expect(means(dusky)).toMatch(/^Until the circulation is rechecked/);
    expect([assessment.management, assessment.splints]).toEqual([[], []]);
    expect(assessment.visits.filter((v) => v.purpose === "discharge-check")).toEqual([]);
    expect(assessment.ask).toContain("perfusionAfterFirstSteps");
  });
  it.each(["not-asked", "not-yet"])("is never called settled while it is still to be looked at (%s)", (seen) => {
    expect(told({ ...dusky, perfusionAfterFirstSteps: seen }).assessment.state).toBe("provisional");
    for (const perfusionAfterFirstSteps of ["restored", "still-poor"])
      expect(told({ ...dusky, perfusionAfterFirstSteps }).assessment.state).toBe("settled");
  });
  it("is an ordinary tuft fracture again once it has recovered", () => {
    const recovered = told({ ...dusky, perfusionAfterFirstSteps: "restored" });
    expect(recovered.urgency).toBe("none");
    expect(recovered.calls).toEqual(["non-operative"]);
  });
  it("that stays poor is now, and the hand surgeon is phoned", () => {
    const poor = { ...dusky, perfusionAfterFirstSteps: "still-poor" };
    expect(told(poor).urgency).toBe("NOW");
    expect(means(poor)).toBe("Phone the hand surgeon. The patient does not leave.");
  });
});

describe("a tip whose circulation cannot be judged", () => {
  it.each([{ tipColour: "cannot-tell" }, { capillaryRefill: "cannot-tell" }])(
    "%j and not looked at again: now, the most urgent still possible, and open",
    (unjudged) => {
      const { urgency } = assessDigit(pathway, { ...without(TUFT, "perfusionAfterFirstSteps"), ...unjudged });
      expect(urgency).toMatchObject({ level: "NOW", open: true });
    },
  );
  it("leaves no treatment of an ordinary fracture standing as sure: each line waits for the red flags to be cleared", () => {
    const unjudged = assessDigit(pathway, { ...without(TUFT, "perfusionAfterFirstSteps"), tipColour: "cannot-tell" });
    const judged = assessDigit(pathway, TUFT);
    const treatment = (a: typeof judged) => [
      ...[...a.management, ...a.splints].map((l) => l.text),
      ...a.visits.map((v) => v.check),
    ];
    expect(unjudged.mayLeave).toBe(true);
    expect(treatment(judged).length).toBeGreaterThan(2);
    for (const line of treatment(unjudged)) expect(line).toMatch(/^Only once the red flags are cleared:/);
    for (const line of treatment(judged)) expect(line).not.toMatch(/red flags are cleared/);
    const restored = { ...TUFT, tipColour: "cannot-tell", perfusionAfterFirstSteps: "restored" };
    expect(treatment(assessDigit(pathway, restored))).toEqual(treatment(judged));
  });
  it("that was looked at again and is still poor is now all the same", () =>
    expect(
      assessDigit(pathway, { ...TUFT, tipColour: "cannot-tell", perfusionAfterFirstSteps: "still-poor" }).urgency,
    ).toMatchObject({ level: "NOW", open: true }));
});

describe("the sentence of the urgency fits the one who acts", () => {
  it.each<[string, Facts, RegExp]>([
    ["other serious injuries", { otherSeriousInjury: "yes" }, /^The team treating the patient acts now/],
    ["a burn", { mechanism: "burn-or-frostbite" }, /^The burns service /],
    ["a dislocation still to be reduced", { jointDislocated: "yes-not-yet-reduced" }, /^The emergency department /],
    [
      "a white tip that stays white",
      { tipColour: "white", perfusionAfterFirstSteps: "still-poor" },
      /^Phone the hand surgeon/,
    ],
    ["a break through a bone lesion", { boneLesion: "yes" }, /hand or tumour clinic/],
  ])("%s", (_story, findings, sentence) => expect(means({ ...TUFT, ...findings })).toMatch(sentence));
});

describe("whoever leaves the ordinary pathway leaves with a day", () => {
  it("a break through a bone lesion is seen in 7 to 14 days, dated, although all visits of the fracture are silent", () => {
    const { visits } = assessCase(pathway, record({ ...TUFT, boneLesion: "yes" }, { injuredAt: "2026-03-02" }));
    expect(visits.map((v) => [v.who, v.dates?.earliest, v.dates?.latest])).toEqual([
      ["hand or tumour clinic", "2026-03-09", "2026-03-16"],
    ]);
  });
  it("exposed bone seen two days late has its surgeon today, not on the day of the injury", () => {
    const late = record(
      { ...without(TUFT, "hoursSinceInjury"), tissueLoss: "bone-exposed" },
      { injuredAt: "2026-02-28" },
    );
    expect(assessCase(pathway, late).visits.map((v) => [v.purpose, v.dates?.earliest])).toEqual([
      ["surgeon-review", "2026-03-02"],
    ]);
  });
});

describe("a child's crushed tip with the nail torn at its fold", () => {
  const torn = {
    ...without(TUFT, "activeExtension", "dorsalPhysealWidening", "salterHarris"),
    ageYears: 5,
    nailPlate: "avulsed-at-fold",
    bloodAtNailFold: "yes",
    physis: "open",
    activeExtension: "cannot-tell",
    dorsalPhysealWidening: "cannot-tell",
    salterHarris: "cannot-tell",
    openness: "closed",
  };
  it("is never closed here while an open growth-plate fracture is not excluded", () =>
    expect(
      assessDigit(pathway, torn)
        .today.map((t) => t.text)
        .join(" "),
    ).not.toMatch(/close it loosely|repair and splint here/));
});

describe("local infection", () => {
  it("of a closed tuft fracture is never 'no referral'", () =>
    expect(told({ ...TUFT, infectionSigns: "local" })).toMatchObject({
      urgency: "D1",
      antibiotic: ["treat-infection"],
    }));
});

describe("years since the last tetanus dose, from the dates", () => {
  const years = (lastTetanusDoseOn: string, injuredAt = "2026-03-02") =>
    factsOf(record(TUFT, { injuredAt, lastTetanusDoseOn, patient: {} }), 0).tetanusYearsSinceLast;
  it("ten years to the day is 10, a day more is more than 10, a day less is less", () => {
    expect(years("2016-03-02")).toBe(10);
    expect(years("2016-03-01")).toBe(10.1);
    expect(years("2016-03-03")).toBe(9.9);
  });
  it("four years and 364 days is never rounded up to five", () => expect(years("2021-03-03")).toBe(4.9));
  it("a dose after the injury counts as none ago", () => expect(years("2026-03-05")).toBe(0));
});

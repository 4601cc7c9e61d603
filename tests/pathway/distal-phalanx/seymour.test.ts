import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told, without } from "./records.ts";

const lying = { nailPlate: "over-fold" } as const;
const physeal = { fractureSite: "physis", salterHarris: "II" } as const;

describe("Seymour fracture", () => {
  it.each<[string, Facts]>([
    ["nail over the fold, Salter-Harris II", { ...lying, ...physeal }],
    ["blood at the fold, growth plate wider at the back", { bloodAtNailFold: "yes", dorsalPhysealWidening: "yes" }],
    [
      "nail bed cut, juxta-epiphyseal line",
      { nailBed: "simple", salterHarris: "juxta-epiphyseal", fractureSite: "base-extra-articular" },
    ],
    [
      "nail over the fold and a drooping tip, whatever the film shows",
      { ...lying, activeExtension: "lag", fractureSite: "tuft" },
    ],
    ["skin wound over a physeal fracture", { openness: "open-skin", ...physeal }],
    [
      "growth plate cannot be judged, nail over the fold, droop",
      { physis: "cannot-judge", ...lying, activeExtension: "lag" },
    ],
    [
      "no film yet, nail over the fold, droop",
      { filmTaken: "no", physis: "cannot-tell", ...lying, activeExtension: "lag" },
    ],
  ])("%s: open, today, antibiotic, surgeon", (_, found) => {
    const a = told({ ...CHILD, ...found });
    expect(a.classes).toEqual(["SEYMOUR"]);
    expect(a.urgency).toBe("D0");
    expect(a.antibiotic).toEqual(["yes"]);
    expect(a.calls).toContain("operative");
  });
  it("is not thought of in an adult: nobody is asked about a growth plate at 18", () => {
    const grown = without(
      { ...ADULT, ageYears: 18, ...lying, activeExtension: "lag" },
      "physis",
      "salterHarris",
      "dorsalPhysealWidening",
      "epiphysisTurned",
      "physisTender",
    );
    const a = told(grown);
    expect([...a.classes, ...a.possible].filter((c) => /SEYMOUR|PHYS|EQUIVALENT/.test(c))).toEqual([]);
    expect(a.assessment.ask).toEqual([]);
  });
  it("at 17 the growth plate is asked for and everything stays possible until then", () => {
    const a = told(without({ ...CHILD, ageYears: 17, ...lying }, "physis", "salterHarris"));
    expect(a.possible).toContain("SEYMOUR");
    expect(a.assessment.ask).toContain("physis");
    expect(a.urgency).toBe("D0");
  });
  it.each<[string, Facts]>([
    ["no film yet", { filmTaken: "no" }],
    ["a view from the front only", { trueLateral: "not-taken" }],
    ["a true lateral on which nobody can judge the plate", { physis: "cannot-judge" }],
  ])(
    "nail over the fold, %s: antibiotic at once, as for an open growth plate fracture, until that is excluded",
    (_, film) => {
      const a = told({ ...CHILD, ...lying, ...film });
      expect(a.antibiotic).toEqual(["yes"]);
      expect(a.urgency).toBe("D0");
      expect(a.assessment.antibiotic.filter((l) => l.effect.kind === "antibiotic-class")).toHaveLength(1);
    },
  );
  it("nail over the fold, whole plate on a true lateral: consider an antibiotic until the surgeon has looked (common practice, no source)", () => {
    const a = told({ ...CHILD, ...lying });
    expect(a).toMatchObject({ antibiotic: ["consider"], urgency: "D0" });
    expect(a.assessment.antibiotic[0]!.sources.map((s) => s.source)).toEqual(["COMMON-PRACTICE"]);
    expect(told({ ...ADULT, ...lying }).antibiotic).toEqual(["not-routinely"]);
  });
  it("wire only if unstable: the review that found fewer infections with a wire stands beside it as dissent", () => {
    const rule = told({ ...CHILD, ...lying, ...physeal }).assessment.management.find((l) => l.rule === "SEY-2")!;
    // Houlden 2022, abstract: best-evidence review of 8 weak studies.
    expect(rule.sources.filter((s) => s.says === "against").map((s) => s.source)).toEqual(["HOULDEN22"]);
    expect(rule.sources.filter((s) => s.says === "for").map((s) => s.source)).toContain("SFNOPIN");
  });
  it("nail over the fold on a view from the front only: stop and take the true lateral", () => {
    const a = told({ ...CHILD, ...lying, trueLateral: "not-taken", fractureSite: "tuft" });
    expect(a.blocked).toBe(true);
    expect(a.urgency).toBe("D0");
    expect(a.classes).not.toContain("TUFT-S");
  });
  it("nail over the fold with a clean true lateral: still no tuft, a surgeon looks today", () => {
    const a = told({ ...CHILD, ...lying, fractureSite: "tuft" });
    expect(a.classes).toEqual(["POSSIBLE-PHYSEAL"]);
    expect(a.urgency).toBe("D0");
    expect(a.calls).toEqual(["must-refer"]);
  });
  it("gets the wound looked at on day 2 to 3 and 7, the plate at 3 and 6 to 12 months", () => {
    const { visits } = told({ ...CHILD, ...lying, ...physeal });
    expect(visits).toEqual(
      expect.arrayContaining([
        "wound-check 2-3",
        "film 7-10",
        "wire-out 21-28",
        "physis-film 84-98",
        "physis-film 180-365",
      ]),
    );
  });
});

describe("other growth plate injuries", () => {
  it.each<[string, Facts, string, string]>([
    [
      "drooping Salter-Harris I under a closed fold",
      { ...physeal, salterHarris: "I", activeExtension: "lag" },
      "SEYMOUR-PATTERN-CLOSED",
      "D0",
    ],
    ["closed Salter-Harris II, no droop", physeal, "PHYSEAL-CLOSED", "W1"],
    ["closed Salter-Harris II, 2 mm", { ...physeal, displacement: "seen", translationMm: 2 }, "PHYSEAL-CLOSED", "W1"],
    [
      "closed Salter-Harris II, more than 2 mm",
      { ...physeal, displacement: "seen", translationMm: 2.1 },
      "PHYSEAL-CLOSED",
      "D1",
    ],
    ["base fracture of a child", { fractureSite: "base-extra-articular" }, "PHYSEAL-CLOSED", "W1"],
    ["dorsal Salter-Harris III", { fractureSite: "physis", salterHarris: "III" }, "MALLET-EQUIVALENT-B", "W1"],
    ["dorsal lip in a child", { fractureSite: "base-dorsal" }, "MALLET-EQUIVALENT-B", "W1"],
    [
      "epiphysis turned, tendon on it",
      { epiphysisTurned: "turned-tendon-attached", fractureSite: "physis", salterHarris: "I" },
      "MALLET-EQUIVALENT-C",
      "D0",
    ],
    [
      "epiphysis off, tendon torn",
      { epiphysisTurned: "separated-tendon-avulsed", fractureSite: "physis" },
      "MALLET-EQUIVALENT-D",
      "D0",
    ],
    ["crush, normal film, tender plate", { physisTender: "yes" }, "POSSIBLE-PHYSEAL", "R2"],
    ["Salter-Harris V suspected", { fractureSite: "physis", salterHarris: "V" }, "POSSIBLE-PHYSEAL", "R2"],
  ])("%s", (_, found, name, urgency) => {
    const a = told({ ...CHILD, ...found });
    expect(a.classes).toEqual([name]);
    expect(a.urgency).toBe(urgency);
  });
  it("a drooping physeal fracture is named Doyle IVA and Wehbé III, never a mallet", () => {
    const a = told({ ...CHILD, ...physeal, activeExtension: "lag" });
    expect(a.published).toEqual(expect.arrayContaining(["DOYLE-IVA", "WEHBE-III", "EQUIVALENT-A"]));
    expect(a.classes.join()).not.toContain("TENDINOUS");
  });
  it("a third of the joint or more on the piece of epiphysis is referred, less and congruent is splinted", () => {
    const piece = { ...CHILD, fractureSite: "physis", salterHarris: "III" };
    expect(told({ ...piece, articularSharePercent: 33 }).calls).toEqual(["non-operative"]);
    expect(told({ ...piece, articularSharePercent: 34 }).calls).toEqual(["must-refer"]);
    expect(told({ ...piece, articularSharePercent: 20, nailBed: "simple" }).calls).toEqual(["operative"]);
  });
  it.each<[string, Facts]>([
    ["fragments out of contact", { displacement: "seen", translationMm: 1, corticalContact: "none" }],
    ["30 degrees of tilt", { displacement: "seen", translationMm: 1, angulationDegrees: 30 }],
    ["twisted, nothing else to see", { nailPlaneRotation: "rotated" }],
  ])('closed Salter-Harris II, %s: displaced, reduced under anaesthesia, never "grows straight"', (_, found) => {
    const a = told({ ...CHILD, ...physeal, ...found });
    expect(a.urgency).toBe("D1");
    expect(a.calls).toEqual(["must-refer"]);
    expect(a.assessment.today.map((l) => l.text).join()).toContain("under anaesthesia");
    expect(a.assessment.anaesthetic.some((l) => / mg/.test(l.text))).toBe(true);
  });
  it("straightening not tested at a growth plate: nobody writes that it does not droop", () => {
    const a = told({ ...CHILD, ...physeal, activeExtension: "cannot-test" });
    expect(a.classes).toEqual(["PHYSEAL-CLOSED"]);
    expect(a.assessment.classes[0]!.because).not.toMatch(/no droop/);
    expect(a.assessment.today.map((l) => l.rule)).toContain("SEY-15");
  });
  it("a Seymour fracture hears one voice: no lifting and repairing on the spot", () => {
    const a = told({ ...CHILD, ...lying, ...physeal, nailBed: "simple" });
    const rules = [...a.assessment.today, ...a.assessment.management].map((l) => l.rule);
    expect(rules).toContain("SEY-1");
    expect(rules.filter((r) => ["SH-4", "SH-9", "NB-1", "NB-3", "TUF-1", "TUF-2"].includes(r))).toEqual([]);
  });
  it("a wire visit of a Seymour fracture says that it depends on the wire; the splint comes off either way", () => {
    const { visits } = told({ ...CHILD, ...lying, ...physeal }).assessment;
    expect(visits.find((v) => v.purpose === "wire-out")).toMatchObject({ onlyIf: "if a wire was placed" });
    expect(visits.find((v) => v.purpose === "wire-out")!.check).toMatch(/^If a wire was placed: /);
    expect(visits.find((v) => v.purpose === "splint-review")!.onlyIf).toBeUndefined();
  });
  it("a turned epiphysis goes to theatre in a splint, and its wound is looked at", () => {
    const a = told({ ...CHILD, fractureSite: "physis", epiphysisTurned: "turned-tendon-attached" });
    expect(a.assessment.splints.map((l) => l.splint.what)).toEqual(["Splint of the end joint for the way"]);
    expect(a.visits).toContain("wound-check 5-7");
  });
  it("a possible growth plate injury is filmed again on day 10 to 14", () => {
    expect(told({ ...CHILD, physisTender: "yes" }).visits).toContain("film 10-14");
  });
  it("an open tuft fracture of a child away from the fold stays a tuft", () => {
    expect(told({ ...CHILD, fractureSite: "tuft", openness: "open-skin" }).classes).toEqual(["TUFT-S"]);
  });
});

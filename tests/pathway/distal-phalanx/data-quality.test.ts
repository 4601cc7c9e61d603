import { describe, expect, it } from "vitest";
import { ADULT, CHILD, pathwayWith, told, without } from "./records.ts";

const quality = (facts: Parameters<typeof told>[0]) => told(facts).assessment.quality.map((q) => q.rule);

describe("what is not known well enough", () => {
  it("a growth plate that cannot be judged is treated as open under 18, and not at 18", () => {
    const judged = { ...CHILD, fractureSite: "base-dorsal", physis: "cannot-judge" };
    expect(quality(judged)).toEqual(["DPQ-1"]);
    expect(told(judged).classes).toEqual(["MALLET-EQUIVALENT-B"]);
    expect(told({ ...judged, ageYears: 18 }).classes).toEqual(["MALLET"]);
    expect(quality({ ...judged, ageYears: 18 })).toEqual([]);
  });
  it("untested movement is said not to be normal, and brought back on day 3 to 5", () => {
    const a = told({ ...ADULT, fractureSite: "tuft", activeFlexion: "cannot-test", activeExtension: "cannot-test" });
    expect(a.assessment.quality.map((q) => q.rule)).toEqual(["DPQ-2", "DPQ-3"]);
    expect(a.assessment.quality.every((q) => q.text.includes("not normal"))).toBe(true);
    expect(a.assessment.tasks.length).toBe(2);
    expect(a.visits).toContain("clinic 3-5");
  });
  it("blood under a nail whose margin nobody judged: neither draining nor lifting is decided, and the margin is asked for", () => {
    const blood = { ...ADULT, fractureSite: "tuft", haematoma: "over-half", haematomaPainful: "yes" };
    for (const nailPlate of ["not-asked", "cannot-tell"]) {
      const { assessment: a } = told({ ...blood, nailPlate });
      expect(a.quality.find((q) => q.rule === "DPQ-13")!.text).toMatch(/cannot decide whether to drain or to lift/);
      expect(a.today.map((l) => l.rule).filter((r) => /^SH-/.test(r))).toEqual([]);
      expect([...a.ask, ...a.cannotTell]).toContain("nailPlate");
    }
    expect(told(blood).assessment.quality).toEqual([]);
  });
  it("a tuft film without a true lateral is not blocked, but the view is asked for", () => {
    const a = told({ ...ADULT, fractureSite: "tuft", trueLateral: "not-taken" });
    expect(a).toMatchObject({ classes: ["TUFT-S"], blocked: false });
    expect(a.assessment.today.map((l) => l.rule)).toContain("DPQ-5");
  });
  it("no film: no class, and the film is asked for today", () => {
    const a = told({ ...without(ADULT, "fractureSite", "trueLateral", "fracturePattern"), filmTaken: "no" });
    expect(a).toMatchObject({ classes: [], blocked: true, urgency: "D0" });
    expect(a.assessment.today.map((l) => l.rule)).toContain("DPQ-6");
    expect(a.assessment.ask).toEqual([]);
  });
  it("no film, at a site that takes two planes: no oblique view is asked for", () => {
    const unseen = { ...without(ADULT, "fractureSite", "trueLateral", "fracturePattern"), filmTaken: "no" };
    const films = (view: string) =>
      told(unseen, pathwayWith({ "distalPhalanx.obliqueView": view }))
        .assessment.today.filter((l) => l.rule === "DPQ-6")
        .map((l) => l.text);
    expect(films("ask")).toEqual(["Film of this digit: posterior-anterior and true lateral, oblique too."]);
    expect(films("leave")).toEqual(["Film of this digit: posterior-anterior and true lateral."]);
  });
  it('"no displacement" against 5 mm stops the case, and 1 mm does not', () => {
    const shaft = { ...ADULT, fractureSite: "shaft" };
    expect(told({ ...shaft, translationMm: 5 }).assessment.state).toBe("cannot-decide");
    expect(quality({ ...shaft, translationMm: 5 })).toEqual(["DPQ-7"]);
    expect(quality({ ...shaft, translationMm: 1 })).toEqual([]);
  });
  it('who says "no displacement" is not asked to measure it', () => {
    const a = told(
      without(
        { ...ADULT, fractureSite: "shaft" },
        "translationMm",
        "angulationDegrees",
        "corticalContact",
        "jointStepMm",
      ),
    );
    expect(a.assessment.ask).toEqual([]);
    expect(a.assessment.state).toBe("settled");
  });
  it("a growth plate fracture in an adult is a contradiction, not a class", () => {
    const a = told({ ...ADULT, fractureSite: "physis" });
    expect(a).toMatchObject({ classes: [], blocked: true, urgency: "D0" });
  });
  it("no fracture, yet displaced: nobody is sent away on answers that contradict each other", () => {
    const whole = { ...ADULT, fractureSite: "no-fracture-seen" };
    expect(told(whole)).toMatchObject({ urgency: "none", blocked: false });
    expect(told({ ...whole, displacement: "seen" })).toMatchObject({ urgency: undefined, blocked: true });
  });
  it('"not sure whether open" under a torn nail is treated as open; with a whole nail the second look decides', () => {
    const unsure = { ...ADULT, fractureSite: "shaft", openness: "uncertain" };
    expect(told({ ...unsure, nailPlate: "avulsed-at-fold" }).urgency).toBe("D0");
    expect(told({ ...unsure, opennessOnSecondLook: "closed" }).urgency).toBe("R2");
  });
});

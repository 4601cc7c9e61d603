import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told } from "./records.ts";

const points = (facts: Facts, point: string) =>
  told(facts)
    .assessment.advice.filter((a) => a.effect.point === point)
    .map((a) => a.text);
const KIDS = { ...CHILD, physis: "closed" };
const MALLET = { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20 };

describe("advice on work and sport", () => {
  it.each<[string, Facts]>([
    ["tuft", { fractureSite: "tuft" }],
    ["shaft", { fractureSite: "shaft" }],
    ["mallet", { fractureSite: "base-dorsal", articularSharePercent: 20 }],
    ["torn flexor", { activeFlexion: "absent" }],
  ])("%s: a child is told of school, not of a desk or a job", (_, found) => {
    const [said, ...more] = points({ ...KIDS, ...found }, "work-sport");
    expect(more).toEqual([]);
    expect(said).toMatch(/school/i);
    expect(said).not.toMatch(/desk|hand work|at work/i);
    expect(points({ ...ADULT, ...found }, "work-sport")[0]).toMatch(/desk work/i);
  });
  it.each<[string, Facts, RegExp]>([
    ["tuft after 1 to 3 weeks with the cap", { fractureSite: "tuft" }, /1 to 3 weeks, with the cap/],
    ["shaft after 4 weeks", { fractureSite: "shaft" }, /without contact: after 4 weeks/],
    ["torn flexor after 10 to 12 weeks", { activeFlexion: "absent" }, /without contact after 10 to 12/],
  ])("sport without contact: %s", (_, found, words) =>
    expect(points({ ...ADULT, ...found }, "work-sport").join()).toMatch(words),
  );
});

describe("a finger that may be wired", () => {
  it.each<[string, Facts]>([
    ["unstable shaft", { ...ADULT, fractureSite: "shaft", displacement: "seen", translationMm: 3 }],
    ["Seymour fracture", { ...CHILD, nailPlate: "over-fold", fractureSite: "physis", salterHarris: "I" }],
    ["torn flexor", { ...ADULT, activeFlexion: "absent" }],
    ["displaced combined base", { ...ADULT, fractureSite: "base-both-sides", displacement: "seen", translationMm: 3 }],
    ["slipped mallet", { ...MALLET, jointPosition: "volar-subluxed" }],
    ["slipped mallet, flexor torn too", { ...MALLET, jointPosition: "volar-subluxed", activeFlexion: "absent" }],
    [
      "displaced combined base under a cut that leaves the tip drooping",
      {
        ...ADULT,
        fractureSite: "base-both-sides",
        displacement: "seen",
        translationMm: 3,
        woundOverJoint: "cut",
        activeExtension: "lag",
      },
    ],
    ["very large mallet", { ...MALLET, articularSharePercent: 80 }],
    ["mallet of 40 %", { ...MALLET, articularSharePercent: 40 }],
    [
      "open mallet",
      { ...ADULT, woundOverJoint: "cut", activeExtension: "lag", openness: "open-skin", mechanism: "laceration" },
    ],
    [
      "turned epiphysis",
      { ...CHILD, epiphysisTurned: "turned-tendon-attached", fractureSite: "physis", salterHarris: "III" },
    ],
    [
      "displaced growth plate",
      { ...CHILD, fractureSite: "physis", salterHarris: "II", displacement: "seen", translationMm: 4 },
    ],
  ])("%s: comes back when the wire is loose or out, told once", (_, facts) => {
    expect(points(facts, "wire-trouble")).toHaveLength(1);
    expect(points(facts, "wire")[0]).toContain("dry and capped");
  });
  it("a small mallet, a tuft and a shaft in place hear nothing of wires", () => {
    for (const facts of [MALLET, { ...ADULT, fractureSite: "tuft" }, { ...ADULT, fractureSite: "shaft" }])
      expect(points(facts, "wire-trouble")).toEqual([]);
  });
});

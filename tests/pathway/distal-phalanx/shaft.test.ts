import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, told, without } from "./records.ts";

const SHAFT = { ...ADULT, fractureSite: "shaft" };
const words = (facts: Facts) => {
  const a = told(facts).assessment;
  return [...a.today, ...a.management].map((l) => l.text).join(" ");
};

describe("longitudinal shaft fracture", () => {
  const LONG = { ...SHAFT, fracturePattern: "longitudinal" };
  it("in place: splint, no fixation", () => expect(told(LONG).calls).toEqual(["non-operative"]));
  it.each<[string, Facts]>([
    ["step of 1.5 mm in the joint", { displacement: "seen", jointStepMm: 1.5 }],
    ["gap of 2.5 mm", { displacement: "seen", fragmentGapMm: 2.5 }],
  ])('%s: fixation is discussed, and nobody says "no fixation" beside it', (_, found) =>
    expect(told({ ...LONG, ...found }).calls).toEqual(["discuss"]),
  );
});

describe("unstable shaft or base", () => {
  const OUT = { ...SHAFT, fracturePattern: "transverse", displacement: "seen", translationMm: 3 };
  it("closed: reduced and held, without a word of the nail bed", () => {
    expect(told(OUT).calls).toEqual(["must-refer"]);
    expect(words(OUT)).toMatch(/If you reduce it/);
    expect(words(OUT)).not.toMatch(/nail bed/);
  });
  it("open: the nail bed is taken out of the gap and repaired", () =>
    expect(words({ ...OUT, openness: "open-nail-bed", nailBed: "simple" })).toMatch(
      /nail bed out of the gap and repaired/,
    ));
  it("adult base outside the joint: reduced only if it is displaced, seen by the surgeon either way", () => {
    const base = { ...ADULT, fractureSite: "base-extra-articular", fracturePattern: "transverse" };
    expect(told(base).calls).toEqual(["must-refer"]);
    expect(words(base)).not.toMatch(/reduce it/);
    expect(words({ ...base, displacement: "seen", translationMm: 3 })).toMatch(/If you reduce it/);
  });
  it("the way a tilted tip points is asked of a tilt only: to the palm is usual, to the back is questioned", () => {
    const tilted = { ...OUT, angulationDegrees: 20 };
    const warned = (tiltOfTip: string) => told({ ...tilted, tiltOfTip }).assessment.warnings.map((w) => w.rule);
    expect(warned("to-palm")).toEqual(["SHA-9"]);
    expect(warned("to-back")).toEqual(["SHA-10"]);
    expect(told(without(tilted, "tiltOfTip")).assessment.ask).toEqual(["tiltOfTip"]);
    expect(told(without(OUT, "tiltOfTip")).assessment.ask).toEqual([]);
  });
});

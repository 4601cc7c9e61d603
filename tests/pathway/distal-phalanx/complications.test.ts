import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told, without } from "./records.ts";

const later = (facts: Facts) => told(facts).assessment.later.map((l) => l.text);
const TUFT = { ...ADULT, fractureSite: "tuft" };
const SHAFT = { ...ADULT, fractureSite: "shaft" };

describe("what is looked for after today", () => {
  it.each<[string, Facts, RegExp]>([
    [
      "any fracture: pain out of proportion by the Budapest groups, seen by the next working day",
      TUFT,
      /3 and a sign in 2 of 4 groups.*pain team.*next working day/,
    ],
    ["any fracture: a hooked nail goes to the clinic after half a year", TUFT, /over 10 to 15 degrees.*6 months/],
    [
      "any fracture: a tip that no longer bends is a surgeon's matter within a day",
      SHAFT,
      /no active bending.*next working day/,
    ],
    ["shaft: a slip of over 2 mm is with the surgeon within 48 hours", SHAFT, /over 2 mm.*48 hours/],
    [
      "mallet: droop up to 10 degrees is accepted",
      { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20 },
      /up to 10 degrees accept.*over 20 to 25/,
    ],
    ["tuft not united at a year is left if painless", TUFT, /12 months.*pain-free: leave/],
    [
      "torn nail bed: nail clinic after 6 to 12 months",
      { ...TUFT, nailBed: "simple" },
      /6 to 12 months, then nail clinic/,
    ],
    [
      "child's growth plate: both sides filmed",
      { ...CHILD, fractureSite: "physis", salterHarris: "II" },
      /film of both sides/,
    ],
    [
      "unstable shaft: pin that is loose comes out",
      { ...SHAFT, displacement: "seen", translationMm: 3 },
      /wire loose: wire out/,
    ],
    [
      "pinned mallet: pin that is loose comes out",
      { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 70 },
      /wire loose: wire out/,
    ],
    [
      "open fracture: late bone infection goes to surgery the same day",
      { ...SHAFT, openness: "open-skin" },
      /week 8.*same day/,
    ],
    ["any wound: look again in 24 to 48 hours", { ...TUFT, openness: "skin-cut" }, /24 to 48 hours/],
    [
      "union is found at the finger before it is seen on the film",
      SHAFT,
      /no tenderness, no movement.*even when the line shows/,
    ],
  ])("%s", (_, facts, words) => expect(later(facts).filter((t) => words.test(t))).toHaveLength(1));
  it("is said once each, never today, and keeps the first page short", () => {
    for (const facts of [TUFT, SHAFT, { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 70 }]) {
      const said = later(facts);
      expect(new Set(said).size).toBe(said.length);
      const { assessment } = told(facts);
      const now = [...assessment.today, ...assessment.warnings].map((l) => l.text);
      expect(said.filter((t) => now.includes(t))).toEqual([]);
    }
  });
  it("is no reason to ask anything, and keeps no case open", () => {
    const open = told(without(SHAFT, "smoker")).assessment;
    expect(open.stillPossible.filter((l) => l.rule.startsWith("CPL-"))).toEqual([]);
    expect(told(SHAFT).assessment.state).toBe("settled");
  });
  it("a closed tuft is not told of slipping, and no finger without a wire of a pin site", () => {
    expect(later(TUFT).join()).not.toMatch(/48 hours|pin site/);
    expect(later(SHAFT).join()).not.toMatch(/pin site/);
  });
  it("a child's closed growth plate fracture hears of a pin site when it is displaced over 2 mm and may be wired, not in place", () => {
    const plate = { ...CHILD, fractureSite: "physis", salterHarris: "II" };
    const pins = (facts: Facts) => later(facts).filter((t) => /pin site/.test(t)).length;
    expect(pins({ ...plate, displacement: "seen", translationMm: 3 })).toBe(1);
    expect(pins(plate)).toBe(0);
    expect(pins({ ...CHILD, mechanism: "crush", physisTender: "yes" })).toBe(0);
  });
});

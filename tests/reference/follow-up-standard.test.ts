import { describe, expect, it } from "vitest";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told } from "../pathway/distal-phalanx/records.ts";

/** Earliest day on which anybody of the treating team looks at the finger again, at the latest. */
const firstReview = (facts: Facts) => Math.min(...told(facts).assessment.visits.map((v) => v.latest));
const open = { openness: "open-skin", contamination: "clean" } as const;

describe("HandStands 2, draft standards for open hand fractures: reviewed within one week (item 12)", () => {
  it.each<[string, Facts]>([
    ["open shaft", { ...ADULT, ...open, fractureSite: "shaft" }],
    ["open displaced shaft", { ...ADULT, ...open, fractureSite: "shaft", displacement: "seen", translationMm: 3 }],
    ["open base", { ...ADULT, ...open, fractureSite: "base-extra-articular" }],
    ["open bony mallet", { ...ADULT, ...open, fractureSite: "base-dorsal", woundOverJoint: "cut" }],
    ["open tuft, although the standard leaves it out", { ...ADULT, ...open, fractureSite: "tuft" }],
    ["open growth plate", { ...CHILD, ...open, fractureSite: "physis", salterHarris: "II" }],
    ["open combined base", { ...ADULT, ...open, fractureSite: "base-both-sides" }],
    ["open pilon", { ...ADULT, ...open, fractureSite: "base-central" }],
    ["open volar chip", { ...ADULT, ...open, fractureSite: "base-volar" }],
    ["open flexor avulsion", { ...ADULT, ...open, fractureSite: "base-volar", activeFlexion: "absent" }],
  ])("%s", (_, facts) => expect(firstReview(facts)).toBeLessThanOrEqual(7));
  it("hand team within 24 hours of the injury, the isolated tuft left out (items 6 and 7)", () => {
    expect(told({ ...ADULT, ...open, fractureSite: "shaft" }).urgency).toBe("D0");
    expect(told({ ...ADULT, ...open, fractureSite: "tuft" }).urgency).toBe("none");
  });
});

describe("Stevenson J et al. J Hand Surg Br 2003: trial checks of open tips at day 4 to 5 and day 14", () => {
  it("an open tuft has a wound check that covers day 4 to 5, and one by day 14", () => {
    const checks = told({ ...ADULT, ...open, fractureSite: "tuft" }).assessment.visits;
    expect(checks.some((v) => v.purpose === "wound-check" && v.earliest <= 4 && v.latest >= 5)).toBe(true);
    expect(checks.some((v) => v.purpose === "stitches-out" && v.latest === 14)).toBe(true);
  });
});

describe("Savage JA et al. Australas J Plast Surg 2021;4(1): 13 of 35 joints slipped in the splint", () => {
  it.each([33.3, 45, 66.7])(
    "a mallet fracture with %s %% has a true lateral in each of the first three weeks",
    (articularSharePercent) => {
      const films = told({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent }).assessment.visits.filter(
        (v) => v.purpose === "film-true-lateral",
      );
      for (const week of [1, 2, 3]) expect(films.some((v) => v.ideal === week * 7)).toBe(true);
    },
  );
});

describe("ACR Appropriateness, acute hand and wrist trauma 2019: films again in 10 to 14 days when suspicion stays", () => {
  it.each<[string, Facts]>([
    ["adult with normal films", ADULT],
    ["child with a tender growth plate and normal films", { ...CHILD, physisTender: "yes" }],
  ])("%s", (_, facts) => expect(told(facts).visits).toContain("film 10-14"));
});

describe("Surgical treatment of Seymour fractures, 26 children (2013-2015): wire and splint off at 4 weeks", () => {
  it("is inside the window", () => {
    const wire = told({ ...CHILD, nailPlate: "over-fold", salterHarris: "II" }).assessment.visits.find(
      (v) => v.purpose === "wire-out",
    )!;
    expect(wire.earliest <= 28 && wire.latest >= 28).toBe(true);
  });
});

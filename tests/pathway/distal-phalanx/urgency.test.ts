import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told, without } from "./records.ts";

describe("when the hand team sees it", () => {
  it.each<[string, string, Facts]>([
    ["none", "closed tuft", { fractureSite: "tuft" }],
    ["none", "clean open tuft, repaired here", { fractureSite: "tuft", openness: "open-skin" }],
    ["none", "good films without a fracture", {}],
    ["W1", "good films, bending weak after a crush", { activeFlexion: "weak" }],
    ["W1", "tuft, bending not testable", { fractureSite: "tuft", activeFlexion: "cannot-test" }],
    ["D1", "grip pulled open, bending weak", { mechanism: "forced-extension", activeFlexion: "weak" }],
    ["R2", "dislocation reduced, nothing broken", { jointDislocated: "reduced" }],
    [
      "D1",
      "dislocation reduced, joint not congruent",
      { jointDislocated: "reduced", jointPosition: "dorsal-subluxed" },
    ],
    [
      "W1",
      "longitudinal shaft gaping 2.1 mm",
      { fractureSite: "shaft", fracturePattern: "longitudinal", displacement: "seen", fragmentGapMm: 2.1 },
    ],
    [
      "R2",
      "longitudinal shaft gaping 2 mm",
      { fractureSite: "shaft", fracturePattern: "longitudinal", displacement: "seen", fragmentGapMm: 2 },
    ],
    ["R2", "shaft in place", { fractureSite: "shaft", fracturePattern: "transverse" }],
    ["R2", "longitudinal shaft in place", { fractureSite: "shaft", fracturePattern: "longitudinal" }],
    ["R2", "volar chip", { fractureSite: "base-volar" }],
    [
      "W1",
      "longitudinal with a step in the joint",
      { fractureSite: "shaft", fracturePattern: "longitudinal", displacement: "seen", jointStepMm: 1 },
    ],
    ["W1", "tendinous mallet: splint today, therapist in a week", { activeExtension: "lag" }],
    ["W1", "bony mallet", { fractureSite: "base-dorsal" }],
    ["W1", "pilon in place", { fractureSite: "base-central" }],
    ["D1", "pilon displaced", { fractureSite: "base-central", displacement: "seen", jointStepMm: 2 }],
    ["D1", "displaced shaft", { fractureSite: "shaft", displacement: "seen", translationMm: 2 }],
    ["D1", "twisted tuft", { fractureSite: "tuft", nailPlaneRotation: "rotated" }],
    ["D1", "deep flexor lost", { activeFlexion: "absent" }],
    ["D0", "open shaft", { fractureSite: "shaft", openness: "open-skin" }],
    ["D0", "open base", { fractureSite: "base-dorsal", openness: "open-skin" }],
    [
      "D0",
      "star-shaped nail bed tear in a tuft",
      { fractureSite: "tuft", openness: "open-nail-bed", nailBed: "stellate" },
    ],
    ["D0", "no film yet", { filmTaken: "no" }],
    [
      "NOW",
      "open shaft full of soil",
      { fractureSite: "shaft", openness: "open-skin", contamination: "soil-or-manure" },
    ],
  ])("%s: %s", (urgency, _, found) => expect(told({ ...ADULT, ...found }).urgency).toBe(urgency));

  it("a slipped joint is said once, by the line of its own injury", () => {
    const weeks = (found: Facts) =>
      told({ ...ADULT, jointPosition: "volar-subluxed", ...found })
        .assessment.urgency.because.map((l) => l.text)
        .filter((text) => text.startsWith("Slipped joint"));
    expect(weeks({ fractureSite: "base-dorsal" })).toEqual(["Slipped joint: hand clinic within a week, splint today."]);
    expect(weeks({ fractureSite: "base-volar" })).toEqual(["Slipped joint: hand clinic within a week."]);
  });
  it("the joint is not asked about before a dislocation is reduced", () =>
    expect(
      told(without({ ...ADULT, jointDislocated: "yes-not-yet-reduced" }, "jointPosition")).assessment.ask,
    ).not.toContain("jointPosition"));
  it("the most urgent leads: a mallet with a lost flexor is not a mallet's week", () =>
    expect(told({ ...ADULT, fractureSite: "base-dorsal", activeFlexion: "absent" }).urgency).toBe("D1"));
  it("a child's open tuft without a growth plate injury is not made a Seymour fracture", () =>
    expect(told({ ...CHILD, fractureSite: "tuft", openness: "open-skin" }).urgency).toBe("none"));
  it("an exit never takes urgency away: an open fracture through a bone lesion stays today", () => {
    const open = { ...ADULT, fractureSite: "shaft", openness: "open-skin" };
    expect(told({ ...open, boneLesion: "yes" }).urgency).toBe("D0");
  });
  it("nothing asked yet: no urgency is shown at all", () => {
    const a = told({ ageYears: 40 }).assessment;
    expect(a.urgency).toMatchObject({ open: true });
    expect(a.urgency.level).toBeUndefined();
    expect(a.state).toBe("cannot-decide");
  });
  it("a red flag that cannot be told counts as still possible", () => {
    const a = told({ ...without(ADULT, "boneLesion"), fractureSite: "tuft", boneLesion: "cannot-tell" }).assessment;
    expect(a.urgency).toMatchObject({ level: "R2", sure: "none", open: true });
    expect(a.cannotTell).toEqual(["boneLesion"]);
  });
});

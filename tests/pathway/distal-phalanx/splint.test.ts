import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, pathwayWith, told, without } from "./records.ts";

const splintOf = (facts: Facts) => told(facts).assessment.splints[0]!;

describe("splint", () => {
  it.each<[string, Facts, string[], string[], [number, number]]>([
    [
      "simple tuft: no joint held, 2 to 4 weeks",
      { fractureSite: "tuft" },
      [],
      ["DIP", "PIP", "MCP", "wrist"],
      [14, 28],
    ],
    [
      "tuft in pieces: 3 to 4 weeks",
      { fractureSite: "tuft", fracturePattern: "comminuted" },
      [],
      ["DIP", "PIP", "MCP", "wrist"],
      [21, 28],
    ],
    [
      "open tuft: 3 to 4 weeks",
      { fractureSite: "tuft", openness: "open-skin" },
      [],
      ["DIP", "PIP", "MCP", "wrist"],
      [21, 28],
    ],
    ["shaft in place: end joint, 3 to 6 weeks", { fractureSite: "shaft" }, ["DIP"], ["PIP", "MCP", "wrist"], [21, 42]],
    ["bony mallet: 6 to 8 weeks", { fractureSite: "base-dorsal" }, ["DIP"], ["PIP", "MCP", "wrist"], [42, 56]],
    [
      "both sides of the base: 4 to 6 weeks",
      { fractureSite: "base-both-sides" },
      ["DIP"],
      ["PIP", "MCP", "wrist"],
      [28, 42],
    ],
    [
      "lost flexor: blocked from the wrist, 6 weeks from the repair",
      { activeFlexion: "absent" },
      ["DIP", "PIP", "MCP", "wrist"],
      [],
      [42, 42],
    ],
  ])("%s", (_, found, joints, free, [from, to]) =>
    expect(splintOf({ ...ADULT, ...found }).splint).toMatchObject({ joints, free, days: { from, to } }),
  );
  it("longitudinal shaft: 3 to 4 weeks", () =>
    expect(splintOf({ ...ADULT, fractureSite: "shaft", fracturePattern: "longitudinal" }).splint.days).toEqual({
      from: 21,
      to: 28,
    }));
  it("type V flexor avulsion, hardly displaced: only the end joint is blocked, 4 to 6 weeks", () => {
    const five = { activeFlexion: "absent", fractureSite: "base-volar", restOfPhalanx: "extra-articular-fracture" };
    expect(splintOf({ ...ADULT, ...five }).splint).toMatchObject({ joints: ["DIP"], days: { from: 28, to: 42 } });
    const displaced = { ...ADULT, ...five, displacement: "seen", translationMm: 3 };
    expect(splintOf(displaced).splint).toMatchObject({ joints: ["DIP", "PIP", "MCP", "wrist"], days: { to: 7 } });
    expect(splintOf(without({ ...ADULT, ...five }, "restOfPhalanx")).text).toMatch(/^Rest of the phalanx not judged/);
  });
  it.each<[string, Facts]>([
    ["drooping tip, no true lateral", { activeExtension: "lag", trueLateral: "not-taken" }],
    ["dorsal lip, no true lateral", { fractureSite: "base-dorsal", trueLateral: "not-taken" }],
    ["tuft, drooping tip, no true lateral", { fractureSite: "tuft", activeExtension: "lag", trueLateral: "not-taken" }],
    [
      "open tuft, drooping tip, no true lateral",
      { fractureSite: "tuft", activeExtension: "lag", trueLateral: "not-taken", openness: "open-skin" },
    ],
    ["drooping tip, no film at all", { activeExtension: "lag", filmTaken: "no" }],
  ])("%s: the end joint is protected until the film, with one splint", (_, found) => {
    const { splints } = told({ ...ADULT, ...found }).assessment;
    expect(splints.map((l) => [l.splint.joints, l.splint.days.to])).toEqual([[["DIP"], 7]]);
  });
  it("a child's tuft is capped 2 to 3 weeks, open or closed", () => {
    for (const openness of ["closed", "open-skin"])
      expect(splintOf({ ...CHILD, fractureSite: "tuft", openness }).splint).toMatchObject({
        joints: [],
        days: { from: 14, to: 21 },
      });
  });
  it.each(["no-fracture-seen", "tuft"])(
    "a reduced dislocation is splinted 2 to 3 weeks and filmed (%s)",
    (fractureSite) => {
      const a = told({ ...ADULT, jointDislocated: "reduced", fractureSite });
      expect(a.assessment.splints[0]!.splint).toMatchObject({ joints: ["DIP"], days: { from: 14, to: 21 } });
      expect(a.assessment.today.map((l) => l.text).join()).toContain("Film after the reduction");
      expect(a.visits).toContain("film-true-lateral 7-14");
    },
  );
  it("displacement of a joint fracture not judged: splinted for the way as if displaced, and said so", () => {
    const a = told(without({ ...ADULT, fractureSite: "base-both-sides" }, "displacement", "jointStepMm"));
    expect(a.assessment.splints[0]!.text).toMatch(/^Displacement not judged/);
    expect(a.assessment.visits.find((v) => v.purpose === "surgeon-review")!.check).toMatch(/^Displacement not judged/);
  });
  it("Seymour: 4 weeks", () =>
    expect(splintOf({ ...CHILD, nailPlate: "over-fold", salterHarris: "I" }).splint.days).toEqual({
      from: 28,
      to: 28,
    }));
  it("shows the sources on the tuft side by side, the longer and the shorter as dissent", () => {
    const { sources } = splintOf({ ...ADULT, fractureSite: "tuft" });
    expect(sources.filter((s) => s.says === "for").map((s) => s.source)).toEqual(["EATON", "ORTHONET", "ANESKEY"]);
    expect(sources.filter((s) => s.says === "against").map((s) => [s.source, s.strength])).toEqual([
      ["AAFP22", "C"],
      ["COMMON-PRACTICE", "CP"],
    ]);
  });
  it("a mallet splint says that a dropped tip restarts the clock", () =>
    expect(splintOf({ ...ADULT, fractureSite: "base-dorsal" }).text).toContain("starts again"));
  it("follows a site that keeps shafts in a splint for 4 weeks", () => {
    const site = pathwayWith({ "distalPhalanx.shaft.toDays": 28 });
    expect(told({ ...ADULT, fractureSite: "shaft" }, site).assessment.splints[0]!.splint.days.to).toBe(28);
  });
  /* RAMOS18: such breaks were treated in a splint too; days and joints are those of the class (4.1: the middle joint free), common practice. */
  describe("of a break through a bone lesion", () => {
    const lesion = { boneLesion: "yes", mechanism: "no-adequate-trauma" };
    it.each<[string, Facts, [number, number]]>([
      ["bony mallet: 6 to 8 weeks", { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20 }, [42, 56]],
      [
        "mallet of the tendon beside a tuft: 8 weeks",
        { ...ADULT, fractureSite: "tuft", activeExtension: "lag" },
        [56, 56],
      ],
      ["both sides of the base: 4 to 6 weeks", { ...ADULT, fractureSite: "base-both-sides" }, [28, 42]],
      ["joint surface pushed in: 4 to 6 weeks", { ...ADULT, fractureSite: "base-central" }, [28, 42]],
      ["child's closed growth plate: 3 to 4 weeks", { ...CHILD, fractureSite: "physis", salterHarris: "II" }, [21, 28]],
      [
        "child's tender plate without a visible break: until the second film on day 10 to 14",
        { ...CHILD, mechanism: "crush", physisTender: "yes" },
        [10, 14],
      ],
    ])("%s, the end joint alone, middle joint and wrist free", (_, found, [from, to]) => {
      const { splints } = told({ ...lesion, ...found, boneLesion: "yes" }).assessment;
      expect(splints.map((l) => [l.splint.joints, l.splint.free, l.splint.days])).toEqual([
        [["DIP"], ["PIP", "MCP", "wrist"], { from, to }],
      ]);
    });
    it("a lag of 15 degrees: 2 to 4 weeks more once the full time in the splint is over, and not before the first course", () => {
      const mallet = { ...ADULT, ...lesion, fractureSite: "tuft", activeExtension: "lag", lagDegrees: 15 };
      const days = (facts: Facts) => told(facts).assessment.splints.map((l) => [l.splint.days.from, l.splint.days.to]);
      const over = { presentation: "again", fullSplintTimeDone: "yes", hoursSinceInjury: 60 * 24 };
      expect(days({ ...mallet, ...over })).toEqual([[14, 28]]);
      expect(days(mallet)).toEqual([[56, 56]]);
    });
  });
  it("falls silent when an exit takes the case off the ordinary pathway", () => {
    const a = told({ ...ADULT, fractureSite: "tuft", mechanism: "high-pressure-injection" });
    expect(a).toMatchObject({ urgency: "NOW", calls: [] });
    expect(a.assessment.splints).toEqual([]);
    expect(a.assessment.visits).toEqual([]);
  });
});

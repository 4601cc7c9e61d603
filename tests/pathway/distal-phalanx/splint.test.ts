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
  it("falls silent when an exit takes the case off the ordinary pathway", () => {
    const a = told({ ...ADULT, fractureSite: "tuft", mechanism: "high-pressure-injection" });
    expect(a).toMatchObject({ urgency: "NOW", calls: [] });
    expect(a.assessment.splints).toEqual([]);
    expect(a.assessment.visits).toEqual([]);
  });
});

import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, distalPhalanx, told, without } from "./records.ts";

const classesOf = (facts: Facts) => told(facts).classes;

describe("tuft and shaft", () => {
  it.each<[string, Facts, string]>([
    ["one line through the tuft", { fractureSite: "tuft" }, "TUFT-S"],
    ["tuft in many pieces", { fractureSite: "tuft", fracturePattern: "comminuted" }, "TUFT-C"],
    ["transverse shaft, in place", { fractureSite: "shaft", fracturePattern: "transverse" }, "SHAFT-T0"],
    [
      "transverse shaft, 2 mm step",
      { fractureSite: "shaft", fracturePattern: "transverse", displacement: "seen", translationMm: 2 },
      "SHAFT-T1",
    ],
    [
      "transverse shaft, 10 degrees tilt",
      { fractureSite: "shaft", fracturePattern: "oblique", displacement: "seen", angulationDegrees: 10 },
      "SHAFT-T1",
    ],
    [
      "transverse shaft, no contact",
      { fractureSite: "shaft", fracturePattern: "transverse", displacement: "seen", corticalContact: "none" },
      "SHAFT-T1",
    ],
    [
      "transverse shaft, nail plane twisted",
      { fractureSite: "shaft", fracturePattern: "transverse", nailPlaneRotation: "rotated" },
      "SHAFT-T1",
    ],
    [
      "seen to be displaced, but under every limit",
      {
        fractureSite: "shaft",
        fracturePattern: "transverse",
        displacement: "seen",
        translationMm: 1.9,
        angulationDegrees: 9.9,
      },
      "SHAFT-T0",
    ],
    [
      "open, nail bed in the gap",
      { fractureSite: "shaft", fracturePattern: "transverse", openness: "open-nail-bed", nailBedInGap: "yes" },
      "SHAFT-T1",
    ],
    ["line along the shaft", { fractureSite: "shaft", fracturePattern: "longitudinal" }, "SHAFT-L"],
    ["wedge of the shaft", { fractureSite: "shaft", fracturePattern: "wedge" }, "SHAFT-C"],
    ["adult base outside the joint", { fractureSite: "base-extra-articular", fracturePattern: "transverse" }, "BASE-X"],
  ])("%s", (_, found, name) => expect(classesOf({ ...ADULT, ...found })).toEqual([name]));

  it("no film pattern yet: neither of the two shaft classes is assumed, both stay possible", () => {
    const a = told(without({ ...ADULT, fractureSite: "shaft" }, "fracturePattern"));
    expect(a.classes).toEqual([]);
    expect(a.possible).toEqual(expect.arrayContaining(["SHAFT-T0", "SHAFT-L", "SHAFT-C"]));
    expect(a.assessment.state).toBe("cannot-decide");
    expect(a.assessment.ask).toEqual(["fracturePattern"]);
  });
  it("a tuft fracture with a drooping tip carries both labels", () => {
    expect(classesOf({ ...ADULT, fractureSite: "tuft", activeExtension: "lag" })).toEqual([
      "TENDINOUS-MALLET",
      "TUFT-S",
    ]);
  });
});

describe("base of the adult", () => {
  it.each<[string, Facts, string[]]>([
    ["dorsal lip", { fractureSite: "base-dorsal" }, ["MALLET"]],
    ["droop without a fragment", { activeExtension: "lag" }, ["TENDINOUS-MALLET"]],
    ["volar flake, flexor works", { fractureSite: "base-volar" }, ["VOLAR-CHIP"]],
    ["volar fragment, flexor lost", { fractureSite: "base-volar", activeFlexion: "absent" }, ["JERSEY"]],
    ["volar fragment, flexor weak", { fractureSite: "base-volar", activeFlexion: "weak" }, ["JERSEY"]],
    ["flexor lost, film normal", { activeFlexion: "absent" }, ["JERSEY"]],
    ["both sides", { fractureSite: "base-both-sides" }, ["COMBINED-BASE"]],
    [
      "volar avulsion and broken phalanx",
      { fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture", activeFlexion: "absent" },
      ["JERSEY", "COMBINED-BASE"],
    ],
    ["centre of the joint", { fractureSite: "base-central" }, ["PILON-BASE"]],
    ["good films, nothing broken", {}, ["NO-FRACTURE-SEEN"]],
    ["good films, flexor weak", { activeFlexion: "weak" }, ["TENDON-NOT-CLEARED"]],
    ["good films, bending not testable", { activeFlexion: "cannot-test" }, ["TENDON-NOT-CLEARED"]],
    ["good films, straightening not testable", { activeExtension: "cannot-test" }, ["TENDON-NOT-CLEARED"]],
    ["good films, joint was out", { jointDislocated: "reduced" }, ["DISLOCATION-REDUCED"]],
  ])("%s", (_, found, names) => expect(classesOf({ ...ADULT, ...found })).toEqual(names));

  it.each(["base-dorsal", "base-volar", "base-both-sides", "base-central", "base-extra-articular", "no-fracture-seen"])(
    "%s without a true lateral gets no class, only the request for the view",
    (fractureSite) => {
      const a = told({ ...ADULT, fractureSite, trueLateral: "not-taken" });
      expect(a.classes).toEqual([]);
      expect(a.blocked).toBe(true);
      expect(a.assessment.state).toBe("cannot-decide");
      expect(a.assessment.today.map((l) => l.text).join()).toContain("true lateral");
    },
  );
});

describe("a droop that pain hides", () => {
  const TODDLER = {
    ...CHILD,
    ageYears: 1.5,
    weightKg: 11,
    fractureSite: "tuft",
    nailPlate: "avulsed-at-fold",
    bloodAtNailFold: "yes",
    openness: "open-nail-bed",
    nailBed: "simple",
    activeExtension: "cannot-test",
    physis: "cannot-judge",
  };
  it("toddler with a torn nail fold, plate not judged, tip not testable: never settled as a tuft, a surgeon looks today", () => {
    const a = told(TODDLER);
    expect(a.classes).toEqual(["POSSIBLE-PHYSEAL"]);
    expect(a.urgency).toBe("D0");
    expect(a.calls).toContain("must-refer");
    expect(told(without(TODDLER, "restingPosition")).possible).toContain("SEYMOUR");
    expect(told(without(TODDLER, "restingPosition")).assessment.state).not.toBe("settled");
  });
  it("the tip droops at rest: a Seymour fracture although nobody could test it", () =>
    expect(told({ ...TODDLER, restingPosition: "droops" })).toMatchObject({
      classes: ["SEYMOUR"],
      antibiotic: ["yes"],
    }));
  it("plate judged on a true lateral and the tip in line with its neighbours: a tuft", () => {
    expect(told({ ...TODDLER, physis: "open" }).classes).toEqual(["TUFT-S"]);
    expect(told({ ...TODDLER, physis: "open", trueLateral: "not-taken" }).classes).not.toContain("TUFT-S");
  });
});

describe("published names", () => {
  it.each(["I", "II", "III", "IV", "V"])("Salter-Harris %s is named in a child and not in an adult", (salterHarris) => {
    const found = { fractureSite: "physis", salterHarris };
    expect(told({ ...CHILD, ...found }).published).toContain(`SALTER-HARRIS-${salterHarris}`);
    expect(told({ ...ADULT, ...found }).published).toEqual([]);
  });
  it("type A of the mallet equivalents stands beside a Seymour fracture, open or closed", () => {
    const droop = { ...CHILD, fractureSite: "physis", salterHarris: "II", activeExtension: "lag" };
    expect(told(droop)).toMatchObject({ classes: ["SEYMOUR-PATTERN-CLOSED"] });
    expect(told(droop).published).toContain("EQUIVALENT-A");
    expect(told({ ...droop, nailPlate: "missing" }).published).toContain("EQUIVALENT-A");
  });
  it("each say what they stand for, in words of their own", () => {
    const named = Object.values(distalPhalanx.classes).filter((c) => c.scheme);
    for (const { definition, name, scheme } of named) {
      expect(definition, name).not.toBe(scheme);
      expect(definition.length, name).toBeGreaterThan(10);
    }
    expect(distalPhalanx.classes["DOYLE-II"]!.definition).toMatch(/[Oo]pen.*tendon cut/);
    expect(distalPhalanx.classes["LEDDY-I"]!.definition).toMatch(/palm/);
  });
});

describe("AO/OTA suggestion", () => {
  it.each<[string, Facts, string[]]>([
    [
      "simple shaft of the middle finger (read in the AO handbook)",
      { fractureSite: "shaft", digit: "middle" },
      ["AO/OTA 78.3.3.2A (suggested)"],
    ],
    ["simple tuft of the index (read)", { fractureSite: "tuft", digit: "index" }, ["AO/OTA 78.2.3.2A (suggested)"]],
    [
      "tuft in pieces, little finger (read)",
      { fractureSite: "tuft", fracturePattern: "comminuted", digit: "little" },
      ["AO/OTA 78.5.3.2C (suggested)"],
    ],
    [
      "bony mallet of the middle finger (from memory)",
      { fractureSite: "base-dorsal", digit: "middle" },
      ["AO/OTA 78.3.3.1B (suggested)"],
    ],
    ["tuft of the thumb (from memory)", { fractureSite: "tuft", digit: "thumb" }, ["AO/OTA 78.1.3.3A (suggested)"]],
    ["no fracture", {}, []],
  ])("%s", (_, found, names) => expect(told({ ...ADULT, ...found }).ao).toEqual(names));
  it("is left blank in a child, and says where it is only remembered", () => {
    expect(told({ ...CHILD, fractureSite: "tuft" }).ao).toEqual([]);
    const mallet = told({ ...ADULT, fractureSite: "base-dorsal" }).assessment.classes.find((c) =>
      c.class.startsWith("AO-"),
    )!;
    expect(mallet.sources.some((s) => s.source === "FROM-MEMORY")).toBe(true);
  });
});

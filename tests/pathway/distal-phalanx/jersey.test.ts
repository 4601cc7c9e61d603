import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, told, without } from "./records.ts";

const TORN = { ...ADULT, digit: "ring", mechanism: "forced-extension", activeFlexion: "absent" };

describe("type after Leddy and Packer", () => {
  it.each<[string, Facts, string]>([
    ["no fragment, tendon in the palm", { tendonEndAt: "palm" }, "LEDDY-I"],
    ["no fragment, level not known", { tendonEndAt: "not-located" }, "LEDDY-I-OR-II"],
    ["no fragment, tendon at the middle joint", { tendonEndAt: "pip" }, "LEDDY-II"],
    ["flake at the middle joint", { fractureSite: "base-volar", volarFragmentAt: "pip" }, "LEDDY-II"],
    [
      "large fragment at the joint, level not known",
      { fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" },
      "LEDDY-III",
    ],
    [
      "large fragment at the joint, tendon in the palm",
      { fractureSite: "base-volar", volarFragmentAt: "dip-or-a4", tendonEndAt: "palm" },
      "LEDDY-IV",
    ],
    [
      "avulsion and extra-articular fracture",
      { fractureSite: "base-volar", restOfPhalanx: "extra-articular-fracture" },
      "LEDDY-VA",
    ],
    [
      "avulsion and intra-articular fracture",
      { fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture" },
      "LEDDY-VB",
    ],
  ])("%s", (_, found, name) => expect(told({ ...TORN, ...found }).published).toEqual([name]));
  it("type III is called provisional, and type IV is not excluded by film", () => {
    const a = told({ ...TORN, fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" }).assessment;
    expect(a.classes.find((c) => c.class === "LEDDY-III")!.name).toContain("IV not excluded");
    expect(a.warnings.map((w) => w.rule)).toContain("JER-3");
  });
});

describe("what follows from a lost deep flexor", () => {
  it("next working day at the latest, also when the film is normal", () => {
    const a = told(TORN);
    expect(a.urgency).toBe("D1");
    expect(a.calls).toEqual(["operative"]);
    expect(a.visits).toContain("surgeon-review 0-1");
    expect(a.visits).toContain("surgeon-review 2-10");
  });
  it("is blocked from straightening for the way", () => {
    expect(told(TORN).assessment.splints[0]!.splint.position).toContain("must not straighten");
  });
  it("untested after a grip pulled open counts as torn; untested after a crush is tested again, never taken as normal", () => {
    expect(told({ ...TORN, activeFlexion: "cannot-test" }).urgency).toBe("D1");
    const crushed = told({ ...ADULT, fractureSite: "tuft", activeFlexion: "cannot-test" });
    expect(crushed.urgency).toBe("W1");
    expect(crushed.visits).toContain("clinic 3-5");
    expect(crushed.assessment.tasks.map((t) => t.text).join()).toContain("Test the deep flexor again");
  });
  it("type V hardly displaced may be treated without operation, displaced is operated with a warning", () => {
    const five = { ...TORN, fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture" };
    expect(told(five).calls).toEqual(["options"]);
    expect(told({ ...five, displacement: "seen", translationMm: 3 }).calls).toEqual(["operative", "operative"]);
  });
  it("a cut with a lost flexor is a cut tendon, not an avulsion", () => {
    const a = told({ ...TORN, mechanism: "laceration", openness: "open-skin" });
    expect(a.classes).not.toContain("JERSEY");
    expect(a.assessment.exits.map((e) => e.effect.title)).toContain("Cut flexor tendon");
  });
  it("not examined yet: stays possible, the more urgent of the two stands, and it is asked for", () => {
    const a = told(without({ ...ADULT, fractureSite: "tuft" }, "activeFlexion"));
    expect(a.possible).toContain("JERSEY");
    expect(a.urgency).toBe("D1");
    expect(a.assessment.urgency.open).toBe(true);
    expect(a.assessment.ask).toContain("activeFlexion");
  });
});

describe("combined base", () => {
  it("hardly displaced: a splint is enough, with the dissent shown", () => {
    const line = told({ ...ADULT, fractureSite: "base-both-sides" }).assessment.management[0]!;
    expect(line.effect.call).toBe("non-operative");
    expect(line.sources.map((s) => `${s.says} ${s.source}`)).toEqual(["for VIENNA24", "against CH35"]);
  });
  it("displaced: operated, next working day", () => {
    const a = told({ ...ADULT, fractureSite: "base-both-sides", displacement: "seen", jointStepMm: 1 });
    expect(a).toMatchObject({ calls: ["operative"], urgency: "D1" });
  });
});

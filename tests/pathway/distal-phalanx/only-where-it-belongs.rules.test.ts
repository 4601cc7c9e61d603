import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told, without } from "./records.ts";

/* Lines that belong to one injury are not said of another. The days and limits themselves are tested beside their classes. */
const HOURS_A_DAY = 24;
const later = (facts: Facts) => told(facts).assessment.later.map((l) => l.text);
const warned = (facts: Facts) => told(facts).assessment.warnings.map((w) => w.text);
const todo = (facts: Facts) => told(facts).assessment.today.map((t) => t.text);

describe("what belongs to a torn flexor", () => {
  it("is not said of another finger seen after three months, nor its splint put on", () => {
    const late = { ...ADULT, hoursSinceInjury: 100 * HOURS_A_DAY };
    const plan = told({ ...late, fractureSite: "tuft" });
    expect(plan.calls).toEqual(["non-operative"]);
    expect(plan.assessment.splints.flatMap((s) => s.splint.joints)).not.toContain("wrist");
    expect(told({ ...late, activeFlexion: "absent" }).calls).toEqual(["options"]);
  });
  it("a tuft, a mallet or a bruise seen on day 12 is not told that the day of the tendon has passed; a tendon drawn back to the palm is, with or without its flake", () => {
    const passed = (facts: Facts) =>
      told({ ...ADULT, hoursSinceInjury: 12 * HOURS_A_DAY, ...facts }).assessment.tasks.filter((t) =>
        /Day 10 has passed: ask the hand surgeon now whether/.test(t.text),
      ).length;
    expect(passed({})).toBe(0);
    for (const fractureSite of ["tuft", "shaft", "base-dorsal"]) expect(passed({ fractureSite })).toBe(0);
    const torn = { activeFlexion: "absent", mechanism: "forced-extension" };
    expect(passed(torn)).toBe(1);
    for (const volarFragmentAt of ["none", "pip", "palm"])
      expect(passed({ ...torn, fractureSite: "base-volar", volarFragmentAt }), volarFragmentAt).toBe(1);
    expect(passed({ ...torn, fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" })).toBe(0);
  });
  it("its own bone pulled off is proof enough: operated, and no ultrasound asks whether it is torn", () => {
    for (const cause of [{ restingPosition: "too-straight" }, { mechanism: "forced-extension" }]) {
      const off = { ...ADULT, ...cause, fractureSite: "base-volar", activeFlexion: "weak" };
      expect(told(off).calls).toEqual(["operative"]);
      expect(todo(off).filter((t) => /Ultrasound/.test(t))).toEqual([]);
    }
  });
  it("a mallet with a slipped joint is not stretched straight while the flexor may be torn: one splint, and it blocks straightening", () => {
    const slipped = { ...ADULT, fractureSite: "base-dorsal", jointPosition: "volar-subluxed" };
    const held = (facts: Facts) => told(facts).assessment.splints.map((s) => s.splint.what);
    expect(held(slipped)).toEqual(["Extension splint, on trial"]);
    expect(held({ ...slipped, activeFlexion: "weak", restingPosition: "too-straight" })).toEqual([
      "Dorsal block splint",
    ]);
  });
  it("both sides of the base broken and the flexor not tested yet: it is asked for, and nobody is splinted to the wrist on a guess", () => {
    const base = { ...ADULT, fractureSite: "base-volar", restOfPhalanx: "extra-articular-fracture" };
    const open = told(without({ ...base, displacement: "seen", translationMm: 3 }, "activeFlexion")).assessment;
    expect(open.ask).toEqual(["activeFlexion"]);
    expect(open.splints).toEqual([]);
  });
});

describe("what belongs to a tendon that has come off its fragment", () => {
  it("bone first, then tendon, is said on day 12 only when its end was found away from the fragment", () => {
    const torn = { ...ADULT, activeFlexion: "absent", fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" };
    const type4 = (tendonEndAt: string, days: number) =>
      told({ ...torn, tendonEndAt, hoursSinceInjury: days * HOURS_A_DAY }).assessment.tasks.some((t) =>
        /bone first, then the tendon/.test(t.text),
      );
    for (const away of ["pip", "palm"]) {
      expect(type4(away, 12)).toBe(true);
      expect(type4(away, 2)).toBe(false);
    }
    for (const attached of ["dip-or-a4", "not-located"]) expect(type4(attached, 12)).toBe(false);
  });
});

describe("what belongs to an unstable fracture", () => {
  it("hand work waits for the wire only there, not with a tuft or a shaft in place", () => {
    const waits = (facts: Facts) =>
      told(facts).assessment.advice.some((a) => /Hand work: not before the wire is out/.test(a.text));
    expect(waits({ ...ADULT, fractureSite: "shaft", displacement: "seen", corticalContact: "none" })).toBe(true);
    expect(waits({ ...ADULT, fractureSite: "shaft" })).toBe(false);
    expect(waits({ ...ADULT, fractureSite: "tuft" })).toBe(false);
    expect(waits(ADULT)).toBe(false);
  });
});

describe("what belongs to good films without a fracture", () => {
  it("a tendon that is not cleared is named only when no fracture was seen, whatever else is recorded of a grown bone", () => {
    const weak = { ...ADULT, activeFlexion: "weak" };
    expect(told(weak).classes).toContain("TENDON-NOT-CLEARED");
    for (const fractureSite of [
      "tuft",
      "shaft",
      "base-dorsal",
      "base-volar",
      "base-both-sides",
      "base-central",
      "physis",
    ])
      expect(told({ ...weak, fractureSite }).classes, fractureSite).not.toContain("TENDON-NOT-CLEARED");
  });
});

describe("what belongs to a drooping tip", () => {
  it("the lag weeks later is foretold of a mallet only", () => {
    const lag = (lines: readonly string[]) => lines.filter((l) => /droop/.test(l)).length;
    expect(lag(later({ ...ADULT, activeExtension: "lag" }))).toBe(1);
    expect(lag(later({ ...ADULT, fractureSite: "tuft" }))).toBe(0);
    expect(lag(later({ ...ADULT, fractureSite: "shaft" }))).toBe(0);
  });
  it("the surgeon is told why a small bony mallet is shown this week: a gap, or a splint that will not stay on", () => {
    const mallet = { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20 };
    const why = (facts: Facts) =>
      told(facts)
        .assessment.visits.filter((v) => v.purpose === "surgeon-review")
        .map((v) => v.check);
    expect(why(mallet)).toEqual([]);
    expect(why({ ...mallet, displacement: "seen", fragmentGapMm: 3 })).toEqual(["Gap at the fragment: splint or pin?"]);
    // RADREF-M: over 2 mm
    expect(why({ ...mallet, displacement: "seen", fragmentGapMm: 2 })).toEqual([]);
    expect(why({ ...mallet, displacement: "none-seen", fragmentGapMm: 3 })).toEqual([]);
    const tendon = { ...ADULT, fractureSite: "tuft", activeExtension: "lag" };
    expect(why({ ...tendon, displacement: "seen", fragmentGapMm: 3 })).toEqual([]);
    expect(why({ ...mallet, cannotKeepSplint: "yes" })).toEqual(["Splint cannot be kept on: wire, or a carer's help?"]);
  });
});

describe("what belongs to a dislocation of the end joint", () => {
  it("after it was put back the middle joint stays free, whichever way it had gone (AAFP22: 2 to 3 weeks)", () => {
    for (const dislocationDirection of ["dorsal", "volar"]) {
      const { splints } = told({ ...ADULT, jointDislocated: "reduced", dislocationDirection }).assessment;
      expect(splints.map((s) => [s.splint.joints, s.splint.free.includes("PIP"), s.splint.days])).toEqual([
        [["DIP"], true, { from: 14, to: 21 }],
      ]);
    }
  });
  it("seen late and never put back is told as that; a turned piece of the growth plate as its own", () => {
    const titles = (facts: Facts) => told(facts).assessment.exits.map((e) => e.effect.title);
    const late = { hoursSinceInjury: 40 * HOURS_A_DAY };
    const dislocated = titles({ ...ADULT, ...late, jointDislocated: "irreducible" });
    expect(dislocated).toContain("Dislocation seen late");
    expect(dislocated).not.toContain("Turned piece of the growth plate seen late");
    const turned = titles({
      ...CHILD,
      ...late,
      fractureSite: "physis",
      salterHarris: "III",
      epiphysisTurned: "turned-tendon-attached",
    });
    expect(turned).toContain("Turned piece of the growth plate seen late");
    expect(turned).not.toContain("Dislocation seen late");
  });
});

describe("what belongs to a wound", () => {
  it("a thin needle and firm pressure for a bleeding tendency, only where an injection may be due", () => {
    const needle = (facts: Facts) => warned({ ...facts, bleedingTendency: "yes" }).some((w) => /thin needle/.test(w));
    expect(needle({ ...ADULT, fractureSite: "tuft", openness: "open-skin" })).toBe(true);
    expect(needle({ ...ADULT, fractureSite: "tuft" })).toBe(false);
  });
  it("an open tuft with glass in it and no block to be had: one line on the wash-out, left open for the hand team", () => {
    const tuft = { ...ADULT, fractureSite: "tuft", nailBed: "simple", localAnaestheticAllergy: "yes" };
    const washed = (facts: Facts) =>
      told(facts).assessment.today.flatMap((t) =>
        t.effect.kind === "today" && t.effect.topic === "wash-out" ? [t.text] : [],
      );
    expect(washed({ ...tuft, foreignBody: "yes" })).toEqual([expect.stringMatching(/leave it open/)]);
    expect(washed(tuft)).toEqual([expect.stringMatching(/without a block/)]);
  });
  it("an allergy to the usual anaesthetic brings nobody to the surgeon who needs no injection", () => {
    const reviews = (facts: Facts) =>
      told({ ...facts, localAnaestheticAllergy: "yes" }).visits.filter((v) => v.startsWith("surgeon-review"));
    expect(reviews({ ...ADULT, fractureSite: "tuft" })).toEqual([]);
    expect(reviews({ ...ADULT, fractureSite: "tuft", nailBed: "simple" })).toEqual(["surgeon-review 0-1"]);
  });
  it("which repair waits for the hand team without a block is named: the nail lifted, or only its bed sewn", () => {
    const awaited = (facts: Facts) =>
      told({ ...ADULT, ...facts, localAnaestheticAllergy: "yes" }).assessment.visits.flatMap(
        (v) => v.check.match(/Nail.* without a finger block here/) ?? [],
      );
    expect(awaited({ bloodAtNailFold: "yes" })).toEqual(["Nail lifted and repaired without a finger block here"]);
    expect(awaited({ nailBed: "simple" })).toEqual(["Nail bed repaired without a finger block here"]);
  });
  it("paint under pressure: no block at all; a sick liver: less of it", () => {
    const block = (facts: Facts) => warned(facts).filter((w) => /finger block|ceiling for local/.test(w));
    expect(block({ ...ADULT, mechanism: "high-pressure-injection" })).toEqual([
      expect.stringMatching(/^High-pressure injection: no finger block/),
    ]);
    expect(block({ ...ADULT, fractureSite: "tuft", openness: "open-skin", liverOrHeartDisease: "yes" })).toEqual([
      expect.stringMatching(/^Liver, kidney or heart disease: stay well below/),
    ]);
  });
});

describe("what belongs to blood under the nail", () => {
  it.each(["under-quarter", "quarter-to-half", "over-half"])(
    "%s: drained when fresh and painful, whatever the size",
    (haematoma) => {
      const painful = { ...ADULT, haematoma, haematomaPainful: "yes" };
      const drain = (facts: Facts) => todo(facts).some((t) => /^Clean the nail/.test(t));
      expect(drain(painful)).toBe(true);
      expect(drain({ ...painful, immuneCompromise: "yes" })).toBe(false);
      expect(drain({ ...ADULT, haematoma: "none", haematomaPainful: "yes" })).toBe(false);
      const clotted = (facts: Facts) => todo({ ...facts, hoursSinceInjury: 60 }).some((t) => /clotted/.test(t));
      expect(clotted(painful)).toBe(true);
      expect(clotted({ ...painful, nailPlate: "split" })).toBe(false);
      const noLateral = { haematoma, fractureSite: "tuft", trueLateral: "not-taken" };
      const look = (facts: Facts) => todo(facts).some((t) => /look at the true lateral first/.test(t));
      expect(look({ ...CHILD, ...noLateral })).toBe(true);
      expect(look({ ...ADULT, ...noLateral })).toBe(false);
    },
  );
  it("over a displaced shaft: not only drained while the nail sits; torn out at the fold it is lifted, and nothing more is said of draining", () => {
    const shaft = { ...ADULT, fractureSite: "shaft", displacement: "seen", translationMm: 3, haematoma: "over-half" };
    const said = (facts: Facts) => todo(facts).filter((t) => /only drain/.test(t));
    for (const nailPlate of ["intact-seated", "loose-distally"])
      expect(said({ ...shaft, nailPlate }), nailPlate).toEqual([
        expect.stringMatching(/^Displaced fracture under the nail/),
      ]);
    for (const nailPlate of ["avulsed-at-fold", "over-fold", "missing", "split"])
      expect(said({ ...shaft, nailPlate }), nailPlate).toEqual([expect.stringMatching(/^Nail torn, lifted or split/)]);
  });
  it("weak defence, and nobody has asked yet whether it hurts: no word on an antibiotic until that is answered", () => {
    const blood = { ...ADULT, haematoma: "over-half", immuneCompromise: "yes" };
    const asked = told(without(blood, "haematomaPainful"));
    expect(asked.assessment.ask).toContain("haematomaPainful");
    expect(asked.antibiotic).toEqual([]);
    expect(told({ ...blood, haematomaPainful: "no" }).antibiotic).toEqual(["no"]);
    expect(told({ ...blood, haematomaPainful: "yes" }).antibiotic).toEqual(["consider"]);
  });
});

describe("what belongs to a broken bone", () => {
  const heads = (facts: Facts) => later(facts).map((l) => l.split(/[:,]/)[0]);
  it("a bruise is told of nothing to come, in a child and over a tender plate too: no tilt, no hooked nail, no lucency", () => {
    for (const facts of [ADULT, CHILD, { ...CHILD, physisTender: "yes", mechanism: "fall" }])
      expect(later(facts)).toEqual([]);
  });
  it("a painless broken tuft is told of tilt, tenderness and a lucency, not of its nail; blood under the nail alone of the nail only", () => {
    const tuft = { ...ADULT, fractureSite: "tuft" };
    expect(heads(tuft)).toEqual(
      expect.arrayContaining(["After 3 months", "Tip sore", "New lucency on a late film", "At any visit"]),
    );
    expect(later(tuft).filter((l) => /nail ridged/.test(l))).toEqual([]);
    const blood = { ...ADULT, haematoma: "over-half" };
    expect(heads(blood)).toEqual(["Months 4 to 9"]);
  });
});

describe("what belongs to a child's growth plate", () => {
  it("tender, nothing on the film: a hidden break is thought of after a crush, or when the tip droops, not after any other blow", () => {
    const tender = { ...CHILD, physisTender: "yes" };
    expect(told({ ...tender, mechanism: "crush" }).classes).toEqual(["POSSIBLE-PHYSEAL"]);
    for (const mechanism of ["fall", "axial-load", "forced-flexion", "other"]) {
      expect(told({ ...tender, mechanism }).classes, mechanism).toEqual(["NO-FRACTURE-SEEN"]);
      expect(told({ ...tender, mechanism, activeExtension: "lag" }).classes, mechanism).toEqual(["POSSIBLE-PHYSEAL"]);
    }
  });
  it("a plate whose piece has turned is opened the same day and has no second plan, however much the tip droops", () => {
    for (const epiphysisTurned of ["turned-tendon-attached", "separated-tendon-avulsed"])
      for (const found of [{ salterHarris: "II" }, { dorsalPhysealWidening: "yes" }]) {
        const turned = told({ ...CHILD, ...found, epiphysisTurned, activeExtension: "lag" });
        expect(turned.classes).toHaveLength(1);
        expect(turned.classes[0]).toMatch(/^MALLET-EQUIVALENT/);
        expect(turned.calls).toEqual(["operative"]);
        expect(turned.assessment.splints).toHaveLength(1);
      }
  });
});

describe("what belongs to a break through a bone lesion alone", () => {
  it("a bite or a burn beside it: the bitten or burnt finger is not put into the mallet splint, closed or open", () => {
    const mallet = { ...ADULT, boneLesion: "yes", fractureSite: "base-dorsal" };
    for (const openness of ["closed", "open-skin"]) {
      expect(told({ ...mallet, openness, mechanism: "no-adequate-trauma" }).assessment.splints).toHaveLength(1);
      for (const mechanism of ["human-bite", "cat-bite", "burn-or-frostbite", "high-pressure-injection"])
        expect(told({ ...mallet, openness, mechanism }).assessment.splints, mechanism).toEqual([]);
    }
  });
});

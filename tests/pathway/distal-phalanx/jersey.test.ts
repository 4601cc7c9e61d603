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
  it.each(["weak", "cannot-test"])(
    "film normal, grip pulled open, flexor %s: half torn until excluded",
    (activeFlexion) => {
      const a = told({ ...TORN, activeFlexion });
      expect(a).toMatchObject({ classes: ["TENDON-NOT-CLEARED"], urgency: "D1" });
      expect(a.calls).toContain("discuss");
      expect(a.assessment.today.map((l) => l.text).join()).toContain("Ultrasound");
      expect(a.assessment.splints[0]!.splint.position).toContain("must not straighten");
      expect(a.assessment.tasks.map((t) => t.text).join()).toContain("Test the deep flexor again");
    },
  );
  it('seen on day 40: no review in the past, no day 10, no "never", the surgeon is asked whether it can still be put back', () => {
    const a = told({ ...TORN, hoursSinceInjury: 40 * 24 });
    const words = [...a.assessment.tasks, ...a.assessment.warnings].map((l) => l.text).join(" ");
    expect(words).toMatch(/has passed: ask the hand surgeon now/);
    expect(words).not.toMatch(/Repair by day|never/);
    expect(a.visits).toContain("surgeon-review 40-41");
    expect(a.assessment.visits.filter((v) => v.countFrom !== "operation").every((v) => v.earliest >= 40)).toBe(true);
    expect(a.assessment.visits.map((v) => v.check).join()).not.toContain("window closes");
  });
  it("a large fragment: by day 10, then before day 21, then the surgeon's word; the limit is called cautious, not absolute", () => {
    const large = { ...TORN, fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" };
    const taskOn = (day: number) =>
      told({ ...large, hoursSinceInjury: day * 24 })
        .assessment.tasks.map((t) => t.text)
        .join();
    expect(taskOn(3)).toMatch(/Repair by day 10.*21 is the cautious limit/);
    expect(taskOn(12)).toMatch(/Day 10 has passed: repair before day 21/);
    expect(taskOn(30)).toMatch(/Day 21 has passed: ask/);
  });
  it("the clocks of types III and IV are kept apart: a tendon torn off its fragment has no day 21", () => {
    const four = { ...TORN, fractureSite: "base-volar", volarFragmentAt: "dip-or-a4", tendonEndAt: "palm" };
    const said = (day: number) => {
      const a = told({ ...four, hoursSinceInjury: day * 24 }).assessment;
      return [...a.tasks, ...a.warnings].map((l) => l.text).join(" ");
    };
    expect(said(3)).toMatch(/Repair by day 10/);
    expect(said(3) + said(12)).not.toMatch(/21|not excluded/);
    expect(said(12)).toMatch(/Day 10 has passed: ask the hand surgeon now; bone first/);
  });
  it("the last day of a repair is carried as a day after the injury, so that it is said as a date", () => {
    const due = (facts: Facts) =>
      told(facts).assessment.tasks.map((t) => (t.effect.kind === "task" ? t.effect.dueDay : undefined));
    expect(due(TORN)).toEqual([10]);
    expect(due({ ...TORN, fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" })).toEqual([10, 21]);
  });
  it.each<[string, Facts]>([
    ["hardly displaced", {}],
    ["displaced", { displacement: "seen", translationMm: 3 }],
  ])("type V, %s: neither the clock of a type III nor the warning about a type IV", (_, found) => {
    for (const restOfPhalanx of ["extra-articular-fracture", "intra-articular-fracture"]) {
      const five = { ...TORN, fractureSite: "base-volar", restOfPhalanx, volarFragmentAt: "dip-or-a4", ...found };
      const a = told(five).assessment;
      const words = [...a.tasks, ...a.warnings].map((l) => l.text).join(" ");
      expect(words).not.toMatch(/day 10|day 21|type III|IV/i);
      expect(a.management.length).toBe(1);
    }
  });
  it("missed for 4 months: left, fused or grafted, and nobody is told to put the tendon back or that days count", () => {
    const a = told({ ...TORN, tendonEndAt: "palm", hoursSinceInjury: 120 * 24 });
    expect(a.calls).toEqual(["options"]);
    expect(a.assessment.management[0]!.text).toMatch(/leave it, fuse the joint, or staged graft/);
    expect([...a.assessment.tasks, ...a.assessment.today].map((l) => l.text).join()).not.toMatch(
      /put back|Phone the hand surgeon today|by day/,
    );
    const five = { ...TORN, fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture" };
    const displaced = { ...five, displacement: "seen", translationMm: 3 };
    expect(told({ ...displaced, hoursSinceInjury: 120 * 24 }).calls).not.toContain("operative");
    expect(told(displaced).calls).toContain("operative");
  });
  it("missed for 4 months: no splint, and the patient is not told that time counts; the urgent look stays, with the dissent beside it", () => {
    const spoken = (facts: Facts) =>
      told(facts)
        .assessment.advice.map((l) => l.text)
        .join(" ");
    for (const restOfPhalanx of ["intact", "extra-articular-fracture"])
      for (const found of [{}, { displacement: "seen", translationMm: 3 }]) {
        const torn = { ...TORN, fractureSite: "base-volar", restOfPhalanx, volarFragmentAt: "dip-or-a4", ...found };
        expect(told(torn).assessment.splints).toHaveLength(1);
        expect(spoken(torn)).toMatch(/Time counts/);
        for (const days of [90, 120]) {
          const missed = { ...torn, hoursSinceInjury: days * 24 };
          expect(told(missed).assessment.splints).toEqual([]);
          expect(spoken(missed)).not.toMatch(/Time counts/);
          expect(spoken(missed)).toMatch(/came off months ago/);
          expect(told(missed).urgency).toBe("D1");
        }
      }
    const late = told({ ...TORN, hoursSinceInjury: 120 * 24 }).assessment;
    const lost = late.urgency.because.find((l) => l.rule === "DPU-7")!;
    expect(lost.sources.filter((s) => s.says === "against").map((s) => s.source)).toEqual(["DRBABA"]);
  });
  it.each<[string, Facts]>([
    ["day of the injury", without(TORN, "hoursSinceInjury")],
    ["rest of the phalanx", without({ ...TORN, fractureSite: "base-volar" }, "restOfPhalanx")],
    [
      "day of the injury, base displaced",
      without(
        {
          ...TORN,
          fractureSite: "base-volar",
          restOfPhalanx: "intra-articular-fracture",
          jointPosition: "volar-subluxed",
        },
        "hoursSinceInjury",
      ),
    ],
    [
      "day of the injury, base in place",
      without({ ...TORN, fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture" }, "hoursSinceInjury"),
    ],
  ])("%s not known: the tendon is splinted as if fresh", (_story, facts) =>
    expect(told(facts).assessment.splints.map((s) => s.splint.position)).toEqual([
      "Slightly bent, must not straighten",
    ]),
  );
  it.each(["weak", "cannot-test"])(
    "both sides of the base broken, flexor %s: no proof of an avulsion; next working day, ultrasound, discussed, held from straightening",
    (activeFlexion) => {
      const both = { ...ADULT, fractureSite: "base-both-sides", activeFlexion };
      const a = told(both);
      expect(a).toMatchObject({ classes: ["COMBINED-BASE"], urgency: "D1", calls: ["discuss"] });
      expect(a.assessment.today.map((l) => l.text).join()).toContain("Ultrasound");
      expect(a.assessment.splints[0]!.splint.position).toContain("must not straighten");
      const displaced = told({ ...both, displacement: "seen", corticalContact: "none" });
      expect(displaced).toMatchObject({ classes: ["COMBINED-BASE"], urgency: "D1" });
      expect(displaced.calls).toEqual(expect.arrayContaining(["operative", "discuss"]));
      expect(told({ ...both, activeFlexion: "absent" }).classes).toEqual(["JERSEY", "COMBINED-BASE"]);
    },
  );
  it("a weak flexor beside its own bone pulled off is torn: nobody tests it again on day 3 to 5", () => {
    const off = told({ ...ADULT, fractureSite: "base-volar", activeFlexion: "weak", mechanism: "forced-extension" });
    expect(off).toMatchObject({ urgency: "D1", classes: ["JERSEY"] });
    expect(off.assessment.tasks.map((t) => t.text).join()).not.toMatch(/Test the deep flexor again/);
    expect(off.visits).not.toContain("clinic 3-5");
  });
  it("a weak flexor in a finger that lies too straight is half torn until excluded, however it was hurt", () => {
    const weak = { ...ADULT, activeFlexion: "weak" };
    expect(told({ ...weak, restingPosition: "too-straight" })).toMatchObject({
      urgency: "D1",
      calls: ["discuss", "discuss"],
    });
    expect(told({ ...weak, restingPosition: "too-straight" }).assessment.splints[0]!.splint.position).toContain(
      "must not straighten",
    );
    expect(told(weak).urgency).toBe("W1");
    expect(told(without(weak, "restingPosition")).assessment.ask).toEqual(["restingPosition"]);
    expect(told(without(ADULT, "restingPosition")).assessment.ask).toEqual([]);
  });
  it("day of the injury unknown: the shortest clock is kept, and said to be a guess", () => {
    const a = told(without(TORN, "hoursSinceInjury"));
    expect(a.assessment.tasks.map((t) => t.text)).toContain(
      "Day of the injury not known, counted as today. Repair by day 10 after the injury.",
    );
  });
  it("therapy, stitches and wire-out depend on the operation and say so", () => {
    const visits = told(TORN).assessment.visits.filter((v) =>
      ["therapy", "stitches-out", "wire-out"].includes(v.purpose),
    );
    expect(visits.map((v) => v.onlyIf)).toEqual([
      "if operated",
      "if it was stitched",
      "if a wire crosses the end joint",
    ]);
    for (const v of visits) expect(v.check.toLowerCase().startsWith(`${v.onlyIf}: `)).toBe(true);
  });
  it("type V hardly displaced may be treated without operation, displaced is operated with a warning", () => {
    const five = { ...TORN, fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture" };
    expect(told(five).calls).toEqual(["options"]);
    expect(told({ ...five, displacement: "seen", translationMm: 3 }).calls).toEqual(["operative"]);
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
  it("displaced with the flexor off it: one line says joint first, then tendon", () => {
    const both = { ...ADULT, fractureSite: "base-both-sides", displacement: "seen", jointStepMm: 2 };
    const lines = told({ ...both, activeFlexion: "absent" }).assessment.management.map((l) => l.rule);
    expect(lines).toContain("CMB-6");
    expect(lines).not.toContain("CMB-1");
  });
  it("displaced: operated, next working day", () => {
    const a = told({ ...ADULT, fractureSite: "base-both-sides", displacement: "seen", jointStepMm: 1 });
    expect(a).toMatchObject({ calls: ["operative"], urgency: "D1" });
    // no schedule of a splint treatment as if it were settled
    expect(a.visits).toContain("surgeon-review 0-1");
    expect(a.visits).not.toContain("film 27-29");
    expect(a.assessment.splints.map((l) => l.splint.what)).toEqual(["Splint of the end joint for the way"]);
    expect(told({ ...ADULT, fractureSite: "base-central", displacement: "seen", jointStepMm: 1 }).visits).toContain(
      "surgeon-review 0-1",
    );
  });
});

import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told } from "./records.ts";

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
});

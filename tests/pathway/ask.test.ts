import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { assessDigit } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { ADULT, distalPhalanx, partialRecord, pathway, told, valuesOf, without } from "./distal-phalanx/records.ts";

const asked = (facts: Facts) => told(facts).assessment.ask;

describe("what is asked next", () => {
  it("goes in the natural order, emergencies before the film", () => {
    const order = distalPhalanx.groups.flatMap((g) => g.findings);
    const ask = asked({ ageYears: 40 });
    expect(ask).toEqual([...ask].sort((a, b) => order.indexOf(a) - order.indexOf(b)));
    expect(ask.indexOf("tissueLoss")).toBeLessThan(ask.indexOf("fractureSite"));
  });
  it("leaves out what can no longer change anything: no tetanus question for a closed fracture", () => {
    const closed = { ...ADULT, fractureSite: "tuft" };
    expect(asked(without(closed, "tetanusDoses", "tetanusYearsSinceLast", "contamination"))).toEqual([]);
    expect(asked(without({ ...closed, openness: "open-skin" }, "tetanusDoses"))).toEqual(["tetanusDoses"]);
  });
  it("asks a share only of a dorsal lip, and a tendon end only of a lost flexor", () => {
    expect(asked(without({ ...ADULT, fractureSite: "tuft" }, "articularSharePercent", "tendonEndAt"))).toEqual([]);
    expect(asked(without({ ...ADULT, fractureSite: "base-dorsal" }, "articularSharePercent"))).toEqual([
      "articularSharePercent",
    ]);
    expect(asked(without({ ...ADULT, activeFlexion: "absent" }, "tendonEndAt"))).toEqual(["tendonEndAt"]);
  });
  it("asks the weight only when a block is likely", () => {
    expect(asked(without({ ...ADULT, fractureSite: "base-dorsal" }, "weightKg"))).toEqual([]);
    expect(asked(without({ ...ADULT, fractureSite: "tuft", openness: "open-skin" }, "weightKg"))).toEqual(["weightKg"]);
  });
  it('does not ask again what was answered "cannot tell": it is carried as a task', () => {
    const a = told({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: "cannot-tell" }).assessment;
    expect(a.ask).toEqual([]);
    expect(a.cannotTell).toEqual(["articularSharePercent"]);
    expect(a.state).toBe("provisional");
  });
  it("a cannot-tell that no longer matters is not carried either", () => {
    expect(
      told({ ...ADULT, fractureSite: "tuft", articularSharePercent: "cannot-tell" }).assessment.cannotTell,
    ).toEqual([]);
  });
});

describe("a question that is not asked", () => {
  /** What the clinician sees, without the checks of answers against each other: those never ask. */
  const seen = (facts: Facts) => {
    const { quality: _, state: __, ...rest } = assessDigit(pathway, facts);
    return rest;
  };
  it("could not have changed anything, whatever its answer", () => {
    fc.assert(
      fc.property(partialRecord, fc.nat(), fc.nat(), ({ partial }, which, value) => {
        const before = assessDigit(pathway, partial);
        const absent = Object.keys(distalPhalanx.findings).filter(
          (f) => partial[f] === "not-asked" && !before.ask.includes(f),
        );
        if (absent.length === 0) return;
        const finding = absent[which % absent.length]!;
        const values = valuesOf(finding);
        const after = { ...partial, [finding]: values[value % values.length]! };
        // Answers found not to fit together take back the word that nobody needs to see the finger.
        const refused = assessDigit(pathway, after).quality.some((line) => line.effect.blocks);
        const urgency = refused && before.urgency.level === "none" ? { level: undefined, open: true } : before.urgency;
        expect(seen(after)).toMatchObject({ ...seen(partial), urgency });
      }),
      { numRuns: 500 },
    );
  });
});

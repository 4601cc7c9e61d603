import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { explain } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, completeRecord, pathway } from "./distal-phalanx/records.ts";

const used = (facts: Facts, rule: string) => explain(pathway, facts, rule).used.map((u) => u.finding);

describe("why a rule speaks", () => {
  it("SAF-06 names what mattered and nothing else: a slipped mallet rests on film, site and joint, not on the share", () => {
    const slipped = {
      ...ADULT,
      fractureSite: "base-dorsal",
      jointPosition: "volar-subluxed",
      articularSharePercent: 10,
    };
    expect(used(slipped, "MAL-2").sort()).toEqual([
      "ageYears",
      "filmTaken",
      "fractureSite",
      "jointPosition",
      "trueLateral",
    ]);
  });
  it("follows a sign to the row that made it yes", () => {
    const nail = { ...CHILD, nailPlate: "over-fold", salterHarris: "II", fractureSite: "physis" };
    expect(used(nail, "CLS-1").sort()).toEqual(["ageYears", "nailPlate", "physis", "salterHarris"]);
  });
  it("follows a sign that is no to what rules it out", () => {
    const shaft = { ...ADULT, fractureSite: "shaft" };
    expect(used(shaft, "CLS-14")).toEqual(
      expect.arrayContaining(["displacement", "nailPlaneRotation", "fracturePattern"]),
    );
    expect(used(shaft, "CLS-14")).not.toContain("translationMm");
  });
  it("SAF-07 gives the sentence and the sources with the dissent", () => {
    const reason = explain(pathway, { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }, "MAL-4");
    expect(reason.because).toContain("13 of 35");
    expect(reason.sources.map((s) => s.says)).toContain("against");
  });
  it('counts no "cannot tell" as a finding it rests on', () =>
    expect(
      used({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: "cannot-tell" }, "MAL-4"),
    ).not.toContain("articularSharePercent"));
  it("refuses a rule it does not know", () => expect(() => explain(pathway, ADULT, "MAL-99")).toThrow("MAL-99"));
  it("what it names is enough: with these findings alone the rule is still sure", () => {
    fc.assert(
      fc.property(completeRecord, fc.nat(), (facts, which) => {
        const sure = pathway.evaluate(facts).verdicts.flatMap((v) => v.sure);
        const rule = sure[which % sure.length]!;
        const enough = Object.fromEntries(explain(pathway, facts, rule.id).used.map((u) => [u.finding, u.value]));
        expect(pathway.evaluate(enough).verdicts.flatMap((v) => v.sure.map((r) => r.id))).toContain(rule.id);
      }),
      { numRuns: 1000 },
    );
  });
});

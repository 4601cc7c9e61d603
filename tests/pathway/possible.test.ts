import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { askNext } from "../../src/pathway/index.ts";
import { makeReady, makingReady, possibilities } from "../../src/pathway/possible.ts";
import type { AnyRule, Facts, Trace } from "../../src/pathway/reasoning/program.ts";
import {
  ADULT,
  CHILD,
  distalPhalanx,
  partialRecord,
  pathway,
  pathwayWith,
  valuesOf,
} from "./distal-phalanx/records.ts";

const SIGNS = pathway.signs.map((s) => s.name);
const inIds = (of: ReturnType<typeof possibilities>) => ({
  tables: of.verdicts.map((v) => ({
    sure: v.sure.map((r: AnyRule) => r.id),
    possible: v.possible.map((r: AnyRule) => r.id),
    assumed: (v.assumed ?? []).map((r: AnyRule) => r.id),
  })),
  open: of.open,
  gate: of.gate,
  signs: SIGNS.map((name) => of.sign(name)),
});
/** A trace that claims to leave something open, so that nothing is taken from it. */
const unsure = (facts: Facts): Trace => {
  const { signs, verdicts } = pathway.evaluate(facts);
  const [first, ...rest] = verdicts;
  return { signs, verdicts: [{ ...first!, possible: [first!.table.rules[0]!] }, ...rest] };
};
const FINDINGS = Object.keys(distalPhalanx.findings);
/** A record with all answers but one or two: here three-valued logic often decides everything already. */
const nearlyComplete = fc
  .tuple(
    fc.constantFrom<Facts>(ADULT, CHILD, { ...ADULT, fractureSite: "shaft" }, { ...ADULT, tipColour: "white" }),
    fc.constantFrom(...FINDINGS),
    fc.constantFrom(...FINDINGS),
    fc.nat(),
    fc.constantFrom("not-asked", "cannot-tell", undefined),
  )
  .map(([facts, gone, other, n, word]): Facts => {
    const values = valuesOf(other);
    return { ...facts, [other]: values[n % values.length]!, [gone]: word };
  });

describe("what a partial record leaves open", () => {
  it("is the same whether three-valued logic settles it or the diagrams are asked", () =>
    fc.assert(
      fc.property(nearlyComplete, (facts) => {
        expect(inIds(possibilities(pathway, facts))).toEqual(inIds(possibilities(pathway, facts, unsure(facts))));
      }),
      { numRuns: 300 },
    ));
  it("does not depend on which records were looked at before", () => {
    const fresh = pathwayWith();
    fc.assert(
      fc.property(fc.array(partialRecord, { minLength: 2, maxLength: 4 }), (records) => {
        for (const { partial } of records) inIds(possibilities(pathway, partial));
        const { partial } = records[0]!;
        expect(inIds(possibilities(pathway, partial))).toEqual(inIds(possibilities(fresh, partial)));
      }),
      { numRuns: 30 },
    );
  });
  it("a tip that nobody could look at again: white stands as a danger, and looking again stays open", () => {
    const { sign, open, gate } = possibilities(pathway, {
      ...ADULT,
      tipColour: "white",
      perfusionAfterFirstSteps: "not-asked",
    });
    expect(sign("perfusionInDoubt")).toBe("yes");
    // Nobody looked again, so the tip is neither known to stay without blood nor cleared of it.
    expect(sign("ischaemia")).toBe("not-asked");
    expect(open).toContain("perfusionAfterFirstSteps");
    expect(gate).toContain("perfusionAfterFirstSteps");
    expect(sign("no such sign")).toBeUndefined();
  });
  it("a tip whose colour nobody could judge is not taken as pink: neither well supplied beside a cut artery, nor to be cooled", () => {
    // HS2 item 5a: poor circulation goes at once. That what nobody saw is no answer is common practice, no source.
    const cut = { ...ADULT, openness: "skin-cut", devitalised: "artery-cut" };
    const sure = (facts: Facts) => inIds(possibilities(pathway, facts)).tables.flatMap((t) => t.sure);
    expect(sure(cut)).toEqual(expect.arrayContaining(["OW8a", "EM2b"]));
    for (const tipColour of ["cannot-tell", "not-asked"]) {
      const unseen = { ...cut, tipColour };
      expect(possibilities(pathway, unseen).sign("poorPerfusion")).toBe("not-asked");
      expect(sure(unseen)).not.toContain("OW8a");
      expect(sure(unseen)).not.toContain("EM2b");
    }
  });
  it("of a blank record, no sign is known, red flags are open and nothing is sure", () => {
    const blank = possibilities(pathway, {});
    expect(blank.sign("openFracture")).toBe("not-asked");
    expect(blank.gate.length).toBeGreaterThan(5);
    expect(blank.open).toEqual(expect.arrayContaining([...blank.gate]));
  });
});

describe("the next question", () => {
  const first = (facts: Facts) => {
    const { gate, open } = possibilities(pathway, facts, unsure(facts));
    return [...gate, ...open].find((f) => facts[f] !== "cannot-tell");
  };
  it("is the first open red flag, or else the first open finding, that was not answered 'cannot tell'", () =>
    fc.assert(
      fc.property(partialRecord, ({ partial }) => {
        expect(askNext(pathway, partial)).toBe(first(partial));
      }),
      { numRuns: 200 },
    ));
  it("is the same for records that lack only an answer or two", () =>
    fc.assert(
      fc.property(nearlyComplete, (facts) => {
        expect(askNext(pathway, facts)).toBe(first(facts));
      }),
      { numRuns: 300 },
    ));
  it("is the weight when a block is likely and nothing else is open, and none once it is known", () => {
    const open = { ...ADULT, fractureSite: "tuft", openness: "open-skin" };
    expect(askNext(pathway, { ...open, weightKg: "not-asked" })).toBe("weightKg");
    expect(askNext(pathway, { ...open, weightKg: "cannot-tell" })).toBeUndefined();
    expect(askNext(pathway, { ...ADULT, fractureSite: "tuft", weightKg: "not-asked" })).toBeUndefined();
    expect(askNext(pathway, open)).toBeUndefined();
  });
});

describe("making ready", () => {
  it("goes in small steps, once for each pathway", () => {
    const fresh = pathwayWith();
    expect([...makingReady(fresh)].length).toBeGreaterThan(5);
    expect([...makingReady(fresh)]).toEqual([]);
    const other = pathwayWith();
    makeReady(other);
    expect([...makingReady(other)]).toEqual([]);
  });
});

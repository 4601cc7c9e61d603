import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { tetanus } from "../../../src/pathway/hand/tetanus.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { flawsOfOne } from "../every-case.ts";
import {
  anyCase,
  anyCompleteCase,
  CLEAN_OPEN,
  FINDINGS,
  HEALTHY_CLOSED,
  handPolicy,
  handRules,
  possibleEffects,
  SIGN_NAMES,
  sureEffects,
  sureRules,
} from "./hand-pathway.ts";

const SCHEMES = ["US", "UK", "AU"] as const;
const policyFor = (scheme: string) => handPolicy({ "hand.tetanusScheme": scheme });
const said = (scheme: string, facts: Facts) =>
  sureEffects(handRules(policyFor(scheme))(facts), "tetanus").map((e) => [e.vaccine, e.immunoglobulin]);

describe.each(SCHEMES)("tetanus by the %s scheme", (scheme) => {
  const policy = policyFor(scheme);
  const rules = handRules(policy);

  it("gives exactly one answer for every complete case", () =>
    expect(flawsOfOne(tetanus(policy), FINDINGS, SIGN_NAMES)).toEqual([]));
  it("gives exactly one answer for any complete record of real findings, and the vaccine sign agrees with it", () => {
    fc.assert(
      fc.property(anyCompleteCase, (facts) => {
        const trace = rules(facts);
        const answers = sureEffects(trace, "tetanus");
        expect(answers).toHaveLength(1);
        expect(trace.signs.tetanusVaccineDue).toBe(answers[0]?.vaccine ? "yes" : "no");
      }),
      { numRuns: 1000 },
    );
  });
  it("is the only scheme in the pathway", () => {
    const others = SCHEMES.filter((s) => s !== scheme).map((s) => `TET-${s}-`);
    fc.assert(
      fc.property(anyCompleteCase, (facts) =>
        sureRules(rules(facts)).every((id) => !others.some((o) => id.startsWith(o))),
      ),
      { numRuns: 200 },
    );
  });
  it("a closed injury raises no question", () => {
    const { tetanusDoses: _, tetanusYearsSinceLast: __, ...unasked } = HEALTHY_CLOSED;
    expect(said(scheme, unasked)).toEqual([[false, false]]);
    expect(possibleEffects(rules(unasked), "tetanus")).toEqual([]);
  });
  it("unknown doses are said as unknown and count as unprotected", () =>
    expect(said(scheme, { ...CLEAN_OPEN, tetanusDoses: "not-known" })).toEqual([[true, true]]));
  it("doses not asked about leave the answer open", () => {
    const { tetanusDoses: _, ...unasked } = CLEAN_OPEN;
    expect(said(scheme, unasked)).toEqual([]);
    expect(possibleEffects(rules(unasked), "tetanus").length).toBeGreaterThan(1);
  });
  it("an open crush is never a clean wound, whatever else is known or not", () => {
    fc.assert(
      fc.property(anyCase, (facts) => {
        const { signs } = rules({ ...facts, mechanism: "crush", openness: "open-skin" });
        expect(scheme === "UK" ? signs.tetanusProneWound : signs.tetanusDirtyWound).toBe("yes");
      }),
      { numRuns: 300 },
    );
  });
});

describe("the vaccination card", () => {
  it("is asked for with every wound, and only then", () => {
    const rules = handRules();
    fc.assert(
      fc.property(anyCompleteCase, (facts) => {
        const trace = rules(facts);
        const isHeard = sureEffects(trace, "advise").some(({ point, redFlag }) => point === "P11" && !redFlag);
        expect(isHeard).toBe(trace.signs.woundPresent === "yes");
      }),
      { numRuns: 300 },
    );
  });
});

describe("where the schemes disagree", () => {
  it("last dose 7 years ago and an open crush: booster in the US and Australia, nothing in the UK", () => {
    const facts = { ...CLEAN_OPEN, tetanusYearsSinceLast: 7 };
    expect(said("US", facts)).toEqual([[true, false]]);
    expect(said("AU", facts)).toEqual([[true, false]]);
    expect(said("UK", facts)).toEqual([[false, false]]);
  });
});

describe("an open fracture from a clean cut", () => {
  const cut: Facts = { ...CLEAN_OPEN, mechanism: "laceration", isolatedTuft: "no", tetanusYearsSinceLast: 7 };
  it("is no clean minor wound: booster after 7 years, marked as common practice", () => {
    for (const scheme of ["US", "AU"]) {
      expect(said(scheme, cut)).toEqual([[true, false]]);
      const rule = handRules(policyFor(scheme))(cut)
        .verdicts.flatMap((v) => v.sure)
        .find((r) => r.id === `TET-${scheme}-8`);
      expect(rule?.sources.some((s) => s.source === "COMMON-PRACTICE")).toBe(true);
    }
  });
  it("over a closed fracture the cut stays a clean minor wound", () =>
    expect(said("US", { ...cut, openness: "skin-cut" })).toEqual([[false, false]]));
});

describe("UK: an open fracture with the last dose eleven years ago, seen after two hours", () => {
  const old = { ...CLEAN_OPEN, tetanusYearsSinceLast: 11, hoursSinceInjury: 2 };
  it.each(["clean", "visible-dirt", "saliva", "water", "grease-or-paint"])(
    "%s: a dose, no immunoglobulin",
    (contamination) => expect(said("UK", { ...old, contamination })).toEqual([[true, false]]),
  );
  it.each(["heavy-dirt", "soil-or-manure"])("%s: a dose and immunoglobulin", (contamination) =>
    expect(said("UK", { ...old, contamination })).toEqual([[true, true]]),
  );
});

describe("UK: a tetanus-prone wound that waits for surgery", () => {
  const uk = handRules(policyFor("UK"));
  const regrade = (facts: Facts) => sureRules(uk(facts)).filter((id) => /^TET-D[45]$/.test(id));
  const over = { ...CLEAN_OPEN, tetanusYearsSinceLast: 11, hoursSinceInjury: 3 };
  it("is graded again if surgery comes after 6 hours, where that would change the answer", () => {
    expect(regrade(over)).toEqual(["TET-D4"]);
    expect(sureEffects(uk(over), "task").some((t) => /more than 6 hours after the injury/.test(t.say))).toBe(true);
    expect(regrade({ ...CLEAN_OPEN, hoursSinceInjury: 3, immuneCompromise: "yes" })).toEqual(["TET-D5"]);
  });
  it("is left alone when the dose is in date, or when 6 hours are over already", () => {
    expect(regrade({ ...over, tetanusYearsSinceLast: 3 })).toEqual([]);
    expect(regrade({ ...over, hoursSinceInjury: 6 })).toEqual([]);
  });
});

describe("what goes with the dose", () => {
  const tasks = (facts: Facts) => sureRules(handRules()(facts)).filter((id) => /^TET-(P|D)/.test(id));
  const due = { ...CLEAN_OPEN, tetanusYearsSinceLast: 12 };
  it("DTaP at 6, Td or Tdap at 7, Tdap preferred at 11", () => {
    expect(tasks({ ...due, ageYears: 6 })).toEqual(["TET-P1"]);
    expect(tasks({ ...due, ageYears: 7 })).toEqual(["TET-P2"]);
    expect(tasks({ ...due, ageYears: 11 })).toEqual(["TET-P3"]);
    expect(tasks({ ...due, ageYears: 30, pregnant: "yes" })).toEqual(["TET-P4"]);
  });
  it("nothing when no dose is due", () => expect(tasks(CLEAN_OPEN)).toEqual([]));
  it("a crushed wound recorded as clean is looked at again when the immune system is weak", () => {
    expect(tasks({ ...CLEAN_OPEN, immuneCompromise: "yes" })).toEqual(["TET-D6"]);
    expect(tasks({ ...CLEAN_OPEN, immuneCompromise: "yes", contamination: "visible-dirt" })).toEqual([]);
  });
  it("an incomplete course is handed on to be finished", () =>
    expect(tasks({ ...CLEAN_OPEN, tetanusDoses: "one-or-two" })).toContain("TET-D1"));
  it("UK: the same, and the doubt about antibody is told only when the immune system is weak", () => {
    const uk = handRules(policyFor("UK"));
    const words = (facts: Facts) =>
      [...sureEffects(uk(facts), "task"), ...sureEffects(uk(facts), "warn")].map((e) => e.say);
    const unfinished = { ...CLEAN_OPEN, tetanusDoses: "one-or-two" };
    expect(words(unfinished).join()).toMatch(/finish the tetanus course/);
    expect(words(unfinished).join()).not.toMatch(/immune system/);
    const weak = words({ ...CLEAN_OPEN, immuneCompromise: "yes" }).join();
    expect(weak).toMatch(/weakened immune system: ask a senior/);
    expect(weak).not.toMatch(/finish the tetanus course/);
  });
  it("immunoglobulin is printed with the site's units and its dissent", () => {
    const trace = handRules(handPolicy({ "hand.tetanusImmunoglobulinUnits": 500 }))({
      ...CLEAN_OPEN,
      tetanusDoses: "none",
    });
    expect(sureEffects(trace, "tetanus")[0]!.say).toContain("500 IU");
    const rule = trace.verdicts.flatMap((v) => v.sure).find((r) => r.id === "TET-US-4");
    expect(rule?.sources.some((s) => s.source === "MSD-TET" && s.says === "against")).toBe(true);
  });
});

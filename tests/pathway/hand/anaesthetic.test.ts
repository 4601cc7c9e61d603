import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { handFigures, labelCeilingMg, millilitres, plainLimitMg } from "../../../src/pathway/hand/anaesthetic.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import {
  anyCase,
  CLEAN_OPEN,
  HEALTHY_CLOSED,
  handPolicy,
  handRules,
  possibleEffects,
  sureEffects,
  sureRules,
} from "./hand-pathway.ts";

const rules = handRules();
const figures = (facts: Facts, policy = handPolicy()) =>
  handFigures({ ...facts, ...handRules(policy)(facts).signs }, policy);
const ids = (facts: Facts) => figures(facts).anaesthetic.map((l) => l.rule);
/** Lines that name a ceiling in mg for this patient. */
const ceilings = (facts: Facts) => figures(facts).anaesthetic.filter((l) => / mg = /.test(l.text));

describe("anaesthetic ceiling", () => {
  it("a closed injury without a block gets no figure and asks for nothing", () =>
    expect(figures(HEALTHY_CLOSED)).toEqual({ anaesthetic: [], needs: [] }));
  it("an adult sees the service limit first, the label beside it, and what the other says", () => {
    expect(ids(CLEAN_OPEN)).toEqual(["LA3", "LA1", "LA2", "LA7", "LA8"]);
    expect(ids(CLEAN_OPEN).indexOf("LA3")).toBeLessThan(ids(CLEAN_OPEN).indexOf("LA1"));
    const [service, label] = figures(CLEAN_OPEN).anaesthetic;
    expect(service!.text).toBe(
      "Plain lidocaine, service limit: 3 mg/kg × 70 kg = 210 mg = 21 mL of 1 % or 10.5 mL of 2 %.",
    );
    expect(service!.sources.some((s) => s.source === "LIDO-LABEL" && s.says === "against")).toBe(true);
    expect(label!.text).toBe(
      "Plain lidocaine, US label: 4.5 mg/kg × 70 kg = 315 mg, never above 300 mg: 300 mg = 30 mL of 1 % or 15 mL of 2 %.",
    );
  });
  it.each<[string, Facts]>([
    ["an amputated tip", { tissueLoss: "amputation-not-replantable" }],
    ["Raynaud", { vasospasm: "yes" }],
    ["a pale tip that recovered", { tipColour: "pale" }],
    ["sulfite allergy", { localAnaestheticAllergy: "sulfite" }],
    ["nobody has judged whether an artery is cut", { devitalised: "cannot-tell" }],
  ])("no ceiling with epinephrine where it is not allowed or not decided: %s", (_story, reason) => {
    expect(ids({ ...CLEAN_OPEN, ...reason })).not.toContain("LA2");
    expect(ids({ ...CLEAN_OPEN, ...reason })).toContain("LA3");
  });
  it("an allergy to the usual drug where a block is needed is the hand team's matter today, never 'no referral'", () => {
    const urgencies = (facts: Facts) => sureEffects(rules(facts), "urgency").map((u) => u.urgency);
    const allergic = { ...CLEAN_OPEN, localAnaestheticAllergy: "yes" };
    expect(urgencies(allergic)).toEqual(["D0"]);
    expect(sureEffects(rules(allergic), "visit")).toMatchObject([{ visit: { purpose: "surgeon-review", latest: 1 } }]);
    expect(sureEffects(rules(allergic), "today").some((t) => /repair and splint here/.test(t.say))).toBe(false);
    expect(sureRules(rules(allergic))).toContain("OW4i");
    expect(urgencies({ ...HEALTHY_CLOSED, localAnaestheticAllergy: "yes" })).toEqual([]);
  });
  it("the label's example for children is printed per kilogram as well", () =>
    expect(figures({ ...CLEAN_OPEN, ageYears: 5, weightKg: 20 }).anaesthetic[0]!.because).toContain("3.3-4.4 mg/kg"));
  it("a site may let the label lead", () => {
    expect(
      figures(CLEAN_OPEN, handPolicy({ "hand.lidocaineCeiling": "label" }))
        .anaesthetic.map((l) => l.rule)
        .slice(0, 2),
    ).toEqual(["LA1", "LA3"]);
  });
  it("a child of 20 kg gets 60 mg, which is 6 mL of 1 %", () => {
    const [line] = figures({ ...CLEAN_OPEN, ageYears: 5, weightKg: 20 }).anaesthetic;
    expect(line!.rule).toBe("LA4");
    expect(line!.text).toContain("at most 60 mg = 6 mL of 1 % or 3 mL of 2 %");
  });
  it("a child of 11 years and 45 kg gets 3 mg/kg, 135 mg: no cap that no source gives", () => {
    const [line] = figures({ ...CLEAN_OPEN, ageYears: 11, weightKg: 45 }).anaesthetic;
    expect(line!.text).toContain("3 mg/kg × 45 kg = 135 mg, at most 135 mg = 13.5 mL of 1 %");
  });
  it("a heavy 5-year-old is capped, and the reason is printed", () => {
    const [line] = figures({ ...CLEAN_OPEN, ageYears: 5, weightKg: 40 }).anaesthetic;
    expect(line!.text).toContain("= 120 mg (the label's example for 5 years caps it at 75 mg), at most 75 mg");
  });
  it("an infant of 5 months and 7 kg gets 30 % less: 14 mg", () => {
    const [line] = figures({ ...CLEAN_OPEN, ageYears: 0.42, weightKg: 7 }).anaesthetic;
    expect(line!.rule).toBe("LA5");
    expect(line!.text).toContain("at most 14 mg");
  });
  it("no figure without weight: it is asked for", () => {
    const { weightKg: _, ...unweighed } = CLEAN_OPEN;
    expect(figures(unweighed).needs).toEqual(["weightKg"]);
    expect(ceilings(unweighed)).toEqual([]);
    expect(ceilings({ ...unweighed, ageYears: 3 })).toEqual([]);
    expect(ceilings({ ...unweighed, weightKg: "cannot-tell" })).toEqual([]);
  });
  it("no figure without age: a child's limit might apply", () => {
    const { ageYears: _, ...ageless } = CLEAN_OPEN;
    expect(ceilings(ageless)).toEqual([]);
    expect(figures(ageless).needs).toEqual(["ageYears"]);
  });
  it("no figure where a block is forbidden, or where nobody has asked about allergy", () => {
    expect(figures({ ...CLEAN_OPEN, localAnaestheticAllergy: "yes" }).anaesthetic).toEqual([]);
    expect(figures({ ...CLEAN_OPEN, mechanism: "high-pressure-injection" }).anaesthetic).toEqual([]);
    const { localAnaestheticAllergy: _, ...unasked } = CLEAN_OPEN;
    expect(ceilings(unasked)).toEqual([]);
  });
  it("the tip of the three middle fingers needs the palmar nerves only, thumb and little finger all four", () => {
    const nerves = (digit: string) => figures({ ...CLEAN_OPEN, digit }).anaesthetic.find((l) => l.rule === "LA8")!.text;
    expect(nerves("ring")).toMatch(/two palmar nerves/);
    expect(nerves("thumb")).toMatch(/all four/);
    expect(nerves("little")).toMatch(/all four/);
  });
  it("no limit ever lies above the label, and rounding never lifts a dose or a volume", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 2, max: 200, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.constantFrom(3, 3.5, 4, 4.5),
        (kg, age, perKg) => {
          const mg = plainLimitMg(kg, perKg, age);
          expect(mg).toBeLessThanOrEqual(perKg * kg + 1e-6);
          expect(mg).toBeLessThanOrEqual(labelCeilingMg(kg, false));
          for (const percent of [1, 2]) expect(millilitres(mg, percent) * 10 * percent).toBeLessThanOrEqual(mg + 1e-6);
        },
      ),
    );
  });
});

describe("epinephrine in the finger", () => {
  const allowed = (facts: Facts) => sureEffects(rules(facts), "epinephrine").map((e) => e.allow);
  it("is allowed in a healthy finger, with the dissent beside it", () => {
    expect(allowed(CLEAN_OPEN)).toEqual([true]);
    const rule = rules(CLEAN_OPEN)
      .verdicts.flatMap((v) => v.sure)
      .find((r) => r.id === "LA-E2");
    expect(rule?.sources.filter((s) => s.says === "against").map((s) => s.source)).toContain("DOSREIS16");
  });
  it("is not mentioned when no block is planned", () => expect(allowed(HEALTHY_CLOSED)).toEqual([]));
  it("is never allowed, not even as still possible, with a poor tip, Raynaud, arterial disease or a crushed tip of doubtful life", () => {
    const risk = fc.constantFrom<Facts>(
      { tipColour: "pale" },
      { tipColour: "dusky" },
      { capillaryRefill: "slow" },
      { vasospasm: "yes" },
      { arterialDisease: "yes" },
      { devitalised: "yes" },
    );
    fc.assert(
      fc.property(anyCase, risk, (facts, reason) => {
        const trace = rules({ ...facts, ...reason });
        expect(
          [...sureEffects(trace, "epinephrine"), ...possibleEffects(trace, "epinephrine")].filter((e) => e.allow),
        ).toEqual([]);
      }),
      { numRuns: 500 },
    );
  });
  it.each<[string, Facts]>([
    ["amide allergy", { localAnaestheticAllergy: "yes" }],
    ["high-pressure injection", { mechanism: "high-pressure-injection" }],
    ["infection", { infectionSigns: "local" }],
    ["a white tip not yet looked at again", { tipColour: "white", perfusionAfterFirstSteps: "not-yet" }],
    ["a child, for whom the ceiling of the mixture is not meant", { ageYears: 11 }],
  ])("is not offered with %s", (_story, findings) =>
    expect(sureEffects(rules({ ...CLEAN_OPEN, ...findings }), "epinephrine").filter((e) => e.allow)).toEqual([]),
  );
  it.each<[string, Facts]>([
    ["a cut digital artery", { devitalised: "artery-cut" }],
    ["sulfite allergy", { localAnaestheticAllergy: "sulfite" }],
  ])("is refused with %s, plain lidocaine is not", (_story, findings) => {
    expect(allowed({ ...CLEAN_OPEN, ...findings })).toEqual([false]);
    expect(ceilings({ ...CLEAN_OPEN, ...findings }).length).toBeGreaterThan(0);
  });
  it("a site that avoids it in fingers is told plain lidocaine, and no ceiling of the mixture is printed", () => {
    const avoiding = handPolicy({ "hand.epinephrineInFinger": "avoid" });
    expect(sureEffects(handRules(avoiding)(CLEAN_OPEN), "epinephrine").map((e) => e.allow)).toEqual([false]);
    const mixture = (policy: typeof avoiding) =>
      figures(CLEAN_OPEN, policy).anaesthetic.filter((l) => /with epinephrine, US label/.test(l.text));
    expect(mixture(avoiding)).toEqual([]);
    expect(mixture(handPolicy())).toHaveLength(1);
  });
  it("a cut artery with living tissue is no reason for an antibiotic", () =>
    expect(rules({ ...CLEAN_OPEN, devitalised: "artery-cut" }).signs.woundNeedsAntibiotic).toBe("no"));
  it("stays open while Raynaud has not been asked about", () => {
    const { vasospasm: _, ...unasked } = CLEAN_OPEN;
    expect(allowed(unasked)).toEqual([]);
  });
});

describe("reasons against a block", () => {
  it.each<[string, Facts, string]>([
    ["amide allergy", { localAnaestheticAllergy: "yes" }, "LA-W1"],
    ["infection at the site", { infectionSigns: "local" }, "LA-W2"],
    ["poor circulation", { tipColour: "white", perfusionAfterFirstSteps: "still-poor" }, "LA-W3"],
    ["high-pressure injection", { mechanism: "high-pressure-injection" }, "LA-W4"],
    ["liver or heart disease", { liverOrHeartDisease: "yes" }, "LA-W5"],
    ["bleeding tendency", { bleedingTendency: "yes" }, "LA-W6"],
    ["age of 86", { ageYears: 86 }, "LA-W7"],
  ])("%s is said", (_story, findings, rule) => {
    expect(sureRules(rules({ ...CLEAN_OPEN, ...findings }))).toContain(rule);
    expect(sureRules(rules(CLEAN_OPEN))).not.toContain(rule);
  });
});

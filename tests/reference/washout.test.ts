import { describe, expect, it } from "vitest";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { CLEAN_OPEN, handPolicy, handRules, sureEffects } from "../pathway/hand/hand-pathway.ts";

const URGENT_FIRST = ["NOW", "D0", "D1", "W1", "R2", "none"] as const;
const rules = handRules();
const mostUrgent = (facts: Facts) => {
  const trace = rules(facts);
  const said = [...sureEffects(trace, "urgency"), ...sureEffects(trace, "exit")].map((e) => e.urgency);
  return URGENT_FIRST.find((u) => said.includes(u));
};
const OPEN_SHAFT: Facts = { ...CLEAN_OPEN, isolatedTuft: "no" };

// HandStands 2, draft standards of care for open hand fractures: items 5a-c (referral at once), 6 and 7 (24 hours), 12 (review
// within one week), antibiotic up to 72 hours; isolated tuft fractures are excluded.
describe("draft UK standard for open hand fractures", () => {
  it("5a vascular compromise: at once", () =>
    expect(mostUrgent({ ...OPEN_SHAFT, tipColour: "white", perfusionAfterFirstSteps: "still-poor" })).toBe("NOW"));
  it("5b irreducible joint: at once", () =>
    expect(mostUrgent({ ...OPEN_SHAFT, jointDislocated: "irreducible" })).toBe("NOW"));
  it("5c gross contamination: at once", () => {
    for (const contamination of ["soil-or-manure", "heavy-dirt"])
      expect(mostUrgent({ ...OPEN_SHAFT, contamination })).toBe("NOW");
    // Common practice, no source: the standard does not say what is gross; a little dirt that washes out is not.
    expect(mostUrgent({ ...OPEN_SHAFT, contamination: "visible-dirt" })).toBe("D0");
  });
  it("6 and 7: assessed and washed out within 24 hours of the injury", () => {
    expect(mostUrgent(OPEN_SHAFT)).toBe("D0");
    expect(sureEffects(rules(OPEN_SHAFT), "today").find((t) => t.topic === "wash-out")!.say).toContain(
      "within 24 hours of the injury",
    );
  });
  it("isolated tuft fractures are left out", () => expect(mostUrgent(CLEAN_OPEN)).toBeUndefined());
  it("a site may be stricter than the standard, never laxer", () => {
    const strict = handRules(handPolicy({ "hand.washoutHours": 12 }));
    expect(sureEffects(strict(OPEN_SHAFT), "today").find((t) => t.topic === "wash-out")!.say).toContain(
      "within 12 hours",
    );
    expect(() => handPolicy({ "hand.washoutHours": 25 })).toThrow(/6 to 24 hours/);
  });
  it("its antibiotic for up to 72 hours or until closure is the site's choice, its reading stands beside the default as dissent", () => {
    const say = (policy = handPolicy()) => sureEffects(handRules(policy)(OPEN_SHAFT), "antibiotic")[0]!;
    expect(say(handPolicy({ "hand.openShaftAntibiotic": "upTo72h" }))).toMatchObject({ decision: "yes" });
    expect(say(handPolicy({ "hand.openShaftAntibiotic": "upTo72h" })).say).toContain("72 hours");
    expect(say()).toMatchObject({ decision: "not-routinely" });
  });
});

// Kiely 2022 (systematic review of open growth-plate fractures): debridement within 48 hours, antibiotic within the first day;
// over one third of late presenters infected.
describe("systematic review of open growth-plate fractures, 2022", () => {
  const SEYMOUR: Facts = { ...OPEN_SHAFT, ageYears: 9, openPhysealFracture: "yes", physisOpen: "yes" };
  it("wash-out today and antibiotic at once", () => {
    expect(mostUrgent(SEYMOUR)).toBe("D0");
    expect(sureEffects(rules(SEYMOUR), "antibiotic").map((a) => a.decision)).toEqual(["yes"]);
  });
  it("late cases are debrided all the same, and warned about", () => {
    const late = rules({ ...SEYMOUR, hoursSinceInjury: 8.5 * 24 });
    expect(sureEffects(late, "today").some((t) => /debride all the same/.test(t.say))).toBe(true);
    expect(sureEffects(late, "warn").some((w) => /over a third/.test(w.say))).toBe(true);
  });
});

// NICE NG184 (2020), 1.1.5, 1.1.8, 1.1.11 offer; 1.1.6 consider.
describe("NICE guideline on bites", () => {
  const bite = (mechanism: string, more: Facts = {}) =>
    sureEffects(rules({ ...CLEAN_OPEN, openness: "closed", mechanism, ...more }), "antibiotic").map((a) => a.decision);
  it.each([
    ["human bite with blood", "human-bite", { biteBloodDrawn: "yes" }, "yes"],
    ["cat bite with blood", "cat-bite", { biteBloodDrawn: "yes" }, "yes"],
    ["dog bite with blood, deep or dirty", "dog-bite", { biteBloodDrawn: "yes", biteDeepOrDirty: "yes" }, "yes"],
    ["human bite on the hand without blood", "human-bite", {}, "consider"],
  ] as const)("%s", (_story, mechanism, more, decision) => expect(bite(mechanism, more)).toEqual([decision]));
});

import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { HAND_QUESTIONS } from "../../../src/pathway/hand/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import {
  anyCase,
  CLEAN_OPEN,
  HEALTHY_CLOSED,
  handPolicy,
  handRules,
  possibleRules,
  sureEffects,
  sureRules,
} from "./hand-pathway.ts";

const rules = handRules();
const exits = (facts: Facts) => sureEffects(rules(facts), "exit");
const ids = (facts: Facts) => sureRules(rules(facts)).filter((id) => id.startsWith("EX"));

describe("safety exits", () => {
  it("a healthy closed injury meets none, and none is left open", () => {
    expect(ids(HEALTHY_CLOSED)).toEqual([]);
    expect(possibleRules(rules(HEALTHY_CLOSED)).filter((id) => id.startsWith("EX"))).toEqual([]);
  });
  it.each<[string, Facts, string, "NOW" | "D0" | "D1" | "W1" | "R2", boolean]>([
    [
      "a white tip that stays white after warming and straightening",
      { tipColour: "white", perfusionAfterFirstSteps: "still-poor" },
      "EX1",
      "NOW",
      true,
    ],
    [
      "slow refill that stays slow",
      { capillaryRefill: "slow", perfusionAfterFirstSteps: "still-poor" },
      "EX1",
      "NOW",
      true,
    ],
    ["an amputated tip that may be replanted", { tissueLoss: "amputation-replantable" }, "EX2a", "NOW", true],
    ["an amputated tip that cannot be replanted", { tissueLoss: "amputation-not-replantable" }, "EX2b", "D0", true],
    ["exposed bone", { tissueLoss: "bone-exposed" }, "EX2b", "D0", true],
    ["a painless pinhole from a paint gun", { mechanism: "high-pressure-injection" }, "EX3", "NOW", true],
    ["a dog bite over the fracture", { mechanism: "dog-bite" }, "EX4a", "D0", true],
    ["a fist on a tooth, into the joint", { mechanism: "human-bite", biteDeepOrDirty: "yes" }, "EX4b", "NOW", true],
    ["a joint that cannot be put back", { jointDislocated: "irreducible" }, "EX5a", "NOW", true],
    ["a dislocated end joint not yet reduced", { jointDislocated: "yes-not-yet-reduced" }, "EX5b", "D0", true],
    ["signs of flexor sheath infection", { sheathSigns: "yes" }, "EX6a", "NOW", true],
    ["spreading infection", { infectionSigns: "spreading" }, "EX6b", "NOW", true],
    ["a tense pulp", { infectionSigns: "tense-pulp-or-discharge" }, "EX6c", "D0", true],
    ["lysis on the film", { lysisOrPeriostealReaction: "yes" }, "EX6d", "D0", true],
    ["a break through a bone lesion", { boneLesion: "yes" }, "EX8", "R2", true],
    [
      "cold pain without an accident",
      { mechanism: "no-adequate-trauma", coldPointPainBlueSpot: "yes" },
      "EX9",
      "R2",
      true,
    ],
    ["half of the tip numb", { sensation: "reduced-one-side" }, "EX10a", "D1", false],
    ["glass on the film", { foreignBody: "yes" }, "EX10b", "D1", false],
    ["a saw through two fingers", { mechanism: "saw", mangled: "yes" }, "EX11", "NOW", true],
    ["frostbite", { mechanism: "burn-or-frostbite" }, "EX12", "D0", true],
    ["other serious injuries", { otherSeriousInjury: "yes" }, "EX13", "NOW", true],
  ])("%s is caught", (_story, findings, rule, urgency, leaves) => {
    const facts = { ...HEALTHY_CLOSED, ...findings };
    expect(ids(facts)).toContain(rule);
    const found = exits(facts);
    expect(found.map((e) => e.urgency)).toContain(urgency);
    expect(found.some((e) => e.leaves)).toBe(leaves);
  });

  it("an opened and reduced dislocation goes to the hand surgeon the same day", () =>
    expect(ids({ ...CLEAN_OPEN, jointDislocated: "reduced" })).toEqual(["EX5c"]));
  it("a pale tip that recovers once the ring is off is no exit", () => {
    expect(ids({ ...HEALTHY_CLOSED, tipColour: "pale", perfusionAfterFirstSteps: "restored" })).toEqual([]);
  });
  it("a pale tip not yet looked at again stays an open emergency", () => {
    const { perfusionAfterFirstSteps: _, ...unasked }: Facts = { ...HEALTHY_CLOSED, tipColour: "dusky" };
    expect(possibleRules(rules(unasked))).toContain("EX1");
  });
  it("local infection goes to hand surgery by the next working day; the fracture is still treated", () => {
    expect(ids({ ...HEALTHY_CLOSED, infectionSigns: "local" })).toEqual(["EX6e"]);
    expect(exits({ ...HEALTHY_CLOSED, infectionSigns: "local" })).toMatchObject([
      { urgency: "D1", sendTo: "hand surgery", leaves: false },
    ]);
  });
  it("the question tells local infection from the ordinary redness of a fresh crush", () => {
    const question = HAND_QUESTIONS.find((q) => q.finding === "infectionSigns")!;
    expect(question.hint).toContain("48 to 72 hours after a crush");
    expect(question.options!.find((o) => o.value === "none")!.hint).toMatch(/fresh injury/);
  });
  it.each([{}, { perfusionAfterFirstSteps: "not-yet" }, { perfusionAfterFirstSteps: "cannot-tell" }])(
    "a dusky tip counts as now, with the fracture silent, until it has been looked at again (%j)",
    (recheck) => {
      const { perfusionAfterFirstSteps: _, ...unasked } = HEALTHY_CLOSED;
      expect(exits({ ...unasked, tipColour: "dusky", ...recheck })).toMatchObject([
        { exit: "ischaemia", urgency: "NOW", leaves: true, means: expect.stringContaining("Until") },
      ]);
    },
  );
  it("a dislocated joint is reduced under anaesthesia, a block only if nothing speaks against it", () =>
    expect(
      exits({ ...HEALTHY_CLOSED, jointDislocated: "yes-not-yet-reduced", localAnaestheticAllergy: "yes" })[0]!.say,
    ).toMatch(/^Reduce under anaesthesia \(a finger block only if nothing speaks against it\)/));
  it("a bite is no 'bite with a fracture' when no bone is broken", () =>
    expect(exits({ ...HEALTHY_CLOSED, mechanism: "dog-bite", boneBroken: "no" })[0]!.title).toBe(
      "Bite over a bone or joint",
    ));
  it("a tip not yet judged at all is no emergency yet: it is asked about", () => {
    const { tipColour: _, perfusionAfterFirstSteps: __, ...unasked } = HEALTHY_CLOSED;
    expect(exits(unasked)).toEqual([]);
    expect(possibleRules(rules(unasked))).toContain("EX1b");
  });

  it("a bite or a high-pressure injection leaves the ordinary pathway whatever else is known or not", () => {
    fc.assert(
      fc.property(
        anyCase,
        fc.constantFrom("human-bite", "cat-bite", "dog-bite", "other-animal-bite", "high-pressure-injection"),
        (facts, mechanism) => {
          expect(exits({ ...facts, mechanism }).some((e) => e.leaves)).toBe(true);
        },
      ),
      { numRuns: 300 },
    );
  });
  it("a tip that is poor and stays poor leaves the ordinary pathway whatever else is known or not", () => {
    fc.assert(
      fc.property(anyCase, fc.constantFrom("pale", "dusky", "white"), (facts, tipColour) => {
        expect(
          exits({ ...facts, tipColour, perfusionAfterFirstSteps: "still-poor" }).some(
            (e) => e.urgency === "NOW" && e.leaves,
          ),
        ).toBe(true);
      }),
      { numRuns: 300 },
    );
  });
});

describe("late presentation", () => {
  it("an open wound counts as late from 24 hours, not a minute before", () => {
    expect(ids({ ...CLEAN_OPEN, hoursSinceInjury: 23.98 })).toEqual([]);
    expect(ids({ ...CLEAN_OPEN, hoursSinceInjury: 24 })).toEqual(["EX7a"]);
  });
  it("a closed fracture is never a late wound", () =>
    expect(ids({ ...HEALTHY_CLOSED, hoursSinceInjury: 2000 })).toEqual([]));
  it("a child's torn nail bed seen the next day is late", () =>
    expect(ids({ ...HEALTHY_CLOSED, ageYears: 6, openness: "open-nail-bed", hoursSinceInjury: 25 })).toEqual([
      "EX7a",
      "EX7b",
    ]));
  it("a deep flexor avulsion is late from 10 days, a mallet from 28 days", () => {
    expect(ids({ ...HEALTHY_CLOSED, fdpLoss: "yes", hoursSinceInjury: 239 })).toEqual([]);
    expect(ids({ ...HEALTHY_CLOSED, fdpLoss: "yes", hoursSinceInjury: 240 })).toEqual(["EX7c"]);
    expect(ids({ ...HEALTHY_CLOSED, malletInjury: "yes", hoursSinceInjury: 671 })).toEqual([]);
    expect(ids({ ...HEALTHY_CLOSED, malletInjury: "yes", hoursSinceInjury: 672 })).toEqual(["EX7d"]);
  });
  it("a site may call a tendon late at 7 days", () => {
    const strict = handRules(handPolicy({ "hand.tendonLateDays": 7 }));
    expect(sureRules(strict({ ...HEALTHY_CLOSED, fdpLoss: "yes", hoursSinceInjury: 7 * 24 }))).toContain("EX7c");
  });
  it("lateness speeds things up but does not leave the pathway", () => {
    expect(
      exits({ ...CLEAN_OPEN, hoursSinceInjury: 100, fdpLoss: "yes", malletInjury: "yes" }).some((e) => e.leaves),
    ).toBe(false);
  });
});

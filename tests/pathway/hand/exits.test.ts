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
const ids = (facts: Facts) => sureRules(rules(facts)).filter((id) => /^EX\d/.test(id));

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
    ["the thumb side of the tip numb", { sensation: "reduced-radial" }, "EX10a", "D1", false],
    ["the little finger side of the tip numb", { sensation: "reduced-ulnar" }, "EX10a", "D1", false],
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

describe("the position after a dislocation", () => {
  const out: Facts = { ...HEALTHY_CLOSED, jointDislocated: "yes-not-yet-reduced" };
  const held = (facts: Facts) =>
    sureEffects(rules(facts), "today")
      .filter((t) => t.topic === "reduction")
      .map((t) => t.say);
  it("dorsal: a little bent; volar: straight; never both", () => {
    expect(held({ ...out, dislocationDirection: "dorsal" })).toEqual([expect.stringMatching(/bent 15-30°/)]);
    expect(held({ ...out, dislocationDirection: "volar" })).toEqual([expect.stringMatching(/straight/)]);
  });
  it("is not said while the direction is not known, and the direction holds no urgency back", () => {
    const { dislocationDirection: _, ...unasked } = out;
    expect(held(unasked)).toEqual([]);
    expect(exits(unasked)[0]!.say).toMatch(/splint for 2-3 weeks/);
    expect(exits(unasked)[0]!.say).not.toMatch(/bent|straight/);
    expect(rules(unasked).verdicts[0]!.possible).toEqual([]);
  });
  it("is nobody's question while the joint is in place", () => {
    const { dislocationDirection: _, ...unasked } = HEALTHY_CLOSED;
    expect(possibleRules(rules(unasked))).toEqual([]);
  });
});

describe("the appointment behind an exit", () => {
  const visits = (facts: Facts, policy = handPolicy()) =>
    sureEffects(handRules(policy)({ ...HEALTHY_CLOSED, ...facts }), "visit").map(({ visit }) => visit);
  it.each<[string, Facts, string, readonly [number, number]]>([
    ["a break through a bone lesion", { boneLesion: "yes" }, "hand or tumour clinic", [7, 14]],
    [
      "cold pain without an accident",
      { mechanism: "no-adequate-trauma", coldPointPainBlueSpot: "yes" },
      "hand clinic",
      [7, 14],
    ],
    ["exposed bone", { tissueLoss: "bone-exposed" }, "hand surgeon", [0, 1]],
    ["a tip that cannot be replanted", { tissueLoss: "amputation-not-replantable" }, "hand surgeon", [0, 1]],
    ["a bite", { mechanism: "dog-bite" }, "hand surgeon", [0, 1]],
    ["a tense pulp", { infectionSigns: "tense-pulp-or-discharge" }, "hand surgeon", [0, 1]],
    ["lysis on the film", { lysisOrPeriostealReaction: "yes" }, "hand surgeon", [0, 1]],
    ["frostbite", { mechanism: "burn-or-frostbite" }, "burns service", [0, 1]],
    ["back worse on day 4", { presentation: "again-worse", hoursSinceInjury: 96 }, "hand surgeon", [0, 1]],
    ["half of the tip numb", { sensation: "reduced-ulnar" }, "hand clinic, urgent", [0, 3]],
    ["glass on the film", { foreignBody: "yes" }, "hand clinic, urgent", [0, 3]],
    ["local infection", { infectionSigns: "local" }, "hand clinic, urgent", [0, 3]],
    [
      "a cut artery under a pink tip",
      { openness: "skin-cut", devitalised: "artery-cut" },
      "hand clinic, urgent",
      [0, 3],
    ],
    ["a mallet seen after five weeks", { malletInjury: "yes", hoursSinceInjury: 840 }, "hand clinic", [0, 7]],
  ])("%s has one, counted from the day it was seen", (_story, facts, who, [earliest, latest]) =>
    expect(visits(facts)).toMatchObject([{ who, earliest, latest, countFrom: "treatment" }]),
  );
  it("two reasons for hand surgery today make one appointment", () =>
    expect(
      visits({ tissueLoss: "bone-exposed", lysisOrPeriostealReaction: "yes", sensation: "absent", foreignBody: "yes" }),
    ).toHaveLength(1));
  it("the windows of the site count", () =>
    expect(
      visits({ boneLesion: "yes" }, handPolicy({ "hand.routineFromDays": 10, "hand.routineToDays": 12 })),
    ).toMatchObject([{ earliest: 10, latest: 12 }]));
  it("a patient who does not leave needs none, nor does a healthy closed injury", () => {
    expect(visits({ tissueLoss: "amputation-replantable" })).toEqual([]);
    expect(visits({ sheathSigns: "yes" })).toEqual([]);
    expect(visits({})).toEqual([]);
  });
});

describe("late presentation", () => {
  it("an open wound counts as late from 24 hours, not a minute before", () => {
    expect(ids({ ...CLEAN_OPEN, hoursSinceInjury: 23.98 })).toEqual([]);
    expect(ids({ ...CLEAN_OPEN, hoursSinceInjury: 24 })).toEqual(["EX7a"]);
  });
  it("a closed fracture is never a late wound", () =>
    expect(ids({ ...HEALTHY_CLOSED, hoursSinceInjury: 2000 })).toEqual([]));
  const child = { ...HEALTHY_CLOSED, ageYears: 6 };
  it("a child's torn nail bed seen the next day is late, and hears of it once", () => {
    expect(ids({ ...child, openness: "open-nail-bed", hoursSinceInjury: 25 })).toEqual(["EX7a"]);
    expect(sureEffects(rules({ ...child, openness: "open-nail-bed", hoursSinceInjury: 25 }), "quality")).toEqual([]);
  });
  it("a site may call a child's torn nail bed late before the wound is", () => {
    const strict = handRules(handPolicy({ "hand.childNailLateHours": 12 }));
    const late = (hoursSinceInjury: number) =>
      sureRules(strict({ ...child, openness: "open-nail-bed", hoursSinceInjury })).filter((id) => id.startsWith("EX7"));
    expect([late(11.9), late(12), late(24)]).toEqual([[], ["EX7b"], ["EX7a"]]);
  });
  it("blood at a child's nail fold a day after the injury is late although 'closed' was answered", () => {
    expect(ids({ ...child, bloodAtNailFold: "yes", hoursSinceInjury: 23 })).toEqual([]);
    expect(ids({ ...child, bloodAtNailFold: "yes", hoursSinceInjury: 24 })).toEqual(["EX7b"]);
  });
  it("a turned piece of the growth plate is late from 28 days, like a mallet", () => {
    expect(ids({ ...child, malletEquivalentCorD: "yes", hoursSinceInjury: 671 })).toEqual([]);
    expect(ids({ ...child, malletEquivalentCorD: "yes", hoursSinceInjury: 672 })).toEqual(["EX7e"]);
  });
  it("a joint missed for weeks is told to the surgeon as late, and a fresh one is not", () => {
    for (const jointDislocated of ["yes-not-yet-reduced", "irreducible"]) {
      expect(ids({ ...HEALTHY_CLOSED, jointDislocated, hoursSinceInjury: 671 })).not.toContain("EX7f");
      expect(ids({ ...HEALTHY_CLOSED, jointDislocated, hoursSinceInjury: 672 })).toContain("EX7f");
    }
    expect(ids({ ...HEALTHY_CLOSED, jointDislocated: "reduced", hoursSinceInjury: 672 })).toEqual([]);
  });
  it("who comes back worse on day 4 is seen the same day; a planned check, a first visit or day 2 is no alarm", () => {
    const back = { ...HEALTHY_CLOSED, presentation: "again-worse", hoursSinceInjury: 96 };
    expect(ids(back)).toEqual(["EX7h"]);
    expect(exits(back)).toMatchObject([{ urgency: "D0", sendTo: "hand surgery", leaves: false }]);
    for (const calm of [{ presentation: "again" }, { presentation: "first" }, { hoursSinceInjury: 71 }])
      expect(ids({ ...back, ...calm })).toEqual([]);
  });
  it("a local infection on day 4 that came back worse goes the same day, not the next", () => {
    const local = { ...HEALTHY_CLOSED, infectionSigns: "local", hoursSinceInjury: 96 };
    expect(exits(local).map((e) => e.urgency)).toEqual(["D1"]);
    expect(exits({ ...local, presentation: "again-worse" }).map((e) => e.urgency)).toContain("D0");
  });
  it("nobody is asked whether it is a second visit before day 3", () => {
    const { presentation: _, ...unasked } = HEALTHY_CLOSED;
    expect(possibleRules(rules(unasked))).toEqual([]);
    expect(possibleRules(rules({ ...unasked, hoursSinceInjury: 72 }))).toContain("EX7h");
  });
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

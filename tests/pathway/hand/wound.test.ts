import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { handSigns, handSignsAfterModule, handTables } from "../../../src/pathway/hand/index.ts";
import { assessDigit } from "../../../src/pathway/index.ts";
import { ADULT, pathway } from "../distal-phalanx/records.ts";
import { evaluateAll } from "../every-case.ts";
import {
  anyCompleteCase,
  CLEAN_OPEN,
  FINDINGS,
  HEALTHY_CLOSED,
  handPolicy,
  handRules,
  possibleRules,
  sureEffects,
  sureRules,
} from "./hand-pathway.ts";

const rules = handRules();
const urgencies = (facts: Parameters<typeof rules>[0]) => sureEffects(rules(facts), "urgency").map((e) => e.urgency);
const saidIds = (facts: Parameters<typeof rules>[0]) => sureRules(rules(facts)).filter((id) => id.startsWith("OW"));

describe("the wash-out clock", () => {
  it("a closed fracture has none", () => expect(saidIds(HEALTHY_CLOSED)).toEqual([]));
  it("a clean open tuft fracture is washed out here, no theatre, no urgency of its own", () => {
    expect(saidIds(CLEAN_OPEN)).toEqual(["OW4a"]);
    expect(urgencies(CLEAN_OPEN)).toEqual([]);
  });
  it("a part that may be replanted goes now: nobody hears of a wash-out within 24 hours", () => {
    const facts = { ...CLEAN_OPEN, isolatedTuft: "no", tissueLoss: "amputation-replantable" };
    expect(saidIds(facts)).not.toContain("OW3");
    expect(saidIds({ ...facts, tissueLoss: "bone-exposed" })).toContain("OW3");
  });
  it("an open fracture beyond the tuft is seen within 24 hours", () => {
    expect(saidIds({ ...CLEAN_OPEN, isolatedTuft: "no" })).toEqual(["OW3", "OW3b"]);
    expect(urgencies({ ...CLEAN_OPEN, isolatedTuft: "no" })).toEqual(["D0"]);
  });
  it.each(["soil-or-manure", "heavy-dirt"])(
    "%s in an open tuft fracture goes to the surgeon now, and nothing is repaired here",
    (contamination) => {
      const trace = rules({ ...CLEAN_OPEN, contamination });
      expect(sureEffects(trace, "exit")).toMatchObject([{ exit: "gross-contamination", urgency: "NOW", leaves: true }]);
      expect(saidIds({ ...CLEAN_OPEN, contamination })).not.toContain("OW4a");
    },
  );
  it("a little dirt that washes out is washed out here (common practice, no source draws the line to gross dirt)", () => {
    const facts = { ...CLEAN_OPEN, contamination: "visible-dirt" };
    expect(sureEffects(rules(facts), "exit")).toEqual([]);
    expect(saidIds(facts)).toEqual(["OW4a"]);
    expect(sureEffects(rules(facts), "antibiotic").map((e) => e.decision)).toEqual(["consider"]);
  });
  it("a wound seen late is the hand team's: nobody is told to repair it here", () =>
    expect(saidIds({ ...CLEAN_OPEN, hoursSinceInjury: 30 })).not.toContain("OW4a"));
  it("an open nail bed without a fracture is no open fracture beyond the tuft", () => {
    const facts = { ...CLEAN_OPEN, openness: "open-nail-bed", isolatedTuft: "no", boneBroken: "no" };
    expect(saidIds(facts)).toEqual(["OW4d"]);
    expect(urgencies(facts)).toEqual([]);
  });
  it("after a high-pressure injection nobody is told to come within 24 hours: it is now", () =>
    expect(saidIds({ ...CLEAN_OPEN, mechanism: "high-pressure-injection", isolatedTuft: "no" })).not.toContain("OW3"));
  it("an open fracture with an irreducible joint or poor circulation goes now", () => {
    expect(urgencies({ ...CLEAN_OPEN, jointDislocated: "irreducible" })).toEqual(["NOW"]);
    expect(urgencies({ ...CLEAN_OPEN, tipColour: "white", perfusionAfterFirstSteps: "still-poor" })).toEqual(["NOW"]);
  });
  it("after 24 hours nobody hears of 'within 24 hours of the injury': the late rows speak", () => {
    const said = saidIds({ ...CLEAN_OPEN, isolatedTuft: "no", hoursSinceInjury: 24 });
    expect(said).toContain("OW6");
    expect(said).not.toContain("OW3");
    expect(sureRules(rules({ ...CLEAN_OPEN, isolatedTuft: "no", hoursSinceInjury: 24 }))).toContain("EX7a");
  });
  it("a cut digital artery is told to the hand surgeon, now when the tip was pale (common practice, no source)", () => {
    const cut = { ...CLEAN_OPEN, devitalised: "artery-cut" };
    expect(urgencies(cut)).toEqual(["D1"]);
    for (const perfusionAfterFirstSteps of ["restored", "still-poor"])
      expect(urgencies({ ...cut, tipColour: "pale", perfusionAfterFirstSteps })).toContain("NOW");
  });
  it("a tip that cannot be judged is not repaired here as if its circulation were good", () => {
    const facts: Parameters<typeof rules>[0] = { ...CLEAN_OPEN, tipColour: "cannot-tell" };
    const { perfusionAfterFirstSteps: _, ...unasked } = facts;
    expect(saidIds(unasked)).not.toContain("OW4a");
    expect(possibleRules(rules(unasked))).toContain("OW4a");
  });
  it("an open growth-plate fracture goes today", () =>
    expect(urgencies({ ...CLEAN_OPEN, openPhysealFracture: "yes" })).toEqual(["D0"]));
  it("a late wound is washed out all the same", () =>
    expect(saidIds({ ...CLEAN_OPEN, hoursSinceInjury: 60 })).toContain("OW6"));
  it("the warning about late growth-plate fractures is for growth-plate fractures", () => {
    const late = { ...CLEAN_OPEN, hoursSinceInjury: 60 };
    const warned = (facts: Parameters<typeof rules>[0]) =>
      sureEffects(rules(facts), "warn").some((w) => /over a third/.test(w.say));
    expect(warned(late)).toBe(false);
    expect(warned({ ...late, openPhysealFracture: "yes" })).toBe(true);
  });
  it("a large pulp loss goes today, a small one is dressed", () => {
    expect(urgencies({ ...CLEAN_OPEN, tissueLoss: "pulp-large" })).toEqual(["D0"]);
    expect(saidIds({ ...CLEAN_OPEN, tissueLoss: "pulp-small" })).toContain("OW4b");
  });
  it("nobody who is phoned through at once hears of hours to wait; a serious other injury leaves the clock of the wound running", () => {
    fc.assert(
      fc.property(anyCompleteCase, (facts) => {
        const trace = rules({ ...facts, openness: "open-skin", boneBroken: "yes", isolatedTuft: "no" });
        const now = [...sureEffects(trace, "exit"), ...sureEffects(trace, "urgency")]
          .filter((e) => e.urgency === "NOW")
          .filter((e) => e.kind !== "exit" || e.exit !== "serious-illness");
        const late = trace.signs.woundLate === "yes";
        expect(sureRules(trace).includes("OW3b")).toBe(now.length === 0 && !late);
      }),
      { numRuns: 1000 },
    );
  });
  it("a red flag that nobody can judge keeps the wash-out in its hours, and says what is not known", () => {
    const unjudged = assessDigit(pathway, {
      ...ADULT,
      fractureSite: "shaft",
      openness: "open-skin",
      mangled: "cannot-tell",
    });
    expect(unjudged.today.map((l) => l.text).join()).toMatch(
      /Time of the injury, or whether it goes at once, not known\. Wash-out and debridement within 24 hours/,
    );
  });
  it("as long as nobody knows whether only the tuft is broken, both ways stay open", () => {
    const { isolatedTuft: _, ...unasked } = CLEAN_OPEN;
    expect(possibleRules(rules(unasked))).toEqual(expect.arrayContaining(["OW3", "OW4a"]));
  });
});

describe("a wound over a closed fracture", () => {
  it.each(["skin-cut", "skin-burst-or-flap"])(
    "%s: a wound for tetanus, antibiotic and wash-out, but no open fracture",
    (openness) => {
      const trace = rules({ ...HEALTHY_CLOSED, mechanism: "crush", openness, tetanusDoses: "none" });
      expect(trace.signs).toMatchObject({ woundPresent: "yes", openFracture: "no" });
      expect(sureEffects(trace, "tetanus")).toMatchObject([{ vaccine: true, immunoglobulin: true }]);
      expect(sureEffects(trace, "antibiotic").map((e) => e.decision)).toEqual(["not-routinely"]);
      expect(sureRules(trace)).toEqual(expect.arrayContaining(["OW4c", "OW4f"]));
      expect(sureRules(trace)).not.toContain("OW3");
    },
  );
  const cut: Parameters<typeof rules>[0] = { ...HEALTHY_CLOSED, mechanism: "laceration", openness: "skin-cut" };
  const closed = (facts: Parameters<typeof rules>[0]) =>
    sureEffects(rules(facts), "today").some((t) => /close it loosely|repair and splint here/.test(t.say));
  const REASONS: readonly [string, Parameters<typeof rules>[0]][] = [
    ["glass is left in it", { foreignBody: "yes" }],
    ["nobody knows whether glass is left in it", { foreignBody: "cannot-tell" }],
    ["a large piece of pulp is lost", { tissueLoss: "pulp-large" }],
    ["bone lies bare", { tissueLoss: "bone-exposed" }],
    ["it is a bite", { mechanism: "human-bite" }],
    ["it is infected", { infectionSigns: "local" }],
    ["a surgeon takes it over", { surgeonTakesOver: "yes" }],
    [
      "a child's open growth plate is not excluded, so nobody knows who repairs it",
      { surgeonTakesOver: "cannot-tell" },
    ],
    ["soil is in it", { contamination: "soil-or-manure" }],
  ];
  it.each(REASONS)("is not closed here when %s", (_story, reason) => {
    expect(closed(cut)).toBe(true);
    expect(closed({ ...cut, ...reason })).toBe(false);
    expect(closed(CLEAN_OPEN)).toBe(true);
    expect(closed({ ...CLEAN_OPEN, ...reason })).toBe(false);
  });
  it("is washed out all the same", () =>
    expect(sureRules(rules({ ...cut, foreignBody: "yes" }))).toEqual(expect.arrayContaining(["OW4c", "OW4g"])));
  it("small pulp loss is dressed and heals by itself: nobody closes it", () => {
    expect(closed({ ...cut, tissueLoss: "pulp-small" })).toBe(false);
    expect(saidIds({ ...cut, tissueLoss: "pulp-small" })).toContain("OW4b");
  });
  it("glass in an open tuft fracture: left open for the hand team, no word of repair here", () =>
    expect(saidIds({ ...CLEAN_OPEN, foreignBody: "yes" })).toEqual(["OW4h"]));
  it("skin that is whole asks for no wash-out", () => expect(saidIds(HEALTHY_CLOSED)).toEqual([]));
});

describe("what a bone's own findings say of the wound", () => {
  // A module tells which of its findings open a fracture or tear tissue; here the numb sign stands for a torn nail bed, a foreign body for a torn-out nail.
  const withModule = evaluateAll(
    FINDINGS,
    [
      ...handSigns(handPolicy(), [{ sensation: "absent" }], [{ foreignBody: "yes" }]),
      ...handSignsAfterModule(handPolicy()),
    ],
    handTables(handPolicy()),
  );
  it("opens the fracture although 'closed' was answered, and that is said", () => {
    const trace = withModule({ ...HEALTHY_CLOSED, sensation: "absent" });
    expect(trace.signs).toMatchObject({ openFracture: "yes", woundPresent: "yes" });
    expect(sureRules(trace)).toContain("DQ4d");
    expect(sureEffects(trace, "antibiotic").map((e) => e.decision)).not.toContain("no");
  });
  it("torn tissue is a wound, and never a clean minor one for tetanus", () =>
    expect(withModule({ ...HEALTHY_CLOSED, mechanism: "fall", foreignBody: "yes" }).signs).toMatchObject({
      openFracture: "no",
      woundPresent: "yes",
      tetanusDirtyWound: "yes",
    }));
});

describe("first minutes", () => {
  it("elevation and a dressing that shows the tip are for everybody", () =>
    expect(sureRules(rules({}))).toEqual(expect.arrayContaining(["EM2", "EM6"])));
  it("a healthy finger is cooled; a pale tip or Raynaud never is, not even while the recovery is awaited", () => {
    const cooled = (facts: Parameters<typeof rules>[0]) =>
      sureEffects(rules(facts), "today").some((t) => /cool/i.test(t.say));
    expect(cooled(HEALTHY_CLOSED)).toBe(true);
    expect(cooled({ ...HEALTHY_CLOSED, vasospasm: "yes" })).toBe(false);
    expect(cooled({ ...HEALTHY_CLOSED, arterialDisease: "yes" })).toBe(false);
    for (const perfusionAfterFirstSteps of ["restored", "still-poor", "not-yet"])
      expect(cooled({ ...HEALTHY_CLOSED, tipColour: "dusky", perfusionAfterFirstSteps })).toBe(false);
    expect(cooled({})).toBe(false);
  });
  it("nothing is said of a block or a finger tourniquet where a block is forbidden", () => {
    const block = ["EM4", "EM5"];
    expect(sureRules(rules(CLEAN_OPEN))).toEqual(expect.arrayContaining(block));
    for (const reason of [
      { mechanism: "high-pressure-injection" },
      { localAnaestheticAllergy: "yes" },
      { infectionSigns: "spreading" },
      { tipColour: "white", perfusionAfterFirstSteps: "not-yet" },
    ])
      expect(sureRules(rules({ ...CLEAN_OPEN, ...reason })).filter((id) => block.includes(id))).toEqual([]);
  });
  it("a ring comes off now", () => {
    expect(sureRules(rules({ ...HEALTHY_CLOSED, ringsOnHand: "yes" }))).toContain("EM1");
    expect(sureRules(rules(HEALTHY_CLOSED))).not.toContain("EM1");
  });
  it("a dusky tip is straightened, warmed and looked at again, until it has recovered", () => {
    expect(sureRules(rules({ tipColour: "dusky" }))).toContain("EM3");
    for (const perfusionAfterFirstSteps of ["not-yet", "still-poor"])
      expect(sureRules(rules({ ...HEALTHY_CLOSED, tipColour: "dusky", perfusionAfterFirstSteps }))).toContain("EM3");
    const restored = rules({ ...HEALTHY_CLOSED, tipColour: "dusky", perfusionAfterFirstSteps: "restored" });
    expect([...sureRules(restored), ...possibleRules(restored)]).not.toContain("EM3");
  });
  it("feeling and movement are recorded before a block", () => {
    expect(sureRules(rules(CLEAN_OPEN))).toEqual(expect.arrayContaining(["EM4", "EM5"]));
    expect(sureRules(rules(HEALTHY_CLOSED))).not.toContain("EM4");
  });
});

describe("the record itself", () => {
  const lines = (facts: Parameters<typeof rules>[0]) => sureRules(rules(facts)).filter((id) => id.startsWith("DQ"));
  it("'not sure' with blood at the nail fold is treated as open", () => {
    const facts = { ...HEALTHY_CLOSED, openness: "uncertain", bloodAtNailFold: "yes" };
    expect(lines(facts)).toEqual(["DQ4a"]);
    expect(rules(facts).signs.openFracture).toBe("yes");
  });
  it("'not sure' with a quiet nail fold is looked at again", () =>
    expect(lines({ ...HEALTHY_CLOSED, openness: "uncertain" })).toEqual(["DQ4b"]));
  it("'not sure' with the fold not looked at is neither open nor closed", () => {
    const { bloodAtNailFold: _, ...unasked }: Parameters<typeof rules>[0] = {
      ...HEALTHY_CLOSED,
      openness: "uncertain",
    };
    expect(rules(unasked).signs.openFracture).toBe("not-asked");
  });
  it.each(["closed", "skin-cut"])(
    "'%s' with bone exposed is treated as open, and the contradiction is said",
    (openness) => {
      const facts = { ...HEALTHY_CLOSED, openness, tissueLoss: "bone-exposed" };
      expect(lines(facts)).toEqual(["DQ4d"]);
      expect(rules(facts).signs.openFracture).toBe("yes");
    },
  );
  it("'closed' with blood at the fold does not fit together", () =>
    expect(lines({ ...HEALTHY_CLOSED, bloodAtNailFold: "yes" })).toEqual(["DQ4c"]));
  it("an open wound after a day is no flaw of the record: the rows on lateness say it, each thing once", () => {
    const late = { ...CLEAN_OPEN, hoursSinceInjury: 24 };
    expect(lines(late)).toEqual([]);
    expect(sureRules(rules(late)).filter((id) => /^(EX7|OW6|OW9)/.test(id))).toEqual(["EX7a", "OW6"]);
  });
});

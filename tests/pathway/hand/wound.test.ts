import { describe, expect, it } from "vitest";
import { CLEAN_OPEN, HEALTHY_CLOSED, handRules, possibleRules, sureEffects, sureRules } from "./hand-pathway.ts";

const rules = handRules();
const urgencies = (facts: Parameters<typeof rules>[0]) => sureEffects(rules(facts), "urgency").map((e) => e.urgency);
const saidIds = (facts: Parameters<typeof rules>[0]) => sureRules(rules(facts)).filter((id) => id.startsWith("OW"));

describe("the wash-out clock", () => {
  it("a closed fracture has none", () => expect(saidIds(HEALTHY_CLOSED)).toEqual([]));
  it("a clean open tuft fracture is washed out here, no theatre, no urgency of its own", () => {
    expect(saidIds(CLEAN_OPEN)).toEqual(["OW4a"]);
    expect(urgencies(CLEAN_OPEN)).toEqual([]);
  });
  it("an open fracture beyond the tuft is seen within 24 hours", () => {
    expect(saidIds({ ...CLEAN_OPEN, isolatedTuft: "no" })).toEqual(["OW3"]);
    expect(urgencies({ ...CLEAN_OPEN, isolatedTuft: "no" })).toEqual(["D0"]);
  });
  it("manure in an open tuft fracture goes to the surgeon now", () => {
    expect(urgencies({ ...CLEAN_OPEN, contamination: "soil-or-manure" })).toEqual(["NOW"]);
    expect(saidIds({ ...CLEAN_OPEN, contamination: "soil-or-manure" })).not.toContain("OW4a");
  });
  it("an open fracture with an irreducible joint or poor circulation goes now", () => {
    expect(urgencies({ ...CLEAN_OPEN, jointDislocated: "irreducible" })).toEqual(["NOW"]);
    expect(urgencies({ ...CLEAN_OPEN, tipColour: "white", perfusionAfterFirstSteps: "still-poor" })).toEqual(["NOW"]);
  });
  it("an open growth-plate fracture goes today", () =>
    expect(urgencies({ ...CLEAN_OPEN, openPhysealFracture: "yes" })).toEqual(["D0"]));
  it("a late wound is washed out all the same", () =>
    expect(saidIds({ ...CLEAN_OPEN, hoursSinceInjury: 60 })).toContain("OW6"));
  it("a large pulp loss goes today, a small one is dressed", () => {
    expect(urgencies({ ...CLEAN_OPEN, tissueLoss: "pulp-large" })).toEqual(["D0"]);
    expect(saidIds({ ...CLEAN_OPEN, tissueLoss: "pulp-small" })).toContain("OW4b");
  });
  it("as long as nobody knows whether only the tuft is broken, both ways stay open", () => {
    const { isolatedTuft: _, ...unasked } = CLEAN_OPEN;
    expect(possibleRules(rules(unasked))).toEqual(expect.arrayContaining(["OW3", "OW4a"]));
  });
});

describe("first minutes", () => {
  it("elevation, cooling and a dressing that shows the tip are for everybody", () =>
    expect(sureRules(rules({}))).toEqual(expect.arrayContaining(["EM2", "EM6"])));
  it("a ring comes off now", () => {
    expect(sureRules(rules({ ...HEALTHY_CLOSED, ringsOnHand: "yes" }))).toContain("EM1");
    expect(sureRules(rules(HEALTHY_CLOSED))).not.toContain("EM1");
  });
  it("a dusky tip is straightened, warmed and looked at again", () =>
    expect(sureRules(rules({ tipColour: "dusky" }))).toContain("EM3"));
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
  it("'closed' with blood at the fold does not fit together", () =>
    expect(lines({ ...HEALTHY_CLOSED, bloodAtNailFold: "yes" })).toEqual(["DQ4c"]));
  it("an open wound after a day is handled as late", () =>
    expect(lines({ ...CLEAN_OPEN, hoursSinceInjury: 24 })).toEqual(["DQ6"]));
});

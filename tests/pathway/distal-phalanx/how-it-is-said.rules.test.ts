import { describe, expect, it } from "vitest";
import type { Effect } from "../../../src/pathway/hand/effects.ts";
import { ADULT, pathway, told, without } from "./records.ts";

const rules = pathway.tables.flatMap((table) => table.rules);
const lines = rules.flatMap((rule) => rule.then.map((effect: Effect) => ({ id: rule.id, effect })));

describe("data quality", () => {
  const blocking = lines.flatMap(({ id, effect }) => (effect.kind === "quality" && effect.blocks ? [id] : []));
  it("stops at no film, no true lateral of the base, and answers that cannot both be true; it never stops at what can be tested again", () =>
    expect(blocking).toEqual(["DPQ-4", "DPQ-6", "DPQ-7", "DPQ-8", "DPQ-10", "DPQ-11", "DPQ-12"]));
});

describe("red flags for home", () => {
  const flagged = lines.flatMap(({ id, effect }) => (effect.kind === "advise" && effect.redFlag ? [id] : []));
  it("colour, rising pain, spreading redness, sausage finger, splint, sudden loss of movement, a child's nail, bleeding; a loose wire wherever one may be placed", () =>
    expect(flagged).toEqual([
      ...["SN-R1", "SN-R2", "SN-R3", "SN-R4", "SN-R5", "SN-R6", "SN-R7", "SN-R8"],
      ...["ADV-11", "ADV-12", "ADV-13", "ADV-14", "ADV-15", "ADV-16", "ADV-17", "ADV-24"],
    ]));
});

describe("how tables are heard", () => {
  const flagged = (flag: "gate" | "ordinary" | "checks") =>
    pathway.tables
      .filter((t) => t[flag])
      .map((t) => t.id)
      .join(" ");
  it("no urgency is said while an exit is open; nothing else holds it back", () => expect(flagged("gate")).toBe("EX"));
  it("treatment, splint, visits and advice of an ordinary fracture fall silent once an exit leaves; wound, tetanus and red flags never do", () =>
    expect(flagged("ordinary")).toBe(
      "OW4 AB8 SN complications nail-here growth-plate jersey mallet combined-base shaft tuft splint follow-up distal-phalanx-advice",
    ));
  it("answers held against each other, and complications, are never a reason to ask", () =>
    expect(flagged("checks")).toBe("contradiction complications"));
});

describe("size of the blood under the nail", () => {
  // ROSER99 and SEABERG91: pain decides, whatever the size.
  const painful = { ...ADULT, haematomaPainful: "yes", immuneCompromise: "yes" };
  const heard = (facts: typeof ADULT) => pathway.evaluate(facts).verdicts.flatMap((v) => v.sure.map((r) => r.id));
  for (const nail of [
    {},
    { acrylicNail: "yes" },
    { nailPlate: "split" },
    { hoursSinceInjury: 60 },
    { haematomaPainful: "no" },
  ])
    it(`decides nothing: ${Object.entries(nail).flat().join(" ") || "whole nail"}`, () => {
      const small = heard({ ...painful, ...nail, haematoma: "under-quarter" });
      expect(heard({ ...painful, ...nail, haematoma: "quarter-to-half" })).toEqual(small);
      expect(heard({ ...painful, ...nail, haematoma: "over-half" })).toEqual(small);
      expect(heard({ ...painful, ...nail, haematoma: "none" })).not.toEqual(small);
    });
  it("a drained haematoma is looked at again only if the defence against infection is weak and it was drained for pain", () => {
    const checks = (facts: typeof ADULT) => told(facts).visits.filter((v) => v.startsWith("wound-check"));
    expect(checks({ ...painful, haematoma: "under-quarter" })).toEqual(["wound-check 2-7"]);
    expect(checks({ ...painful, haematoma: "under-quarter", haematomaPainful: "no" })).toEqual([]);
    expect(checks({ ...painful, haematoma: "under-quarter", immuneCompromise: "no" })).toEqual([]);
    expect(checks({ ...painful, haematoma: "none" })).toEqual([]);
  });
});

describe("cautious readings", () => {
  const unmeasured = (fractureSite: string) =>
    without(
      { ...ADULT, fractureSite },
      ...["displacement", "translationMm", "corticalContact", "angulationDegrees", "jointStepMm"],
    );
  const mallet = { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 20 };
  it.each([
    ["a bony mallet, straightening not tested", without(mallet, "passiveExtension"), "42-56"],
    [
      "a tendon mallet, straightening not tested",
      without({ ...ADULT, activeExtension: "lag" }, "passiveExtension"),
      "56-56",
    ],
    ["a shaft, pattern not told", without({ ...ADULT, fractureSite: "shaft" }, "fracturePattern"), "21-42"],
    ["both sides of the base, displacement not told", unmeasured("base-both-sides"), "0-7"],
    ["a pushed-in joint, displacement not told", unmeasured("base-central"), "0-7"],
    ["a bony mallet, joint not told", without(mallet, "jointPosition"), "0-7"],
  ])("%s: splinted for the worse of both", (_, facts, days) =>
    expect(told(facts).assessment.splints.map(({ splint: s }) => `${s.days.from}-${s.days.to}`)).toEqual([days]),
  );
  it("straightening not tested: the mallet still has its splint check, its end of splint and its discharge", () => {
    expect(told(without(mallet, "passiveExtension")).visits).toEqual(
      expect.arrayContaining(["splint-review 5-7", "film-true-lateral 42-56", "discharge-check 77-91"]),
    );
    expect(told(without({ ...ADULT, activeExtension: "lag" }, "passiveExtension")).visits).toEqual(
      expect.arrayContaining(["splint-review 5-7", "therapy 56-56", "discharge-check 77-91"]),
    );
  });
  it("displacement of the joint surface not told: the surgeon looks within a day", () => {
    for (const fractureSite of ["base-both-sides", "base-central"])
      expect(told(unmeasured(fractureSite)).visits).toContain("surgeon-review 0-1");
  });
});

import { describe, expect, it } from "vitest";
import { HAND_FINDINGS, HAND_GROUPS, HAND_QUESTIONS } from "../../../src/pathway/hand/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { CLEAN_OPEN, HEALTHY_CLOSED, handPolicy, handRules, sureEffects, sureRules } from "./hand-pathway.ts";

const rules = handRules();
const mods = (facts: Facts, policy = handPolicy()) =>
  sureRules(handRules(policy)(facts)).filter((id) => id.startsWith("MOD"));

describe("what other conditions add", () => {
  it("nothing in a healthy person", () => expect(mods(HEALTHY_CLOSED)).toEqual([]));
  it.each<[string, Facts, string[]]>([
    [
      "diabetes with a wound: warned, and the wound is seen on day 2-3",
      { ...CLEAN_OPEN, diabetes: "yes" },
      ["MOD-1", "MOD-2"],
    ],
    ["diabetes without a wound: warned only", { ...HEALTHY_CLOSED, diabetes: "yes" }, ["MOD-1"]],
    ["weak immune system with a wound", { ...CLEAN_OPEN, immuneCompromise: "yes" }, ["MOD-3", "MOD-4"]],
    [
      "arterial disease with a wound: warned, and the wound is seen on day 2-3",
      { ...CLEAN_OPEN, arterialDisease: "yes" },
      ["MOD-5", "MOD-21"],
    ],
    ["arterial disease without a wound", { ...HEALTHY_CLOSED, arterialDisease: "yes" }, ["MOD-5"]],
    ["Raynaud", { ...HEALTHY_CLOSED, vasospasm: "yes" }, ["MOD-6"]],
    ["anticoagulant", { ...HEALTHY_CLOSED, bleedingTendency: "yes" }, ["MOD-7"]],
    ["smoker", { ...HEALTHY_CLOSED, smoker: "yes" }, ["MOD-8"]],
    ["breast-feeding", { ...HEALTHY_CLOSED, pregnant: "breast-feeding" }, ["MOD-18"]],
    ["pregnancy", { ...HEALTHY_CLOSED, pregnant: "yes" }, ["MOD-9"]],
    ["liver disease", { ...HEALTHY_CLOSED, liverOrHeartDisease: "yes" }, ["MOD-10"]],
    [
      "a mild penicillin allergy",
      { ...HEALTHY_CLOSED, openness: "open-skin", penicillinAllergy: "low-risk" },
      ["MOD-11"],
    ],
    ["metal allergy", { ...HEALTHY_CLOSED, metalAllergy: "yes" }, ["MOD-12"]],
    ["latex allergy", { ...HEALTHY_CLOSED, latexOrAdhesiveAllergy: "yes" }, ["MOD-13"]],
    ["a frail person living alone", { ...HEALTHY_CLOSED, cannotKeepSplint: "yes" }, ["MOD-14"]],
    ["a violinist", { ...HEALTHY_CLOSED, handDependentWork: "yes" }, ["MOD-15"]],
    ["the index finger of the leading hand", { ...HEALTHY_CLOSED, digit: "index", side: "right" }, ["MOD-16"]],
    ["a story that does not fit", { ...HEALTHY_CLOSED, safeguardingConcern: "yes" }, ["MOD-17"]],
  ])("%s", (_story, facts, expected) => expect(mods(facts)).toEqual(expected));
  it("the index finger of the other hand is no reason", () =>
    expect(mods({ ...HEALTHY_CLOSED, digit: "index", side: "left" })).toEqual([]));
  it("the early wound check falls on day 2-3", () => {
    for (const illness of [{ diabetes: "yes" }, { immuneCompromise: "yes" }, { arterialDisease: "yes" }]) {
      const [visit] = sureEffects(rules({ ...CLEAN_OPEN, ...illness }), "visit");
      expect(visit!.visit).toMatchObject({ purpose: "wound-check", earliest: 2, ideal: 2, latest: 3 });
    }
  });
  it.each([{ vasospasm: "yes" }, { arterialDisease: "yes" }])(
    "a pale tip that recovered is told to the hand surgeon at once in %j: the threshold is low (common practice, no source)",
    (disease) => {
      const pale = { ...HEALTHY_CLOSED, tipColour: "pale", perfusionAfterFirstSteps: "restored" };
      const urgencies = (facts: Facts) => sureEffects(rules(facts), "urgency").map((u) => u.urgency);
      expect(urgencies({ ...pale, ...disease })).toEqual(["NOW"]);
      expect(urgencies(pale)).toEqual([]);
      expect(urgencies({ ...HEALTHY_CLOSED, ...disease })).toEqual([]);
      // Nobody leaves before the call, so no day is given instead of it.
      expect(sureEffects(rules({ ...pale, ...disease }), "visit")).toEqual([]);
    },
  );
  it.each(["human-bite", "burn-or-frostbite"])(
    "a child with a %s: a safeguarding discussion is considered",
    (mechanism) => {
      expect(mods({ ...CLEAN_OPEN, ageYears: 3, mechanism })).toContain("MOD-17b");
      expect(mods({ ...CLEAN_OPEN, ageYears: 30, mechanism })).not.toContain("MOD-17b");
    },
  );
  it("the safeguarding question names bite marks of an adult, burns and neglect", () =>
    expect(HAND_QUESTIONS.find((q) => q.finding === "safeguardingConcern")!.hint).toMatch(
      /bite marks of an adult, burns, .*neglect/,
    ));
  it("a door crush in a mobile toddler raises no safeguarding task by itself", () =>
    expect(mods({ ...CLEAN_OPEN, ageYears: 2, openPhysealFracture: "yes" })).toEqual([]));
});

describe("injury at work", () => {
  it("UK: a fracture alone is not on the list, an amputation is", () => {
    const uk = handPolicy({ "hand.jurisdiction": "UK" });
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes" }, uk)).toEqual(["MOD-W1"]);
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes", tissueLoss: "amputation-not-replantable" }, uk)).toEqual([
      "MOD-W2",
    ]);
  });
  it.each(["pulp-small", "pulp-large", "bone-exposed"])(
    "UK: %s, nothing of the finger cut off: told by the days of work that are missed (RIDDOR, regulation 4)",
    (tissueLoss) =>
      expect(
        mods({ ...HEALTHY_CLOSED, workRelated: "yes", tissueLoss }, handPolicy({ "hand.jurisdiction": "UK" })),
      ).toEqual(["MOD-W1"]),
  );
  it("US: lost bone is written down and reported within 24 hours", () => {
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes" })).toEqual(["MOD-W3", "MOD-W6"]);
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes", tissueLoss: "bone-exposed" })).toEqual(["MOD-W4"]);
  });
  it("US: a fingertip sawn off without bone is reported within 24 hours too", () =>
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes", tissueLoss: "pulp-large" })).toEqual(["MOD-W4"]));
  it("US: an injury without a fracture is not called a recordable fracture", () =>
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes", boneBroken: "no" })).toEqual(["MOD-W3"]));
  it("Australia: the rules are not in this knowledge, and that is said", () =>
    expect(mods({ ...HEALTHY_CLOSED, workRelated: "yes" }, handPolicy({ "hand.jurisdiction": "AU" }))).toEqual([
      "MOD-W5",
    ]));
  it("not at work: nothing", () => expect(mods(HEALTHY_CLOSED)).toEqual([]));
});

describe("safety net", () => {
  it("the reasons to come back are given before a single question is answered", () =>
    expect(
      sureEffects(rules({}), "advise")
        .filter((a) => a.redFlag)
        .map((a) => a.point),
    ).toEqual(["circulation", "pain", "infection", "sheath", "splint", "movement"]));
  it("parents are told about a lifted nail and a drooping tip", () => {
    expect(sureRules(rules({ ...HEALTHY_CLOSED, ageYears: 17 }))).toContain("SN-R7");
    expect(sureRules(rules({ ...HEALTHY_CLOSED, ageYears: 18 }))).not.toContain("SN-R7");
  });
  it("wound advice is for wounds, advice on smoking for smokers", () => {
    for (const wound of ["SN-P2", "SN-R8"]) {
      expect(sureRules(rules(HEALTHY_CLOSED))).not.toContain(wound);
      expect(sureRules(rules(CLEAN_OPEN))).toContain(wound);
    }
    expect(sureRules(rules({ ...HEALTHY_CLOSED, smoker: "yes" }))).toContain("SN-P12");
  });
  it("a torn flexor tendon is not told to move the joints that its splint holds", () => {
    expect(sureRules(rules(HEALTHY_CLOSED))).toEqual(expect.arrayContaining(["SN-P1", "SN-P1b"]));
    const torn = sureRules(rules({ ...HEALTHY_CLOSED, fdpLoss: "yes" }));
    expect(torn).toContain("SN-P1");
    expect(torn).not.toContain("SN-P1b");
  });
  it("the licence office is a matter of the UK", () => {
    const drive = (jurisdiction: string) =>
      sureEffects(handRules(handPolicy({ "hand.jurisdiction": jurisdiction }))(HEALTHY_CLOSED), "advise").find(
        (a) => a.point === "P13",
      )!.say;
    expect(drive("UK")).toMatch(/more than 3 months/);
    expect(drive("US")).not.toMatch(/licence office/);
  });
  it("driving and the employer are matters of adults", () => {
    const adult = ["SN-P13", "SN-P14"];
    expect(sureRules(rules(HEALTHY_CLOSED))).toEqual(expect.arrayContaining(adult));
    expect(sureRules(rules({ ...HEALTHY_CLOSED, ageYears: 5 })).filter((id) => adult.includes(id))).toEqual([]);
  });
  it("reads easily: short sentences, short words", () => {
    // Common practice, no source: Flesch-Kincaid grade 6 or less reads at about age 11; syllables are counted by vowel groups.
    const text = sureEffects(rules({ ...CLEAN_OPEN, ageYears: 10, smoker: "yes", diabetes: "yes" }), "advise")
      .map((a) => a.say)
      .join(" ");
    const sentences = text.split(/[.!?]+\s/).length;
    const words = text.split(/\s+/);
    const syllables = words.reduce(
      (n, w) =>
        n +
        Math.max(
          1,
          (
            w
              .toLowerCase()
              .replace(/e\b/, "")
              .match(/[aeiouy]+/g) ?? []
          ).length,
        ),
      0,
    );
    expect(0.39 * (words.length / sentences) + 11.8 * (syllables / words.length) - 15.59).toBeLessThan(6);
  });
});

describe("questions", () => {
  const finding = (id: string) => HAND_FINDINGS[id as keyof typeof HAND_FINDINGS];
  it("every finding has one question, and every question a finding", () =>
    expect(HAND_QUESTIONS.map((q) => q.finding).sort()).toEqual(Object.keys(HAND_FINDINGS).sort()));
  it("every finding stands in exactly one group", () =>
    expect(HAND_GROUPS.flatMap((g) => g.findings).sort()).toEqual(Object.keys(HAND_FINDINGS).sort()));
  it("the options of a question are the values of its finding, each once", () => {
    for (const q of HAND_QUESTIONS) {
      const d = finding(q.finding);
      expect([q.finding, q.options?.map((o) => o.value).sort()]).toEqual([
        q.finding,
        d.type === "choice" ? [...d.values].sort() : undefined,
      ]);
    }
  });
  it("a quick answer sets only findings of its own group, to values they have", () => {
    for (const g of HAND_GROUPS)
      for (const quick of g.quick)
        for (const [id, value] of Object.entries(quick.sets)) {
          expect(g.findings).toContain(id);
          const d = finding(id);
          expect(d.type === "choice" && (d.values as readonly string[]).includes(value)).toBe(true);
        }
  });
  it("a chart never proposes what only an examination can tell", () => {
    const EXAMINED = [
      "tipColour",
      "capillaryRefill",
      "perfusionAfterFirstSteps",
      "sensation",
      "tissueLoss",
      "openness",
      "bloodAtNailFold",
      "devitalised",
      "sheathSigns",
      "infectionSigns",
      "contamination",
      "safeguardingConcern",
    ];
    expect(HAND_QUESTIONS.filter((q) => q.chartMayPropose && EXAMINED.includes(q.finding))).toEqual([]);
  });
  it("'none of these' rules every red flag out that it lists, and nothing else is needed for them", () => {
    const none = Object.assign(
      {},
      ...["red-flags", "circulation-and-feeling"].map((id) => HAND_GROUPS.find((g) => g.id === id)!.quick[0]!.sets),
    ) as Facts;
    const trace = rules({ ...none, mechanism: "axial-load", openness: "closed" });
    const gate = trace.verdicts[0]!;
    expect([gate.sure, gate.possible]).toEqual([[], []]);
  });
});

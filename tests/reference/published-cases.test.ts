import { describe, expect, it } from "vitest";
import { assessCase, type CaseRecord, URGENCIES } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { distalPhalanx, pathway, told } from "../pathway/distal-phalanx/records.ts";
import { PUBLISHED_CASES } from "./published-cases.ts";

const asUrgentAs = (facts: Facts, urgency: (typeof URGENCIES)[number]) => {
  const { sure } = told(facts).assessment.urgency;
  expect(sure).toBeDefined();
  expect(URGENCIES.indexOf(sure!)).toBeLessThanOrEqual(URGENCIES.indexOf(urgency));
};
const exitsOf = (facts: Facts) => told(facts).assessment.exits.map((e) => e.effect.exit);
const texts = (facts: Facts) => {
  const a = told(facts).assessment;
  return [...a.exits, ...a.quality, ...a.today, ...a.management, ...a.tasks, ...a.warnings]
    .map((l) => l.text)
    .join(" ");
};

describe(PUBLISHED_CASES.largeFlexorAvulsion.report, () => {
  const { facts } = PUBLISHED_CASES.largeFlexorAvulsion;
  it("is a flexor avulsion, type III provisional, operated, seen today or next working day", () => {
    const a = told(facts);
    expect(a.classes).toEqual(["JERSEY"]);
    expect(a.calls).toEqual(["operative"]);
    asUrgentAs(facts, "D1");
    // tendon level not stated: type III or IV is left open
    expect(a.assessment.ask).toContain("tendonEndAt");
    expect(told({ ...facts, tendonEndAt: "not-located" }).published).toEqual(["LEDDY-III"]);
  });
  it("plans the wire across the joint out at 6 weeks, as published", () =>
    expect(told(facts).visits).toContain("wire-out 42-45"));
});

describe(PUBLISHED_CASES.comminutedTuftAtFourWeeks.report, () => {
  const { facts } = PUBLISHED_CASES.comminutedTuftAtFourWeeks;
  it("is a comminuted tuft: no surgery, no antibiotic, advice on work and on months of tenderness", () => {
    const a = told(facts);
    expect(a.classes).toEqual(["TUFT-C"]);
    expect(a.calls).toEqual(["non-operative"]);
    expect(a.antibiotic).toEqual(["no"]);
    const advice = a.assessment.advice.map((l) => l.text).join(" ");
    expect(advice).toMatch(/months/);
    expect(advice).toMatch(/hand work/i);
    expect(texts(facts)).toContain("leave it if painless");
    // the report splinted for 4 to 6 weeks: the dissent stands beside the shorter time
    expect(a.assessment.splints[0]!.sources.some((c) => c.says === "against" && c.at.includes("4 to 6 weeks"))).toBe(
      true,
    );
  });
});

describe(PUBLISHED_CASES.nailRootAboveFold.report, () => {
  const { facts } = PUBLISHED_CASES.nailRootAboveFold;
  it("is a Seymour fracture, today, with antibiotic, and never a tuft", () => {
    const a = told(facts);
    expect(a.classes).toEqual(["SEYMOUR"]);
    asUrgentAs(facts, "D0");
    expect([...a.classes, ...a.possible].join()).not.toContain("TUFT");
    expect(a.calls).toContain("operative");
    expect(texts(facts)).toMatch(/[Aa]ntibiotic/);
    expect(told({ ...facts, bloodAtNailFold: "yes", openness: "open-nail-bed" }).antibiotic).toEqual(["yes"]);
  });
});

describe(PUBLISHED_CASES.lyticPhalanxInDiabetes.report, () => {
  const { facts } = PUBLISHED_CASES.lyticPhalanxInDiabetes;
  it("leaves the fracture pathway for infection, same day or now, cultures before antibiotics", () => {
    const a = told(facts);
    expect(exitsOf(facts)).toEqual(["infection", "infection"]);
    expect(a.assessment.leftPathway).toBe(true);
    asUrgentAs(facts, "D0");
    expect(a.calls).toEqual([]);
    expect(texts(facts)).toMatch(/culture/i);
  });
});

describe(PUBLISHED_CASES.paintGun.report, () => {
  const { facts } = PUBLISHED_CASES.paintGun;
  it("goes to the hand surgeon now although it does not hurt, and the work injury is recorded", () => {
    const a = told(facts);
    expect(a.urgency).toBe("NOW");
    expect(exitsOf(facts)).toEqual(["high-pressure-injection"]);
    expect(texts(facts)).toMatch(/employer/i);
  });
});

describe(PUBLISHED_CASES.epiphysisDislocated.report, () => {
  const { facts } = PUBLISHED_CASES.epiphysisDislocated;
  it("is mallet-equivalent type C, seen within a day, open reduction", () => {
    const a = told(facts);
    expect(a.classes).toEqual(["MALLET-EQUIVALENT-C"]);
    asUrgentAs(facts, "D1");
    expect(a.calls).toContain("operative");
  });
  it("at 4 weeks and more it is also said to be late", () => {
    expect(exitsOf(facts)).not.toContain("late");
    expect(exitsOf({ ...facts, hoursSinceInjury: 28 * 24 })).toContain("late");
  });
});

describe(PUBLISHED_CASES.doubleDislocation.report, () => {
  const { facts } = PUBLISHED_CASES.doubleDislocation;
  // The second dislocation, of the middle joint, lies outside this pathway.
  it("is reduced and filmed again first, splinted 2 to 3 weeks afterwards", () => {
    expect(exitsOf(facts)).toEqual(["dislocation"]);
    expect(texts(facts)).toMatch(/film again/);
    expect(texts(facts)).toMatch(/2-3 weeks/);
    asUrgentAs(facts, "D0");
  });
});

describe(PUBLISHED_CASES.missedDislocation.report, () => {
  const { facts } = PUBLISHED_CASES.missedDislocation;
  it("is an irreducible dislocation that goes to the hand surgeon", () => {
    const a = told(facts);
    expect(exitsOf(facts)).toEqual(["dislocation"]);
    expect(a.assessment.leftPathway).toBe(true);
    asUrgentAs(facts, "W1");
  });
  it("missed for 2 months it is also said to be late, as published", () => {
    const missed = { ...facts, hoursSinceInjury: 60 * 24, presentation: "first" };
    expect(exitsOf(missed)).toEqual(expect.arrayContaining(["dislocation", "late"]));
    expect(exitsOf({ ...missed, hoursSinceInjury: 2 })).not.toContain("late");
  });
});

describe(PUBLISHED_CASES.doorAndNailWound.report, () => {
  const { facts } = PUBLISHED_CASES.doorAndNailWound;
  it("is a tuft fracture treated as open, the nail bed inspected, no routine wire, tetanus as for a dirty wound", () => {
    expect(told({ ...facts, fracturePattern: "simple" }).classes).toEqual(["TUFT-S"]);
    expect(texts(facts)).toMatch(/treated as open/);
    expect(texts(facts)).toMatch(/inspect the bed/);
    const whole = told({
      ...facts,
      fracturePattern: "simple",
      activeFlexion: "present",
      activeExtension: "full",
      // not in the report: a fresh, clean wound without a complex tear or lost tissue, that can be treated here
      hoursSinceInjury: 2,
      contamination: "clean",
      localAnaestheticAllergy: "no",
      foreignBody: "no",
      opennessOnSecondLook: "open-skin",
      nailBed: "not-seen",
      nailPlate: "loose-distally",
      woundOverJoint: "no",
      tetanusDoses: "three-or-more",
      tetanusYearsSinceLast: 7,
      immuneCompromise: "no",
    });
    expect(whole.calls).toEqual(["non-operative"]);
    // a clean wound would need no booster after 7 years; the open crush does
    expect(whole.assessment.tetanus.some((l) => l.effect.kind === "tetanus" && l.effect.vaccine)).toBe(true);
  });
});

describe(PUBLISHED_CASES.oneViewOnly.report, () => {
  const { facts } = PUBLISHED_CASES.oneViewOnly;
  it("asks for the true lateral and gives no class without knowing where the bone is broken", () => {
    const a = told(facts);
    expect(texts(facts)).toMatch(/true lateral/i);
    expect(a.classes).toEqual([]);
    expect(a.assessment.state).toBe("cannot-decide");
    expect(a.assessment.ask).toContain("fractureSite");
  });
  it("keeps the wash-out within 24 hours possible until the tuft is excluded, then sure", () => {
    expect(told(facts).assessment.stillPossible.map((l) => l.rule)).toContain("OW3");
    const shaft = { ...facts, fractureSite: "shaft" };
    expect(texts(shaft)).toMatch(/within 24 hours/);
    asUrgentAs(shaft, "D0");
  });
  it("records the work injury and takes an open crush as a dirty wound", () => {
    expect(texts(facts)).toMatch(/employer/i);
    expect(
      told({ ...facts, tetanusDoses: "not-known", immuneCompromise: "no" }).assessment.tetanus.some(
        (l) => l.effect.kind === "tetanus" && l.effect.immunoglobulin,
      ),
    ).toBe(true);
  });
});

describe(PUBLISHED_CASES.fixedDroop.report, () => {
  const { facts } = PUBLISHED_CASES.fixedDroop;
  it("is a bony mallet for the hand clinic within a week; the size of the fragment is asked for", () => {
    const a = told(facts);
    expect(a.classes).toEqual(["MALLET"]);
    asUrgentAs(facts, "W1");
    expect(a.assessment.ask).toContain("articularSharePercent");
    expect(texts(facts)).toMatch(/does not straighten passively/);
  });
  it("if the joint has slipped it is pinned, and the wires come out by 6 weeks, as published", () => {
    const slipped = { ...facts, articularSharePercent: 50, jointPosition: "volar-subluxed" };
    // not in the report: the flexor works, nothing is cut
    const whole = { ...slipped, activeFlexion: "present", woundOverJoint: "no", physis: "closed" };
    const wire = told(whole).assessment.visits.find((v) => v.purpose === "wire-out")!;
    expect(wire.latest).toBe(42);
    expect(wire.onlyIf).toMatch(/wire/);
  });
  it("with a large fragment, extension-block pinning still counts as suitable at 2 weeks", () => {
    const large = { ...facts, articularSharePercent: 50 };
    expect(texts(large)).toMatch(/pinning still reduces/);
    expect(texts({ ...large, hoursSinceInjury: 36 * 24 })).not.toMatch(/pinning still reduces/);
  });
});

it("a published case also stands as a whole record with dates", () => {
  const record: CaseRecord = {
    birthDate: "2012-01-10",
    injuredAt: "2026-02-03T15:00",
    assessedAt: "2026-02-03T17:00",
    patient: {},
    injury: { mechanism: "crush" },
    digits: [
      {
        digit: "ring",
        side: "right",
        nailPlate: "over-fold",
        filmTaken: "yes",
        trueLateral: "seen",
        physis: "open",
        salterHarris: "II",
        fractureSite: "physis",
      },
    ],
  };
  const c = assessCase(pathway, record);
  expect(c.digits[0]!.classes.filter((k) => !distalPhalanx.classes[k.class]!.scheme).map((k) => k.class)).toEqual([
    "SEYMOUR",
  ]);
  expect(c.digits[0]!.visits.find((v) => v.purpose === "wound-check")!.dates).toEqual({
    earliest: "2026-02-05",
    ideal: "2026-02-06",
    latest: "2026-02-06",
  });
});

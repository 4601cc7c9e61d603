import { describe, expect, it } from "vitest";
import { assessCase, type CaseRecord, URGENCIES } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { distalPhalanx, HEALTHY, pathway, told } from "../pathway/distal-phalanx/records.ts";

/**
 * Cases as they were published. Only what the report states is entered; what it does not state stays unknown, and then
 * "cannot decide yet" with the right question is a right answer. Where a report describes an otherwise well patient, the
 * red flags it would have named (lost circulation, infection, missing tissue) are entered as absent.
 */
const WELL: Facts = { ...HEALTHY };
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

describe("Bedi A, conference abstract: avulsion of the deep flexor with a very large fragment", () => {
  const facts = {
    ...WELL,
    ageYears: 56,
    digit: "little",
    side: "left",
    mechanism: "forced-extension",
    activeFlexion: "absent",
    openness: "closed",
    filmTaken: "yes",
    trueLateral: "seen",
    fractureSite: "base-volar",
    volarFragmentAt: "dip-or-a4",
    restOfPhalanx: "intact",
    displacement: "seen",
  };
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

describe("Clinical Advisor teaching case: comminuted index tip of a mechanic, seen at 4 weeks", () => {
  const facts = {
    ...WELL,
    ageYears: 56,
    digit: "index",
    side: "left",
    mechanism: "crush",
    workRelated: "yes",
    hoursSinceInjury: 28 * 24,
    openness: "closed",
    bloodAtNailFold: "no",
    nailPlate: "intact-seated",
    haematoma: "none",
    filmTaken: "yes",
    trueLateral: "seen",
    fractureSite: "tuft",
    fracturePattern: "comminuted",
    displacement: "none-seen",
    activeExtension: "full",
    activeFlexion: "present",
    nailPlaneRotation: "none",
    nailBed: "not-seen",
    woundOverJoint: "no",
  };
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

describe("Teaching case 2015: 14-year-old, ring finger in a door, nail root above the fold, Salter-Harris II", () => {
  const facts = {
    ...WELL,
    ageYears: 14,
    digit: "ring",
    side: "right",
    mechanism: "crush",
    nailPlate: "over-fold",
    filmTaken: "yes",
    trueLateral: "seen",
    physis: "open",
    salterHarris: "II",
    fractureSite: "physis",
    displacement: "seen",
  };
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

describe("Barlotta KS, case report: tense red thumb pulp with a lytic distal phalanx in diabetes", () => {
  const facts = {
    ageYears: 55,
    digit: "thumb",
    side: "right",
    diabetes: "yes",
    infectionSigns: "tense-pulp-or-discharge",
    lysisOrPeriostealReaction: "yes",
    mechanism: "no-adequate-trauma",
  };
  it("leaves the fracture pathway for infection, same day or now, cultures before antibiotics", () => {
    const a = told(facts);
    expect(exitsOf(facts)).toEqual(["infection", "infection"]);
    expect(a.assessment.leftPathway).toBe(true);
    asUrgentAs(facts, "D0");
    expect(a.calls).toEqual([]);
    expect(texts(facts)).toMatch(/culture/i);
  });
});

describe("Emergency teaching case: water-based paint gun, painless index finger, at work", () => {
  const facts = {
    ageYears: 37,
    digit: "index",
    side: "right",
    mechanism: "high-pressure-injection",
    tissueLoss: "none",
    workRelated: "yes",
    activeExtension: "full",
    activeFlexion: "present",
  };
  it("goes to the hand surgeon now although it does not hurt, and the work injury is recorded", () => {
    const a = told(facts);
    expect(a.urgency).toBe("NOW");
    expect(exitsOf(facts)).toEqual(["high-pressure-injection"]);
    expect(texts(facts)).toMatch(/employer/i);
  });
});

describe("Sadiq S, Waseem M, Fahmy N. Internet J Orthop Surg 2005;3(2): epiphysis dislocated dorsally, 7 years, at 3 weeks", () => {
  const facts = {
    ...WELL,
    ageYears: 7,
    hoursSinceInjury: 21 * 24,
    openness: "closed",
    mechanism: "other",
    physis: "open",
    epiphysisTurned: "turned-tendon-attached",
    filmTaken: "yes",
    trueLateral: "seen",
    fractureSite: "physis",
  };
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

describe("PMC7984901 (2021): double dislocation of a little finger at basketball, 13 years", () => {
  const facts = {
    ...WELL,
    ageYears: 13,
    digit: "little",
    mechanism: "axial-load",
    jointDislocated: "yes-not-yet-reduced",
    openness: "closed",
  };
  // The second dislocation, of the middle joint, lies outside this pathway.
  it("is reduced and filmed again first, splinted 2 to 3 weeks afterwards", () => {
    expect(exitsOf(facts)).toEqual(["dislocation"]);
    expect(texts(facts)).toMatch(/film again/);
    expect(texts(facts)).toMatch(/2-3 weeks/);
    asUrgentAs(facts, "D0");
  });
});

describe("J Trauma Inj 2019;32(1):47-50: end joint dislocation of a little finger missed after a motorcycle crash", () => {
  const facts = {
    ...WELL,
    ageYears: 26,
    digit: "little",
    mechanism: "other",
    jointDislocated: "irreducible",
    openness: "closed",
  };
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

describe("Ndegwa D, radiology case 177649: tuft fracture in a door with a small wound over the nail", () => {
  const facts = {
    ...WELL,
    ageYears: 20,
    digit: "ring",
    mechanism: "crush",
    openness: "uncertain",
    bloodAtNailFold: "yes",
    filmTaken: "yes",
    trueLateral: "seen",
    fractureSite: "tuft",
  };
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

describe("Yonso MOH, radiology case 88128: crushed middle finger at work, next day, one view only", () => {
  const facts = {
    ...WELL,
    ageYears: 30,
    digit: "middle",
    side: "left",
    mechanism: "crush",
    workRelated: "yes",
    openness: "open-skin",
    hoursSinceInjury: 20,
    filmTaken: "yes",
    trueLateral: "not-taken",
  };
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

describe("Agarwal S, Akhtar NM. J Orthop Case Rep 2012;2(3):17-20: mallet fracture 2 weeks old with a fixed droop", () => {
  const facts = {
    ...WELL,
    ageYears: 30,
    hoursSinceInjury: 14 * 24,
    mechanism: "other",
    openness: "closed",
    activeExtension: "lag",
    passiveExtension: "blocked",
    filmTaken: "yes",
    trueLateral: "seen",
    fractureSite: "base-dorsal",
  };
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

import { describe, expect, it } from "vitest";
import { BITE_ALTERNATIVE_YEARS, BITE_DAYS, LIDOCAINE, TETANUS } from "../../src/pathway/hand/limits.ts";
import { FINDING_DEFINITIONS, MODULES, POLICY_DEFINITIONS } from "../../src/pathway/index.ts";

const module = MODULES[0]!;

describe("what a site may set: proposed value and safe bounds", () => {
  // Sources are named where the number is printed; "common practice" has none.
  it.each<[string, number, number, number, string]>([
    ["hand.plainLidocaineMgPerKg", 3, 3, 4.5, "ACI-DB 3 mg/kg; LIDO-LABEL 4.5 mg/kg"],
    ["hand.childLidocaineMgPerKg", 3, 2, 4.4, "LIDO-LABEL: 75-100 mg at 22.7 kg is 3.3-4.4 mg/kg"],
    ["hand.perfusionRecheckMinutes", 10, 5, 10, "common practice"],
    ["hand.tourniquetMinutes", 20, 10, 30, "from memory"],
    ["hand.washoutHours", 24, 6, 24, "HS2 24 h; the older six hours KET17"],
    ["hand.antibioticDelayHours", 12, 6, 12, "KET17 compares 6 and 12 h"],
    ["hand.childNailLateHours", 24, 12, 24, "KIELY22 under 24 h"],
    ["hand.tendonLateDays", 10, 7, 10, "RADREF-LP, QA-JERSEY 7-10 days"],
    ["hand.malletLateDays", 28, 14, 28, "common practice; COS12 pinning poor after 5 weeks"],
    ["hand.nextDayWithinDays", 1, 1, 2, "common practice"],
    ["hand.clinicWithinDays", 7, 3, 7, "HS2 within one week"],
    ["hand.routineFromDays", 7, 5, 10, "common practice"],
    ["hand.routineToDays", 14, 7, 14, "common practice"],
    ["hand.earlyWoundCheckFromDay", 2, 1, 2, "common practice, day 2 to 3"],
    ["hand.earlyWoundCheckToDay", 3, 2, 3, "common practice, day 2 to 3"],
    ["hand.tetanusImmunoglobulinUnits", 250, 250, 500, "IMM, MDH-TET 250 IU; MSD-TET 500 IU"],
    ["distalPhalanx.displacedMm", 2, 1, 3, "common practice"],
    ["distalPhalanx.displacedDegrees", 10, 5, 15, "AAFP22 for the other phalanges"],
    ["distalPhalanx.physis.displacedMm", 2, 1, 2, "common practice, over 2 mm"],
    ["distalPhalanx.shaft.jointStepMm", 1, 1, 2, "common practice, 1 to 2 mm"],
    ["distalPhalanx.shaft.gapMm", 2, 1, 3, "common practice"],
    ["distalPhalanx.mallet.discussSharePercent", 33.3, 25, 33.3, "a third: COS12, LAMARIS17; 30 %: BJAS"],
    ["distalPhalanx.mallet.referSharePercent", 66.7, 50, 66.7, "two thirds; over 50 %: Doyle IVC in BACH17"],
    ["distalPhalanx.mallet.gapMm", 2, 1, 3, "RADREF-M over 2 mm; TEXT-THUMB 2-3 mm"],
    ["distalPhalanx.mallet.bonyFromDays", 42, 42, 56, "FV-MAL, MKUH 6 weeks"],
    ["distalPhalanx.mallet.tendinousFromDays", 56, 42, 56, "MKUH, AAFP22 8 weeks; SALAZAR16 6-8 weeks"],
    ["distalPhalanx.mallet.toDays", 56, 42, 56, "AAFP22 8 weeks; FV-MAL 6 weeks"],
    ["distalPhalanx.mallet.nightDays", 14, 0, 28, "MKUH 2 weeks; FV-MAL a month; GRUBER14 no benefit"],
    ["distalPhalanx.mallet.acceptLagDegrees", 10, 5, 15, "common practice, up to 10 degrees"],
    ["distalPhalanx.mallet.clinicLagDegrees", 20, 20, 25, "common practice, over 20 to 25 degrees"],
    ["distalPhalanx.mallet.wireFromDays", 28, 28, 35, "common practice, 4 weeks"],
    ["distalPhalanx.mallet.wireToDays", 42, 35, 42, "AGARWAL12 6 weeks"],
    ["distalPhalanx.tuft.fromDays", 14, 10, 21, "common practice; trade notes 10-14 days"],
    ["distalPhalanx.tuft.toDays", 28, 21, 42, "ORTHONET 3-4 weeks; AAFP22 up to 6"],
    ["distalPhalanx.tuft.woundedFromDays", 21, 21, 28, "ORTHONET 3-4 weeks"],
    ["distalPhalanx.tuft.motionFromDays", 7, 7, 14, "EATON from week 1"],
    ["distalPhalanx.tuft.motionToDays", 14, 7, 14, "common practice"],
    ["distalPhalanx.tuft.childFromDays", 14, 10, 14, "common practice, 2 to 3 weeks"],
    ["distalPhalanx.tuft.childToDays", 21, 14, 28, "common practice, 2 to 3 weeks"],
    ["distalPhalanx.shaft.fromDays", 21, 21, 28, "ORTHONET 3-4 weeks"],
    ["distalPhalanx.shaft.toDays", 42, 28, 42, "AAFP22 4-6 weeks"],
    ["distalPhalanx.shaft.longitudinalToDays", 28, 28, 42, "common practice, 3 to 4 weeks"],
    ["distalPhalanx.wireOutDays", 28, 21, 42, "common practice, 4 weeks (3 to 6)"],
    ["distalPhalanx.seymour.wireOutDays", 28, 21, 28, "CHINSEY 4 weeks"],
    ["distalPhalanx.jersey.repairDays", 10, 7, 10, "RADREF-LP, QA-JERSEY, CH35 7-10 days"],
    ["distalPhalanx.jersey.largeFragmentDays", 21, 10, 21, "common practice, day 21"],
    ["distalPhalanx.trephineHours", 48, 24, 48, "MEEK98: later clotted"],
  ])("%s is %d (%d to %d)", (key, value, min, max) =>
    expect(POLICY_DEFINITIONS[key]).toMatchObject({ type: "number", value, min, max }),
  );
  it.each([
    ["hand.jurisdiction", "US"],
    ["hand.tetanusScheme", "US"],
    ["hand.openShaftAntibiotic", "never"],
    ["hand.lidocaineCeiling", "service"],
  ])("%s starts as %s", (key, value) => expect(POLICY_DEFINITIONS[key]).toMatchObject({ type: "choice", value }));
  it("keeps thresholds in order: a lower one never passes the higher it names", () =>
    expect(
      Object.entries(POLICY_DEFINITIONS).flatMap(([key, d]) =>
        d.type === "number" && d.notAbove !== undefined ? [`${key} <= ${d.notAbove}`] : [],
      ),
    ).toEqual(
      expect.arrayContaining([
        "hand.childLidocaineMgPerKg <= hand.plainLidocaineMgPerKg",
        "hand.antibioticDelayHours <= hand.washoutHours",
        "hand.clinicWithinDays <= hand.routineFromDays",
        "hand.routineFromDays <= hand.routineToDays",
        "hand.earlyWoundCheckFromDay <= hand.earlyWoundCheckToDay",
      ]),
    ));
});

describe("printed limits that no site moves", () => {
  it("lidocaine: 4.5 mg/kg and 300 mg plain, 7 mg/kg and 500 mg with epinephrine, 75 to 100 mg at 22.7 kg (US label)", () =>
    expect(LIDOCAINE).toMatchObject({
      plainMgPerKg: 4.5,
      plainMaxMg: 300,
      epinephrineMgPerKg: 7,
      epinephrineMaxMg: 500,
      labelChild: { years: 5, kg: 22.7, fromMg: 75, toMg: 100 },
    }));
  it("infants under 6 months 30 % less (American Academy of Pediatrics); block of 2 to 5 mL, 0.5 to 1 at each point, 5 minutes (New South Wales)", () =>
    expect(LIDOCAINE).toMatchObject({
      infantYears: 0.5,
      infantReductionPercent: 30,
      blockMl: { from: 2, to: 5 },
      blockPointMl: { from: 0.5, to: 1 },
      onsetMinutes: 5,
      childYears: 12,
    }));
  it("tetanus: 5 and 10 years, 6 weeks, 7 and 11 years (MSD Manual, Minnesota); 6 and 24 hours, 5 and 11 years, 500 units (UK)", () =>
    expect(TETANUS).toMatchObject({
      shortYears: 5,
      longYears: 10,
      infantWeeks: 6,
      cleanUnderHours: 6,
      preschoolYears: 5,
      elevenYears: 11,
      adultProductYears: 7,
      largeDoseUnits: 500,
      largeDoseFromHours: 24,
    }));
  it("bites: 3 days to prevent, 5 to treat, another drug from 12 years (NHS Forth Valley after NICE NG184)", () => {
    expect(BITE_DAYS).toEqual({ prophylaxis: 3, treatment: 5 });
    expect(BITE_ALTERNATIVE_YEARS).toBe(12);
  });
});

describe("findings", () => {
  const numbers = Object.entries(FINDING_DEFINITIONS).flatMap(([id, d]) =>
    d.type === "number" ? [`${id} ${d.min} to ${d.max} ${d.unit}`] : [],
  );
  it("a number outside what a hand, a person or a life can show is a slip of the pen", () =>
    expect(numbers.sort()).toEqual([
      "ageYears 0 to 120 years",
      "angulationDegrees 0 to 180 degrees",
      "articularSharePercent 0 to 100 %",
      "fragmentGapMm 0 to 30 mm",
      "hoursSinceInjury 0 to 200000 hours",
      "jointStepMm 0 to 30 mm",
      "lagDegrees 0 to 90 degrees",
      "tetanusYearsSinceLast 0 to 120 years",
      "translationMm 0 to 30 mm",
      "weightKg 0.5 to 350 kg",
    ]));
  const of = (scope: string) =>
    Object.entries(FINDING_DEFINITIONS)
      .filter(([, d]) => d.scope === scope)
      .map(([id]) => id);
  it("history and allergies belong to the patient, whichever finger is asked about", () =>
    expect(of("patient").sort().join(" ")).toBe(
      "ageYears arterialDisease bleedingTendency cannotKeepSplint diabetes dominantHand handDependentWork immuneCompromise latexOrAdhesiveAllergy liverOrHeartDisease localAnaestheticAllergy metalAllergy otherAntibioticAllergy penicillinAllergy pregnant smoker tetanusDoses tetanusPreschoolBooster tetanusYearsSinceLast vasospasm weightKg",
    ));
  it("how, when and in what dirt it happened belongs to the accident, everything else to the finger", () => {
    expect(of("injury").sort().join(" ")).toBe(
      "biteBloodDrawn biteDeepOrDirty contamination hoursSinceInjury mechanism otherSeriousInjury presentation ringsOnHand safeguardingConcern workRelated",
    );
    expect(of("digit")).toContain("tipColour");
  });
});

describe("questions", () => {
  it("a chart may propose history, dates and what a film report names, never what has to be looked at or felt now", () =>
    expect(
      module.questions
        .filter((q) => q.chartMayPropose)
        .map((q) => q.finding)
        .sort()
        .join(" "),
    ).toBe(
      "ageYears arterialDisease bleedingTendency cannotKeepSplint diabetes digit dominantHand filmTaken fracturePattern fractureSite handDependentWork hoursSinceInjury immuneCompromise latexOrAdhesiveAllergy liverOrHeartDisease localAnaestheticAllergy mechanism metalAllergy otherAntibioticAllergy penicillinAllergy pregnant presentation salterHarris side smoker tetanusDoses tetanusPreschoolBooster tetanusYearsSinceLast trueLateral vasospasm weightKg workRelated",
    ));
  it("every finding has one question, in one group, that offers each of its values", () => {
    for (const [finding, d] of Object.entries(module.findings)) {
      const [question, ...more] = module.questions.filter((q) => q.finding === finding);
      expect(question, finding).toBeDefined();
      expect(more, finding).toEqual([]);
      const offered = question?.options?.map((o) => o.value).sort();
      expect(offered, finding).toEqual(d.type === "choice" ? [...d.values].sort() : undefined);
      expect(module.groups.filter((g) => g.findings.includes(finding)).length, finding).toBe(1);
    }
  });
});

describe('"none of these"', () => {
  const quick = (group: string) => module.groups.find((g) => g.id === group)!.quick.map((q) => q.sets);
  it("clears the red flags it stands under, each of them, and nothing else", () =>
    expect(quick("red-flags")).toEqual([
      {
        otherSeriousInjury: "no",
        mangled: "no",
        tissueLoss: "none",
        jointDislocated: "no",
        infectionSigns: "none",
        sheathSigns: "no",
        foreignBody: "no",
        boneLesion: "no",
        lysisOrPeriostealReaction: "no",
      },
    ]));
  it("circulation and feeling: pink, brisk, normal; no look after first steps that nobody took", () =>
    expect(quick("circulation-and-feeling")).toEqual([
      { tipColour: "pink", capillaryRefill: "brisk", sensation: "normal" },
    ]));
  it("whole skin says nothing of dirt, a clean wound nothing of the nail", () => {
    expect(quick("skin-and-nail")).toEqual([
      {
        openness: "closed",
        nailPlate: "intact-seated",
        haematoma: "none",
        bloodAtNailFold: "no",
        nailBed: "not-seen",
        woundOverJoint: "no",
      },
    ]);
    expect(quick("skin-and-wound")).toEqual([
      { contamination: "clean", devitalised: "no", washoutPossible: "done-well" },
    ]);
  });
  it("movement: a drooping tip, or all full; the flexor is tested in both", () =>
    expect(quick("movement").map((s) => [s.activeExtension, s.passiveExtension, s.activeFlexion])).toEqual([
      ["lag", "full", "present"],
      ["full", "full", "present"],
    ]));
  it("film in place: true lateral seen, joint congruent, nothing displaced, in a mallet the dorsal base", () =>
    expect(quick("film")).toEqual([
      {
        filmTaken: "yes",
        fractureSite: "base-dorsal",
        trueLateral: "seen",
        jointPosition: "congruent",
        displacement: "none-seen",
      },
      { filmTaken: "yes", trueLateral: "seen", jointPosition: "congruent", displacement: "none-seen" },
    ]));
  it("growth plate: open and not hurt; history: nothing known, pregnancy, smoking and splint included", () => {
    expect(quick("growth-plate")).toEqual([
      { physis: "open", salterHarris: "none", dorsalPhysealWidening: "no", epiphysisTurned: "no", physisTender: "no" },
    ]);
    expect(Object.values(quick("history")[0]!).filter((v) => v !== "no" && v !== "none")).toEqual([]);
    expect(Object.keys(quick("history")[0]!)).toHaveLength(15);
  });
});

import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { Absent } from "../reasoning/known.ts";
import { from, type Row, type Sign, under } from "../reasoning/table.ts";
import type { HandFindings } from "./findings.ts";
import { ADULT_YEARS, DAYS_A_YEAR, HOURS_A_DAY, LATE_PAIN_DAYS, TETANUS } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";

type YesNo = "yes" | "no" | Absent;

/** Signs that hand rules build from hand findings alone. They come before the module's signs, which may read them. */
export type HandSigns = { readonly [S in (typeof HAND_SIGN_NAMES)[number]]: YesNo };
export const HAND_SIGN_NAMES = [
  "openFracture",
  "openThroughNailBed",
  "nailFoldOpen",
  "bite",
  "humanBite",
  "otherAnimalBite",
  "biteNeedsAntibiotic",
  "highPressureInjection",
  "woundPresent",
  "poorPerfusion",
  "perfusionRechecked",
  "perfusionInDoubt",
  "ischaemia",
  "ischaemiaInQuestion",
  "coolingHarms",
  "amputation",
  "contaminatedWound",
  "grossContamination",
  "lesserContamination",
  "soilInWound",
  "hostCompromised",
  "infected",
  "child",
  "woundLate",
  "washoutInsufficient",
  "woundNeedsAntibiotic",
  "blockForbidden",
  "epinephrineRisk",
  "dominantPinchDigit",
  "tetanusDirtyWound",
  "tetanusAntibodyInDoubt",
  "tetanusProneWound",
  "tetanusHighRiskWound",
  "tetanusBoosterInDate",
] as const;

/** Signs that a module must provide, each yes or no, so that the shared tables need not know its bone. */
export type ModuleSigns = { readonly [S in (typeof MODULE_SIGN_NAMES)[number]]: YesNo };
export const MODULE_SIGN_NAMES = [
  /** A bone is broken, or a break is not excluded by a film. */
  "boneBroken",
  /** Only the tuft is broken: no other bone, joint or growth plate. */
  "isolatedTuft",
  /** Open fracture at an open growth plate (Seymour). */
  "openPhysealFracture",
  /** A child's injured nail root or fold over a growth plate whose fracture is suspected or proven. */
  "openPhysealSuspected",
  /** The same, and no true lateral of a plate that can be judged speaks against it. */
  "openPhysealNotExcluded",
  "physisOpen",
  /** The deep flexor does not move the tip, or its bony insertion is pulled off. */
  "fdpLoss",
  /** Position that a splint is not expected to hold, so that a wire is likely. */
  "unstableFracture",
  "malletInjury",
  /** Piece of the growth plate turned or pushed out from under the extensor tendon. */
  "malletEquivalentCorD",
  /** Wound or nail that a surgeon takes over today: nobody is told to repair it on the spot. */
  "surgeonTakesOver",
  /** Blood under the nail that is drained through it. */
  "haematomaDrained",
  /** A block is likely: wound to repair, nail to lift, position to correct, painful haematoma. */
  "blockLikely",
] as const;

/** Signs that read the module's signs; they come last. */
export type LateHandSigns = { readonly [S in (typeof LATE_HAND_SIGN_NAMES)[number]]: YesNo };
export const LATE_HAND_SIGN_NAMES = [
  "drainedInWeakDefence",
  "antibioticForWound",
  "antibioticMayBeGiven",
  "lateOrInfectedPhyseal",
  "wirePossible",
  "tetanusVaccineDue",
  "closureWaits",
  "surgeonNow",
  "washoutClockRuns",
  "surgeonToday",
  "surgeonNextDay",
] as const;

/** What every shared table may read. */
export type HandRecord = HandFindings & HandSigns & ModuleSigns & LateHandSigns;

/** Hours of a number of days, for limits on the time since injury. */
export const daysInHours = (days: number) => days * HOURS_A_DAY;
/** UK scheme: a dose ten years old to the day is still in date. Time from dates is finer than this. */
const A_DAY_IN_YEARS = 1 / DAYS_A_YEAR;
const BITES = ["human-bite", "cat-bite", "dog-bite", "other-animal-bite"] as const;
/** Tissue lost, and what was lost with bone exposed or gone; the rest of the values. */
export const BONE_LOST = ["bone-exposed", "amputation-replantable", "amputation-not-replantable"] as const;
export const BONE_KEPT = ["none", "pulp-small", "pulp-large"] as const;
const TISSUE_LOST = ["pulp-small", "pulp-large", ...BONE_LOST] as const;
const GROSS = ["heavy-dirt", "soil-or-manure"] as const;
const LESSER = ["visible-dirt", "saliva", "water", "grease-or-paint"] as const;

/**
 * Signs of the hand, to be listed before the module's own.
 *
 * @param alsoOpen rows of the module's findings that make a fracture open, whatever was answered to "open or closed" (a torn nail bed)
 * @param alsoWound rows of the module's findings that are a wound of torn tissue without opening the fracture (a torn-out nail)
 */
export function handSigns<F extends HandFindings>(
  policy: SitePolicy,
  alsoOpen: readonly Row<F>[] = [],
  alsoWound: readonly Row<F>[] = [],
): readonly Sign<HandRecord>[] {
  const p = policyOf(HAND_POLICY, policy);
  const sign = (name: keyof HandSigns, words: string, any: readonly Row<HandRecord>[]): Sign<HandRecord> => ({
    name,
    words,
    any,
  });
  const ofModule = (rows: readonly Row<F>[]) => rows as unknown as readonly Row<HandRecord>[];
  return [
    sign("openFracture", "open fracture", [
      { openness: ["open-nail-bed", "open-skin"] },
      { openness: "uncertain", bloodAtNailFold: "yes" },
      // Until the second look "uncertain" is neither open nor closed.
      { openness: "uncertain", opennessOnSecondLook: ["open-nail-bed", "open-skin"] },
      { tissueLoss: BONE_LOST },
      ...ofModule(alsoOpen),
    ]),
    sign("openThroughNailBed", "open through the nail bed", [
      { openness: "open-nail-bed" },
      { openness: "uncertain", opennessOnSecondLook: "open-nail-bed" },
    ]),
    sign("nailFoldOpen", "open nail bed, or blood or a tear at the nail fold", [
      { bloodAtNailFold: "yes" },
      { openThroughNailBed: "yes" },
    ]),
    sign("bite", "bite", [{ mechanism: BITES }]),
    sign("humanBite", "human bite", [{ mechanism: "human-bite" }]),
    sign("otherAnimalBite", "bite of an animal other than dog or cat", [{ mechanism: "other-animal-bite" }]),
    // NICE NG184 1.1.5, 1.1.8, 1.1.11; blood drawn by another animal is treated alike (common practice).
    sign("biteNeedsAntibiotic", "bite that needs an antibiotic", [
      { mechanism: ["human-bite", "cat-bite", "other-animal-bite"], biteBloodDrawn: "yes" },
      { mechanism: "dog-bite", biteBloodDrawn: "yes", biteDeepOrDirty: "yes" },
    ]),
    sign("highPressureInjection", "high-pressure injection", [{ mechanism: "high-pressure-injection" }]),
    sign("woundPresent", "wound", [
      { mechanism: ["laceration", "saw", "high-pressure-injection", "burn-or-frostbite"] },
      { openFracture: "yes" },
      { openness: ["skin-cut", "skin-burst-or-flap"] },
      ...ofModule(alsoWound),
      { bite: "yes" },
      { tissueLoss: TISSUE_LOST },
    ]),
    sign("poorPerfusion", "poor circulation of the tip", [
      { tipColour: ["pale", "dusky", "white"] },
      { capillaryRefill: "slow" },
    ]),
    {
      ...sign("perfusionRechecked", "circulation looked at again after the first steps", [
        { perfusionAfterFirstSteps: ["restored", "still-poor"] },
      ]),
      noUntilShown: true,
    },
    sign("perfusionInDoubt", "poor circulation, not yet restored", [
      { poorPerfusion: "yes", perfusionRechecked: "no" },
      { poorPerfusion: "yes", perfusionAfterFirstSteps: "still-poor" },
    ]),
    sign("coolingHarms", "reason not to cool", [
      { poorPerfusion: "yes" },
      { vasospasm: "yes" },
      { arterialDisease: "yes" },
    ]),
    sign("ischaemia", "circulation still poor after the first steps", [
      { poorPerfusion: "yes", perfusionAfterFirstSteps: "still-poor" },
    ]),
    {
      // While nobody can judge the tip and nobody looked again, EX1b stands for the danger: EX1 adds no question that would hide its urgency.
      ...sign("ischaemiaInQuestion", "circulation seen poor, or looked at again", [
        { poorPerfusion: "yes" },
        { perfusionRechecked: "yes" },
      ]),
      noUntilShown: true,
    },
    sign("amputation", "amputation", [{ tissueLoss: ["amputation-replantable", "amputation-not-replantable"] }]),
    sign("contaminatedWound", "contaminated wound", [
      { woundPresent: "yes", contamination: [...GROSS, ...LESSER] },
      { bite: "yes" },
    ]),
    sign("grossContamination", "gross contamination", [{ woundPresent: "yes", contamination: GROSS }]),
    sign("lesserContamination", "wound with a little dirt, saliva, water, grease or paint", [
      { woundPresent: "yes", contamination: LESSER },
    ]),
    sign("soilInWound", "soil or manure in the wound", [{ woundPresent: "yes", contamination: "soil-or-manure" }]),
    sign("hostCompromised", "illness that weakens the defence against infection", [
      { diabetes: "yes" },
      { immuneCompromise: "yes" },
      { arterialDisease: "yes" },
    ]),
    sign("infected", "established infection", [
      { infectionSigns: ["local", "spreading", "tense-pulp-or-discharge"] },
      { sheathSigns: "yes" },
      { lysisOrPeriostealReaction: "yes" },
    ]),
    sign("child", "under 18 years", [{ ageYears: under(ADULT_YEARS) }]),
    sign("woundLate", "late wound", [{ woundPresent: "yes", hoursSinceInjury: from(p["hand.washoutHours"]) }]),
    sign("washoutInsufficient", "wash-out late or not good enough", [
      { woundPresent: "yes", washoutPossible: "inadequate" },
      { woundPresent: "yes", hoursSinceInjury: from(p["hand.antibioticDelayHours"]) },
    ]),
    sign("woundNeedsAntibiotic", "wound that needs an antibiotic", [
      { washoutInsufficient: "yes" },
      { grossContamination: "yes" },
      { woundPresent: "yes", devitalised: "yes" },
    ]),
    sign("blockForbidden", "reason against a finger block", [
      { localAnaestheticAllergy: "yes" },
      { perfusionInDoubt: "yes" },
      { infected: "yes" },
      { highPressureInjection: "yes" },
    ]),
    sign("epinephrineRisk", "reason against epinephrine in the finger", [
      { poorPerfusion: "yes" },
      { vasospasm: "yes" },
      { arterialDisease: "yes" },
      { devitalised: ["yes", "artery-cut"] },
      { mangled: "yes" },
      { amputation: "yes" },
      { localAnaestheticAllergy: "sulfite" },
    ]),
    sign("dominantPinchDigit", "thumb or index finger of the leading hand", [
      { digit: ["thumb", "index"], side: "left", dominantHand: ["left", "both"] },
      { digit: ["thumb", "index"], side: "right", dominantHand: ["right", "both"] },
    ]),
    // US and Australian grids: everything that is not a clean, minor wound. Crush and avulsion are named in the list itself.
    // An open fracture is no minor wound, however clean the cut (common practice; the UK names compound fractures as tetanus-prone).
    sign("tetanusDirtyWound", "wound other than clean and minor", [
      { openFracture: "yes" },
      { contaminatedWound: "yes" },
      { woundPresent: "yes", mechanism: ["crush", "saw", ...BITES, "high-pressure-injection", "burn-or-frostbite"] },
      { woundPresent: "yes", devitalised: "yes" },
      { tissueLoss: TISSUE_LOST },
      { openness: "skin-burst-or-flap" },
      ...ofModule(alsoWound),
      { woundPresent: "yes", foreignBody: "yes" },
      { woundPresent: "yes", infected: "yes" },
    ]),
    // US note to the grid: weak immune system and a contaminated wound, even a minor one.
    sign("tetanusAntibodyInDoubt", "weak immune system with a contaminated wound", [
      { immuneCompromise: "yes", contaminatedWound: "yes" },
    ]),
    // UK grid: a clean wound is under 6 hours old, does not penetrate and has negligible tissue damage.
    sign("tetanusProneWound", "tetanus-prone wound", [
      { openFracture: "yes" },
      { tetanusDirtyWound: "yes" },
      { woundPresent: "yes", hoursSinceInjury: from(TETANUS.cleanUnderHours) },
    ]),
    sign("tetanusHighRiskWound", "high-risk tetanus-prone wound", [
      { tetanusProneWound: "yes", contamination: GROSS },
      { tetanusProneWound: "yes", devitalised: "yes" },
      { tetanusProneWound: "yes", hoursSinceInjury: from(TETANUS.cleanUnderHours) },
    ]),
    sign("tetanusBoosterInDate", "primed against tetanus and in date (UK scheme)", [
      { tetanusDoses: "three-or-more", ageYears: under(TETANUS.preschoolYears) },
      {
        tetanusDoses: "three-or-more",
        ageYears: from(TETANUS.preschoolYears, TETANUS.elevenYears),
        tetanusPreschoolBooster: "yes",
      },
      {
        tetanusDoses: "three-or-more",
        ageYears: from(TETANUS.elevenYears),
        tetanusYearsSinceLast: under(TETANUS.longYears + A_DAY_IN_YEARS),
      },
    ]),
  ];
}

/** Signs of the hand that read the module's signs, to be listed after them. */
export function handSignsAfterModule(policy: SitePolicy): readonly Sign<HandRecord>[] {
  const p = policyOf(HAND_POLICY, policy);
  const sign = (name: keyof LateHandSigns, words: string, any: readonly Row<HandRecord>[]): Sign<HandRecord> => ({
    name,
    words,
    any,
  });
  return [
    sign("drainedInWeakDefence", "blood under the nail to be drained in a weak immune system", [
      { haematomaDrained: "yes", immuneCompromise: "yes" },
    ]),
    sign("antibioticForWound", "injury for which an antibiotic is given or considered", [
      { openPhysealFracture: "yes" },
      { openPhysealSuspected: "yes" },
      { drainedInWeakDefence: "yes" },
      { woundNeedsAntibiotic: "yes" },
      { lesserContamination: "yes" },
      { woundPresent: "yes", hostCompromised: "yes" },
      ...(p["hand.openShaftAntibiotic"] === "never"
        ? []
        : [{ openFracture: "yes", boneBroken: "yes", isolatedTuft: "no" } as const]),
    ]),
    sign("antibioticMayBeGiven", "antibiotic given, considered or left to the surgeon", [
      { antibioticForWound: "yes" },
      { bite: "yes" },
      { highPressureInjection: "yes" },
      { infected: "yes" },
      { tissueLoss: BONE_LOST },
    ]),
    sign("lateOrInfectedPhyseal", "open growth-plate fracture that is late or infected", [
      { openPhysealFracture: "yes", infected: "yes" },
      { openPhysealFracture: "yes", woundLate: "yes" },
    ]),
    sign("wirePossible", "injury that may be wired", [
      { unstableFracture: "yes" },
      { openPhysealFracture: "yes" },
      { fdpLoss: "yes" },
    ]),
    sign("tetanusVaccineDue", "tetanus vaccine due now", vaccineDue(p["hand.tetanusScheme"])),
    sign("closureWaits", "reason not to close the wound here", [
      { surgeonTakesOver: "yes" },
      { foreignBody: "yes" },
      { bite: "yes" },
      { infected: "yes" },
      { grossContamination: "yes" },
      { tissueLoss: ["pulp-large", ...BONE_LOST] },
    ]),
    // What is phoned through at once, so that no line beside it gives hours. A serious other injury is not here: nobody has told a hand surgeon.
    sign("surgeonNow", "hand surgeon phoned at once", [
      { perfusionInDoubt: "yes" },
      { tissueLoss: "amputation-replantable" },
      { highPressureInjection: "yes" },
      { bite: "yes", biteDeepOrDirty: "yes" },
      { jointDislocated: "irreducible" },
      { sheathSigns: "yes" },
      { infectionSigns: "spreading" },
      { mangled: "yes" },
      { openFracture: "yes", grossContamination: "yes" },
      { woundPresent: "yes", devitalised: "artery-cut", poorPerfusion: "yes" },
      { poorPerfusion: "yes", vasospasm: "yes" },
      { poorPerfusion: "yes", arterialDisease: "yes" },
    ]),
    sign("washoutClockRuns", "wound inside its time for the wash-out, nobody phoned at once", [
      { woundLate: "no", surgeonNow: "no" },
    ]),
    // Appointments behind the exits and urgency lines that no class has a visit for; NOW needs none, the patient stays.
    sign("surgeonToday", "hand surgery sees the finger the same day", [
      { tissueLoss: ["bone-exposed", "amputation-not-replantable"] },
      { bite: "yes" },
      { infectionSigns: "tense-pulp-or-discharge" },
      { lysisOrPeriostealReaction: "yes" },
      { openFracture: "yes", jointDislocated: "yes-not-yet-reduced" },
      {
        presentation: "again-worse",
        hoursSinceInjury: from(daysInHours(LATE_PAIN_DAYS)),
        infected: "no",
        woundLate: "no",
      },
      { localAnaestheticAllergy: "yes", blockLikely: "yes", surgeonTakesOver: "no" },
    ]),
    sign("surgeonNextDay", "hand team sees the finger by the next working day", [
      { sensation: ["reduced-radial", "reduced-ulnar", "absent"] },
      { foreignBody: "yes" },
      { infectionSigns: "local" },
      { woundPresent: "yes", devitalised: "artery-cut", poorPerfusion: "no" },
    ]),
  ];
}

/** Must say the same as the grid of the scheme; checked cell by cell in its test. */
function vaccineDue(scheme: "US" | "UK" | "AU"): Row<HandRecord>[] {
  if (scheme === "UK")
    return [
      { woundPresent: "yes", tetanusDoses: ["none", "one-or-two", "not-known"] },
      { tetanusProneWound: "yes", tetanusDoses: "three-or-more", tetanusBoosterInDate: "no" },
      { tetanusHighRiskWound: "yes", tetanusDoses: "three-or-more", immuneCompromise: "yes" },
    ];
  const old = from((TETANUS.infantWeeks * 7) / DAYS_A_YEAR);
  return [
    { woundPresent: "yes", ageYears: old, tetanusDoses: ["none", "one-or-two", "not-known"] },
    {
      woundPresent: "yes",
      ageYears: old,
      tetanusDoses: "three-or-more",
      tetanusYearsSinceLast: from(TETANUS.longYears),
    },
    {
      tetanusDirtyWound: "yes",
      ageYears: old,
      tetanusDoses: "three-or-more",
      tetanusYearsSinceLast: from(TETANUS.shortYears),
    },
  ];
}

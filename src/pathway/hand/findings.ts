import { choice, type FindingsOf, quantity, yesNo } from "../reasoning/finding.ts";

/**
 * Findings that any hand injury may need. Values are ids (shown through `questions.ts`), never screen words.
 * "Healthy" answers are explicit values: an unanswered finding is "not-asked", never normal.
 */
export const HAND_FINDINGS = {
  // patient
  ageYears: quantity("patient", "years", 0, 120), // decimal under 2 years (0.5 = 6 months)
  weightKg: quantity("patient", "kg", 0.5, 350),
  pregnant: choice("patient", "yes", "no", "breast-feeding"),
  diabetes: yesNo("patient"),
  immuneCompromise: yesNo("patient"), // immune deficiency, steroids, chemotherapy, HIV
  arterialDisease: yesNo("patient"), // peripheral arterial disease
  vasospasm: yesNo("patient"), // Raynaud, scleroderma
  bleedingTendency: yesNo("patient"), // anticoagulant or bleeding disorder
  smoker: yesNo("patient"),
  cannotKeepSplint: yesNo("patient"), // frailty, cognition, living alone
  liverOrHeartDisease: yesNo("patient"), // kidney disease too: the same check of doses
  penicillinAllergy: choice("patient", "none", "low-risk", "severe"),
  otherAntibioticAllergy: yesNo("patient"),
  localAnaestheticAllergy: choice("patient", "yes", "no", "sulfite"), // sulfite: preservative of epinephrine products only
  latexOrAdhesiveAllergy: yesNo("patient"),
  metalAllergy: yesNo("patient"),
  dominantHand: choice("patient", "left", "right", "both"),
  handDependentWork: yesNo("patient"), // musician, surgeon, climber, or sterile/clean-hand work
  tetanusDoses: choice("patient", "none", "one-or-two", "three-or-more", "not-known"),
  tetanusYearsSinceLast: quantity("patient", "years", 0, 120), // between last dose and the injury; 10 = ten years to the day, longer is more than 10
  tetanusPreschoolBooster: yesNo("patient"), // UK grid, age 5-10 only

  // injury
  mechanism: choice(
    "injury",
    "crush",
    "axial-load",
    "forced-flexion",
    "forced-extension",
    "laceration",
    "saw",
    "human-bite",
    "cat-bite",
    "dog-bite",
    "other-animal-bite",
    "high-pressure-injection",
    "fall",
    "burn-or-frostbite",
    "no-adequate-trauma",
    "other",
  ),
  presentation: choice("injury", "first", "again", "again-worse"), // again-worse: new pain, swelling or discharge since
  biteBloodDrawn: yesNo("injury"),
  biteDeepOrDirty: yesNo("injury"), // reaches bone, joint or tendon; deep puncture; crush; dirty
  hoursSinceInjury: quantity("injury", "hours", 0, 200_000),
  workRelated: yesNo("injury"),
  // "gross" is heavy dirt, soil or manure; a little dirt that washes out is not (common practice, no source draws the line)
  contamination: choice(
    "injury",
    "clean",
    "visible-dirt",
    "heavy-dirt",
    "soil-or-manure",
    "saliva",
    "water",
    "grease-or-paint",
  ),
  otherSeriousInjury: yesNo("injury"), // systemic illness or polytrauma
  safeguardingConcern: yesNo("injury"),
  ringsOnHand: yesNo("injury"),

  // digit
  digit: choice("digit", "thumb", "index", "middle", "ring", "little"),
  side: choice("digit", "left", "right"),
  tipColour: choice("digit", "pink", "pale", "dusky", "white"),
  capillaryRefill: choice("digit", "brisk", "slow"), // limit in limits.ts
  perfusionAfterFirstSteps: choice("digit", "restored", "still-poor", "not-yet"), // after realigning, warming, removing constriction
  sensation: choice("digit", "normal", "reduced-radial", "reduced-ulnar", "absent"),
  tissueLoss: choice(
    "digit",
    "none",
    "pulp-small",
    "pulp-large",
    "bone-exposed",
    "amputation-replantable",
    "amputation-not-replantable",
  ), // small/large: limits.ts
  mangled: yesNo("digit"), // saw or crush with loss across two or more rays
  jointDislocated: choice("digit", "no", "yes-not-yet-reduced", "reduced", "irreducible"),
  dislocationDirection: choice("digit", "dorsal", "volar"), // where the tip went
  sheathSigns: yesNo("digit"), // any of: fusiform swelling, held flexed, sheath tender, pain on passive extension
  infectionSigns: choice("digit", "none", "local", "spreading", "tense-pulp-or-discharge"),
  // the skin wounds do not reach bone or joint: a wound over a closed fracture
  openness: choice("digit", "closed", "skin-cut", "skin-burst-or-flap", "open-nail-bed", "open-skin", "uncertain"),
  opennessOnSecondLook: choice("digit", "closed", "open-nail-bed", "open-skin"), // settles "uncertain"; of no account otherwise
  bloodAtNailFold: yesNo("digit"),
  devitalised: choice("digit", "yes", "artery-cut", "no"), // artery-cut: a digital artery is injured, the tissue is alive
  washoutPossible: choice("digit", "done-well", "inadequate"),
  foreignBody: yesNo("digit"),
  boneLesion: yesNo("digit"),
  lysisOrPeriostealReaction: yesNo("digit"),
  coldPointPainBlueSpot: yesNo("digit"),
} as const;
export type HandFindings = FindingsOf<typeof HAND_FINDINGS>;

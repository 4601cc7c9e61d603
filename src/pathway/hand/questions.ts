import type { Option, Question, QuestionGroup } from "../module.ts";
import { HAND_FINDINGS, type HandFindings } from "./findings.ts";
import { FRESH_REDNESS_HOURS, LARGE_PULP_LOSS_CM2, SLOW_REFILL_SECONDS } from "./limits.ts";

const o = (value: string, label: string, hint?: string): Option => ({ value, label, ...(hint ? { hint } : {}) });
const YES_NO = [o("yes", "Yes"), o("no", "No")];
const REFILL = SLOW_REFILL_SECONDS;
const PULP = LARGE_PULP_LOSS_CM2;

interface Asked {
  readonly hint?: string;
  readonly options?: readonly Option[];
  readonly cannotTell?: string;
}
const question = (finding: keyof HandFindings, wording: string, chartMayPropose: boolean, rest: Asked): Question => ({
  finding,
  scope: HAND_FINDINGS[finding].scope,
  wording,
  chartMayPropose,
  ...rest,
});
/** Found by looking, touching and moving: a chart never proposes the answer. */
const examined = (finding: keyof HandFindings, wording: string, rest: Asked = {}) =>
  question(finding, wording, false, rest);
/** The chart may propose the answer; the clinician confirms it. */
const known = (finding: keyof HandFindings, wording: string, rest: Asked = {}) =>
  question(finding, wording, true, rest);

export const HAND_QUESTIONS: readonly Question[] = [
  known("digit", "Which digit is injured?", {
    options: [
      o("thumb", "Thumb"),
      o("index", "Index"),
      o("middle", "Middle"),
      o("ring", "Ring"),
      o("little", "Little"),
    ],
  }),
  known("side", "Which hand?", { options: [o("left", "Left"), o("right", "Right")] }),

  // circulation and feeling
  examined("tipColour", "Colour of the tip", {
    hint: "Compare with the neighbour",
    options: [o("pink", "Pink"), o("pale", "Pale"), o("dusky", "Dusky"), o("white", "White")],
    cannotTell: "Cannot judge the colour",
  }),
  examined("capillaryRefill", "Capillary refill", {
    options: [o("brisk", `${REFILL} s or less`), o("slow", `More than ${REFILL} s`)],
    cannotTell: "Cannot judge the refill",
  }),
  examined("perfusionAfterFirstSteps", "Circulation after straightening, warming and freeing the finger", {
    options: [
      o("restored", "Restored"),
      o("still-poor", "Still poor", "Hand surgeon now"),
      o("not-yet", "Not looked at again yet", "Counts as now until it is"),
    ],
  }),
  examined("sensation", "Feeling at the tip", {
    hint: "Each side, before any block",
    options: [o("normal", "Normal on both sides"), o("reduced-one-side", "Reduced on one side"), o("absent", "Absent")],
    cannotTell: "Cannot be tested",
  }),

  // red flags
  examined("tissueLoss", "Is any tissue missing?", {
    options: [
      o("none", "None"),
      o("pulp-small", `Pulp, less than ${PULP} cm²`),
      o("pulp-large", `Pulp, ${PULP} cm² or more`),
      o("bone-exposed", "Bone exposed"),
      o("amputation-replantable", "Amputated, part may be replanted"),
      o("amputation-not-replantable", "Amputated, cannot be replanted"),
    ],
  }),
  examined("mangled", "Saw or crush with loss across two or more digits?", { options: YES_NO }),
  examined("jointDislocated", "Is the end joint dislocated?", {
    options: [
      o("no", "No"),
      o("yes-not-yet-reduced", "Yes, not yet reduced"),
      o("reduced", "It was, now reduced"),
      o("irreducible", "Yes, cannot be reduced"),
    ],
    cannotTell: "Cannot tell before the film",
  }),
  examined("sheathSigns", "Any sign of flexor sheath infection?", {
    hint: "Swollen along its length, held bent, tender along the sheath, pain on passive straightening",
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  examined("infectionSigns", "Signs of infection", {
    hint: `Redness and warmth are ordinary in the first ${FRESH_REDNESS_HOURS.from} to ${FRESH_REDNESS_HOURS.to} hours after a crush`,
    options: [
      o("none", "None", "Also the ordinary redness of a fresh injury"),
      o("local", "Local infection", "Redness or warmth that grows, comes later or comes with rising pain"),
      o("spreading", "Spreading, red streak or fever"),
      o("tense-pulp-or-discharge", "Tense pulp or discharge"),
    ],
    cannotTell: "Cannot tell",
  }),
  examined("foreignBody", "Foreign body or gas on the film or in the wound?", {
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  examined("boneLesion", "Is the break through a bone lesion?", {
    hint: "Lucent area, thin cortex, matrix",
    options: YES_NO,
    cannotTell: "Cannot tell on this film",
  }),
  examined("lysisOrPeriostealReaction", "Lysis or periosteal reaction on the film?", {
    options: YES_NO,
    cannotTell: "Cannot tell on this film",
  }),
  examined("otherSeriousInjury", "Is the patient seriously ill or injured elsewhere?", { options: YES_NO }),

  // accident
  known("mechanism", "How did it happen?", {
    options: [
      o("crush", "Crushed"),
      o("axial-load", "Jammed end-on"),
      o("forced-flexion", "Tip bent down by force"),
      o("forced-extension", "Tip pulled straight while gripping"),
      o("fall", "Fall"),
      o("laceration", "Cut"),
      o("saw", "Saw"),
      o("human-bite", "Human bite", "Also a fist on teeth"),
      o("cat-bite", "Cat bite"),
      o("dog-bite", "Dog bite"),
      o("other-animal-bite", "Bite of another animal"),
      o("high-pressure-injection", "High-pressure injection", "Paint, grease, water gun: hand surgeon now"),
      o("burn-or-frostbite", "Burn or frostbite"),
      o("no-adequate-trauma", "Nothing that could break a bone"),
      o("other", "Another way"),
    ],
    cannotTell: "Nobody saw it",
  }),
  known("hoursSinceInjury", "Hours since the injury", { cannotTell: "Time not known" }),
  examined("biteBloodDrawn", "Did the bite draw blood?", { options: YES_NO, cannotTell: "Cannot tell" }),
  examined("biteDeepOrDirty", "Does the bite reach bone, joint or tendon, or is it deep, crushed or dirty?", {
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  examined("coldPointPainBlueSpot", "Pain in the cold, pain at one point or a blue spot?", {
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  examined("ringsOnHand", "Any ring still on this hand?", { options: YES_NO }),
  known("workRelated", "Did it happen at work?", { options: YES_NO }),
  examined("safeguardingConcern", "Any reason for a safeguarding discussion?", {
    hint: "No or changing story, does not fit the age, cannot walk or reach yet, several fractures, other suspicious injuries, late care; adults who depend on others too",
    options: YES_NO,
  }),

  // wound
  examined("openness", "Is there a wound, and is the fracture open?", {
    hint: "A wound counts with or without a fracture",
    options: [
      o("closed", "Closed", "Skin and nail fold whole"),
      o("skin-cut", "Closed, with a cut", "Skin or pulp cut that does not reach bone or joint"),
      o("skin-burst-or-flap", "Closed, with a burst or a flap", "Pulp burst or lifted, not down to bone or joint"),
      o("open-nail-bed", "Open through the nail bed"),
      o("open-skin", "Open through the skin"),
      o("uncertain", "Not sure"),
    ],
  }),
  examined("bloodAtNailFold", "Blood or a tear at the nail fold?", {
    options: YES_NO,
    cannotTell: "Cannot see the fold",
  }),
  examined("contamination", "What is in the wound?", {
    options: [
      o("clean", "Nothing, clean"),
      o("visible-dirt", "A little dirt", "Washes out"),
      o("heavy-dirt", "Heavy dirt", "Ground in: hand surgeon now if the fracture is open"),
      o("soil-or-manure", "Soil, manure, farm"),
      o("saliva", "Saliva"),
      o("water", "Fresh or sea water"),
      o("grease-or-paint", "Grease or paint"),
    ],
    cannotTell: "Cannot tell before wash-out",
  }),
  examined("devitalised", "Is tissue crushed beyond life, or an artery cut?", {
    options: [
      o("yes", "Tissue crushed beyond life"),
      o("artery-cut", "Digital artery cut, tissue alive", "Spurting blood, or seen in the wound"),
      o("no", "Neither"),
    ],
    cannotTell: "Cannot tell yet",
  }),
  examined("washoutPossible", "Wash-out", {
    options: [o("done-well", "Done well, or can be"), o("inadequate", "Cannot be done well")],
    cannotTell: "Not known yet",
  }),

  // tetanus
  known("tetanusDoses", "Tetanus doses on record", {
    options: [
      o("three-or-more", "Three or more"),
      o("one-or-two", "One or two"),
      o("none", "None"),
      o("not-known", "Not known", "Counts as not protected"),
    ],
  }),
  known("tetanusYearsSinceLast", "Years since the last tetanus dose", {
    hint: "Ten years and some weeks is 10.1",
    cannotTell: "Date not known",
  }),
  known("tetanusPreschoolBooster", "Had the pre-school booster?", {
    hint: "Ages 5 to 10",
    options: YES_NO,
    cannotTell: "Not known",
  }),

  // history
  known("ageYears", "Age in years", { hint: "Half a year = 0.5" }),
  known("weightKg", "Weight", { cannotTell: "Cannot be weighed" }),
  known("penicillinAllergy", "Penicillin allergy", {
    options: [
      o("none", "None"),
      o("low-risk", "Rash only, or long ago and mild"),
      o("severe", "Severe", "Anaphylaxis, swelling of face or throat, severe skin reaction"),
    ],
    cannotTell: "Reaction not known",
  }),
  known("localAnaestheticAllergy", "Allergy to a local anaesthetic?", {
    options: [...YES_NO, o("sulfite", "To sulfite only", "Preservative of mixtures with epinephrine")],
    cannotTell: "Not known",
  }),
  known("otherAntibioticAllergy", "Allergy to another antibiotic?", { options: YES_NO, cannotTell: "Not known" }),
  known("latexOrAdhesiveAllergy", "Allergy to latex or adhesive tape?", { options: YES_NO, cannotTell: "Not known" }),
  known("metalAllergy", "Allergy to metal (nickel)?", { options: YES_NO, cannotTell: "Not known" }),
  known("diabetes", "Diabetes?", { options: YES_NO, cannotTell: "Not known" }),
  known("immuneCompromise", "Weak immune system?", {
    hint: "Immune deficiency, steroids, chemotherapy, HIV",
    options: YES_NO,
    cannotTell: "Not known",
  }),
  known("arterialDisease", "Peripheral arterial disease?", { options: YES_NO, cannotTell: "Not known" }),
  known("vasospasm", "Raynaud or scleroderma?", { options: YES_NO, cannotTell: "Not known" }),
  known("bleedingTendency", "Anticoagulant or bleeding disorder?", { options: YES_NO, cannotTell: "Not known" }),
  known("liverOrHeartDisease", "Liver, kidney or heart disease?", { options: YES_NO, cannotTell: "Not known" }),
  known("pregnant", "Pregnant or breast-feeding?", {
    options: [o("yes", "Pregnant"), o("breast-feeding", "Breast-feeding"), o("no", "Neither")],
    cannotTell: "Not known",
  }),
  known("smoker", "Smokes?", { options: YES_NO, cannotTell: "Not known" }),
  known("cannotKeepSplint", "Likely unable to keep a splint on?", {
    hint: "Frail, confused, alone, very young",
    options: YES_NO,
    cannotTell: "Cannot tell",
  }),
  known("handDependentWork", "Work or sport that needs fine or clean hands?", {
    hint: "Musician, surgeon, climber, food",
    options: YES_NO,
    cannotTell: "Not known",
  }),
  known("dominantHand", "Leading hand", {
    options: [o("right", "Right"), o("left", "Left"), o("both", "Both")],
    cannotTell: "Not known",
  }),
];

/** In natural clinical order; a module puts its own groups between "wound" and "tetanus". */
export const HAND_GROUPS: readonly QuestionGroup[] = [
  { id: "which-digit", title: "Injured digit", findings: ["digit", "side"], quick: [] },
  {
    id: "red-flags",
    title: "Emergencies first",
    hint: "Is any of these present?",
    findings: [
      "otherSeriousInjury",
      "mangled",
      "tissueLoss",
      "jointDislocated",
      "infectionSigns",
      "sheathSigns",
      "foreignBody",
      "boneLesion",
      "lysisOrPeriostealReaction",
    ],
    quick: [
      {
        label: "None of these",
        sets: {
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
      },
    ],
  },
  {
    id: "circulation-and-feeling",
    title: "Circulation and feeling",
    findings: ["tipColour", "capillaryRefill", "perfusionAfterFirstSteps", "sensation"],
    quick: [
      {
        label: `Pink, refill ${REFILL} s or less, feeling normal on both sides`,
        sets: { tipColour: "pink", capillaryRefill: "brisk", sensation: "normal" },
      },
    ],
  },
  {
    id: "accident",
    title: "Accident",
    findings: [
      "mechanism",
      "biteBloodDrawn",
      "biteDeepOrDirty",
      "coldPointPainBlueSpot",
      "hoursSinceInjury",
      "ringsOnHand",
      "workRelated",
      "safeguardingConcern",
    ],
    quick: [
      ...(["axial-load", "crush"] as const).map((mechanism) => ({
        label: `${mechanism === "crush" ? "Crushed" : "Jammed end-on"}, rings off, not at work, story fits`,
        sets: { mechanism, ringsOnHand: "no", workRelated: "no", safeguardingConcern: "no" },
      })),
      {
        label: "Rings off, not at work, story fits",
        sets: { ringsOnHand: "no", workRelated: "no", safeguardingConcern: "no" },
      },
    ],
  },
  {
    id: "skin-and-wound",
    title: "Wound",
    findings: ["openness", "bloodAtNailFold", "contamination", "devitalised", "washoutPossible"],
    quick: [
      {
        label: "Clean, tissue alive, no artery cut, washed out well",
        sets: { contamination: "clean", devitalised: "no", washoutPossible: "done-well" },
      },
    ],
  },
  {
    id: "tetanus",
    title: "Tetanus",
    findings: ["tetanusDoses", "tetanusYearsSinceLast", "tetanusPreschoolBooster"],
    quick: [],
  },
  {
    id: "history",
    title: "Patient",
    findings: [
      "ageYears",
      "weightKg",
      "penicillinAllergy",
      "localAnaestheticAllergy",
      "otherAntibioticAllergy",
      "latexOrAdhesiveAllergy",
      "metalAllergy",
      "diabetes",
      "immuneCompromise",
      "arterialDisease",
      "vasospasm",
      "bleedingTendency",
      "liverOrHeartDisease",
      "pregnant",
      "smoker",
      "cannotKeepSplint",
      "handDependentWork",
      "dominantHand",
    ],
    quick: [
      {
        label: "None of these",
        sets: {
          penicillinAllergy: "none",
          localAnaestheticAllergy: "no",
          otherAntibioticAllergy: "no",
          latexOrAdhesiveAllergy: "no",
          metalAllergy: "no",
          diabetes: "no",
          immuneCompromise: "no",
          arterialDisease: "no",
          vasospasm: "no",
          bleedingTendency: "no",
          liverOrHeartDisease: "no",
          pregnant: "no",
          smoker: "no",
          cannotKeepSplint: "no",
          handDependentWork: "no",
        },
      },
    ],
  },
];

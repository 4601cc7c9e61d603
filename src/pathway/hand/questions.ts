import type { Question, QuestionGroup } from "../module.ts";
import { examined, FIRST_GROUPS, known, NAMING_QUESTIONS, o, RED_FLAG_QUESTIONS, YES_NO } from "./first-questions.ts";
import { SLOW_REFILL_SECONDS, TWO_POINT_MM } from "./limits.ts";

const REFILL = SLOW_REFILL_SECONDS;

export const HAND_QUESTIONS: readonly Question[] = [
  ...NAMING_QUESTIONS,

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
    hint: `Each side, before any block. Two points held still: under ${TWO_POINT_MM.normalUnder} mm normal, over ${TWO_POINT_MM.poorOver} mm poor`,
    options: [
      o("normal", "Normal on both sides"),
      o("reduced-radial", "Reduced on the thumb side", "Radial; of the thumb: away from the fingers"),
      o("reduced-ulnar", "Reduced on the little finger side", "Ulnar"),
      o("absent", "Absent"),
    ],
    cannotTell: "Cannot be tested",
  }),

  // red flags
  ...RED_FLAG_QUESTIONS,

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
  known("presentation", "Seen with this injury before?", {
    options: [
      o("first", "No, first time"),
      o("again", "Yes, for a check"),
      o("again-worse", "Yes, back because it got worse", "New pain, swelling or discharge"),
    ],
    cannotTell: "Not known",
  }),
  examined("dislocationDirection", "Which way was the end joint dislocated?", {
    options: [o("dorsal", "Tip to the back of the hand", "Dorsal"), o("volar", "Tip to the palm", "Volar")],
    cannotTell: "Cannot tell",
  }),
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
    hint: "No or changing story, does not fit the age, cannot walk or reach yet, several fractures, bite marks of an adult, burns, other suspicious injuries, neglect, late care; adults who depend on others too",
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
  examined("opennessOnSecondLook", "Looked at again in good light: is the fracture open?", {
    hint: "Whole nail fold, washed. A cut that does not reach bone or joint: change the answer above instead",
    options: [
      o("closed", "Closed", "Skin and nail fold whole"),
      o("open-nail-bed", "Open through the nail bed, or not to be excluded there"),
      o("open-skin", "Open through the skin, or not to be excluded there"),
    ],
    cannotTell: "Still not sure",
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
  ...FIRST_GROUPS,
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
      "presentation",
      "dislocationDirection",
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
    findings: [
      "openness",
      "bloodAtNailFold",
      "opennessOnSecondLook",
      "contamination",
      "devitalised",
      "washoutPossible",
    ],
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

import type { FactRow } from "./facts.ts";
import type { GuidelineId } from "./guideline.ts";

/**
 * Where a code stands in the list. "complication": first when it is the reason for the encounter; "late-effect": before the injury with S;
 * "injury": by severity, digit by digit; "structure": nerves, vessels and tendons after it; "companion": infection, material, vaccine.
 */
export type Place = "complication" | "late-effect" | "injury" | "structure" | "companion";

/** One code as a row: under these facts, this code, because of this, decided by these guidelines. */
export interface CodeRule {
  readonly id: string;
  readonly when: FactRow;
  /** ICD-10-CM code; a place in braces is filled by `CHARACTERS`. */
  readonly code: string;
  readonly place: Place;
  /** Order within a digit, and of the digits by their worst injury (least first). Common practice, no source. */
  readonly weight: number;
  readonly because: string;
  readonly guidelines: readonly GuidelineId[];
  /** A code of its own for the whole encounter, not for each digit. */
  readonly once?: true;
}

const NAMED = ["index", "middle", "ring", "little"] as const;
const FINGER = [...NAMED, "not-stated"] as const;
const thumb = { digit: "thumb" } as const;
const finger = { digit: FINGER } as const;
const named = { digit: NAMED } as const;
const unnamed = { digit: "not-stated" } as const;
const broken = { fracture: "confirmed" } as const satisfies FactRow;
const injured = { ...broken, fractureCause: ["traumatic", "not-stated"] } as const satisfies FactRow;
const amputated = ["complete", "partial", "extent-not-stated"] as const;
const hurtTendon = ["strain", "laceration", "other", "unspecified"] as const;
const hurtVessel = ["laceration", "other", "unspecified"] as const;
const opened = {
  wound: ["laceration", "laceration-foreign-body", "puncture", "puncture-foreign-body", "bite", "unspecified"],
} as const satisfies FactRow;

/** Severity, worst first: a digit off, an open, a displaced, another fracture, a wound or tendon, a bruise. */
const WEIGHT = { amputation: 0, crush: 1, fracture: 2, dislocation: 5, wound: 6, structure: 7, bruise: 8 } as const;

/** Thumb and finger have codes of their own for the same injury; a finger that is not named has a third for some. */
const each = (
  id: string,
  rest: Omit<CodeRule, "id" | "when" | "code"> & { readonly when: FactRow },
  codes: { readonly thumb: string; readonly finger: string; readonly unnamed?: string },
): CodeRule[] => {
  const { when, ...same } = rest;
  return [
    { id: `${id}-T`, ...same, when: { ...when, ...thumb }, code: codes.thumb },
    { id: `${id}-F`, ...same, when: { ...when, ...(codes.unnamed ? named : finger) }, code: codes.finger },
    ...(codes.unnamed ? [{ id: `${id}-U`, ...same, when: { ...when, ...unnamed }, code: codes.unnamed }] : []),
  ];
};
const one = (
  id: string,
  when: FactRow,
  code: string,
  place: Place,
  because: string,
  ...guidelines: readonly GuidelineId[]
): CodeRule => ({ id, when, code, place, weight: WEIGHT.fracture, because, guidelines });

const FRACTURES: readonly CodeRule[] = each(
  "FX",
  {
    when: injured,
    place: "injury",
    weight: WEIGHT.fracture,
    because: "A confirmed fracture of the distal phalanx is coded by digit, side, displacement and encounter.",
    guidelines: ["EACH", "SEVENTH"],
  },
  { thumb: "S62.52{thumbFracture}{fracture7}", finger: "S62.6{moved}{finger}{fracture7}" },
);

/** The bone broke through disease: no code of an injury (chapter 13 and the neoplasm). */
const DISEASED: readonly CodeRule[] = [
  one(
    "FX-OSTEOPOROSIS",
    { ...broken, fractureCause: "osteoporosis-age-related" },
    "M80.04{side9}{bone7}",
    "injury",
    "The bone broke through age-related osteoporosis.",
    "OSTEOPOROSIS",
  ),
  one(
    "FX-OSTEOPOROSIS-OTHER",
    { ...broken, fractureCause: "osteoporosis-other" },
    "M80.84{side9}{bone7}",
    "injury",
    "The bone broke through osteoporosis of another kind.",
    "OSTEOPOROSIS",
  ),
  one(
    "FX-TUMOUR",
    { ...broken, fractureCause: "benign-tumour" },
    "M84.54{side9}{bone7}",
    "injury",
    "The bone broke through a benign tumour, and the fracture is what is treated.",
    "NEOPLASM",
  ),
  {
    ...one(
      "TUMOUR",
      { ...broken, fractureCause: "benign-tumour" },
      "D16.1{side0}",
      "injury",
      "The tumour that the bone broke through is coded after the fracture.",
      "NEOPLASM",
    ),
    weight: WEIGHT.fracture + 1,
  },
  one(
    "FX-DISEASE",
    { ...broken, fractureCause: "other-disease" },
    "M84.44{side456}{bone7}",
    "injury",
    "The bone broke through disease that has no fracture code of its own.",
    "EACH",
  ),
  one(
    "FX-STRESS",
    { ...broken, fractureCause: "stress" },
    "M84.34{side456}{bone7}",
    "injury",
    "The bone broke under repeated load.",
    "EACH",
  ),
];

const INJURIES: readonly CodeRule[] = [
  ...each(
    "AMP",
    {
      when: { amputation: amputated },
      place: "injury",
      weight: WEIGHT.amputation,
      because: "The digit is off, in whole or in part: one code for bone, wound and nail.",
      guidelines: ["EXCLUDES1"],
    },
    { thumb: "S68.{thumbLevel}{extent}{side9}{injury7}", finger: "S68.{fingerLevel}{extent}{finger}{injury7}" },
  ),
  ...each(
    "CRUSH",
    {
      when: { crush: "diagnosed" },
      place: "injury",
      weight: WEIGHT.crush,
      because: "The clinician diagnosed a crushing injury; a crush as mechanism alone is no diagnosis.",
      guidelines: ["CRUSH", "USE_ADDITIONAL"],
    },
    { thumb: "S67.0{side0}X{injury7}", finger: "S67.19{finger}{injury7}", unnamed: "S67.10X{injury7}" },
  ),
  ...each(
    "DISLOCATION",
    {
      when: { dislocation: "dislocated" },
      place: "injury",
      weight: WEIGHT.dislocation,
      because: "The end joint was dislocated.",
      guidelines: ["EACH"],
    },
    { thumb: "S63.12{side456}{injury7}", finger: "S63.29{finger}{injury7}" },
  ),
  ...each(
    "WOUND",
    {
      when: opened,
      place: "injury",
      weight: WEIGHT.wound,
      because: "The skin wound is coded by its kind and by whether the nail is damaged.",
      guidelines: ["EACH"],
    },
    { thumb: "S61.{thumbNail}{wound}{side9}{injury7}", finger: "S61.{fingerNail}{wound}{finger}{injury7}" },
  ),
  {
    id: "BRUISE",
    when: { contusion: "yes", digit: ["thumb", ...NAMED] },
    code: "S60.{bruisedNail}{bruised}{side9}{injury7}",
    place: "injury",
    weight: WEIGHT.bruise,
    because: "A contusion is coded by digit, side and nail.",
    guidelines: ["EACH"],
  },
  {
    id: "BRUISE-U",
    when: { contusion: "yes", ...unnamed },
    code: "S60.{bruisedNail}0X{injury7}",
    place: "injury",
    weight: WEIGHT.bruise,
    because: "A contusion of a digit that is not named.",
    guidelines: ["EACH", "PLACEHOLDER"],
  },
];

const structure = (when: FactRow, because: string, ...guidelines: readonly GuidelineId[]) =>
  ({ when, place: "structure", weight: WEIGHT.structure, because, guidelines }) as const;
const STRUCTURES: readonly CodeRule[] = [
  ...each("EXTENSOR", structure({ extensorTendon: hurtTendon }, "The extensor tendon is hurt.", "EACH", "TENDON"), {
    thumb: "S66.2{extensor}{side9}{injury7}",
    finger: "S66.3{extensor}{finger}{injury7}",
  }),
  ...each("FLEXOR", structure({ flexorTendon: hurtTendon }, "The flexor tendon is hurt.", "EACH", "TENDON"), {
    thumb: "S66.0{flexor}{side9}{injury7}",
    finger: "S66.1{flexor}{finger}{injury7}",
  }),
  ...each("NERVE", structure({ nerve: "injured" }, "A digital nerve is injured.", "NERVE"), {
    thumb: "S64.3{side0}X{injury7}",
    finger: "S64.49{finger}{injury7}",
    unnamed: "S64.40X{injury7}",
  }),
  ...each("VESSEL", structure({ vessel: hurtVessel }, "A digital vessel is injured.", "NERVE"), {
    thumb: "S65.4{vessel}{side9}{injury7}",
    finger: "S65.5{vessel}{finger}{injury7}",
  }),
];

const LATE = "late-effect";
const LATE_EFFECTS: readonly CodeRule[] = [
  one("LATE-MALLET", { oldMallet: "yes" }, "M20.01{side9}", LATE, "An old or fixed mallet deformity.", "CURRENT"),
  one("LATE-NAIL", { nailDystrophy: "yes" }, "L60.3", LATE, "The nail grows deformed after the injury.", "CURRENT"),
  one("LATE-NAIL-OTHER", { otherNailDisorder: "yes" }, "L60.8", LATE, "Another nail disorder remains.", "CURRENT"),
  one("LATE-STIFF", { stiffness: "yes" }, "M25.64{side9}", LATE, "The finger stays stiff.", "CURRENT"),
  one("LATE-PHYSIS", { physealArrest: "yes" }, "M89.18", LATE, "The growth plate stopped growing.", "CURRENT"),
];

const COMPANIONS: readonly CodeRule[] = [
  one(
    "WIRE-INFECTION",
    { wireInfection: "yes" },
    "T84.69X{injury7}",
    "complication",
    "A wire is infected; the hand counts as other site.",
    "WOUND_INFECTION",
    "USE_ADDITIONAL",
  ),
  {
    ...one(
      "INFECTION",
      { infection: "cellulitis" },
      "L03.01{side9}",
      "complication",
      "Cellulitis, felon or paronychia of the finger.",
      "WOUND_INFECTION",
    ),
    weight: WEIGHT.fracture + 1,
  },
  {
    ...one(
      "BONE-INFECTION",
      { infection: "osteomyelitis" },
      "M86.14{side9}",
      "complication",
      "Acute osteomyelitis of the finger counts as hand.",
      "WOUND_INFECTION",
    ),
    weight: WEIGHT.fracture + 1,
  },
  one(
    "RETAINED",
    { retained: ["metal", "magnetic-metal", "nonmagnetic-metal", "wood", "glass"] },
    "Z18.{retained}",
    "companion",
    "Material remains in the finger.",
    "RETAINED",
  ),
  one("RETAINED-PLASTIC", { retained: "plastic" }, "Z18.{retained}", "companion", "Plastic remains.", "RETAINED"),
  {
    ...one(
      "VACCINE",
      { immunised: "yes" },
      "Z23",
      "companion",
      "A vaccine was given at this encounter.",
      "IMMUNISATION",
    ),
    once: true,
  },
];

/** Codes of one digit that rows can give; what is left out beside another is said in `EXCLUSIONS`. */
export const CODE_RULES: readonly CodeRule[] = [
  ...FRACTURES,
  ...DISEASED,
  ...INJURIES,
  ...STRUCTURES,
  ...LATE_EFFECTS,
  ...COMPANIONS,
];

/** A code that is left out beside another of the same digit. */
export interface Exclusion {
  readonly id: string;
  readonly leavesOut: string;
  /** Beginnings of codes it does not stand beside. */
  readonly beside: readonly string[];
  /** Only then. */
  readonly when?: FactRow;
  readonly because: string;
  readonly guideline: GuidelineId;
  /** The note as printed in the Tabular List, and where. */
  readonly printed?: { readonly at: string; readonly text: string };
}
export const EXCLUSIONS: readonly Exclusion[] = [
  {
    id: "EX-WOUND-OPEN-FRACTURE",
    leavesOut: "S61.",
    beside: ["S62."],
    when: { openness: "open" },
    because: "The wound of an open fracture is in the code of the fracture, also once it heals.",
    guideline: "EXCLUDES1",
    printed: { at: "S61", text: "open fracture of wrist, hand and finger (S62.- with 7th character B)" },
  },
  {
    id: "EX-FRACTURE-AMPUTATION",
    leavesOut: "S62.",
    beside: ["S68."],
    because: "The fracture of an amputation is in its code.",
    guideline: "EXCLUDES1",
    printed: { at: "S62", text: "traumatic amputation of wrist and hand (S68.-)" },
  },
  {
    id: "EX-WOUND-AMPUTATION",
    leavesOut: "S61.",
    beside: ["S68."],
    because: "The wound of an amputation is in its code.",
    guideline: "EXCLUDES1",
    printed: { at: "S61", text: "traumatic amputation of wrist and hand (S68.-)" },
  },
  {
    id: "EX-DISLOCATION-FRACTURE",
    leavesOut: "S63.",
    beside: ["S62.", "S68."],
    because: "A dislocation with a fracture is coded as the fracture.",
    guideline: "DISLOCATION",
  },
  {
    id: "EX-BRUISE",
    leavesOut: "S60.",
    beside: ["S61.", "S62.", "S63.", "S64.", "S65.", "S66.", "S67.", "S68.", "M80.", "M84."],
    because: "A contusion is not coded beside a more severe injury of the same digit.",
    guideline: "SUPERFICIAL",
  },
];

import type { FactName, FactRow } from "./facts.ts";
import type { Signal } from "./from-findings.ts";

/** "block": a code is withheld until it is answered; the others say how much a more specific code would gain. */
export type Severity = "block" | "high" | "medium" | "low";
export interface GapOption {
  readonly value: string;
  readonly words: string;
}
/** One question: when it is asked, in which words, and what is coded meanwhile. */
export interface GapRule {
  readonly id: string;
  readonly severity: Severity;
  readonly fact: FactName;
  /** Facts as coded; the fact that is asked for must be not stated (`also`: or one of these values). */
  readonly when: FactRow;
  readonly also?: readonly string[];
  readonly signal?: readonly Signal[];
  readonly title: string;
  /** {findings} is what the record shows. */
  readonly text: string;
  readonly options: readonly GapOption[];
  readonly other?: true;
  readonly meanwhile: string;
}
/** An answer that may be chosen. */
export const o = (value: string, words: string): GapOption => ({ value, words });
export const UNDETERMINED = o("undetermined", "unable to determine");
const broken = { fracture: "confirmed", fractureCause: ["traumatic", "not-stated"] } as const satisfies FactRow;
const unamputated = { amputation: ["none", "not-stated"] } as const satisfies FactRow;
const current = { phase: "active" } as const satisfies FactRow;
const anyPhase = {} as const satisfies FactRow;
const TENDON = [
  o("strain", "rupture or strain"),
  o("laceration", "laceration"),
  o("other", "other injury"),
  o("none", "no tendon injury"),
];

export const GAP_RULES: readonly GapRule[] = [
  {
    id: "Q-PHASE",
    severity: "block",
    fact: "phase",
    when: anyPhase,
    title: "Purpose of this encounter",
    text: "What was the purpose of this encounter in relation to the injury?",
    options: [
      o("active", "active treatment"),
      o("healing", "routine care while it heals, or a check"),
      o("sequela", "a late effect of the injury"),
    ],
    meanwhile: "No code of an injury is given: its seventh character is open.",
  },
  {
    id: "Q-FX",
    severity: "block",
    fact: "fracture",
    also: ["not-confirmed"],
    when: anyPhase,
    title: "Diagnosis of this digit",
    text: "The record shows {findings}. Please state your diagnosis for this digit.",
    options: [o("confirmed", "fracture of the distal phalanx"), o("none", "no fracture of the distal phalanx")],
    other: true,
    meanwhile: "No fracture is coded; what is certain is.",
  },
  {
    id: "Q-DIGIT",
    severity: "high",
    fact: "digit",
    when: anyPhase,
    title: "Digit",
    text: "Which digit is injured?",
    options: ["thumb", "index", "middle", "ring", "little"].map((d) => o(d, d)),
    meanwhile: "Coded as an unspecified finger.",
  },
  {
    id: "Q-SIDE",
    severity: "high",
    fact: "side",
    when: anyPhase,
    title: "Side",
    text: "The side of this digit is not documented. Please state the side.",
    options: [o("right", "right"), o("left", "left")],
    meanwhile: "Coded with the side unspecified.",
  },
  {
    id: "Q-DISP",
    severity: "medium",
    fact: "displacement",
    when: { ...broken, ...unamputated },
    title: "Position of the fragments",
    text: "Please describe the position of the fragments.",
    options: [o("displaced", "displaced"), o("not-displaced", "not displaced")],
    other: true,
    meanwhile: "Coded as displaced, as the classification says.",
  },
  {
    id: "Q-OPEN",
    severity: "high",
    fact: "openness",
    signal: ["wound"],
    when: { ...broken, ...unamputated },
    title: "Fracture and wound",
    text: "The record shows {findings}. Please document whether the fracture is open or closed, or that this cannot be determined.",
    options: [o("open", "open"), o("closed", "closed")],
    meanwhile: "Coded as closed, as the classification says, and the wound beside it.",
  },
  {
    id: "Q-HEAL",
    severity: "medium",
    fact: "healing",
    when: { fracture: "confirmed", phase: "healing" },
    title: "Healing",
    text: "Please document your assessment of healing.",
    options: [o("routine", "routine"), o("delayed", "delayed"), o("nonunion", "nonunion"), o("malunion", "malunion")],
    other: true,
    meanwhile: "Coded as routine healing.",
  },
  {
    id: "Q-CAUSE",
    severity: "high",
    fact: "fractureCause",
    also: ["in-question"],
    signal: ["boneDisease", "noForce"],
    when: { fracture: "confirmed" },
    title: "Cause of the fracture",
    text: "The record shows {findings}. Please document the cause of the fracture.",
    options: [
      o("traumatic", "injury"),
      o("osteoporosis-age-related", "age-related osteoporosis"),
      o("osteoporosis-other", "other osteoporosis"),
      o("benign-tumour", "benign tumour of the bone"),
      o("other-disease", "other disease of the bone"),
      o("stress", "repeated load"),
    ],
    other: true,
    meanwhile: "With a bone lesion no fracture is coded; else it is coded as an injury.",
  },
  {
    id: "Q-AMP",
    severity: "high",
    fact: "amputation",
    also: ["extent-not-stated"],
    signal: ["tissueLoss"],
    when: anyPhase,
    title: "Loss of tissue: extent",
    text: "The record shows {findings}. Please document the extent of tissue loss, if any.",
    options: [o("complete", "amputation, complete"), o("partial", "amputation, partial"), o("none", "no amputation")],
    other: true,
    meanwhile: "An amputation is coded as complete; without one, fracture and wound are coded.",
  },
  {
    id: "Q-AMP-LEVEL",
    severity: "high",
    fact: "amputationLevel",
    when: { amputation: ["complete", "partial", "extent-not-stated"] },
    title: "Loss of tissue: level",
    text: "An amputation is recorded. Please document its level.",
    options: [
      o("through-phalanx", "through a phalanx or a joint of the digit"),
      o("knuckle", "through the knuckle (metacarpophalangeal joint)"),
    ],
    other: true,
    meanwhile: "Coded at the knuckle, as the classification says.",
  },
  {
    id: "Q-EXTENSOR",
    severity: "medium",
    fact: "extensorTendon",
    signal: ["extensorLoss"],
    when: current,
    title: "Straightening of the tip",
    text: "The record shows {findings}. Please document the associated diagnosis, if any.",
    options: TENDON,
    other: true,
    meanwhile: "No injury of the extensor tendon is coded.",
  },
  {
    id: "Q-FLEXOR",
    severity: "medium",
    fact: "flexorTendon",
    signal: ["flexorLoss"],
    when: current,
    title: "Bending of the tip",
    text: "The record shows {findings}. Please document the associated diagnosis, if any.",
    options: TENDON,
    other: true,
    meanwhile: "No injury of the flexor tendon is coded.",
  },
  {
    id: "Q-NERVE",
    severity: "medium",
    fact: "nerve",
    signal: ["feelingLost"],
    when: current,
    title: "Feeling of the tip",
    text: "The record shows {findings}. Please document the associated diagnosis, if any.",
    options: [o("injured", "injury of a digital nerve"), o("none", "no nerve injury")],
    other: true,
    meanwhile: "No nerve injury is coded.",
  },
  {
    id: "Q-INFECTION",
    severity: "medium",
    fact: "infection",
    signal: ["infection"],
    when: anyPhase,
    title: "Redness, swelling or discharge",
    text: "The record shows {findings}. Please document the associated diagnosis, if any.",
    options: [
      o("cellulitis", "cellulitis, felon or paronychia"),
      o("osteomyelitis", "acute osteomyelitis"),
      o("none", "no infection"),
    ],
    other: true,
    meanwhile: "No infection is coded.",
  },
  {
    id: "Q-OLD",
    severity: "medium",
    fact: "oldMallet",
    signal: ["oldOrNew"],
    when: anyPhase,
    title: "Onset",
    text: "The record shows {findings}. When did this start, and is it a current or an old injury?",
    options: [o("yes", "old"), o("no", "current")],
    meanwhile: "Coded as a current injury.",
  },
  {
    id: "Q-CRUSH",
    severity: "low",
    fact: "crush",
    signal: ["crushMechanism"],
    when: current,
    title: "Soft tissues of this digit",
    text: "The record shows {findings}. Please document all diagnoses for the soft tissues of this digit.",
    options: [o("diagnosed", "crushing injury"), o("none", "no crushing injury")],
    other: true,
    meanwhile: "No crushing injury is coded.",
  },
  {
    id: "Q-FB",
    severity: "low",
    fact: "retained",
    signal: ["foreignBody"],
    when: anyPhase,
    title: "Material in the wound",
    text: "The record shows {findings}. Please document whether any material remains.",
    options: [
      o("metal", "metal"),
      o("plastic", "plastic"),
      o("wood", "wood"),
      o("glass", "glass"),
      o("none", "nothing remains"),
    ],
    other: true,
    meanwhile: "No retained material is coded.",
  },
];

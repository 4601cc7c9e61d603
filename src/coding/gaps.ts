import type { UsedFinding } from "../pathway/index.ts";
import type { DigitCase } from "./code-encounter.ts";
import { asCoded, type Circumstances, type FactName, type FactRow, type Facts, holds } from "./facts.ts";
import type { Signal } from "./from-findings.ts";

/** "block": a code is withheld until it is answered; the others say how much a more specific code would gain. */
export type Severity = "block" | "high" | "medium" | "low";
/** A query goes to the clinician; intake is asked on the form of the clinic and never as a query. */
export type Channel = "query" | "intake";
/** Where an answer goes: a fact of the digit, of the encounter, or a part of the circumstances. */
export interface AnswersTo {
  readonly scope: "digit" | "encounter" | "circumstances";
  readonly name: string;
}
export interface GapOption {
  readonly value: string;
  readonly words: string;
}
/**
 * What is missing for a specific code, as a neutral question: it quotes what the record shows, names no wished answer, and says nothing of
 * payment (practice source: AHIMA/ACDIS, Guidelines for Achieving a Compliant Query Practice, 2022 update; principles from memory).
 */
export interface Gap {
  /** Stable: "Q-DISP@0". */
  readonly key: string;
  readonly id: string;
  readonly severity: Severity;
  readonly channel: Channel;
  /** Place of the digit in the record; absent: of the encounter. */
  readonly digit?: number;
  /** Names the subject, never an answer. */
  readonly title: string;
  readonly text: string;
  /** Answers that a clinician may choose; "undetermined" is always among them. Empty: free text. */
  readonly options: readonly GapOption[];
  /** An answer in words may be given beside or instead of the options. */
  readonly freeText: boolean;
  readonly answersTo: AnswersTo;
  /** Findings that the question quotes, with the day of service. */
  readonly indicators: readonly UsedFinding[];
  readonly on: string;
  /** What is coded until it is answered. */
  readonly meanwhile: string;
}

interface GapRule {
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
const o = (value: string, words: string): GapOption => ({ value, words });
const UNDETERMINED = o("undetermined", "unable to determine");
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

const LATE: readonly FactName[] = ["oldMallet", "nailDystrophy", "otherNailDisorder", "stiffness", "physealArrest"];

/** The answer names one of several facts: its value is the fact that is so. */
export const LATE_EFFECT = "late-effect";

/** Says one finding in words for a query. */
export type SayFinding = (finding: UsedFinding) => string;
export const sayPlainly: SayFinding = ({ finding, value }) => `${finding}: ${value}`;

function ofRule(rule: GapRule, digit: DigitCase, on: string, say: SayFinding): Gap[] {
  // "undetermined" is an answer: it is not asked again.
  const value = digit.facts[rule.fact];
  const open = value === "not-stated" || (rule.also?.includes(value) ?? false);
  if (!open || !holds(rule.when, asCoded(digit.facts))) return [];
  const shown = (rule.signal ?? []).flatMap((signal) => digit.signals[signal] ?? []);
  if (rule.signal && shown.length === 0) return [];
  const indicators = rule.signal ? shown : (digit.origins[rule.fact]?.used ?? []);
  const ofEncounter = rule.fact === "phase";
  return [
    {
      key: ofEncounter ? rule.id : `${rule.id}@${digit.at}`,
      id: rule.id,
      severity: rule.severity,
      channel: "query",
      ...(ofEncounter ? {} : { digit: digit.at }),
      title: rule.title,
      text: rule.text.replace("{findings}", indicators.map(say).join(", ") || "no statement"),
      options: [...rule.options, UNDETERMINED],
      freeText: rule.other === true,
      answersTo: { scope: ofEncounter ? "encounter" : "digit", name: rule.fact },
      indicators,
      on,
      meanwhile: rule.meanwhile,
    },
  ];
}

/** A late encounter whose present condition nobody named: a code with S alone is no list. */
function lateEffect(digits: readonly DigitCase[], on: string): Gap[] {
  const [first] = digits;
  const named = digits.some((d) => LATE.some((fact) => d.facts[fact] !== "not-stated"));
  if (first?.facts.phase !== "sequela" || named) return [];
  return [
    {
      key: "Q-LATE",
      id: "Q-LATE",
      severity: "block",
      channel: "query",
      title: "Present condition",
      text: "This encounter is for a late effect of the injury. Please document the present condition.",
      digit: first.at,
      options: [
        o("oldMallet", "mallet deformity"),
        o("nailDystrophy", "deformed nail"),
        o("otherNailDisorder", "another nail disorder"),
        o("stiffness", "stiffness"),
        o("physealArrest", "arrest of the growth plate"),
        UNDETERMINED,
      ],
      freeText: true,
      answersTo: { scope: "digit", name: LATE_EFFECT },
      indicators: [],
      on,
      meanwhile: "The injury is listed with S, and what it led to is missing before it.",
    },
  ];
}

const intake = (id: string, name: string, title: string, text: string, on: string): Gap => ({
  key: id,
  id,
  severity: "low",
  channel: "intake",
  title,
  text,
  options: [],
  freeText: true,
  answersTo: { scope: "circumstances", name },
  indicators: [],
  on,
  meanwhile: "No code of this part is given.",
});
function circumstanceGaps(
  { causes, place, activity, status, vehicleDoor }: Circumstances,
  facts: Facts,
  on: string,
): Gap[] {
  const first = facts.phase === "active" && facts.first !== "no";
  return [
    ...(vehicleDoor
      ? [
          {
            ...intake("Q-VEH", "causes", "Vehicle", "Was the vehicle being used for transport at the time?", on),
            options: [o("W23.2", "no, it was parked"), UNDETERMINED],
            meanwhile: "No cause is coded: in use for transport it belongs to V01-V99, parked to W23.",
          },
        ]
      : causes?.length
        ? []
        : [intake("Q-MECH", "causes", "How it happened", "How did it happen?", on)]),
    ...(first && place === undefined ? [intake("Q-PLACE", "place", "Place", "Where did it happen?", on)] : []),
    ...(first && activity === undefined
      ? [intake("Q-ACT", "activity", "Activity", "What was the patient doing at the time?", on)]
      : []),
    ...(first && status === undefined
      ? [
          intake(
            "Q-WORK",
            "status",
            "Work or leisure",
            "Was it at paid work, as a volunteer, on military duty, or otherwise?",
            on,
          ),
        ]
      : []),
  ];
}

const SEVERITIES: readonly Severity[] = ["block", "high", "medium", "low"];
/** All gaps of an encounter, the most severe first; each question once. @param on day of service, yyyy-MM-dd */
export function gapsOf(
  digits: readonly DigitCase[],
  circumstances: Circumstances,
  on: string,
  say: SayFinding = sayPlainly,
): readonly Gap[] {
  const all = [
    ...digits.flatMap((digit) => GAP_RULES.flatMap((rule) => ofRule(rule, digit, on, say))),
    ...lateEffect(digits, on),
    ...(digits[0] ? circumstanceGaps(circumstances, digits[0].facts, on) : []),
  ];
  const once = all.filter((gap, i) => all.findIndex((g) => g.key === gap.key) === i);
  return once.sort((a, b) => SEVERITIES.indexOf(a.severity) - SEVERITIES.indexOf(b.severity));
}

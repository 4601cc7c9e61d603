import type { UsedFinding } from "../pathway/index.ts";
import type { DigitCase } from "./digit-case.ts";
import { asCoded, type Circumstances, type FactName, type Facts, holds } from "./facts.ts";
import { GAP_RULES, type GapOption, type GapRule, o, type Severity, UNDETERMINED } from "./gap-rules.ts";

/** A query goes to the clinician; intake is asked on the form of the clinic and never as a query. */
export type Channel = "query" | "intake";
/** Where an answer goes: a fact of the digit, of the encounter, or a part of the circumstances. */
export interface AnswersTo {
  readonly scope: "digit" | "encounter" | "circumstances";
  readonly name: string;
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

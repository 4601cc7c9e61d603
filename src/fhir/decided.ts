import {
  type CaseAssessment,
  type DigitAssessment,
  type Line,
  type ManagementCall,
  moreUrgent,
  URGENCIES,
  type Urgency,
} from "../pathway/index.ts";
import type { DecidedPart, Override } from "./draft-item.ts";

/** "Clinician's decision: Same day instead of Within one week: patient's wish." */
export const decisionWords = ({ decided, proposed, reason }: Override): string =>
  `Clinician's decision: ${decided} instead of ${proposed}: ${reason}${reason.endsWith(".") ? "" : "."}`;

/** Lines of one part of the advice, as decided on by their rules. */
const partOf = (digit: DigitAssessment, part: Exclude<DecidedPart, "urgency">): readonly Line[] =>
  part === "splint" ? digit.splints : digit[part];

/** The decisions whose rule still speaks: one about advice that is no longer given changes nothing and is not written. */
export const standing = <O extends Override>(overrides: readonly O[], assessment: CaseAssessment): O[] =>
  overrides.filter((o) => {
    if (o.on === undefined) return true;
    if (o.on === "urgency") return assessment.urgency.because.some((b) => b.rule === o.rule);
    const digit = assessment.digits[o.digit ?? 0];
    return digit !== undefined && partOf(digit, o.on).some((l) => l.rule === o.rule);
  });

/**
 * The assessment with the clinician's own decisions in the place of what the rules proposed: what is written, signed and copied follows the
 * decision, and says whose it is. A decision about urgency holds for every digit that was as urgent as the case, and no other digit stays
 * more urgent than it.
 */
export function asDecided(assessment: CaseAssessment, overrides: readonly Override[]): CaseAssessment {
  let current = assessment;
  for (const o of standing(overrides, assessment)) {
    const { on } = o;
    if (on === "urgency") current = withUrgency(current, o);
    else if (on !== undefined) {
      const digits = current.digits.map((d, i) => (i === (o.digit ?? 0) ? withPart(d, on, o) : d));
      current = { ...current, digits };
    }
  }
  return current;
}

const lineOf = (o: Override): Line => ({ rule: o.rule, text: decisionWords(o), because: o.reason, sources: [] });

function withUrgency(assessment: CaseAssessment, o: Override): CaseAssessment {
  const chosen = URGENCIES.find((u) => u === o.choice);
  const proposed = assessment.urgency.level;
  if (chosen === undefined || proposed === undefined) return assessment;
  const because = [lineOf(o)];
  const follow = <U extends Urgency>(own: U): Urgency =>
    own === proposed || (own !== chosen && moreUrgent(own, chosen) === own) ? chosen : own;
  const digits = assessment.digits.map((d): DigitAssessment => {
    const level = d.urgency.level && follow(d.urgency.level);
    const exits = d.exits.map((e) => ({ ...e, effect: { ...e.effect, urgency: follow(e.effect.urgency) } }));
    if (level === undefined || level === d.urgency.level) return { ...d, exits };
    return { ...d, exits, urgency: { level, sure: level, open: false, because } };
  });
  const words = { title: o.decided, means: decisionWords(o) };
  return { ...assessment, digits, urgency: { level: chosen, sure: chosen, open: false, because, words } };
}

/** The first line of the rule becomes the decision; the others of it fall away, since they belong to what is not done. */
function withPart(digit: DigitAssessment, part: Exclude<DecidedPart, "urgency">, o: Override): DigitAssessment {
  const decided = <L extends Line>(lines: readonly L[], change: (line: L) => L = (line) => line): L[] => {
    const first = lines.findIndex((l) => l.rule === o.rule);
    return lines.flatMap((line, i) =>
      line.rule !== o.rule ? [line] : i === first ? [{ ...change(line), ...lineOf(o) }] : [],
    );
  };
  switch (part) {
    case "management":
      return {
        ...digit,
        management: decided(digit.management, (line) => ({
          ...line,
          effect: { ...line.effect, call: (o.choice as ManagementCall | undefined) ?? line.effect.call },
        })),
      };
    case "splint":
      return { ...digit, splints: decided(digit.splints) };
    case "antibiotic":
      return { ...digit, antibiotic: decided(digit.antibiotic) };
    case "tetanus":
      return { ...digit, tetanus: decided(digit.tetanus) };
  }
}

import type { Composed } from "./characters.ts";
import type { DigitCase } from "./digit-case.ts";
import { asCoded, type Facts } from "./facts.ts";
import type { CodeRule } from "./injury-rules.ts";

/** A code that a rule gives for a digit. */
export interface Candidate {
  readonly rule: CodeRule;
  readonly digit: DigitCase;
  readonly composed: Composed;
}
/** Severity of a fracture: open before displaced before the others. Common practice, no source; the clinician's own word wins. */
const worse = ({ openness, displacement }: Facts): number =>
  openness === "open" ? 0 : displacement === "not-displaced" ? 2 : 1;
/** Half a step orders fractures among themselves without passing the next weight. */
const STEP = 1 / 4;
const weightOf = ({ rule, digit }: Candidate): number =>
  rule.weight + (rule.id.startsWith("FX") ? worse(asCoded(digit.facts)) * STEP : 0);
const GROUPS = ["complication", "late-effect", "injury", "structure", "companion"] as const;

/** Order of the diagnoses: the reason for the visit, late effects before the injury with S, injuries by severity digit by digit, then the rest. */
export function inOrder(candidates: readonly Candidate[]): readonly Candidate[] {
  const ofDigit = (at: number) => candidates.filter((c) => c.digit.at === at);
  const hasInjury = (at: number) => ofDigit(at).some((c) => c.rule.place === "injury");
  const group = (c: Candidate): number => {
    if (c.rule.place === "complication" && asCoded(c.digit.facts).reason !== "infection")
      return GROUPS.indexOf("structure") + STEP;
    if (c.rule.place === "late-effect" && c.digit.facts.phase !== "sequela")
      return GROUPS.indexOf("structure") + 2 * STEP;
    // A tendon, nerve or vessel that is the only injury of its digit stands among the injuries.
    if (c.rule.place === "structure" && !hasInjury(c.digit.at)) return GROUPS.indexOf("injury");
    return GROUPS.indexOf(c.rule.place);
  };
  // A crush heads its digit without making the digit worse than its fracture does.
  const worst = (at: number) =>
    Math.min(
      ...ofDigit(at)
        .filter((c) => !c.rule.id.startsWith("CRUSH") || ofDigit(at).length === 1)
        .map(weightOf),
    );
  const flagged = (c: Candidate) => (c.digit.facts.mostSerious === "yes" ? 0 : 1);
  const keys = (c: Candidate) => [group(c), flagged(c), worst(c.digit.at), c.digit.at, weightOf(c)];
  return [...candidates].sort((a, b) => {
    const [left, right] = [keys(a), keys(b)];
    const at = left.findIndex((key, i) => key !== right[i]);
    return at < 0 ? 0 : left[at]! - right[at]!;
  });
}

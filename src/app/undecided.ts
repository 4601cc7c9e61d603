import type { DigitAssessment, EffectKind, Facts, Pathway } from "../pathway/index.ts";

export interface Undecided {
  readonly part: "tetanus" | "antibiotic" | "anaesthetic";
  /** Findings whose answers decide it, in the order in which they are asked. */
  readonly needs: readonly string[];
  /** "cannot decide, needs: documented tetanus doses" */
  readonly say: string;
}
export const PART_WORDS: { readonly [P in Undecided["part"]]: string } = {
  tetanus: "Tetanus",
  antibiotic: "Antibiotic",
  anaesthetic: "Local anaesthetic",
};
const SAFETY: readonly { readonly part: Undecided["part"]; readonly kinds: readonly EffectKind[] }[] = [
  { part: "antibiotic", kinds: ["antibiotic", "antibiotic-class"] },
  { part: "tetanus", kinds: ["tetanus"] },
  { part: "anaesthetic", kinds: ["epinephrine"] },
];

/** Parts of the advice that say nothing because an answer is missing: silence there would read as "nothing to do". */
export function undecidedParts(pathway: Pathway, digit: DigitAssessment, facts: Facts): Undecided[] {
  const { module, policy } = pathway;
  const { signs } = pathway.evaluate(facts);
  const open = [...digit.ask, ...digit.cannotTell];
  return SAFETY.flatMap(({ part, kinds }): Undecided[] => {
    const waiting = digit.stillPossible.filter((l) => kinds.includes(l.effect.kind)).map((l) => l.rule);
    const figures = part === "anaesthetic" ? module.figures({ ...facts, ...signs }, policy).needs : [];
    // A dose ceiling that lacks its numbers is said to be missing even where other lines speak.
    const silent = digit[part].length === 0;
    if (waiting.length + figures.length === 0 || (!silent && figures.length === 0)) return [];
    const read = new Set([...(silent ? findingsBehind(pathway, waiting, signs) : []), ...figures]);
    const needs = open.filter((f) => read.has(f));
    return needs.length === 0 ? [] : [{ part, needs, say: cannotDecide(module, needs) }];
  });
}
/** More needs than this are counted: a page that has hardly begun lists them all once, as its open questions. */
const NAMED_NEEDS = 6;
function cannotDecide(module: Pathway["module"], needs: readonly string[]): string {
  const named = needs.length <= NAMED_NEEDS + 1 ? needs : needs.slice(0, NAMED_NEEDS);
  const others = needs.length - named.length;
  const said = named.map((f) => inSentence(module, f)).join("; ");
  return `cannot decide, needs: ${said}${others > 0 ? `; and ${others} other answers` : ""}`;
}
const inSentence = (module: Pathway["module"], finding: string): string =>
  (module.questions.find((q) => q.finding === finding)?.wording ?? finding).replace(/\?$/, "").toLowerCase();

/** The findings that rules wait for, through the signs that are themselves still open. */
function findingsBehind(pathway: Pathway, rules: readonly string[], signs: Facts): Set<string> {
  const bySign = new Map(pathway.signs.map((s) => [s.name, s]));
  const found = new Set<string>();
  const follow = (row: object): void => {
    for (const column of Object.keys(row)) {
      if (found.has(column)) continue;
      found.add(column);
      const sign = bySign.get(column);
      if (sign && signs[column] !== "yes" && signs[column] !== "no") for (const inner of sign.any) follow(inner);
    }
  };
  for (const rule of pathway.tables.flatMap((t) => t.rules)) if (rules.includes(rule.id)) follow(rule.when);
  return found;
}
/** How many questions are open in a case: one that belongs to the patient or the accident counts once. */
export function openQuestions(pathway: Pathway, digits: readonly DigitAssessment[]): number {
  const ofDigit = (finding: string) => pathway.module.findings[finding]?.scope === "digit";
  return new Set(digits.flatMap((d, i) => d.ask.map((f) => (ofDigit(f) ? `${i} ${f}` : f)))).size;
}

import type { AskedInjury, Facts, Question, QuestionGroup } from "../pathway/asked.ts";
import type { DigitAssessment, FindingDefinition } from "../pathway/index.ts";

/** Always asked: the plan names the finger, the side and day 0 whatever the rules read. */
export const ALWAYS_ASKED: readonly string[] = ["digit", "side", "hoursSinceInjury"];
/** Answered on a drawing, or needed whatever the rules read: these stand open from the start. */
export const PICTURED: readonly string[] = [...ALWAYS_ASKED, "fractureSite"];

export interface ShownGroup {
  readonly group: QuestionGroup;
  readonly questions: readonly Question[];
  /** Of `questions`, those without an answer. */
  readonly open: number;
}

/**
 * The questions on the screen, in the module's order (red flags first): those that can still change something, and those
 * already answered, which stay. The assessment may lag behind the facts by a moment: `judged` are those it rests on, so that
 * a question being retyped does not vanish in between. `rest` holds the others, for a clinician who wants to record more.
 * Before there is an assessment every question may matter.
 */
export function shownQuestions(
  module: AskedInjury,
  assessment: DigitAssessment | undefined,
  facts: Facts,
  judged: Facts,
): { groups: ShownGroup[]; rest: Question[] } {
  const mattering = new Set(
    assessment
      ? [...ALWAYS_ASKED, ...assessment.ask, ...assessment.cannotTell]
      : module.questions.map((q) => q.finding),
  );
  const byFinding = new Map(module.questions.map((q) => [q.finding, q]));
  const grouped = new Set(module.groups.flatMap((g) => g.findings));
  const loose = module.questions.filter((q) => !grouped.has(q.finding)).map((q) => q.finding);
  const all: QuestionGroup[] =
    loose.length > 0
      ? [...module.groups, { id: "other", title: "Other findings", findings: loose, quick: [] }]
      : [...module.groups];
  const rest: Question[] = [];
  const groups = all.map((group): ShownGroup => {
    const questions: Question[] = [];
    for (const finding of group.findings) {
      const question = byFinding.get(finding);
      if (question)
        (mattering.has(finding) || facts[finding] !== undefined || judged[finding] !== undefined
          ? questions
          : rest
        ).push(question);
    }
    return { group, questions, open: questions.filter((q) => facts[q.finding] === undefined).length };
  });
  return { groups: groups.filter((g) => g.questions.length > 0), rest };
}

/** One value in the words of its question: "ring finger", "3 mm", "cannot tell". */
export function sayValue(
  question: Question | undefined,
  definition: FindingDefinition | undefined,
  value: string | number,
): string {
  if (value === "cannot-tell") return (question?.cannotTell ?? "cannot tell").toLowerCase();
  if (value === "not-asked") return "not asked";
  if (typeof value === "number")
    return `${Math.round(value * 10) / 10}${definition?.type === "number" ? ` ${definition.unit}` : ""}`;
  return question?.options?.find((o) => o.value === value)?.label ?? value;
}
/** "right ring finger" from the answers to digit and side, as far as known. */
export function sayDigit(module: AskedInjury, facts: Facts): string | undefined {
  const say = (finding: string) => {
    const value = facts[finding];
    const question = module.questions.find((q) => q.finding === finding);
    return value === undefined || value === "cannot-tell"
      ? undefined
      : sayValue(question, module.findings[finding], value).toLowerCase();
  };
  const digit = say("digit");
  if (digit === undefined) return undefined;
  const named = /thumb|finger/.test(digit) ? digit : `${digit} finger`;
  const side = say("side");
  return side === undefined ? named : `${side} ${named}`;
}

import type { AskedInjury, Facts, Question } from "../pathway/asked.ts";
import type { CaseDate, CaseState } from "./case-state.ts";
import { type Proposed, valueState } from "./value-state.ts";

/** Which date stands behind a number that rules read. */
export const DATE_BEHIND: { readonly [finding: string]: CaseDate } = {
  ageYears: "birthDate",
  hoursSinceInjury: "injuredAt",
  tetanusYearsSinceLast: "lastTetanusDoseOn",
};
/** Proposals by finding, for each digit; `dates` by name of the date. */
export interface Proposals {
  of(finding: string, digit: number): readonly Proposed[];
  date(date: CaseDate): readonly Proposed[];
  /** Entries of the chart that bear on a finding without answering it, in words. */
  bearing(finding: string): readonly string[];
}
export const NONE: readonly Proposed[] = [];
export const NO_WORDS: readonly string[] = [];
export const noProposals: Proposals = { of: () => NONE, date: () => NONE, bearing: () => NO_WORDS };

/** What one press of "These are right" confirms: side, finger, day of injury and birth date, where the chart proposes one value and nothing is answered. */
export interface Confirmable {
  readonly answers: readonly { question: Question; value: string | number }[];
  readonly dates: readonly { date: CaseDate; value: string }[];
}
const NAMING = ["side", "digit"];
const DAYS: readonly CaseDate[] = ["injuredAt", "birthDate"];
const WHOLE_DAY = /^\d{4}-\d{2}-\d{2}/;
export function confirmable(state: CaseState, module: AskedInjury, proposals: Proposals, facts: Facts): Confirmable {
  const single = (proposed: readonly Proposed[]) => {
    const is = valueState(undefined, proposed);
    return is.is === "from-chart" ? is.value : undefined;
  };
  return {
    answers: NAMING.flatMap((finding) => {
      const question = module.questions.find((q) => q.finding === finding);
      const value = question && facts[finding] === undefined ? single(proposals.of(finding, state.active)) : undefined;
      return question && value !== undefined ? [{ question, value }] : [];
    }),
    dates: DAYS.flatMap((date) => {
      const value = state.dates[date] === undefined ? single(proposals.date(date)) : undefined;
      return typeof value === "string" && WHOLE_DAY.test(value) ? [{ date, value }] : [];
    }),
  };
}

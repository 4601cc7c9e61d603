import { type Dispatch, useEffect, useRef } from "react";
import type { AskedInjury, Facts, Question } from "../../../pathway/asked.ts";
import type { CaseAction, CaseDate, CaseState } from "../../case-state.ts";
import type { Proposals } from "../../proposals.ts";
import { sayFullDay } from "../../say-date.ts";
import { type Proposed, valueState } from "../../value-state.ts";
import { sayDigit } from "../../which-questions.ts";
import { words } from "./words.ts";

interface TheseAreRightProps {
  readonly module: AskedInjury;
  readonly state: CaseState;
  readonly proposals: Proposals;
  readonly dispatch: Dispatch<CaseAction>;
  readonly facts: Facts;
  readonly onConfirmed: () => void;
}
/** Finger, side and day together may be confirmed in one press; nothing that has to be examined may. */
export function TheseAreRight({ module, state, facts, proposals, dispatch, onConfirmed }: TheseAreRightProps) {
  const { answers, dates } = confirmable(state, module, proposals, facts);
  const confirmed = useRef(false);
  useEffect(() => {
    if (confirmed.current) onConfirmed();
    confirmed.current = false;
  });
  if (answers.length + dates.length < 2) return null;
  const named = Object.fromEntries(answers.map(({ question, value }) => [question.finding, value]));
  const finger = sayDigit(module, { ...facts, ...named }) ?? words.onlySide(String(named.side));
  const say = [
    ...(answers.length > 0 ? [finger] : []),
    ...dates.map(({ date, value }) =>
      date === "injuredAt" ? `injured ${sayFullDay(value)}` : `born ${sayFullDay(value)}`,
    ),
  ];
  return (
    <section className="these-are-right" aria-label={words.theseAreRightLead}>
      <p>
        {words.theseAreRightLead} <b>{say.join(", ")}</b>.
      </p>
      <button
        type="button"
        className="primary"
        onClick={() => {
          confirmed.current = true;
          dispatch({
            act: "answer",
            digit: state.active,
            answers: answers.map(({ question, value }) => ({
              finding: question.finding,
              scope: question.scope,
              value,
            })),
          });
          for (const { date, value } of dates) dispatch({ act: "date", date, value });
        }}
      >
        {words.theseAreRight}
      </button>
    </section>
  );
}

/** What one press of "These are right" confirms: side, finger, day of injury and birth date, where the chart proposes one value and nothing is answered. */
interface Confirmable {
  readonly answers: readonly { question: Question; value: string | number }[];
  readonly dates: readonly { date: CaseDate; value: string }[];
}
const NAMING = ["side", "digit"];
const DAYS: readonly CaseDate[] = ["injuredAt", "birthDate"];
const WHOLE_DAY = /^\d{4}-\d{2}-\d{2}/;
function confirmable(state: CaseState, module: AskedInjury, proposals: Proposals, facts: Facts): Confirmable {
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

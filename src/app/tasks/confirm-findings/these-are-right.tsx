import { type Dispatch, useEffect, useRef } from "react";
import type { AskedInjury, Facts, Question } from "../../../pathway/asked.ts";
import type { CaseAction, CaseDate, CaseState } from "../../case-state.ts";
import { sayOrigin } from "../../parts/value-note.tsx";
import type { Proposals } from "../../proposals.ts";
import { sayFullDay } from "../../say-date.ts";
import { type Proposed, valueState, whoseIs } from "../../value-state.ts";
import { sayDigit } from "../../which-questions.ts";
import { words as late } from "./late-words.ts";
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
  const entry = answers.length > 0 ? proposals.entryOf?.({ ...facts, ...named }) : undefined;
  const [from, ...elsewhere] = new Set(answers.map((said) => said.lead));
  const say = [
    ...(from ? [{ lead: elsewhere.length > 0 ? late.theseAreRightLead.several : from, text: finger }] : []),
    ...dates.map(({ date, value, lead }) => ({
      lead,
      text: date === "injuredAt" ? `injured ${sayFullDay(value)}` : `born ${sayFullDay(value)}`,
    })),
    ...(entry ? [{ lead: late.theseAreRightLead.chart, text: late.itsEntry(entry.text) }] : []),
  ];
  const leads = [...new Set(say.map((said) => said.lead))];
  return (
    <section className="these-are-right" aria-label={leads[0]}>
      {leads.map((lead) => (
        <p key={lead}>
          {lead}{" "}
          <b>
            {say
              .filter((said) => said.lead === lead)
              .map((said) => said.text)
              .join(", ")}
          </b>
          .
        </p>
      ))}
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
          if (entry) dispatch({ act: "edit-item", edit: entry.choice });
          for (const { date, value } of dates) dispatch({ act: "date", date, value });
        }}
      >
        {late.theseAreRight}
      </button>
    </section>
  );
}

/** "The chart says:"; a colleague's draft is named with its author and day. */
const leadOf = (proposed: Proposed): string => {
  const whose = whoseIs(proposed);
  return whose === "others-draft" ? late.theseAreRightLead.other(sayOrigin(proposed)) : late.theseAreRightLead[whose];
};
/** What one press of "These are right" confirms: side, finger, day of injury and birth date, where the chart proposes one value and nothing is answered. */
interface Confirmable {
  readonly answers: readonly { question: Question; value: string | number; lead: string }[];
  readonly dates: readonly { date: CaseDate; value: string; lead: string }[];
}
const NAMING = ["side", "digit"];
const DAYS: readonly CaseDate[] = ["injuredAt", "birthDate"];
const WHOLE_DAY = /^\d{4}-\d{2}-\d{2}/;
function confirmable(state: CaseState, module: AskedInjury, proposals: Proposals, facts: Facts): Confirmable {
  const single = (proposed: readonly Proposed[]) => {
    const is = valueState(undefined, proposed);
    return is.is === "from-chart" ? { value: is.value, lead: leadOf(is.proposals[0]!) } : undefined;
  };
  return {
    answers: NAMING.flatMap((finding) => {
      const question = module.questions.find((q) => q.finding === finding);
      const said = question && facts[finding] === undefined ? single(proposals.of(finding, state.active)) : undefined;
      return question && said ? [{ question, ...said }] : [];
    }),
    dates: DAYS.flatMap((date) => {
      const said = state.dates[date] === undefined ? single(proposals.date(date)) : undefined;
      return said && WHOLE_DAY.test(String(said.value)) ? [{ date, value: String(said.value), lead: said.lead }] : [];
    }),
  };
}

import { useId } from "react";
import type { Question } from "../../../pathway/index.ts";
import { questionId } from "../../parts/question-field.tsx";
import { ValueNote } from "../../parts/value-note.tsx";
import { dayAfter, sayDay } from "../../say-date.ts";
import { type Proposed, valueState, whoseIs } from "../../value-state.ts";
import { words } from "./words.ts";

interface DateFieldProps {
  readonly question: Question;
  /** The confirmed date: yyyy-MM-dd or yyyy-MM-ddTHH:mm. */
  readonly value: string | undefined;
  readonly proposals: readonly Proposed[];
  /** Local now, yyyy-MM-ddTHH:mm. */
  readonly now: string;
  readonly onDate: (value: string | undefined) => void;
}
const WHOLE_DAY = /^\d{4}-\d{2}-\d{2}/;
const say = (value: string | number) => sayDay(String(value));

/** Day 0 and, if known, its hour. Without the hour the longest possible time is counted. */
export function InjuryDate({ question, value, proposals, now, onDate }: DateFieldProps) {
  const id = useId();
  const today = now.slice(0, 10);
  const [day = "", time = ""] = (value ?? "").split("T");
  const state = valueState(value, proposals);
  const future = value !== undefined && value > (time ? now : today);
  const pick = (nextDay: string, nextTime: string) =>
    onDate(nextDay === "" ? undefined : nextTime ? `${nextDay}T${nextTime}` : nextDay);
  return (
    <fieldset className={`question ${value === undefined ? "open" : "answered"}`} id={questionId(question.finding)}>
      <legend>{words.injured}</legend>
      <p className="measure">
        <button type="button" aria-pressed={day === today} onClick={() => pick(today, time)}>
          {words.today}
        </button>
        <button
          type="button"
          aria-pressed={day === dayAfter(today, -1)}
          onClick={() => pick(dayAfter(today, -1), time)}
        >
          {words.yesterday}
        </button>
        <UseProposal state={state} onDate={onDate} />
      </p>
      <p className="measure">
        <span className="field">
          <label htmlFor={`${id}-day`}>{words.injuryDay}</label>
          <input
            id={`${id}-day`}
            type="date"
            max={today}
            value={day}
            aria-invalid={future || undefined}
            aria-describedby={`${id}-note`}
            onChange={(e) => pick(e.target.value, time)}
          />
        </span>
        <span className="field">
          <label htmlFor={`${id}-time`}>{words.injuryTime}</label>
          <input
            id={`${id}-time`}
            type="time"
            value={time}
            disabled={day === ""}
            aria-describedby={`${id}-note`}
            onChange={(e) => pick(day, e.target.value)}
          />
        </span>
      </p>
      <div id={`${id}-note`} className="note">
        {future && <p className="error">{words.injuryInFuture}</p>}
        {question.hint && <p className="hint">{question.hint}</p>}
        <ValueNote state={state} say={say} />
      </div>
    </fieldset>
  );
}

interface DateInsteadProps extends DateFieldProps {
  /** The number that follows from the date, in words. */
  readonly counted: string;
}
/** A number known by its date (age by the birth date, years by the last dose). Without the date the number is typed. */
export function DateInstead({ question, value, counted, proposals, now, onDate }: DateInsteadProps) {
  const id = useId();
  const state = valueState(value, proposals);
  const today = now.slice(0, 10);
  return (
    <fieldset className="question answered" id={questionId(question.finding)}>
      <legend>{question.wording}</legend>
      <button type="button" className="quiet clear" onClick={() => onDate(undefined)}>
        {words.clear}
        <span className="said">, {question.wording}</span>
      </button>
      <p className="measure">
        <span className="field">
          <label htmlFor={id}>{dateLabel(question)}</label>
          <input
            id={id}
            type="date"
            max={today}
            value={value?.slice(0, 10) ?? ""}
            aria-describedby={`${id}-note`}
            onChange={(e) => onDate(e.target.value || undefined)}
          />
        </span>
        <span>{counted}</span>
      </p>
      <div id={`${id}-note`} className="note">
        {value !== undefined && value > today && <p className="error">{words.dateInFuture}</p>}
        <ValueNote state={state} say={say} />
      </div>
    </fieldset>
  );
}
const dateLabel = (question: Question) => (question.finding === "ageYears" ? words.birthDate : words.lastDose);

/** Beside a number that is still to be given: the chart's date for it, or the date to be entered. */
export function DateOffer({ question, value, proposals, now, onDate }: DateFieldProps) {
  const id = useId();
  const state = valueState(value, proposals);
  return (
    <div className="instead">
      <p className="measure">
        <span className="field">
          <label htmlFor={id}>{dateLabel(question)}</label>
          <input
            id={id}
            type="date"
            max={now.slice(0, 10)}
            value={value?.slice(0, 10) ?? ""}
            onChange={(e) => onDate(e.target.value || undefined)}
          />
        </span>
        <UseProposal state={state} onDate={onDate} />
        <span>{words.orNumber}</span>
      </p>
      <ValueNote state={state} say={say} />
    </div>
  );
}

/** The one date that the chart or an earlier record of ours proposes, to be taken by a press. */
export function UseProposal({
  state,
  onDate,
}: {
  state: ReturnType<typeof valueState>;
  onDate: (value: string) => void;
}) {
  if (state.is !== "from-chart" || !WHOLE_DAY.test(String(state.value))) return null;
  const value = String(state.value);
  return (
    <button type="button" className="proposed" onClick={() => onDate(value)}>
      {words.use(sayDay(value))}
      <span className="tag">{words.fromWhom[whoseIs(state.proposals[0])]}</span>
    </button>
  );
}

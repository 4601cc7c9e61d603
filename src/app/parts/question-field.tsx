import { memo, type ReactNode, useId } from "react";
import type { Question } from "../../pathway/asked.ts";
import type { ChoiceFinding } from "../../pathway/index.ts";
import { plainText } from "../plain-text.ts";
import { sayShortDay } from "../say-date.ts";
import { words } from "../tasks/confirm-findings/words.ts";
import { type Proposed, type ValueState, valueState } from "../value-state.ts";
import { sayValue } from "../which-questions.ts";

export interface QuestionFieldProps<Definition> {
  readonly question: Question;
  readonly definition: Definition;
  readonly answer: string | number | undefined;
  readonly proposals: readonly Proposed[];
  readonly onAnswer: (question: Question, value: string | number) => void;
  readonly onClear: (question: Question) => void;
  /** Entries of the chart that bear on it without answering it. */
  readonly bearing?: readonly string[];
  readonly children?: ReactNode;
}
export const questionId = (finding: string): string => `q-${finding}`;

/** More options than this take the whole width. */
const MANY = 8;

/** One question with its answers side by side, drawn from the module's own description of it: no question has a form of its own. */
export const ChoiceQuestion = memo(function ChoiceQuestion({
  question,
  definition,
  answer,
  proposals,
  bearing,
  onAnswer,
  onClear,
  children,
}: QuestionFieldProps<ChoiceFinding>) {
  const id = useId();
  const state = valueState(answer, proposals);
  const options = question.options ?? definition.values.map((value) => ({ value, label: value }));
  const all =
    question.cannotTell === undefined ? options : [...options, { value: "cannot-tell", label: question.cannotTell }];
  const note = `${id}-note`;
  return (
    <fieldset
      className={`question ${answer === undefined ? "open" : "answered"}${all.length > MANY ? " many" : ""}`}
      id={questionId(question.finding)}
      aria-describedby={note}
    >
      <legend>{question.wording}</legend>
      {answer !== undefined && (
        <button type="button" className="quiet clear" onClick={() => onClear(question)}>
          {words.clear}
          <span className="said">, {question.wording}</span>
        </button>
      )}
      {children}
      <div className="options">
        {all.map((option) => {
          const proposed = state.is === "from-chart" && state.value === option.value;
          return (
            <label
              key={option.value}
              className={`option${proposed ? " proposed" : ""}${answer === option.value ? " chosen" : ""}`}
            >
              <input
                type="radio"
                name={id}
                value={option.value}
                checked={answer === option.value}
                onChange={() => onAnswer(question, option.value)}
              />
              <span>
                {option.label}
                {proposed && (
                  <span className="tag">
                    {words.fromChart}
                    <span className="said">{words.notChosen}</span>
                  </span>
                )}
                {"hint" in option && option.hint && <span className="hint">{option.hint}</span>}
              </span>
            </label>
          );
        })}
      </div>
      <div id={note} className="note">
        {question.hint && <p className="hint">{question.hint}</p>}
        {bearing && bearing.length > 0 && (
          <p className="source differs">
            {words.chartLists} {bearing.join("; ")}
          </p>
        )}
        <ValueNote state={state} say={(v) => sayValue(question, definition, v)} />
      </div>
    </fieldset>
  );
});

/** Where a value comes from, or what the chart says instead. */
export function ValueNote({ state, say }: { state: ValueState; say: (value: string | number) => string }) {
  if (state.is === "open" || state.proposals.length === 0) return null;
  const from = (p: Proposed) =>
    `${plainText(p.from.label)}${p.from.date ? `, ${sayShortDay(p.from.date)}` : ""}${p.note ? ` (${p.note})` : ""}`;
  switch (state.is) {
    case "from-chart":
      return <p className="source">{state.proposals.map(from).join("; ")}</p>;
    case "confirmed":
      return (
        <p className="source">
          {words.confirmedFrom} {state.proposals.map(from).join("; ")}
        </p>
      );
    case "changed":
      return (
        <p className="source differs">
          {state.proposals.map((p) => `${words.chartSays} ${say(p.value).toLowerCase()}: ${from(p)}`).join("; ")}
        </p>
      );
    case "earlier":
      return (
        <p className="source">
          {state.proposals.map((p) => `${words.earlier} ${say(p.value).toLowerCase()}: ${from(p)}`).join("; ")}.{" "}
          {words.examineAgain}
        </p>
      );
    case "chart-disagrees":
      return (
        <p className="source differs">
          {words.chartDisagrees} {state.proposals.map((p) => `${say(p.value).toLowerCase()} (${from(p)})`).join("; ")}
        </p>
      );
  }
}

import { memo, type ReactNode, useId } from "react";
import type { Question } from "../../pathway/asked.ts";
import type { ChoiceFinding } from "../../pathway/index.ts";
import { words } from "../tasks/confirm-findings/words.ts";
import { type Proposed, valueState, whoseIs } from "../value-state.ts";
import { sayValue } from "../which-questions.ts";
import type { ValueNote } from "./value-note.tsx";

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

interface ChoiceQuestionProps extends QuestionFieldProps<ChoiceFinding> {
  /** Says where a value comes from; until it is there nothing has come from anywhere. */
  readonly Note: typeof ValueNote | undefined;
}
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
  Note,
}: ChoiceQuestionProps) {
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
                    {words.fromWhom[whoseIs(state.proposals[0])]}
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
        {Note && <Note state={state} say={(v) => sayValue(question, definition, v)} />}
      </div>
    </fieldset>
  );
});

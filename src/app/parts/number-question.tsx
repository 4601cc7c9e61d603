import { memo, useId, useState } from "react";
import type { Question } from "../../pathway/asked.ts";
import type { NumberFinding } from "../../pathway/index.ts";
import { words } from "../tasks/confirm-findings/words.ts";
import { valueState, whoseIs } from "../value-state.ts";
import { sayValue } from "../which-questions.ts";
import { type QuestionFieldProps, questionId } from "./question-field.tsx";
import { ValueNote } from "./value-note.tsx";

interface NumberQuestionProps extends QuestionFieldProps<NumberFinding> {
  /** The number cannot be read: it is no answer until it is put right. */
  readonly onProblem?: (question: Question, problem: string | undefined) => void;
}
/** One question with a number for an answer, drawn from the module's own description of it. */
export const NumberQuestion = memo(function NumberQuestion({
  question,
  definition,
  answer,
  proposals,
  onAnswer,
  onClear,
  onProblem,
  children,
}: NumberQuestionProps) {
  const id = useId();
  const state = valueState(answer, proposals);
  const { min, max, unit } = definition;
  const [text, setText] = useState(typeof answer === "number" ? String(answer) : "");
  const [wrong, setWrong] = useState(false);
  const typed = readNumber(text);
  // The answer may change elsewhere (a proposal is used, an answer is cleared): then the field follows it.
  const followed = typeof answer === "number" && answer !== typed && !wrong ? String(answer) : text;
  const change = (next: string) => {
    setText(next);
    const value = readNumber(next);
    const fits = value !== undefined && value >= min && value <= max;
    if (fits) {
      setWrong(false);
      onProblem?.(question, undefined);
      onAnswer(question, value);
      return;
    }
    if (answer !== undefined) onClear(question);
    if (next.trim() === "") {
      setWrong(false);
      onProblem?.(question, undefined);
    }
  };
  const leave = () => {
    const bad = text.trim() !== "" && (typed === undefined || typed < min || typed > max) && typeof answer !== "number";
    setWrong(bad);
    onProblem?.(question, bad ? words.numberWrong(min, max, unit) : undefined);
  };
  return (
    <div className={`question ${answer === undefined ? "open" : "answered"}`} id={questionId(question.finding)}>
      <label className="legend" htmlFor={id}>
        {question.wording}
      </label>
      {children}
      <p className="measure">
        <input
          id={id}
          inputMode="decimal"
          autoComplete="off"
          size={7}
          value={followed}
          aria-describedby={`${id}-note`}
          aria-invalid={wrong || undefined}
          onChange={(e) => change(e.target.value)}
          onBlur={leave}
        />
        <span>{unit}</span>
        {state.is === "from-chart" && typeof state.value === "number" && (
          <button
            type="button"
            className="proposed"
            onClick={() => {
              setText(String(state.value));
              setWrong(false);
              onAnswer(question, state.value);
            }}
          >
            {words.use(sayValue(question, definition, state.value))}
            <span className="tag">{words.fromWhom[whoseIs(state.proposals[0])]}</span>
          </button>
        )}
        {question.cannotTell !== undefined && (
          <label className={`option${answer === "cannot-tell" ? " chosen" : ""}`}>
            <input
              type="checkbox"
              checked={answer === "cannot-tell"}
              onChange={(e) => {
                setText("");
                if (e.target.checked) onAnswer(question, "cannot-tell");
                else onClear(question);
              }}
            />
            <span>{question.cannotTell}</span>
          </label>
        )}
      </p>
      <div id={`${id}-note`} className="note">
        {wrong && <p className="error">{words.numberWrong(min, max, unit)}</p>}
        <p className="hint">
          {question.hint ? `${question.hint.replace(/\.$/, "")}. ` : ""}
          {words.numberBounds(min, max, unit)}
        </p>
        <ValueNote state={state} say={(v) => sayValue(question, definition, v)} />
      </div>
    </div>
  );
});

/** A decimal comma is a decimal point; anything else that is no number is none. */
export function readNumber(text: string): number | undefined {
  const plain = text.trim().replace(",", ".");
  return /^\d+(\.\d+)?$/.test(plain) ? Number(plain) : undefined;
}

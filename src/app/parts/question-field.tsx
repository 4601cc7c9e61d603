import { memo, type ReactNode, useId, useState } from "react";
import type { ChoiceFinding, FindingDefinition, NumberFinding, Question } from "../../pathway/index.ts";
import { plainText } from "../plain-text.ts";
import { sayShortDay } from "../say-date.ts";
import { words } from "../tasks/confirm-findings/words.ts";
import { type Proposed, type ValueState, valueState } from "../value-state.ts";
import { sayValue } from "../which-questions.ts";

interface QuestionFieldProps {
  readonly question: Question;
  readonly definition: FindingDefinition;
  readonly answer: string | number | undefined;
  readonly proposals: readonly Proposed[];
  readonly onAnswer: (question: Question, value: string | number) => void;
  readonly onClear: (question: Question) => void;
  /** The number cannot be read: it is no answer until it is put right. */
  readonly onProblem?: (question: Question, problem: string | undefined) => void;
  /** Entries of the chart that bear on it without answering it. */
  readonly bearing?: readonly string[];
  readonly children?: ReactNode;
}
/** One question, drawn from the module's own description of it: no question has a form of its own. */
export const QuestionField = memo(function QuestionField(props: QuestionFieldProps) {
  return props.definition.type === "choice" ? (
    <ChoiceQuestion {...props} definition={props.definition} />
  ) : (
    <NumberQuestion {...props} definition={props.definition} />
  );
});

export const questionId = (finding: string): string => `q-${finding}`;

/** More options than this take the whole width. */
const MANY = 8;

function ChoiceQuestion({
  question,
  definition,
  answer,
  proposals,
  bearing,
  onAnswer,
  onClear,
  children,
}: QuestionFieldProps & { definition: ChoiceFinding }) {
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
}

function NumberQuestion({
  question,
  definition,
  answer,
  proposals,
  onAnswer,
  onClear,
  onProblem,
  children,
}: QuestionFieldProps & { definition: NumberFinding }) {
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
            <span className="tag">{words.fromChart}</span>
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
}

/** A decimal comma is a decimal point; anything else that is no number is none. */
export function readNumber(text: string): number | undefined {
  const plain = text.trim().replace(",", ".");
  return /^\d+(\.\d+)?$/.test(plain) ? Number(plain) : undefined;
}

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

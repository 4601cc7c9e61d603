import { type Dispatch, useCallback, useEffect, useMemo, useRef, useState } from "react";
import type { AskedInjury, Facts, Question } from "../../../pathway/asked.ts";
import type { CaseAssessment } from "../../../pathway/index.ts";
import { answerOf, type CaseAction, type CaseState } from "../../case-state.ts";
import type { RestOfForm } from "../../late-rooms.ts";
import type { FieldProblem } from "../../parts/error-summary.tsx";
import { HandPicture } from "../../parts/hand-picture.tsx";
import { ChoiceQuestion, questionId } from "../../parts/question-field.tsx";
import { StepHeading } from "../../parts/step-heading.tsx";
import { DATE_BEHIND, type Proposals } from "../../proposals.ts";
import { type ValueState, valueState } from "../../value-state.ts";
import { sayDigit, sayValue, shownQuestions } from "../../which-questions.ts";
import type { AssessmentSoFar } from "./assessment-so-far.tsx";
import { Group } from "./group.tsx";
import { words } from "./words.ts";

export interface FindingsScreenProps {
  readonly module: AskedInjury;
  readonly state: CaseState;
  readonly dispatch: Dispatch<CaseAction>;
  /** Facts of each digit, by its place. */
  readonly facts: readonly Facts[];
  /** Undefined while the rules are on their way. */
  readonly assessment: CaseAssessment | undefined;
  /** Comes with the rules. */
  readonly SoFar: typeof AssessmentSoFar | undefined;
  /** The facts that the assessment rests on; it may lag behind by a moment. */
  readonly judgedFacts: readonly Facts[];
  /** Undefined while it is on its way: the first groups are there at once, the others follow with it. */
  readonly rest: RestOfForm | undefined;
  readonly proposals: Proposals;
  readonly moved: boolean;
  readonly onDone: () => void;
}
/** So many unfinished groups stand open at a time; the others show what they ask and wait their turn. */
const STANDING_GROUPS = 3;
/** Drawn before all else. */
const FIRST_GROUPS = 2;
const FIRST_CONTROL = "input:not(:disabled), button:not(:disabled, .clear)";

export function FindingsScreen({
  module,
  state,
  dispatch,
  facts,
  assessment,
  SoFar,
  judgedFacts,
  rest,
  proposals,
  moved,
  onDone,
}: FindingsScreenProps) {
  const digit = state.active;
  const known = facts[digit] ?? {};
  const judged = assessment?.digits[digit] ?? assessment?.digits[0];
  const { groups, rest: others } = useMemo(
    () => shownQuestions(module, judged, known, judgedFacts[digit] ?? known),
    [module, judged, known, judgedFacts, digit],
  );
  // What the rules wait for comes first, red flags before all; then what the plan needs for its names and days.
  const unanswered = groups
    .flatMap((g) => g.questions)
    .flatMap((q) => (known[q.finding] === undefined ? [q.finding] : []));
  const ask = judged?.ask ?? [];
  const next = [...ask.filter((f) => unanswered.includes(f)), ...unanswered.filter((f) => !ask.includes(f))];
  const [problems, setProblems] = useState<{ readonly [finding: string]: string }>({});
  const [refused, setRefused] = useState(0);
  const [unfolded, setUnfolded] = useState<ReadonlySet<string>>(new Set());
  const current = new Set(
    groups
      .filter((g) => g.open > 0)
      .slice(0, STANDING_GROUPS)
      .map((g) => g.group.id),
  );

  // After a quick answer the hand goes on to the measure that its group still owes, once the rules have asked for it.
  const owing = useRef<string>(undefined);
  const onAnswer = useCallback(
    (question: Question, value: string | number) => {
      owing.current = undefined;
      dispatch({ act: "answer", digit, answers: [{ finding: question.finding, scope: question.scope, value }] });
    },
    [dispatch, digit],
  );
  const onClear = useCallback(
    (question: Question) => dispatch({ act: "clear", digit, finding: question.finding, scope: question.scope }),
    [dispatch, digit],
  );
  const onProblem = useCallback((question: Question, problem: string | undefined) => {
    setProblems(({ [question.finding]: _, ...others }) =>
      problem === undefined ? others : { ...others, [question.finding]: problem },
    );
  }, []);
  /** To the question itself, or, while it is folded into a list, to the quick answer of its group. */
  const goTo = (finding: string) => {
    const home = groups.find((g) => g.questions.some((q) => q.finding === finding));
    const place =
      document.getElementById(questionId(finding)) ??
      (home && document.getElementById(`g-${home.group.id}`)?.parentElement);
    place?.querySelector<HTMLElement>(FIRST_CONTROL)?.focus();
  };

  useEffect(() => {
    const home = groups.find((g) => g.group.id === owing.current);
    const measure = home?.questions.find(
      (q) => known[q.finding] === undefined && module.findings[q.finding]?.type === "number",
    );
    const place = measure && document.getElementById(questionId(measure.finding));
    if (!place) return;
    owing.current = undefined;
    place.querySelector<HTMLElement>(FIRST_CONTROL)?.focus();
  });

  const faults: FieldProblem[] = Object.entries(problems).map(([finding, problem]) => ({
    finding,
    problem: `${wordingOf(module, finding)}: ${problem}`,
  }));
  const { injuredAt } = state.dates;
  if (injuredAt && injuredAt > state.assessedAt)
    faults.push({ finding: "hoursSinceInjury", problem: words.injuryInFuture });
  const onConfirmed = () => goTo(next.find((f) => !NAMED.includes(f)) ?? "");
  // Which of several digits are injured comes first: the rest of what the chart says depends on it.
  const choosing = proposals.named.length > 0 && state.digits.every((d) => d.digit === undefined);
  const done = () => (faults.length > 0 ? setRefused(refused + 1) : onDone());

  const field = (question: Question) => {
    const definition = module.findings[question.finding];
    if (!definition) return null;
    const date = DATE_BEHIND[question.finding];
    const common = { question, now: state.assessedAt };
    if (rest && date === "injuredAt")
      return (
        <rest.InjuryDate
          key={question.finding}
          {...common}
          value={injuredAt}
          proposals={proposals.date(date)}
          onDate={(value) => dispatch({ act: "date", date, value })}
        />
      );
    const answer = answerOf(state, question.finding, question.scope, digit);
    const proposed = proposals.of(question.finding, digit);
    const onDate = (value: string | undefined) => date && dispatch({ act: "date", date, value });
    if (rest && date && state.dates[date] && answer === undefined)
      return (
        <rest.DateInstead
          key={question.finding}
          {...common}
          value={state.dates[date]}
          counted={sayValue(question, definition, known[question.finding] ?? "not-asked")}
          proposals={proposals.date(date)}
          onDate={onDate}
        />
      );
    const key = `${question.finding}-${question.scope === "digit" ? digit : ""}`;
    const given = { question, answer, proposals: proposed, bearing: proposals.bearing(question.finding) };
    const offer = rest && date && (
      <rest.DateOffer {...common} value={state.dates[date]} proposals={proposals.date(date)} onDate={onDate} />
    );
    if (definition.type === "number")
      return (
        rest && (
          <rest.NumberQuestion key={key} {...given} {...{ definition, onAnswer, onClear, onProblem }}>
            {offer}
          </rest.NumberQuestion>
        )
      );
    return (
      <ChoiceQuestion key={key} {...given} {...{ definition, onAnswer, onClear }} Note={rest?.ValueNote}>
        {offer ??
          picture(
            question,
            known,
            valueState(answer, proposed),
            valueState(undefined, proposals.of("side", digit)),
            onAnswer,
            rest,
          )}
      </ChoiceQuestion>
    );
  };

  return (
    <div className="enter">
      <form className="questions" onSubmit={(e) => e.preventDefault()} noValidate>
        <StepHeading moved={moved}>{words.heading}</StepHeading>
        {rest && <rest.ErrorSummary problems={refused > 0 ? faults : []} shown={refused} onGoTo={goTo} />}
        {rest && (
          <>
            <rest.ChartDigits {...{ module, state, proposals, dispatch, onConfirmed }} />
            {!choosing && <rest.TheseAreRight {...{ module, state, proposals, dispatch, onConfirmed }} facts={known} />}
          </>
        )}
        <Digits module={module} state={state} facts={facts} dispatch={dispatch} />
        {groups.slice(0, rest ? groups.length : FIRST_GROUPS).map((shown) => (
          <Group
            key={shown.group.id}
            shown={shown}
            facts={known}
            proposals={proposals}
            digit={digit}
            current={current.has(shown.group.id)}
            unfolded={unfolded.has(shown.group.id)}
            onUnfold={(open) =>
              setUnfolded(
                open
                  ? new Set([...unfolded, shown.group.id])
                  : new Set([...unfolded].filter((id) => id !== shown.group.id)),
              )
            }
            onQuick={({ sets }) => {
              owing.current = shown.group.id;
              dispatch({
                act: "answer",
                digit,
                answers: sets.map(([finding, value]) => ({
                  finding,
                  value,
                  scope: module.findings[finding]?.scope ?? "digit",
                })),
              });
            }}
            wording={(finding) => wordingOf(module, finding)}
            field={field}
          />
        ))}
        {rest && (
          <>
            <More count={others.length}>{() => others.map(field)}</More>
            <p className="act">
              <button type="button" className="primary" onClick={done}>
                {words.toPlan}
              </button>
              <span className="hint">
                {judged && (next.length === 0 ? words.noneLeft : words.openCount(next.length))}
              </span>
            </p>
          </>
        )}
      </form>
      {SoFar && assessment && judged ? (
        <SoFar
          {...{ module, assessment, next }}
          digit={judged}
          finger={facts.length > 1 ? nameOf(module, facts, digit) : undefined}
          onGoTo={goTo}
        />
      ) : (
        <aside className="so-far" aria-label={words.panel}>
          <div className="headline">
            <h2>{words.panel}</h2>
            <p className="urgency waiting">
              <span className="what">{words.urgency}</span> <b>{words.urgencyUnset}</b>
            </p>
          </div>
          <p role="status">{words.panelWaits}</p>
        </aside>
      )}
    </div>
  );
}
const nameOf = (module: AskedInjury, facts: readonly Facts[], i: number) =>
  sayDigit(module, facts[i] ?? {}) ?? words.digitUnnamed(i + 1);
const NAMED = ["digit", "side", "hoursSinceInjury", "ageYears"];
const wordingOf = (module: AskedInjury, finding: string) =>
  module.questions.find((q) => q.finding === finding)?.wording ?? finding;

function picture(
  question: Question,
  facts: Facts,
  state: ValueState,
  ofSide: ValueState,
  onAnswer: (question: Question, value: string) => void,
  rest: RestOfForm | undefined,
) {
  const text = (finding: string) => (typeof facts[finding] === "string" ? (facts[finding] as string) : undefined);
  const proposed = state.is === "from-chart" ? String(state.value) : undefined;
  if (question.finding === "digit")
    return (
      <HandPicture
        side={text("side")}
        proposedSide={ofSide.is === "from-chart" ? String(ofSide.value) : undefined}
        digit={text("digit")}
        proposed={proposed}
        onPick={(value) => onAnswer(question, value)}
      />
    );
  if (rest && question.finding === "fractureSite")
    return (
      <rest.BonePicture
        site={text("fractureSite")}
        proposed={proposed}
        offered={(question.options ?? []).map((o) => o.value)}
        onPick={(value) => onAnswer(question, value)}
      />
    );
  return null;
}

function Digits({
  module,
  state,
  facts,
  dispatch,
}: Pick<FindingsScreenProps, "module" | "state" | "facts" | "dispatch">) {
  const name = (i: number) => nameOf(module, facts, i);
  return (
    <section className="digits" aria-label={words.digits}>
      {state.digits.length > 1 &&
        state.digits.map((_, i) => (
          <button
            // biome-ignore lint/suspicious/noArrayIndexKey: a digit is known by its place
            key={i}
            type="button"
            aria-pressed={i === state.active}
            onClick={() => dispatch({ act: "show-digit", digit: i })}
          >
            {name(i)}
          </button>
        ))}
      <button type="button" className="quiet" onClick={() => dispatch({ act: "add-digit" })}>
        {words.addDigit}
      </button>
      {state.digits.length > 1 && (
        <button type="button" className="quiet" onClick={() => dispatch({ act: "drop-digit", digit: state.active })}>
          {words.dropDigit}: {name(state.active)}
        </button>
      )}
    </section>
  );
}

/** Findings that cannot change the plan at present; drawn only when opened. */
function More({ count, children }: { count: number; children: () => React.ReactNode }) {
  const [open, setOpen] = useState(false);
  if (count === 0) return null;
  return (
    <details onToggle={(e) => setOpen(e.currentTarget.open)}>
      <summary>{words.more(count)}</summary>
      <p className="hint">{words.moreHint}</p>
      {open && <div className="fields">{children()}</div>}
    </details>
  );
}

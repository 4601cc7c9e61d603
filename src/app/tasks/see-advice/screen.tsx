import { type Dispatch, useMemo } from "react";
import { awaitsOperation, visitCheck, weekendNote } from "../../../fhir/visit-words.ts";
import {
  CALL_WORDS,
  type CaseAssessment,
  type DigitAssessment,
  dayZero,
  type EffectLine,
  type Facts,
  type Line,
  type Pathway,
  PURPOSE_WORDS,
  type SplintLine,
  URGENCIES,
  urgencyWords,
  type VisitWindow,
} from "../../../pathway/index.ts";
import { type CaseAction, type CaseState, decisionKey, recordOf } from "../../case-state.ts";
import { ExplainedLine, GroundContext } from "../../parts/because.tsx";
import { CopyText } from "../../parts/copy-text.tsx";
import { StepHeading } from "../../parts/step-heading.tsx";
import { dayAfter, sayDay } from "../../say-date.ts";
import type { Undecided } from "../../undecided.ts";
import type { Proposed } from "../../value-state.ts";
import { sayDigit } from "../../which-questions.ts";
import { few, list, STATE_WORDS, upper } from "../../words.ts";
import { DecideDifferently } from "./decide-differently.tsx";
import { OperatedOn } from "./operated-on.tsx";
import { OTHER_WAYS, words } from "./words.ts";

export interface PlanScreenProps {
  readonly pathway: Pathway;
  readonly state: CaseState;
  readonly dispatch: Dispatch<CaseAction>;
  readonly facts: readonly Facts[];
  readonly assessment: CaseAssessment;
  /** Of each digit, what open answers keep undecided. */
  readonly undecided: readonly (readonly Undecided[])[];
  /** The day of an operation as an earlier record of ours has it. */
  readonly operations: readonly Proposed[];
  readonly text: string;
  readonly moved: boolean;
  readonly onBack: () => void;
  readonly onDone: () => void;
}

export default function PlanScreen({
  pathway,
  state,
  dispatch,
  facts,
  assessment,
  undecided,
  operations,
  text,
  moved,
  onBack,
  onDone,
}: PlanScreenProps) {
  const { module } = pathway;
  // One red panel at most: the first way out that must happen now. All others stand in the lists below.
  const goNow = assessment.digits.flatMap((d, i) =>
    d.exits.filter((e) => e.effect.urgency === "NOW").map((exit) => ({ exit, digit: i })),
  )[0];
  const dayNought = dayZero(recordOf(state));
  const ground = useMemo(() => ({ pathway, facts: facts[0] ?? {} }), [pathway, facts]);
  return (
    <article className="plan">
      <StepHeading moved={moved}>{words.heading}</StepHeading>
      <GroundContext value={ground}>
        {goNow && (
          <GroundContext value={{ pathway, facts: facts[goNow.digit] ?? {} }}>
            <section className="go-now" aria-labelledby="go-now">
              <h2 id="go-now">
                {words.goNow}: {goNow.exit.effect.title}
              </h2>
              <ExplainedLine line={goNow.exit} />
              <p>
                {words.sendTo}: {goNow.exit.effect.sendTo}
              </p>
            </section>
          </GroundContext>
        )}
        <CaseUrgency {...{ pathway, state, dispatch, assessment }} />
        {assessment.digits.map((digit, i) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: a digit is known by its place
          <GroundContext key={i} value={{ pathway, facts: facts[i] ?? {} }}>
            <DigitPlan
              name={upper(sayDigit(module, facts[i] ?? {}) ?? `Finger ${i + 1}`)}
              place={i}
              digit={digit}
              shown={goNow?.digit === i ? goNow.exit : undefined}
              undecided={undecided[i] ?? []}
              {...{ pathway, state, dispatch }}
            />
          </GroundContext>
        ))}
        <Visits visits={assessment.visits} dated={dayNought !== undefined}>
          {(state.dates.operatedOn !== undefined || assessment.visits.some((v) => v.countFrom === "operation")) && (
            <OperatedOn
              value={state.dates.operatedOn}
              proposals={operations}
              injured={dayNought}
              today={state.assessedAt.slice(0, 10)}
              onDate={(value) => dispatch({ act: "date", date: "operatedOn", value })}
            />
          )}
        </Visits>
      </GroundContext>
      <p className="hint">{words.policy(assessment.policy.site, sayDay(assessment.policy.approvedOn))}</p>
      <div className="act no-print">
        <button type="button" className="primary" onClick={onDone}>
          {words.toSign}
        </button>
        <button type="button" onClick={onBack}>
          {words.back}
        </button>
        <button type="button" className="quiet" onClick={() => window.print()}>
          {words.print}
        </button>
      </div>
      <details className="no-print">
        <summary>{words.asText}</summary>
        <p className="hint">{words.printHint}</p>
        <CopyText label={words.asText} text={text} />
      </details>
    </article>
  );
}

function CaseUrgency({
  pathway,
  state,
  dispatch,
  assessment,
}: Pick<PlanScreenProps, "pathway" | "state" | "dispatch" | "assessment">) {
  const { urgency } = assessment;
  const { level } = urgency;
  const said = level && (urgency.words ?? urgencyWords(level, pathway.policy));
  // What open answers could still bring is a reason for caution, not a finding of this patient.
  const possible = new Set(assessment.digits.flatMap((d) => d.stillPossible.map((l) => l.rule)));
  const notExcluded = once(urgency.because.filter((l) => possible.has(l.rule)));
  const [first] = urgency.because;
  const needed = assessment.digits.flatMap((d) => d.ask).filter((f, i, all) => all.indexOf(f) === i);
  const key = first ? decisionKey("urgency", 0, first.rule) : "";
  return (
    <section className={`urgency-card ${level ?? "waiting"}`} aria-labelledby="urgency">
      <h2 id="urgency">
        {words.urgency}: {said?.title ?? words.urgencyUnset}
      </h2>
      {said ? (
        <p>{said.means}</p>
      ) : (
        <p>
          {words.urgencyNeeds} {list(needed.slice(0, 6).map((f) => wordingOf(pathway, f)))}
        </p>
      )}
      {level && urgency.open && <p>{words.urgencyOpen}</p>}
      <Lines lines={once(urgency.because.filter((l) => !possible.has(l.rule)))} />
      {notExcluded.length > 0 && (
        <>
          <h3>{words.notExcluded}</h3>
          <Lines lines={notExcluded} />
        </>
      )}
      {said && first && (
        <DecideDifferently
          rule={first.rule}
          proposed={said.title}
          about={`${words.urgency}: ${said.title}`}
          choices={URGENCIES.filter((u) => u !== level).map((u) => ({
            id: u,
            said: urgencyWords(u, pathway.policy).title,
          }))}
          decision={state.decisions[key]}
          onDecide={(decision) => dispatch({ act: "decide", key, decision })}
        />
      )}
    </section>
  );
}
const wordingOf = (pathway: Pathway, finding: string) =>
  (pathway.module.questions.find((q) => q.finding === finding)?.wording ?? finding).replace(/\?$/, "").toLowerCase();

/** Each sentence once, from the first rule that says it. */
const once = <L extends Line>(lines: readonly L[]): L[] =>
  lines.filter((l, i) => lines.findIndex((o) => o.text === l.text) === i);
/** Sources differ on the ways to go: two of them are listed, each with its own sources. */
const waysDiffer = (lines: readonly EffectLine<"manage">[]): boolean => {
  const ways = lines.filter((m) => m.effect.call === "options");
  const sources = new Set(ways.map((m) => m.sources.map((s) => s.source).join(" ")));
  return ways.length > 1 && sources.size > 1;
};

interface DigitPlanProps extends Pick<PlanScreenProps, "pathway" | "state" | "dispatch"> {
  readonly name: string;
  readonly place: number;
  readonly digit: DigitAssessment;
  /** The way out already shown in the red panel. */
  readonly shown: EffectLine<"exit"> | undefined;
  readonly undecided: readonly Undecided[];
}
function DigitPlan({ name, place, digit, shown, undecided, pathway, state, dispatch }: DigitPlanProps) {
  const { module } = pathway;
  const own = (on: keyof typeof OTHER_WAYS, line: Line) => {
    const key = decisionKey(on, place, line.rule);
    return (
      <DecideDifferently
        rule={line.rule}
        proposed={line.text}
        choices={OTHER_WAYS[on].map((said) => ({ said }))}
        decision={state.decisions[key]}
        onDecide={(decision) => dispatch({ act: "decide", key, decision })}
      />
    );
  };
  const open = (part: Undecided["part"]) => undecided.find((u) => u.part === part)?.say;
  const otherExits = digit.exits.filter((e) => e !== shown);
  const redFlags = digit.advice.filter((a) => a.effect.redFlag);
  const advice = digit.advice.filter((a) => !a.effect.redFlag);
  return (
    <section aria-labelledby={`digit-${place}`} className="digit-plan">
      <h2 id={`digit-${place}`}>
        {name}: {digit.classes.length > 0 ? digit.classes.map((c) => c.name).join(" · ") : words.classNone}
      </h2>
      <p className="hint">{STATE_WORDS[digit.state]}</p>
      <Part title={words.alsoCheck} lines={otherExits}>
        {(e) => (
          <>
            <b>{e.effect.title}.</b> {e.text}{" "}
            <span className="hint">
              {words.sendTo}: {e.effect.sendTo}
            </span>
          </>
        )}
      </Part>
      <Part title={words.quality} lines={digit.quality} />
      <Part title={words.now} lines={digit.today} />
      {digit.classes.length + digit.possibleClasses.length > 0 && (
        <section>
          <h3>{words.classTitle}</h3>
          <Lines lines={digit.classes}>
            {(c) => (
              <>
                <b>{c.name}</b>
                {/* A published name has its scheme for a definition; why it fits says more. */}
                {module.classes[c.class]?.scheme ? `. ${c.because}` : `: ${module.classes[c.class]?.definition}`}
              </>
            )}
          </Lines>
          {digit.possibleClasses.length > 0 && (
            <p className="hint">
              {words.possible}: {few(digit.possibleClasses.map((c) => c.name))}
            </p>
          )}
        </section>
      )}
      {digit.management.length > 0 && (
        <section>
          <h3>{words.manage}</h3>
          {waysDiffer(digit.management) && <p className="hint">{words.manageOptions}</p>}
          <ul className="lines">
            {digit.management.map((m) => {
              const key = decisionKey("management", place, m.rule);
              return (
                <li key={m.rule + m.text}>
                  <ExplainedLine line={m}>
                    <b>{CALL_WORDS[m.effect.call]}.</b> {m.text}
                  </ExplainedLine>
                  <DecideDifferently
                    rule={m.rule}
                    proposed={CALL_WORDS[m.effect.call]}
                    choices={Object.entries(CALL_WORDS)
                      .filter(([call]) => call !== m.effect.call && call !== "options")
                      .map(([id, said]) => ({ id, said }))}
                    decision={state.decisions[key]}
                    onDecide={(decision) => dispatch({ act: "decide", key, decision })}
                  />
                </li>
              );
            })}
          </ul>
        </section>
      )}
      {digit.splints.length > 0 && (
        <section>
          <h3>{words.splint}</h3>
          {digit.splints.map((s) => (
            <div key={s.rule + s.text}>
              <SplintPlan line={s} putOn={state.assessedAt.slice(0, 10)} />
              {own("splint", s)}
            </div>
          ))}
        </section>
      )}
      <Part
        title={words.antibiotic}
        lines={digit.antibiotic}
        open={open("antibiotic")}
        own={(l) => own("antibiotic", l)}
      />
      <Part title={words.tetanus} lines={digit.tetanus} open={open("tetanus")} own={(l) => own("tetanus", l)} />
      <Part title={words.anaesthetic} lines={digit.anaesthetic} open={open("anaesthetic")} />
      <Part title={words.warnings} lines={digit.warnings} />
      <Part title={words.redFlags} lines={redFlags} />
      <Part title={words.advice} lines={advice} />
      <Part title={words.tasks} lines={digit.tasks} />
      {digit.later.length > 0 && (
        <details className="later">
          <summary>{words.later}</summary>
          <Lines lines={digit.later}>
            {(l) => (
              <>
                <b>{l.effect.find}:</b> {l.effect.say}
              </>
            )}
          </Lines>
        </details>
      )}
      {digit.ask.length + digit.cannotTell.length > 0 && (
        <section>
          <h3>{words.open}</h3>
          {digit.ask.length > 0 && (
            <>
              <p>{words.openIntro}</p>
              <ul>
                {digit.ask.map((f) => (
                  <li key={f}>{upper(wordingOf(pathway, f))}</li>
                ))}
              </ul>
            </>
          )}
          {digit.cannotTell.length > 0 && (
            <>
              <p>{words.cannotTell}</p>
              <ul>
                {digit.cannotTell.map((f) => (
                  <li key={f}>{upper(wordingOf(pathway, f))}</li>
                ))}
              </ul>
            </>
          )}
          {digit.stillPossible.length > 0 && (
            <details className="no-print">
              <summary>{words.stillPossible}</summary>
              {/* Checks of the answers against each other are not outcomes: unless they hold, they say nothing. */}
              <Lines lines={once(digit.stillPossible.filter((l) => l.effect.kind !== "quality"))} />
            </details>
          )}
        </section>
      )}
    </section>
  );
}

function Lines<L extends Line>({
  lines,
  own,
  children,
}: {
  lines: readonly L[];
  /** The control that stands below the first line of each rule. */
  own?: ((line: L) => React.ReactNode) | undefined;
  children?: (line: L) => React.ReactNode;
}) {
  if (lines.length === 0) return null;
  return (
    <ul className="lines">
      {lines.map((line, i) => (
        <li key={line.rule + line.text}>
          <ExplainedLine line={line}>{children?.(line)}</ExplainedLine>
          {lines.findIndex((l) => l.rule === line.rule) === i && own?.(line)}
        </li>
      ))}
    </ul>
  );
}
function Part<L extends Line>({
  title,
  lines,
  open,
  own,
  children,
}: {
  title: string;
  lines: readonly L[];
  /** Why it says nothing, or not all, while answers are missing. */
  open?: string | undefined;
  own?: (line: L) => React.ReactNode;
  children?: (line: L) => React.ReactNode;
}) {
  if (lines.length === 0 && open === undefined) return null;
  return (
    <section>
      <h3>{title}</h3>
      <Lines lines={lines} own={own} {...(children ? { children } : {})} />
      {open !== undefined && <p>{upper(open)}</p>}
    </section>
  );
}

/** Its days count from the day it is put on: today, unless it was put on at an earlier visit, which no answer says. */
function SplintPlan({ line, putOn }: { line: SplintLine; putOn: string }) {
  const { splint } = line;
  const day = (days: number) => `${sayDay(dayAfter(putOn, days))} (${words.splintDay(days)})`;
  return (
    <>
      <ExplainedLine line={line}>
        <b>{upper(splint.what)}.</b> {line.text}
      </ExplainedLine>
      <dl>
        <dt>{words.joints}</dt>
        <dd>{splint.joints.join(", ") || words.none}</dd>
        <dt>{words.free}</dt>
        <dd>{splint.free.join(", ") || words.none}</dd>
        <dt>{words.position}</dt>
        <dd>{splint.position}</dd>
        <dt>{words.wear}</dt>
        <dd>{splint.wear}</dd>
        <dt>{words.until}</dt>
        <dd>{day(splint.days.from)}</dd>
        <dt>{words.stopBy}</dt>
        <dd>{day(splint.days.to)}</dd>
      </dl>
      <p className="hint">{words.splintPutOn}</p>
    </>
  );
}

function Visits({
  visits,
  dated,
  children,
}: {
  visits: readonly VisitWindow[];
  dated: boolean;
  children: React.ReactNode;
}) {
  if (visits.length === 0) return null;
  return (
    <section aria-labelledby="visits" className="visit-plan">
      <h2 id="visits">{words.visits}</h2>
      {!dated && <p>{words.visitsNoDay}</p>}
      {children}
      <ol className="visits">
        {visits.map((v) => (
          <li key={`${v.rule} ${v.purpose} ${v.ideal} ${v.check}`}>
            <ExplainedLine line={{ ...v, text: v.check }}>
              <b>{PURPOSE_WORDS[v.purpose]}</b>, {v.who}. {words.aimFor}{" "}
              <b>
                {v.dates
                  ? sayDay(v.dates.ideal)
                  : awaitsOperation(v)
                    ? words.daysAfterOperation(v.ideal)
                    : words.dayCount(v.ideal)}
              </b>
              .
            </ExplainedLine>
            <p className="hint">
              {/* A visit that waits for an operation says its days itself. */}
              {!awaitsOperation(v) &&
                `${
                  v.dates
                    ? words.window(sayDay(v.dates.earliest), sayDay(v.dates.latest))
                    : words.window(words.dayCount(v.earliest), words.dayCount(v.latest))
                }. `}
              {visitCheck(v)} {v.dates && weekendNote(v.dates.ideal)}
            </p>
          </li>
        ))}
      </ol>
    </section>
  );
}

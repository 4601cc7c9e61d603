import {
  lazy,
  Suspense,
  useDeferredValue,
  useEffect,
  useMemo,
  useReducer,
  useState,
  useSyncExternalStore,
} from "react";
import type { EarlierPlan } from "../fhir/chart.ts";
import { type AskedInjury, FIRST_ASKED, factsOf, type InjuryModule, KNOWLEDGE_VERSION } from "../pathway/asked.ts";
import type { Problem } from "../smart/problem.ts";
import type { Session } from "../smart/session.ts";
import { type CaseState, caseReducer, freshCase, recordOf } from "./case-state.ts";
import { dropDraft, keepDraft, keptDraftOf } from "./draft-keeper.ts";
import { useChartRoom, useRestOfForm, useRules, useWatchRoom } from "./late-rooms.ts";
import { chartProgress } from "./parts/chart-progress.ts";
import { NoPatient } from "./parts/no-patient.tsx";
import { ProblemScreen } from "./parts/problem-screen.tsx";
import { noProposals } from "./proposals.ts";
import type { ChartReading } from "./reading.ts";
import { localTime } from "./say-date.ts";
import { STEPS, useSteps } from "./steps.ts";
import { FindingsScreen } from "./tasks/confirm-findings/screen.tsx";
import { APP_VERSION } from "./version.ts";
import { words } from "./words.ts";

const About = lazy(() => import("./parts/about.tsx"));
const DecidedSteps = lazy(() => import("./decided-steps.tsx"));
const PlansScreen = lazy(() => import("./tasks/read-plans/screen.tsx"));

interface DeskProps {
  readonly session: Session;
  readonly reading: ChartReading;
  /** The site policy file as read, unchecked. */
  readonly policy: Promise<unknown>;
  /** The injury; the first one known unless a test says otherwise. */
  readonly module?: AskedInjury | InjuryModule;
}

/**
 * Questions first: they can be answered while the readers of the chart and the rules are still on their way. Until the
 * rules are there no urgency is shown, and no plan.
 */
export function Desk({ session, reading, policy, module: asked = FIRST_ASKED[0]! }: DeskProps) {
  const { context, clock } = session;
  const owner = useMemo(() => ({ ...context, user: session.user.reference }), [context, session]);
  const parts = useSyncExternalStore(reading.onPart, reading.parts);
  const [kept] = useState(() => keptDraftOf(owner));
  const [state, dispatch] = useReducer(caseReducer, undefined, () => {
    const now = localTime(clock.now());
    return kept ? { ...kept, assessedAt: now } : freshCase(crypto.randomUUID(), now);
  });
  const [continued, setContinued] = useState<EarlierPlan>();
  const [stored, setStored] = useState<CaseState>();
  // A signed plan is in the chart; it is not kept here as well.
  const [signed, setSigned] = useState(false);
  const watch = useWatchRoom();
  const [readOnly, setReadOnly] = useState(false);
  const [covered, setCovered] = useState<Problem>();
  // Where no plan is taken, its orders or a document may be.
  const mayWrite = ["CarePlan", "ServiceRequest", "DocumentReference"].some((type) => session.can(type, "c"));
  const { step, moved, go } = useSteps(mayWrite ? "findings" : "record");
  const sessionState = useSyncExternalStore(session.onChange, () => session.state().kind);

  const today = state.assessedAt.slice(0, 10);
  const rest = useRestOfForm();
  // The first groups of questions until then, all of them afterwards; readers of the chart need all.
  const module = rest?.ASKED.find((all) => all.id === asked.id) ?? asked;
  const arrived = useChartRoom();
  const chartRoom = rest && arrived;
  const chart = useMemo(
    () =>
      chartRoom?.chartFrom(parts, {
        patientId: owner.patientId,
        today,
        base: owner.base,
        user: owner.user,
        opened: session.opened,
        ...(owner.encounterId ? { encounterId: owner.encounterId } : {}),
        modules: [module],
      }),
    [chartRoom, parts, owner, today, module, session],
  );
  const { assessedAt, dates, patient, injury, digits } = state;
  const fingers = JSON.stringify(digits.map((d) => d.digit ?? null));
  const proposals = useMemo(
    () => (chartRoom && chart ? chartRoom.proposalsFrom(chart, module, continued, JSON.parse(fingers)) : noProposals),
    [chartRoom, chart, module, continued, fingers],
  );
  const record = useMemo(
    () => recordOf({ assessedAt, dates, patient, injury, digits } as typeof state),
    [assessedAt, dates, patient, injury, digits],
  );
  const facts = useMemo(() => record.digits.map((_, i) => factsOf(record, i)), [record]);
  // Typing goes first: the assessment follows in the same breath, but never holds up a key.
  const judged = useDeferredValue(record);
  const judgedFacts = useMemo(() => judged.digits.map((_, i) => factsOf(judged, i)), [judged]);
  const rules = useRules(asked, policy);
  const pathway = rules?.ok ? rules.pathway : undefined;
  const assessment = useMemo(
    () => (rules?.ok ? rules.room.assessCase(rules.pathway, judged) : undefined),
    [rules, judged],
  );

  useEffect(() => {
    if (!signed) keepDraft(owner, state);
  }, [owner, state, signed]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: each step begins with the time of day
  useEffect(() => {
    dispatch({ act: "clock", now: localTime(clock.now()) });
  }, [step]);

  if (covered) return <ProblemScreen problem={covered} />;
  if (rules && !rules.ok) return <ProblemScreen problem={rules.problem} />;

  const goOnFrom = (plan: EarlierPlan) => {
    setContinued(plan);
    dispatch({
      act: "continue",
      planId: plan.signed ? crypto.randomUUID() : plan.planId,
      digits: plan.findings?.digits.length ?? 1,
    });
    go("findings");
  };
  const openChart = () => {
    const chartPart = document.getElementById("chart");
    chartPart?.setAttribute("open", "");
    chartPart?.querySelector("summary")?.focus();
  };
  const stop = chart?.patient?.stop;
  const locked = sessionState === "locked" ? session.state() : undefined;
  return (
    <>
      <a className="skip" href="#main">
        Skip to the task
      </a>
      <header className="top">
        <p className="name">{words.app}</p>
        <nav aria-label="Steps">
          <ol>
            {STEPS.filter((s) => s !== "about").map((s, i) => (
              <li key={s}>
                <a href={`#${s}`} aria-current={s === step ? "step" : undefined}>
                  {i < 3 && <span aria-hidden="true">{i + 1} </span>}
                  {words.steps[s]}
                </a>
              </li>
            ))}
          </ol>
        </nav>
      </header>
      {chartRoom && chart ? <chartRoom.PatientBanner chart={chart} onAllergies={openChart} /> : <NoPatient reading />}
      <p role="status" className="progress chart-progress">
        {chartProgress(parts)}
      </p>
      {watch && (
        <watch.WatchRoom
          {...{ session, reading, owner, state, stored, step, module, facts, proposals, dispatch }}
          back={kept?.assessedAt}
          onReadOnly={setReadOnly}
          onCover={setCovered}
        />
      )}
      <main className="page" id="main" tabIndex={-1}>
        {(stop && step !== "record" && step !== "about") || locked?.kind === "locked" ? (
          <section className="obstacles stop">
            <h1>Stop</h1>
            <p>
              {stop ??
                (locked?.kind === "locked"
                  ? `${locked.problem.title} ${locked.problem.what} ${locked.problem.next}`
                  : "")}
            </p>
          </section>
        ) : (
          <Suspense fallback={<p role="status">{words.opening}</p>}>
            <fieldset className="desk" disabled={readOnly}>
              {step === "findings" && (
                <>
                  {chartRoom && chart && <chartRoom.OpenedImaging chart={chart} />}
                  {chartRoom && chart && (
                    <>
                      <chartRoom.UnfinishedPlans
                        {...{ session, chart }}
                        planId={state.planId}
                        onGoOn={() => go("sign")}
                        onContinue={goOnFrom}
                        onChanged={() => reading.again(["earlier", "conditions"])}
                        onWithdrawn={(planId) => {
                          if (planId !== state.planId) return;
                          dispatch({ act: "continue", planId: crypto.randomUUID(), digits: state.digits.length });
                        }}
                      />
                      <chartRoom.CodersAsk session={session} />
                      <chartRoom.EarlierPlans chart={chart} continued={continued} onSee={() => go("record")} />
                    </>
                  )}
                  <FindingsScreen
                    {...{ module, state, dispatch, facts, assessment, judgedFacts, rest, proposals, moved }}
                    SoFar={rest && rules?.room.AssessmentSoFar}
                    onDone={() => go("plan")}
                  />
                  {chartRoom && chart && <chartRoom.ChartDetails chart={chart} onRetry={reading.again} />}
                </>
              )}
              {(step === "plan" || step === "sign") &&
                (pathway && assessment && chart ? (
                  <DecidedSteps
                    {...{
                      step,
                      session,
                      reading,
                      pathway,
                      state,
                      dispatch,
                      record,
                      facts,
                      assessment,
                      chart,
                      proposals,
                      moved,
                      go,
                    }}
                    onWritten={(signed) => {
                      setStored(state);
                      reading.again(["earlier", "conditions"]);
                      if (!signed) return;
                      setSigned(true);
                      dropDraft(owner);
                    }}
                  />
                ) : (
                  <p role="status">{words.preparing}</p>
                ))}
              {step === "record" &&
                (chart ? (
                  <PlansScreen
                    chart={chart}
                    stored={parts.conditions?.resources ?? []}
                    moved={moved}
                    mayWrite={mayWrite}
                    {...{ session, dispatch, again: reading.again }}
                    onContinue={(plan) => {
                      setContinued(plan);
                      go("findings");
                    }}
                  />
                ) : (
                  <p role="status">{words.opening}</p>
                ))}
              {step === "about" && <About site={pathway?.policy.site ?? words.policyBeingRead} moved={moved} />}
            </fieldset>
          </Suspense>
        )}
      </main>
      <footer>
        <p>{words.caution}</p>
        <p>
          <a href="#about" aria-current={step === "about" ? "page" : undefined}>
            {words.steps.about}
          </a>{" "}
          · Program {APP_VERSION}, knowledge {KNOWLEDGE_VERSION}, site policy{" "}
          {pathway?.policy.site ?? words.policyBeingRead}
        </p>
      </footer>
    </>
  );
}

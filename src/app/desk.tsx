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
import { chartFrom, type EarlierPlan } from "../fhir/chart.ts";
import {
  assessCase,
  explain,
  factsOf,
  type InjuryModule,
  MODULES,
  pathwayFor,
  type Reason,
  readSitePolicy,
  type SitePolicy,
} from "../pathway/index.ts";
import type { Session } from "../smart/session.ts";
import { caseReducer, freshCase, recordOf } from "./case-state.ts";
import { dropDraft, keepDraft, keptDraftOf } from "./draft-keeper.ts";
import About from "./parts/about.tsx";
import { ChartDetails, chartProgress } from "./parts/chart-status.tsx";
import { PatientBanner } from "./parts/patient-banner.tsx";
import { ProblemScreen } from "./parts/problem-screen.tsx";
import { plainText } from "./plain-text.ts";
import { planText } from "./plan-text.ts";
import { originsOf, proposalsFrom } from "./proposals.ts";
import type { ChartReading } from "./reading.ts";
import { localTime, sayDay } from "./say-date.ts";
import { UNREADABLE } from "./site-policy-file.ts";
import { STEPS, useSteps } from "./steps.ts";
import { FindingsScreen } from "./tasks/confirm-findings/screen.tsx";
import { words as planWords } from "./tasks/read-plans/words.ts";
import { APP_VERSION } from "./version.ts";
import { words } from "./words.ts";

const PlanScreen = lazy(() => import("./tasks/see-advice/screen.tsx"));
const SignScreen = lazy(() => import("./tasks/sign-off/screen.tsx"));
const PlansScreen = lazy(() => import("./tasks/read-plans/screen.tsx"));

interface DeskProps {
  readonly session: Session;
  readonly reading: ChartReading;
  /** The site policy file as read, unchecked. */
  readonly policy: unknown;
  /** The injury; the first one known unless a test says otherwise. */
  readonly module?: InjuryModule;
}

export default function Desk({ policy, ...props }: DeskProps) {
  const read = useMemo(() => readSitePolicy(policy === UNREADABLE ? undefined : policy), [policy]);
  if (policy === UNREADABLE) return <ProblemScreen problem={policyProblem("The file could not be read.")} />;
  if (!read.ok)
    return (
      <ProblemScreen
        problem={policyProblem(read.problems.map((p) => `${p.path}: ${p.problem}. Allowed: ${p.allowed}`).join("\n"))}
      />
    );
  return <Case {...props} policy={read.policy} />;
}
const policyProblem = (what: string) => ({
  kind: "site-policy",
  title: "The site policy cannot be used.",
  what: `No rule runs with a half-read policy.\n${what}`,
  next: "Ask the person who installed Fingerpost to correct the site policy file. Reload this page afterwards.",
});

function Case({ session, reading, policy, module = MODULES[0]! }: Omit<DeskProps, "policy"> & { policy: SitePolicy }) {
  const owner = session.context;
  const parts = useSyncExternalStore(reading.onPart, reading.parts);
  const [kept] = useState(() => keptDraftOf(owner));
  const [state, dispatch] = useReducer(caseReducer, undefined, () => {
    const now = localTime(new Date());
    return kept ? { ...kept, assessedAt: now } : freshCase(crypto.randomUUID(), now);
  });
  const [continued, setContinued] = useState<EarlierPlan>();
  // A signed plan is in the chart; it is not kept here as well.
  const [signed, setSigned] = useState(false);
  const mayWrite = session.can("CarePlan", "c");
  const { step, moved, go } = useSteps(mayWrite ? "findings" : "record");

  const today = state.assessedAt.slice(0, 10);
  const chart = useMemo(
    () =>
      chartFrom(parts, {
        patientId: owner.patientId,
        today,
        base: owner.base,
        ...(owner.encounterId ? { encounterId: owner.encounterId } : {}),
        modules: [module],
      }),
    [parts, owner, today, module],
  );
  const sessionState = useSyncExternalStore(session.onChange, () => session.state().kind);

  const pathway = useMemo(() => pathwayFor(module, policy), [module, policy]);
  const { assessedAt, dates, patient, injury, digits } = state;
  const record = useMemo(
    () => recordOf({ assessedAt, dates, patient, injury, digits } as typeof state),
    [assessedAt, dates, patient, injury, digits],
  );
  const facts = useMemo(() => record.digits.map((_, i) => factsOf(record, i)), [record]);
  // Typing goes first: the assessment follows in the same breath, but never holds up a key.
  const judged = useDeferredValue(record);
  const judgedFacts = useMemo(() => judged.digits.map((_, i) => factsOf(judged, i)), [judged]);
  const assessment = useMemo(() => assessCase(pathway, judged), [pathway, judged]);
  const proposals = useMemo(() => proposalsFrom(chart, module, continued), [chart, module, continued]);
  const decisions = useMemo(() => Object.values(state.decisions), [state.decisions]);

  useEffect(() => {
    if (!signed) keepDraft(owner, state);
  }, [owner, state, signed]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: each step begins with the time of day
  useEffect(() => {
    dispatch({ act: "clock", now: localTime(new Date()) });
  }, [step]);

  const openChart = () => {
    const chartPart = document.getElementById("chart");
    chartPart?.setAttribute("open", "");
    chartPart?.querySelector("summary")?.focus();
  };
  const text = () =>
    planText({
      patient: chart.patient
        ? `${plainText(chart.patient.name, 80)}${chart.patient.birthDate ? `, born ${sayDay(chart.patient.birthDate)}` : ""}`
        : "not read",
      module,
      policy,
      record,
      facts,
      assessment,
      decisions,
      appVersion: APP_VERSION,
    });

  const stop = chart.patient?.stop;
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
      <PatientBanner chart={chart} onAllergies={openChart} />
      <p role="status" className="progress chart-progress">
        {chartProgress(chart)}
      </p>
      {sessionState === "ended" && <SessionEnded session={session} />}
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
          <Suspense fallback={<p role="status">Opening.</p>}>
            {step === "findings" && (
              <>
                <EarlierPlans chart={chart} continued={continued} onSee={() => go("record")} />
                <FindingsScreen
                  {...{ module, policy, state, dispatch, facts, assessment, judgedFacts, proposals, moved }}
                  onDone={() => go("plan")}
                />
                <ChartDetails chart={chart} onRetry={reading.again} />
              </>
            )}
            {step === "plan" && (
              <PlanScreen
                {...{ pathway, state, dispatch, facts, assessment, moved }}
                text={text()}
                onBack={() => go("findings")}
                onDone={() => go("sign")}
              />
            )}
            {step === "sign" && (
              <SignScreen
                {...{ session, module, policy, state, dispatch, record, facts, assessment, chart, decisions, moved }}
                reasons={reasonsOf(pathway, facts, assessment)}
                origins={originsOf(state, proposals)}
                text={text()}
                onBack={() => go("plan")}
                onWritten={(signed) => {
                  reading.again(["earlier", "conditions"]);
                  if (!signed) return;
                  setSigned(true);
                  dropDraft(owner);
                }}
              />
            )}
            {step === "record" && (
              <PlansScreen
                chart={chart}
                stored={parts.conditions?.resources ?? []}
                moved={moved}
                mayWrite={mayWrite}
                onContinue={(plan) => {
                  setContinued(plan);
                  dispatch({
                    act: "continue",
                    planId: plan.signed ? crypto.randomUUID() : plan.planId,
                    digits: plan.findings?.digits.length ?? 1,
                  });
                  go("findings");
                }}
              />
            )}
            {step === "about" && <About site={policy.site} moved={moved} />}
          </Suspense>
        )}
      </main>
      <footer>
        <p>{words.caution}</p>
        <p>
          <a href="#about" aria-current={step === "about" ? "page" : undefined}>
            {words.steps.about}
          </a>{" "}
          · Program {APP_VERSION}, knowledge {assessment.knowledgeVersion}, site policy {policy.site}
        </p>
      </footer>
    </>
  );
}

function SessionEnded({ session }: { session: Session }) {
  const state = session.state();
  if (state.kind === "open") return null;
  return (
    <section className="notice" role="alert">
      <p>
        <b>{state.problem.title}</b> {state.problem.what} {state.problem.next} Your answers are kept in this tab.
      </p>
    </section>
  );
}

function EarlierPlans({
  chart,
  continued,
  onSee,
}: {
  chart: ReturnType<typeof chartFrom>;
  continued: EarlierPlan | undefined;
  onSee: () => void;
}) {
  const [newest] = chart.earlierPlans;
  if (!newest || continued) return null;
  return (
    <section className="notice" aria-label={planWords.heading}>
      <p>
        {planWords.exists(sayDay(newest.written))} {newest.signed ? planWords.signed : planWords.draft}.
      </p>
      <button type="button" onClick={onSee}>
        {planWords.see}
      </button>
    </section>
  );
}

/** The reason of every rule that speaks, as it is written beside the plan. */
function reasonsOf(
  pathway: ReturnType<typeof pathwayFor>,
  facts: readonly ReturnType<typeof factsOf>[],
  assessment: ReturnType<typeof assessCase>,
) {
  const reasons: Record<string, Reason> = {};
  const known = new Set(pathway.tables.flatMap((t) => t.rules.map((r) => r.id)));
  assessment.digits.forEach((d, i) => {
    const lines = [
      ...d.exits,
      ...d.quality,
      ...d.classes,
      ...d.urgency.because,
      ...d.today,
      ...d.antibiotic,
      ...d.tetanus,
      ...d.anaesthetic,
      ...d.management,
      ...d.splints,
      ...d.visits,
      ...d.warnings,
      ...d.advice,
      ...d.tasks,
    ];
    for (const { rule } of lines) if (known.has(rule)) reasons[rule] ??= explain(pathway, facts[i] ?? {}, rule);
  });
  return reasons;
}

import { type Dispatch, lazy, useMemo } from "react";
import type { Chart } from "../fhir/chart.ts";
import { standing } from "../fhir/drafts.ts";
import { plainText } from "../fhir/plain-text.ts";
import {
  type CaseAssessment,
  type CaseRecord,
  explain,
  type Facts,
  type Pathway,
  type Reason,
} from "../pathway/index.ts";
import type { Session } from "../smart/session.ts";
import { type CaseAction, type CaseState, overridesOf } from "./case-state.ts";
import { originsOf } from "./chart-proposals.ts";
import { planText } from "./plan-text.ts";
import type { Proposals } from "./proposals.ts";
import type { ChartReading } from "./reading.ts";
import { sayDay } from "./say-date.ts";
import type { Step } from "./steps.ts";
import { openQuestions, undecidedParts } from "./undecided.ts";
import { APP_VERSION } from "./version.ts";

const PlanScreen = lazy(() => import("./tasks/see-advice/screen.tsx"));
const SignScreen = lazy(() => import("./tasks/sign-off/screen.tsx"));

interface DecidedStepsProps {
  readonly step: "plan" | "sign";
  readonly session: Session;
  readonly reading: ChartReading;
  readonly pathway: Pathway;
  readonly state: CaseState;
  readonly dispatch: Dispatch<CaseAction>;
  readonly record: CaseRecord;
  readonly facts: readonly Facts[];
  readonly assessment: CaseAssessment;
  readonly chart: Chart;
  readonly proposals: Proposals;
  readonly moved: boolean;
  readonly go: (step: Step) => void;
  /** Something was stored, signed or as a draft. */
  readonly onWritten: (signed: boolean) => void;
}
/** The steps that rest on a finished assessment: the plan, and its signature. */
export default function DecidedSteps(props: DecidedStepsProps) {
  const { step, session, reading, pathway, proposals, go, onWritten, ...rest } = props;
  const { state, dispatch, record, facts, assessment, chart, moved } = rest;
  const { module, policy } = pathway;
  const decisions = useMemo(() => standing(overridesOf(state), assessment), [state, assessment]);
  const undecided = useMemo(
    () => assessment.digits.map((d, i) => undecidedParts(pathway, d, facts[i] ?? {})),
    [pathway, assessment, facts],
  );
  const signs = useMemo(() => facts.map((f) => pathway.evaluate(f).signs), [pathway, facts]);
  const reasons = useMemo(() => reasonsOf(pathway, facts, assessment), [pathway, facts, assessment]);
  const textOf = (said: CaseAssessment) =>
    planText({
      patient: chart.patient
        ? `${plainText(chart.patient.name, 80)}${chart.patient.birthDate ? `, born ${sayDay(chart.patient.birthDate)}` : ""}`
        : "not read",
      module,
      policy,
      record,
      facts,
      assessment: said,
      decisions,
      undecided,
      appVersion: APP_VERSION,
    });
  if (step === "plan")
    return (
      <PlanScreen
        {...{ pathway, state, dispatch, facts, assessment, undecided, moved }}
        text={textOf(assessment)}
        operations={proposals.date("operatedOn")}
        onBack={() => go("findings")}
        onDone={() => go("sign")}
      />
    );
  return (
    <SignScreen
      {...{
        session,
        reading,
        module,
        policy,
        state,
        dispatch,
        record,
        facts,
        assessment,
        chart,
        decisions,
        moved,
        textOf,
      }}
      {...{ reasons, undecided, signs }}
      open={openQuestions(pathway, assessment.digits)}
      origins={originsOf(state, proposals)}
      onBack={() => go("plan")}
      onReadAgain={() => go("findings")}
      onWritten={onWritten}
    />
  );
}

/** The reason of every rule that speaks, as it is written beside the plan. */
function reasonsOf(pathway: Pathway, facts: readonly Facts[], assessment: CaseAssessment) {
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
      ...d.later,
    ];
    for (const { rule } of lines) if (known.has(rule)) reasons[rule] ??= explain(pathway, facts[i] ?? {}, rule);
  });
  return reasons;
}

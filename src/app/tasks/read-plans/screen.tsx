import { type Dispatch, Fragment, lazy, Suspense, useState } from "react";
import type { Chart, ChartPartName, EarlierPlan } from "../../../fhir/chart.ts";
import { type DraftResource, wordsOf } from "../../../fhir/drafts.ts";
import { writtenBy } from "../../../fhir/earlier.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import type { Session } from "../../../smart/session.ts";
import type { CaseAction } from "../../case-state.ts";
import { StepHeading } from "../../parts/step-heading.tsx";
import { sayDay } from "../../say-date.ts";
import { codesOf, storedLines } from "./stored.ts";
import { STATUS_WORDS, words } from "./words.ts";

const Withdraw = lazy(() => import("./withdraw.tsx"));
const ClinicTold = lazy(() => import("./clinic-told.tsx"));

interface PlansScreenProps {
  readonly session: Session;
  readonly dispatch: Dispatch<CaseAction>;
  /** Reads parts of the chart again. */
  readonly again: (parts: ChartPartName[]) => void;
  readonly chart: Chart;
  /** Conditions as stored, for their codes. */
  readonly stored: readonly unknown[];
  readonly moved: boolean;
  /** False for roles that may only read. */
  readonly mayWrite: boolean;
  readonly onContinue: (plan: EarlierPlan) => void;
}
/** For the clinic, the coder and whoever comes after: what is saved, with its visits and diagnoses in words. */
export default function PlansScreen(props: PlansScreenProps) {
  const { session, dispatch, again, chart, stored, moved, mayWrite, onContinue } = props;
  const { state } = chart.parts.earlier;
  const [withdrawing, setWithdrawing] = useState<EarlierPlan>();
  const go = (plan: EarlierPlan) => {
    const planId = plan.signed ? crypto.randomUUID() : plan.planId;
    dispatch({ act: "continue", planId, digits: plan.findings?.digits.length ?? 1 });
    // Which plan it revises is the clinician's choice, kept with the edits of the draft.
    if (plan.signed)
      dispatch({ act: "edit-item", edit: { item: "plan", field: `earlier ${plan.planId}`, value: "revise" } });
    onContinue(plan);
  };
  return (
    <article className="saved-plans">
      <StepHeading moved={moved}>{words.heading}</StepHeading>
      {!mayWrite && <p>{words.readOnly}</p>}
      {state === "reading" && <p role="status">{words.readingNow}</p>}
      {!["reading", "found", "empty"].includes(state) && <p className="error">{words.notRead}</p>}
      {chart.earlierPlans.length === 0 && state !== "reading" && (
        <p>
          {words.none} {words.noneNext}
        </p>
      )}
      {chart.earlierPlans.length > 0 && (
        <Suspense fallback={null}>
          <ClinicTold plans={chart.earlierPlans} session={session} />
        </Suspense>
      )}
      {withdrawing && (
        <Suspense fallback={null}>
          <Withdraw
            key={withdrawing.planId}
            plan={withdrawing}
            session={session}
            onWritten={() => again(["earlier", "conditions"])}
            onClose={() => setWithdrawing(undefined)}
          />
        </Suspense>
      )}
      {chart.earlierPlans.map((plan, i) => (
        <section
          key={plan.planId}
          className="draft"
          aria-label={[`${i + 1}. ${plainText(plan.title)}`, standing(plan), plan.written && sayDay(plan.written)]
            .filter(Boolean)
            .join(", ")}
        >
          <p className="kind">{plan.signed ? words.signed : words.draft}</p>
          <h2>{plainText(plan.title)}</h2>
          <p className="hint">
            {standing(plan)}
            {plan.written && `, ${words.saved} ${sayDay(plan.written)}`}
            {plan.knowledgeVersion && `, ${words.made(plainText(plan.knowledgeVersion, 20))}`}
          </p>
          <p>{words.author(authorOf(plan))}.</p>
          {plan.revises && <p className="hint">{words.replaces(plainText(plan.revises, 80))}</p>}
          <Lines plan={plan} />
          <Found plan={plan} />
          {mayWrite && plan.findings && STANDING.includes(plan.status) && (
            <>
              <button type="button" onClick={() => go(plan)}>
                {words.continueFrom[writtenBy(plan).written]}
              </button>
              <p className="hint">{words.continueHint[writtenBy(plan).written]}</p>
            </>
          )}
          {mayWrite &&
            session.can("CarePlan", "u") &&
            STANDING.includes(plan.status) &&
            withdrawing?.planId !== plan.planId && (
              <button type="button" className="quiet" onClick={() => setWithdrawing(plan)}>
                {words.withdraw}
              </button>
            )}
        </section>
      ))}
      {chart.conditions.length > 0 && (
        <section>
          <h2>{words.diagnoses}</h2>
          <ul>
            {chart.conditions.map((c) => (
              <li key={c.from.reference}>
                <bdi>{plainText(c.text, 200)}</bdi>
                <span className="hint">
                  {[c.status, c.verification, ...codesOf(stored, c.from.reference)].filter(Boolean).join(", ") ||
                    words.noCode}
                </span>
              </li>
            ))}
          </ul>
        </section>
      )}
    </article>
  );
}

const standing = ({ status }: EarlierPlan): string => STATUS_WORDS[status] ?? status;
const STANDING = ["draft", "active", "on-hold"];
function authorOf({ author }: EarlierPlan): string {
  if (author?.own) return words.you;
  return plainText(author?.name ?? author?.reference ?? words.nobody, 80);
}

/** The findings that a plan was made from, in the words in which they were stored. */
function Found({ plan }: { plan: EarlierPlan }) {
  const item = plan.items.find((i) => i.type === "QuestionnaireResponse");
  const lines = item && plan.findings ? wordsOf(item.resource as unknown as DraftResource) : undefined;
  if (!lines) return <p className="hint">{words.noFindings}</p>;
  return (
    <details>
      <summary>
        {words.foundThen}
        <span className="said">, {plainText(plan.title, 120)}</span>
      </summary>
      <ul>
        {lines.map((line, i) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: two digits may have the same line; the order is fixed
          <li key={i}>
            <bdi>{plainText(line, 300)}</bdi>
          </li>
        ))}
      </ul>
    </details>
  );
}

function Lines({ plan }: { plan: EarlierPlan }) {
  const all = storedLines(plan);
  return (["visit", "request"] as const).map((kind) => {
    const lines = all.filter((l) => l.kind === kind);
    return (
      lines.length > 0 && (
        <Fragment key={kind}>
          <h3>{words.lines[kind]}</h3>
          <ul>
            {lines.map((l) => (
              <li key={l.key}>
                {l.what}
                <span className="hint">
                  {l.when}; {l.status}
                </span>
              </li>
            ))}
          </ul>
        </Fragment>
      )
    );
  });
}

import { Fragment } from "react";
import type { Chart, EarlierPlan } from "../../../fhir/chart.ts";
import { StepHeading } from "../../parts/step-heading.tsx";
import { plainText } from "../../plain-text.ts";
import { sayDay } from "../../say-date.ts";
import { codesOf, storedLines } from "./stored.ts";
import { STATUS_WORDS, words } from "./words.ts";

interface PlansScreenProps {
  readonly chart: Chart;
  /** Conditions as stored, for their codes. */
  readonly stored: readonly unknown[];
  readonly moved: boolean;
  /** False for roles that may only read. */
  readonly mayWrite: boolean;
  readonly onContinue: (plan: EarlierPlan) => void;
}
/** For the clinic, the coder and whoever comes after: what is saved, with its visits and diagnoses in words. */
export default function PlansScreen({ chart, stored, moved, mayWrite, onContinue }: PlansScreenProps) {
  const { state } = chart.parts.earlier;
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
      {chart.earlierPlans.map((plan) => (
        <section key={plan.planId} className="draft" aria-label={plainText(plan.title)}>
          <p className="kind">{plan.signed ? words.signed : words.draft}</p>
          <h2>{plainText(plan.title)}</h2>
          <p className="hint">
            {STATUS_WORDS[plan.status] ?? plan.status}
            {plan.written && `, ${words.saved} ${sayDay(plan.written)}`}
          </p>
          <Lines plan={plan} />
          {mayWrite && plan.findings && (
            <>
              <button type="button" onClick={() => onContinue(plan)}>
                {words.continueFrom}
              </button>
              <p className="hint">{words.continueHint}</p>
            </>
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

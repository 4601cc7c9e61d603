import { lazy, Suspense } from "react";
import type { Chart, EarlierPlan } from "../../fhir/chart.ts";
import { sayDay } from "../say-date.ts";
import { words } from "../tasks/read-plans/words.ts";

const ClinicTold = lazy(() => import("../tasks/read-plans/clinic-told.tsx"));

interface EarlierPlansProps {
  readonly chart: Chart;
  readonly continued: EarlierPlan | undefined;
  readonly onSee: () => void;
}
/** That there is a saved plan of this patient, what the clinic arranged outside its days, and the way to it. */
export function EarlierPlans({ chart, continued, onSee }: EarlierPlansProps) {
  const [newest] = chart.earlierPlans;
  if (!newest || continued) return null;
  return (
    <>
      <section className="notice" aria-label={words.heading}>
        <p>
          {words.exists(sayDay(newest.written))} {newest.signed ? words.signed : words.draft}.
        </p>
        <button type="button" onClick={onSee}>
          {words.see}
        </button>
      </section>
      <Suspense fallback={null}>
        <ClinicTold plans={chart.earlierPlans} />
      </Suspense>
    </>
  );
}

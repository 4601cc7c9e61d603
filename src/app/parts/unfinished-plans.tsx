import { type ComponentProps, lazy, Suspense, useEffect, useState } from "react";
import type { Chart } from "../../fhir/chart.ts";
import { unfinishedHere } from "../../smart/journal.ts";

const Panel = lazy(() => import("../tasks/sign-off/unfinished.tsx"));
type PanelProps = Omit<ComponentProps<typeof Panel>, "plans"> & { readonly chart: Chart };

/** Looks for a plan that was begun and not finished, where this tab's journal or the chart gives cause to. */
export function UnfinishedPlans({ chart, ...rest }: PanelProps) {
  const [cause, setCause] = useState(false);
  const isRead = chart.parts.earlier.state !== "reading";
  const { context } = rest.session;
  useEffect(() => {
    if (isRead && (chart.earlierPlans.length > 0 || unfinishedHere(context))) setCause(true);
  }, [isRead, chart, context]);
  return cause ? (
    <Suspense fallback={null}>
      <Panel {...rest} plans={chart.earlierPlans} />
    </Suspense>
  ) : null;
}

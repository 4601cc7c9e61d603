import { lazy, Suspense } from "react";
import type { Session } from "../../smart/session.ts";

const OpenQueries = lazy(() => import("../tasks/answer-coders/open-queries.tsx"));

/** Asks for the open questions of coders once the chart is there, where the clinician may read and answer them. */
export function CodersAsk({ session }: { session: Session }) {
  if (!session.can("Task", "s") || !session.can("Task", "u")) return null;
  return (
    <Suspense fallback={null}>
      <OpenQueries session={session} />
    </Suspense>
  );
}

import { Component, lazy, type ReactNode, Suspense, useEffect, useState } from "react";
import type { SessionAnswer } from "../smart/session.ts";
import { ProblemScreen } from "./parts/problem-screen.tsx";
import type { ChartReading } from "./reading.ts";
import { sitePolicyOf } from "./site-policy-file.ts";

// Rules and questions are on their way from the start, beside the sign-in, and hold up neither that nor the first paint.
const desk = import("./desk.tsx");
desk.catch(() => undefined); // shown by the boundary below when the desk is drawn
const Desk = lazy(() => desk);

interface AppProps {
  readonly opening: Promise<SessionAnswer>;
  readonly reading: Promise<ChartReading | undefined>;
}
type Stage = { readonly answer: SessionAnswer; readonly reading: ChartReading | undefined; readonly policy: unknown };

export function App({ opening, reading }: AppProps) {
  const [stage, setStage] = useState<Stage>();
  useEffect(() => {
    let here = true;
    opening.then(async (answer) => {
      const [chart, policy] = await Promise.all([reading, answer.ok ? sitePolicyOf(answer.session) : undefined]);
      if (here) setStage({ answer, reading: chart, policy });
    });
    return () => {
      here = false;
    };
  }, [opening, reading]);

  if (!stage) return <Opening />;
  if (!stage.answer.ok) return <ProblemScreen problem={stage.answer.problem} />;
  return (
    <Safety>
      <Suspense fallback={<Opening />}>
        <Desk session={stage.answer.session} reading={stage.reading!} policy={stage.policy} />
      </Suspense>
    </Safety>
  );
}

/** The same shell that the page holds before any script runs, so that nothing jumps. */
function Opening() {
  return (
    <>
      <header className="top">
        <p className="name">Fingerpost</p>
      </header>
      <section className="banner waiting" aria-label="Patient">
        <p className="who">Patient</p>
        <p>Waiting for the record system</p>
      </section>
      <main className="page narrow" id="main">
        <h1>Broken finger tip</h1>
        <p role="status">Opening the chart.</p>
      </main>
    </>
  );
}

/** Programming errors end here: no trace on the screen, no clinical text half drawn, and a way on. */
class Safety extends Component<{ children: ReactNode }, { failed: boolean }> {
  override state = { failed: false };
  static getDerivedStateFromError() {
    return { failed: true };
  }
  override render() {
    if (!this.state.failed) return this.props.children;
    return (
      <ProblemScreen
        problem={{
          kind: "defect",
          title: "Fingerpost stopped because of a fault of its own.",
          what: "Nothing was written since your last press of a button that says so. Your answers are kept in this tab.",
          next: "Reload this page. If it stops again, go on without it and tell the person who installed it.",
        }}
      />
    );
  }
}

import { Component, lazy, type ReactNode, StrictMode, Suspense } from "react";
import { createRoot } from "react-dom/client";
import type { SessionAnswer } from "../smart/session.ts";
import { Desk } from "./desk.tsx";
import { ProblemScreen } from "./parts/problem-screen.tsx";
import type { ChartReading } from "./reading.ts";
import { words } from "./words.ts";

const StaffDesk = lazy(() => import("./staff-desk.tsx"));

interface AppProps {
  readonly answer: SessionAnswer;
  /** Undefined only when there is no session. */
  readonly reading: ChartReading | undefined;
  /** The site policy file as read, unchecked. */
  readonly policy: Promise<unknown>;
}

/** Puts the screens in the place of the page's own shell. */
export function draw(root: HTMLElement, props: AppProps): void {
  createRoot(root).render(
    <StrictMode>
      <App {...props} />
    </StrictMode>,
  );
}

export function App({ answer, reading, policy }: AppProps) {
  if (!answer.ok && (answer.clinic || answer.coder))
    return (
      <Safety>
        <Suspense fallback={<p role="status">{words.opening}</p>}>
          <StaffDesk answer={answer} policy={policy} />
        </Suspense>
      </Safety>
    );
  if (!answer.ok) return <ProblemScreen problem={answer.problem} />;
  return (
    <Safety>
      <Desk session={answer.session} reading={reading!} policy={policy} />
    </Safety>
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

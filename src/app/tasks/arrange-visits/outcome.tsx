import { plainText } from "../../../fhir/plain-text.ts";
import type { ActReport } from "../../../smart/booking.ts";
import type { Problem } from "../../../smart/problem.ts";
import { words } from "./words.ts";

/** Something could not be read or done: what, why, and the way on. */
export function Trouble({ problem, onAgain }: { problem: Problem; onAgain: () => void }) {
  return (
    <section className="obstacles" role="alert">
      <p>
        <b>{problem.title}</b> {problem.what} {problem.next}
      </p>
      <button type="button" onClick={onAgain}>
        {words.again}
      </button>
    </section>
  );
}

/** What became of an act, as one thing to say. */
export interface Said {
  readonly title: string;
  readonly done: boolean;
  readonly more?: readonly string[];
}
const theirWords = (text: string | undefined) => (text ? [words.outcome.theySay(plainText(text, 300))] : []);
export function saidOf(report: ActReport, done: string): Said {
  if (report.outcome !== "done") {
    const { title, what, next, serverSaid } = report.problem;
    const left = report.outcome === "part" ? report.left : [];
    return { title, done: report.outcome === "part", more: [what, ...left, ...theirWords(serverSaid), next] };
  }
  const { told, problem } = report;
  return {
    title: done,
    done: true,
    more: [
      ...(told === "filed" ? [words.outcome.told] : []),
      ...(problem ? [problem.title, problem.what, problem.next] : []),
    ],
  };
}
export function SaidList({ said }: { said: readonly Said[] }) {
  return said.map(({ title, done, more = [] }) => (
    <div key={title} className={`outcome ${done ? "" : "not-saved"}`}>
      <p>
        <b>{title}</b>
      </p>
      {more.length > 0 && <p>{[...new Set(more)].join(" ")}</p>}
    </div>
  ));
}

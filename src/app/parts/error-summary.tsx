import { useEffect, useRef } from "react";

export interface FieldProblem {
  readonly finding: string;
  readonly problem: string;
}
/** All faults of a step at its top, each leading to its field. `shown` counts the attempts: each one moves the focus here. */
export function ErrorSummary({
  problems,
  shown,
  onGoTo,
}: {
  problems: readonly FieldProblem[];
  shown: number;
  onGoTo: (finding: string) => void;
}) {
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (shown > 0) box.current?.focus();
  }, [shown]);
  if (problems.length === 0) return null;
  return (
    <div className="error-summary" role="alert" tabIndex={-1} ref={box}>
      <h2>Check these answers</h2>
      <ul>
        {problems.map(({ finding, problem }) => (
          <li key={finding}>
            <button type="button" className="quiet" onClick={() => onGoTo(finding)}>
              {problem}
            </button>
          </li>
        ))}
      </ul>
    </div>
  );
}

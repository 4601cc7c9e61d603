import { useEffect, useRef } from "react";
import { plainText } from "../../fhir/plain-text.ts";
import type { Problem } from "../../smart/problem.ts";

/** A stop, in plain words: what happened, what was not done, the one next step, and a way on where there is one. */
export function ProblemScreen({ problem }: { problem: Problem }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const direct = problem.kind === "no-launch";
  return (
    <>
      <header className="top">
        <p className="name">Fingerpost</p>
      </header>
      <main className="page narrow" id="main">
        <h1 tabIndex={-1} ref={heading}>
          {direct ? "Fingerpost opens from a chart" : problem.title}
        </h1>
        <p className="several">{problem.what}</p>
        <p>
          <b>{problem.next}</b>
        </p>
        {problem.host && (
          <p>
            Address: <bdi>{plainText(problem.host)}</bdi>
          </p>
        )}
        {problem.serverSaid && (
          <blockquote>
            The record system said: <bdi>{plainText(problem.serverSaid, 300)}</bdi>
          </blockquote>
        )}
        {problem.kind === "storage-blocked" && (
          <p>
            <a className="button primary" href="./launch.html" target="_blank" rel="noopener noreferrer">
              Open in its own window
            </a>
          </p>
        )}
        {WITH_OWN_START.includes(problem.kind) && (
          <p>
            <a className="button" href="./launch.html">
              Choose a record system and a patient
            </a>
          </p>
        )}
      </main>
    </>
  );
}
/** Problems after which signing in afresh, without a chart, is a way on. */
const WITH_OWN_START: readonly string[] = [
  "no-launch",
  "state",
  "code-refused",
  "replaced",
  "denied",
  "no-patient",
  "covered",
];

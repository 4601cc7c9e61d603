import { type ReactNode, useEffect, useRef } from "react";
import { plainText } from "../../../fhir/plain-text.ts";
import type { WriteReport } from "../../../smart/write-back.ts";
import { words } from "./words.ts";

/** A draft of this plan that stands in the record and that the act did not touch: no success text hides it. */
export interface LeftAsDraft {
  readonly key: string;
  readonly title: string;
  /** "CarePlan/12" */
  readonly reference: string;
}
interface OutcomeProps {
  readonly report: WriteReport;
  readonly onAgain: () => void;
  readonly left?: readonly LeftAsDraft[];
  /** The way back, where something is stored that does not stand as it should. */
  readonly withdraw?: ReactNode;
}
/** What was stored, item by item, after reading it back; never "saved" on trust. */
export function Outcome({ report, onAgain, left = [], withdraw }: OutcomeProps) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const title =
    report.outcome === "saved"
      ? words.saved[report.act]
      : report.outcome === "not-saved"
        ? words.notSaved[report.act]
        : report.outcome === "part"
          ? words.part[report.act]
          : words.unknown;
  const rows = report.provenance ? [...report.items, report.provenance] : report.items;
  return (
    <section className={`outcome ${report.outcome}`} aria-labelledby="outcome">
      <h2 id="outcome" tabIndex={-1} ref={heading}>
        {title}
      </h2>
      {report.outcome === "saved" && (
        <p>{(report.provenance?.outcome ?? "saved") === "saved" ? words.savedHint : words.savedWithoutRecord}</p>
      )}
      {report.problem && (
        <>
          <p>
            {report.problem.title} {report.problem.what}
          </p>
          <p>
            <b>{report.problem.next}</b>
          </p>
          {report.problem.serverSaid && (
            <blockquote>
              {words.serverSaid}: <bdi>{plainText(report.problem.serverSaid, 400)}</bdi>
            </blockquote>
          )}
        </>
      )}
      <ul>
        {left.map(({ key, title, reference }) => (
          <li key={key} className="as-draft">
            {title}: <b>{words.outcome["as-draft"]}</b> as {reference}
          </li>
        ))}
        {rows.map((item) => (
          <li key={item.key} className={item.outcome}>
            {item.title}: <b>{words.outcome[item.outcome]}</b>
            {item.reference && ` as ${item.reference}${item.version ? `, version ${item.version}` : ""}`}
            {item.reason && `. ${plainText(item.reason, 300)}`}
            {item.differences && item.differences.length > 0 && `. ${words.differs}: ${item.differences.join(", ")}`}
          </li>
        ))}
      </ul>
      {report.outcome === "saved" ? (
        <p>{report.act === "sign" ? words.nextSteps : ""}</p>
      ) : (
        <div className="act">
          {report.otherwise ? (
            <button type="button" onClick={toLanes}>
              {words.seeLanes}
            </button>
          ) : (
            <button type="button" onClick={onAgain}>
              {words.again[report.outcome]}
            </button>
          )}
          {report.outcome !== "not-saved" && withdraw}
        </div>
      )}
    </section>
  );
}

/** What can be filed now is read before anything more is written. */
function toLanes() {
  const heading = document.getElementById("lanes");
  heading?.scrollIntoView();
  heading?.focus({ preventScroll: true });
}

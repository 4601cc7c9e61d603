import { useEffect, useRef } from "react";
import type { WriteReport } from "../../../smart/write-back.ts";
import { plainText } from "../../plain-text.ts";
import { words } from "./words.ts";

/** What was stored, item by item, after reading it back; never "saved" on trust. */
export function Outcome({ report, onAgain }: { report: WriteReport; onAgain: () => void }) {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => heading.current?.focus(), []);
  const title =
    report.outcome === "saved"
      ? words.saved[report.act]
      : report.outcome === "not-saved"
        ? words.notSaved[report.act]
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
        <button type="button" onClick={onAgain}>
          {report.outcome === "unknown" ? words.checkAgain : words.retry}
        </button>
      )}
    </section>
  );
}

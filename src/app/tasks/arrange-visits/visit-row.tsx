import type { ReactNode } from "react";
import type { Row } from "./rows.ts";
import { words } from "./words.ts";

const say = words.row;
const MARK = { overdue: "!!", "last-day": "!", soon: "!", later: "", unknown: "?" } as const;

/** One visit of a list: whose, what, between which days, how long there is; what can be done with it stands below. */
export function VisitRow({ row, children }: { row: Row; children?: ReactNode }) {
  const facts: [string, string | undefined][] = [
    [say.window, row.window],
    [say.who, row.who],
    [say.depends, row.depends],
    [say.urgency, row.urgency],
    [say.now, row.history],
    [say.bring, row.bring],
    [say.check, row.check],
    [say.contact, row.contact],
  ];
  return (
    <div className={`visit-row ${row.left.kind}`}>
      <p className="left">
        <span aria-hidden="true">{MARK[row.left.kind]} </span>
        {row.left.words}
      </p>
      <p className="whose">
        <b>
          <bdi>{row.name}</bdi>
        </b>
        , {row.born}
      </p>
      <p className="what">
        <b>{row.purpose}</b>: <bdi>{row.what}</bdi>
      </p>
      <dl>
        {facts.map(
          ([term, text]) =>
            text && (
              <div key={term}>
                <dt>{term}</dt>
                <dd>
                  <bdi>{text}</bdi>
                </dd>
              </div>
            ),
        )}
      </dl>
      {row.moved && <p className="moved">{row.moved}</p>}
      {row.stop && <p className="error">{row.stop}</p>}
      {children}
    </div>
  );
}

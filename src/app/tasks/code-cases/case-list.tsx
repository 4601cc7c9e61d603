import { useId } from "react";
import { CASE_STATES, type CaseState, type CodingCase } from "../../../fhir/coding-case.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import type { CaseFilter } from "../../../smart/coding-list.ts";
import { sayDay, sayShortDay } from "../../say-date.ts";
import type { Cases } from "./use-cases.ts";
import { STATE_WORDS, words } from "./words.ts";

export type ShownState = keyof typeof words.states;
const SHOWN: { readonly [S in ShownState]: readonly CaseState[] } = {
  open: ["to-code", "answered", "changed"],
  all: CASE_STATES,
  asked: ["asked"],
  answered: ["answered"],
  coded: ["coded", "changed"],
};

interface CaseListProps {
  readonly cases: Cases;
  readonly filter: CaseFilter;
  readonly onFilter: (filter: CaseFilter) => void;
  readonly shown: ShownState;
  readonly onShown: (shown: ShownState) => void;
  readonly onOpen: (of: CodingCase) => void;
}
export function CaseList({ cases, filter, onFilter, shown, onShown, onOpen }: CaseListProps) {
  const id = useId();
  const visible = cases.cases.filter((c) => SHOWN[shown].includes(c.state));
  return (
    <>
      <h1 tabIndex={-1}>{words.list}</h1>
      <div className="coder-filter">
        <DayFields filter={filter} onFilter={onFilter} />
        <div className="field">
          <label htmlFor={`${id}-shown`}>{words.show}</label>
          <select
            id={`${id}-shown`}
            value={shown}
            onChange={({ target }) => {
              const now = target.value as ShownState;
              onShown(now);
              // Open questions and answers are found by the server; other states only by reading.
              onFilter({ ...filter, query: now === "asked" ? "open" : now === "answered" ? "answered" : undefined });
            }}
          >
            {(Object.keys(words.states) as ShownState[]).map((one) => (
              <option key={one} value={one}>
                {words.states[one]}
              </option>
            ))}
          </select>
        </div>
        <button type="button" onClick={cases.again}>
          {words.again}
        </button>
      </div>
      <p role="status" className="hint">
        {cases.reading ? words.reading : words.count(visible.length, cases.cases.length, cases.total)}
      </p>
      {cases.failed && (
        <p className="error" role="alert">
          {cases.failed.title} {cases.failed.what} {cases.failed.next}
        </p>
      )}
      {cases.problems.map((problem) => (
        <p key={problem} className="error">
          {problem}
        </p>
      ))}
      {visible.length > 0 && (
        <ul className="coder-list">
          {visible.map((of) => (
            <li key={of.record.reference}>
              <button type="button" onClick={() => onOpen(of)}>
                <b>
                  <bdi>{plainText(of.patient.name)}</bdi>
                </b>
                {of.patient.born && <span className="hint">born {sayShortDay(of.patient.born)}</span>}
                <span>{of.digits}</span>
                <span>{sayDay(of.day)}</span>
                <span className="hint">
                  signed by <bdi>{plainText(of.signedBy)}</bdi>
                </span>
                <span className={`state ${of.state}`}>{STATE_WORDS[of.state]}</span>
              </button>
            </li>
          ))}
        </ul>
      )}
      {!cases.reading && !cases.failed && visible.length === 0 && <p>{words.none}</p>}
      {cases.ended > 0 && <p className="hint">{words.ended(cases.ended)}</p>}
      {cases.next !== undefined && (
        <p className="act">
          <button type="button" disabled={cases.reading} onClick={cases.more}>
            {words.more}
          </button>
        </p>
      )}
    </>
  );
}

/** The days of signing, for list and export. */
export function DayFields({ filter, onFilter }: Pick<CaseListProps, "filter" | "onFilter">) {
  const id = useId();
  return (["from", "to"] as const).map((end) => (
    <div className="field" key={end}>
      <label htmlFor={`${id}-${end}`}>{words[end]}</label>
      <input
        id={`${id}-${end}`}
        type="date"
        value={filter[end] ?? ""}
        onChange={({ target }) => onFilter({ ...filter, [end]: target.value || undefined })}
      />
    </div>
  ));
}

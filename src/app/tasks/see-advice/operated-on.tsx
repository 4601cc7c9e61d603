import { useId, useState } from "react";
import { ValueNote } from "../../parts/value-note.tsx";
import { sayDay } from "../../say-date.ts";
import { type Proposed, valueState } from "../../value-state.ts";
import { UseProposal } from "../confirm-findings/date-fields.tsx";
import { words } from "./words.ts";

interface OperatedOnProps {
  /** yyyy-MM-dd, as kept in the case. */
  readonly value: string | undefined;
  readonly proposals: readonly Proposed[];
  /** Day of the injury, yyyy-MM-dd, if known. */
  readonly injured: string | undefined;
  /** yyyy-MM-dd */
  readonly today: string;
  readonly onDate: (value: string | undefined) => void;
}
/** The day that visits after an operation count from. A day that cannot be is said and not kept: no visit is dated by it. */
export function OperatedOn({ value, proposals, injured, today, onDate }: OperatedOnProps) {
  const id = useId();
  const [refused, setRefused] = useState<string>();
  const problemOf = (day: string) =>
    day > today
      ? words.operatedInFuture
      : injured !== undefined && day < injured
        ? words.operatedTooEarly(sayDay(injured))
        : undefined;
  const problem = refused === undefined ? undefined : problemOf(refused);
  const pick = (day: string) => {
    const wrong = day !== "" && problemOf(day) !== undefined;
    setRefused(wrong ? day : undefined);
    onDate(wrong || day === "" ? undefined : day);
  };
  const state = valueState(
    value,
    proposals.filter((p) => problemOf(String(p.value)) === undefined),
  );
  return (
    <div className="operated">
      <p className="measure">
        <span className="field">
          <label htmlFor={id}>{words.operated}</label>
          <input
            id={id}
            type="date"
            min={injured}
            max={today}
            value={refused ?? value ?? ""}
            aria-invalid={problem !== undefined || undefined}
            aria-describedby={`${id}-note`}
            onChange={(e) => pick(e.target.value)}
          />
        </span>
        <UseProposal state={state} onDate={pick} />
      </p>
      <div id={`${id}-note`} className="note">
        {problem ? <p className="error">{problem}</p> : <p className="hint no-print">{words.operatedWhy}</p>}
        <ValueNote state={state} say={(day) => sayDay(String(day))} />
      </div>
    </div>
  );
}

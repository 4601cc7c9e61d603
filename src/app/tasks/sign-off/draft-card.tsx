import { type ReactNode, useId, useState } from "react";
import type { DraftItem } from "../../../fhir/drafts.ts";
import type { Placed } from "../../../smart/filing.ts";
import { LaneNote, laneName } from "./lanes.tsx";
import { KIND_WORDS, words } from "./words.ts";

interface DraftCardProps {
  readonly item: DraftItem;
  /** The resource as it would be sent. */
  readonly json: string;
  /** By which act it would be sent; "item": by none yet. */
  readonly sentAs: keyof typeof words.fhirAs;
  /** What becomes of it on this record system; undefined while that is not known. */
  readonly placed: Placed | undefined;
  /** What the record already holds of it, and the choice that follows. */
  readonly inRecord?: ReactNode;
  /** Keeps an edit; returns what is wrong with it, if anything. */
  readonly onEdit: (field: string, value: string) => string | undefined;
  readonly onRemove: (reason: string) => void;
  readonly onRestore: () => void;
}
/** One draft in words, as it will be written. */
export function DraftCard({ item, json, sentAs, placed, inRecord, onEdit, onRemove, onRestore }: DraftCardProps) {
  const id = useId();
  if (item.removed)
    return (
      <li className="draft removed" aria-labelledby={id}>
        <h2 id={id}>
          {words.leftOut}: {item.title}
        </h2>
        <p>{item.removed.reason}</p>
        <button type="button" className="quiet" onClick={onRestore}>
          {words.takeBack}
          <span className="said">, {item.title}</span>
        </button>
      </li>
    );
  return (
    <li className="draft" aria-labelledby={id}>
      <p className="kind">
        {KIND_WORDS[item.kind]}
        {placed && `, ${laneName(placed)}`}
      </p>
      <h2 id={id}>{item.title}</h2>
      <LaneNote placed={placed} />
      <Words lines={item.words} />
      {inRecord}
      {item.changes.length > 0 && (
        <ul className="changes">
          {item.changes.map((c) => (
            <li key={c.field}>{words.changed(c.label, c.from, c.to)}</li>
          ))}
        </ul>
      )}
      {item.edits.length > 0 && (
        <details>
          <summary>
            {words.edit}
            <span className="said">, {item.title}</span>
          </summary>
          {item.edits.map((field) => (
            <EditField key={`${field.id} ${field.value}`} field={field} onEdit={(value) => onEdit(field.id, value)} />
          ))}
        </details>
      )}
      {!KEPT.includes(item.kind) && <LeaveOut title={item.title} onRemove={onRemove} />}
      <details>
        <summary>
          {words.showFhir}
          <span className="said">, {item.title}</span>
        </summary>
        <p className="hint">{words.fhirAs[sentAs]}</p>
        {/* biome-ignore lint/a11y/noNoninteractiveTabindex: a scrolling region must be reachable by keyboard */}
        <pre tabIndex={0}>{json}</pre>
      </details>
    </li>
  );
}

/** What every other item rests on: the findings, and who confirmed them. */
const KEPT: readonly DraftItem["kind"][] = ["findings", "document", "provenance"];

const SHOWN_LINES = 6;
function Words({ lines }: { lines: readonly string[] }) {
  const part = (shown: readonly string[]) => (
    <ul>
      {shown.map((line, i) => (
        // biome-ignore lint/suspicious/noArrayIndexKey: two digits may have the same line; the order is fixed
        <li key={i}>{line}</li>
      ))}
    </ul>
  );
  if (lines.length <= SHOWN_LINES + 2) return part(lines);
  return (
    <>
      {part(lines.slice(0, SHOWN_LINES))}
      <details>
        <summary>{lines.length - SHOWN_LINES} more lines</summary>
        {part(lines.slice(SHOWN_LINES))}
      </details>
    </>
  );
}

function EditField({
  field,
  onEdit,
}: {
  field: DraftItem["edits"][number];
  onEdit: (value: string) => string | undefined;
}) {
  const id = useId();
  const [value, setValue] = useState(field.value);
  const [problem, setProblem] = useState<string>();
  const common = {
    id,
    value,
    required: field.required,
    "aria-invalid": problem !== undefined || undefined,
    "aria-describedby": `${id}-problem`,
  };
  return (
    <div className={`field edit ${field.type}`}>
      <label htmlFor={id}>{field.label}</label>
      <span className="measure">
        {field.type === "choice" ? (
          <select {...common} onChange={(e) => setValue(e.target.value)}>
            {field.options?.map((o) => (
              <option key={o.value} value={o.value}>
                {o.label}
              </option>
            ))}
          </select>
        ) : (
          <input
            {...common}
            type={field.type}
            min={field.min}
            max={field.max}
            onChange={(e) => setValue(e.target.value)}
          />
        )}
        <button type="button" disabled={value === field.value} onClick={() => setProblem(onEdit(value))}>
          {words.apply}
          <span className="said">, {field.label}</span>
        </button>
      </span>
      <p id={`${id}-problem`} className="error">
        {problem}
      </p>
    </div>
  );
}

function LeaveOut({ title, onRemove }: { title: string; onRemove: (reason: string) => void }) {
  const id = useId();
  const [open, setOpen] = useState(false);
  const [reason, setReason] = useState("");
  const [more, setMore] = useState("");
  const [missing, setMissing] = useState(false);
  if (!open)
    return (
      <button type="button" className="quiet" onClick={() => setOpen(true)}>
        {words.leaveOut}
        <span className="said">, {title}</span>
      </button>
    );
  const remove = () => {
    const said = [reason, more.trim()].filter(Boolean).join(": ");
    if (said === "" || said === "Other") setMissing(true);
    else onRemove(said);
  };
  return (
    <fieldset className="leave-out">
      <legend>
        {words.leaveOut}: {title}
      </legend>
      <div className="field">
        <label htmlFor={`${id}-why`}>{words.leaveOutWhy}</label>
        <select id={`${id}-why`} value={reason} onChange={(e) => setReason(e.target.value)}>
          <option value="" />
          {words.leaveOutReasons.map((r) => (
            <option key={r}>{r}</option>
          ))}
        </select>
      </div>
      <div className="field">
        <label htmlFor={`${id}-more`}>In your words</label>
        <input id={`${id}-more`} value={more} maxLength={300} onChange={(e) => setMore(e.target.value)} />
      </div>
      {missing && (
        <p className="error" role="alert">
          {words.reasonNeeded}
        </p>
      )}
      <p className="act">
        <button type="button" onClick={remove}>
          {words.leaveOut}
        </button>
        <button type="button" className="quiet" onClick={() => setOpen(false)}>
          {words.cancel}
        </button>
      </p>
    </fieldset>
  );
}

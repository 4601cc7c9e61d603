import { useId, useState } from "react";
import type { OwnDecision } from "../../case-state.ts";
import { REASONS, words } from "./words.ts";

interface DecideDifferentlyProps {
  readonly rule: string;
  readonly proposed: string;
  /** What the control is about, where `proposed` alone does not tell. */
  readonly about?: string;
  /** What may be decided instead; with the id by which the plan then follows it, if it has one. */
  readonly choices: readonly { readonly id?: string; readonly said: string }[];
  readonly decision: OwnDecision | undefined;
  readonly onDecide: (decision: OwnDecision | undefined) => void;
}
/** The clinician's own way: always open, never in the way, kept with its reason. */
export function DecideDifferently({
  rule,
  proposed,
  about = proposed,
  choices,
  decision,
  onDecide,
}: DecideDifferentlyProps) {
  const id = useId();
  const [open, setOpen] = useState(false);
  const [decided, setDecided] = useState("");
  const [reason, setReason] = useState("");
  const [more, setMore] = useState("");
  const [missing, setMissing] = useState(false);
  if (decision)
    return (
      <div className="own-decision">
        <p>
          <b>{words.yours}:</b> {decision.decided}. {words.differWhy}: {decision.reason}
        </p>
        <button type="button" className="quiet" onClick={() => onDecide(undefined)}>
          {words.differDrop}
        </button>
      </div>
    );
  if (!open)
    return (
      <button type="button" className="quiet differ" onClick={() => setOpen(true)}>
        {words.differ}
        <span className="said">, {about}</span>
      </button>
    );
  const keep = () => {
    const said = [reason, more.trim()].filter(Boolean).join(": ");
    if (decided === "" || said === "" || (reason === "Other" && more.trim() === "")) {
      setMissing(true);
      return;
    }
    const choice = choices.find((c) => c.said === decided)?.id;
    onDecide({ rule, proposed, decided, reason: said, ...(choice ? { choice } : {}) });
    setOpen(false);
  };
  return (
    <fieldset className="own-decision">
      <legend>
        {words.differ}: {about}
      </legend>
      <p className="field">
        <label htmlFor={`${id}-what`}>{words.differWhat}</label>
        <select id={`${id}-what`} value={decided} onChange={(e) => setDecided(e.target.value)}>
          <option value="" />
          {choices.map((c) => (
            <option key={c.said}>{c.said}</option>
          ))}
        </select>
      </p>
      <p className="field">
        <label htmlFor={`${id}-why`}>{words.differWhy}</label>
        <select id={`${id}-why`} value={reason} onChange={(e) => setReason(e.target.value)}>
          <option value="" />
          {REASONS.map((r) => (
            <option key={r}>{r}</option>
          ))}
        </select>
      </p>
      <p className="field">
        <label htmlFor={`${id}-more`}>{words.differMore}</label>
        <input id={`${id}-more`} value={more} maxLength={300} onChange={(e) => setMore(e.target.value)} />
      </p>
      {missing && (
        <p className="error" role="alert">
          {words.differNeed}
        </p>
      )}
      <p className="act">
        <button type="button" onClick={keep}>
          {words.differKeep}
        </button>
        <button type="button" className="quiet" onClick={() => setOpen(false)}>
          {words.differDrop}
        </button>
      </p>
    </fieldset>
  );
}

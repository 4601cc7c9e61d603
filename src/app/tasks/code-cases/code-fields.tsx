import { type ReactNode, useId } from "react";
import type { Named } from "../../../fhir/coding-signing.ts";
import { words } from "./words.ts";

interface CodeFieldProps {
  readonly label: string;
  /** Codes offered while typing, each with its official words where they are known. */
  readonly offered: readonly { readonly code: string; readonly display?: string | undefined }[];
  readonly typed: string;
  /** The code that is typed, as the table has it. */
  readonly named: Named | undefined;
  readonly onTyped: (text: string) => void;
  readonly input?: React.Ref<HTMLInputElement>;
}
/** A code of the official table, typed or chosen; its official words stand below it. */
export function CodeField({ label, offered, typed, named, onTyped, input }: CodeFieldProps) {
  const id = useId();
  return (
    <div className="field">
      <label htmlFor={`${id}-code`}>{label}</label>
      <input
        id={`${id}-code`}
        ref={input}
        list={`${id}-offered`}
        autoComplete="off"
        value={typed}
        onChange={({ target }) => onTyped(target.value)}
        aria-describedby={`${id}-said`}
      />
      <datalist id={`${id}-offered`}>
        {offered.map(({ code, display }) => (
          <option key={code} value={code}>
            {display}
          </option>
        ))}
      </datalist>
      <span className="hint" id={`${id}-said`}>
        {named?.display ?? ""}
      </span>
    </div>
  );
}

interface ReasonFieldProps {
  readonly label: string;
  readonly reason: string;
  readonly onReason: (text: string) => void;
  /** What keeps the form from being done; empty: nothing. */
  readonly error: string;
}
/** Why the coder departs from the proposal, and below it what is still wrong with the form. */
export function ReasonField({ label, reason, onReason, error }: ReasonFieldProps) {
  const id = useId();
  return (
    <>
      <div className="field">
        <label htmlFor={id}>{label}</label>
        <input id={id} value={reason} maxLength={300} onChange={({ target }) => onReason(target.value)} />
      </div>
      <p className="error" role="alert">
        {error}
      </p>
    </>
  );
}

/** A form of the coder's: what it does on Enter is what its first button does. */
export function CodeForm({ onDone, children }: { readonly onDone: () => void; readonly children: ReactNode }) {
  return (
    <form
      className="edit"
      onSubmit={(event) => {
        event.preventDefault();
        onDone();
      }}
    >
      {children}
    </form>
  );
}

/** Moves a line before its neighbour; nothing where there is none of its kind. */
export function MoveUp({ code, onUp }: { readonly code: string | undefined; readonly onUp: (() => void) | undefined }) {
  if (!onUp) return null;
  return (
    <button type="button" className="quiet" aria-label={`${words.up} ${code}`} onClick={onUp}>
      {words.up}
    </button>
  );
}

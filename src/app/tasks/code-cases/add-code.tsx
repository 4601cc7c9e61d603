import { useId, useMemo, useState } from "react";
import { codesFound, isExternalCause, whyNotAdded } from "../../../coding/added-code.ts";
import type { CodeTable } from "../../../coding/tables.ts";
import type { KeptLine } from "../../../fhir/coding-signing.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { CodeField, CodeForm, MoveUp, ReasonField } from "./code-fields.tsx";
import { codeTyped } from "./lines.ts";
import { words } from "./words.ts";

interface AddCodeProps {
  readonly table: CodeTable;
  /** What each digit of the record is called. */
  readonly digits: readonly string[];
  readonly lines: readonly KeptLine[];
  readonly onAdd: (line: KeptLine) => void;
}
/** A code that was not proposed: found in the official table of the day, with a reason, and held against what it stands beside. */
export function AddCode({ table, digits, lines, onAdd }: AddCodeProps) {
  const id = useId();
  const [text, setText] = useState("");
  const [digit, setDigit] = useState("0");
  const [reason, setReason] = useState("");
  const [error, setError] = useState("");
  const found = useMemo(() => codesFound(text, table), [text, table]);
  const named = codeTyped(text, table);
  const add = () => {
    if (!named) return setError(words.choose);
    const cause = isExternalCause(named.code);
    const at = cause || digit === "" ? undefined : Number(digit);
    const others = lines.flatMap(({ kept, digit }) => (kept ? [{ code: kept.code, digit }] : []));
    const problem = whyNotAdded({ code: named.code, digit: at }, others, table);
    if (problem) return setError(problem);
    if (reason.trim() === "") return setError(words.reasonNeeded);
    const { system, version } = table.edition;
    onAdd({
      key: `ADDED:${named.code}`,
      role: cause ? "external-cause" : "additional",
      ...(at === undefined ? {} : { digit: at }),
      system,
      version,
      kept: named,
      reason: reason.trim(),
    });
    setText("");
    setReason("");
    setError("");
  };
  return (
    <details>
      <summary>{words.add}</summary>
      <CodeForm onDone={add}>
        <CodeField label={words.search} offered={found} typed={text} named={named} onTyped={setText} />
        {digits.length > 1 && (
          <div className="field">
            <label htmlFor={`${id}-digit`}>{words.ofDigit}</label>
            <select id={`${id}-digit`} value={digit} onChange={({ target }) => setDigit(target.value)}>
              {digits.map((name, at) => (
                <option key={name} value={at}>
                  {name}
                </option>
              ))}
              <option value="">{words.noDigit}</option>
            </select>
          </div>
        )}
        <ReasonField label={words.addReason} reason={reason} onReason={setReason} error={error} />
        <button type="submit">{words.add}</button>
      </CodeForm>
    </details>
  );
}

/** A line that the coder added. */
export function AddedLine({
  line,
  onUp,
  onTakeOut,
}: {
  readonly line: KeptLine;
  readonly onUp: (() => void) | undefined;
  readonly onTakeOut: () => void;
}) {
  return (
    <li className="changed">
      <p className="hint">{words.addedByYou}</p>
      <p>
        <span className="coder-code">{line.kept?.code}</span> {line.kept?.display}
        <span className="hint">{plainText(line.reason ?? "", 300)}</span>
      </p>
      <p className="act">
        <button type="button" aria-label={`${words.takeOut}: ${line.kept?.code}`} onClick={onTakeOut}>
          {words.takeOut}
        </button>
        <MoveUp code={line.kept?.code} onUp={onUp} />
      </p>
    </li>
  );
}

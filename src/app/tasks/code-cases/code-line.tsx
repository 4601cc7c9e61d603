import { useEffect, useRef, useState } from "react";
import type { CodeLine } from "../../../coding/encounter.ts";
import type { CodeTable } from "../../../coding/tables.ts";
import { isChanged, type KeptLine } from "../../../fhir/coding-signing.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { CodeField, CodeForm, MoveUp, ReasonField } from "./code-fields.tsx";
import { codeTyped, type LineEdit, seventhOf } from "./lines.ts";
import { ROLE_WORDS, valueWords, words } from "./words.ts";

interface CodeLineProps {
  readonly line: CodeLine;
  readonly kept: KeptLine;
  readonly table: CodeTable | undefined;
  /** Undefined where nothing of its kind stands before it. */
  readonly onUp: (() => void) | undefined;
  /** Undefined: the proposal stands again. */
  readonly onEdit: (edit: LineEdit | undefined) => void;
}
/** One proposed code with what decided it and what would change it; kept, changed or left out with a reason. */
export function CodeLineView({ line, kept, table, onUp, onEdit }: CodeLineProps) {
  const [changing, setChanging] = useState(false);
  const opener = useRef<HTMLButtonElement>(null);
  const close = () => {
    setChanging(false);
    opener.current?.focus();
  };
  const side = line.used.find((u) => u.fact === "side" && u.from !== "not stated")?.value;
  const seventh = seventhOf(line);
  const changed = isChanged(kept);
  return (
    <li className={changed ? "changed" : undefined}>
      <p className="hint">{ROLE_WORDS[kept.role]}</p>
      <p>
        <span className="coder-code">{line.code}</span> {line.display}
      </p>
      {changed && (
        <p>
          <b>{kept.kept ? words.kept(kept.kept.code) : words.leftOutByYou}</b> {kept.kept?.display}
          <span className="hint">{plainText(kept.reason ?? "", 300)}</span>
        </p>
      )}
      <dl>
        {side && (
          <>
            <dt>{words.side}</dt>
            <dd>{side}</dd>
          </>
        )}
        {seventh && (
          <>
            <dt>{words.seventh}</dt>
            <dd>{seventh}</dd>
          </>
        )}
        <dt>{words.because}</dt>
        <dd>{line.because}</dd>
        {line.guidelines.length > 0 && (
          <>
            <dt>{words.section}</dt>
            <dd>{line.guidelines.map((g) => `${g.section}: ${g.says}`).join("; ")}</dd>
          </>
        )}
        <dt>{words.restsOn}</dt>
        <dd>
          {line.used
            .map((u) => `${u.words}: ${valueWords(u.value)}${u.from === "stated" ? " (stated)" : ""}`)
            .join("; ")}
        </dd>
        {line.defaults.length > 0 && (
          <>
            <dt>{words.assumed}</dt>
            <dd>{line.defaults.join(" ")}</dd>
          </>
        )}
      </dl>
      {line.wouldChange.length > 0 && (
        <details>
          <summary>{words.why}</summary>
          <ul>
            {line.wouldChange.map(({ fact, words: said, value, code }) => (
              <li key={`${fact} ${value}`}>
                {words.wouldBe(said, valueWords(value), code ?? words.noCode)}
                {code && <span className="hint">{table?.describe(code)}</span>}
              </li>
            ))}
          </ul>
        </details>
      )}
      {changing ? (
        <ChangeForm
          line={line}
          table={table}
          onDone={(edit) => {
            onEdit(edit);
            close();
          }}
          onCancel={close}
        />
      ) : (
        <p className="act">
          <button
            type="button"
            ref={opener}
            aria-label={`${words.change} ${line.code}`}
            onClick={() => setChanging(true)}
          >
            {words.change}
          </button>
          <MoveUp code={line.code} onUp={onUp} />
          {changed && (
            <button type="button" className="quiet" onClick={() => onEdit(undefined)}>
              {words.putBack}
            </button>
          )}
        </p>
      )}
    </li>
  );
}

interface ChangeFormProps {
  readonly line: CodeLine;
  readonly table: CodeTable | undefined;
  readonly onDone: (edit: LineEdit) => void;
  readonly onCancel: () => void;
}
function ChangeForm({ line, table, onDone, onCancel }: ChangeFormProps) {
  const [typed, setTyped] = useState("");
  const [reason, setReason] = useState("");
  const [error, setError] = useState("");
  const first = useRef<HTMLInputElement>(null);
  useEffect(() => first.current?.focus(), []);
  const named = table && codeTyped(typed, table);
  const done = (kept: LineEdit["kept"]) => {
    if (reason.trim() === "") setError(words.reasonNeeded);
    else onDone({ kept, reason: reason.trim() });
  };
  const neighbours = [...new Set(line.wouldChange.flatMap((w) => w.code ?? []))].map((code) => ({
    code,
    display: table?.describe(code),
  }));
  return (
    <CodeForm onDone={() => (named ? done(named) : setError(words.notInTable(typed, table?.edition.name ?? "")))}>
      <CodeField
        label={words.newCode}
        offered={neighbours}
        typed={typed}
        named={named}
        onTyped={setTyped}
        input={first}
      />
      <ReasonField label={words.reason} reason={reason} onReason={setReason} error={error} />
      <p className="act">
        <button type="submit">{words.apply}</button>
        <button type="button" onClick={() => done(undefined)}>
          {words.leaveOut}
        </button>
        <button type="button" className="quiet" onClick={onCancel}>
          {words.cancel}
        </button>
      </p>
    </CodeForm>
  );
}

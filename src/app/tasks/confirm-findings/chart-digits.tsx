import { type Dispatch, useEffect, useRef } from "react";
import type { AskedInjury } from "../../../pathway/asked.ts";
import type { CaseAction, CaseState } from "../../case-state.ts";
import { sayOrigin } from "../../parts/value-note.tsx";
import type { NamedDigit, Proposals } from "../../proposals.ts";
import { sayDigit } from "../../which-questions.ts";
import { words } from "./late-words.ts";

interface ChartDigitsProps {
  readonly module: AskedInjury;
  readonly state: CaseState;
  readonly proposals: Proposals;
  readonly dispatch: Dispatch<CaseAction>;
  readonly onConfirmed: () => void;
}
/**
 * A chart that names several digits may mean as many injuries, or be wrong about one: which of them are injured is the
 * clinician's answer, in one press.
 */
export function ChartDigits({ module, state, proposals, dispatch, onConfirmed }: ChartDigitsProps) {
  const pressed = useRef(false);
  useEffect(() => {
    if (!pressed.current) return;
    pressed.current = false;
    // What is still to be confirmed together comes before the single questions.
    const together = document.querySelector<HTMLElement>(".these-are-right .primary");
    if (together) together.focus();
    else onConfirmed();
  });
  const answered = state.digits.flatMap((d) => d.digit ?? []);
  const free = state.digits.flatMap((d, i) => (d.digit === undefined ? [i] : []));
  const open = proposals.named.filter((n) => !answered.includes(n.digit));
  // An unnamed finger beside a named one gets the rest proposed at its own question.
  const first = answered.length === 0;
  if (open.length === 0 || (!first && free.length > 0)) return null;

  const name = ({ digit, side }: NamedDigit) => sayDigit(module, { digit, ...(side ? { side } : {}) }) ?? digit;
  const take = (chosen: readonly NamedDigit[]) => {
    pressed.current = true;
    chosen.forEach(({ digit, side }, n) => {
      const place = free[n] ?? state.digits.length + n - free.length;
      if (place >= state.digits.length) dispatch({ act: "add-digit" });
      const given = state.digits[place]?.side;
      dispatch({
        act: "answer",
        digit: place,
        answers: [
          { finding: "digit", scope: "digit", value: digit },
          ...(side && given === undefined ? [{ finding: "side", scope: "digit", value: side } as const] : []),
        ],
      });
    });
    if (first) dispatch({ act: "show-digit", digit: free[0] ?? 0 });
  };
  return (
    <section className="these-are-right" aria-label={first ? words.digitsNamed(open.length) : words.digitsAlso}>
      <p>{first ? words.digitsNamed(open.length) : words.digitsAlso}</p>
      <ul>
        {open.map((n) => (
          <li key={n.digit}>
            <b>{name(n)}</b> <span className="source">{n.said.map(sayOrigin).join("; ")}</span>
          </li>
        ))}
      </ul>
      {first && <p>{words.digitsWhich}</p>}
      <p className="choices">
        {first && (
          <button type="button" className="primary" onClick={() => take(open)}>
            {words.digitsAll(open.length)}
          </button>
        )}
        {open.map((n) => (
          <button key={n.digit} type="button" onClick={() => take([n])}>
            {first ? words.digitsOnly(name(n)) : words.digitsAdd(name(n))}
          </button>
        ))}
      </p>
    </section>
  );
}

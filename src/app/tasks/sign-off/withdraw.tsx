import { useId, useState } from "react";
import { plainText } from "../../../fhir/plain-text.ts";
import type { Session } from "../../../smart/session.ts";
import { type WithdrawalReport, withdrawPlan } from "../../../smart/unfinished.ts";
import { APP_VERSION } from "../../version.ts";
import { words } from "./words.ts";

interface WithdrawProps {
  readonly session: Session;
  readonly planId: string;
  readonly onDone: (report: WithdrawalReport) => void;
}
/** Takes back what is stored of a plan: asked twice, with a reason. */
export function Withdraw({ session, planId, onDone }: WithdrawProps) {
  const id = useId();
  const [open, setOpen] = useState(false);
  const [busy, setBusy] = useState(false);
  const [reason, setReason] = useState<string>(words.withdrawReason);
  const go = async () => {
    setBusy(true);
    onDone(
      await withdrawPlan(session, planId, reason.trim(), {
        at: session.clock.now().toISOString(),
        appVersion: APP_VERSION,
      }),
    );
    setBusy(false);
  };
  if (!open)
    return (
      <button type="button" className="quiet" onClick={() => setOpen(true)}>
        {words.withdraw}
      </button>
    );
  return (
    <fieldset className="leave-out">
      <legend>{words.withdraw}</legend>
      <p>{words.withdrawHint}</p>
      <div className="field">
        <label htmlFor={id}>{words.withdrawWhy}</label>
        <input id={id} value={reason} maxLength={300} onChange={(e) => setReason(e.target.value)} />
      </div>
      <p className="act">
        <button type="button" disabled={busy || reason.trim() === ""} onClick={go}>
          {busy ? words.withdrawing : words.withdrawGo}
        </button>
        <button type="button" className="quiet" disabled={busy} onClick={() => setOpen(false)}>
          {words.cancel}
        </button>
      </p>
    </fieldset>
  );
}

/** What became of the withdrawal, item by item. */
export function Withdrawn({ report }: { report: WithdrawalReport }) {
  const { problem } = report;
  return (
    <section className="outcome" aria-label={words.withdrawn[report.outcome]} role="status">
      <p>
        <b>{words.withdrawn[report.outcome]}</b> {problem && `${problem.title} ${problem.what} ${problem.next}`}
      </p>
      <ul>
        {report.items.map((item) => (
          <li key={item.key}>
            {plainText(item.title, 200)}: <b>{words.isWithdrawn[item.outcome]}</b>
            {item.reason && `. ${plainText(item.reason, 300)}`}
          </li>
        ))}
      </ul>
    </section>
  );
}

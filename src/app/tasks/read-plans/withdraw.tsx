import { useEffect, useId, useRef, useState } from "react";
import type { EarlierPlan } from "../../../fhir/chart.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { actedUpon, type Withdrawal, withdrawal } from "../../../fhir/stored-change.ts";
import { withdrawalRecord } from "../../../fhir/withdrawal-record.ts";
import type { Session } from "../../../smart/session.ts";
import { checkAgain, type WriteReport, writeBack } from "../../../smart/write-back.ts";
import { APP_VERSION } from "../../version.ts";
import { Fate } from "../sign-off/stored-changes.tsx";
import { words as signWords } from "../sign-off/words.ts";
import { words } from "./words.ts";

interface WithdrawProps {
  readonly plan: EarlierPlan;
  readonly session: Session;
  readonly onWritten: () => void;
  readonly onClose: () => void;
}
/** Takes a plan back: why, what that makes of each entry, and one deliberate press. */
export default function Withdraw({ plan, session, onWritten, onClose }: WithdrawProps) {
  const id = useId();
  // Frozen, so that what is shown is what is sent and the report stays when the chart is read again.
  const [kept] = useState(plan);
  const [at] = useState(() => session.clock.now().toISOString());
  const [signer, setSigner] = useState<Awaited<ReturnType<Session["signer"]>>>();
  const [why, setWhy] = useState("");
  const [how, setHow] = useState<Withdrawal>("withdraw");
  const [wrong, setWrong] = useState(false);
  const [missing, setMissing] = useState(false);
  const [busy, setBusy] = useState(false);
  const [report, setReport] = useState<WriteReport>();
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    session.signer().then(setSigner);
  }, [session]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the form, and then what became of it
  useEffect(() => heading.current?.focus(), [report]);

  const acted = actedUpon(kept);
  const by = signer?.ok ? { reference: signer.reference, ...(signer.name ? { display: signer.name } : {}) } : undefined;
  const fate = withdrawal(
    kept,
    how,
    { signer: by ?? { reference: "" }, at, why: why.trim() },
    wrong ? "wrong" : "stands",
  );
  const go = async () => {
    if (why.trim() === "") return setMissing(true);
    setMissing(false);
    setBusy(true);
    const items = [withdrawalRecord(kept.planId, APP_VERSION)];
    const context = { at, changes: fate.changes };
    const next = await (report?.outcome === "unknown" ? checkAgain : writeBack)(session, items, "sign", context);
    setBusy(false);
    setReport(next);
    if (next.outcome !== "not-saved") onWritten();
  };
  const title =
    report === undefined
      ? words.withdraw
      : report.outcome === "saved"
        ? words.withdrawSaved
        : report.outcome === "not-saved"
          ? words.withdrawNot
          : words.withdrawUnknown;
  return (
    <section className="withdraw" aria-labelledby={`${id}-h`}>
      <h2 id={`${id}-h`} tabIndex={-1} ref={heading}>
        {title}
      </h2>
      <p>
        <bdi>{plainText(kept.title, 120)}</bdi>
      </p>
      {report?.problem && (
        <p>
          {report.problem.title} {report.problem.what} <b>{report.problem.next}</b>
        </p>
      )}
      {report && (
        <ul>
          {report.items.map((i) => (
            <li key={i.key}>
              {plainText(i.title, 160)}: <b>{signWords.outcome[i.outcome]}</b>
              {i.reason && `. ${plainText(i.reason, 300)}`}
            </li>
          ))}
        </ul>
      )}
      {report?.outcome !== "saved" && (
        <>
          <div className="field">
            <label htmlFor={`${id}-why`}>{words.withdrawWhy}</label>
            <input
              id={`${id}-why`}
              value={why}
              maxLength={300}
              required
              aria-invalid={missing || undefined}
              aria-describedby={`${id}-missing`}
              onChange={(e) => {
                setWhy(e.target.value);
                setMissing(false);
              }}
            />
            <p id={`${id}-missing`} className="error" role={missing ? "alert" : undefined}>
              {missing ? words.withdrawReason : ""}
            </p>
          </div>
          <fieldset>
            <legend>{words.how}</legend>
            <label className="look">
              <input type="radio" name={`${id}-how`} checked={how === "withdraw"} onChange={() => setHow("withdraw")} />{" "}
              {words.withdrawn}
            </label>
            {acted ? (
              <p className="hint">{words.actedUpon}</p>
            ) : (
              <label className="look">
                <input type="radio" name={`${id}-how`} checked={how === "void"} onChange={() => setHow("void")} />{" "}
                {words.error}
              </label>
            )}
          </fieldset>
          {kept.signed && how === "withdraw" && (
            <label className="look">
              <input type="checkbox" checked={wrong} onChange={(e) => setWrong(e.target.checked)} />{" "}
              {words.diagnosisWrong}
            </label>
          )}
          <Fate title={words.happens} of={fate} />
          {signer && !signer.ok && <p className="error">{signer.reason}</p>}
        </>
      )}
      <p className="act">
        {report?.outcome !== "saved" && (
          <button type="button" disabled={busy || !signer?.ok || fate.changes.length === 0} onClick={go}>
            {report?.outcome === "unknown" ? words.checkAgain : words.go(fate.changes.length)}
          </button>
        )}
        <button type="button" className="quiet" disabled={busy} onClick={onClose}>
          {report?.outcome === "saved" ? words.close : words.keep}
        </button>
      </p>
    </section>
  );
}

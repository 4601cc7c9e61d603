import { useEffect, useState } from "react";
import type { EarlierPlan } from "../../../fhir/chart.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { endOf } from "../../../fhir/revision.ts";
import type { Session } from "../../../smart/session.ts";
import { endingRecord, type Unfinished, unfinishedPlans, type WithdrawalReport } from "../../../smart/unfinished.ts";
import { type WriteReport, writeBack } from "../../../smart/write-back.ts";
import { sayDay } from "../../say-date.ts";
import { APP_VERSION } from "../../version.ts";
import { Outcome } from "./outcome.tsx";
import { Fate } from "./stored-changes.tsx";
import { words as storedWords } from "./stored-words.ts";
import { Withdraw, Withdrawn } from "./withdraw.tsx";
import { words } from "./words.ts";

interface UnfinishedProps {
  readonly session: Session;
  readonly plans: readonly EarlierPlan[];
  /** The plan whose answers are in this tab. */
  readonly planId: string;
  /** The answers are here: on to what will be written. */
  readonly onGoOn: () => void;
  /** The findings are in the record: they come back as proposals. */
  readonly onContinue: (plan: EarlierPlan) => void;
  /** The record holds something else now. */
  readonly onChanged: () => void;
  /** A plan is taken back: what is written next is another one. */
  readonly onWithdrawn: (planId: string) => void;
}
/** A plan that was begun and not finished, and the ways on: finish it, or take it back. */
export default function UnfinishedPlans(props: UnfinishedProps) {
  const { session, plans, planId, onGoOn, onContinue, onChanged, onWithdrawn } = props;
  const [found, setFound] = useState<readonly Unfinished[]>([]);
  // Asked once: what is done about a plan here changes the record, and its report stays on the screen.
  // biome-ignore lint/correctness/useExhaustiveDependencies: see above
  useEffect(() => {
    unfinishedPlans(session, plans).then(setFound);
  }, [session]);
  return found.map((one) => (
    <OnePlan
      key={one.planId}
      {...{ session, one, onChanged, onWithdrawn }}
      onGoOn={one.planId === planId ? onGoOn : undefined}
      onContinue={continueFrom(plans, one, onContinue)}
    />
  ));
}

function continueFrom(plans: readonly EarlierPlan[], one: Unfinished, onContinue: (plan: EarlierPlan) => void) {
  const plan = plans.find((p) => p.planId === one.planId);
  return plan?.findings && !one.stored.items.some((item) => item.act === "sign") ? () => onContinue(plan) : undefined;
}

interface OneProps {
  readonly session: Session;
  readonly one: Unfinished;
  readonly onGoOn: (() => void) | undefined;
  readonly onContinue: (() => void) | undefined;
  readonly onChanged: () => void;
  readonly onWithdrawn: (planId: string) => void;
}
function OnePlan({ session, one, onGoOn, onContinue, onChanged, onWithdrawn }: OneProps) {
  const [withdrawal, setWithdrawal] = useState<WithdrawalReport>();
  const [report, setReport] = useState<WriteReport>();
  const [busy, setBusy] = useState(false);
  const [at] = useState(() => session.clock.now().toISOString());
  const [signer, setSigner] = useState<Awaited<ReturnType<Session["signer"]>>>();
  useEffect(() => {
    session.signer().then(setSigner);
  }, [session]);
  const { stored, total, rest, replaces } = one;
  const by = signer?.ok ? { reference: signer.reference, ...(signer.name ? { display: signer.name } : {}) } : undefined;
  const ending = replaces && endOf(replaces, { signer: by ?? { reference: "" }, at, why: storedWords.reasonRevised });
  const toSign = rest.filter((item) => item.kind !== "provenance");
  const sign = async () => {
    setBusy(true);
    const known = Object.fromEntries(
      stored.items.map(({ key, reference, version }) => [key, { reference, ...(version ? { version } : {}) }]),
    );
    const items = rest.length > 0 ? rest : [endingRecord(one.planId, APP_VERSION)];
    setReport(await writeBack(session, items, "sign", { at, known, ...(ending ? { changes: ending.changes } : {}) }));
    setBusy(false);
    onChanged();
  };
  return (
    <section className="notice unfinished" aria-label={words.unfinishedTitle}>
      <p>
        <b>{words.unfinished(sayDay(one.at), stored.items.length, total)}</b>{" "}
        {replaces ? words.bothInForce : words.unfinishedHint}
      </p>
      {ending && report?.outcome !== "saved" && <Fate title={storedWords.becomes} of={ending} />}
      <details>
        <summary>{words.unfinishedItems}</summary>
        <ul>
          {stored.items.map((item) => (
            <li key={item.reference}>
              {plainText(item.title, 200)}{" "}
              <span className="hint">{item.act === "sign" ? words.signedItem : words.outcome["as-draft"]}</span>
            </li>
          ))}
        </ul>
      </details>
      {report && <Outcome report={report} onAgain={sign} />}
      {withdrawal && <Withdrawn report={withdrawal} />}
      {report?.outcome !== "saved" && withdrawal?.outcome !== "withdrawn" && (
        <div className="act">
          {onGoOn && toSign.length === 0 && !ending && (
            <button type="button" onClick={onGoOn}>
              {words.goOn}
            </button>
          )}
          {(toSign.length > 0 || ending) && (
            <button type="button" disabled={busy || (ending && !by)} onClick={sign}>
              {toSign.length > 0 ? words.signRest(toSign.length) : words.endEarlier(ending?.changes.length ?? 0)}
            </button>
          )}
          {!onGoOn && !ending && toSign.length === 0 && onContinue && (
            <button type="button" onClick={onContinue}>
              {words.continueUnfinished}
            </button>
          )}
          <Withdraw
            session={session}
            planId={one.planId}
            onDone={(done) => {
              setWithdrawal(done);
              if (done.outcome === "withdrawn") onWithdrawn(one.planId);
              onChanged();
            }}
          />
        </div>
      )}
    </section>
  );
}

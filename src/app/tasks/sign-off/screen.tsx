import { type Dispatch, useEffect, useMemo, useState } from "react";
import type { Chart, EarlierPlan } from "../../../fhir/chart.ts";
import {
  type AnswerOrigins,
  asDecided,
  bundleJson,
  bundleOf,
  type DraftItem,
  decisionWords,
  draftPlan,
  editDraft,
  itemsOf,
  type Override,
  removeDraft,
} from "../../../fhir/drafts.ts";
import { awaitsOperation } from "../../../fhir/visit-words.ts";
import {
  type CaseAssessment,
  type CaseRecord,
  type Facts,
  type InjuryModule,
  PURPOSE_WORDS,
  type Reason,
  type SitePolicy,
  urgencyWords,
} from "../../../pathway/index.ts";
import type { Session } from "../../../smart/session.ts";
import { cannotWrite, checkAgain, type WriteReport, writeBack } from "../../../smart/write-back.ts";
import type { CaseAction, CaseState, ItemEdit } from "../../case-state.ts";
import { CopyText } from "../../parts/copy-text.tsx";
import { StepHeading } from "../../parts/step-heading.tsx";
import { plainText } from "../../plain-text.ts";
import { sayFullDay } from "../../say-date.ts";
import { PART_WORDS, type Undecided } from "../../undecided.ts";
import { APP_VERSION } from "../../version.ts";
import { sayDigit } from "../../which-questions.ts";
import { list } from "../../words.ts";
import { DraftCard } from "./draft-card.tsx";
import { Outcome } from "./outcome.tsx";
import { words } from "./words.ts";

export interface SignScreenProps {
  readonly session: Session;
  readonly module: InjuryModule;
  readonly policy: SitePolicy;
  readonly state: CaseState;
  readonly dispatch: Dispatch<CaseAction>;
  readonly record: CaseRecord;
  readonly facts: readonly Facts[];
  readonly assessment: CaseAssessment;
  readonly chart: Chart;
  readonly reasons: { readonly [rule: string]: Reason };
  readonly origins: AnswerOrigins;
  /** Decisions of the clinician whose advice still stands. */
  readonly decisions: readonly Override[];
  /** Of each digit, what open answers keep undecided. */
  readonly undecided: readonly (readonly Undecided[])[];
  /** What the rules derive, for each digit. */
  readonly signs: readonly Facts[];
  /** Number of questions still open. */
  readonly open: number;
  readonly text: string;
  readonly moved: boolean;
  readonly onBack: () => void;
  /** Something was stored: the chart is to be read again, and after signing the kept draft may go. */
  readonly onWritten: (signed: boolean) => void;
}
type Act = "draft" | "sign";
type Signer = Awaited<ReturnType<Session["signer"]>>;
type Known = { readonly [key: string]: { readonly reference: string; readonly version?: string } };

export default function SignScreen(props: SignScreenProps) {
  const {
    session,
    module,
    state,
    dispatch,
    record,
    assessment,
    chart,
    reasons,
    origins,
    decisions,
    policy,
    undecided,
    signs,
    text,
    moved,
    onBack,
    onWritten,
  } = props;
  const [at, setAt] = useState(() => new Date().toISOString());
  const [signer, setSigner] = useState<Signer>();
  const [step, setStep] = useState<keyof typeof words.steps>();
  const [busy, setBusy] = useState(false);
  const [report, setReport] = useState<WriteReport>();
  useEffect(() => {
    session.signer().then(setSigner);
  }, [session]);

  const drafted = useMemo(
    () =>
      draftPlan({
        record,
        assessment,
        module,
        chart,
        reasons,
        origins,
        overrides: decisions,
        policy,
        signs,
        undecided: undecidedWords(undecided).map((u) => `${u}.`),
        planId: state.planId,
        patientId: session.context.patientId,
        ...(chart.patient ? { patientName: chart.patient.name } : {}),
        ...(session.context.encounterId ? { encounterId: session.context.encounterId } : {}),
        appVersion: APP_VERSION,
      }),
    [record, assessment, module, chart, reasons, origins, decisions, policy, signs, undecided, state.planId, session],
  );
  const items = useMemo(() => drafted.map((item) => withEdits(item, state)), [drafted, state]);
  const kept = items.filter((i) => !i.removed);
  const stored = chart.earlierPlans.find((p) => p.planId === state.planId);
  const known = useMemo(() => knownItems(report, stored), [report, stored]);
  const refusals = new Map(cannotWrite(session, kept).map((r) => [r.key, r.reason]));
  const obstacles = whyNotSign(props, signer, kept.length, refusals.size);
  const done = report?.outcome === "saved" && report.act === "sign";
  // Until it is signed, only what stands beside the button that signs may be shown as signed; nothing of it can be taken away.
  const shownAs: Act = obstacles.length === 0 ? "sign" : "draft";
  const takenAs: Act = done ? "sign" : "draft";
  const bundles = useMemo(() => {
    if (!signer?.ok || items.every((i) => i.removed)) return undefined;
    const { reference, name } = signer;
    const of = (act: Act) =>
      bundleOf(items, act, { signer: { reference, ...(name ? { display: name } : {}) }, at, existing: known });
    return { draft: of("draft"), sign: of("sign") };
  }, [items, signer, at, known]);
  const inBundle = bundles ? itemsOf(bundles[shownAs]) : [];
  // The record of who acted gets a key of its own for each act, which begins with the item's.
  const asSent = (key: string) =>
    inBundle.find((i) => i.key === key || i.key.startsWith(`${key}-${shownAs}-`))?.resource;

  const write = async (act: Act) => {
    setBusy(true);
    const ctx = { at, planId: state.planId, known, used: chart.used, onStep: setStep };
    const next =
      report?.items.some((i) => i.outcome === "unknown") && report.act === act
        ? await checkAgain(session, items, act, ctx)
        : await writeBack(session, items, act, ctx);
    setStep(undefined);
    setBusy(false);
    setReport(next);
    // Saving a draft once more is another act with a record of its own; trying the same act again is not.
    if (act === "draft" && next.outcome === "saved") setAt(new Date().toISOString());
    if (next.outcome !== "not-saved") onWritten(act === "sign" && next.outcome === "saved");
  };

  return (
    <article className="sign-off">
      <StepHeading moved={moved}>{done ? words.headingDone : words.heading}</StepHeading>
      {!done && <p>{words.intro}</p>}
      <p role="status" className="progress">
        {step ? words.steps[step] : ""}
      </p>
      {report && !busy && <Outcome report={report} onAgain={() => write(report.act)} />}
      {!done && (
        <>
          <ul className="drafts">
            {items.map((item) => (
              <DraftCard
                key={item.key}
                item={item}
                json={JSON.stringify(asSent(item.key) ?? item.resource, null, 2)}
                sentAs={asSent(item.key) ? shownAs : "item"}
                refused={refusals.get(item.key)}
                onEdit={(field, value) => {
                  const answer = editDraft(item, field, value);
                  if (!answer.ok) return answer.problem;
                  dispatch({ act: "edit-item", edit: { item: item.key, field, value } });
                  return undefined;
                }}
                onRemove={(reason) => dispatch({ act: "remove-item", item: item.key, reason })}
                onRestore={() => dispatch({ act: "restore-item", item: item.key })}
              />
            ))}
          </ul>
          <p>
            {signer === undefined
              ? words.signerReading
              : signer.ok
                ? `${words.signer}: ${plainText(signer.name ?? signer.reference)}`
                : ""}
          </p>
          {obstacles.length > 0 && signer !== undefined && (
            <section aria-labelledby="obstacles" className="obstacles">
              <h2 id="obstacles">{words.cannotSign}</h2>
              <ul>
                {obstacles.map((o) => (
                  <li key={o}>{o}</li>
                ))}
              </ul>
            </section>
          )}
          {obstacles.length === 0 && signer !== undefined && (
            <Confirm
              sentence={sentence(props, kept.length)}
              open={stillOpen(props)}
              count={kept.length}
              busy={busy}
              onGo={() => write("sign")}
            />
          )}
          <div className="act">
            <button
              type="button"
              disabled={
                busy ||
                kept.length === 0 ||
                chart.patient === undefined ||
                chart.patient.stop !== undefined ||
                refusals.size === kept.length
              }
              onClick={() => write("draft")}
            >
              {words.draft}
            </button>
            <button type="button" className="quiet" disabled={busy} onClick={onBack}>
              {words.back}
            </button>
          </div>
        </>
      )}
      <details className="take-along">
        <summary>{words.takeAlong}</summary>
        <CopyText label={words.asText} text={text} />
        {bundles && <TakeBundle act={takenAs} json={bundleJson(bundles[takenAs])} />}
      </details>
    </article>
  );
}

function withEdits(item: DraftItem, state: CaseState): DraftItem {
  const edited = state.edits
    .filter((e: ItemEdit) => e.item === item.key)
    .reduce((draft, e) => {
      const answer = editDraft(draft, e.field, e.value);
      return answer.ok ? answer.item : draft;
    }, item);
  const reason = state.removed[item.key];
  return reason === undefined ? edited : removeDraft(edited, reason);
}

/** What is known to be stored of this plan: what the chart holds of it, and what the last attempt wrote. */
function knownItems(report: WriteReport | undefined, stored: EarlierPlan | undefined): Known {
  const known: Record<string, Known[string]> = {};
  for (const { key, reference, version } of stored?.items ?? [])
    known[key] = { reference, ...(version ? { version } : {}) };
  for (const { key, outcome, reference, version } of report?.items ?? [])
    if (outcome === "saved" && reference) known[key] = { reference, ...(version ? { version } : {}) };
  return known;
}

function whyNotSign(
  { session, facts, assessment, chart }: SignScreenProps,
  signer: Signer | undefined,
  kept: number,
  refused: number,
): string[] {
  const why: string[] = [];
  const state = session.state();
  if (state.kind !== "open") why.push(`${state.problem.title} ${state.problem.next}`);
  if (chart.patient === undefined) why.push(words.needsPatient);
  if (chart.patient?.stop) why.push(chart.patient.stop);
  for (const p of chart.problems) if (p.blocksSigning) why.push(plainText(p.say, 300));
  if (!session.can("CarePlan", "c") || (refused > 0 && refused === kept)) why.push(words.needsScope);
  if (signer && !signer.ok) why.push(signer.reason);
  if (facts.some((f) => typeof f.digit !== "string" || typeof f.side !== "string")) why.push(words.needsName);
  if (assessment.state === "cannot-decide") why.push(words.needsDecision);
  if (kept === 0) why.push(words.needsItems);
  if (!inKnownFrame(session.config.frameAncestors)) why.push(words.unknownFrame);
  return [...new Set(why)];
}

/** An invisible frame of a stranger could steal the press of "Sign"; where the browser tells who frames the page, it is checked. */
function inKnownFrame(allowed: readonly string[]): boolean {
  const ancestors = window.location.ancestorOrigins;
  if (!ancestors) return true;
  return [...ancestors].every((origin) => origin === window.location.origin || allowed.includes(origin));
}

/** Each undecided part once: "Tetanus: cannot decide, needs: doses on record". */
const undecidedWords = (undecided: SignScreenProps["undecided"]): string[] => [
  ...new Set(undecided.flat().map((u) => `${PART_WORDS[u.part]}: ${u.say}`)),
];
const stillOpen = ({ open, undecided }: SignScreenProps): string => words.stillOpen(open, undecidedWords(undecided));

function sentence(props: SignScreenProps, n: number): string {
  const { module, policy, facts, chart, decisions } = props;
  const assessment = asDecided(props.assessment, decisions);
  const digits = assessment.digits.map((d, i) => {
    const named = sayDigit(module, facts[i] ?? {}) ?? "finger not named";
    const classes = [...d.exits.map((e) => e.effect.title), ...d.classes.map((c) => c.name)];
    return `${named}, ${classes.length > 0 ? list(classes) : "not classified"}`;
  });
  const [first] = assessment.visits;
  const { level, words: said } = assessment.urgency;
  return words.sentence({
    patient: chart.patient ? plainText(chart.patient.name, 80) : "an unnamed patient",
    born: sayFullDay(chart.patient?.birthDate),
    digits: digits.join("; "),
    urgency: level ? (said ?? urgencyWords(level, policy)).title.toLowerCase() : "cannot decide",
    own: decisions.map(decisionWords),
    first: first
      ? words.firstVisit(
          PURPOSE_WORDS[first.purpose].toLowerCase(),
          first.dates
            ? sayFullDay(first.dates.ideal)
            : `day ${first.ideal}${awaitsOperation(first) ? " after the operation" : ""}`,
        )
      : words.noVisit,
    open: stillOpen(props),
    n,
  });
}

/** The deliberate act, apart from all else: it says once more for whom, what and when, and its button names the deed. */
function Confirm({
  sentence: said,
  open,
  count,
  busy,
  onGo,
}: {
  sentence: string;
  /** What is signed although it is not known; empty when nothing is open. */
  open: string;
  count: number;
  busy: boolean;
  onGo: () => void;
}) {
  return (
    <section className="confirm" aria-labelledby="confirm">
      <h2 id="confirm">{words.confirmTitle}</h2>
      <p id="confirm-what">
        <bdi>{said}</bdi>
      </p>
      {open && <p className="error">{open}</p>}
      <button type="button" className="primary" disabled={busy} aria-describedby="confirm-what" onClick={onGo}>
        {words.confirmGo(count)}
      </button>
    </section>
  );
}

function TakeBundle({ act, json }: { act: Act; json: string }) {
  const url = useMemo(() => URL.createObjectURL(new Blob([json], { type: "application/fhir+json" })), [json]);
  useEffect(() => () => URL.revokeObjectURL(url), [url]);
  return (
    <>
      <CopyText label={words.asBundle[act]} text={json} rows={8} />
      <p>
        <a href={url} download="plan-bundle.json">
          {words.download}
        </a>{" "}
        <span className="hint">{words.downloadHint}</span>
      </p>
    </>
  );
}

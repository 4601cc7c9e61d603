import { type Dispatch, useEffect, useMemo, useState } from "react";
import { type CodeTable, tableOn } from "../../../coding/tables.ts";
import type { Chart, EarlierPlan } from "../../../fhir/chart.ts";
import { withDaysKept } from "../../../fhir/days-kept.ts";
import {
  type AnswerOrigins,
  asDecided,
  bundleJson,
  bundleOf,
  collectionOf,
  type DraftInput,
  type DraftItem,
  decisionWords,
  draftPlan,
  editDraft,
  itemsOf,
  type Override,
  removeDraft,
} from "../../../fhir/drafts.ts";
import { plainText } from "../../../fhir/plain-text.ts";
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
import { type Capabilities, capabilitiesOf, forgetRefusals } from "../../../smart/capabilities.ts";
import { byHand, type Filing, filedItems, filingOf, type Placed } from "../../../smart/filing.ts";
import type { Session } from "../../../smart/session.ts";
import type { WithdrawalReport } from "../../../smart/unfinished.ts";
import { checkAgain, storedTypes, type WriteReport, writeBack } from "../../../smart/write-back.ts";
import type { CaseAction, CaseState, ItemEdit } from "../../case-state.ts";
import { CopyText } from "../../parts/copy-text.tsx";
import { StepHeading } from "../../parts/step-heading.tsx";
import type { ChartReading } from "../../reading.ts";
import { sayFullDay } from "../../say-date.ts";
import { PART_WORDS, type Undecided } from "../../undecided.ts";
import { APP_VERSION } from "../../version.ts";
import { sayDigit } from "../../which-questions.ts";
import { list } from "../../words.ts";
import { ChartChanged, useChartWatch } from "./chart-changed.tsx";
import { DraftCard } from "./draft-card.tsx";
import { earlierDocuments } from "./earlier-documents.ts";
import { Lanes } from "./lanes.tsx";
import { type LeftAsDraft, Outcome } from "./outcome.tsx";
import { useBeforeWriting, usePlanLife } from "./stored-changes.tsx";
import { ByHand, NotFiled, TakeBundle } from "./take-along.tsx";
import { Withdraw, Withdrawn } from "./withdraw.tsx";
import { words } from "./words.ts";

export interface SignScreenProps {
  readonly session: Session;
  readonly reading: ChartReading;
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
  /** The plan in words. */
  readonly textOf: (assessment: CaseAssessment) => string;
  readonly moved: boolean;
  readonly onBack: () => void;
  /** What is new in the chart comes into the findings. */
  readonly onReadAgain: () => void;
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
    moved,
    onBack,
    onWritten,
  } = props;
  const [at, setAt] = useState(() => session.clock.now().toISOString());
  const [signer, setSigner] = useState<Signer>();
  const [step, setStep] = useState<keyof typeof words.steps>();
  const [busy, setBusy] = useState(false);
  const [report, setReport] = useState<WriteReport>();
  const [left, setLeft] = useState<readonly LeftAsDraft[]>([]);
  const [withdrawal, setWithdrawal] = useState<WithdrawalReport>();
  const [capabilities, setCapabilities] = useState<Capabilities>();
  useEffect(() => {
    session.signer().then(setSigner);
    capabilitiesOf(session).then(setCapabilities);
  }, [session]);

  const watch = useChartWatch(session, props.reading);
  const done = report?.outcome === "saved" && report.act === "sign";
  const frozen = report?.outcome === "unknown" || report?.outcome === "part";
  const { revised } = useBeforeWriting(chart, state, done || frozen);
  const text = props.textOf(withDaysKept(assessment, revised));
  const stored = chart.earlierPlans.find((p) => p.planId === state.planId);
  const { table, ready } = useCodeTable(record);
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
        table,
        signs,
        undecided: undecidedWords(undecided).map((u) => `${u}.`),
        planId: state.planId,
        patientId: session.context.patientId,
        ...(chart.patient ? { patientName: chart.patient.name } : {}),
        ...(session.context.encounterId ? { encounterId: session.context.encounterId } : {}),
        appVersion: APP_VERSION,
        ...watch.acknowledged,
        revises: revised,
        ...draftedBy(stored),
      }),
    [
      record,
      assessment,
      module,
      chart,
      reasons,
      origins,
      decisions,
      policy,
      table,
      signs,
      undecided,
      state.planId,
      session,
      stored,
      watch.acknowledged,
      revised,
    ],
  );
  const edited = useMemo(() => drafted.map((item) => withEdits(item, state)), [drafted, state]);
  const life = usePlanLife({
    ...{ session, state, dispatch, chart, record, at, done, frozen },
    singly: capabilities?.transaction === false,
    items: edited,
    signer: signer?.ok ? signer : undefined,
  });
  const { items } = life;
  const kept = items.filter((i) => !i.removed);
  const known = useMemo(() => knownItems(report, stored), [report, stored]);
  const filing = useMemo(
    () =>
      capabilities &&
      filingOf(items, capabilities, session.can, {
        stored: storedTypes(known, report),
        changes: life.changes.sign.length > 0,
      }),
    [items, capabilities, session, known, report, life],
  );
  const takesNothing = filing?.way === "nothing";
  const obstacles = [...watch.obstacles, ...whyNotSign(props, signer, kept.length), ...life.obstacles];
  // Until it is signed, only what stands beside the button that signs may be shown as signed; nothing of it can be taken away.
  const shownAs: Act = obstacles.length === 0 ? "sign" : "draft";
  const takenAs: Act = done ? "sign" : "draft";
  const replaces = (act: Act) => earlierDocuments(chart.earlierPlans, report, items, act, at);
  const acting = useMemo(() => ready && signer?.ok && actingAs(signer, at), [ready, signer, at]);
  // biome-ignore lint/correctness/useExhaustiveDependencies: what is replaced follows from the chart and the report
  const written = useMemo(() => {
    if (!acting || !filing || takesNothing || life.items.every((i) => i.removed)) return undefined;
    const of = (act: Act) => {
      const filed = filedItems(life.items, filing, { act, ...acting }, replaces(act));
      const by = { ...acting, existing: known, changes: life.changes[act] };
      return { filed, entries: itemsOf(bundleOf(filed, act, by)) };
    };
    return { draft: of("draft"), sign: of("sign") };
  }, [life, filing, acting, known, chart, report]);
  const whole = useMemo(() => {
    if (!acting || life.items.every((i) => i.removed)) return undefined;
    // Nothing of it is in the record, so nothing is left to the record.
    if (takesNothing) return bundleJson(collectionOf(life.items, { act: takenAs, ...acting }));
    return bundleJson(bundleOf(life.items, takenAs, { ...acting, existing: known, changes: life.changes[takenAs] }));
  }, [life, acting, takenAs, known, takesNothing]);
  const byHandText = useMemo(() => {
    if (!filing || kept.length === 0) return undefined;
    return byHand(items, filing, { act: takesNothing ? "draft" : shownAs, ...(acting || actingAs(undefined, at)) });
  }, [items, filing, acting, takesNothing, shownAs, at, kept.length]);
  const inBundle = written?.[shownAs].entries ?? [];
  // The record of who acted gets a key of its own for each act, which begins with the item's.
  const asSent = (key: string) =>
    inBundle.find((i) => i.key === key || i.key.startsWith(`${key}-${shownAs}-`))?.resource;
  const shown = withDocument(items, written?.[shownAs].filed);

  const write = async (act: Act) => {
    setBusy(true);
    setWithdrawal(undefined);
    const { plansSeen } = life;
    const ctx = {
      ...{ at, known, plansSeen, replaces: replaces(act), ...(filing ? { filing } : {}), onStep: setStep },
      changes: life.changes[act],
      beforeSending: watch.beforeSending,
    };
    const next =
      report?.items.some((i) => i.outcome === "unknown") && report.act === act
        ? await checkAgain(session, items, act, ctx)
        : await writeBack(session, items, act, ctx);
    setStep(undefined);
    setBusy(false);
    setReport(next);
    // Of a plan that was signed before, what stands there is no draft.
    setLeft(stored?.signed ? [] : leftAsDrafts(kept, filing, known));
    if (next.outcome === "not-saved") watch.look();
    // What was refused is known from now on: the lanes follow it.
    setCapabilities(await capabilitiesOf(session));
    // Saving a draft once more is another act with a record of its own; trying the same act again is not.
    if (act === "draft" && next.outcome === "saved") setAt(session.clock.now().toISOString());
    if (next.outcome !== "not-saved") onWritten(act === "sign" && next.outcome === "saved");
  };

  const afterWithdrawal = (next: WithdrawalReport) => {
    setWithdrawal(next);
    if (next.outcome === "withdrawn") {
      // What was taken back stays so: what is written next is another plan.
      setReport(undefined);
      dispatch({ act: "continue", planId: crypto.randomUUID(), digits: state.digits.length });
    }
    onWritten(false);
  };

  return (
    <article className="sign-off">
      <StepHeading moved={moved}>
        {done ? words.headingDone : takesNothing ? words.headingNothing : words.heading}
      </StepHeading>
      {!done && <p>{takesNothing ? words.introNothing : words.intro}</p>}
      <p role="status" className="progress">
        {step ? words.steps[step] : ""}
      </p>
      {!done && <ChartChanged watch={watch} text={text} onReadAgain={props.onReadAgain} />}
      {report && !busy && (
        <Outcome
          report={report}
          onAgain={() => write(report.act)}
          left={left}
          withdraw={<Withdraw session={session} planId={state.planId} onDone={afterWithdrawal} />}
        />
      )}
      {withdrawal && <Withdrawn report={withdrawal} />}
      {byHandText && !takesNothing && (done || report) && <ByHand readable={byHandText} />}
      {!done && (
        <>
          {life.panel}
          {filing ? (
            <Lanes
              items={items}
              filing={filing}
              onTryAll={() => {
                forgetRefusals(session.context);
                capabilitiesOf(session).then(setCapabilities);
              }}
            />
          ) : (
            <p role="status">{words.lanesReading}</p>
          )}
          {takesNothing && byHandText && <NotFiled readable={byHandText} json={whole} />}
          <ul className="drafts">
            {shown.map((item) => {
              const sent = asSent(item.key);
              const placed = item.kind === "document" ? FILED : filing?.lanes.get(item.key);
              return (
                <DraftCard
                  key={item.kind === "document" ? "document" : item.key}
                  item={item}
                  json={JSON.stringify(sent ?? item.stands?.resource ?? item.resource, null, 2)}
                  sentAs={sent ? shownAs : notSentAs(placed)}
                  placed={takesNothing ? BY_HAND : placed}
                  inRecord={life.choiceFor(item.key)}
                  onEdit={(field, value) => {
                    const answer = editDraft(item, field, value);
                    if (!answer.ok) return answer.problem;
                    dispatch({ act: "edit-item", edit: { item: item.key, field, value } });
                    return undefined;
                  }}
                  onRemove={(reason) => dispatch({ act: "remove-item", item: item.key, reason })}
                  onRestore={() => dispatch({ act: "restore-item", item: item.key })}
                />
              );
            })}
          </ul>
          <p>
            {signer === undefined
              ? words.signerReading
              : signer.ok
                ? `${words.signer}: ${plainText(signer.name ?? signer.reference)}`
                : ""}
          </p>
          {!takesNothing && byHandText && !report && <ByHand readable={byHandText} />}
          {obstacles.length > 0 && signer !== undefined && !takesNothing && (
            <section aria-labelledby="obstacles" className="obstacles">
              <h2 id="obstacles">{words.cannotSign}</h2>
              <ul>
                {obstacles.map((o) => (
                  <li key={o}>{o}</li>
                ))}
              </ul>
            </section>
          )}
          {obstacles.length === 0 && signer !== undefined && watch.looked && written && (
            <Confirm
              sentence={sentence(props, revised, inBundle.length, notFiled(filing))}
              open={stillOpen(props)}
              count={inBundle.length}
              busy={busy}
              onGo={() => write("sign")}
            />
          )}
          <div className="act">
            {!takesNothing && (
              <button
                type="button"
                disabled={
                  busy ||
                  watch.obstacles.length > 0 ||
                  filing === undefined ||
                  kept.length === 0 ||
                  chart.patient === undefined ||
                  chart.patient.stop !== undefined
                }
                onClick={() => write("draft")}
              >
                {words.draft}
              </button>
            )}
            <button type="button" className="quiet" disabled={busy} onClick={onBack}>
              {words.back}
            </button>
          </div>
        </>
      )}
      <details className="take-along">
        <summary>{words.takeAlong}</summary>
        <CopyText label={words.asText} text={text} />
        {whole && <TakeBundle label={words.asBundle[takenAs]} json={whole} />}
      </details>
    </article>
  );
}

/** Saved drafts whose changing is refused: what is signed of them stands in the document or is entered by hand. */
const leftAsDrafts = (kept: readonly DraftItem[], filing: Filing | undefined, known: Known): LeftAsDraft[] =>
  kept.flatMap(({ key, title, kind }) => {
    const isFiled = kind === "provenance" || (filing?.lanes.get(key)?.lane ?? "filed") === "filed";
    const reference = known[key]?.reference;
    return isFiled || reference === undefined ? [] : [{ key, title, reference }];
  });

/** Who saved the draft that is gone on with, where it was somebody else. */
function draftedBy(stored: EarlierPlan | undefined): Pick<DraftInput, "draftedBy"> {
  const { own, reference, name } = stored?.author ?? { own: true };
  if (own || stored?.signed || reference === undefined) return {};
  return { draftedBy: { reference, ...(name ? { display: name } : {}) } };
}
const FILED: Placed = { lane: "filed" };
/** Where nothing is filed the reason is said once, above. */
const BY_HAND: Placed = { lane: "by-hand" };
const notSentAs = (placed: Placed | undefined) =>
  placed?.lane === "in-document" ? "document" : placed?.lane === "by-hand" ? "by-hand" : "item";
const notFiled = (filing: Filing | undefined): number =>
  [...(filing?.lanes.values() ?? [])].filter(({ lane }) => lane === "by-hand").length;
/** Somebody whose sign-in could not be verified is named as that, never left out. */
const actingAs = (signer: Extract<Signer, { ok: true }> | undefined, at: string) => ({
  signer: signer
    ? { reference: signer.reference, ...(signer.name ? { display: signer.name } : {}) }
    : { reference: "unknown", display: words.notVerified },
  at,
});
/** The items with the document that is filed beside them, where it will stand. */
function withDocument(items: readonly DraftItem[], filed: readonly DraftItem[] | undefined): readonly DraftItem[] {
  const document = filed?.find((item) => item.kind === "document");
  if (!document) return items;
  const record = items.findIndex((item) => item.kind === "provenance");
  const at = record < 0 ? items.length : record;
  return [...items.slice(0, at), document, ...items.slice(at)];
}

/** Descriptions of other codes than fractures', only where a digit has no fracture; when they cannot be loaded, coders give the code. */
function useCodeTable({ assessedAt, digits }: CaseRecord): {
  readonly table?: CodeTable | undefined;
  readonly ready: boolean;
} {
  const wanted = digits.some((digit) => digit.fractureSite === "no-fracture-seen");
  const day = assessedAt.slice(0, 10);
  const [loaded, setLoaded] = useState<{ readonly day: string; readonly table?: CodeTable | undefined }>();
  useEffect(() => {
    if (!wanted) return;
    let current = true;
    const set = (table?: CodeTable) => {
      if (current) setLoaded({ day, table });
    };
    tableOn(day).then(set, () => set());
    return () => {
      current = false;
    };
  }, [wanted, day]);
  if (!wanted) return { ready: true };
  return loaded?.day === day ? { table: loaded.table, ready: true } : { ready: false };
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
): string[] {
  const why: string[] = [];
  const state = session.state();
  if (state.kind !== "open") why.push(`${state.problem.title} ${state.problem.next}`);
  if (chart.patient === undefined) why.push(words.needsPatient);
  if (chart.patient?.stop) why.push(chart.patient.stop);
  for (const p of chart.problems) if (p.blocksSigning) why.push(plainText(p.say, 300));
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

function sentence(props: SignScreenProps, revised: EarlierPlan | undefined, n: number, notFiled: number): string {
  const { module, policy, facts, chart, decisions } = props;
  const assessment = withDaysKept(asDecided(props.assessment, decisions), revised);
  const digits = assessment.digits.map((d, i) => {
    const named = sayDigit(module, facts[i] ?? {}) ?? "finger not named";
    const classes = [...d.exits.map((e) => e.effect.title), ...d.classes.map((c) => c.name)];
    return `${named}, ${classes.length > 0 ? list(classes) : "not classified"}`;
  });
  const [first] = assessment.visits;
  const identifier = chart.patient?.identifiers[0];
  const { level, words: said } = assessment.urgency;
  return words.sentence({
    patient: chart.patient ? plainText(chart.patient.name, 80) : "an unnamed patient",
    born: sayFullDay(chart.patient?.birthDate),
    sex: chart.patient?.sex ?? "",
    number: identifier ? `${plainText(identifier.label, 24)} ${plainText(identifier.value, 32)}` : "",
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
    notFiled,
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

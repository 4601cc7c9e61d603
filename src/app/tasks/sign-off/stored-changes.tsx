import { type Dispatch, type ReactNode, useId, useMemo, useRef } from "react";
import type { Chart, EarlierPlan } from "../../../fhir/chart.ts";
import type { DraftItem } from "../../../fhir/drafts.ts";
import { writtenBy } from "../../../fhir/earlier.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { entryKey, freeDiagnoses, refineDraft, type SameDiagnosis, sameDiagnoses } from "../../../fhir/refine.ts";
import { type Difference, differencesFrom, driftOf, droppedFrom, revisionOf } from "../../../fhir/revision.ts";
import { type SameInjury, samePlans } from "../../../fhir/same-injury.ts";
import type { Changes, StoredChange } from "../../../fhir/stored-change.ts";
import { type CaseRecord, KNOWLEDGE_VERSION } from "../../../pathway/index.ts";
import type { Session } from "../../../smart/session.ts";
import type { CaseAction, CaseState } from "../../case-state.ts";
import { sayDay, sayShortDay } from "../../say-date.ts";
import { words } from "./stored-words.ts";

interface LifeProps {
  readonly session: Session;
  readonly state: CaseState;
  readonly dispatch: Dispatch<CaseAction>;
  readonly chart: Chart;
  readonly record: CaseRecord;
  readonly items: readonly DraftItem[];
  readonly signer: { readonly reference: string; readonly name?: string } | undefined;
  readonly at: string;
  /** Signed, or written in a way that is not known yet: what was meant is shown on and looked for, whatever the chart says by now. */
  readonly done: boolean;
  readonly frozen: boolean;
  /** The record system takes one item at a time. */
  readonly singly: boolean;
}
export interface PlanLife {
  /** The items with what the record already holds of them. */
  readonly items: readonly DraftItem[];
  readonly changes: { readonly draft: readonly StoredChange[]; readonly sign: readonly StoredChange[] };
  /** What has to be said before it can be signed. */
  readonly obstacles: readonly string[];
  /** Plans in the record that the clinician has seen here. */
  readonly plansSeen: readonly string[];
  readonly panel: ReactNode;
  readonly choiceFor: (key: string) => ReactNode;
}

const EARLIER = "earlier ";
const NEW = "new";
const said = (state: CaseState, item: string, field: string): string | undefined =>
  state.edits.find((e) => e.item === item && e.field === field)?.value;
const carePlanOf = (plan: EarlierPlan) => plan.items.find((i) => i.type === "CarePlan")?.reference;
const nothing: Changes = { changes: [], left: [] };

/** The signed plan whose place this one is to take, by the clinician's word or that of the stored draft. */
function revisedIn(state: CaseState, plans: readonly EarlierPlan[]): EarlierPlan | undefined {
  return plans.find((p) => p.signed && p.planId !== state.planId && choiceIn(state, plans, p) === "revise");
}
function choiceIn(state: CaseState, plans: readonly EarlierPlan[], plan: EarlierPlan): string | undefined {
  const stored = plans.find((p) => p.planId === state.planId && !p.signed);
  return (
    said(state, "plan", EARLIER + plan.planId) ??
    (stored?.revises !== undefined && stored.revises === carePlanOf(plan) ? "revise" : undefined)
  );
}
/**
 * The chart as it was before anything was written, and the plan that is revised in it. What was just written would otherwise be taken for an
 * earlier plan of this injury, and be written a second time.
 *
 * @param isWritten signed, or written in a way that is not known yet
 */
export function useBeforeWriting(chart: Chart, state: CaseState, isWritten: boolean) {
  const held = useRef(chart);
  if (!isWritten) held.current = chart;
  return { chart: held.current, revised: revisedIn(state, held.current.earlierPlans) };
}

/**
 * What the record already holds of this injury, and what signing makes of it: an earlier plan is gone on with, revised or kept apart; an
 * entry of the chart is refined; what a stored draft no longer holds is taken out. The clinician's choices are kept with the edits of the draft.
 */
export function usePlanLife({
  session,
  state,
  dispatch,
  chart,
  record,
  items,
  signer,
  at,
  done,
  frozen,
  singly,
}: LifeProps): PlanLife {
  const { chart: shown, revised } = useBeforeWriting(chart, state, done || frozen);
  const { earlierPlans } = shown;
  const choose = (item: string, field: string, value: string) =>
    dispatch({ act: "edit-item", edit: { item, field, value } });

  const stored = earlierPlans.find((p) => p.planId === state.planId && !p.signed);
  const matches = useMemo(
    () =>
      samePlans(earlierPlans, record, session.context.patientId).filter(
        ({ plan }) => plan.planId !== state.planId || plan.signed,
      ),
    [earlierPlans, record, session, state.planId],
  );
  const choiceOf = (plan: EarlierPlan) => choiceIn(state, earlierPlans, plan);
  const open = matches.filter(({ plan }) => choiceOf(plan) === undefined || plan.planId === state.planId);

  const mayRefine = session.can("Condition", "u");
  const candidates = useMemo(() => {
    const free = freeDiagnoses(shown);
    return new Map(
      items
        .filter((i) => i.kind === "condition")
        .map((item, i) => [item.key, sameDiagnoses(free, record.digits[i] ?? {})] as const)
        .filter(([key]) => !revised?.items.some((i) => i.key === key)),
    );
  }, [shown, items, record, revised]);
  /** Nothing is chosen for the clinician: it was confirmed together with finger and side, or it is chosen here. */
  const entryFor = (key: string): SameDiagnosis | "new" | "open" => {
    const fitting = (candidates.get(key) ?? []).filter((c) => c.fit !== "other-side");
    if (!mayRefine || fitting.length === 0) return NEW;
    const choice = said(state, key, "refines") ?? confirmedWith(key);
    if (choice === NEW) return NEW;
    return fitting.find((c) => c.existing.reference === choice) ?? "open";
  };
  const confirmedWith = (key: string): string | undefined => {
    const at = items.filter((i) => i.kind === "condition").findIndex((i) => i.key === key);
    return said(state, entryKey(record.digits[at] ?? {}), "refines");
  };

  const acting = {
    signer: { reference: signer?.reference ?? "", ...(signer?.name ? { display: signer.name } : {}) },
    at,
  };
  const refinedItems = items.map((item) => {
    const entry = item.kind === "condition" ? entryFor(item.key) : NEW;
    return typeof entry === "string" ? item : refineDraft(item, entry.existing);
  });
  const revision = revised
    ? revisionOf(refinedItems, revised, { ...acting, why: words.reasonRevised })
    : { items: refinedItems, ...nothing };
  const dropped = stored ? droppedFrom(revision.items, stored, { ...acting, why: words.reasonDropped }) : nothing;

  const versionThen = stored?.knowledgeVersion;
  const reviewed = stored !== undefined && versionThen !== undefined && versionThen !== KNOWLEDGE_VERSION;
  const differences = stored ? differencesFrom(revision.items, stored) : [];
  const looked = `${versionThen} ${KNOWLEDGE_VERSION}`;
  const hasLooked = said(state, "plan", "looked-at") === looked;

  const obstacles = [
    ...(open.length > 0 ? [words.undecided] : []),
    ...(reviewed && differences.length > 0 && !hasLooked ? [words.lookFirst] : []),
    ...revision.items.flatMap((i) =>
      i.kind === "condition" && !i.removed && entryFor(i.key) === "open" ? [words.chooseEntry(i.title)] : [],
    ),
  ];

  const panel = done ? null : (
    <>
      {open.length > 0 || matches.length > 0 ? (
        <section className="earlier-injury" aria-labelledby="earlier-injury">
          <h2 id="earlier-injury">{words.earlierHeading}</h2>
          {matches.map((match) => (
            <EarlierChoice
              key={match.plan.planId}
              match={match}
              choice={match.plan.planId === state.planId ? undefined : choiceOf(match.plan)}
              onChoose={(choice) => {
                const { planId, findings } = match.plan;
                if (choice === "continue") dispatch({ act: "continue", planId, digits: findings?.digits.length ?? 1 });
                else {
                  // A signed plan keeps its identity: what follows it, or stands beside it, is another plan.
                  if (planId === state.planId)
                    dispatch({ act: "continue", planId: crypto.randomUUID(), digits: state.digits.length });
                  choose("plan", EARLIER + planId, choice);
                }
              }}
            />
          ))}
          <p>
            <a href="#record">{words.read}</a>
          </p>
        </section>
      ) : null}
      {stored && (
        <section className="stored-draft" aria-labelledby="stored-draft">
          <h2 id="stored-draft">
            {reviewed
              ? words.reviewHeading(versionThen, KNOWLEDGE_VERSION)
              : words.goesOn(writtenBy(stored).label, sayDay(stored.written))}
          </h2>
          {differences.length === 0 ? (
            <p>{words.noDifference}</p>
          ) : (
            <details open={reviewed}>
              <summary>{words.differs}</summary>
              <p className="hint">{words.differsHint}</p>
              <Differences of={differences} />
            </details>
          )}
          {reviewed && differences.length > 0 && (
            <label className="look">
              <input
                type="checkbox"
                checked={hasLooked}
                onChange={(e) => choose("plan", "looked-at", e.target.checked ? looked : "")}
              />{" "}
              {words.looked}
            </label>
          )}
          <Drifted plan={stored} />
          <Fate title={words.becomesDraft} of={dropped} />
        </section>
      )}
      {revised && (
        <section className="earlier-becomes" aria-labelledby="earlier-becomes">
          <h2 id="earlier-becomes">{words.becomes}</h2>
          <p>{singly ? words.onSigningSingly : words.onSigning}</p>
          <Fate of={revision} />
          <p>{words.daysStay}</p>
          <p>{words.unchanged(revision.items.filter((i) => i.stands).length)}</p>
          <Drifted plan={revised} />
        </section>
      )}
    </>
  );

  return {
    items: revision.items,
    changes: { draft: dropped.changes, sign: [...revision.changes, ...dropped.changes] },
    obstacles,
    plansSeen: chart.earlierPlans.flatMap((p) => carePlanOf(p) ?? []),
    panel,
    choiceFor: (key) => {
      const stands = revision.items.find((i) => i.key === key)?.stands;
      if (stands) return <p className="hint">{words.stands(stands.reference)}</p>;
      const entries = candidates.get(key) ?? [];
      if (done || entries.length === 0) return null;
      const entry = entryFor(key);
      return (
        <EntryChoice
          entries={entries}
          mayRefine={mayRefine}
          confirmed={said(state, key, "refines") === undefined && typeof entry !== "string"}
          chosen={typeof entry === "string" ? entry : entry.existing.reference}
          onChoose={(value) => choose(key, "refines", value)}
        />
      );
    },
  };
}

function EarlierChoice({
  match: { plan, fit },
  choice,
  onChoose,
}: {
  match: SameInjury;
  choice: string | undefined;
  onChoose: (choice: "continue" | "revise" | "apart") => void;
}) {
  const name = useId();
  const day = sayDay(plan.written);
  const options = [
    plan.signed ? (["revise", words.revise] as const) : (["continue", words.continueDraft] as const),
    ["apart", words.apart] as const,
  ];
  return (
    <fieldset>
      <legend>
        <bdi>{plainText(plan.title, 120)}</bdi>.{" "}
        {plan.signed ? words.signed(day) : words.draftBy(plainText(writtenBy(plan).label, 120), day)}.
      </legend>
      <p className="hint">{fit === "same" ? words.same : words.perhaps}</p>
      {options.map(([value, label]) => (
        <label key={value} className="look">
          <input type="radio" name={name} checked={choice === value} onChange={() => onChoose(value)} /> {label}
        </label>
      ))}
    </fieldset>
  );
}

function EntryChoice({
  entries,
  mayRefine,
  confirmed,
  chosen,
  onChoose,
}: {
  entries: readonly SameDiagnosis[];
  mayRefine: boolean;
  /** It was said together with finger and side that this is the entry. */
  confirmed: boolean;
  chosen: string;
  onChoose: (value: string) => void;
}) {
  const name = useId();
  const fitting = entries.filter((e) => e.fit !== "other-side");
  const day = ({ line }: SameDiagnosis) => (line.onset ? sayShortDay(line.onset) : "");
  return (
    <>
      {fitting.length > 0 && mayRefine && (
        <fieldset className="chart-entry">
          <legend>{words.chartHolds}</legend>
          {fitting.map((entry) => (
            <label key={entry.existing.reference} className="look">
              <input
                type="radio"
                name={name}
                checked={chosen === entry.existing.reference}
                onChange={() => onChoose(entry.existing.reference)}
              />{" "}
              <bdi>{words.refine(plainText(entry.line.text, 120), day(entry))}</bdi>
            </label>
          ))}
          <label className="look">
            <input type="radio" name={name} checked={chosen === NEW} onChange={() => onChoose(NEW)} /> {words.fileNew}
          </label>
          {confirmed && <p className="hint">{words.entryConfirmed}</p>}
          <p className="hint">{words.refineHint}</p>
        </fieldset>
      )}
      {fitting.length > 0 && !mayRefine && <p className="hint">{words.cannotRefine}</p>}
      {entries
        .filter((e) => e.fit === "other-side")
        .map((e) => (
          <p key={e.existing.reference} className="error">
            {words.otherSide(plainText(e.line.text, 120))}
          </p>
        ))}
    </>
  );
}

/** What is changed of stored resources, and what is not touched and why. */
export function Fate({ title, of: { changes, left } }: { title?: string; of: Changes }) {
  if (changes.length + left.length === 0) return null;
  return (
    <>
      {title && <h3>{title}</h3>}
      <ul className="fate">
        {changes.map((c) => (
          <li key={c.key}>
            <bdi>{plainText(c.title, 160)}</bdi>
            <span className="hint">{c.words.join(" ")}</span>
          </li>
        ))}
        {left.map((l) => (
          <li key={l.reference} className={l.clinic ? "clinic" : ""}>
            <bdi>{plainText(l.title, 160)}</bdi>
            <span className="hint">
              {l.clinic ? <b>{words.tellClinic}: </b> : `${words.left}: `}
              {l.why}
            </span>
          </li>
        ))}
      </ul>
    </>
  );
}

function Differences({ of }: { of: readonly Difference[] }) {
  const lines = (label: string, said: readonly string[]) =>
    said.map((line) => (
      <li key={`${label} ${line}`}>
        {label}: <bdi>{plainText(line, 300)}</bdi>
      </li>
    ));
  return (
    <ul className="differences">
      {of.map((d) => (
        <li key={d.title}>
          <b>{plainText(d.title, 160)}</b>
          <ul>
            {lines(words.before, d.gone)}
            {lines(words.now, d.added)}
          </ul>
        </li>
      ))}
    </ul>
  );
}

/** What people changed in the record since this program wrote it. */
export function Drifted({ plan }: { plan: EarlierPlan }) {
  const drift = useMemo(() => driftOf(plan), [plan]);
  if (drift.length === 0) return null;
  return (
    <>
      <h3>{words.drift}</h3>
      <p className="hint">{words.driftHint}</p>
      <Differences of={drift} />
    </>
  );
}

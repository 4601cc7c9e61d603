/**
 * What looks after the page itself while the clinician works: whether somebody is there, whether the sign-in lasts, whether
 * the clocks agree, whether another window was opened, whether the program is still the newest. Arrives after the questions.
 */
import { type Dispatch, useEffect, useState, useSyncExternalStore } from "react";
import type { AskedInjury, Facts } from "../../pathway/asked.ts";
import type { Problem } from "../../smart/problem.ts";
import { lostFunctions } from "../../smart/scopes.ts";
import type { Session } from "../../smart/session.ts";
import type { CaseAction, CaseState } from "../case-state.ts";
import { type DraftOwner, keptDraftOf } from "../draft-keeper.ts";
import type { Proposals } from "../proposals.ts";
import type { ChartReading } from "../reading.ts";
import { localTime, sayDay } from "../say-date.ts";
import type { Step } from "../steps.ts";
import { newsOf } from "./chart-news.ts";
import { LOCK_AFTER_MINUTES, TICK_SECONDS, VERSION_EVERY_MINUTES, WARN_BEFORE_SECONDS } from "./figures.ts";
import { useIdle } from "./idle.ts";
import { newerVersionOf } from "./newer-version.ts";
import { oneWindowOf } from "./one-window.ts";
import { holdsOthersDraft } from "./others-drafts.ts";
import { TakenOverNotice } from "./taken-over.tsx";
import { isUnsaved } from "./unsaved.ts";
import { words } from "./words.ts";

interface WatchRoomProps {
  readonly session: Session;
  readonly reading: ChartReading;
  readonly owner: DraftOwner;
  readonly state: CaseState;
  /** What was last stored in the chart, as a draft or signed. */
  readonly stored: CaseState | undefined;
  readonly step: Step;
  readonly module: AskedInjury;
  /** Facts of each digit, by its place. */
  readonly facts: readonly Facts[];
  readonly proposals: Proposals;
  readonly dispatch: Dispatch<CaseAction>;
  /** When the answers that came back from the tab were given; undefined when none did. */
  readonly back: string | undefined;
  readonly onReadOnly: (readOnly: boolean) => void;
  readonly onCover: (problem: Problem) => void;
}

export function WatchRoom({
  session,
  reading,
  owner,
  state,
  stored,
  step,
  module,
  facts,
  proposals,
  dispatch,
  back,
  onReadOnly,
  onCover,
}: WatchRoomProps) {
  const idle = useIdle(session.config.coverAfterMinutes ?? LOCK_AFTER_MINUTES, () => {
    const kept = owner.user !== undefined && keptDraftOf(owner) !== undefined;
    session.end();
    onCover({ kind: "covered", title: words.idle.title, what: words.idle.what(kept), next: words.idle.next });
  });
  const secondsLeft = useSecondsLeft(session);
  const sessionState = session.state();
  const outdated = useOutdated(session, step);
  const off = useClock(session, reading, dispatch);
  const windows = oneWindowOf(session.context);
  const aside = useSyncExternalStore(windows.onChange, windows.aside);
  const news = newsOf(session, reading);
  const taken = useSyncExternalStore(news.onChange, news.taken);
  const [first] = useState(state);
  const broughtBack = back !== undefined && isUnsaved(first, undefined) && !isUnsaved(state, first);
  const [others] = useState(() => holdsOthersDraft(owner));
  const unsaved = isUnsaved(state, stored);

  useEffect(() => windows.open(), [windows]);
  useEffect(() => {
    onReadOnly(aside !== undefined);
  }, [aside, onReadOnly]);
  useEffect(() => {
    if (!unsaved) return;
    const ask = (event: BeforeUnloadEvent) => event.preventDefault();
    window.addEventListener("beforeunload", ask);
    return () => window.removeEventListener("beforeunload", ask);
  }, [unsaved]);

  return (
    <div className="watch">
      {aside && (
        <section className="notice" role="alert">
          <p>
            <b>{words.aside.title[aside.by]}</b> {words.aside.what}
          </p>
          {aside.mayGoOn ? (
            <button type="button" onClick={() => windows.goOn()}>
              {words.aside.goOn}
            </button>
          ) : (
            <p>{words.aside.replaced}</p>
          )}
        </section>
      )}
      {sessionState.kind === "ended" && (
        <section className="notice" role="alert">
          <p>
            <b>{sessionState.problem.title}</b> {sessionState.problem.what} {sessionState.problem.next} {words.ended}
          </p>
        </section>
      )}
      {idle && (
        <section className="notice pressing" role="alert">
          <p>{words.idle.warning(WARN_BEFORE_SECONDS)}</p>
          <button type="button">{words.idle.stay}</button>
        </section>
      )}
      {secondsLeft !== undefined && <Notice alert>{words.signIn(secondsLeft)}</Notice>}
      {off !== 0 && <Notice alert>{words.clock(off, sayDay(localTime(session.clock.now())))}</Notice>}
      {outdated && <Notice alert>{words.version}</Notice>}
      {others && <Notice>{words.others}</Notice>}
      {broughtBack && step === "findings" && <Notice>{words.back(sayDay(back))}</Notice>}
      {step === "findings" && <Withheld granted={session.granted} />}
      <TakenOverNotice
        {...{ taken, module, facts, proposals, dispatch }}
        shown={step === "findings" || step === "plan"}
      />
    </div>
  );
}

const Notice = ({ children, alert }: { children: string; alert?: boolean }) => (
  <section className="notice" role={alert ? "alert" : "status"}>
    <p>{children}</p>
  </section>
);

/** What has to be done without, because the record system granted less than was asked. */
function Withheld({ granted }: { granted: readonly string[] }) {
  const lost = lostFunctions(granted);
  if (lost.length === 0) return null;
  return (
    <details className="notice">
      <summary>{words.withheld(lost.length)}</summary>
      <ul>
        {lost.map((one) => (
          <li key={one.scope}>{one.words}</li>
        ))}
      </ul>
    </details>
  );
}

/** Seconds that the sign-in still lasts, once they are few and it cannot be renewed. */
function useSecondsLeft(session: Session): number | undefined {
  const [few, setFew] = useState(false);
  useEffect(() => {
    const look = () => {
      const state = session.state();
      setFew(state.kind === "open" && state.last === true && (state.secondsLeft ?? Infinity) <= WARN_BEFORE_SECONDS);
    };
    look();
    const timer = setInterval(look, TICK_SECONDS * 1000);
    const unsubscribe = session.onChange(look);
    return () => {
      clearInterval(timer);
      unsubscribe();
    };
  }, [session]);
  const state = session.state();
  return few && state.kind === "open" ? state.secondsLeft : undefined;
}

/** Whether a newer program is installed: looked for rarely, and when the clinician comes to sign. */
function useOutdated(session: Session, step: Step): boolean {
  const newer = newerVersionOf(session.context);
  const signing = step === "sign";
  // biome-ignore lint/correctness/useExhaustiveDependencies: looked for again when the clinician comes to sign
  useEffect(() => {
    const look = () => void newer.look(session.clock);
    look();
    const timer = setInterval(look, VERSION_EVERY_MINUTES * 60_000);
    return () => clearInterval(timer);
  }, [session, newer, signing]);
  return useSyncExternalStore(newer.onChange, newer.known);
}

/**
 * Milliseconds by which the record system's clock is ahead, when that matters. Before it is said, the time is asked afresh: an
 * answer out of the browser's cache carries an old date. Days that were counted by the wrong clock are counted again.
 */
function useClock(session: Session, reading: ChartReading, dispatch: Dispatch<CaseAction>): number {
  const { clock, context, fhir } = session;
  const [off, setOff] = useState(0);
  const heard = useSyncExternalStore(reading.onPart, () => clock.off);
  useEffect(() => {
    if (heard === off) return;
    const settle = () => {
      if (clock.off === off) return;
      setOff(clock.off);
      const now = localTime(clock.now());
      dispatch({ act: "clock", now });
      // Films and reports were asked for by days counted from a day that was not today.
      if (now.slice(0, 10) !== localTime(new Date()).slice(0, 10)) reading.again(["imaging", "reports"]);
    };
    if (off !== 0 && heard === 0) settle();
    else void fhir.read(`Patient/${context.patientId}`).then(settle, settle);
  }, [heard, off, clock, context, fhir, reading, dispatch]);
  return off;
}

/** The clinic's desk: what is to be arranged, what would be forgotten, what is booked. Opened by clinic staff without a patient. */
import { useEffect, useMemo, useRef, useState, useSyncExternalStore } from "react";
import { plainText } from "../../../fhir/plain-text.ts";
import { dayAfter, whyClosed } from "../../../scheduling/index.ts";
import { clinicLosses } from "../../../smart/clinic-scopes.ts";
import { readSchedules } from "../../../smart/clinic-times.ts";
import type { Problem } from "../../../smart/problem.ts";
import type { ClinicSession } from "../../../smart/session.ts";
import { ProblemScreen } from "../../parts/problem-screen.tsx";
import { APP_VERSION } from "../../version.ts";
import { LOCK_AFTER_MINUTES, WARN_BEFORE_SECONDS } from "../../watch/figures.ts";
import { useIdle } from "../../watch/idle.ts";
import { words as watchWords } from "../../watch/words.ts";
import { words as appWords } from "../../words.ts";
import sheet from "./arrange.css?url";
import { BookedView } from "./booked-view.tsx";
import { closedNote, readClosed } from "./closed-days.ts";
import { LostView } from "./lost-view.tsx";
import { dayOf, useAsked } from "./use-clinic.ts";
import { ArrangeView } from "./visit-list.tsx";
import { words } from "./words.ts";

/** So far ahead visits are arranged; days. [common practice, no source] */
const AHEAD = 84;
const VIEWS = ["arrange", "again", "booked"] as const;
type View = (typeof VIEWS)[number];
const viewNow = (): View => VIEWS.find((view) => window.location.hash === `#${view}`) ?? "arrange";
const onHash = (listener: () => void) => {
  window.addEventListener("hashchange", listener);
  return () => window.removeEventListener("hashchange", listener);
};

export default function ClinicDesk({ session }: { session: ClinicSession }) {
  const view = useSyncExternalStore(onHash, viewNow);
  const [first] = useState(view);
  const [moved, setMoved] = useState(false);
  const main = useRef<HTMLElement>(null);
  const [covered, setCovered] = useState<Problem>();
  const [day] = useState(() => dayOf(session));
  const kind = useSyncExternalStore(session.onChange, () => session.state().kind);
  const schedules = useAsked("schedules", () => readSchedules(session));
  const closedDays = useAsked("closed", () => readClosed(session.config));
  const known = schedules.value;
  const closed = closedDays.value;
  const clinic = useMemo(() => {
    const at = known?.ok ? known.value : [];
    return known && closed && { session, day, schedules: at, closed: whyClosed(closed.closedDays, at) };
  }, [known, closed, session, day]);
  const warning = useIdle(session.config.coverAfterMinutes ?? LOCK_AFTER_MINUTES, () => {
    session.end();
    setCovered({
      kind: "covered",
      title: watchWords.idle.title,
      what: watchWords.idle.what(false),
      next: watchWords.idle.next,
    });
  });
  useEffect(() => {
    if (view !== first) setMoved(true);
    if (moved || view !== first) main.current?.querySelector("h1")?.focus();
  }, [view, first, moved]);

  if (covered) return <ProblemScreen problem={covered} />;
  const note = closed && closedNote(closed, dayAfter(day.today, AHEAD), known?.ok ? known.value : undefined);
  const losses = clinicLosses(session.granted);
  const state = session.state();
  return (
    <>
      <link rel="stylesheet" href={sheet} precedence="default" />
      <a className="skip" href="#main">
        Skip to the task
      </a>
      <header className="top no-print">
        <p className="name">{appWords.app}</p>
        <nav aria-label={words.title}>
          <ol>
            {VIEWS.map((one) => (
              <li key={one}>
                <a href={`#${one}`} aria-current={one === view ? "page" : undefined}>
                  {words.views[one]}
                </a>
              </li>
            ))}
          </ol>
        </nav>
      </header>
      <main className="page clinic" id="main" tabIndex={-1} ref={main}>
        {kind !== "open" && state.kind !== "open" ? (
          <section className="obstacles stop" role="alert">
            <h1>Stop</h1>
            <p>
              {state.problem.title} {state.problem.what} {state.problem.next}
            </p>
          </section>
        ) : (
          <>
            {warning && (
              <section className="notice pressing" role="alert">
                <p>{watchWords.idle.warning(WARN_BEFORE_SECONDS)}</p>
                <button type="button">{watchWords.idle.stay}</button>
              </section>
            )}
            {losses.length > 0 && (
              <details className="notice no-print">
                <summary>{words.losses}</summary>
                <ul>
                  {losses.map((text) => (
                    <li key={text}>{text}</li>
                  ))}
                </ul>
              </details>
            )}
            {known && !known.ok && (
              <p className="notice">
                {known.problem.title} {known.problem.next}
              </p>
            )}
            {!clinic && (
              <>
                <h1>{words.views[view]}</h1>
                <p role="status">{words.reading}</p>
              </>
            )}
            {clinic && view === "arrange" && <ArrangeView clinic={clinic} />}
            {clinic && view === "again" && <LostView clinic={clinic} />}
            {clinic && view === "booked" && <BookedView clinic={clinic} />}
            {note && <p className="hint no-print">{note}</p>}
          </>
        )}
      </main>
      <footer className="no-print">
        <p>
          {words.signIn} {plainText(session.user.name ?? "")} · {plainText(session.issuer.label)} · Program{" "}
          {APP_VERSION}
        </p>
      </footer>
    </>
  );
}

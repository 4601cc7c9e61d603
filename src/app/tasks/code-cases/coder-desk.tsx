/** The coder's desk: signed records by day and state, one record with its codes, and the export of a period. Opened without a patient. */
import { useEffect, useMemo, useRef, useState, useSyncExternalStore } from "react";
import type { CodingCase } from "../../../fhir/coding-case.ts";
import { FIRST_ASKED } from "../../../pathway/asked.ts";
import { coderLosses } from "../../../smart/coder-scopes.ts";
import type { CaseFilter } from "../../../smart/coding-list.ts";
import type { Problem } from "../../../smart/problem.ts";
import type { ClinicSession } from "../../../smart/session.ts";
import { useRules } from "../../late-rooms.ts";
import { ProblemScreen } from "../../parts/problem-screen.tsx";
import { dayAfter } from "../../say-date.ts";
import { APP_VERSION } from "../../version.ts";
import { LOCK_AFTER_MINUTES, WARN_BEFORE_SECONDS } from "../../watch/figures.ts";
import { useIdle } from "../../watch/idle.ts";
import { words as watchWords } from "../../watch/words.ts";
import { words as appWords } from "../../words.ts";
import { CaseList, type ShownState } from "./case-list.tsx";
import { CaseScreen } from "./case-screen.tsx";
import sheet from "./code-cases.css?url";
import { ExportPanel } from "./export-panel.tsx";
import { useCases } from "./use-cases.ts";
import { dayOf } from "./use-coding.ts";
import { words } from "./words.ts";

/** Days that the list shows at first. [common practice, no source] */
const FIRST_DAYS = 30;
const VIEWS = ["list", "export"] as const;
type View = (typeof VIEWS)[number];

export default function CoderDesk({ session, policy }: { session: ClinicSession; policy: Promise<unknown> }) {
  const rules = useRules(FIRST_ASKED[0]!, policy);
  const [day] = useState(() => dayOf(session));
  const [filter, setFilter] = useState<CaseFilter>(() => ({ from: dayAfter(day.today, -FIRST_DAYS), to: day.today }));
  const [shown, setShown] = useState<ShownState>("open");
  const [view, setView] = useState<View>("list");
  const [opened, setOpened] = useState<CodingCase>();
  const [covered, setCovered] = useState<Problem>();
  const main = useRef<HTMLElement>(null);
  // The kind is a stable value; the state is a new object each time it is asked for.
  const standing = useSyncExternalStore(session.onChange, () => session.state().kind);
  const state = session.state();
  const cases = useCases(session, day, filter);
  const warning = useIdle(session.config.coverAfterMinutes ?? LOCK_AFTER_MINUTES, () => {
    session.end();
    setCovered({
      kind: "covered",
      title: watchWords.idle.title,
      what: words.coveredWhat,
      next: words.coveredNext,
    });
  });
  const place = `${view} ${opened?.record.reference ?? ""}`;
  const before = useRef(place);
  useEffect(() => {
    if (before.current === place) return;
    before.current = place;
    window.scrollTo(0, 0);
    main.current?.querySelector("h1")?.focus({ preventScroll: true });
  }, [place]);

  const pathway = rules?.ok ? rules.pathway : undefined;
  const desk = useMemo(() => pathway && { session, day, pathway }, [session, day, pathway]);

  if (covered) return <ProblemScreen problem={covered} />;
  if (rules && !rules.ok) return <ProblemScreen problem={rules.problem} />;
  const losses = coderLosses(session.granted);
  const go = (to: View) => {
    setOpened(undefined);
    setView(to);
  };
  const todo = cases.cases.filter((c) => c.state !== "coded" && c.state !== "asked");
  const at = todo.findIndex((c) => c.record.reference === opened?.record.reference);
  const following = todo[at + 1] ?? todo.find((c) => c.record.reference !== opened?.record.reference);
  return (
    <>
      <link rel="stylesheet" href={sheet} precedence="default" />
      <a className="skip" href="#main">
        Skip to the task
      </a>
      <header className="top">
        <p className="name">{appWords.app}</p>
        <nav aria-label={words.title}>
          <ol>
            {VIEWS.map((one) => (
              <li key={one}>
                <button
                  type="button"
                  className="quiet"
                  aria-current={one === view && !opened ? "page" : undefined}
                  onClick={() => go(one)}
                >
                  {words[one]}
                </button>
              </li>
            ))}
          </ol>
        </nav>
      </header>
      <main className="page coder" id="main" tabIndex={-1} ref={main}>
        {standing !== "open" && (
          <section className="obstacles" role="alert">
            <p>
              {"problem" in state
                ? `${state.problem.title} ${state.problem.what} ${state.problem.next}`
                : "Your sign-in has ended. Open Fingerpost again."}
            </p>
          </section>
        )}
        {warning && (
          <p className="notice" role="status">
            {watchWords.idle.warning(WARN_BEFORE_SECONDS)}
          </p>
        )}
        {losses.map((loss) => (
          <p key={loss} className="hint">
            {loss}
          </p>
        ))}
        {view === "export" ? (
          desk ? (
            <ExportPanel desk={desk} filter={filter} onFilter={setFilter} />
          ) : (
            <p role="status">{words.preparing}</p>
          )
        ) : opened ? (
          desk ? (
            <CaseScreen
              key={opened.record.reference}
              desk={desk}
              of={opened}
              onBack={() => setOpened(undefined)}
              onChanged={cases.replace}
              onNext={following ? () => setOpened(following) : undefined}
            />
          ) : (
            <p role="status">{words.preparing}</p>
          )
        ) : (
          <CaseList
            cases={cases}
            filter={filter}
            onFilter={setFilter}
            shown={shown}
            onShown={setShown}
            onOpen={setOpened}
          />
        )}
      </main>
      <footer>
        <p>{appWords.caution}</p>
        <p>Program {APP_VERSION}</p>
      </footer>
    </>
  );
}

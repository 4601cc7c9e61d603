/** Visits to arrange: the most overdue first, in pages, narrowed by the server, brought up to date while it is looked at. */
import { useEffect, useId, useRef, useState } from "react";
import { byDays, type ListedVisit } from "../../../fhir/listed-visit.ts";
import { dayWords } from "../../../scheduling/index.ts";
import { type Counts, countByWeek, type ListFilter, readVisits, type VisitPage } from "../../../smart/clinic-list.ts";
import type { Problem } from "../../../smart/problem.ts";
import { chosenPlaces, Filters, type Narrowed } from "./filters.tsx";
import { Trouble } from "./outcome.tsx";
import { changesBetween, changeWords, merged, rowOf } from "./rows.ts";
import { type Clinic, useLive } from "./use-clinic.ts";
import { VisitPanel } from "./visit-panel.tsx";
import { VisitRow } from "./visit-row.tsx";
import { WholeList } from "./whole-list.tsx";
import { words } from "./words.ts";

const WEEKS = 6;

/** What the server is asked for: a clinic or a person is asked for by what is offered there. */
export function filterOf(narrowed: Narrowed, { schedules }: Pick<Clinic, "schedules">): ListFilter {
  const { clinic: _place, clinician: _person, ...rest } = narrowed;
  const offered = chosenPlaces(narrowed, schedules)?.flatMap(({ services }) => services) ?? [];
  // The shortest is part of the longer ones: "family doctor" of "family doctor, by phone".
  const [who] = [...offered].sort((a, b) => a.length - b.length);
  return { ...(who ? { who } : {}), ...rest };
}

async function readPages(clinic: Clinic, filter: ListFilter, pages: number): Promise<VisitPage[] | Problem> {
  const read: VisitPage[] = [];
  for (let next: string | undefined; read.length < pages; ) {
    const answer = await readVisits(clinic.session, clinic.day, { filter, ...(next ? { next } : {}) });
    if (!answer.ok) return answer.problem;
    read.push(answer.value);
    next = answer.value.next;
    if (next === undefined) break;
  }
  return read;
}

export function ArrangeView({ clinic }: { clinic: Clinic }) {
  const [narrowed, setNarrowed] = useState<Narrowed>({});
  const [pages, setPages] = useState<readonly VisitPage[]>();
  const [counts, setCounts] = useState<Counts>();
  const [problem, setProblem] = useState<Problem>();
  const [reading, setReading] = useState(true);
  const [open, setOpen] = useState<ListedVisit>();
  const [news, setNews] = useState("");
  const [proposing, setProposing] = useState(false);
  const own = useRef(new Set<string>());
  const turn = useRef(0);
  const id = useId();

  const filter = filterOf(narrowed, clinic);
  const at = chosenPlaces(narrowed, clinic.schedules)?.map(({ reference }) => reference);
  const visits = merged((pages ?? []).map((page) => page.visits));
  const last = pages?.at(-1);

  /** Reads as many pages afresh; what came too late for other filters is dropped. */
  const look = async (asked: ListFilter, many: number, quiet: boolean) => {
    turn.current++;
    const mine = turn.current;
    if (!quiet) setReading(true);
    const [answer, weeks] = await Promise.all([
      readPages(clinic, asked, many),
      countByWeek(clinic.session, clinic.day, WEEKS, asked),
    ]);
    if (mine !== turn.current) return;
    setReading(false);
    if ("kind" in answer) return setProblem(answer);
    setProblem(undefined);
    setCounts(weeks);
    if (quiet && pages) {
      const fresh = merged(answer.map((page) => page.visits));
      const said = changeWords(changesBetween(visits, fresh, own.current));
      if (said) setNews(said);
      own.current.clear();
    }
    setPages(answer);
  };
  /** The page after those that are shown. They are not read again for it: the live look does that, also where the list moved meanwhile. */
  const showMore = async () => {
    if (last?.next === undefined) return;
    turn.current++;
    const mine = turn.current;
    setReading(true);
    const answer = await readVisits(clinic.session, clinic.day, { filter, next: last.next });
    if (mine !== turn.current) return;
    setReading(false);
    setProblem(answer.ok ? undefined : answer.problem);
    if (answer.ok) setPages((shown) => [...(shown ?? []), answer.value]);
  };
  const asked = JSON.stringify(filter);
  // biome-ignore lint/correctness/useExhaustiveDependencies: read anew when other visits are asked for
  useEffect(() => {
    setNews("");
    void look(filter, 1, false);
  }, [asked, clinic]);
  // A live look that began while more is being read would put an end to that reading.
  useLive(() => look(filter, pages?.length ?? 1, true), pages === undefined || proposing || reading);

  // The one that is open stays where it is, whatever became of it meanwhile: the focus is in it.
  const rows = open && !visits.some(({ key }) => key === open.key) ? [...visits, open].sort(byDays) : visits;
  const buttonOf = (key: string) => `${id}-${key}`;
  const focusOn = (key: string | undefined) =>
    setTimeout(() => document.getElementById(key ? buttonOf(key) : `${id}-heading`)?.focus());
  const close = () => {
    const key = open?.key;
    setOpen(undefined);
    focusOn(visits.some((v) => v.key === key) ? key : visits[0]?.key);
  };
  const next = () => {
    const at = rows.findIndex(({ key }) => key === open?.key);
    const after = rows.slice(at + 1).find((v) => v.patient.reference !== open?.patient.reference) ?? visits[0];
    setOpen(undefined);
    focusOn(after?.key);
  };

  return (
    <>
      <h1 id={`${id}-heading`} tabIndex={-1}>
        {words.views.arrange}
      </h1>
      <Filters {...{ clinic, narrowed, visits }} onNarrow={setNarrowed} />
      <Weeks counts={counts} />
      <p role="status" className="news">
        {reading ? words.reading : news}
      </p>
      {problem && <Trouble problem={problem} onAgain={() => void look(filter, pages?.length ?? 1, false)} />}
      {pages && (
        <>
          <p>
            {words.shown(
              visits.length,
              last?.next === undefined ? undefined : pages[0]?.orders,
              last?.next === undefined,
            )}{" "}
            {last?.completeBefore && last.completeBefore > "1" && words.completeBefore(dayWords(last.completeBefore))}
          </p>
          <Problems texts={pages.flatMap((page) => page.problems)} />
          {proposing ? (
            <WholeList
              {...{ clinic, visits }}
              at={at}
              onBooked={(keys) => {
                for (const key of keys) own.current.add(key);
              }}
              onClose={() => {
                setProposing(false);
                void look(filter, pages.length, true);
                focusOn(undefined);
              }}
            />
          ) : (
            <>
              {visits.length > 1 && (
                <p>
                  <button type="button" onClick={() => setProposing(true)}>
                    {words.whole.start}
                  </button>
                </p>
              )}
              {rows.length === 0 && <p>{asked === "{}" ? `${words.empty} ${words.emptyNext}` : words.emptyFiltered}</p>}
              <ol className="worklist">
                {rows.map((visit) => {
                  const row = rowOf(visit, clinic.day.today);
                  const isOpen = open?.key === visit.key;
                  return (
                    <li key={visit.key}>
                      <VisitRow row={row}>
                        <button
                          type="button"
                          id={buttonOf(visit.key)}
                          aria-expanded={isOpen}
                          onClick={() => (isOpen ? close() : setOpen(visit))}
                        >
                          {isOpen ? words.row.close : words.row.open(row.name)}
                          <span className="said">, {row.purpose}</span>
                        </button>
                      </VisitRow>
                      {isOpen && (
                        <VisitPanel
                          {...{ clinic, visit }}
                          at={at}
                          onBooked={(keys) => {
                            for (const key of keys) own.current.add(key);
                            void look(filter, pages.length, true);
                          }}
                          onNext={next}
                          onClose={close}
                        />
                      )}
                    </li>
                  );
                })}
              </ol>
              {last?.next && (
                <button type="button" disabled={reading} onClick={() => void showMore()}>
                  {reading ? words.readingMore : words.more}
                </button>
              )}
            </>
          )}
        </>
      )}
    </>
  );
}

/** How much there is to do in which week, as the server counts it. */
function Weeks({ counts }: { counts: Counts | undefined }) {
  if (!counts) return null;
  const say = words.weeks;
  const number = (n: number | undefined) => (n === undefined ? say.unknown : String(n));
  return (
    <details className="weeks" open>
      <summary>{say.heading}</summary>
      <dl>
        <div className={counts.overdue ? "overdue" : ""}>
          <dt>{say.overdue}</dt>
          <dd>{number(counts.overdue)}</dd>
        </div>
        {counts.weeks.map(({ from, orders }) => (
          <div key={from}>
            <dt>{say.from(dayWords(from))}</dt>
            <dd>{number(orders)}</dd>
          </div>
        ))}
      </dl>
    </details>
  );
}

/** What could not be read or shown; none of it is left out in silence. */
export function Problems({ texts }: { texts: readonly string[] }) {
  if (texts.length === 0) return null;
  return (
    <section className="notice">
      <h2>{words.problems}</h2>
      <ul>
        {[...new Set(texts)].map((text) => (
          <li key={text}>
            <bdi>{text}</bdi>
          </li>
        ))}
      </ul>
    </section>
  );
}

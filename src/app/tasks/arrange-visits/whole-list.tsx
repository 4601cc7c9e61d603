/** A proposal for all visits shown, with what no proposal could beat beside it; nothing is booked before somebody ticks and presses. */
import { useEffect, useRef, useState } from "react";
import { booking } from "../../../fhir/clinic-act.ts";
import type { ListedVisit } from "../../../fhir/listed-visit.ts";
import { dayAfter } from "../../../scheduling/index.ts";
import { readBooked } from "../../../smart/clinic-list.ts";
import { readTimes } from "../../../smart/clinic-times.ts";
import type { Problem } from "../../../smart/problem.ts";
import { offerFor, placesFor, scheduleOf, timeAndPlace } from "./offers.ts";
import { type Said, SaidList, saidOf, Trouble } from "./outcome.tsx";
import { answerOf, type Proposed, searchSlowly, type WholeProposal, wholeProblem } from "./proposal.ts";
import { nameOf, windowWords } from "./rows.ts";
import { act, type Clinic } from "./use-clinic.ts";
import { words } from "./words.ts";

const say = words.whole;
/** So far ahead are times read, and so far back visits that others wait for; days. [common practice, no source] */
const AHEAD = 84;
const BACK = 60;
const breath = () => new Promise<void>((on) => setTimeout(on));

interface WholeListProps {
  readonly clinic: Clinic;
  readonly visits: readonly ListedVisit[];
  readonly at: readonly string[] | undefined;
  readonly onBooked: (keys: readonly string[]) => void;
  readonly onClose: () => void;
}
type Line = Proposed & { readonly said?: Said; readonly instead?: Proposed["time"] };
const idOf = ({ arranging }: Proposed) => arranging.visit.id;
const patientOf = ({ arranging }: Pick<Proposed, "arranging">) => arranging.parts[0]!;

export function WholeList({ clinic, visits, at, onBooked, onClose }: WholeListProps) {
  const { session, day, schedules } = clinic;
  const heading = useRef<HTMLHeadingElement>(null);
  const stop = useRef(false);
  const [progress, setProgress] = useState<string>(say.reading);
  const [failed, setFailed] = useState<Problem>();
  const [answer, setAnswer] = useState<WholeProposal>();
  const [lines, setLines] = useState<readonly Line[]>([]);
  const [ticked, setTicked] = useState<ReadonlySet<string>>(new Set());
  const [result, setResult] = useState("");

  const run = async () => {
    stop.current = false;
    setFailed(undefined);
    setProgress(say.reading);
    const wanted = new Set(visits.flatMap((v) => placesFor(v, schedules, at).map(({ reference }) => reference)));
    const [times, booked] = await Promise.all([
      wanted.size === 0
        ? ({ ok: true, value: { times: [], problems: [] } } as const)
        : readTimes(session, day, { schedules: [...wanted], from: day.today, to: dayAfter(day.today, AHEAD) }),
      readBooked(session, day, dayAfter(day.today, -BACK), dayAfter(day.today, AHEAD)),
    ]);
    if (!times.ok) return setFailed(times.problem);
    if (!booked.ok) return setFailed(booked.problem);
    const now = session.clock.now().getTime();
    const free = times.value.times.filter(
      ({ start, schedule, day: on }) => Date.parse(start) > now && clinic.closed(schedule, on) === undefined,
    );
    const whole = wholeProblem(visits, booked.value.visits, free, schedules, { ...day, at });
    const { assignment, cancelled } = await searchSlowly(whole.problem, {
      onProgress: ({ round, leftOver }) =>
        setProgress(say.progress(round, whole.series.length - leftOver, whole.series.length)),
      isCancelled: () => stop.current,
      breath,
    });
    const found = answerOf(whole, assignment, cancelled);
    setAnswer(found);
    setLines(found.proposed);
    setProgress("");
  };
  // biome-ignore lint/correctness/useExhaustiveDependencies: one proposal for what was shown when it was asked for
  useEffect(() => {
    heading.current?.focus();
    void run();
    return () => {
      stop.current = true;
    };
  }, []);

  const put = (id: string, change: Partial<Line>) =>
    setLines((now) => now.map((line) => (idOf(line) === id ? { ...line, ...change } : line)));

  const bookOne = async (line: Line, time: Proposed["time"]): Promise<boolean> => {
    const { parts, visit } = line.arranging;
    const place = { time, schedule: scheduleOf(time, schedules, parts[0]!) };
    const report = await act(clinic, parts, (staff) => booking(parts, place, staff));
    const names = parts.map((part) => part.words).join(" and ");
    const said = saidOf(report, words.outcome.booked(names, timeAndPlace(time, schedules)));
    put(visit.id, { said, instead: undefined as never });
    if (said.done) onBooked(parts.map(({ key }) => key));
    if (report.outcome === "time-taken") await offerNext(line);
    return said.done;
  };
  /** The best time that is left now, without those that this list still holds for others. */
  const offerNext = async (line: Line) => {
    const { visit, parts } = line.arranging;
    const places = placesFor(parts[0]!, schedules, at).map(({ reference }) => reference);
    const fresh = await readTimes(session, day, {
      schedules: places,
      from: day.today,
      to: visit.due.latest < day.today ? dayAfter(day.today, AHEAD) : visit.due.latest,
      status: "any",
    });
    if (!fresh.ok) return;
    const held = new Set(lines.filter((one) => one !== line).map(({ time }) => time.reference));
    const times = fresh.value.times.map((t) => (held.has(t.reference) ? { ...t, status: "busy" } : t));
    const [best] = offerFor(line.arranging, times, {
      ...day,
      now: session.clock.now(),
      closed: clinic.closed,
    }).suggested;
    if (best) put(visit.id, { instead: best });
  };

  const bookTicked = async () => {
    const chosen = lines.filter((line) => ticked.has(idOf(line)) && !line.said?.done);
    stop.current = false;
    setResult("");
    const failedIds = new Set<string>();
    let booked = 0;
    let asked = 0;
    for (const line of chosen) {
      if (stop.current) break;
      setProgress(say.progressBooking(asked, chosen.length));
      asked++;
      // What waits for a visit that could not be booked would come before it.
      if (line.arranging.visit.after.some((id) => failedIds.has(id))) {
        put(idOf(line), { said: { title: say.waits, done: false } });
        failedIds.add(idOf(line));
        continue;
      }
      if (await bookOne(line, line.time)) booked++;
      else failedIds.add(idOf(line));
    }
    setProgress("");
    setTicked(new Set());
    setResult(say.results(booked, asked - booked));
    heading.current?.focus();
  };

  const open = lines.filter(({ overdue, said }) => !overdue && !said?.done);
  const { numbers } = answer ?? {};
  return (
    <section className="whole" aria-label={say.heading}>
      <h2 ref={heading} tabIndex={-1}>
        {say.heading}
      </h2>
      <p role="status">{progress || result}</p>
      {progress && progress !== say.reading && (
        <button
          type="button"
          onClick={() => {
            stop.current = true;
          }}
        >
          {say.cancel}
        </button>
      )}
      {failed && <Trouble problem={failed} onAgain={() => void run()} />}
      {answer && numbers && (
        <>
          {numbers.cancelled && <p>{say.cancelled}</p>}
          <p>
            {say.bounds(
              answer.left.length,
              numbers.bounds.fewestLeftOver,
              numbers.trips,
              Math.min(numbers.trips, numbers.bounds.fewestTrips),
            )}
          </p>
          <p className="hint">{say.cost(numbers.cost, numbers.bounds.leastCost)}</p>
          {lines.length === 0 && <p>{say.nothing}</p>}
          {open.length > 0 && !progress && (
            <div className="act">
              <button type="button" className="primary" disabled={ticked.size === 0} onClick={() => void bookTicked()}>
                {say.book(ticked.size)}
              </button>
              <button type="button" onClick={() => setTicked(new Set(open.map(idOf)))}>
                {say.all}
              </button>
              <button type="button" onClick={() => setTicked(new Set())}>
                {say.nobody}
              </button>
            </div>
          )}
          <ol className="proposals">
            {lines.map((line) => {
              const id = idOf(line);
              const whose = patientOf(line);
              return (
                <li key={id}>
                  <label className="option">
                    <input
                      type="checkbox"
                      checked={ticked.has(id)}
                      disabled={Boolean(progress) || line.overdue || line.said?.done === true}
                      aria-label={`${say.tick(nameOf(whose))}, ${line.arranging.parts.map((p) => p.words).join(" and ")}`}
                      onChange={(e) => {
                        const now = new Set(ticked);
                        if (e.target.checked) now.add(id);
                        else now.delete(id);
                        setTicked(now);
                      }}
                    />
                    <span>
                      <b>
                        <bdi>{nameOf(whose)}</bdi>
                      </b>
                      , {line.arranging.parts.map((p) => p.words).join(" and ")}: {timeAndPlace(line.time, schedules)}
                      <span className="hint">{windowWords(whose)}</span>
                      {line.overdue && <span className="hint">{say.overdue}</span>}
                    </span>
                  </label>
                  {line.said && <SaidList said={[line.said]} />}
                  {line.instead && !progress && (
                    <button type="button" onClick={() => void bookOne(line, line.instead!)}>
                      {say.takeNext(timeAndPlace(line.instead, schedules))}
                      <span className="said">, {nameOf(whose)}</span>
                    </button>
                  )}
                </li>
              );
            })}
          </ol>
          {answer.left.length + answer.notYet.length > 0 && (
            <>
              <h3>{say.left}</h3>
              <ul>
                {answer.left.map((one) => (
                  <li key={one.visit.id}>
                    <bdi>{nameOf(one.parts[0]!)}</bdi>, {one.parts.map((p) => p.words).join(" and ")}:{" "}
                    {windowWords(one.parts[0]!)}
                  </li>
                ))}
                {answer.notYet.map(({ visit, because }) => (
                  <li key={visit.key}>
                    {visit.words}: {words.panel.because[because]}.
                  </li>
                ))}
              </ul>
            </>
          )}
        </>
      )}
      <button type="button" onClick={onClose}>
        {say.close}
      </button>
    </section>
  );
}

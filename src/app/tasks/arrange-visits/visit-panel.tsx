/** All visits of one patient that are to be arranged, in one place: choose a time for each, then book what is chosen. */
import { useCallback, useEffect, useRef, useState } from "react";
import { booking } from "../../../fhir/clinic-act.ts";
import type { BookedVisit, ListedVisit } from "../../../fhir/listed-visit.ts";
import type { ClinicTime } from "../../../fhir/slot.ts";
import { type Day, dayAfter, dayWords } from "../../../scheduling/index.ts";
import { readBookedOf, readVisits } from "../../../smart/clinic-list.ts";
import { readTimes } from "../../../smart/clinic-times.ts";
import type { Problem } from "../../../smart/problem.ts";
import {
  type Arranging,
  isOutside,
  laterOf,
  offerFor,
  placesFor,
  scheduleOf,
  seriesOf,
  timeAndPlace,
} from "./offers.ts";
import { type Said, SaidList, saidOf, Trouble } from "./outcome.tsx";
import { nameOf, windowWords } from "./rows.ts";
import { TimeChoice } from "./time-choice.tsx";
import { act, type Clinic } from "./use-clinic.ts";
import { words } from "./words.ts";

const say = words.panel;
/** Times are read so many days beyond the last day of the visit. [common practice, no source] */
const BEYOND = 28;

interface Read {
  readonly visits: readonly ListedVisit[];
  readonly booked: readonly BookedVisit[];
  readonly times: readonly ClinicTime[];
  readonly until: Day;
  readonly problems: readonly string[];
}
interface PanelProps {
  readonly clinic: Clinic;
  readonly visit: ListedVisit;
  /** The schedules that the list is narrowed to. */
  readonly at: readonly string[] | undefined;
  /** Keys of visits that this screen has just booked, before the list is read again. */
  readonly onBooked: (keys: readonly string[]) => void;
  readonly onNext: () => void;
  readonly onClose: () => void;
}

/** Reads the series and the times for it, one after the other, since the visits say whose times are wanted. */
async function readSeries(
  clinic: Clinic,
  visit: ListedVisit,
  at: readonly string[] | undefined,
  until: Day,
): Promise<Read | Problem> {
  const { session, day, schedules } = clinic;
  const [list, booked] = await Promise.all([
    readVisits(session, day, { filter: { patient: visit.patient.reference } }),
    readBookedOf(session, day, visit.patient.reference),
  ]);
  if (!list.ok) return list.problem;
  if (!booked.ok) return booked.problem;
  const { visits } = list.value;
  const wanted = new Set(visits.flatMap((one) => placesFor(one, schedules, at).map(({ reference }) => reference)));
  const times =
    wanted.size === 0
      ? ({ ok: true, value: { times: [], problems: [] } } as const)
      : await readTimes(session, day, { schedules: [...wanted], from: day.today, to: until, status: "any" });
  // A record system without slots does not stop a booking: a time can be entered.
  return {
    visits,
    booked: booked.value.visits,
    times: times.ok ? times.value.times : [],
    until,
    problems: [
      ...list.value.problems,
      ...booked.value.problems,
      ...(times.ok ? times.value.problems : [`Free times could not be read. ${times.problem.title}`]),
    ],
  };
}

export function VisitPanel({ clinic, visit, at, onBooked, onNext, onClose }: PanelProps) {
  const { day, schedules, session } = clinic;
  const heading = useRef<HTMLHeadingElement>(null);
  const message = useRef<HTMLDivElement>(null);
  const [read, setRead] = useState<Read>();
  const [failed, setFailed] = useState<Problem>();
  const [chosen, setChosen] = useState<ReadonlyMap<string, ClinicTime>>(new Map());
  const [reasons, setReasons] = useState<ReadonlyMap<string, string>>(new Map());
  const [errors, setErrors] = useState<ReadonlyMap<string, string>>(new Map());
  const [busy, setBusy] = useState(false);
  const [said, setSaid] = useState<readonly Said[]>([]);

  const load = useCallback(
    async (until: Day): Promise<Read | undefined> => {
      const answer = await readSeries(clinic, visit, at, until);
      if ("kind" in answer) {
        setFailed(answer);
        return undefined;
      }
      setFailed(undefined);
      setRead(answer);
      return answer;
    },
    [clinic, visit, at],
  );
  const first = dayAfter(laterOf(visit.days.latest, day.today), BEYOND);
  // biome-ignore lint/correctness/useExhaustiveDependencies: read once when it is opened; afterwards on demand
  useEffect(() => {
    heading.current?.focus();
    void load(first);
  }, [visit.key]);

  const seriesIn = (from: Read) =>
    seriesOf(from.visits, from.booked, (role, on) =>
      from.times.some(
        (t) =>
          t.day === on &&
          clinic.closed(t.schedule, on) === undefined &&
          placesFor({ who: role }, schedules, at).some((s) => s.reference === t.schedule),
      ),
    );
  const offerIn = (from: Read, arranging: Arranging) => {
    const places = new Set(placesFor({ who: arranging.visit.role }, schedules, at).map((s) => s.reference));
    const times = from.times.filter((t) => places.has(t.schedule));
    return offerFor(arranging, times, { ...day, now: session.clock.now(), closed: clinic.closed });
  };
  const { series, notYet } = read ? seriesIn(read) : { series: [], notYet: [] };
  const wanted = series.filter(({ visit: { id } }) => chosen.has(id));

  const book = async () => {
    const missing = new Map(
      wanted.flatMap(({ visit: { id }, parts }) =>
        isOutside(chosen.get(id)!, parts) && !reasons.get(id)?.trim() ? [[id, say.reasonMissing] as const] : [],
      ),
    );
    setErrors(missing);
    if (missing.size > 0) return;
    if (wanted.length === 0) return setSaid([{ title: say.nothingChosen, done: false }]);
    setBusy(true);
    const results: Said[] = [];
    const clashed = new Set<string>();
    for (const {
      visit: { id },
      parts,
    } of wanted) {
      const time = chosen.get(id)!;
      const place = { time, schedule: scheduleOf(time, schedules, parts[0]!) };
      const report = await act(clinic, parts, (staff) => booking(parts, place, staff, reasons.get(id)));
      const what = parts.map((part) => part.words).join(" and ");
      results.push(saidOf(report, words.outcome.booked(what, timeAndPlace(time, schedules))));
      if (report.outcome === "time-taken") clashed.add(id);
    }
    const fresh = await load(read?.until ?? first);
    const next = new Map<string, ClinicTime>();
    if (fresh)
      for (const arranging of seriesIn(fresh).series) {
        const { id } = arranging.visit;
        const offer = offerIn(fresh, arranging);
        const best = offer.suggested[0];
        if (clashed.has(id)) {
          if (best) next.set(id, best);
          results.push({
            title: best ? say.nextBest(timeAndPlace(best, schedules)) : say.noNextBest,
            done: false,
          });
        }
      }
    setChosen(next);
    setSaid(results);
    setBusy(false);
    onBooked(wanted.flatMap(({ parts }) => parts.map(({ key }) => key)));
    message.current?.focus();
  };

  return (
    <section className="panel" aria-label={say.heading(nameOf(visit))}>
      <h2 ref={heading} tabIndex={-1}>
        {say.heading(nameOf(visit))}
      </h2>
      <div ref={message} tabIndex={-1} role="status" className="outcomes">
        {busy ? <p>{say.booking}</p> : <SaidList said={said} />}
        {!busy && said.some(({ done }) => done) && (
          <button type="button" className={series.length === 0 ? "primary" : ""} onClick={onNext}>
            {words.outcome.next}
          </button>
        )}
      </div>
      {failed && <Trouble problem={failed} onAgain={() => void load(read?.until ?? first)} />}
      {!read && !failed && <p role="status">{say.reading}</p>}
      {visit.patient.stop && <p className="error">{visit.patient.stop}</p>}
      {read && series.length === 0 && notYet.length === 0 && said.length === 0 && <p>{say.gone}</p>}
      {read && !visit.patient.stop && (
        <>
          {read.problems.length > 0 && (
            <ul className="hint">
              {read.problems.map((text) => (
                <li key={text}>{text}</li>
              ))}
            </ul>
          )}
          {series.map((arranging) => {
            const { visit: arranged, parts } = arranging;
            const { id } = arranged;
            const names = parts.map((part) => part.words).join(" and ");
            return (
              <div className="one-visit" key={id}>
                <h3>
                  {names}
                  {parts[0]!.who && `, ${parts[0]!.who}`}
                </h3>
                {parts.map((part) => (
                  <p key={part.key}>
                    {parts.length > 1 && `${part.words}: `}
                    {windowWords(part)}
                  </p>
                ))}
                {parts.length > 1 && <p className="hint">{say.together}.</p>}
                {arranged.due.latest > read.until ? (
                  // Of days that were not read nothing is said, least of all that they hold no time.
                  <button type="button" onClick={() => void load(dayAfter(arranged.due.latest, BEYOND))}>
                    {say.readItsDays}
                    <span className="said">, {names}</span>
                  </button>
                ) : (
                  <TimeChoice
                    {...{ clinic, arranging, schedules }}
                    offer={offerIn(read, arranging)}
                    legend={`${say.choose}: ${names}`}
                    chosen={chosen.get(id)}
                    reason={reasons.get(id) ?? ""}
                    error={errors.get(id)}
                    until={read.until}
                    onChoose={(time) => setChosen(new Map(chosen).set(id, time))}
                    onReason={(text) => {
                      setReasons(new Map(reasons).set(id, text));
                      setErrors(new Map([...errors].filter(([of]) => of !== id)));
                    }}
                    onLater={() => void load(dayAfter(laterOf(arranged.due.latest, read.until), BEYOND))}
                  />
                )}
              </div>
            );
          })}
          {notYet.length > 0 && (
            <>
              <h3>{say.notYet}</h3>
              <ul>
                {notYet.map(({ visit: { key, words: name }, because }) => (
                  <li key={key}>
                    {name}: {say.because[because]}.
                  </li>
                ))}
              </ul>
            </>
          )}
          {read.booked.some(({ status }) => status !== "fulfilled") && (
            <>
              <h3>{say.alreadyBooked}</h3>
              <ul>
                {read.booked
                  .filter(({ status }) => status !== "fulfilled")
                  .map((one) => (
                    <li key={one.entry.reference}>
                      {one.words}: {dayWords(one.at.slice(0, 10))}, {one.at.slice(11)}
                    </li>
                  ))}
              </ul>
            </>
          )}
        </>
      )}
      <div className="act">
        {series.length > 0 && (
          <button type="button" className="primary" disabled={busy || !session.can("Appointment", "u")} onClick={book}>
            {say.book(wanted.length)}
          </button>
        )}
        <button type="button" onClick={onClose}>
          {words.row.close}
        </button>
      </div>
    </section>
  );
}

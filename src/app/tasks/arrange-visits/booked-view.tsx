/** Booked visits of a clinic day by day: to be moved, called off or noted as missed; as a day list on paper and as a calendar file. */
import { useId, useState } from "react";
import type { BookedVisit } from "../../../fhir/listed-visit.ts";
import { isAt } from "../../../fhir/slot.ts";
import { dayAfter, dayWords } from "../../../scheduling/index.ts";
import { readBooked } from "../../../smart/clinic-list.ts";
import { BookedActs } from "./booked-acts.tsx";
import { Trouble } from "./outcome.tsx";
import { byDay, rowOf, timeWords } from "./rows.ts";
import { saveCalendar } from "./save-calendar.ts";
import { type Clinic, useAsked, useLive } from "./use-clinic.ts";
import { Problems } from "./visit-list.tsx";
import { words } from "./words.ts";

const say = words.booked;
const A_WEEK = 6;

export function BookedView({ clinic }: { clinic: Clinic }) {
  const { session, day, schedules } = clinic;
  const id = useId();
  const [days, setDays] = useState({ from: day.today, to: dayAfter(day.today, A_WEEK) });
  const [entered, setEntered] = useState(days);
  const [place, setPlace] = useState("");
  const [acting, setActing] = useState<BookedVisit>();
  const { value, askAgain } = useAsked(JSON.stringify(days), () => readBooked(session, day, days.from, days.to));
  useLive(async () => askAgain(), acting !== undefined);
  const schedule = schedules.find(({ reference }) => reference === place);
  const all = value?.ok ? value.value.visits : [];
  // The one that is acted upon stays in sight until whoever does it goes on.
  const kept = acting && !all.some((v) => v.entry.reference === acting.entry.reference) ? [...all, acting] : all;
  const visits = kept.filter((visit) => schedule === undefined || isAt(visit, schedule.actors));
  const name = schedule?.name ?? words.filters.everyClinic;

  return (
    <>
      <h1 tabIndex={-1}>{words.views.booked}</h1>
      <form
        className="in-row no-print"
        onSubmit={(event) => {
          event.preventDefault();
          if (entered.from && entered.to) setDays(entered);
        }}
      >
        <div className="field">
          <label htmlFor={`${id}-clinic`}>{words.filters.clinic}</label>
          <select id={`${id}-clinic`} value={place} onChange={(e) => setPlace(e.target.value)}>
            <option value="">{words.filters.everyClinic}</option>
            {schedules.map((one) => (
              <option key={one.reference} value={one.reference}>
                {one.name}
              </option>
            ))}
          </select>
        </div>
        {(["from", "to"] as const).map((end) => (
          <div className="field" key={end}>
            <label htmlFor={`${id}-${end}`}>{say[end]}</label>
            <input
              id={`${id}-${end}`}
              type="date"
              required
              value={entered[end]}
              onChange={(e) => setEntered({ ...entered, [end]: e.target.value })}
            />
          </div>
        ))}
        <div className="act">
          <button type="submit">{say.show}</button>
          <button type="button" disabled={visits.length === 0} onClick={() => window.print()}>
            {say.print}
          </button>
          <button type="button" disabled={visits.length === 0} onClick={() => void saveCalendar(visits, name, session)}>
            {say.file}
          </button>
        </div>
      </form>
      {value === undefined && <p role="status">{words.reading}</p>}
      {value && !value.ok && <Trouble problem={value.problem} onAgain={askAgain} />}
      {value?.ok && <Problems texts={value.value.problems} />}
      {value?.ok && visits.length === 0 && <p>{say.none}</p>}
      {visits.length > 0 && <p className="print-only">{say.dayList(name)}</p>}
      {byDay(visits).map(([on, ofDay]) => (
        <section className="day" key={on}>
          <h2>{dayWords(on)}</h2>
          <ul className="booked">
            {ofDay.map((visit) => (
              <li key={visit.entry.reference}>
                <BookedLine
                  {...{ clinic, visit }}
                  acting={acting?.entry.reference === visit.entry.reference}
                  onActing={setActing}
                  onDone={askAgain}
                />
              </li>
            ))}
          </ul>
        </section>
      ))}
    </>
  );
}

interface LineProps {
  /** Also the day, where the line does not stand below it. */
  readonly withDay?: boolean;
  readonly clinic: Clinic;
  readonly visit: BookedVisit;
  readonly acting: boolean;
  readonly onActing: (visit: BookedVisit | undefined) => void;
  readonly onDone: () => void;
}
/** One booked visit in a line, and what can be done with it. */
export function BookedLine({ withDay, clinic, visit, acting, onActing, onDone }: LineProps) {
  const row = rowOf(visit, clinic.day.today);
  return (
    <div className="visit-row booked-row">
      <p className="left">
        {withDay && `${dayWords(visit.at.slice(0, 10))}, `}
        {timeWords(visit)}
      </p>
      <p className="whose">
        <b>
          <bdi>{row.name}</bdi>
        </b>
        , {row.born}
      </p>
      <p className="what">
        <b>{row.purpose}</b>
        {row.who && `, ${row.who}`}: <bdi>{row.what}</bdi>
      </p>
      <p className="hint">
        {words.row.window}: {row.window}. {words.row.contact}: <bdi>{row.contact}</bdi>
        {row.bring && `. ${words.row.bring}: ${row.bring}.`}
      </p>
      {row.moved && <p className="moved">{row.moved}</p>}
      {visit.outsideBecause && (
        <p>
          {say.outside}: <bdi>{visit.outsideBecause}</bdi>
        </p>
      )}
      {visit.recheck && <p className="error">{visit.recheck.words}</p>}
      <BookedActs {...{ clinic, visit, acting, onActing, onDone }} />
    </div>
  );
}

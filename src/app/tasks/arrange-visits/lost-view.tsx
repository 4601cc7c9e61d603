/** What would be forgotten: due without a time, missed without a new one, booked for a plan or a patient that changed. */
import { useState } from "react";
import type { BookedVisit, ListedVisit } from "../../../fhir/listed-visit.ts";
import { afterMissed } from "../../../scheduling/index.ts";
import { readLost, wasMissed } from "../../../smart/nothing-lost.ts";
import { BookedLine } from "./booked-view.tsx";
import { plannedOf } from "./offers.ts";
import { Trouble } from "./outcome.tsx";
import { rowOf } from "./rows.ts";
import { type Clinic, useAsked, useLive } from "./use-clinic.ts";
import { Problems } from "./visit-list.tsx";
import { VisitPanel } from "./visit-panel.tsx";
import { VisitRow } from "./visit-row.tsx";
import { words } from "./words.ts";

const say = words.lost;

export function LostView({ clinic }: { clinic: Clinic }) {
  const { session, day } = clinic;
  const [acting, setActing] = useState<BookedVisit>();
  const [open, setOpen] = useState<ListedVisit>();
  const { value: lost, askAgain } = useAsked("lost", () => readLost(session, day));
  useLive(async () => askAgain(), acting !== undefined || open !== undefined);
  const read = lost?.ok ? lost.value : undefined;
  const visits = read ? [...read.missed, ...read.due] : [];
  const kept = open && !visits.some(({ key }) => key === open.key) ? [...visits, open] : visits;
  const missed = kept.filter(wasMissed);
  const waiting = kept.filter((visit) => !wasMissed(visit));
  const booked = read?.flagged ?? [];
  const flagged =
    acting && !booked.some((v) => v.entry.reference === acting.entry.reference) ? [...booked, acting] : booked;

  const part = (heading: string, own: readonly ListedVisit[]) => (
    <section>
      <h2>
        {heading} <span className="count">{own.length}</span>
      </h2>
      {own.length === 0 && <p>{say.none1}</p>}
      <ol className="worklist">
        {own.map((visit) => {
          const row = rowOf(visit, day.today);
          const { due: days } = plannedOf(visit);
          const isOpen = open?.key === visit.key;
          return (
            <li key={visit.key}>
              <VisitRow row={row}>
                {visit.state !== "asked" && days && <p>{afterMissed(days, day.today).words}</p>}
                <button type="button" aria-expanded={isOpen} onClick={() => setOpen(isOpen ? undefined : visit)}>
                  {isOpen ? words.row.close : words.row.open(row.name)}
                  <span className="said">, {row.purpose}</span>
                </button>
              </VisitRow>
              {isOpen && (
                <VisitPanel
                  {...{ clinic, visit }}
                  at={undefined}
                  onBooked={askAgain}
                  onNext={() => setOpen(undefined)}
                  onClose={() => setOpen(undefined)}
                />
              )}
            </li>
          );
        })}
      </ol>
    </section>
  );
  return (
    <>
      <h1 tabIndex={-1}>{words.views.again}</h1>
      <p>{say.intro}</p>
      <p role="status">{lost ? "" : words.reading}</p>
      {lost && !lost.ok && <Trouble problem={lost.problem} onAgain={askAgain} />}
      {read && (
        <>
          <Problems texts={read.problems} />
          {kept.length + flagged.length === 0 && <p>{say.none}</p>}
          <section>
            <h2>
              {say.flagged} <span className="count">{flagged.length}</span>
            </h2>
            {flagged.length === 0 && <p>{say.none1}</p>}
            <ul className="booked">
              {flagged.map((visit) => (
                <li key={visit.entry.reference}>
                  <BookedLine
                    withDay
                    {...{ clinic, visit }}
                    acting={acting?.entry.reference === visit.entry.reference}
                    onActing={setActing}
                    onDone={askAgain}
                  />
                </li>
              ))}
            </ul>
          </section>
          {part(say.missed, missed)}
          {part(say.due, waiting)}
        </>
      )}
    </>
  );
}

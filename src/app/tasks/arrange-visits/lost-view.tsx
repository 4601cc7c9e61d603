/** What would be forgotten: due without a time, missed without a new one, booked for a plan or a patient that changed. */
import { useState } from "react";
import type { BookedVisit, ListedVisit } from "../../../fhir/listed-visit.ts";
import { afterMissed } from "../../../scheduling/index.ts";
import { readRechecks, readVisits } from "../../../smart/clinic-list.ts";
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

/** Every page of what is due: this list is read to its end, since it must not leave anything out. */
async function readDue({ session, day }: Clinic) {
  const visits = new Map<string, ListedVisit>();
  const problems: string[] = [];
  for (let next: string | undefined, first = true; first || next; first = false) {
    const answer = await readVisits(session, day, { filter: { to: day.today }, ...(next ? { next } : {}) });
    if (!answer.ok) return answer;
    for (const visit of answer.value.visits) visits.set(visit.key, visit);
    problems.push(...answer.value.problems);
    next = answer.value.next;
  }
  return { ok: true, value: { visits: [...visits.values()], problems } } as const;
}

export function LostView({ clinic }: { clinic: Clinic }) {
  const { session, day } = clinic;
  const [acting, setActing] = useState<BookedVisit>();
  const [open, setOpen] = useState<ListedVisit>();
  const due = useAsked("due", () => readDue(clinic));
  const rechecks = useAsked("rechecks", () => readRechecks(session, day));
  const again = () => {
    due.askAgain();
    rechecks.askAgain();
  };
  useLive(async () => again(), acting !== undefined || open !== undefined);
  const problem = [due.value, rechecks.value].find((answer) => answer && !answer.ok);
  const visits = due.value?.ok ? due.value.value.visits : [];
  const kept = open && !visits.some(({ key }) => key === open.key) ? [...visits, open] : visits;
  const missed = kept.filter(({ state, before }) => state !== "asked" || before > 0);
  const waiting = kept.filter((visit) => !missed.includes(visit));
  const booked = rechecks.value?.ok ? rechecks.value.value.visits : [];
  const flagged =
    acting && !booked.some((v) => v.entry.reference === acting.entry.reference) ? [...booked, acting] : booked;
  const read = due.value !== undefined && rechecks.value !== undefined;

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
                  onBooked={again}
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
      <p role="status">{read ? "" : words.reading}</p>
      {problem && !problem.ok && <Trouble problem={problem.problem} onAgain={again} />}
      {read && !problem && (
        <>
          <Problems
            texts={[
              ...(due.value?.ok ? due.value.value.problems : []),
              ...(rechecks.value?.ok ? rechecks.value.value.problems : []),
            ]}
          />
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
                    onDone={again}
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

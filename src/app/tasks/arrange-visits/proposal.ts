/** A proposal for a whole list: the clinic's visits and times in the scheduler's terms, and its answer in the screen's. Pure. */
import type { BookedVisit, ListedVisit } from "../../../fhir/listed-visit.ts";
import { type ClinicSchedule, type ClinicTime, placeInDays } from "../../../fhir/slot.ts";
import {
  type Assignment,
  type Day,
  type NotYet,
  type Problem,
  type Progress,
  type Proposal,
  problemOf,
  proposalOf,
  searchDays,
} from "../../../scheduling/index.ts";
import { type Arranging, minutesOf, placesFor, seatOf, seriesOf } from "./offers.ts";

export interface Proposed {
  readonly arranging: Arranging;
  readonly time: ClinicTime;
  /** Its last day has gone by: booking it needs a reason of its own. */
  readonly overdue: boolean;
}
export interface WholeProposal {
  /** By the time that is proposed. */
  readonly proposed: readonly Proposed[];
  readonly left: readonly Arranging[];
  readonly notYet: readonly NotYet[];
  readonly numbers: Proposal;
}
export interface WholeProblem {
  readonly problem: Problem;
  readonly series: readonly Arranging[];
  /** Longer than some time that it could have: several in a row are taken for it, one visit at a time. */
  readonly alone: readonly Arranging[];
  readonly notYet: readonly NotYet[];
  readonly times: ReadonlyMap<string, ClinicTime>;
}

/**
 * Visits of many patients against all free times. Whoever may not be booked is left out. A time that two kinds of visits could use is
 * offered to both, and given once (`answerOf`).
 *
 * @param times free times that lie ahead, in the order of their start
 */
export function wholeProblem(
  visits: readonly ListedVisit[],
  booked: readonly BookedVisit[],
  times: readonly ClinicTime[],
  schedules: readonly ClinicSchedule[],
  { today, zone, at }: { readonly today: Day; readonly zone: string; readonly at: readonly string[] | undefined },
): WholeProblem {
  const mayBook = visits.filter(({ patient }) => !patient.stop);
  const patients = new Set(mayBook.map(({ patient }) => patient.reference));
  const theirs = booked.filter(({ patient }) => patients.has(patient.reference));
  const roles = new Map(
    [...new Set(mayBook.map(({ who }) => who))].map((who) => [who, placesFor({ who }, schedules, at)]),
  );
  const seats = [...roles].flatMap(([role, places]) => {
    const references = new Set(places.map(({ reference }) => reference));
    return times.filter((t) => references.has(t.schedule)).map((t) => seatOf(t, role, t.schedule, zone));
  });
  const open = new Set(seats.map(({ role, day }) => `${role} ${day}`));
  const { series: all, notYet } = seriesOf(mayBook, theirs, (role, day) => open.has(`${role} ${day}`));
  const isLong = ({ visit, parts }: Arranging) => {
    const minutes = minutesOf(parts);
    const places = new Set(roles.get(visit.role)?.map(({ reference }) => reference));
    return minutes !== undefined && times.some((t) => places.has(t.schedule) && t.minutes < minutes);
  };
  const series = all.filter((one) => !isLong(one));
  return {
    problem: problemOf(
      series.map(({ visit }) => visit),
      seats,
      today,
    ),
    series,
    alone: all.filter(isLong),
    notYet,
    times: new Map(times.map((time) => [time.reference, time])),
  };
}

/** From the seats to times: each time is given once, the earlier last day first; who loses it is left over. */
export function answerOf(
  { problem, series, alone, notYet, times }: WholeProblem,
  assignment: Pick<Assignment, "dayOf">,
  cancelled: boolean,
): WholeProposal {
  const numbers = proposalOf(problem, assignment, cancelled);
  const byId = new Map(series.map((one) => [one.visit.id, one]));
  const given = new Set<string>();
  const lost = new Set<string>();
  const proposed = [...numbers.timed]
    .sort((a, b) => a.visit.due.latest.localeCompare(b.visit.due.latest))
    .flatMap(({ visit, seat }): Proposed[] => {
      const reference = seat.slots[0]!;
      if (given.has(reference)) {
        lost.add(visit.id);
        return [];
      }
      given.add(reference);
      const arranging = byId.get(visit.id)!;
      const time = times.get(reference)!;
      const overdue = arranging.parts.some(({ days }) => ["before", "after"].includes(placeInDays(time.day, days)));
      return [{ arranging, time, overdue }];
    })
    .sort((a, b) => Date.parse(a.time.start) - Date.parse(b.time.start));
  const over = new Set([...numbers.leftOver, ...lost]);
  return { proposed, left: [...series.filter(({ visit }) => over.has(visit.id)), ...alone], notYet, numbers };
}

/** Searches in short pieces, so that the page stays alive; asked to stop, it answers with what it has. */
export async function searchSlowly(
  problem: Problem,
  watch: {
    readonly onProgress: (progress: Progress) => void;
    readonly isCancelled: () => boolean;
    readonly breath: () => Promise<void>;
  },
): Promise<{ readonly assignment: Pick<Assignment, "dayOf">; readonly cancelled: boolean }> {
  const search = searchDays(problem);
  for (let step = search.next(); ; step = search.next()) {
    if (step.done) return { assignment: step.value, cancelled: false };
    watch.onProgress(step.value);
    await watch.breath();
    if (watch.isCancelled()) return { assignment: step.value.assignment, cancelled: true };
  }
}

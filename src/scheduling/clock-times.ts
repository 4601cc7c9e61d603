/** From days to seats: a clock time and a person for each visit, so that nobody is in two places at once. */
import { timeOf } from "./calendar.ts";
import { grouped } from "./grouped.ts";
import { type Problem, seatSuits } from "./problem.ts";
import { placeKey, type Seat } from "./sessions.ts";
import type { VisitToArrange } from "./visits.ts";

export interface Timed {
  readonly visit: VisitToArrange;
  /** Its place in `Problem.visits`. */
  readonly index: number;
  readonly seat: Seat;
}

/**
 * Seats for visits that have days. Patients who come for several things on one day choose first. A visit that finds no seat on its day makes another
 * move, or takes another of its days; one that is left over in the end is one for which no row of such moves ends at a free seat.
 *
 * @param dayOf for each visit the place of its day in `Problem.days`; that many days means none
 */
export function timesFor(
  problem: Problem,
  dayOf: ArrayLike<number>,
): { readonly timed: readonly Timed[]; readonly leftOver: readonly string[] } {
  const seating = new Seating(problem);
  const { visits, days } = problem;
  const all = visits.map((_, v) => v);
  const together = new Map<string, number>();
  const dayKey = (v: number) => `${visits[v]!.patient} ${dayOf[v]}`;
  for (const v of all) together.set(dayKey(v), (together.get(dayKey(v)) ?? 0) + 1);
  const depth = (v: number): number => Math.max(0, ...visits[v]!.before.map((b) => depth(b) + 1));
  const depths = visits.map((_, v) => depth(v));
  const narrow = (v: number) => (visits[v]!.visit.unavailable.some((u) => u.hours) ? 1 : 0);
  const order = all
    .filter((v) => dayOf[v]! < days.length)
    .sort(
      (a, b) =>
        together.get(dayKey(b))! - together.get(dayKey(a))! ||
        narrow(b) - narrow(a) ||
        depths[a]! - depths[b]! ||
        a - b,
    );
  const lost = order.filter((v) => !seating.seat(v, dayOf[v]!));
  for (const v of lost) seating.seatAnywhere(v);
  // A seat that stayed empty because its visit could not take it may do for one that had no day.
  if (lost.some((v) => seating.seatOf[v] === undefined))
    for (const v of all) if (seating.seatOf[v] === undefined) seating.seatAnywhere(v);
  seating.dropWaiting();
  return {
    timed: all.flatMap((index) => {
      const at = seating.seatOf[index];
      return at === undefined ? [] : [{ visit: visits[index]!.visit, index, seat: problem.seats[at]! }];
    }),
    leftOver: all.filter((v) => seating.seatOf[v] === undefined).map((v) => visits[v]!.visit.id),
  };
}

class Seating {
  readonly seatOf: (number | undefined)[];
  private readonly taken: (number | undefined)[];
  private readonly start: Float64Array;
  private readonly end: Float64Array;
  private readonly seatsAt: ReadonlyMap<string, readonly number[]>;
  constructor(private readonly problem: Problem) {
    const { seats, visits } = problem;
    this.seatOf = visits.map(() => undefined);
    this.taken = seats.map(() => undefined);
    this.start = Float64Array.from(seats, (s) => timeOf(s.start));
    this.end = Float64Array.from(seats, (s) => timeOf(s.end));
    this.seatsAt = grouped(seats.keys(), (i) => `${placeKey(seats[i]!)} ${seats[i]!.day}`);
  }
  private seatsOn(v: number, day: number): readonly number[] {
    const { problem } = this;
    return this.seatsAt.get(`${placeKey(problem.visits[v]!.visit)} ${problem.days[day]}`) ?? [];
  }
  /** The patient can come, is nowhere else then, and comes after what this waits for. */
  private suits(v: number, at: number): boolean {
    const { visits, patients, seats } = this.problem;
    const { visit, patient, before, behind } = visits[v]!;
    const [start, end] = [this.start[at]!, this.end[at]!];
    if (visit.unavailable.length > 0 && !seatSuits(visit.unavailable, seats[at]!)) return false;
    for (const other of patients[patient]!) {
      const taken = this.seatOf[other];
      const isBefore = before.includes(other);
      if (other === v) continue;
      if (taken === undefined) {
        if (isBefore) return false;
        continue;
      }
      const endsFirst = this.end[taken]! <= start;
      const startsLater = this.start[taken]! >= end;
      if (isBefore ? !endsFirst : behind.includes(other) ? !startsLater : !endsFirst && !startsLater) return false;
    }
    return true;
  }
  /** Takes the first free seat of a day that suits. */
  seat(v: number, day: number): boolean {
    const at = this.seatsOn(v, day).find((s) => this.taken[s] === undefined && this.suits(v, s));
    if (at === undefined) return false;
    this.take(v, at);
    return true;
  }
  private take(v: number, at: number): void {
    this.leave(v);
    this.seatOf[v] = at;
    this.taken[at] = v;
  }
  private leave(v: number): void {
    const at = this.seatOf[v];
    if (at !== undefined) this.taken[at] = undefined;
    this.seatOf[v] = undefined;
  }
  /** Takes any seat of any of its days, others moving on; each seat is asked for once, so that it ends. */
  seatAnywhere(v: number, asked: Set<number> = new Set()): boolean {
    const { days, off } = this.problem.visits[v]!;
    const nearest = days.map((day, j) => ({ day, off: off[j]! })).sort((a, b) => a.off - b.off);
    const seats = nearest.flatMap(({ day }) => this.seatsOn(v, day));
    const free = seats.find((s) => this.taken[s] === undefined && this.suits(v, s));
    if (free !== undefined) {
      this.take(v, free);
      return true;
    }
    for (const at of seats) {
      const other = this.taken[at];
      if (other === undefined || other === v || asked.has(at) || !this.suits(v, at)) continue;
      asked.add(at);
      this.leave(other);
      this.take(v, at);
      if (this.seatAnywhere(other, asked)) return true;
      this.leave(v);
      this.take(other, at);
    }
    return false;
  }
  /** What waits for a visit that got no seat gets none either. */
  dropWaiting(): void {
    const { visits } = this.problem;
    for (let again = true; again; ) {
      again = false;
      visits.forEach(({ before }, v) => {
        if (this.seatOf[v] === undefined || before.every((b) => this.seatOf[b] !== undefined)) return;
        this.leave(v);
        again = true;
      });
    }
  }
}

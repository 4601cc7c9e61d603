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
  const still = lost.filter((v) => !seating.seatAnywhere(v, TRIES));
  // A seat that stayed empty because its visit could not take it may do for one that had no day.
  if (still.length > 0) for (const v of all) if (seating.seatOf[v] === undefined) seating.seatAnywhere(v, TRIES / 10);
  seating.dropWaiting();
  return {
    timed: all.flatMap((index) => {
      const at = seating.seatOf[index];
      return at === undefined ? [] : [{ visit: visits[index]!.visit, index, seat: problem.seats[at]! }];
    }),
    leftOver: all.filter((v) => seating.seatOf[v] === undefined).map((v) => visits[v]!.visit.id),
  };
}

/** Rows of moves tried for one visit at each length, and the longest row. */
const TRIES = 2000;
const MOVES = 4;
const inTurn = (some: readonly number[], { visits }: Problem) =>
  some.toSorted((a, b) => (visits[b]!.before.includes(a) ? -1 : visits[a]!.before.includes(b) ? 1 : 0));

class Seating {
  readonly seatOf: (number | undefined)[];
  /** Visit and seat before each change, in order. */
  private readonly changes: number[] = [];
  private tries = 0;
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
  /** Visits that stand in the way of one on a seat: who sits there, and the patient's own at that time or in the wrong order; undefined when it cannot be. */
  private inTheWay(v: number, at: number): number[] | undefined {
    const { visits, patients, seats } = this.problem;
    const { visit, patient, before, behind } = visits[v]!;
    const [start, end] = [this.start[at]!, this.end[at]!];
    if (visit.unavailable.length > 0 && !seatSuits(visit.unavailable, seats[at]!)) return undefined;
    const found: number[] = [];
    const sitting = this.taken[at];
    if (sitting !== undefined && sitting !== v) found.push(sitting);
    for (const other of patients[patient]!) {
      const taken = this.seatOf[other];
      if (other === v || other === sitting) continue;
      if (taken === undefined) {
        if (before.includes(other)) return undefined;
        continue;
      }
      const endsFirst = this.end[taken]! <= start;
      const startsLater = this.start[taken]! >= end;
      const right = before.includes(other)
        ? endsFirst
        : behind.includes(other)
          ? startsLater
          : endsFirst || startsLater;
      if (!right) found.push(other);
    }
    return found;
  }
  /** Takes the first free seat of a day that suits. */
  seat(v: number, day: number): boolean {
    const at = this.seatsOn(v, day).find((s) => this.inTheWay(v, s)?.length === 0);
    if (at === undefined) return false;
    this.sit(v, at);
    return true;
  }
  private sit(v: number, at: number | undefined): void {
    const was = this.seatOf[v];
    this.changes.push(v, was ?? -1);
    if (was !== undefined && this.taken[was] === v) this.taken[was] = undefined;
    this.seatOf[v] = at;
    if (at !== undefined) this.taken[at] = v;
  }
  private undoTo(length: number): void {
    while (this.changes.length > length) {
      const at = this.changes.pop()!;
      const v = this.changes.pop()!;
      const now = this.seatOf[v];
      if (now !== undefined && this.taken[now] === v) this.taken[now] = undefined;
      this.seatOf[v] = at < 0 ? undefined : at;
      if (at >= 0) this.taken[at] = v;
    }
  }
  /**
   * Takes any seat of any of its days, up to two others moving on for it, and others for those: first the short rows of moves, then longer ones,
   * until so many have been tried.
   */
  seatAnywhere(v: number, tries: number): boolean {
    for (let depth = 0; depth <= MOVES; depth++) {
      this.tries = tries;
      const mark = this.changes.length;
      if (this.settle(v, depth, new Set())) return true;
      this.undoTo(mark);
    }
    return false;
  }
  private settle(v: number, depth: number, settled: Set<number>): boolean {
    const { days, off } = this.problem.visits[v]!;
    const nearest = days.map((day, j) => ({ day, off: off[j]! })).sort((a, b) => a.off - b.off);
    const ways = nearest
      .flatMap(({ day }) => this.seatsOn(v, day))
      .map((at) => ({ at, others: this.inTheWay(v, at) }))
      .filter(({ others }) => others !== undefined && others.length <= depth && others.every((o) => !settled.has(o)));
    settled.add(v);
    for (const { at, others } of ways.sort((a, b) => a.others!.length - b.others!.length)) {
      if (this.tries-- <= 0) break;
      const mark = this.changes.length;
      for (const other of others!) this.sit(other, undefined);
      this.sit(v, at);
      // What a moved visit waits for must be seated before it.
      if (inTurn(others!, this.problem).every((other) => this.settle(other, depth - 1, settled))) return true;
      this.undoTo(mark);
    }
    settled.delete(v);
    return false;
  }
  /** What waits for a visit that got no seat gets none either. */
  dropWaiting(): void {
    const { visits } = this.problem;
    for (let again = true; again; ) {
      again = false;
      visits.forEach(({ before }, v) => {
        if (this.seatOf[v] === undefined || before.every((b) => this.seatOf[b] !== undefined)) return;
        this.sit(v, undefined);
        again = true;
      });
    }
  }
}

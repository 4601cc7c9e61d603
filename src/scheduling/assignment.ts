/** Which visit lies on which day, and how to move several at once: a visit that takes a full day pushes another to the next, and so on. */
import { WITHOUT_DAY } from "./day-plans.ts";
import { COST, type Problem } from "./problem.ts";
import { NOWHERE, Pushes, type Row } from "./pushes.ts";

/** Rings of pushes that one look may take; each gains, so there is always an end, and this is a brake. */
const RINGS = 500;

/** Visits on days. The day number `none` (how many days there are) means: left over. */
export class Assignment {
  readonly none: number;
  readonly dayOf: Int32Array;
  /** Visits of each place on each day. */
  private readonly lying: number[][][];
  private readonly trips: Uint8Array[];
  private readonly pushes: Pushes[];
  /** Days of each place whose pushes have to be looked at again. */
  private readonly stale: Uint8Array[];
  /** Single pushes that were found to gain less than they seem, until the next look at all. */
  private readonly barred = new Set<number>();
  /** Visits that are being moved by hand and must not be pushed. */
  private readonly held: Uint8Array;
  private readonly start: Int32Array;

  constructor(readonly problem: Problem) {
    const { days, visits, capacity, patients } = problem;
    const size = days.length + 1;
    this.none = days.length;
    this.dayOf = new Int32Array(visits.length).fill(this.none);
    this.lying = capacity.map(() => Array.from({ length: size }, () => []));
    this.trips = patients.map(() => new Uint8Array(size));
    this.pushes = capacity.map(() => new Pushes(size));
    this.stale = capacity.map(() => new Uint8Array(size).fill(1));
    this.held = new Uint8Array(visits.length);
    this.start = new Int32Array(size);
  }

  /** Seats of a place that are still free on a day; below zero while a visit too many lies there. Of those left over there can be any number. */
  free(place: number, day: number): number {
    return day === this.none ? NOWHERE : this.problem.capacity[place]![day]! - this.lying[place]![day]!.length;
  }
  /** What a patient pays for coming on a day, not counting these visits. */
  tripWithout(patient: number, day: number, own: readonly number[]): number {
    let others = this.trips[patient]![day]!;
    for (const v of own) if (this.dayOf[v] === day) others--;
    return others > 0 ? 0 : COST.trip;
  }
  /** Whether a visit may lie on a day (or on none), given where those lie that wait for it or that it waits for; those in `moving` are not asked. */
  mayLie(v: number, day: number, moving: readonly number[] = []): boolean {
    const { before, behind } = this.problem.visits[v]!;
    for (const b of before) {
      const at = this.dayOf[b]!;
      if (day !== this.none && (at === this.none || at > day) && !moving.includes(b)) return false;
    }
    for (const b of behind) {
      const at = this.dayOf[b]!;
      if (at !== this.none && (day === this.none || at < day) && !moving.includes(b)) return false;
    }
    return true;
  }

  /** Cost of what is assigned. */
  cost(): number {
    return this.problem.patients.reduce((sum, _, p) => sum + this.costOf(p, COST.leftOver), 0);
  }
  leftOver(): number {
    return this.dayOf.reduce((count, day) => count + (day === this.none ? 1 : 0), 0);
  }
  /** Cost of one patient's visits as they lie now. */
  private costOf(patient: number, withoutDay: number): number {
    const trips = this.trips[patient]!;
    const { visits, patients } = this.problem;
    let total = 0;
    for (const v of patients[patient]!) {
      const day = this.dayOf[v]!;
      // A trip is shared by all who lie on its day.
      total += day === this.none ? withoutDay : offOf(visits[v]!, day) + COST.trip / trips[day]!;
    }
    return Math.round(total);
  }

  /** Cost, as last counted, of making room for a visit on a day. */
  roomFor(v: number, day: number): number {
    const from = this.dayOf[v]!;
    return day === from ? 0 : this.pushes[this.problem.visits[v]!.place]!.room(day, from);
  }
  /** Takes every ring of pushes that gains, then counts what it costs to make room anywhere. */
  countRooms(): void {
    this.unbar();
    this.pushes.forEach((pushes, place) => {
      this.start.fill(0);
      for (let i = 0; i < RINGS; i++) {
        this.lookAt(place);
        const row = pushes.cheapest(this.start, () => false, 0);
        if (row === undefined) break;
        this.takeRing(place, row);
      }
      pushes.countAll((day) => this.free(place, day) > 0);
    });
  }
  private pushKey = (v: number, day: number) => v * (this.none + 1) + day;
  private unbar(): void {
    for (const key of this.barred) {
      const v = Math.floor(key / (this.none + 1));
      this.stale[this.problem.visits[v]!.place]![this.dayOf[v]!] = 1;
    }
    this.barred.clear();
  }
  private takeRing(place: number, { days }: Row): void {
    const pushes = this.pushes[place]!;
    const next = days.map((_, i) => days[(i + 1) % days.length]!);
    const moved = days.map((day, i) => pushes.who(day, next[i]!));
    // Two visits of one patient in a ring may gain less than each alone: none of its pushes is tried again.
    if (this.tryMove(moved, next)) return;
    moved.forEach((v, i) => {
      this.barred.add(this.pushKey(v, next[i]!));
      this.stale[place]![days[i]!] = 1;
    });
  }

  /** Gives a new visit a day, pushing others on if need be, or leaves another over in its place if that is cheaper. Each is to be inserted once. */
  insert(v: number): boolean {
    const { place, days, off, patient } = this.problem.visits[v]!;
    const pushes = this.pushes[place];
    if (pushes === undefined || days.length === 0) return false;
    for (let i = 0; i < RINGS; i++) {
      this.lookAt(place);
      this.start.fill(NOWHERE);
      days.forEach((day, j) => {
        if (this.mayLie(v, day)) this.start[day] = off[j]! + this.tripWithout(patient, day, [v]);
      });
      const row = pushes.cheapest(this.start, (day) => this.free(place, day) > 0, WITHOUT_DAY);
      if (row === undefined) break;
      if (row.ring) {
        this.takeRing(place, row);
        continue;
      }
      const others = row.days.slice(1).map((day, i) => pushes.who(row.days[i]!, day));
      if (this.tryMove([v, ...others], row.days)) return true;
      break;
    }
    this.put(v, this.none);
    return false;
  }

  /**
   * Gives a visit that is left over a day, whatever that costs, if any row of pushes ends at a free seat. Where no visit waits for another,
   * nothing but the lack of such a row (an augmenting path) can leave a visit over: when it fails for all, as many as possible have a day
   * (Berge 1957, from memory).
   */
  fit(v: number): boolean {
    const { place, days } = this.problem.visits[v]!;
    const cameFrom = new Map<number, { readonly day: number; readonly by: number } | undefined>();
    const queue: number[] = [];
    for (const day of days)
      if (this.mayLie(v, day)) {
        cameFrom.set(day, undefined);
        queue.push(day);
      }
    for (const day of queue) {
      if (this.free(place, day) > 0) {
        const moved: number[] = [];
        const to: number[] = [];
        let at = day;
        for (let step = cameFrom.get(at); step; step = cameFrom.get(at)) {
          moved.push(step.by);
          to.push(at);
          at = step.day;
        }
        return this.tryMove([v, ...moved], [at, ...to]);
      }
      for (const other of this.lying[place]![day]!)
        for (const next of this.problem.visits[other]!.days)
          if (!cameFrom.has(next) && this.mayLie(other, next)) {
            cameFrom.set(next, { day, by: other });
            queue.push(next);
          }
    }
    return false;
  }

  /**
   * Puts visits on days and pushes others on where a day becomes too full, if that is cheaper in the end; otherwise all is as before.
   *
   * @returns whether it was cheaper
   */
  tryMove(moved: readonly number[], days: ArrayLike<number>): boolean {
    const undo: number[] = [];
    const before = new Map<number, number>();
    const move = (v: number, day: number) => {
      const { patient } = this.problem.visits[v]!;
      if (!before.has(patient)) before.set(patient, this.costOf(patient, WITHOUT_DAY));
      undo.push(v, this.dayOf[v]!);
      this.put(v, day);
    };
    for (const v of moved) this.held[v] = 1;
    for (let i = 0; i < moved.length; i++) if (days[i] !== this.dayOf[moved[i]!]) move(moved[i]!, days[i]!);
    const right = moved.every((v) => this.mayLie(v, this.dayOf[v]!)) && moved.every((v) => this.makeRoom(v, move));
    let change = 0;
    if (right) for (const [patient, was] of before) change += this.costOf(patient, WITHOUT_DAY) - was;
    const better = right && change < 0;
    if (!better) for (let i = undo.length - 2; i >= 0; i -= 2) this.put(undo[i]!, undo[i + 1]!);
    for (const v of moved) {
      this.held[v] = 0;
      this.stale[this.problem.visits[v]!.place]![this.dayOf[v]!] = 1;
    }
    return better;
  }
  private makeRoom(v: number, move: (v: number, day: number) => void): boolean {
    const { place } = this.problem.visits[v]!;
    const day = this.dayOf[v]!;
    if (this.free(place, day) >= 0) return true;
    const pushes = this.pushes[place]!;
    this.lookAt(place);
    this.start.fill(NOWHERE);
    this.start[day] = 0;
    const row = pushes.cheapest(this.start, (to) => this.free(place, to) > 0, NOWHERE);
    if (row === undefined || row.ring) return false;
    const others = row.days.slice(1).map((to, i) => pushes.who(row.days[i]!, to));
    others.forEach((other, i) => {
      move(other, row.days[i + 1]!);
    });
    return others.every((other) => this.mayLie(other, this.dayOf[other]!));
  }

  /** Takes over a whole arrangement that is known to be valid. */
  takeOver(dayOf: Int32Array): void {
    dayOf.forEach((day, v) => {
      if (this.problem.visits[v]!.days.length > 0) this.put(v, day);
    });
  }

  private put(v: number, day: number): void {
    const { place, patient } = this.problem.visits[v]!;
    const was = this.dayOf[v]!;
    const from = this.lying[place]![was]!;
    const at = from.indexOf(v);
    if (at >= 0) from.splice(at, 1);
    const trips = this.trips[patient]!;
    if (was !== this.none) trips[was]!--;
    if (day !== this.none) trips[day]!++;
    this.lying[place]![day]!.push(v);
    this.dayOf[v] = day;
    this.stale[place]![was] = 1;
    // What a patient's other visits gain by moving hangs on where this one lies.
    for (const other of this.problem.patients[patient]!) {
      const at = this.problem.visits[other]!.place;
      if (at >= 0) this.stale[at]![this.dayOf[other]!] = 1;
    }
  }
  private lookAt(place: number): void {
    const stale = this.stale[place]!;
    const pushes = this.pushes[place]!;
    for (let day = 0; day <= this.none; day++) {
      if (stale[day] === 0) continue;
      stale[day] = 0;
      pushes.clear(day);
      for (const v of this.lying[place]![day]!) if (this.held[v] === 0) this.offer(v, day, pushes);
    }
  }
  private offer(v: number, day: number, pushes: Pushes): void {
    const visit = this.problem.visits[v]!;
    const { patient, days, off } = visit;
    const trips = this.trips[patient]!;
    const now = day === this.none ? WITHOUT_DAY : offOf(visit, day) + (trips[day] === 1 ? COST.trip : 0);
    const bound = visit.before.length + visit.behind.length > 0;
    for (let j = 0; j < days.length; j++) {
      const to = days[j]!;
      if (to === day || (bound && !this.mayLie(v, to))) continue;
      if (this.barred.size > 0 && this.barred.has(this.pushKey(v, to))) continue;
      pushes.offer(day, to, off[j]! + (trips[to] === 0 ? COST.trip : 0) - now, v);
    }
    const mayLeave = day !== this.none && (!bound || this.mayLie(v, this.none));
    if (mayLeave && !this.barred.has(this.pushKey(v, this.none))) pushes.offer(day, this.none, WITHOUT_DAY - now, v);
  }
}
const offOf = ({ days, off }: Problem["visits"][number], day: number): number => off[days.indexOf(day)]!;

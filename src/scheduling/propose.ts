/** Days for all visits of a list at once: none left over that could have one, few trips, near the best days. */
import { Assignment } from "./assignment.ts";
import { type Bounds, boundsOf } from "./bounds.ts";
import { type Timed, timesFor } from "./clock-times.ts";
import { bunches, cheapestDays, inPieces, TOGETHER, WITHOUT_DAY } from "./day-plans.ts";
import { fewestByTrying } from "./every-way.ts";
import { COST, type Problem } from "./problem.ts";

/** How far a search has come. */
export interface Progress {
  readonly round: number;
  readonly leftOver: number;
  readonly cost: number;
  /** What has been found so far. */
  readonly assignment: Assignment;
}
/** Rounds after which the search ends even if it still finds something better. */
const ROUNDS = 60;
/** Share of the cost that a round must gain for the search to go on; rounds cost more and more time for less and less. */
const WORTH = 0.003;
const NOT_THERE = WITHOUT_DAY * 4;

/**
 * Searches for the best days, telling after each round how far it is; whoever asks no further keeps what has been found so far, which is always
 * a valid assignment. The same list gives the same answer.
 */
export function* searchDays(problem: Problem): Generator<Progress, Assignment> {
  const assignment = new Assignment(problem);
  const search = new Search(problem, assignment);
  search.start();
  const waits = problem.visits.some((v) => v.before.length > 0);
  let last = Number.POSITIVE_INFINITY;
  for (let round = 1; round <= ROUNDS; round++) {
    const cost = assignment.cost();
    yield { round, leftOver: assignment.leftOver(), cost, assignment };
    // While a visit that waits for another is left over, a later round may still make room for the two.
    const worth = last - cost > cost * WORTH || (waits && assignment.leftOver() > 0);
    last = cost;
    if ((!worth || search.round() === 0) && search.fill() === 0) break;
  }
  const everyWay = waits && assignment.leftOver() > 0 ? fewestByTrying(problem) : undefined;
  if (everyWay && everyWay.leftOver < assignment.leftOver()) {
    assignment.takeOver(everyWay.dayOf);
    for (let round = 1; round <= ROUNDS && search.round() > 0; round++);
  }
  return assignment;
}

class Search {
  private readonly together: readonly (readonly number[])[];
  private readonly chosen = new Int32Array(TOGETHER);
  constructor(
    private readonly problem: Problem,
    private readonly assignment: Assignment,
  ) {
    this.together = problem.patients.flatMap((own) => bunches(problem, own).flatMap(inPieces));
  }

  /** Visit by visit, the first deadline first; what is waited for comes before what waits. */
  start(): void {
    const { visits } = this.problem;
    const deadline = (v: number) => visits[v]!.days.at(-1) ?? 0;
    const inserted = new Set<number>();
    const insert = (v: number) => {
      if (inserted.has(v)) return;
      inserted.add(v);
      for (const b of visits[v]!.before) insert(b);
      this.assignment.insert(v);
    };
    for (const own of this.together.toSorted((a, b) => deadline(a[0]!) - deadline(b[0]!))) own.forEach(insert);
  }

  /** One look at every patient's visits; the promising moves are tried, the best first. Returns how many were made. */
  round(): number {
    const { assignment } = this;
    assignment.countRooms();
    const promising = this.together
      .map((own) => this.better(own))
      .filter((move) => move.gain < 0)
      .sort((a, b) => a.gain - b.gain);
    let made = 0;
    for (const { own, days } of promising) if (assignment.tryMove(own, days)) made++;
    if (made > 0) return made;
    // What two visits of one patient want at once may be too much for a day: each alone, then.
    for (const { own } of promising)
      for (const v of own) {
        const { days } = this.better([v]);
        if (assignment.tryMove([v], days)) {
          made++;
          assignment.countRooms();
        }
      }
    return made;
  }
  /** Makes sure that nothing is left over that a row of pushes could give a day. */
  fill(): number {
    const { assignment } = this;
    let made = 0;
    assignment.dayOf.forEach((day, v) => {
      if (day === assignment.none && assignment.fit(v)) made++;
    });
    return made;
  }
  private better(own: readonly number[]): { own: readonly number[]; days: Int32Array; gain: number } {
    const { problem, assignment, chosen } = this;
    const { visits, days } = problem;
    const { patient } = visits[own[0]!]!;
    const cost = cheapestDays(
      visits,
      own,
      days.length,
      (v, j) => {
        const day = visits[v]!.days[j]!;
        return assignment.mayLie(v, day, own) ? visits[v]!.off[j]! + assignment.roomFor(v, day) : NOT_THERE;
      },
      (day) => assignment.tripWithout(patient, day, own),
      chosen,
    );
    // Left over may not be what others wait for; such a choice is refused when it is tried.
    return { own, days: chosen.slice(0, own.length), gain: cost - this.costNow(own) };
  }
  private costNow(own: readonly number[]): number {
    const { problem, assignment } = this;
    const { patient } = problem.visits[own[0]!]!;
    const seen = new Set<number>();
    let cost = 0;
    for (const v of own) {
      const day = assignment.dayOf[v]!;
      const { days, off } = problem.visits[v]!;
      if (day === assignment.none) {
        cost += WITHOUT_DAY;
        continue;
      }
      cost += off[days.indexOf(day)]!;
      if (!seen.has(day)) cost += assignment.tripWithout(patient, day, own);
      seen.add(day);
    }
    return cost;
  }
}

/** A proposal for a whole list, with what no proposal could beat beside it. */
export interface Proposal {
  readonly timed: readonly Timed[];
  /** Ids of the visits that got no seat. */
  readonly leftOver: readonly string[];
  /** Days on which patients have to come, summed over patients; and what it all costs (`COST`). */
  readonly trips: number;
  readonly cost: number;
  readonly bounds: Bounds;
  /** True when it is proven that no proposal leaves fewer over. */
  readonly fewestLeftOver: boolean;
  /** True when the search was ended early: valid, and perhaps not the best. */
  readonly cancelled: boolean;
}
/** Lets a screen or a command follow a long run and end it. */
export interface Watch {
  readonly onProgress?: (progress: Progress) => void;
  readonly isCancelled?: () => boolean;
}
/** The whole way for a list: days, then seats, and the limits. The same list gives the same answer. See `searchDays` to be asked between rounds. */
export function propose(problem: Problem, watch: Watch = {}): Proposal {
  const search = searchDays(problem);
  let step = search.next();
  let cancelled = false;
  for (; !step.done; step = search.next()) {
    watch.onProgress?.(step.value);
    if (watch.isCancelled?.()) {
      cancelled = true;
      break;
    }
  }
  return proposalOf(problem, step.done ? step.value : step.value.assignment, cancelled);
}
/** Turns days into seats and says how good the whole is. */
export function proposalOf(problem: Problem, { dayOf }: { readonly dayOf: Int32Array }, cancelled = false): Proposal {
  const { timed, leftOver } = timesFor(problem, dayOf);
  const bounds = boundsOf(problem);
  const dayAt = new Map(problem.days.map((day, i) => [day, i]));
  const trips = new Set(timed.map(({ visit, seat }) => `${seat.day} ${visit.patient}`)).size;
  const offs = timed.map(({ index, seat }) => {
    const { days, off } = problem.visits[index]!;
    return off[days.indexOf(dayAt.get(seat.day)!)]!;
  });
  const cost = offs.reduce((sum, off) => sum + off, trips * COST.trip + leftOver.length * COST.leftOver);
  return { timed, leftOver, trips, cost, bounds, fewestLeftOver: leftOver.length === bounds.fewestLeftOver, cancelled };
}

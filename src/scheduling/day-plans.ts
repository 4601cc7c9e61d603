/** The days of one patient's visits, chosen together: fewest trips, near the best days, nothing before what it waits for. */
import { COST, type Problem, type ProblemVisit } from "./problem.ts";

/** More than any gain by better days can be, so that no visit is left over for the sake of the others. */
export const WITHOUT_DAY = 1_000_000;
/** Visits that are chosen together at once: the work doubles or triples with each. */
export const TOGETHER = 8;

/** Splits one patient's visits into groups that share no day and wait for none of another group; those without any day are in none. */
export function bunches(problem: Problem, own: readonly number[]): number[][] {
  const { visits } = problem;
  const first = (v: number) => visits[v]!.days[0] ?? 0;
  const last = (v: number) => visits[v]!.days.at(-1) ?? -1;
  const found: number[][] = [];
  let until = -1;
  for (const v of own.filter((v) => visits[v]!.days.length > 0).sort((a, b) => first(a) - first(b) || a - b)) {
    const bunch = found.at(-1);
    const tied = (w: number) => visits[v]!.before.includes(w) || visits[w]!.before.includes(v);
    const tiedTo = found.findIndex((b) => b.some(tied));
    if (bunch === undefined || (first(v) > until && tiedTo < 0)) found.push([v]);
    else if (tiedTo < 0) bunch.push(v);
    // What lies between belongs to neither alone.
    else found.splice(tiedTo, found.length, [...found.slice(tiedTo).flat(), v]);
    until = Math.max(until, last(v));
  }
  return found;
}
/** A group in pieces that can be chosen together. */
export const inPieces = (bunch: readonly number[]): number[][] =>
  Array.from({ length: Math.ceil(bunch.length / TOGETHER) }, (_, i) => bunch.slice(i * TOGETHER, (i + 1) * TOGETHER));

// Working memory of `cheapestDays`, which is asked thousands of times for one list; nothing is kept in it from one call to the next.
const BEST = new Float64Array(1 << TOGETHER);
const SUM = new Float64Array(1 << TOGETHER);
const COSTS = new Float64Array(TOGETHER);
const TOOK: Uint16Array[] = [];

/**
 * The cheapest days for some visits of one patient, exactly, by going through the days once and keeping the best way to have had each
 * set of visits so far.
 *
 * @param days how many days there are; a visit that is better left over gets this number
 * @param allowed whether visit `v` may take its day number `j` of `visits[v].days`
 * @param costOf what that day costs
 * @param tripOf what it costs the patient to come on a day
 * @returns cost, with `WITHOUT_DAY` for each visit left over; the days are in `chosen`, in the order of `own`
 */
export function cheapestDays(
  visits: readonly ProblemVisit[],
  own: readonly number[],
  days: number,
  costOf: (v: number, j: number) => number,
  tripOf: (day: number) => number,
  chosen: Int32Array,
): number {
  const sets = 1 << own.length;
  const needs = own.map((v) => visits[v]!.before.reduce((set, b) => set | bit(own.indexOf(b)), 0));
  const at = own.map(() => 0);
  const best = BEST;
  const sum = SUM;
  best.fill(Number.POSITIVE_INFINITY, 1, sets);
  best[0] = 0;
  const steps: number[] = [];
  for (;;) {
    let day = days;
    for (let i = 0; i < own.length; i++) day = Math.min(day, visits[own[i]!]!.days[at[i]!] ?? days);
    if (day === days) break;
    let open = 0;
    for (let i = 0; i < own.length; i++) {
      const j = at[i]!;
      if (visits[own[i]!]!.days[j] !== day) continue;
      at[i] = j + 1;
      COSTS[i] = costOf(own[i]!, j);
      if (COSTS[i]! < WITHOUT_DAY * 2) open |= 1 << i;
    }
    if (open === 0) continue;
    for (let set = open & -open; set !== 0; set = (set - open) & open) {
      const low = 31 - Math.clz32(set & -set);
      sum[set] = sum[set & (set - 1)]! + COSTS[low]!;
    }
    const trip = tripOf(day);
    const took = TOOK[steps.length] ?? new Uint16Array(1 << TOGETHER);
    TOOK[steps.length] = took;
    took.fill(0, 0, sets);
    for (let set = sets - 1; set > 0; set--) {
      const may = set & open;
      for (let take = may; take > 0; take = (take - 1) & may) {
        const total = best[set ^ take]! + sum[take]! + trip;
        if (total < best[set]! && hasAll(take, set, needs)) {
          best[set] = total;
          took[set] = take;
        }
      }
    }
    steps.push(day);
  }
  let end = 0;
  let least = Number.POSITIVE_INFINITY;
  for (let set = 0; set < sets; set++) {
    const total = best[set]! + (own.length - ones(set)) * WITHOUT_DAY;
    if (total < least) [least, end] = [total, set];
  }
  chosen.fill(days, 0, own.length);
  for (let i = steps.length - 1; i >= 0; i--) {
    const take = TOOK[i]![end]!;
    for (let v = 0; v < own.length; v++) if (take & (1 << v)) chosen[v] = steps[i]!;
    end ^= take;
  }
  return least;
}
const bit = (i: number) => (i < 0 ? 0 : 1 << i);
function hasAll(take: number, set: number, needs: readonly number[]): boolean {
  for (let rest = take; rest !== 0; rest &= rest - 1)
    if ((needs[31 - Math.clz32(rest & -rest)]! & ~set) !== 0) return false;
  return true;
}
function ones(set: number): number {
  let count = 0;
  for (let rest = set; rest !== 0; rest &= rest - 1) count++;
  return count;
}

/** One way to arrange all visits of a patient: a day (its place in `Problem.days`) for each. */
export interface DayPlan {
  readonly days: ReadonlyMap<number, number>;
  readonly cost: number;
}
/**
 * The best ways to arrange visits of one patient on days with a free seat, the best first, ties by the earlier days. Every way is weighed; a way
 * that can no longer be among the best is given up early.
 *
 * @param own visits of one patient; what has no day at all is left out
 * @param hasSeat whether a visit finds a free seat on a day
 * @returns empty when they cannot all be arranged
 */
export function rankedPlans(
  problem: Problem,
  own: readonly number[],
  hasSeat: (v: number, day: number) => boolean,
  atMost: number,
): DayPlan[] {
  const { visits } = problem;
  const order = inOrderOfNeed(own, visits);
  const options = order.map((v) =>
    visits[v]!.days.map((day, j) => ({ day, off: visits[v]!.off[j]! })).filter(({ day }) => hasSeat(v, day)),
  );
  // The least that the visits still to come can add.
  const rest = options.map((_, i) =>
    options.slice(i).reduce((sum, o) => sum + Math.min(...o.map(({ off }) => off)), 0),
  );
  const best: DayPlan[] = [];
  const taken = new Map<number, number>();
  const weigh = (i: number, cost: number) => {
    if (best.length === atMost && cost + (rest[i] ?? 0) >= best.at(-1)!.cost) return;
    const v = order[i];
    if (v === undefined) {
      const at = best.findIndex((plan) => plan.cost > cost);
      best.splice(at < 0 ? best.length : at, 0, { days: new Map(taken), cost });
      best.length = Math.min(best.length, atMost);
      return;
    }
    for (const { day, off } of options[i]!) {
      if (visits[v]!.before.some((b) => own.includes(b) && (taken.get(b) ?? day + 1) > day)) continue;
      const trip = [...taken.values()].includes(day) ? 0 : COST.trip;
      taken.set(v, day);
      weigh(i + 1, cost + off + trip);
      taken.delete(v);
    }
  };
  weigh(0, 0);
  return best;
}
function inOrderOfNeed(own: readonly number[], visits: readonly ProblemVisit[]): number[] {
  const order: number[] = [];
  const add = (v: number) => {
    if (order.includes(v)) return;
    for (const b of visits[v]!.before) if (own.includes(b)) add(b);
    order.push(v);
  };
  own.forEach(add);
  return order;
}

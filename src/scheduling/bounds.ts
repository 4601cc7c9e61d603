/** What no arrangement can beat, shown beside each proposal so that whoever reads it knows how good it is. */
import { bunches, cheapestDays, TOGETHER, WITHOUT_DAY } from "./day-plans.ts";
import { fewestByTrying } from "./every-way.ts";
import { COST, type Problem } from "./problem.ts";

export interface Bounds {
  /**
   * Visits that no arrangement of days can give a seat. Exact, the very minimum, when no visit waits for another, and in small lists, where
   * every way is tried. In longer lists with waiting visits it is a limit from below: each is counted as if what it waits for came on that
   * one's first possible day, which can only hold more. (With waiting visits the minimum itself is a hard problem: Lenstra and Rinnooy Kan
   * 1978 for unit jobs with precedence on parallel machines, from memory.) So it is shown as "no fewer than", never as reached.
   */
  readonly fewestLeftOver: number;
  /** Days on which patients have to come at least if every visit that has a possible day is held. */
  readonly fewestTrips: number;
  /** Cost (`COST`) that would be reached if every place had room for all. */
  readonly leastCost: number;
}

export function boundsOf(problem: Problem): Bounds {
  const atLeast = fewestLeftOver(problem);
  const waits = problem.visits.some(({ before }) => before.length > 0);
  const fewest = waits ? (fewestByTrying(problem, atLeast)?.leftOver ?? atLeast) : atLeast;
  return { fewestLeftOver: fewest, ...withoutCapacity(problem) };
}

/**
 * For each place the days in turn: of the visits that may lie on a day, those whose last day is nearest take its seats. For visits whose days
 * have no gap this is the largest number that can be held (Glover 1967, from memory); what gaps leave over is then tried by pushing others on.
 */
function fewestLeftOver({ visits, capacity, days }: Problem): number {
  const first = (v: number): number => {
    const { before, days: may } = visits[v]!;
    return Math.max(may[0] ?? days.length, ...before.map(first));
  };
  const may = visits.map(({ days: own, before }, v) => {
    if (before.length === 0) return own;
    const from = first(v);
    return own.filter((d) => d >= from);
  });
  let left = may.filter((own) => own.length === 0).length;
  capacity.forEach((seats, place) => {
    const own = visits.flatMap((v, i) => (v.place === place && may[i]!.length > 0 ? [i] : []));
    const lying: number[][] = Array.from({ length: days.length }, () => []);
    const placed = new Set<number>();
    const byDeadline = own.toSorted((a, b) => may[a]!.at(-1)! - may[b]!.at(-1)!);
    for (let day = 0; day < days.length; day++)
      for (const v of byDeadline) {
        if (lying[day]!.length >= seats[day]!) break;
        if (!placed.has(v) && may[v]!.includes(day)) {
          lying[day]!.push(v);
          placed.add(v);
        }
      }
    for (const v of byDeadline) if (!placed.has(v) && !pushIn(v, may, lying, seats)) left++;
  });
  return left;
}
function pushIn(v: number, may: readonly (readonly number[])[], lying: number[][], seats: Int32Array): boolean {
  const came = new Map<number, readonly [visit: number, from: number]>(may[v]!.map((day) => [day, [v, -1]]));
  for (const day of came.keys()) {
    if (lying[day]!.length < seats[day]!) {
      for (let at = day; at >= 0; ) {
        const [visit, from] = came.get(at)!;
        lying[at]!.push(visit);
        if (from >= 0) lying[from]!.splice(lying[from]!.indexOf(visit), 1);
        at = from;
      }
      return true;
    }
    for (const other of lying[day]!) for (const to of may[other]!) if (!came.has(to)) came.set(to, [other, day]);
  }
  return false;
}

function withoutCapacity(problem: Problem): { fewestTrips: number; leastCost: number } {
  const { visits, patients, days } = problem;
  const chosen = new Int32Array(TOGETHER);
  let trips = 0;
  let leastCost = visits.filter((v) => v.days.length === 0).length * COST.leftOver;
  for (const own of patients)
    for (const bunch of bunches(problem, own)) {
      // Of more than can be weighed together, some alone: the others cost nothing less than nothing.
      const some = bunch.slice(0, TOGETHER);
      const least = (off: number) => {
        const total = cheapestDays(
          visits,
          some,
          days.length,
          (v, j) => visits[v]!.off[j]! * off,
          () => COST.trip,
          chosen,
        );
        const without = some.filter((_, i) => chosen[i] === days.length).length;
        return { cost: total - without * (WITHOUT_DAY - COST.leftOver), trips: total - without * WITHOUT_DAY };
      };
      trips += least(0).trips / COST.trip;
      leastCost += least(1).cost;
    }
  return { fewestTrips: Math.round(trips), leastCost };
}

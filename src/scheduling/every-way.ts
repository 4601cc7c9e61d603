/** The fewest visits that can be left over in a small list, by trying every way: for lists in which visits wait, where no sweep proves it. */
import type { Problem } from "./problem.ts";

/** Lists that are longer, or need more steps, are not tried: the answer would come too late. A count of steps, not of time. */
const MOST_VISITS = 30;
const MOST_STEPS = 20_000;

export interface FewestByTrying {
  readonly leftOver: number;
  /** Day of each visit; the number of days: none. */
  readonly dayOf: Int32Array;
}
/**
 * @param atLeast a proven limit from below: reached, it need not be searched further
 * @returns undefined where the list is too long to try all ways
 */
export function fewestByTrying(problem: Problem, atLeast = 0): FewestByTrying | undefined {
  const { visits, capacity, days } = problem;
  if (visits.length > MOST_VISITS) return undefined;
  const none = days.length;
  const room = capacity.map((seats) => Int32Array.from(seats));
  const dayOf = new Int32Array(visits.length).fill(none);
  const order: number[] = [];
  const add = (v: number) => {
    if (order.includes(v)) return;
    for (const b of visits[v]!.before) add(b);
    order.push(v);
  };
  visits.forEach((_, v) => {
    add(v);
  });
  let best: FewestByTrying | undefined;
  let steps = 0;
  const isOver = () => steps > MOST_STEPS || best?.leftOver === atLeast;
  const tryFrom = (i: number, left: number): void => {
    if (left >= (best?.leftOver ?? Number.POSITIVE_INFINITY) || isOver()) return;
    steps++;
    if (i === order.length) {
      best = { leftOver: left, dayOf: dayOf.slice() };
      return;
    }
    const v = order[i]!;
    const { before, place, days: may } = visits[v]!;
    const first = Math.max(0, ...before.map((b) => dayOf[b]!));
    for (const day of may) {
      if (day < first || room[place]![day]! <= 0) continue;
      room[place]![day]!--;
      dayOf[v] = day;
      tryFrom(i + 1, left);
      dayOf[v] = none;
      room[place]![day]!++;
    }
    tryFrom(i + 1, left + 1);
  };
  tryFrom(0, 0);
  return steps > MOST_STEPS ? undefined : best;
}

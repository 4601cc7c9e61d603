/** The order, the filters and the counts of the list of visits to arrange. */
import type { VisitPurpose } from "../pathway/index.ts";
import { type Day, daysFrom, isoWeekOf } from "./calendar.ts";
import type { VisitToArrange } from "./visits.ts";

/** Days until the last day of a window; negative once it is over. */
export const daysLeft = (visit: VisitToArrange, today: Day): number => daysFrom(today, visit.due.latest);
/** "overdue by 2 days", "last day today", "1 day left". */
export function daysLeftWords(visit: VisitToArrange, today: Day): string {
  const days = daysLeft(visit, today);
  const count = (n: number) => (n === 1 ? "1 day" : `${n} days`);
  return days < 0 ? `overdue by ${count(-days)}` : days === 0 ? "last day today" : `${count(days)} left`;
}
/** The nearest last day first, which puts the longest overdue at the top; then the best day, then the id, so that the order never flickers. */
export const byUrgency = (visits: readonly VisitToArrange[]): VisitToArrange[] =>
  visits.toSorted((a, b) => order(a.due.latest, b.due.latest) || order(a.due.ideal, b.due.ideal) || order(a.id, b.id));
const order = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);

/** What a list is narrowed to; what is absent does not narrow. */
export interface Filter {
  readonly clinic?: string;
  readonly role?: string;
  readonly purpose?: VisitPurpose;
  readonly overdue?: boolean;
  /** Windows that share a day with this stretch, both ends counted. */
  readonly from?: Day;
  readonly to?: Day;
}
/** The visits that every part of a filter lets through, in their order. */
export const filtered = (visits: readonly VisitToArrange[], filter: Filter, today: Day): VisitToArrange[] =>
  visits.filter(
    ({ clinic, role, parts, due }) =>
      (filter.clinic === undefined || clinic === filter.clinic) &&
      (filter.role === undefined || role === filter.role) &&
      (filter.purpose === undefined || parts.some((p) => p.purpose === filter.purpose)) &&
      (filter.overdue === undefined || due.latest < today === filter.overdue) &&
      (filter.from === undefined || due.latest >= filter.from) &&
      (filter.to === undefined || due.earliest <= filter.to),
  );

/** How many visits have their last (or best) day in each ISO week, in the order of the weeks. */
export function countsByWeek(
  visits: readonly VisitToArrange[],
  by: "latest" | "ideal" = "latest",
): [week: string, count: number][] {
  const counts = new Map<string, number>();
  for (const { due } of visits) {
    const week = isoWeekOf(due[by]);
    counts.set(week, (counts.get(week) ?? 0) + 1);
  }
  return [...counts].sort(([a], [b]) => order(a, b));
}

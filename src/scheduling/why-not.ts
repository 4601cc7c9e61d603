/** Why a visit found no seat, in words, and what would be the least bad way out. */
import { type Day, daysBetween, daysFrom, dayWords, laterDay } from "./calendar.ts";
import type { ClosedDays } from "./closed-days.ts";
import { seatSuits } from "./problem.ts";
import { placeKey, type Seat } from "./sessions.ts";
import { canCome, type VisitToArrange } from "./visits.ts";

export type Reason =
  | "window-over"
  | "no-day-suits-all"
  | "waits-for-another"
  | "closed"
  | "patient-cannot-come"
  | "no-session"
  | "full";
export interface Obstacle {
  readonly reason: Reason;
  /** Days of the window that it rules out. */
  readonly days: readonly Day[];
  readonly words: string;
}
export interface Choice {
  readonly seat: Seat;
  /** Days after the window; before it when negative; 0 inside. Outside, whoever books gives a reason and the doctor is told. */
  readonly outside: number;
  /** What has to be given up. */
  readonly gives: "window" | "clinic" | "patient-times";
  readonly words: string;
}
export interface Around {
  readonly today: Day;
  /** Every seat there is, taken or free; and those that are free. */
  readonly seats: readonly Seat[];
  readonly free: readonly Seat[];
  readonly closed: ClosedDays;
  /** Visits that must come first: their name, and the day they have. */
  readonly first: readonly { readonly words: string; readonly day?: Day }[];
}
const CHOICES = 3;

/** Each day of the window is ruled out by the first of: what it waits for, a closed day, the patient, no session, no free seat. */
export function obstacles(visit: VisitToArrange, around: Around): Obstacle[] {
  const { earliest, latest } = visit.due;
  if (latest < earliest)
    return [
      {
        reason: "no-day-suits-all",
        days: [],
        words: `No day suits: not before ${dayWords(earliest)}, not after ${dayWords(latest)}.`,
      },
    ];
  if (latest < around.today)
    return [{ reason: "window-over", days: [], words: `The last day was ${dayWords(latest)}.` }];
  const from = laterDay(earliest, around.today);
  const ruled = new Map<string, { reason: Reason; days: Day[]; say: (days: number) => string }>();
  for (const day of daysBetween(from, latest)) {
    const found = obstacleOn(visit, day, around);
    if (found === undefined) continue;
    const [reason, key, say] = found;
    const same = ruled.get(key);
    if (same) same.days.push(day);
    else ruled.set(key, { reason, days: [day], say });
  }
  return [...ruled.values()].map(({ reason, days, say }) => ({ reason, days, words: say(days.length) }));
}
type Ruled = readonly [reason: Reason, key: string, say: (days: number) => string];
const on = (days: number) => (days === 1 ? "on 1 day" : `on ${days} days`);
function obstacleOn(visit: VisitToArrange, day: Day, { seats, free, closed, first }: Around): Ruled | undefined {
  const waits = first.find((f) => f.day === undefined || f.day > day);
  if (waits)
    return [
      "waits-for-another",
      `waits ${waits.words}`,
      () =>
        waits.day ? `Not before ${waits.words} (${dayWords(waits.day)}).` : `${waits.words} has to be arranged first.`,
    ];
  const why = closed.get(visit.clinic)?.get(day);
  if (why !== undefined) return ["closed", `closed ${why}`, (n) => `Closed ${on(n)}: ${why}.`];
  if (!canCome(visit.unavailable, day))
    return ["patient-cannot-come", "cannot", (n) => `The patient cannot come ${on(n)}.`];
  const here = (list: readonly Seat[]) => list.filter((s) => s.day === day && placeKey(s) === placeKey(visit));
  if (here(seats).length === 0) return ["no-session", "none", (n) => `No session of the ${visit.role} ${on(n)}.`];
  const left = here(free);
  if (left.length === 0) return ["full", "full", (n) => `The ${visit.role} is full ${on(n)}.`];
  if (!left.some((s) => seatSuits(visit.unavailable, s)))
    return ["patient-cannot-come", "hours", (n) => `The patient cannot come at the free times ${on(n)}.`];
  return undefined;
}

/** The least bad ways out: the same days elsewhere or against the patient's wish, then the nearest free seats outside the window. */
export function leastBad(visit: VisitToArrange, { today, free, closed, first }: Around): Choice[] {
  const { earliest, latest } = visit.due;
  const late = latest < today || latest < earliest;
  const after = first.reduce<Day | undefined>(
    (day, f) => (f.day === undefined ? "9999-12-31" : later(day, f.day)),
    undefined,
  );
  const open = free.filter(
    (s) =>
      s.role === visit.role &&
      s.day >= today &&
      (after === undefined || s.day >= after) &&
      !closed.get(s.clinic)?.has(s.day),
  );
  const outside = (day: Day) =>
    late || day > latest ? daysFrom(latest, day) : day < earliest ? daysFrom(earliest, day) : 0;
  const choices = open.flatMap((seat): Choice[] => {
    const away = outside(seat.day);
    const here = seat.clinic === visit.clinic;
    const suits = seatSuits(visit.unavailable, seat);
    const given = [...(away === 0 ? [] : ["window"]), ...(here ? [] : ["clinic"]), ...(suits ? [] : ["patient-times"])];
    // One thing is given up, not two; and what gives up nothing is no way out but a seat.
    return given.length === 1
      ? [{ seat, outside: away, gives: given[0] as Choice["gives"], words: choiceWords(seat, away, given[0]!) }]
      : [];
  });
  const firstOfDay = new Map<string, Choice>();
  for (const choice of choices.sort((a, b) => a.seat.start.localeCompare(b.seat.start))) {
    const key = `${choice.seat.clinic} ${choice.seat.day} ${choice.gives}`;
    if (!firstOfDay.has(key)) firstOfDay.set(key, choice);
  }
  return [...firstOfDay.values()]
    .sort((a, b) => Math.abs(a.outside) - Math.abs(b.outside) || a.seat.start.localeCompare(b.seat.start))
    .slice(0, CHOICES);
}
const later = (a: Day | undefined, b: Day): Day => (a !== undefined && a > b ? a : b);
function choiceWords(seat: Seat, away: number, gives: string): string {
  const when = dayWords(seat.day);
  if (gives === "clinic") return `${when}, inside the window, at another clinic.`;
  if (gives === "patient-times") return `${when}, inside the window, when the patient said no: ask again.`;
  const days = Math.abs(away) === 1 ? "1 day" : `${Math.abs(away)} days`;
  return `${when}, ${days} ${away < 0 ? "before the first day" : "after the last day"}: needs a reason, and the doctor is told.`;
}

/** After something has happened: what is missed is booked anew or told to the clinician, what no longer fits is flagged, nothing is lost. */
import { type Day, dayWords, type Instant, laterDay, timeOf } from "./calendar.ts";
import type { ClosedDays } from "./closed-days.ts";
import { grouped } from "./grouped.ts";
import { type Place, placeKey } from "./sessions.ts";
import { type PlannedVisit, predecessorOf, type Window } from "./visits.ts";

export type BookingState = "booked" | "arrived" | "held" | "cancelled" | "no-show";
/** A booked visit; `keys` are the visits of plans that it serves. */
export interface Booking extends Place {
  readonly id: string;
  readonly keys: readonly string[];
  readonly patient: string;
  readonly day: Day;
  readonly start: Instant;
  readonly state: BookingState;
  /** Booked outside the window on purpose: this was the window then. It is flagged again only when the plan has changed since. */
  readonly acceptedFor?: Window;
}
/** What a patient's record says that ends visits here. */
export type PatientEnd = "died" | "moved-away";

export type Next =
  | { readonly kind: "rebook"; readonly due: Window; readonly words: string }
  | { readonly kind: "escalate"; readonly words: string };
/** After a visit was missed or cancelled: booked anew inside what is left of its window; if none is left, the clinician decides, not the clerk. */
export function afterMissed(due: Window, today: Day): Next {
  const { earliest, ideal, latest } = due;
  if (latest < today)
    return {
      kind: "escalate",
      words: `The last day was ${dayWords(latest)}: the clinician decides whether it is still needed and by when.`,
    };
  const from = laterDay(earliest, today);
  return {
    kind: "rebook",
    due: { earliest: from, ideal: laterDay(ideal, from), latest },
    words: `To be booked again by ${dayWords(latest)}.`,
  };
}

export type FlagReason =
  | "patient-died"
  | "patient-moved-away"
  | "plan-cancelled"
  | "no-longer-needed"
  | "before-window"
  | "after-window"
  | "before-what-it-waits-for"
  | "clinic-closed"
  | "another-place"
  | "booked-twice";
export interface Flag {
  readonly booking: Booking;
  readonly reason: FlagReason;
  readonly words: string;
}
export interface Now {
  readonly today: Day;
  /** Visits of the plans that stand; what was cancelled is not among them. */
  readonly planned: readonly PlannedVisit[];
  /** Keys of visits whose whole plan was cancelled or replaced. */
  readonly cancelled: ReadonlySet<string>;
  readonly patients: ReadonlyMap<string, PatientEnd>;
  readonly closed: ClosedDays;
}
const isOpen = ({ state }: Booking) => state === "booked" || state === "arrived";

/** Booked visits from today on that no longer fit, each with every reason. They are asked about, never moved or cancelled by themselves. */
export function flags(bookings: readonly Booking[], now: Now): Flag[] {
  const planned = new Map(now.planned.map((v) => [v.key, v]));
  const ahead = bookings.filter((b) => isOpen(b) && b.day >= now.today);
  const booked = bookedByKey(bookings);
  const byPlan = grouped(now.planned, (v) => v.plan);
  return ahead.flatMap((booking) => {
    const found = new Map<FlagReason, string>();
    const end = now.patients.get(booking.patient);
    if (end === "died") found.set("patient-died", "The patient has died: cancel this visit?");
    if (end === "moved-away") found.set("patient-moved-away", "The patient has moved away: cancel this visit?");
    const why = now.closed.get(booking.clinic)?.get(booking.day);
    if (why !== undefined) found.set("clinic-closed", `The clinic is closed on that day: ${why}.`);
    for (const key of booking.keys) {
      const visit = planned.get(key);
      const [reason, words] = unfit(booking, key, visit, now) ?? [];
      if (reason && words) found.set(reason, words);
      const before = visit && predecessorOf(visit, byPlan.get(visit.plan) ?? []);
      const first = before && booked.get(before.key)?.at(-1);
      if (
        first &&
        !booking.keys.includes(before.key) &&
        first.state !== "held" &&
        timeOf(first.start) > timeOf(booking.start)
      )
        found.set(
          "before-what-it-waits-for",
          `${before.words} is booked for ${dayWords(first.day)}, after this visit.`,
        );
      if ((booked.get(key)?.filter(isOpen).length ?? 0) > 1)
        found.set("booked-twice", "The same visit is booked twice.");
    }
    return [...found].map(([reason, words]) => ({ booking, reason, words }));
  });
}
function unfit(
  booking: Booking,
  key: string,
  visit: PlannedVisit | undefined,
  now: Now,
): [FlagReason, string] | undefined {
  if (visit === undefined)
    return now.cancelled.has(key)
      ? ["plan-cancelled", "Its plan was cancelled: cancel this visit?"]
      : ["no-longer-needed", "The plan no longer asks for this visit: cancel it?"];
  if (placeKey(visit) !== placeKey(booking)) return ["another-place", `The plan now asks for the ${visit.role}.`];
  const { due } = visit;
  if (due === undefined || sameWindow(booking.acceptedFor, due)) return undefined;
  if (booking.day < due.earliest)
    return ["before-window", `Booked for ${dayWords(booking.day)}; the first day is now ${dayWords(due.earliest)}.`];
  if (booking.day > due.latest)
    return ["after-window", `Booked for ${dayWords(booking.day)}; the last day is now ${dayWords(due.latest)}.`];
  return undefined;
}
const sameWindow = (a: Window | undefined, b: Window) => a?.earliest === b.earliest && a.latest === b.latest;

export type Missing = "never-booked" | "missed" | "cancelled" | "no-date" | "past-and-not-closed";
export interface Unarranged {
  readonly visit: PlannedVisit;
  readonly because: Missing;
  readonly overdue: boolean;
  /** The last booking of it, if there was one. */
  readonly last?: Booking;
}
/**
 * Visits of plans that nobody has arranged: due by a day and without a booking, missed or cancelled without a new one, booked for a day that is over
 * without a word whether the patient came, or without a date because the day is not known that they count from.
 *
 * @param by visits whose window begins on this day or before are due
 * @param ended patients who have died or moved away: they have no visits to arrange
 */
export function unarranged(
  planned: readonly PlannedVisit[],
  bookings: readonly Booking[],
  today: Day,
  by: Day,
  ended: ReadonlyMap<string, PatientEnd> = new Map(),
): Unarranged[] {
  const booked = bookedByKey(bookings);
  return planned.flatMap((visit): Unarranged[] => {
    if (ended.has(visit.patient)) return [];
    const own = booked.get(visit.key) ?? [];
    if (own.some((b) => b.state === "held" || (isOpen(b) && b.day >= today))) return [];
    const last = own.at(-1);
    const { due } = visit;
    const overdue = due !== undefined && due.latest < today;
    const found = (because: Missing) => [{ visit, because, overdue, ...(last ? { last } : {}) }];
    // Whatever once was booked and fell through is told even before its window begins.
    if (last?.state === "no-show") return found("missed");
    if (last && isOpen(last)) return found("past-and-not-closed");
    if (last) return found("cancelled");
    if (due === undefined) return found("no-date");
    return due.earliest <= by ? found("never-booked") : [];
  });
}
/** Bookings of each visit of a plan, the earliest first. */
function bookedByKey(bookings: readonly Booking[]): ReadonlyMap<string, readonly Booking[]> {
  const inOrder = bookings.toSorted((a, b) => timeOf(a.start) - timeOf(b.start));
  const pairs = inOrder.flatMap((b) => b.keys.map((key) => [key, b] as const));
  return new Map([...grouped(pairs, ([key]) => key)].map(([key, own]) => [key, own.map(([, b]) => b)]));
}

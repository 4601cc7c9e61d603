/** From weekly sessions, or from the free slots of a server, to the places that can each take one visit. */
import {
  clockOf,
  type Day,
  daysBetween,
  type Instant,
  instantOf,
  minutesLater,
  minutesOf,
  timeOf,
  wallOf,
  weekdayOf,
} from "./calendar.ts";
import type { Clinic } from "./clinics.ts";
import type { ClosedDays } from "./closed-days.ts";
import { grouped } from "./grouped.ts";

/** Where a visit can be held: one role of one clinic. */
export interface Place {
  readonly clinic: string;
  readonly role: string;
}
export const placeKey = ({ clinic, role }: Place): string => `${clinic}/${role}`;

/** One free time for one visit. */
export interface Seat extends Place {
  /** Who, or which of those who work side by side. */
  readonly staff: string;
  readonly day: Day;
  readonly start: Instant;
  readonly end: Instant;
  /** Ids of the slots that it takes up, in order; empty when it comes from weekly sessions. */
  readonly slots: readonly string[];
}

/** A free slot as a server lists it; its day is the one that the clinic's clocks show. */
export interface FreeSlot extends Place {
  readonly id: string;
  readonly staff: string;
  readonly start: Instant;
  readonly end: Instant;
}

/**
 * All seats of the weekly sessions from one day to another, both counted, in the order of their start. Times follow the clock of the clinic; a
 * seat whose start or end that clock leaves out (summer time begins) does not exist.
 */
export function seatsOfSessions(clinics: readonly Clinic[], closed: ClosedDays, first: Day, last: Day): Seat[] {
  const days = daysBetween(first, last);
  const seats = clinics.flatMap((clinic) =>
    days.filter((day) => !closed.get(clinic.id)?.has(day)).flatMap((day) => seatsOn(clinic, day)),
  );
  return inOrder(seats);
}

function seatsOn(clinic: Clinic, day: Day): Seat[] {
  const weekday = weekdayOf(day);
  const known = new Map<number, Instant | undefined>();
  // Sessions side by side share their clock times.
  const instantAt = (minutes: number) => {
    if (!known.has(minutes)) known.set(minutes, instantOf(day, clockOf(minutes), clinic.zone));
    return known.get(minutes);
  };
  return clinic.sessions
    .filter((s) => s.weekday === weekday)
    .flatMap((s) => {
      const seats: Seat[] = [];
      for (let at = minutesOf(s.from); at + s.slotMinutes <= minutesOf(s.to); at += s.slotMinutes) {
        const start = instantAt(at);
        const end = instantAt(at + s.slotMinutes);
        if (start === undefined || end === undefined || timeOf(end) - timeOf(start) !== s.slotMinutes * 60_000)
          continue;
        for (let n = 1; n <= s.capacity; n++)
          seats.push({ clinic: clinic.id, role: s.role, staff: `${s.role} ${n}`, day, start, end, slots: [] });
      }
      return seats;
    });
}

/**
 * Seats out of free slots. Slots of one person that follow one another without a gap are joined until a visit of that place fits; what is left
 * over at the end of a stretch, or too short, is no seat.
 *
 * @param minutesAt length of one visit at a place; undefined takes each slot as it is
 */
export function seatsOfSlots(
  clinics: readonly Clinic[],
  slots: readonly FreeSlot[],
  minutesAt: (place: Place) => number | undefined,
): Seat[] {
  const zones = new Map(clinics.map((c) => [c.id, c.zone]));
  const byStaff = grouped(slots, staffKey);
  const seats: Seat[] = [];
  for (const own of byStaff.values()) {
    let run: FreeSlot[] = [];
    for (const slot of own.toSorted((a, b) => timeOf(a.start) - timeOf(b.start))) {
      const zone = zones.get(slot.clinic);
      // A slot of a clinic that nobody described has no clock to be read by.
      if (zone === undefined) continue;
      const before = run.at(-1);
      if (before && timeOf(before.end) !== timeOf(slot.start)) run = [];
      run.push(slot);
      // Told in the clock of the clinic, whatever offset the server wrote.
      const start = minutesLater(run[0]!.start, 0, zone);
      const minutes = minutesAt(slot);
      if (minutes !== undefined && timeOf(slot.end) - timeOf(start) < minutes * 60_000) continue;
      const { clinic, role, staff } = slot;
      const end = minutes === undefined ? minutesLater(slot.end, 0, zone) : minutesLater(start, minutes, zone);
      seats.push({ clinic, role, staff, day: wallOf(start, zone).day, start, end, slots: run.map((s) => s.id) });
      run = [];
    }
  }
  return inOrder(seats);
}
const staffKey = (slot: FreeSlot) => `${placeKey(slot)}/${slot.staff}`;
const inOrder = (seats: readonly Seat[]) =>
  seats
    .map((seat) => [timeOf(seat.start), seat] as const)
    .sort(([a, x], [b, y]) => a - b || placeKey(x).localeCompare(placeKey(y)) || x.staff.localeCompare(y.staff))
    .map(([, seat]) => seat);
/** Wall clock of a seat, which its instants are written in. */
export const timesOf = ({
  start,
  end,
}: Pick<Seat, "start" | "end">): { readonly from: string; readonly to: string } => ({
  from: start.slice(11, 16),
  to: end.slice(11, 16),
});

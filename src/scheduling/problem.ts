/** A list of visits and free seats in numbers: which visit may lie on which day, how well, and how many each place takes a day. */
import { type Day, workingDayOf } from "./calendar.ts";
import { grouped } from "./grouped.ts";
import { placeKey, type Seat, timesOf } from "./sessions.ts";
import { canCome, type Unavailable, type VisitToArrange } from "./visits.ts";

/** What a proposal is judged by; the same for every list, so that two proposals can be compared. Common practice, no source. */
export const COST = {
  /** A visit without a day. */
  leftOver: 1000,
  /** Each day on which a patient has to come. */
  trip: 10,
  /** Each working day between the day of a visit and its best day. */
  offTarget: 1,
} as const;

export interface ProblemVisit {
  readonly visit: VisitToArrange;
  readonly patient: number;
  readonly place: number;
  /** Days it may lie on, as places in `Problem.days`, ascending; and what each costs in working days off the best one. */
  readonly days: readonly number[];
  readonly off: readonly number[];
  /** Visits that must have a day, and none that is later. */
  readonly before: readonly number[];
  /** Visits that wait for this one. */
  readonly behind: readonly number[];
  /** Its window is over: any day from today will do, the sooner the better, and it is told as outside the window. */
  readonly overdue: boolean;
}
export interface Problem {
  /** Days with a seat anywhere, ascending. */
  readonly days: readonly Day[];
  /** Seats of each place on each day. */
  readonly capacity: readonly Int32Array[];
  readonly visits: readonly ProblemVisit[];
  readonly patients: readonly (readonly number[])[];
  readonly seats: readonly Seat[];
}

/**
 * @param today no visit is proposed before it
 * @param visits all visits of a patient that wait for one another; one that waits for a visit which is not among them gets no day
 */
export function problemOf(visits: readonly VisitToArrange[], seats: readonly Seat[], today: Day): Problem {
  const ahead = seats.filter((seat) => seat.day >= today);
  const days = [...new Set(ahead.map((seat) => seat.day))].sort();
  const dayAt = new Map(days.map((day, i) => [day, i]));
  const known = new Map<Day, number>();
  // The same few days stand in hundreds of windows.
  const workingDay = (day: Day) => {
    const number = known.get(day) ?? workingDayOf(day);
    known.set(day, number);
    return number;
  };
  const working = days.map(workingDay);
  const placeAt = new Map<string, number>();
  const capacity: Int32Array[] = [];
  // Single seats only matter to patients who cannot come at certain hours.
  const withHours = visits.some((v) => v.unavailable.some((u) => u.hours !== undefined));
  const seatsAt = grouped(withHours ? ahead : [], (seat) => `${placeKey(seat)} ${seat.day}`);
  for (const seat of ahead) {
    const key = placeKey(seat);
    if (!placeAt.has(key)) {
      placeAt.set(key, capacity.length);
      capacity.push(new Int32Array(days.length));
    }
    const of = capacity[placeAt.get(key)!]!;
    const day = dayAt.get(seat.day)!;
    of[day] = of[day]! + 1;
  }
  const visitAt = new Map(visits.map((v, i) => [v.id, i]));
  const behind = visits.map((): number[] => []);
  visits.forEach((v, i) => {
    for (const id of v.after) behind[visitAt.get(id) ?? -1]?.push(i);
  });
  const patientAt = new Map<string, number>();
  const patients: number[][] = [];
  const numbered = visits.map((visit, i): ProblemVisit => {
    if (!patientAt.has(visit.patient)) {
      patientAt.set(visit.patient, patients.length);
      patients.push([]);
    }
    const patient = patientAt.get(visit.patient)!;
    patients[patient]!.push(i);
    const overdue = visit.due.latest < today;
    const from = overdue || visit.due.earliest < today ? today : visit.due.earliest;
    const ideal = overdue || visit.due.ideal < today ? today : visit.due.ideal;
    const place = placeAt.get(placeKey(visit)) ?? -1;
    const alone = visit.after.some((id) => !visitAt.has(id));
    const open: number[] = [];
    if (place >= 0 && !alone)
      for (let d = firstFrom(days, from); d < days.length; d++) {
        if (!overdue && days[d]! > visit.due.latest) break;
        if (
          capacity[place]![d]! > 0 &&
          mayCome(visit, () => seatsAt.get(`${placeKey(visit)} ${days[d]}`) ?? [], days[d]!)
        )
          open.push(d);
      }
    const target = workingDay(ideal);
    return {
      visit,
      patient,
      place,
      days: open,
      off: open.map((d) => Math.abs(working[d]! - target) * COST.offTarget),
      before: visit.after.flatMap((id) => visitAt.get(id) ?? []),
      behind: behind[i]!,
      overdue,
    };
  });
  return { days, capacity, visits: numbered, patients, seats: ahead };
}
function firstFrom(days: readonly Day[], from: Day): number {
  let low = 0;
  for (let high = days.length; low < high; ) {
    const middle = (low + high) >> 1;
    if (days[middle]! < from) low = middle + 1;
    else high = middle;
  }
  return low;
}
const mayCome = ({ unavailable }: VisitToArrange, seatsThen: () => readonly Seat[], day: Day) =>
  canCome(unavailable, day) &&
  (unavailable.every((u) => u.hours === undefined || day < u.from || u.to < day) ||
    seatsThen().some((seat) => seatSuits(unavailable, seat)));

/** Whether a patient can come at the time of a seat. */
export function seatSuits(unavailable: readonly Unavailable[], seat: Seat): boolean {
  return unavailable.every((u) => {
    if (seat.day < u.from || u.to < seat.day) return true;
    if (u.hours === undefined) return false;
    const { from, to } = timesOf(seat);
    return to <= u.hours.from || u.hours.to <= from;
  });
}

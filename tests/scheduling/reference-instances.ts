/**
 * Lists of a busy hand service, made by a seeded generator: 500 invented patients with 2 to 4 visits, twenty people in four roles, 60 working days,
 * most of their time already booked. `load` is the share of the free seats that the visits would fill if all could lie anywhere.
 */
import { dayAfter, type Seat, type VisitToArrange, weekdayOf } from "../../src/scheduling/index.ts";
import { seeded } from "../bench/seeded.ts";

const MONDAY = "2026-03-02";
export const FIRST_DAY = MONDAY;
const PATIENTS = 500;
const WORKING_DAYS = 60;
const QUARTERS = 32;
interface Role {
  readonly role: string;
  readonly staff: number;
  /** Length of one visit in quarter-hours, and how often a visit is of this role. */
  readonly quarters: number;
  readonly share: number;
}
const ROLES: readonly Role[] = [
  { role: "hand clinic", staff: 6, quarters: 1, share: 0.35 },
  { role: "hand therapist", staff: 8, quarters: 2, share: 0.3 },
  { role: "x-ray", staff: 2, quarters: 1, share: 0.2 },
  { role: "nurse", staff: 4, quarters: 1, share: 0.15 },
];

export interface Instance {
  readonly visits: readonly VisitToArrange[];
  readonly seats: readonly Seat[];
}
export interface Kind {
  readonly seed: number;
  readonly load: number;
  readonly patients?: number;
  readonly days?: number;
  /** Share of a patient's visits that wait for the one before. */
  readonly waiting?: number;
}

export function instance({ seed, load, patients = PATIENTS, days: count = WORKING_DAYS, waiting = 0 }: Kind): Instance {
  const random = seeded(seed);
  const upTo = (n: number) => Math.floor(random() * n);
  const days: string[] = [];
  for (let day = MONDAY; days.length < count; day = dayAfter(day, 1))
    if (!["sat", "sun"].includes(weekdayOf(day))) days.push(day);

  const pickRole = () => {
    let left = random();
    for (const role of ROLES) {
      left -= role.share;
      if (left < 0) return role;
    }
    return ROLES[0]!;
  };
  const visits: VisitToArrange[] = [];
  for (let p = 0; p < patients; p++) {
    const patient = `patient-${p}`;
    const own: VisitToArrange[] = [];
    const wanted = 2 + upTo(3);
    while (own.length < wanted) {
      const last = own.at(-1);
      // Two things that are done around one time: clinic and film, therapy and nurse.
      const same = last !== undefined && random() < 0.4;
      const width = 2 + upTo(5);
      const first = upTo(Math.max(1, count - width + 1));
      const middle = first + upTo(width);
      const fresh = { earliest: days[first]!, ideal: days[middle]!, latest: days[first + width - 1]! };
      const role = pickRole();
      if (same && last.role === role.role) continue;
      const id = `${patient}-${own.length}`;
      const waits = last !== undefined && random() < waiting;
      const place = { clinic: "harbour-street", role: role.role };
      own.push({
        id,
        patient,
        ...place,
        due: same ? last.due : fresh,
        parts: [],
        unavailable: [],
        after: waits && last.due.earliest <= (same ? last.due : fresh).latest ? [last.id] : [],
      });
    }
    visits.push(...own);
  }
  return { visits, seats: ROLES.flatMap((role) => seatsOf(role, visits, days, load, upTo)) };
}

/** Free seats of one role: as many as the load asks for, each in a random working hour of a random person. */
function seatsOf(
  role: Role,
  visits: readonly VisitToArrange[],
  days: readonly string[],
  load: number,
  upTo: (n: number) => number,
) {
  const wanted = Math.round(visits.filter((v) => v.role === role.role).length / load);
  const perDay = Math.floor(QUARTERS / role.quarters);
  const all = days.length * role.staff * perDay;
  const chosen = new Set<number>();
  while (chosen.size < Math.min(wanted, all)) chosen.add(upTo(all));
  return [...chosen]
    .sort((a, b) => a - b)
    .map((n): Seat => {
      const day = days[Math.floor(n / (role.staff * perDay))]!;
      const at = (n % perDay) * role.quarters;
      return {
        clinic: "harbour-street",
        role: role.role,
        staff: `${role.role} ${1 + (Math.floor(n / perDay) % role.staff)}`,
        day,
        start: `${day}T${quarter(at)}:00+00:00`,
        end: `${day}T${quarter(at + role.quarters)}:00+00:00`,
        slots: [],
      };
    });
}
const OPENS = 8;
const quarter = (n: number) =>
  `${String(OPENS + Math.floor(n / 4)).padStart(2, "0")}:${String((n % 4) * 15).padStart(2, "0")}`;

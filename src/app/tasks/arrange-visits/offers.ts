/** Which free times suit a visit, which come first, what is in the way: the clinic's times and the plans' days put together. Pure. */
import type { BookedVisit, ListedVisit } from "../../../fhir/listed-visit.ts";
import { type ClinicSchedule, type ClinicTime, longEnough, offers, placeInDays } from "../../../fhir/slot.ts";
import type { VisitPurpose } from "../../../pathway/index.ts";
import {
  type Around,
  type Choice,
  canCome,
  type Day,
  dayAfter,
  daysBetween,
  dayWords,
  instantOf,
  isClock,
  isDay,
  leastBad,
  minutesLater,
  type NotYet,
  obstacles,
  type PlannedVisit,
  predecessorOf,
  type Seat,
  type Taken,
  type VisitToArrange,
  visitsToArrange,
  type WhyClosed,
  type Window,
  workingDayOf,
} from "../../../scheduling/index.ts";
import { words } from "./words.ts";

/** The later of two days. */
export const laterOf = (a: Day | undefined, b: Day): Day => (a !== undefined && a > b ? a : b);

/** All schedules that a search offers count as one place: who sees the patient decides, not the building. */
const HERE = "here";
/** How many suggestions a visit begins with. */
const SUGGESTED = 3;

export const nameAt = (schedules: readonly ClinicSchedule[], time: ClinicTime): string =>
  schedules.find(({ reference }) => reference === time.schedule)?.name ?? "";

/** Schedules on which a visit can be booked; those that were chosen (references), where some were. */
export const placesFor = (
  visit: Pick<ListedVisit, "who">,
  schedules: readonly ClinicSchedule[],
  at?: readonly string[],
): ClinicSchedule[] =>
  schedules.filter((s) => (at === undefined || at.includes(s.reference)) && (visit.who === "" || offers(s, visit)));

/** The visit of a plan as the scheduler counts it. Where the plan gives one end only, that day is the whole window. */
export function plannedOf(visit: Omit<ListedVisit, "state" | "before">): PlannedVisit {
  const { earliest, ideal, latest } = visit.days;
  const first = earliest ?? ideal ?? latest;
  const last = latest ?? ideal ?? earliest;
  const due = first && last ? { earliest: first, ideal: ideal ?? first, latest: last } : undefined;
  return {
    key: visit.key,
    plan: visit.planId,
    patient: visit.patient.reference,
    clinic: HERE,
    role: visit.who,
    // A purpose of other programs is only ever compared.
    purpose: visit.purpose ?? (visit.words as VisitPurpose),
    words: visit.words,
    ...(due ? { due } : {}),
    ...(visit.after ? { after: visit.after } : {}),
  };
}
/** What is booked or was held, by the key that the plan gives it. */
export const takenBy = (booked: readonly BookedVisit[]): ReadonlyMap<string, Taken> =>
  new Map(booked.map((v) => [v.key, { day: v.at.slice(0, 10), had: v.status === "fulfilled" }]));

/** One free time as a seat for a visit of some role. */
export const seatOf = (time: ClinicTime, role: string, staff: string, zone: string): Seat => ({
  clinic: HERE,
  role,
  staff,
  day: time.day,
  // Told in the clinic's own offset: a server may write any.
  start: minutesLater(time.start, 0, zone),
  end: minutesLater(time.end, 0, zone),
  slots: [time.reference],
});

/** What is arranged together: one visit, or several of one patient that share days and place. */
export interface Arranging {
  readonly visit: VisitToArrange;
  readonly parts: readonly ListedVisit[];
  /** Visits that come first, and the day they have, if any. */
  readonly first: Around["first"];
}
/** The series of one patient, the first days first, and what cannot be arranged yet. */
export function seriesOf(
  visits: readonly ListedVisit[],
  booked: readonly BookedVisit[],
  opens: (role: string, day: Day) => boolean,
): { readonly series: readonly Arranging[]; readonly notYet: readonly NotYet[] } {
  const planned = [
    ...visits.map(plannedOf),
    ...booked.filter((b) => !visits.some((v) => v.key === b.key)).map(plannedOf),
  ];
  const taken = takenBy(booked);
  const byKey = new Map(visits.map((v) => [v.key, v]));
  const { visits: found, notYet } = visitsToArrange(planned, taken, new Map(), ({ role }, day) => opens(role, day));
  const series = found.map((visit): Arranging => {
    const before = visit.parts.flatMap((part) => {
      const previous = predecessorOf(part, planned);
      return previous && !visit.parts.some(({ key }) => key === previous.key) ? [previous] : [];
    });
    return {
      visit,
      parts: visit.parts.map(({ key }) => byKey.get(key)!),
      first: before.map(({ key, words }) => {
        const day = taken.get(key)?.day;
        return day ? { words, day } : { words };
      }),
    };
  });
  return {
    series: series.sort((a, b) => a.visit.due.earliest.localeCompare(b.visit.due.earliest)),
    notYet,
  };
}

export interface Offer {
  /** At most three inside the days, on different days where possible, the nearest to the best day first. */
  readonly suggested: readonly ClinicTime[];
  /** Every free time, the earliest first. */
  readonly free: readonly ClinicTime[];
  /** Why it can be neither earlier nor later, in sentences. */
  readonly bounds: readonly string[];
  /** When nothing is free inside the days: what is in the way, and the least bad ways out. */
  readonly obstacles: readonly string[];
  readonly leastBad: readonly { readonly time: ClinicTime; readonly words: string }[];
}

const minutesAt = ({ at }: ClinicTime) => at.slice(11);
/** How long visits last that are arranged together: as long as the longest of them; undefined where none says. */
export function minutesOf(parts: readonly Pick<ListedVisit, "minutes">[]): number | undefined {
  const known = parts.flatMap(({ minutes }) => minutes ?? []);
  return known.length === 0 ? undefined : Math.max(...known);
}

interface OfferDay {
  readonly today: Day;
  readonly now: Date;
  readonly zone: string;
  /** Why a place is closed on a day: nothing is suggested there; a time that the record system has there can still be chosen. */
  readonly closed?: WhyClosed;
}
const NONE_CLOSED: WhyClosed = () => undefined;

/** Days on which every one of these places is closed; the reason of the first of them stands for all. */
function closedEverywhere(places: readonly string[], days: Iterable<Day>, closed: WhyClosed): ReadonlyMap<Day, string> {
  const found = new Map<Day, string>();
  for (const day of days) {
    // Where no place has any time, what is said of all clinics still holds.
    const whys = (places.length > 0 ? places : [""]).map((place) => closed(place, day));
    if (whys.every((why) => why !== undefined)) found.set(day, whys[0]!);
  }
  return found;
}

/**
 * @param every every time of the places, free or not, in the order of their start
 * @param now instant, to leave out what has gone by
 * @param zone IANA zone of the clinic
 */
export function offerFor(
  { visit, parts, first }: Arranging,
  every: readonly ClinicTime[],
  { today, now, zone, closed = NONE_CLOSED }: OfferDay,
): Offer {
  const times = longEnough(every, minutesOf(parts));
  const seats = times.map((time) => seatOf(time, visit.role, time.schedule, zone));
  const ahead = times.filter((time) => Date.parse(time.start) > now.getTime());
  const free = ahead.filter((time) => time.status === "free");
  const isOpen = (time: ClinicTime) => closed(time.schedule, time.day) === undefined;
  const isFree = new Set(free.filter(isOpen).map((time) => time.reference));
  const places = [...new Set(times.map((time) => time.schedule))];
  const days = new Set([...times.map((time) => time.day), ...daysBetween(visit.due.earliest, visit.due.latest)]);
  const around: Around = {
    today,
    seats,
    free: seats.filter(({ slots }) => isFree.has(slots[0]!)),
    closed: new Map([[HERE, closedEverywhere(places, days, closed)]]),
    first,
  };
  const { due } = visit;
  const after = first.reduce((day, f) => laterOf(day, f.day ?? "9999-12-31"), due.earliest);
  const within = free.filter(
    (time) =>
      time.day >= laterOf(after, today) &&
      time.day <= due.latest &&
      isOpen(time) &&
      canCome(visit.unavailable, time.day),
  );
  const suggested = nearest(within, due.ideal < today ? today : due.ideal);
  const byReference = new Map(times.map((time) => [time.reference, time]));
  const obstacleWords = within.length > 0 ? [] : obstacles(visit, around).map(({ words }) => words);
  const choices = within.length > 0 ? [] : leastBad(visit, around);
  return {
    suggested,
    free,
    bounds: within.length > 0 ? boundsOf(visit.due, within, around, visit) : [],
    obstacles: obstacleWords,
    leastBad: choices.flatMap(({ seat, words }: Choice) => {
      const time = byReference.get(seat.slots[0]!);
      return time ? [{ time, words }] : [];
    }),
  };
}

/** The first time of each of the best days, then further times of those days. */
function nearest(times: readonly ClinicTime[], best: Day): ClinicTime[] {
  const target = workingDayOf(best);
  const ranked = [...times].sort(
    (a, b) =>
      Math.abs(workingDayOf(a.day) - target) - Math.abs(workingDayOf(b.day) - target) ||
      Date.parse(a.start) - Date.parse(b.start),
  );
  const days = new Set<Day>();
  const firsts = ranked.filter(({ day }) => !days.has(day) && days.add(day));
  const others = ranked.filter((time) => !firsts.includes(time));
  return [...firsts, ...others].slice(0, SUGGESTED);
}

function boundsOf(due: Window, within: readonly ClinicTime[], around: Around, visit: VisitToArrange): string[] {
  const opens = within[0]!.day;
  const closes = within.at(-1)!.day;
  const from = laterOf(due.earliest, around.today);
  const stretch = (earliest: Day, latest: Day) =>
    obstacles({ ...visit, due: { earliest, ideal: earliest, latest } }, around).map(({ words }) => words);
  const earlier =
    opens > from
      ? `Not before ${dayWords(opens)}: ${stretch(from, dayAfter(opens, -1)).join(" ")}`
      : due.earliest > around.today
        ? `Not before ${dayWords(due.earliest)}: the plan's first day.`
        : undefined;
  const later =
    closes < due.latest
      ? `Not after ${dayWords(closes)}: ${stretch(dayAfter(closes, 1), due.latest).join(" ")}`
      : `Not after ${dayWords(due.latest)}: the plan's last day.`;
  return [...(earlier ? [earlier] : []), later];
}

/** A day with free times for the list of days. */
export interface FreeDay {
  readonly day: Day;
  readonly times: readonly ClinicTime[];
  /** "Thu 3 December 2026: 12 free", and where it lies. */
  readonly words: string;
}
const WHERE = {
  before: ", before the first day",
  after: ", after the last day",
  within: ", inside the days",
  unknown: "",
} as const;
export function freeDays(
  free: readonly ClinicTime[],
  days: ListedVisit["days"],
  closed: WhyClosed = NONE_CLOSED,
): FreeDay[] {
  const byDay = new Map<Day, ClinicTime[]>();
  for (const time of free) byDay.set(time.day, [...(byDay.get(time.day) ?? []), time]);
  return [...byDay].map(([day, times]) => {
    const places = [...new Set(times.map((time) => time.schedule))];
    const why = closedEverywhere(places, [day], closed).get(day);
    const shut = why === undefined ? "" : words.closed.on(why);
    return { day, times, words: `${dayWords(day)}: ${times.length} free${WHERE[placeInDays(day, days)]}${shut}` };
  });
}
/** Whether a time lies outside the days of any of these visits: then a reason is asked for. */
export const isOutside = (time: Pick<ClinicTime, "day">, parts: readonly Pick<ListedVisit, "days">[]): boolean =>
  parts.some(({ days }) => ["before", "after"].includes(placeInDays(time.day, days)));

/** "Thu 3 December 2026, 09:15, Hand clinic"; of several times in a row also how long they are together. */
export const timeAndPlace = (time: ClinicTime, schedules: readonly ClinicSchedule[]): string =>
  [dayWords(time.day), minutesAt(time), time.rest && words.panel.lasting(time.minutes), nameAt(schedules, time)]
    .filter(Boolean)
    .join(", ");

/** Minutes that a visit may last when it is entered by hand. [common practice, no source] */
const LENGTH = { least: 5, most: 480 } as const;
/**
 * A time that was agreed without a slot; undefined when it is none: a day or clock time that does not exist, gone by, or of no sensible length.
 *
 * @param clock HH:mm of the clinic's clock
 */
export function agreedTime(
  day: Day,
  clock: string,
  minutes: number,
  { now, zone }: { readonly now: Date; readonly zone: string },
): ClinicTime | undefined {
  if (!isDay(day) || !isClock(clock)) return undefined;
  if (!Number.isInteger(minutes) || minutes < LENGTH.least || minutes > LENGTH.most) return undefined;
  const start = instantOf(day, clock, zone);
  if (start === undefined || Date.parse(start) <= now.getTime()) return undefined;
  const end = minutesLater(start, minutes, zone);
  return { ...NO_SLOT, start, end, at: `${day}T${clock}`, day, minutes };
}
const NO_SLOT = { reference: "", version: undefined, resource: {}, schedule: "", status: "free" } as const;
/** What an agreed time is booked with: the schedule that the visit belongs to, else nobody in particular. */
export const scheduleOf = (
  time: ClinicTime,
  schedules: readonly ClinicSchedule[],
  { who }: Pick<ListedVisit, "who">,
): ClinicSchedule =>
  schedules.find(({ reference }) => reference === time.schedule) ?? {
    reference: "",
    name: who || "time agreed by phone",
    services: [],
    actors: [],
  };

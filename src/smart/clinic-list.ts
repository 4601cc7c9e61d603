/**
 * The clinic's lists: visits to arrange, visits that are booked, and what has to be looked at again. Searched, filtered and sorted by
 * the record system, in pages; what a server ignores of that is done again here, and what is missing is told.
 */
import { addDays, formatISO, parseISO } from "date-fns";
import { VISIT_PURPOSE } from "../fhir/appointment.ts";
import { PLAN_ITEM } from "../fhir/codings.ts";
import { zonedOf } from "../fhir/dates.ts";
import { type BookedVisit, bookedIn, type ListedVisit, ListReading, visitsIn } from "../fhir/listed-visit.ts";
import type { ClinicSession } from "./session.ts";
import type { FhirAnswer, FhirProblem, FhirResource, SearchResult } from "./transport.ts";

export type Asking = Pick<ClinicSession, "fhir">;
/** The clinic's day and zone: yyyy-MM-dd and an IANA name. */
export interface ClinicDay {
  readonly today: string;
  readonly zone: string;
}
export interface ListFilter {
  /** "Patient/12": the visits of one person. */
  readonly patient?: string;
  /** Trade words of who sees the patient: "hand clinic". */
  readonly who?: string;
  /** "Practitioner/12": who ordered. */
  readonly requester?: string;
  readonly purpose?: string;
  /** Part of the patient's name. */
  readonly name?: string;
  /** Days that the window of the order meets, yyyy-MM-dd. */
  readonly from?: string;
  readonly to?: string;
}
export type Answer<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly problem: FhirProblem };

export interface VisitPage {
  /** Earliest last day first: what is overdue comes before what is due. */
  readonly visits: readonly ListedVisit[];
  /** Every visit whose last day lies before this day is on this page or an earlier one; undefined on the last page: all are. */
  readonly completeBefore?: string;
  /** Give it back for the next page; undefined on the last one. */
  readonly next?: string;
  /** Orders that match, as the server counts them. */
  readonly orders?: number;
  /** What is missing or could not be read, in sentences for the staff. */
  readonly problems: readonly string[];
}

const OURS = `${PLAN_ITEM}|`;
const PAGE = 50;
const LOOSE = 100;
const MOST_BOOKED = 500;
/** Visits ahead that are read to the end: to be compared with the days asked for them, to be published. [common practice, no source] */
export const MOST_AHEAD = 5000;

/** A search of a type, of the parameters that have a value. */
export const query = (type: string, parameters: readonly (readonly [string, string | undefined])[]): string => {
  const given = parameters.flatMap(([name, value]) => (value === undefined ? [] : [[name, value]]));
  return `${type}?${new URLSearchParams(given)}`;
};
/** R4 search.html#escaping: a comma would be "or". */
const escaped = (text: string | undefined) => text?.trim().replace(/[\\,|$]/g, "\\$&") || undefined;

const filters = ({ patient, who, requester, purpose, name, from, to }: ListFilter): [string, string | undefined][] => [
  ["subject", patient],
  ["performer-type:text", escaped(who)],
  ["requester", requester],
  ["_has:Appointment:based-on:service-type", purpose && `${VISIT_PURPOSE}|${purpose}`],
  ["subject:Patient.name", escaped(name)],
  ["occurrence", from && `ge${from}`],
  ["occurrence", to && `le${to}`],
];
/** Orders in effect of which some visit is asked for, was missed or called off. */
const openOrders = (filter: ListFilter, states = "proposed,noshow,cancelled"): [string, string | undefined][] => [
  ["status", "active"],
  ["intent", "order"],
  ["identifier", OURS],
  ["_has:Appointment:based-on:status", states],
  ...filters(filter),
];

/**
 * One page of the visits that have to be arranged, of about `size` orders. The server sorts by the first day of the order, so a visit whose
 * days are over stands among the first; `completeBefore` says how far that holds.
 */
export async function readVisits(
  session: Asking,
  { today, zone }: ClinicDay,
  {
    filter = {},
    next,
    size = PAGE,
    signal,
  }: { filter?: ListFilter; next?: string; size?: number; signal?: AbortSignal } = {},
): Promise<Answer<VisitPage>> {
  const asked =
    next ??
    query("ServiceRequest", [
      ...openOrders(filter),
      ["_sort", "occurrence"],
      ["_count", String(size)],
      ["_include", "ServiceRequest:subject"],
      ["_revinclude", "Appointment:based-on"],
      ["_include:iterate", "Appointment:reason-reference"],
    ]);
  const [answer, loose] = await Promise.all([
    session.fhir.search(asked, { limit: size, signal }),
    next === undefined ? looseVisits(session, signal) : undefined,
  ]);
  if (!answer.ok) return answer;
  if (loose && !loose.ok) return loose;
  const { matches, included, stoppedBy } = answer.value;
  const { resources, problems } = await completed(session, [
    ...matches,
    ...included,
    ...(loose?.value.matches ?? []),
    ...(loose?.value.included ?? []),
  ]);
  const reading = new ListReading(resources, today, zone);
  const visits = visitsIn(reading).filter(matching(filter));
  const starts = matches.map(startOf);
  // A server may leave `_sort` aside (R4 search): then nothing can be said of what is still to come.
  const inOrder = starts.every((day, i) => i === 0 || day >= starts[i - 1]!);
  const more = answer.value.next;
  const frontier = inOrder ? starts.at(-1) : NEVER;
  return {
    ok: true,
    value: {
      visits,
      ...(more ? { next: more } : {}),
      ...(more && frontier !== undefined ? { completeBefore: frontier } : {}),
      ...(answer.value.total === undefined ? {} : { orders: answer.value.total }),
      problems: [
        ...reading.problems,
        ...problems,
        // a later page holds only part of the total, and that is no fault
        ...(next === undefined || stoppedBy !== "total" ? cut("orders", answer.value) : []),
        ...(loose ? cut("visits without an order", loose.value) : []),
        ...(inOrder || stoppedBy === undefined
          ? []
          : ["The record system does not sort this list: read it to the end before you take it for complete."]),
      ],
    },
  };
}
const LAST = "9999-12-31";
const NEVER = "0000-00-00";
const startOf = (order: FhirResource): string =>
  String((order.occurrencePeriod as { start?: unknown } | undefined)?.start ?? LAST).slice(0, 10);

/** Visits that rest on no order, because the doctor left the order out: nobody would find them by it. */
const looseVisits = (session: Asking, signal: AbortSignal | undefined) =>
  session.fhir.search(
    query("Appointment", [
      ["status", "proposed,noshow"],
      ["identifier", OURS],
      ["based-on:missing", "true"],
      ["_include", "Appointment:patient"],
      ["_include", "Appointment:reason-reference"],
      ["_count", String(LOOSE)],
    ]),
    { limit: LOOSE, signal },
  );

/** What a server may have ignored, once more. */
const matching =
  ({ patient, who, purpose, name, from, to, requester }: ListFilter) =>
  (visit: ListedVisit): boolean =>
    (!patient || visit.patient.reference === patient) &&
    (!who || visit.who.toLowerCase().includes(who.trim().toLowerCase())) &&
    (!purpose || visit.purpose === purpose) &&
    (!requester || visit.order?.requester?.reference?.endsWith(requester) === true) &&
    (!name || plain(visit.patient.name).includes(plain(name))) &&
    (!from || (visit.days.latest ?? LAST) >= from) &&
    (!to || (visit.days.earliest ?? "") <= to);
const plain = (text: string) =>
  text
    .trim()
    .normalize("NFD")
    .replace(/\p{Diacritic}/gu, "")
    .toLowerCase();

/** What a search left out, in sentences. */
export const cut = (what: string, { stoppedBy, unreadable }: SearchResult): string[] => [
  ...(stoppedBy !== undefined && stoppedBy !== "limit"
    ? [`Not all ${what} could be read: this list is not complete. Read it again.`]
    : []),
  ...(unreadable > 0 ? [`${unreadable} entries came in a form that cannot be read and are missing here.`] : []),
];

/** Fetches what the answer points to and does not hold: a server may leave `_include` and `_revinclude` aside. */
async function completed(session: Asking, found: readonly FhirResource[]) {
  const resources = [...found];
  const problems: string[] = [];
  const of = (type: string) => resources.filter((one) => one.resourceType === type);
  const add = async (asked: string, what: string) => {
    const answer = await session.fhir.search(asked, { limit: 1000 });
    if (!answer.ok) problems.push(`${what} could not be read: this list is not complete. ${answer.problem.title}`);
    else {
      resources.push(...answer.value.matches);
      problems.push(...cut(what, answer.value));
    }
  };
  const orders = of("ServiceRequest");
  if (orders.length > 0 && of("Appointment").length === 0)
    await add(
      query("Appointment", [["based-on", orders.map(({ id }) => `ServiceRequest/${id}`).join(",")]]),
      "The visits",
    );
  const missing = (type: string): string[] => {
    const there = new Set(of(type).map(({ id }) => id));
    const text = JSON.stringify([...of("ServiceRequest"), ...of("Appointment")].map(pointers));
    const ids = [...text.matchAll(new RegExp(`${type}/([A-Za-z0-9.-]{1,64})`, "g"))].map(([, id]) => id!);
    return [...new Set(ids)].filter((id) => !there.has(id));
  };
  await Promise.all(
    (["Patient", "ServiceRequest", "Condition"] as const).map(async (type) => {
      const ids = missing(type);
      // What is broken is worth a line, not a list that cannot be read.
      if (ids.length > 0) await add(query(type, [["_id", ids.join(",")]]), WORDS[type]);
    }),
  );
  return { resources, problems };
}
const WORDS = { Patient: "The patients", ServiceRequest: "The orders", Condition: "The diagnoses" } as const;
const pointers = ({ subject, participant, basedOn, reasonReference, resourceType }: FhirResource) => [
  subject,
  participant,
  ...(resourceType === "Appointment" ? [basedOn, reasonReference] : []),
];

const BOOKED = "booked,pending,arrived,checked-in,waitlist";
const withAll: [string, string][] = [
  ["_include", "Appointment:patient"],
  ["_include", "Appointment:based-on"],
  ["_include", "Appointment:reason-reference"],
  ["_sort", "date"],
];
export interface BookedList {
  readonly visits: readonly BookedVisit[];
  readonly problems: readonly string[];
}

async function booked(
  session: Asking,
  { today, zone }: ClinicDay,
  searches: readonly (readonly (readonly [string, string | undefined])[])[],
  limit = MOST_BOOKED,
): Promise<Answer<BookedList>> {
  const answers = await Promise.all(
    searches.map((more) =>
      session.fhir.search(query("Appointment", [["identifier", OURS], ...more, ...withAll, ["_count", "100"]]), {
        limit,
      }),
    ),
  );
  const failed = answers.find((answer) => !answer.ok);
  if (failed && !failed.ok) return failed;
  const read = (answers as Extract<FhirAnswer<SearchResult>, { ok: true }>[]).map(({ value }) => value);
  const unique = new Map(
    read
      .flatMap(({ matches, included }) => [...matches, ...included])
      .map((one) => [`${one.resourceType}/${one.id}`, one]),
  );
  const { resources, problems } = await completed(session, [...unique.values()]);
  const reading = new ListReading(resources, today, zone);
  const unclear: string[] = [];
  const visits = bookedIn(reading, unclear);
  const over = read.some(({ stoppedBy }) => stoppedBy === "limit")
    ? ["There are more booked visits than are read here: this list is not complete. Choose fewer days where you can."]
    : [];
  return {
    ok: true,
    value: {
      visits,
      problems: [
        ...reading.problems,
        ...unclear,
        ...problems,
        ...read.flatMap((one) => cut("booked visits", one)),
        ...over,
      ],
    },
  };
}

/** Start of a day of the clinic as an instant with its offset. */
export const midnight = (day: string, zone: string) => zonedOf(`${day}T00:00`, zone);
/** yyyy-MM-dd of the day so many calendar days later. */
export const dayAfter = (day: string, days = 1) => formatISO(addDays(parseISO(day), days), { representation: "date" });

/** Visits booked from one day to another, both counted, in order of their time; with more than `most` the list is told to be cut. */
export const readBooked = (
  session: Asking,
  day: ClinicDay,
  from: string,
  to: string,
  most = MOST_BOOKED,
): Promise<Answer<BookedList>> =>
  booked(
    session,
    day,
    [
      [
        ["status", `${BOOKED},fulfilled`],
        ["date", `ge${midnight(from, day.zone)}`],
        ["date", `lt${midnight(dayAfter(to), day.zone)}`],
      ],
    ],
    most,
  );

/** Visits of one person that are booked or took place, in order of their time. `patient`: "Patient/12". */
export const readBookedOf = (session: Asking, day: ClinicDay, patient: string): Promise<Answer<BookedList>> =>
  booked(session, day, [
    [
      ["status", `${BOOKED},fulfilled`],
      ["patient", patient],
    ],
  ]);

/**
 * Booked visits that somebody has to decide about: their plan ended, the patient died or is kept under another record, the days asked for were
 * changed, or their day has gone by and nobody said whether the patient came.
 */
export async function readRechecks(session: Asking, day: ClinicDay): Promise<Answer<BookedList>> {
  const waiting = ["status", "booked,pending,waitlist"] as const;
  const answer = await booked(
    session,
    day,
    [
      [waiting, ["based-on:ServiceRequest.status", "revoked,entered-in-error"]],
      [waiting, ["patient:Patient.deceased", "true"]],
      [waiting, ["patient:Patient.active", "false"]],
      [waiting, ["date", `lt${midnight(day.today, day.zone)}`]],
      // R4 cannot compare a visit's time with the days asked: those that lie ahead are read, and compared here.
      [waiting, ["date", `ge${midnight(day.today, day.zone)}`]],
    ],
    MOST_AHEAD,
  );
  if (!answer.ok) return answer;
  return {
    ok: true,
    value: { ...answer.value, visits: answer.value.visits.filter(({ recheck }) => recheck !== undefined) },
  };
}

export interface Counts {
  /** Orders whose days are over. */
  readonly overdue: number | undefined;
  /** Orders whose last day lies in each week from today on. `from` is its first day. */
  readonly weeks: readonly { readonly from: string; readonly orders: number | undefined }[];
}
/**
 * Counted by the record system: how many orders with a visit that is asked for or was missed end before today, and in each of the next
 * weeks. An order whose missed visit has been arranged again counts too. Undefined: it did not say.
 */
export async function countByWeek(
  session: Asking,
  { today }: ClinicDay,
  weeks: number,
  filter: ListFilter = {},
): Promise<Counts> {
  const days = Array.from({ length: weeks + 1 }, (_, i) => dayAfter(today, 7 * i));
  // R4 prefix "eb": the whole period ends before; the difference of two such counts is a week.
  const before = await Promise.all(
    days.map(async (day) => {
      const asked = query("ServiceRequest", [
        ...openOrders(filter, "proposed,noshow"),
        ["occurrence", `eb${day}`],
        ["_summary", "count"],
      ]);
      const answer = await session.fhir.search(asked, { limit: 1 });
      return answer.ok ? answer.value.total : undefined;
    }),
  );
  const difference = (a: number | undefined, b: number | undefined) =>
    a === undefined || b === undefined ? undefined : b - a;
  return {
    overdue: before[0],
    weeks: days.slice(0, -1).map((from, i) => ({ from, orders: difference(before[i], before[i + 1]) })),
  };
}

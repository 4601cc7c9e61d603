/** The list of what would be forgotten, for other systems: one row for each visit, or a FHIR Bundle. Pure. */

import { differenceInCalendarDays, parseISO } from "date-fns";
import type { Bundle, BundleEntry, FhirResource, List } from "fhir/r4";
import type { BookedVisit, Held, ListedVisit } from "./listed-visit.ts";

/** Columns of the table, in their order. */
export const LOST_COLUMNS = [
  "why",
  "patient",
  "name",
  "birthDate",
  "contact",
  "purpose",
  "with",
  "finger",
  "earliest",
  "ideal",
  "latest",
  "daysOverdue",
  "bookedFor",
  "arrangedBefore",
  "urgency",
  "orderedBy",
  "order",
  "visit",
] as const;
export type LostRow = { readonly [C in (typeof LOST_COLUMNS)[number]]: string };
interface Lost {
  readonly due: readonly ListedVisit[];
  readonly missed: readonly ListedVisit[];
  readonly flagged: readonly BookedVisit[];
}

/** What is asked of whoever reads the row: the words of one place for table and Bundle. */
const WHY = {
  due: "due, no time arranged",
  overdue: "overdue, no time arranged",
  missed: "missed, no new time arranged",
  "called-off": "called off, no new time arranged",
} as const;

const rowOf = (
  visit: Omit<ListedVisit, "state" | "before">,
  today: string,
  more: Pick<LostRow, "why" | "bookedFor" | "arrangedBefore">,
): LostRow => {
  const { patient, days, order, entry } = visit;
  const late = days.latest ? differenceInCalendarDays(parseISO(today), parseISO(days.latest)) : 0;
  return {
    ...more,
    patient: patient.reference,
    name: patient.name,
    birthDate: patient.summary?.birthDate ?? "",
    contact: patient.contact.join("; "),
    purpose: visit.words,
    with: visit.who,
    finger: visit.digits,
    earliest: days.earliest ?? "",
    ideal: days.ideal ?? "",
    latest: days.latest ?? "",
    daysOverdue: late > 0 ? String(late) : "",
    urgency: order?.priority ?? "",
    orderedBy: order?.requester?.display ?? order?.requester?.reference ?? "",
    order: order?.reference ?? "",
    visit: entry.reference,
  };
};
const open = (visit: ListedVisit, today: string): LostRow => {
  const { state, before, days } = visit;
  const why =
    state !== "asked" ? state : before > 0 ? "missed" : days.latest && days.latest < today ? "overdue" : "due";
  return rowOf(visit, today, { why: WHY[why], bookedFor: "", arrangedBefore: before ? String(before) : "" });
};

/** One row for each visit: first what was missed, then what is due, then what is booked and to be decided about. */
export const lostRows = ({ due, missed, flagged }: Lost, today: string): LostRow[] => [
  ...[...missed, ...due].map((visit) => open(visit, today)),
  ...flagged.map((visit) =>
    rowOf(visit, today, {
      why: visit.recheck?.words ?? "to be decided about",
      bookedFor: visit.at,
      arrangedBefore: "",
    }),
  ),
];

/**
 * A collection: a List (R4 List, snapshot) that says of each visit why it is there, then the visits and their orders as they are stored.
 *
 * @param base of the record system, for full addresses
 * @param at instant of the snapshot with its offset
 */
export function lostBundle(
  lost: Lost,
  today: string,
  { base, at }: { readonly base: string; readonly at: string },
): Bundle {
  const visits = [...lost.missed, ...lost.due, ...lost.flagged];
  const rows = lostRows(lost, today);
  const list: List = {
    resourceType: "List",
    id: "nothing-lost",
    status: "current",
    mode: "snapshot",
    title: "Visits that somebody has to arrange or decide about",
    date: at,
    // R4 lst-1: a list has entries, or says why it has none
    ...(visits.length === 0
      ? { emptyReason: NOTHING }
      : {
          entry: visits.map(({ entry }, i) => ({
            flag: { text: rows[i]!.why },
            item: { reference: `${base}/${entry.reference}` },
          })),
        }),
  };
  const stored = new Map<string, Held>();
  for (const { entry, order } of visits) {
    stored.set(entry.reference, entry);
    if (order) stored.set(order.reference, order);
  }
  const entries: BundleEntry[] = [...stored.values()].map(({ reference, resource }) => ({
    fullUrl: `${base}/${reference}`,
    resource: resource as unknown as FhirResource,
  }));
  return {
    resourceType: "Bundle",
    type: "collection",
    timestamp: at,
    entry: [{ fullUrl: `${base}/List/nothing-lost`, resource: list }, ...entries],
  };
}
const NOTHING = {
  coding: [
    { system: "http://terminology.hl7.org/CodeSystem/list-empty-reason", code: "nilknown", display: "Nil Known" },
  ],
};

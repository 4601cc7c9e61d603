/**
 * Booked visits as an iCalendar file (RFC 5545), one event each. A calendar is read on many screens: without a word of the site the title says
 * neither patient nor finger nor purpose. Screens load it only when a file is asked for.
 */
import ical, { ICalCalendarMethod, ICalEventBusyStatus, ICalEventStatus } from "ical-generator";
import type { BookedVisit } from "./listed-visit.ts";
import { plainText } from "./plain-text.ts";

/** What a site lets the title say: only that there is a visit, also where, or also what for. */
export type CalendarTitles = "plain" | "place" | "purpose";
const TITLE = "Clinic visit";
const DEFAULT_MINUTES = 15;
/** RFC 5545 3.6: a calendar has at least one component. Without an event it is the rule of universal time, which says nothing else. */
const UNIVERSAL_TIME = {
  name: "Etc/UTC",
  generator: (zone: string) =>
    [
      "BEGIN:VTIMEZONE",
      `TZID:${zone}`,
      "BEGIN:STANDARD",
      "DTSTART:19700101T000000",
      "TZOFFSETFROM:+0000",
      "TZOFFSETTO:+0000",
      "END:STANDARD",
      "END:VTIMEZONE",
    ].join("\r\n"),
};

interface Participant {
  readonly actor?: { readonly reference?: string; readonly display?: string };
}
/** Where it is: the place that was booked with it. */
const placeOf = ({ entry }: Pick<BookedVisit, "entry">): string | undefined => {
  const { participant = [] } = entry.resource as { participant?: readonly Participant[] };
  const display = participant.find(({ actor }) => /(^|\/)Location\//.test(actor?.reference ?? ""))?.actor?.display;
  return display && plainText(display);
};
export function titleOf(visit: Pick<BookedVisit, "entry" | "words">, titles: CalendarTitles): string {
  const place = titles === "plain" ? undefined : placeOf(visit);
  const purpose = titles === "purpose" ? `: ${plainText(visit.words)}` : "";
  return `${TITLE}${place ? `, ${place}` : ""}${purpose}`;
}

/** RFC 5545 3.3.11. The library does it for events, not for the name, where a line break of the chart would begin an entry of its own. */
const asName = (text: string) => plainText(text).replace(/[\\;,]/g, "\\$&");

export interface CalendarOptions {
  /** Of the calendar, such as that of the clinic. */
  readonly name: string;
  readonly titles: CalendarTitles;
  /** When the file is made. */
  readonly stamp: Date;
  /** Minutes after which who subscribed should read it again (RFC 7986 5.7); a file for once says nothing of it. */
  readonly readAgainAfter?: number;
}
/** @returns the text of the file, each line ended by CRLF */
export function calendarOf(
  visits: readonly BookedVisit[],
  { name, titles, stamp, readAgainAfter }: CalendarOptions,
): string {
  const calendar = ical({
    name: asName(name),
    prodId: { company: "Fingerpost", product: "Visits", language: "EN" },
    method: ICalCalendarMethod.PUBLISH,
    ...(readAgainAfter === undefined ? {} : { ttl: readAgainAfter * 60 }),
    ...(visits.length === 0 ? { timezone: UNIVERSAL_TIME } : {}),
  });
  for (const visit of visits) {
    const start = new Date(visit.start);
    const place = placeOf(visit);
    calendar.createEvent({
      // The entry in the record system: the same event again after a move, wherever the file is read. R4 ids differ by case.
      id: `${visit.entry.reference.replace("Appointment/", "appointment-")}@fingerpost`,
      // Each version of the entry is a later word on the same event.
      sequence: Number(visit.entry.version) || 0,
      start,
      end: visit.end ? new Date(visit.end) : new Date(start.getTime() + DEFAULT_MINUTES * 60_000),
      stamp,
      summary: titleOf(visit, titles),
      status: visit.status === "booked" ? ICalEventStatus.CONFIRMED : ICalEventStatus.TENTATIVE,
      busystatus: ICalEventBusyStatus.BUSY,
      ...(place ? { location: place } : {}),
    });
  }
  return `${calendar.toString()}\r\n`;
}

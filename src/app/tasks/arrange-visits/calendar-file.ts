/**
 * Booked visits as an iCalendar file (RFC 5545), one event each. A calendar is read on many screens: without a word of the site the title says
 * neither patient nor finger nor purpose. Loaded only when a file is asked for.
 */
import ical, { ICalCalendarMethod, ICalEventBusyStatus, ICalEventStatus } from "ical-generator";
import type { BookedVisit } from "../../../fhir/listed-visit.ts";
import { plainText } from "../../plain-text.ts";

/** What a site lets the title say: only that there is a visit, also where, or also what for. */
export type CalendarTitles = "plain" | "place" | "purpose";
const TITLE = "Clinic visit";
const DEFAULT_MINUTES = 15;

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

/**
 * @param name of the calendar, such as that of the clinic
 * @param stamp when the file is made
 * @returns the text of the file, lines ended by CRLF
 */
export function calendarOf(
  visits: readonly BookedVisit[],
  { name, titles, stamp }: { readonly name: string; readonly titles: CalendarTitles; readonly stamp: Date },
): string {
  const calendar = ical({
    name,
    prodId: { company: "Fingerpost", product: "Visits", language: "EN" },
    method: ICalCalendarMethod.PUBLISH,
  });
  for (const visit of visits) {
    const start = new Date(visit.start);
    const place = placeOf(visit);
    calendar.createEvent({
      // The entry in the record system: the same event again after a move, wherever the file is read.
      id: `${visit.entry.reference.replace("/", "-").toLowerCase()}@fingerpost`,
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
  return calendar.toString();
}

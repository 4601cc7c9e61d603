import type { BookedVisit } from "../../../fhir/listed-visit.ts";
import type { ClinicSession } from "../../../smart/session.ts";

/** Hands a calendar file to the browser, to be kept where the person says. Its name holds nothing of a patient. */
export async function saveCalendar(
  visits: readonly BookedVisit[],
  name: string,
  session: ClinicSession,
): Promise<void> {
  const { calendarOf } = await import("../../../fhir/calendar.ts");
  const titles = session.config.calendarTitles ?? "plain";
  const text = calendarOf(visits, { name, titles, stamp: session.clock.now() });
  const address = URL.createObjectURL(new Blob([text], { type: "text/calendar;charset=utf-8" }));
  const link = document.createElement("a");
  link.href = address;
  link.download = "visits.ics";
  link.click();
  URL.revokeObjectURL(address);
}

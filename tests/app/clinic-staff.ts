/** What clinic staff see and do in the house, without a screen: a visit that waits, the times for it, and the act. */
import { formatISO } from "date-fns";
import type { ActAnswer, ActingStaff, Place } from "../../src/fhir/clinic-act.ts";
import type { BookedVisit, ListedVisit } from "../../src/fhir/listed-visit.ts";
import { offers, placeInDays } from "../../src/fhir/slot.ts";
import { carryOut } from "../../src/smart/booking.ts";
import * as list from "../../src/smart/clinic-list.ts";
import { readSchedules, readTimes } from "../../src/smart/clinic-times.ts";
import { type House, TODAY } from "./clinic-house.ts";

export const DAY = { today: TODAY, zone: Intl.DateTimeFormat().resolvedOptions().timeZone };
const READ_UNTIL = "2026-05-31";

/** What was answered; an answer that says why not fails the test. */
export function given<T>(answer: { ok: true; value: T } | { ok: false; problem: { title: string } }): T {
  if (!answer.ok) throw new Error(answer.problem.title);
  return answer.value;
}
/** One act of the person who is signed in; nobody waits between two looks. */
export const act = (
  house: House,
  visits: readonly (ListedVisit | BookedVisit)[],
  make: (staff: ActingStaff) => ActAnswer,
) => carryOut(house.session, visits, make, { at: formatISO(new Date()), appVersion: "1.0.0", wait: async () => {} });

/** The first visit of this patient that waits for a time, and the free times for it, by where they lie in its days. */
export async function atTheClinic(house: House, patient: string) {
  const filter = { patient: `Patient/${patient}` };
  const waiting = async () => given(await list.readVisits(house.session, DAY, { filter })).visits;
  const visit = (await waiting()).find((v) => v.state === "asked" && v.days.latest !== undefined)!;
  const schedules = given(await readSchedules(house.session)).filter((s) => offers(s, visit));
  const times = async (status: "free" | "any" = "free") => {
    const asked = { schedules: schedules.map((s) => s.reference), from: TODAY, to: READ_UNTIL, status };
    return given(await readTimes(house.session, DAY, asked)).times;
  };
  const all = (await times()).map(
    (time): Place => ({ time, schedule: schedules.find((s) => s.reference === time.schedule)! }),
  );
  const where = (place: "within" | "after", nth = 0) =>
    all.filter(({ time }) => placeInDays(time.day, visit.days) === place)[nth]!;
  return {
    visit,
    where,
    times,
    /** The same visit as the list shows it now. */
    listed: async () => (await waiting()).find((v) => v.key === visit.key)!,
    booked: async () =>
      given(await list.readBooked(house.session, DAY, TODAY, READ_UNTIL)).visits.find((v) => v.key === visit.key)!,
  };
}

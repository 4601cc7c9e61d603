/** Invented visits and times for tests of the clinic's screens. */
import type { BookedVisit, ListedVisit } from "../../src/fhir/listed-visit.ts";
import type { ClinicSchedule, ClinicTime } from "../../src/fhir/slot.ts";

export const ZONE = "Europe/London";
const entry = (id: string, more: object = {}) => ({
  reference: `Appointment/${id}`,
  version: "1",
  resource: { resourceType: "Appointment", id, ...more },
});
export const aVisit = (change: Partial<ListedVisit>): ListedVisit => ({
  key: "plan-1:visit-clinic",
  planId: "plan-1",
  state: "asked",
  entry: entry("v1"),
  before: 0,
  patient: { reference: "Patient/ottilie", name: "Ottilie Farnsworth", contact: ["555-0142"] },
  purpose: "clinic",
  words: "Clinic review",
  who: "hand clinic",
  days: { earliest: "2026-03-16", ideal: "2026-03-17", latest: "2026-03-20" },
  digits: "left ring finger",
  ...change,
});
export const aBooked = (change: Partial<BookedVisit>): BookedVisit => {
  const { state: _state, before: _before, ...visit } = aVisit({});
  return {
    ...visit,
    entry: entry("b1", {
      participant: [
        { actor: { reference: "Patient/ottilie", display: "Ottilie Farnsworth" } },
        { actor: { reference: "Location/hands", display: "Hand clinic, Alder Quay Hospital" } },
      ],
    }),
    status: "booked",
    start: "2026-03-17T09:15:00+00:00",
    end: "2026-03-17T09:30:00+00:00",
    at: "2026-03-17T09:15",
    slots: ["Slot/s1"],
    ...change,
  };
};
export const CLINIC: ClinicSchedule = {
  reference: "Schedule/hands",
  name: "Hand clinic, Alder Quay",
  services: ["hand clinic"],
  actors: [{ reference: "Location/hands" }],
};
/** A free time of a quarter of an hour; in March and April of the south of England the offset is told. */
export const aTime = (day: string, clock: string, change: Partial<ClinicTime> = {}): ClinicTime => {
  const offset = day >= "2026-03-29" ? "+01:00" : "+00:00";
  const [hour, minute] = clock.split(":").map(Number) as [number, number];
  const to = `${String(hour + (minute + 15 >= 60 ? 1 : 0)).padStart(2, "0")}:${String((minute + 15) % 60).padStart(2, "0")}`;
  return {
    reference: `Slot/${day}-${clock}`,
    version: "1",
    resource: {},
    schedule: CLINIC.reference,
    status: "free",
    start: `${day}T${clock}:00${offset}`,
    end: `${day}T${to}:00${offset}`,
    at: `${day}T${clock}`,
    day,
    minutes: 15,
    ...change,
  };
};

/** Fills the store with two clinics, twelve weeks of their times and 40 patients at different stages; for trials with thousands more. */
import { addDays, addMinutes, format, formatISO, subYears } from "date-fns";
import { CLINIC_PATIENTS, type ClinicPatient, type PlanName } from "../../../fixtures/clinics/patients.ts";
import { PLACES, SESSIONS } from "../../../fixtures/clinics/places.ts";
import type { Resource } from "../fhir/exchange.ts";
import type { Store } from "../fhir/store.ts";
import { arrange } from "./arrange.ts";
import { fillPlan, injuryDay, instantOn, readTemplate, type Template } from "./plan-template.ts";

export const CLINIC_LIST = "https://practice-ehr.example/list";
export const CLINIC_TAG = `${CLINIC_LIST}|clinic`;
const WEEKS_BACK = 2;
const WEEKS_AHEAD = 12;

/** Sessions of a clinic as free times from two weeks ago to twelve weeks ahead; ids tell schedule, day and time. */
export function slotsFrom(now: Date): Resource[] {
  return SESSIONS.flatMap(({ schedule, services, weekdays, from, to, minutes }) =>
    Array.from({ length: (WEEKS_BACK + WEEKS_AHEAD) * 7 }, (_, i) => addDays(now, i - WEEKS_BACK * 7))
      .filter((day) => weekdays.includes(day.getDay()))
      .flatMap((day) => {
        const end = new Date(instantOn(day, to));
        const slots: Resource[] = [];
        for (let at = new Date(instantOn(day, from)); addMinutes(at, minutes) <= end; at = addMinutes(at, minutes))
          slots.push({
            resourceType: "Slot",
            id: `${schedule}-${format(at, "yyyyMMdd-HHmm")}`,
            serviceType: services.map((text) => ({ text })),
            schedule: { reference: `Schedule/${schedule}` },
            status: "free",
            start: formatISO(at),
            end: formatISO(addMinutes(at, minutes)),
          });
        return slots;
      }),
  );
}

const schedules = (now: Date): Resource[] =>
  SESSIONS.map(({ schedule, name, services, actors }) => ({
    resourceType: "Schedule",
    id: schedule,
    identifier: [{ system: "https://practice-ehr.example/schedule", value: schedule }],
    active: true,
    serviceType: services.map((text) => ({ text })),
    actor: [...actors],
    planningHorizon: {
      start: instantOn(addDays(now, -WEEKS_BACK * 7), "00:00"),
      end: instantOn(addDays(now, WEEKS_AHEAD * 7), "00:00"),
    },
    comment: name,
  }));

const AGE_YEARS: Readonly<Record<PlanName, number>> = {
  "closed-mallet": 38,
  "two-crushed-digits": 55,
  "closed-tuft": 11,
  "child-nail-over-fold": 11,
};
type Person = Pick<ClinicPatient, "given" | "family" | "gender" | "plan">;
const patientOf = ({ given, family, gender, plan }: Person, id: string, n: number, now: Date): Resource => ({
  resourceType: "Patient",
  id,
  meta: { tag: [{ system: CLINIC_LIST, code: "clinic" }] },
  identifier: [
    {
      use: "usual",
      type: { coding: [{ system: "http://terminology.hl7.org/CodeSystem/v2-0203", code: "MR" }] },
      system: "https://practice-ehr.example/patient-number",
      value: `PX-${30_000 + n}`,
    },
  ],
  active: true,
  name: [{ use: "official", family, given: [given] }],
  telecom: [{ system: "phone", value: `555-${String(1000 + (n % 9000)).padStart(4, "0")}`, use: "mobile" }],
  gender,
  birthDate: format(addDays(subYears(now, AGE_YEARS[plan]), -((n * 37) % 300)), "yyyy-MM-dd"),
  address: [{ use: "home", city: "Alder Quay" }],
});
const slug = (text: string) => text.toLowerCase().replace(/[^a-z]+/g, "-");

/** All of it; dates are relative to `now`. With `openVisits` more patients come, until at least so many visits are to be arranged. */
export function seedClinics(store: Store, now: Date, openVisits = 0): void {
  const templates = new Map<PlanName, Template>();
  const templateOf = (plan: PlanName) => {
    const read = templates.get(plan) ?? readTemplate(plan);
    templates.set(plan, read);
    return read;
  };
  store.atomically(() => {
    const keep = (resource: Resource) => store.put(resource, resource.id as string, "PUT");
    for (const resource of [...PLACES, ...schedules(now)]) keep(resource);
    const slots = new Map(slotsFrom(now).map((slot) => [slot.id as string, slot]));
    const charts = CLINIC_PATIENTS.map((person, n) => {
      const id = slug(`${person.given} ${person.family}`);
      const template = templateOf(person.plan);
      const filling = {
        patient: id,
        name: `${person.given} ${person.family}`,
        day0: injuryDay(template, person.weeks, now),
      };
      return arrange({
        patient: patientOf(person, id, n, now),
        stage: person.stage,
        plan: fillPlan(template, filling),
        revision: person.stage === "revised" ? fillPlan(template, { ...filling, nth: 2 }) : [],
        survivor: slug(`${CLINIC_PATIENTS[0]?.given} ${CLINIC_PATIENTS[0]?.family}`),
        slots,
        now,
      });
    });
    for (const slot of slots.values()) keep(slot);
    for (const chart of charts) for (const resource of chart) keep(resource);
    const listed = new Map(
      [...templates].map(([name, { day0, resources }]) => [name, { day0, resources: resources.flatMap(listedOf) }]),
    );
    let open = 0;
    for (const { status } of all(store, "Appointment")) if (status === "proposed") open++;
    for (let n = 0; open < openVisits; n++) {
      const first = CLINIC_PATIENTS[n % CLINIC_PATIENTS.length] as ClinicPatient;
      const other = CLINIC_PATIENTS[Math.floor(n / CLINIC_PATIENTS.length) % CLINIC_PATIENTS.length] as ClinicPatient;
      const person = { ...first, family: other.family };
      const id = `${slug(`${person.given} ${person.family}`)}-${n}`;
      keep(patientOf(person, id, 1000 + n, now));
      const template = listed.get(person.plan) as Template;
      const filling = { patient: id, name: `${person.given} ${person.family}`, day0: injuryDay(template, n % 10, now) };
      for (const resource of fillPlan(template, filling)) {
        keep(resource);
        if (resource.resourceType === "Appointment") open++;
      }
    }
  });
}

function* all(store: Store, type: string) {
  for (const { resource } of store.all(type)) if (resource) yield resource as Resource;
}

/** Of the many only what a list shows, without what would point to the rest. */
function listedOf(resource: Resource): Resource[] {
  switch (resource.resourceType) {
    case "Appointment":
      return [resource];
    case "Condition": {
      const { evidence: _evidence, ...rest } = resource;
      return [rest as Resource];
    }
    case "ServiceRequest": {
      const { supportingInfo: _findings, ...rest } = resource;
      return [rest as Resource];
    }
    default:
      return [];
  }
}

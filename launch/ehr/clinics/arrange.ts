/** Brings one patient's signed plan to its stage: visits that took place, were booked, missed or called off, plans that ended. */
import { addMinutes, format, formatISO, parseISO } from "date-fns";
import type { Stage } from "../../../fixtures/clinics/patients.ts";
import { SESSIONS } from "../../../fixtures/clinics/places.ts";
import type { Resource } from "../fhir/exchange.ts";
import { instantOn } from "./plan-template.ts";

export interface Chart {
  readonly patient: Resource;
  readonly stage: Stage;
  readonly plan: readonly Resource[];
  /** The plan that took its place, if any. */
  readonly revision: readonly Resource[];
  /** Id of the record that stays where two were merged. */
  readonly survivor: string;
  /** All times by id; the ones that are taken become busy. */
  readonly slots: ReadonlyMap<string, Resource>;
  readonly now: Date;
}

const LIFE_TAG = "https://fingerpost.example/fhir/CodeSystem/plan-life";
const PLAN_ITEM = "https://fingerpost.example/plan-item";
const CANCELLATION = "http://terminology.hl7.org/CodeSystem/appointment-cancellation-reason";

interface Visit extends Resource {
  requestedPeriod?: { start: string; end: string }[];
  participant: { actor: { reference: string; display?: string }; required?: string; status: string }[];
  identifier: { system: string; value: string }[];
  description: string;
}
const windowOf = (visit: Visit) => visit.requestedPeriod?.[0];
/** "Check film, hand clinic" -> "hand clinic" */
const whoOf = ({ description }: Visit) => description.slice(description.indexOf(", ") + 2);

/** All resources of the patient at that stage. */
export function arrange(chart: Chart): Resource[] {
  const { patient, stage, plan, revision, now } = chart;
  const today = format(now, "yyyy-MM-dd");
  const dated = (plan.filter(({ resourceType }) => resourceType === "Appointment") as Visit[])
    .filter((visit) => windowOf(visit) !== undefined)
    .sort((a, b) => String(windowOf(a)?.end).localeCompare(String(windowOf(b)?.end)));
  const past = dated.filter((visit) => String(windowOf(visit)?.end) < today);
  const ahead = dated.filter((visit) => !past.includes(visit));
  const changed = new Map<Resource, Resource>();
  const more: Resource[] = [];
  const [last, next] = [past.at(-1), ahead[0]];
  const happened = (visits: readonly Visit[]) => {
    for (const visit of visits) changed.set(visit, tookPlace(visit));
  };
  const bookNext = (): Visit | undefined => {
    // a later one where no time is left in the days of the next
    for (const visit of ahead) {
      const booked = inFreeTime(visit, chart);
      if (!booked) continue;
      changed.set(visit, booked);
      return visit;
    }
    return undefined;
  };
  switch (stage) {
    case "signed":
      break;
    case "due":
    case "booked":
      happened(past);
      if (stage === "booked") bookNext();
      break;
    case "overdue":
      happened(past.slice(0, -1));
      break;
    case "missed":
    case "asked-again":
      happened(past.slice(0, -1));
      if (last) {
        changed.set(last, { ...tookPlace(last), status: "noshow" });
        if (stage === "asked-again") more.push(again(last));
      }
      break;
    case "cancelled":
      happened(past);
      if (next) {
        const { slot: _given, ...booked } = inFreeTime(next, chart, false) ?? tookPlace(next);
        const cancelationReason = { coding: [{ system: CANCELLATION, code: "pat", display: "Patient" }] };
        changed.set(next, { ...booked, status: "cancelled", cancelationReason } as Resource);
        more.push(again(next));
      }
      break;
    case "withdrawn":
    case "revised": {
      happened(past);
      const booked = bookNext();
      const act = stage === "withdrawn" ? "withdraw" : "supersede";
      for (const resource of plan) {
        const ended = resource === booked ? undefined : endedBy(act, changed.get(resource) ?? resource);
        if (ended) changed.set(resource, ended);
      }
      break;
    }
    case "done":
      happened(dated);
      for (const resource of plan)
        if (["CarePlan", "ServiceRequest"].includes(resource.resourceType))
          changed.set(resource, { ...resource, status: "completed" });
      break;
    default:
      happened(past);
      bookNext();
  }
  const old = plan.find(({ resourceType }) => resourceType === "CarePlan");
  const newer = revision.map((resource) => {
    if (resource.resourceType === "CarePlan") return { ...resource, replaces: [{ reference: `CarePlan/${old?.id}` }] };
    const days = resource.resourceType === "Appointment" ? windowOf(resource as Visit) : undefined;
    // what took place under the earlier plan is not asked for again
    return (days && days.end < today && endedBy("supersede", resource)) || resource;
  });
  return [asIs(chart, patient), ...plan.map((resource) => changed.get(resource) ?? resource), ...more, ...newer];
}

/** What became of the person. */
function asIs({ stage, survivor, now }: Chart, patient: Resource): Resource {
  switch (stage) {
    case "deceased":
      return { ...patient, deceasedDateTime: format(now, "yyyy-MM-dd") };
    case "moved":
      return {
        ...patient,
        address: [{ use: "home", city: "Farrow Head", period: { start: format(now, "yyyy-MM-dd") } }],
      };
    case "merged":
      return {
        ...patient,
        active: false,
        link: [{ other: { reference: `Patient/${survivor}` }, type: "replaced-by" }],
      };
    default:
      return patient;
  }
}

const accepted = (visit: Visit, ...others: { reference: string; display?: string }[]) => [
  ...visit.participant.map((each) => ({ ...each, status: "accepted" })),
  ...others.map((actor) => ({ actor, required: "required", status: "accepted" })),
];
const HALF_PAST_NINE = "09:30";
const A_QUARTER_OF_AN_HOUR = 15;
/** On the first of its days; such a time is long gone, so no slot is kept for it. */
function tookPlace(visit: Visit): Visit {
  const start = instantOn(parseISO(windowOf(visit)?.start ?? ""), HALF_PAST_NINE);
  return {
    ...visit,
    status: "fulfilled",
    start,
    end: formatISO(addMinutes(parseISO(start), A_QUARTER_OF_AN_HOUR)),
    participant: accepted(visit),
  };
}

/** Booked into the first free time within its days, which is then busy unless only looked for. */
function inFreeTime(visit: Visit, { slots, now }: Chart, take = true): Visit | undefined {
  const { start = "", end = "" } = windowOf(visit) ?? {};
  const who = whoOf(visit);
  const slot = [...slots.values()].find(
    (each) =>
      each.status === "free" &&
      (each.serviceType as { text: string }[]).some(({ text }) => text === who) &&
      String(each.start).slice(0, 10) >= start &&
      String(each.start).slice(0, 10) <= end &&
      parseISO(String(each.start)) > now,
  );
  if (!slot) return undefined;
  if (take) (slots as Map<string, Resource>).set(slot.id as string, { ...slot, status: "busy" });
  return {
    ...visit,
    status: "booked",
    start: slot.start,
    end: slot.end,
    slot: [{ reference: `Slot/${slot.id}` }],
    participant: accepted(visit, ...bookedWith(slot)),
  };
}
const bookedWith = ({ schedule }: Resource) =>
  SESSIONS.find((one) => (schedule as { reference: string }).reference === `Schedule/${one.schedule}`)?.actors ?? [];

/** The visit asked for once more, after one that did not take place. */
function again(visit: Visit): Visit {
  const value = (old: string | undefined) => `${old}-again-2`;
  const rename = <T extends { system?: string }>(list: readonly T[], name: "value" | "code") =>
    list.map((each) =>
      each.system === PLAN_ITEM ? { ...each, [name]: value((each as Record<string, unknown>)[name] as string) } : each,
    );
  return {
    ...visit,
    id: `${visit.id?.slice(0, -2)}a2`,
    meta: { ...visit.meta, tag: rename(visit.meta?.tag ?? [], "code") },
    identifier: rename(visit.identifier, "value") as Visit["identifier"],
  };
}

/** As the app ends what nobody acts upon any more; what was booked or took place is left as it is. */
function endedBy(act: "withdraw" | "supersede", resource: Resource): Resource | undefined {
  const meta = { ...resource.meta, tag: [...(resource.meta?.tag ?? []), { system: LIFE_TAG, code: act }] };
  if (resource.resourceType === "CarePlan" || resource.resourceType === "ServiceRequest")
    return { ...resource, meta, status: "revoked" };
  if (resource.resourceType !== "Appointment" || resource.status !== "proposed") return undefined;
  const coding = [{ system: CANCELLATION, code: "prov", display: "Provider" }];
  return { ...resource, meta, status: "cancelled", cancelationReason: { coding, text: "The plan changed." } };
}

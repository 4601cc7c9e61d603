/**
 * What clinic staff do to a visit, as resources: book, move, call off, note as missed. Each names what is written over which version, in an
 * order in which a half-done act never loses a visit and never gives one time to two. Pure. States: HL7 FHIR R4 (4.0.1) Appointment,
 * appointmentstatus, Slot, slotstatus; the steps of booking: Argonaut Scheduling (proposed, then booked; the slot busy, free again on cancel).
 */
import type { Appointment, Bundle, Communication, Condition, Extension, Provenance, Reference, Slot } from "fhir/r4";
import { messageTo, type ToTell } from "./clinic-told.ts";
import { coding, hl7, KNOWLEDGE_TAG, PLAN_ITEM } from "./codings.ts";
import { dateWords } from "./dates.ts";
import { checkText, fingerprint, narrative } from "./draft-item.ts";
import { askedAgainAs, type BookedVisit, type Held, itemOf, type ListedVisit, lengthOf } from "./listed-visit.ts";
import { assembledBy, lifeActivity } from "./provenance.ts";
import { type ClinicSchedule, type ClinicTime, placeInDays, timesOf } from "./slot.ts";
import { ASKED_AGAIN, HELD_FOR, NEED_ENDED, OUTSIDE_DAYS } from "./visit-marks.ts";

type ClinicActName = "book" | "move" | "call-off" | "missed" | "came";
/** "code": a coder signs (coding-signing). */
type ActName = ClinicActName | "code";
/** Who does it, when (instant with offset, frozen when the act begins), with which program. */
export interface ActingStaff {
  readonly signer: { readonly reference: string; readonly display?: string | undefined };
  readonly at: string;
  readonly appVersion: string;
}
export interface ActStep {
  readonly what: "visit" | "need" | "time" | "record" | "message" | "diagnosis";
  readonly method: "PUT" | "POST";
  /** "Appointment/12", or a type to create in. */
  readonly url: string;
  readonly resource: Appointment | Slot | Provenance | Communication | Condition;
  /** Version over which it is written. */
  readonly version?: string | undefined;
  readonly ifNoneExist?: string;
  readonly urn?: string;
  /** Written first where the record system takes one resource at a time: nobody else can take the time meanwhile. */
  readonly hold?: Slot;
  /** As it was, or as it is ended: written when a later step of `before: true` is refused. */
  readonly undo?: Appointment | Slot | Condition;
  /** The act has no effect before all of these are written; what comes after can be made good later. */
  readonly before: boolean;
}
export interface ClinicAct {
  readonly name: ActName;
  /** In the order in which they are safe one by one. */
  readonly steps: readonly ActStep[];
  /** A doctor who has to be told by other means: nobody is named in the order. */
  readonly tellByPhone?: string;
}
export type ActAnswer =
  | { readonly ok: true; readonly act: ClinicAct }
  | { readonly ok: false; readonly problem: string };
const no = (problem: string): ActAnswer => ({ ok: false, problem });

/** Where a visit goes: a time, and the schedule it belongs to. A time without a reference was agreed outside any schedule: no slot is taken. */
export interface Place {
  readonly time: ClinicTime;
  readonly schedule: ClinicSchedule;
}

/**
 * Visits of one patient, booked together into one free time. Outside the days of any of them a reason is needed, is kept with the visit, and
 * whoever ordered it is told.
 */
export function booking(visits: readonly ListedVisit[], place: Place, staff: ActingStaff, reason = ""): ActAnswer {
  const stop = cannotTake(visits, place, staff, reason);
  if (stop) return no(stop);
  const outside = outsideOf(visits, place);
  const entries = visits.map((visit): Appointment => {
    const base = visit.state === "asked" ? kept(visit.entry) : asAskedAgain(visit.entry, staff);
    return timed(base, place, staff, outside.includes(visit) ? reason : undefined);
  });
  const steps = visits.map((visit, i) => visitStep(visit.entry, entries[i]!, visit.state === "asked"));
  const references = steps.map(targetOf);
  // Of a visit that was missed the new entry is what the doctor has to look at.
  const toTell = outside.map((visit) => ({ ...visit, about: references[visits.indexOf(visit)]! }));
  const all = [...steps, ...taken(place.time, references, visits, staff)];
  return finished("book", visits, all, staff, { outside: toTell, reason, place });
}

/** A booked visit to another time: the old one, or all that it took, is free again. */
export function moving(
  visit: BookedVisit,
  from: readonly ClinicTime[],
  place: Place,
  staff: ActingStaff,
  reason = "",
): ActAnswer {
  const stop = cannotTake([visit], place, staff, reason);
  if (stop) return no(stop);
  const outside = outsideOf([visit], place);
  const step = visitStep(
    visit.entry,
    timed(kept(visit.entry), place, staff, outside.length ? reason : undefined),
    true,
  );
  const steps = [step, ...taken(place.time, [targetOf(step)], [visit], staff), ...from.map(freed)];
  return finished("move", [visit], steps, staff, { outside, reason, place });
}

export const CALLED_OFF_BY = ["patient", "clinic"] as const;
export interface CallingOff {
  readonly by: (typeof CALLED_OFF_BY)[number];
  readonly reason: string;
  /** False: nobody has to arrange it again, such as after a death. */
  readonly needRemains: boolean;
}
/** A booked visit called off: its time, or all that it took, is free, and it is asked for again unless nobody needs it any more. */
export function callingOff(
  visit: BookedVisit,
  times: readonly ClinicTime[],
  staff: ActingStaff,
  how: CallingOff,
): ActAnswer {
  const problem = checkText(how.reason, true);
  if (problem) return no(problem);
  const need = how.needRemains ? [needStep(visit.entry, staff)] : [];
  const cancelled = kept(visit.entry);
  cancelled.status = "cancelled";
  // R4 app-4: a reason for cancelling belongs to a cancelled visit.
  cancelled.cancelationReason = {
    coding: [
      how.by === "patient"
        ? hl7("appointment-cancellation-reason", "pat", "Patient")
        : hl7("appointment-cancellation-reason", "prov", "Provider"),
    ],
    text: how.reason.trim(),
  };
  if (!how.needRemains)
    cancelled.extension = [
      ...without(cancelled.extension, NEED_ENDED),
      { url: NEED_ENDED, valueString: how.reason.trim() },
    ];
  cancelled.text = narrative(`Called off by ${named(staff)}, ${dateWords(staff.at)}.`, [
    visit.words,
    how.reason.trim(),
  ]);
  const steps = [...need, visitStep(visit.entry, cancelled, true), ...times.map(freed)];
  return finished("call-off", [visit], steps, staff, { outside: [], reason: how.reason });
}

/** The patient did not come: the visit is asked for again, and once its days are over whoever ordered it is told. */
export function missing(visit: BookedVisit, staff: ActingStaff, today: string): ActAnswer {
  const gone = kept(visit.entry);
  gone.status = "noshow";
  gone.text = narrative(`The patient did not come; noted by ${named(staff)}, ${dateWords(staff.at)}.`, [visit.words]);
  const late = visit.days.latest !== undefined && visit.days.latest < today;
  return finished("missed", [visit], [needStep(visit.entry, staff), visitStep(visit.entry, gone, true)], staff, {
    outside: late ? [visit] : [],
    reason: "The patient did not come, and the days of the plan are over.",
  });
}

/** The patient came: the visit took place, and what waited for it can be arranged. */
export function came(visit: BookedVisit, staff: ActingStaff): ActAnswer {
  if (Date.parse(visit.start) > Date.parse(staff.at)) return no("This visit lies ahead: nobody can have come yet.");
  const held = kept(visit.entry);
  held.status = "fulfilled";
  held.text = narrative(`The patient came; noted by ${named(staff)}, ${dateWords(staff.at)}.`, [visit.words]);
  return finished("came", [visit], [visitStep(visit.entry, held, true)], staff, { outside: [], reason: "" });
}

function cannotTake(
  visits: readonly Pick<ListedVisit, "patient" | "days" | "words">[],
  { time }: Place,
  { at }: ActingStaff,
  reason: string,
) {
  const [first] = visits;
  if (!first) return "Choose a visit first.";
  if (visits.some(({ patient }) => patient.reference !== first.patient.reference))
    return "These visits belong to different patients: book them one by one.";
  if (first.patient.stop) return first.patient.stop;
  if (Date.parse(time.start) <= Date.parse(at)) return "This time has gone by: choose a later one.";
  if (timesOf(time).some(({ status }) => status !== "free"))
    return "This time is not free any more: choose another one.";
  if (outsideOf(visits, { time }).length === 0) return undefined;
  return reason.trim() === ""
    ? "This time lies outside the days of the plan: say why. Whoever ordered the visit is told."
    : checkText(reason, true);
}
const outsideOf = <V extends Pick<ListedVisit, "days">>(visits: readonly V[], { time }: Pick<Place, "time">): V[] =>
  visits.filter(({ days }) => ["before", "after"].includes(placeInDays(time.day, days)));

const named = ({ signer }: ActingStaff): string => signer.display ?? signer.reference;
const without = (list: readonly Extension[] | undefined, ...urls: string[]): Extension[] =>
  (list ?? []).filter(({ url }) => !urls.includes(url));
/** A copy to write over what was read: elements of others stay, what the server keeps by itself goes. */
function kept<R extends Appointment | Slot = Appointment>({ resource }: Held): R {
  const copy = structuredClone(resource) as unknown as R;
  const { versionId: _version, lastUpdated: _updated, ...meta } = copy.meta ?? {};
  if (Object.keys(meta).length > 0) copy.meta = meta;
  else delete copy.meta;
  return copy;
}
function timed(
  visit: Appointment,
  { time, schedule }: Place,
  staff: ActingStaff,
  outside: string | undefined,
): Appointment {
  visit.status = "booked";
  visit.start = time.start;
  visit.end = time.end;
  if (time.minutes >= 1) visit.minutesDuration = Math.round(time.minutes);
  if (time.reference) visit.slot = timesOf(time).map(({ reference }) => ({ reference }));
  else delete visit.slot;
  const extension = [
    ...without(visit.extension, OUTSIDE_DAYS),
    ...(outside ? [{ url: OUTSIDE_DAYS, valueString: outside.trim() }] : []),
  ];
  if (extension.length > 0) visit.extension = extension;
  else delete visit.extension;
  visit.participant = [
    ...persons(visit).map((one) => ({ ...one, status: "accepted" as const })),
    ...schedule.actors.map(({ reference, display }) => ({
      actor: { reference, ...(display ? { display } : {}) },
      required: "required" as const,
      status: "accepted" as const,
    })),
  ];
  visit.text = narrative(`Booked by ${named(staff)}, ${dateWords(staff.at)}.`, [
    `${visit.description ?? "Visit"}: ${dateWords(time.at)}, ${schedule.name}.`,
    ...(outside ? [`Outside the days of the plan: ${outside.trim()}`] : []),
    ...(visit.comment ? [visit.comment] : []),
  ]);
  return visit;
}
const persons = (visit: Appointment) =>
  visit.participant.filter(({ actor }) => /(^|\/)(Patient|RelatedPerson)\//.test(actor?.reference ?? ""));

/** The same visit asked for once more, as an entry of its own: R4 leads from noshow and cancelled nowhere. */
function asAskedAgain(entry: Held, staff: ActingStaff): Appointment {
  const next = kept(entry);
  const { id: _id, start: _start, end: _end, slot: _slot, cancelationReason: _why, text: _text, ...more } = next;
  const { minutesDuration: _minutes, ...rest } = more;
  const minutes = lengthOf(next);
  const item = itemOf(next as Parameters<typeof itemOf>[0]);
  const again = askedAgainAs(item);
  return {
    ...rest,
    meta: {
      ...rest.meta,
      tag: (rest.meta?.tag ?? []).map((t) => (t.system === PLAN_ITEM ? { ...t, code: again } : t)),
    },
    identifier: (rest.identifier ?? []).map((i) => (i.system === PLAN_ITEM ? { ...i, value: again } : i)),
    extension: [
      ...without(rest.extension, OUTSIDE_DAYS, NEED_ENDED, ASKED_AGAIN),
      { url: ASKED_AGAIN, valueReference: { reference: entry.reference } },
    ],
    status: "proposed",
    created: staff.at,
    ...(minutes === undefined ? {} : { minutesDuration: minutes }),
    participant: persons(next).map((one) => ({ ...one, status: "needs-action" as const })),
    text: narrative(`Asked for again by ${named(staff)}, ${dateWords(staff.at)}.`, [rest.description ?? "Visit"]),
  };
}

const urnOf = (text: string): string => {
  const [a, b] = [fingerprint(text), fingerprint(`${text}.`)];
  return `urn:uuid:${a.slice(0, 8)}-${a.slice(8)}-4${b.slice(0, 3)}-8${b.slice(3, 6)}-${b.slice(6)}${a.slice(0, 6)}`;
};
const ifAbsent = (resource: Appointment) =>
  `identifier=${PLAN_ITEM}|${resource.identifier?.find((i) => i.system === PLAN_ITEM)?.value ?? ""}`;
function visitStep(entry: Held, resource: Appointment, stored: boolean): ActStep {
  if (stored)
    return {
      what: "visit",
      method: "PUT",
      url: entry.reference,
      version: entry.version,
      resource,
      undo: kept(entry),
      before: true,
    };
  return created("visit", resource, { ...resource, ...CANCELLED });
}
function needStep(entry: Held, staff: ActingStaff): ActStep {
  const resource = asAskedAgain(entry, staff);
  return created("need", resource, { ...resource, ...CANCELLED });
}
const CANCELLED = {
  status: "cancelled",
  cancelationReason: { coding: [hl7("appointment-cancellation-reason", "oth-err", "Other: Error")] },
} as const satisfies Partial<Appointment>;
const created = (what: "visit" | "need", resource: Appointment, undo: Appointment): ActStep => ({
  what,
  method: "POST",
  url: "Appointment",
  resource,
  ifNoneExist: ifAbsent(resource),
  urn: urnOf(`${what} ${ifAbsent(resource)}`),
  undo,
  before: true,
});
const targetOf = ({ method, url, urn }: ActStep): string => (method === "PUT" ? url : urn!);

/**
 * The slots of a time, taken for these visits; held before they are busy where one resource is written at a time. What is held for an entry
 * that is not there yet names the one that was read, so that the hold is found when the act breaks off.
 */
function taken(
  time: ClinicTime,
  visits: readonly string[],
  read: readonly Pick<ListedVisit, "entry">[],
  staff: ActingStaff,
): ActStep[] {
  if (!time.reference) return [];
  // Whose hold it is must be told apart: somebody else may hold it for the same visit at the same moment.
  const display = `Held by ${named(staff)}, ${staff.at}`;
  return timesOf(time).map((one): ActStep => {
    const slot = (status: Slot["status"], marked: readonly { reference: string; display?: string }[]): Slot => {
      const copy = kept<Slot>(one);
      const marks = marked.map((valueReference) => ({ url: HELD_FOR, valueReference }));
      return { ...copy, status, extension: [...without(copy.extension, HELD_FOR), ...marks] };
    };
    return {
      what: "time",
      method: "PUT",
      url: one.reference,
      version: one.version,
      resource: slot(
        "busy",
        visits.map((reference) => ({ reference })),
      ),
      hold: slot(
        "busy-tentative",
        read.map(({ entry: { reference } }) => ({ reference, display })),
      ),
      undo: kept<Slot>(one),
      before: false,
    };
  });
}
/** The slot of a time, free again. */
export function freed(time: ClinicTime): ActStep {
  const slot = kept<Slot>(time);
  slot.status = "free";
  const extension = without(slot.extension, HELD_FOR);
  if (extension.length > 0) slot.extension = extension;
  else delete slot.extension;
  return { what: "time", method: "PUT", url: time.reference, version: time.version, resource: slot, before: false };
}

const DONE: { readonly [A in ClinicActName]: string } = {
  book: "Booked",
  move: "Moved",
  "call-off": "Called off",
  missed: "The patient did not come",
  came: "The patient came",
};
interface About {
  /** Visits of which whoever ordered them is told. */
  readonly outside: readonly ToTell[];
  readonly reason: string;
  readonly place?: Place;
}
function finished(
  name: ClinicActName,
  visits: readonly Omit<ListedVisit, "state" | "before">[],
  steps: readonly ActStep[],
  staff: ActingStaff,
  { outside, reason, place }: About,
): ActAnswer {
  const planId = visits[0]!.planId;
  const { tag = [] } = ((visits[0]!.entry.resource as { meta?: Appointment["meta"] }).meta ?? {}) as {
    tag?: { system?: string; code?: string }[];
  };
  const knowledge = tag.find((t) => t.system === KNOWLEDGE_TAG)?.code ?? "not used";
  const who: Reference = {
    reference: staff.signer.reference,
    ...(staff.signer.display ? { display: staff.signer.display } : {}),
  };
  const made = assembledBy(staff.appVersion, knowledge);
  const item = `${planId}:provenance-${name}-${fingerprint(visits.map((v) => v.key).join(" "))}-${staff.at.replace(/\D/g, "")}`;
  const words = `${DONE[name]}${place ? ` for ${dateWords(place.time.at)}` : ""}.${reason.trim() ? ` ${reason.trim()}` : ""}`;
  const record: Provenance = {
    ...made,
    meta: { tag: [coding(PLAN_ITEM, item)] },
    target: steps.map((step) => ({ reference: targetOf(step) })),
    occurredDateTime: staff.at,
    recorded: staff.at,
    reason: [{ text: words }],
    activity: lifeActivity([name]),
    agent: [...made.agent, { type: { coding: [hl7("provenance-participant-type", "enterer", "Enterer")] }, who }],
  };
  const messages = outside.flatMap((visit, i): ActStep[] => {
    const message = messageTo(visit, { sender: who, sent: staff.at, said: words, name: `${item}-told-${i + 1}` });
    if (!message) return [];
    const ifNoneExist = `identifier=${PLAN_ITEM}|${message.identifier![0]!.value}`;
    return [{ what: "message", method: "POST", url: "Communication", resource: message, ifNoneExist, before: false }];
  });
  const nobody = outside.length > messages.length;
  return {
    ok: true,
    act: {
      name,
      steps: [
        ...steps,
        {
          what: "record",
          method: "POST",
          url: "Provenance",
          resource: record,
          ifNoneExist: `_tag=${PLAN_ITEM}|${item}`,
          before: false,
        },
        ...messages,
      ],
      ...(nobody ? { tellByPhone: "The order does not name who asked for the visit: tell the doctor by phone." } : {}),
    },
  };
}

/** The whole act as one transaction: all of it or nothing, each over the version that was read. */
export const actBundle = ({ steps }: ClinicAct): Bundle => ({
  resourceType: "Bundle",
  type: "transaction",
  entry: steps.map(({ method, url, resource, version, ifNoneExist, urn }) => ({
    ...(urn ? { fullUrl: urn } : {}),
    resource,
    request: {
      method,
      url,
      ...(version ? { ifMatch: `W/"${version}"` } : {}),
      ...(ifNoneExist ? { ifNoneExist } : {}),
    },
  })),
});

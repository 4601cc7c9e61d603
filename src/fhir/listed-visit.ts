/**
 * What the clinic reads of a visit: whose, of which finger, for what, with whom, between which days; and what stands in its way.
 * From the order, the visits that rest on it, the diagnosis and the patient, as the record system holds them. Pure.
 */
import * as z from "zod/mini";
import { PURPOSE_WORDS, type VisitPurpose } from "../pathway/index.ts";
import { AFTER_VISIT, IDEAL_DAY, VISIT_PURPOSE } from "./appointment.ts";
import { Reading, typeOf } from "./chart-resource.ts";
import { ACT_TAG, ownExtension, PLAN_ITEM } from "./codings.ts";
import { localOf } from "./dates.ts";
import { type PatientSummary, readPatient } from "./patient.ts";
import { isPlainJson } from "./plain-json.ts";
import { LIFE_TAG } from "./plan-life.ts";
import {
  codingShape,
  conceptShape,
  conceptWords,
  firstCode,
  identifierShape,
  lookUp,
  periodShape,
  referenceShape,
} from "./shapes.ts";
import { NEED_ENDED, OUTSIDE_DAYS } from "./visit-marks.ts";

/** A stored resource over which may be written, in the version that was read. */
export interface Held {
  /** "Appointment/12" */
  readonly reference: string;
  readonly version?: string | undefined;
  readonly resource: Readonly<Record<string, unknown>>;
}
/** Calendar days of the clinic, yyyy-MM-dd, both ends counted. */
export interface DaysAsked {
  readonly earliest?: string | undefined;
  /** The best of them, where the plan names one. */
  readonly ideal?: string | undefined;
  readonly latest?: string | undefined;
}
export interface OrderInShort extends Held {
  readonly status: string;
  readonly words: string;
  readonly priority: string;
  /** yyyy-MM-dd, where it is recorded. */
  readonly orderedOn?: string | undefined;
  /** Who ordered, and is told when the days cannot be kept. */
  readonly requester?: { readonly reference?: string | undefined; readonly display?: string | undefined } | undefined;
}
export interface ListedVisit {
  /** "planId:visit-film-fup-4": what the plan calls it, whichever entry now stands for it. */
  readonly key: string;
  readonly planId: string;
  /** "asked": a visit is proposed; "missed", "called-off": it did not take place, and nobody has asked for a new one. */
  readonly state: "asked" | "missed" | "called-off";
  /** The entry that stands for it: the proposed one, else the last that did not take place. */
  readonly entry: Held;
  /** How often it was arranged before without taking place. */
  readonly before: number;
  readonly order?: OrderInShort | undefined;
  readonly patient: PatientInList;
  readonly purpose?: VisitPurpose | undefined;
  /** "Check film" */
  readonly words: string;
  /** "hand clinic" */
  readonly who: string;
  readonly days: DaysAsked;
  /** How long it lasts, where its entry says so by itself, or took several times in a row; else as long as one time of the clinic. */
  readonly minutes?: number | undefined;
  /** Without days: those after the operation, as the plan counts them. */
  readonly afterOperation?: { readonly earliest: number; readonly ideal: number; readonly latest: number } | undefined;
  /** Purpose of the visit that must have happened before. */
  readonly after?: VisitPurpose | undefined;
  /** What to check, its conditions first. */
  readonly check?: string | undefined;
  /** "left ring finger" */
  readonly digits: string;
  /** "Fracture of the distal phalanx, left ring finger: Bony mallet", where the record says so. */
  readonly diagnosis?: string | undefined;
}
export interface PatientInList {
  readonly reference: string;
  readonly name: string;
  /** Undefined when the record system did not hand the person over: then nothing is booked. */
  readonly summary?: PatientSummary | undefined;
  /** Phone numbers and addresses, the preferred first. */
  readonly contact: readonly string[];
  /** Why nothing may be booked. */
  readonly stop?: string | undefined;
  /** The day from which the newest address holds, yyyy-MM-dd, where the record says so. */
  readonly addressSince?: string | undefined;
}

const extension = z.object({
  url: z.string(),
  valueDate: z.optional(z.string()),
  valueCode: z.optional(z.string()),
  valueString: z.optional(z.string()),
  extension: z.optional(z.array(z.object({ url: z.string(), valueInteger: z.optional(z.number()) }))),
});
const meta = z.optional(z.object({ versionId: z.optional(z.string()), tag: z.optional(z.array(codingShape)) }));
const references = z.optional(z.array(referenceShape));
/** Whatever carries a modifier that nobody here knows must not be interpreted (R4 2.4.0.1). */
const unmodified = z.optional(z.array(z.unknown()).check(z.maxLength(0, "a modifier that is not known here")));
const appointmentShape = z.object({
  resourceType: z.literal("Appointment"),
  id: z.string(),
  meta,
  modifierExtension: unmodified,
  extension: z.optional(z.array(extension)),
  identifier: z.optional(z.array(identifierShape)),
  status: z.string(),
  serviceType: z.optional(z.array(conceptShape)),
  description: z.optional(z.string()),
  comment: z.optional(z.string()),
  start: z.optional(z.string()),
  end: z.optional(z.string()),
  minutesDuration: z.optional(z.number()),
  slot: references,
  basedOn: references,
  reasonReference: references,
  requestedPeriod: z.optional(z.array(periodShape)),
  participant: z.array(z.object({ actor: z.optional(referenceShape), status: z.optional(z.string()) })),
});
export type AppointmentShape = z.infer<typeof appointmentShape>;
const orderShape = z.object({
  resourceType: z.literal("ServiceRequest"),
  id: z.string(),
  meta,
  modifierExtension: unmodified,
  status: z.string(),
  priority: z.optional(z.string()),
  code: z.optional(conceptShape),
  subject: z.optional(referenceShape),
  requester: z.optional(referenceShape),
  authoredOn: z.optional(z.string()),
  performerType: z.optional(conceptShape),
  bodySite: z.optional(z.array(conceptShape)),
  occurrencePeriod: z.optional(periodShape),
});
const conditionShape = z.object({
  resourceType: z.literal("Condition"),
  id: z.string(),
  code: z.optional(conceptShape),
});
const patientShape = z.object({
  address: z.optional(z.array(z.object({ use: z.optional(z.string()), period: z.optional(periodShape) }))),
  telecom: z.optional(
    z.array(z.object({ system: z.optional(z.string()), value: z.optional(z.string()), rank: z.optional(z.number()) })),
  ),
});

/** Resources of one answer, by reference, and how many could not be read. */
export class ListReading {
  readonly #resources: readonly unknown[];
  readonly #today: string;
  readonly #zone: string;
  readonly #patients = new Map<string, PatientInList>();
  readonly #problems: string[] = [];
  readonly appointments: readonly (Held & { readonly data: AppointmentShape })[];
  readonly #orders: ReadonlyMap<string, OrderInShort & { readonly data: z.infer<typeof orderShape> }>;
  readonly #diagnoses: ReadonlyMap<string, string>;

  /**
   * @param today yyyy-MM-dd in the clinic's zone
   * @param zone IANA time zone of the clinic
   */
  constructor(resources: readonly unknown[], today: string, zone: string) {
    this.#resources = resources;
    this.#today = today;
    this.#zone = zone;
    this.appointments = this.#each("Appointment", appointmentShape);
    const orders = this.#each("ServiceRequest", orderShape).map((found) => {
      const { status, code, priority = "routine", requester, authoredOn } = found.data;
      const orderedOn = authoredOn && localOf(authoredOn, zone).slice(0, 10);
      return { ...found, status, words: conceptWords(code) ?? "Order", priority, requester, orderedOn };
    });
    this.#orders = new Map(orders.map((order) => [order.reference, order]));
    this.#diagnoses = new Map(
      this.#each("Condition", conditionShape).flatMap(({ reference, data }) => {
        const words = conceptWords(data.code);
        return words ? [[reference, words] as const] : [];
      }),
    );
  }
  /** What could not be read, in sentences; none of it is on the list. */
  get problems(): readonly string[] {
    return this.#problems;
  }
  get zone(): string {
    return this.#zone;
  }
  get today(): string {
    return this.#today;
  }

  #each<T extends { id: string }>(type: string, shape: z.ZodMiniType<T>) {
    return this.#resources.flatMap((raw): (Held & { data: T })[] => {
      if (typeOf(raw) !== type) return [];
      const read = shape.safeParse(raw);
      if (!read.success || !isPlainJson(raw)) {
        const at = typeof (raw as { id?: unknown }).id === "string" ? `${type}/${(raw as { id: string }).id}` : type;
        const issue = read.error?.issues[0];
        this.#problems.push(
          `${at} could not be read (${issue?.path.join(".") || "resource"}: ${issue?.message ?? "too deep"}): look for it in the record system.`,
        );
        return [];
      }
      const { versionId: version } = (raw as { meta?: { versionId?: string } }).meta ?? {};
      return [
        { reference: `${type}/${read.data.id}`, version, resource: raw as Record<string, unknown>, data: read.data },
      ];
    });
  }

  order(visit: AppointmentShape) {
    for (const { reference } of visit.basedOn ?? []) {
      const order = reference === undefined ? undefined : this.#orders.get(short(reference));
      if (order) return order;
    }
    return undefined;
  }

  patient(reference: string | undefined, display: string | undefined): PatientInList {
    const at = short(reference ?? "");
    const known = this.#patients.get(at);
    if (known) return known;
    const id = at.slice("Patient/".length);
    const { summary } = readPatient(this.#resources, new Reading(id, this.#today, this.#zone, undefined));
    const raw = this.#resources.find((r) => typeOf(r) === "Patient" && (r as { id?: unknown }).id === id);
    const { telecom = [], address = [] } = patientShape.safeParse(raw).data ?? {};
    const contact = [...telecom].sort((a, b) => (a.rank ?? 9) - (b.rank ?? 9)).flatMap(({ value }) => value ?? []);
    const stop = summary ? summary.stop : "The record system did not say whose visit this is: read the list again.";
    const since = address.flatMap(({ use, period }) =>
      use !== "old" && period?.start ? [period.start.slice(0, 10)] : [],
    );
    const addressSince = since.sort().at(-1);
    const name = summary?.name ?? display ?? "Name not recorded";
    const found = { reference: at, name, summary, contact, stop, addressSince };
    this.#patients.set(at, found);
    return found;
  }

  /** What one entry says of its visit, whatever its state. */
  visit(found: Held & { readonly data: AppointmentShape }): Omit<ListedVisit, "state" | "before"> {
    const { data, reference, version, resource } = found;
    const order = this.order(data);
    const subject = data.participant.find((p) => /(^|\/)Patient\//.test(p.actor?.reference ?? ""))?.actor;
    const [service] = data.serviceType ?? [];
    const code = firstCode(service, VISIT_PURPOSE);
    const purpose = lookUp(PURPOSE_WORDS, code) ? (code as VisitPurpose) : undefined;
    const text = service?.text ?? data.description ?? "Visit";
    const words = purpose ? PURPOSE_WORDS[purpose] : text;
    const of = (url: string) => data.extension?.find((e) => e.url === url);
    const { start, end } = data.requestedPeriod?.[0] ?? order?.data.occurrencePeriod ?? {};
    const counted = of(ownExtension("days-after-operation"))?.extension;
    const days = (name: string) => counted?.find((e) => e.url === name)?.valueInteger ?? 0;
    const after = of(AFTER_VISIT)?.valueCode;
    const item = itemOf(data);
    const diagnosis = (data.reasonReference ?? []).flatMap((r) => this.#diagnoses.get(short(r.reference ?? "")) ?? []);
    return {
      key: baseKey(item) || reference,
      planId: item.slice(0, Math.max(0, item.lastIndexOf(":"))),
      entry: { reference, version, resource },
      order,
      patient: this.patient(subject?.reference ?? order?.data.subject?.reference, subject?.display),
      purpose,
      words,
      who: text.startsWith(`${words}, `)
        ? text.slice(words.length + 2)
        : (conceptWords(order?.data.performerType) ?? ""),
      days: {
        earliest: start && localOf(start, this.#zone).slice(0, 10),
        ideal: of(IDEAL_DAY)?.valueDate,
        latest: end && localOf(end, this.#zone).slice(0, 10),
      },
      minutes: lengthOf(data),
      ...(counted && !end
        ? { afterOperation: { earliest: days("earliest"), ideal: days("ideal"), latest: days("latest") } }
        : {}),
      after: lookUp(PURPOSE_WORDS, after) ? (after as VisitPurpose) : undefined,
      check: data.comment,
      digits: (order?.data.bodySite ?? []).flatMap((site) => site.text ?? []).join("; "),
      diagnosis: diagnosis.join("; ") || undefined,
    };
  }
}

/** A visit that took one time was as long as that time, which says nothing of the next one. */
export const lengthOf = ({ status, slot = [], minutesDuration }: LengthShape): number | undefined =>
  status === "proposed" || slot.length > 1 ? minutesDuration : undefined;
type LengthShape = { status: string; slot?: readonly unknown[] | undefined; minutesDuration?: number | undefined };

/** "Patient/12" of a relative or absolute reference, without a version. */
export const short = (reference: string): string =>
  /([A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64})(?:\/_history\/[^/]+)?$/.exec(reference)?.[1] ?? reference;
/** "planId:key" of an entry of ours; empty for others. */
export const itemOf = ({ identifier }: Pick<AppointmentShape, "identifier">): string =>
  identifier?.find((i) => i.system === PLAN_ITEM)?.value ?? "";
const AGAIN = /-again-(\d+)$/;
const baseKey = (item: string): string => item.replace(AGAIN, "");
/** Name of the next entry for the same visit: "…:visit-film-fup-4-again-2". */
export function askedAgainAs(item: string): string {
  const nth = Number(AGAIN.exec(item)?.[1] ?? 1) + 1;
  return `${baseKey(item)}-again-${nth}`;
}

/** R4 appointmentstatus: states in which the visit is arranged, or took place. */
const ARRANGED = ["pending", "booked", "arrived", "fulfilled", "checked-in", "waitlist"];
const tagged = ({ meta }: AppointmentShape, system: string) => meta?.tag?.find((t) => t.system === system)?.code;

/**
 * Visits that somebody has to arrange, out of all entries of their orders. Of the entries for one visit of a plan the proposed one counts;
 * without it, a visit that was missed or called off by others comes back, unless its plan ended it or nobody needs it any more.
 * Drafts have no effect and are left out.
 *
 * @returns sorted by the last day, then the first; without days at the end
 */
export function visitsIn(reading: ListReading): ListedVisit[] {
  const groups = new Map<string, (Held & { readonly data: AppointmentShape })[]>();
  for (const found of reading.appointments) {
    if (tagged(found.data, ACT_TAG) === "draft" || found.data.status === "entered-in-error") continue;
    const order = reading.order(found.data);
    if (found.data.basedOn?.length && order && order.status !== "active") continue;
    const item = itemOf(found.data);
    if (!item) continue;
    const key = baseKey(item);
    groups.set(key, [...(groups.get(key) ?? []), found]);
  }
  const visits = [...groups.values()].flatMap((entries): ListedVisit[] => {
    const inOrder = [...entries].sort((a, b) => nth(a) - nth(b));
    const gone = inOrder.filter(({ data }) => ["noshow", "cancelled"].includes(data.status));
    const asked = inOrder.findLast(({ data }) => data.status === "proposed");
    if (asked) return [{ ...reading.visit(asked), state: "asked", before: gone.length }];
    const last = inOrder.at(-1)!;
    if (inOrder.some(({ data }) => ARRANGED.includes(data.status)) || !gone.includes(last)) return [];
    const ended = tagged(last.data, LIFE_TAG) ?? last.data.extension?.find((e) => e.url === NEED_ENDED)?.valueString;
    if (ended !== undefined) return [];
    const state = last.data.status === "noshow" ? "missed" : "called-off";
    return [{ ...reading.visit(last), state, before: gone.length }];
  });
  return visits.sort(byDays);
}
const nth = ({ data }: { readonly data: AppointmentShape }) => Number(AGAIN.exec(itemOf(data))?.[1] ?? 1);

const LAST = "9999";
/** The earliest last day first: what is overdue comes before what is due. */
export const byDays = (a: Pick<ListedVisit, "days" | "key">, b: Pick<ListedVisit, "days" | "key">): number =>
  (a.days.latest ?? LAST).localeCompare(b.days.latest ?? LAST) ||
  (a.days.earliest ?? LAST).localeCompare(b.days.earliest ?? LAST) ||
  a.key.localeCompare(b.key);
/** Whether its last day has gone by. */
export const isOverdue = ({ days }: Pick<ListedVisit, "days">, today: string): boolean =>
  days.latest !== undefined && days.latest < today;

/** A visit with a time, and why somebody should look at it again. */
export interface BookedVisit extends Omit<ListedVisit, "state" | "before"> {
  readonly status: string;
  /** Instants as stored. */
  readonly start: string;
  readonly end?: string | undefined;
  /** Wall clock of the clinic, yyyy-MM-ddTHH:mm. */
  readonly at: string;
  /** "Slot/9" */
  readonly slots: readonly string[];
  /** The reason that was given for booking outside the days of the plan. */
  readonly outsideBecause?: string | undefined;
  readonly recheck?: Recheck | undefined;
}
/** "plan-ended": cancel it? "days-changed": it no longer fits the days asked; "patient": died, or the record moved; "time-passed": did they come? */
export interface Recheck {
  readonly why: "plan-ended" | "days-changed" | "patient" | "time-passed";
  readonly words: string;
}
const AWAITED = ["booked", "pending", "waitlist"];

/** Booked visits by their time. Those without a readable instant are told in the reading's problems, never given a zone. */
export function bookedIn(reading: ListReading, problems: string[] = []): BookedVisit[] {
  const booked = reading.appointments.flatMap((found): BookedVisit[] => {
    const { start, end, status, slot = [], extension: more } = found.data;
    if (!ARRANGED.includes(status) || !itemOf(found.data)) return [];
    if (!isInstant(start)) {
      problems.push(`${found.reference} is booked for "${start ?? "no time"}", which names no time zone: look it up.`);
      return [];
    }
    const visit = reading.visit(found);
    const at = localOf(start, reading.zone);
    const outsideBecause = more?.find((e) => e.url === OUTSIDE_DAYS)?.valueString;
    const slots = slot.flatMap(({ reference }) => (reference ? [short(reference)] : []));
    const recheck = recheckOf(visit, { status, day: at.slice(0, 10), outsideBecause }, reading.today);
    return [{ ...visit, status, start, end, at, slots, outsideBecause, recheck }];
  });
  return booked.sort((a, b) => Date.parse(a.start) - Date.parse(b.start) || a.key.localeCompare(b.key));
}
/** R4 instant or dateTime with a zone. */
export const isInstant = (text: string | undefined): text is string =>
  /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)$/.test(text ?? "") && !Number.isNaN(Date.parse(text!));

function recheckOf(
  { order, patient, days }: Pick<ListedVisit, "order" | "patient" | "days">,
  { status, day, outsideBecause }: { status: string; day: string; outsideBecause: string | undefined },
  today: string,
): Recheck | undefined {
  if (!AWAITED.includes(status)) return undefined;
  if (patient.summary?.stop) return { why: "patient", words: `${patient.summary.stop} Cancel this visit?` };
  if (order && ["revoked", "entered-in-error"].includes(order.status))
    return { why: "plan-ended", words: "The plan that asked for it was changed or withdrawn. Cancel this visit?" };
  if (day < today) return { why: "time-passed", words: "Its day has gone by: did the patient come?" };
  const outside = (days.earliest && day < days.earliest) || (days.latest && day > days.latest);
  return outside && outsideBecause === undefined
    ? { why: "days-changed", words: "It lies outside the days of the plan. Keep it, or move it?" }
    : undefined;
}

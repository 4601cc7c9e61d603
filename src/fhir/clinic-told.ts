/**
 * What the clinic tells whoever ordered a visit: that it lies outside the days of the plan, or that it was missed and the days are over. As
 * it is written (R4 Communication), and as the doctor reads it who opens the chart. Pure.
 */
import type { Communication, Reference } from "fhir/r4";
import * as z from "zod/mini";
import { hl7, PLAN_ITEM } from "./codings.ts";
import { narrative } from "./draft-item.ts";
import type { EarlierPlan } from "./earlier.ts";
import type { ListedVisit } from "./listed-visit.ts";
import { identifierShape, periodShape, referenceShape } from "./shapes.ts";
import { ASKED_AGAIN, OUTSIDE_DAYS } from "./visit-marks.ts";

/** A visit of which whoever ordered it is told. */
export type ToTell = Pick<ListedVisit, "order" | "patient" | "words" | "entry"> & {
  /** The entry that it is about, where it is not the one that was read: "Appointment/12", or the urn of one that is created. */
  readonly about?: string;
};

/**
 * The message; undefined where the order names nobody who could be told.
 *
 * @param said what was done and why, in whole sentences
 * @param sent instant with offset
 * @param name names this message within its plan, so that it is filed once: "<planId>:told-..."
 */
export function messageTo(
  { order, patient, words, entry, about }: ToTell,
  { sender, sent, said, name }: { sender: Reference; sent: string; said: string; name: string },
): Communication | undefined {
  const { reference, display } = order?.requester ?? {};
  if (!order || !reference) return undefined;
  const text = `${words}: ${said} This is outside the days that you asked for.`;
  return {
    resourceType: "Communication",
    text: narrative("Message of the clinic to whoever asked for the visit", [text]),
    identifier: [{ system: PLAN_ITEM, value: name }],
    status: "completed",
    category: [{ coding: [hl7("communication-category", "notification", "Notification")] }],
    priority: "routine",
    subject: { reference: patient.reference },
    basedOn: [{ reference: order.reference }],
    about: [{ reference: about ?? entry.reference }],
    sent,
    sender,
    recipient: [{ reference, ...(display ? { display } : {}) }],
    payload: [{ contentString: text }],
  };
}

/** A visit of which the clinic has something to tell. */
export interface ToldVisit {
  /** "Appointment/12" */
  readonly reference: string;
  readonly planId: string;
  /** "Check film, hand clinic" */
  readonly words: string;
  readonly what: "outside" | "missed";
  /** The instant for which it is, or was, booked; as stored. */
  readonly start?: string | undefined;
  /** Days that the plan asks for, yyyy-MM-dd. */
  readonly earliest?: string | undefined;
  readonly latest?: string | undefined;
  /** Why outside, in the words of who booked it. */
  readonly because?: string | undefined;
  /** Who told it, and when (instant as stored); undefined where no message of it can be read. */
  readonly by?: string | undefined;
  readonly on?: string | undefined;
}

const visitShape = z.object({
  status: z.string(),
  description: z.optional(z.string()),
  start: z.optional(z.string()),
  requestedPeriod: z.optional(z.array(periodShape)),
  extension: z.optional(
    z.array(
      z.object({ url: z.string(), valueString: z.optional(z.string()), valueReference: z.optional(referenceShape) }),
    ),
  ),
});
const messageShape = z.object({
  resourceType: z.literal("Communication"),
  status: z.string(),
  identifier: z.optional(z.array(identifierShape)),
  about: z.optional(z.array(referenceShape)),
  sent: z.optional(z.string()),
  sender: z.optional(referenceShape),
});
/** R4 appointmentstatus: the visit is arranged and has not taken place. */
const AHEAD = ["pending", "booked", "arrived", "checked-in", "waitlist"];
const MOST = 50;

/** The search for the clinic's messages on a patient, newest first. */
export const messagesAbout = (patientId: string) => ({
  query: `Communication?${new URLSearchParams({ patient: patientId, identifier: `${PLAN_ITEM}|`, _sort: "-sent", _count: String(MOST) })}`,
  limit: MOST,
});

/** Visits of these plans that the clinic may have told of; without a look at the messages, and so without who told it and when. */
function ofVisits(plans: readonly EarlierPlan[]) {
  const all = plans.flatMap(({ planId, items }) =>
    items.flatMap(({ type, reference, resource }) => {
      const read = type === "Appointment" ? visitShape.safeParse(resource) : undefined;
      return read?.success ? [{ planId, reference, ...read.data }] : [];
    }),
  );
  const askedAgain = (missed: string) =>
    all.find((v) => v.extension?.some((e) => e.url === ASKED_AGAIN && pointsTo(e.valueReference?.reference, missed)));
  return all.flatMap(({ planId, reference, status, description, start, requestedPeriod, extension }): ToldVisit[] => {
    const because = extension?.find(({ url }) => url === OUTSIDE_DAYS)?.valueString;
    const outside = because !== undefined && AHEAD.includes(status);
    const next = status === "noshow" ? askedAgain(reference) : undefined;
    // What was arranged since speaks for itself.
    const missed = status === "noshow" && (next === undefined || next.status === "proposed");
    if (!outside && !missed) return [];
    const { start: earliest, end: latest } = requestedPeriod?.[0] ?? {};
    return [
      {
        ...{ reference, planId, start, earliest, latest },
        words: description ?? "Visit",
        ...(outside ? { what: "outside", because } : { what: "missed" }),
      },
    ];
  });
}
/** Whether there is something to ask the record for; a chart without it costs no request. */
export const mayBeTold = (plans: readonly EarlierPlan[]): boolean => ofVisits(plans).length > 0;

/**
 * What the doctor has to know now: visits that are booked outside the days of their plan, and visits that were missed and of which the
 * clinic told that their days are over. What was moved back inside, took place or was arranged anew is left out.
 *
 * @param messages resources of the search above; what cannot be read of them, or is not ours, is left out
 */
export function clinicTold(plans: readonly EarlierPlan[], messages: readonly unknown[]): ToldVisit[] {
  const read = messages.flatMap((raw) => {
    const { success, data } = messageShape.safeParse(raw);
    const ours = success && data.status === "completed" && data.identifier?.some((i) => i.system === PLAN_ITEM);
    return ours ? [data] : [];
  });
  return ofVisits(plans)
    .flatMap((visit) => {
      const [newest] = read
        .filter(({ about }) => about?.some(({ reference }) => pointsTo(reference, visit.reference)))
        .sort((a, b) => instant(b.sent) - instant(a.sent));
      if (visit.what === "missed" && !newest) return [];
      return [{ ...visit, by: newest?.sender?.display ?? newest?.sender?.reference, on: newest?.sent }];
    })
    .sort((a, b) => (a.start ?? "").localeCompare(b.start ?? ""));
}
/** A server may store a reference as an address, or with a version. */
function pointsTo(stored: string | undefined, reference: string): boolean {
  const plain = stored?.replace(/\/_history\/[^/]+$/, "");
  return plain !== undefined && (plain === reference || plain.endsWith(`/${reference}`));
}
const instant = (text: string | undefined): number => Date.parse(text ?? "") || 0;

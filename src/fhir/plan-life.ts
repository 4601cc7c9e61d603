/**
 * The life of what a plan stores, as data: which state each resource may go to by which act, and what is left alone and why. Pure; whoever
 * changes a stored resource asks here. Sources of the rows: HL7 FHIR R4 (4.0.1) request-status, appointmentstatus, condition-ver-status,
 * questionnaire-answers-status and the definitions of CarePlan, ServiceRequest, Appointment, Condition and QuestionnaireResponse.
 */
import { BASE, ownExtension } from "./codings.ts";

/** What became of a stored resource by a later act; its code is the act. */
export const LIFE_TAG = `${BASE}/CodeSystem/plan-life`;
/** On a diagnosis that went over an entry of the chart: what that entry said before. */
export const REFINED_FROM = ownExtension("refined-from");

export type LifeType = "CarePlan" | "ServiceRequest" | "Appointment" | "Condition" | "QuestionnaireResponse";
/**
 * "save" and "sign" write the plan; "supersede": a newer plan takes its place; "withdraw": it no longer holds, but may have been acted
 * upon; "refute": the diagnosis was wrong; "void": it should never have existed; "drop": the stored draft no longer holds it.
 */
export const LIFE_ACTS = ["save", "sign", "supersede", "withdraw", "refute", "void", "drop"] as const;
export type LifeAct = (typeof LIFE_ACTS)[number];
/** Before it is stored. */
export const NONE = "none";

interface Move {
  readonly act: LifeAct;
  /** States it may start from; `NONE`: it is not stored yet. */
  readonly from: readonly string[];
  readonly to: string;
  readonly source: string;
  /** Only while it was never signed: its end was made by this program and never had an effect. */
  readonly neverSigned?: true;
}
interface Left {
  readonly states: readonly string[];
  readonly why: string;
  /** Somebody else's business: said on screen and left for the clinic. */
  readonly clinic?: true;
}
interface Life {
  /** Every state that R4 knows. */
  readonly states: readonly string[];
  readonly moves: readonly Move[];
  readonly left: readonly Left[];
}

const REQUEST_STATUS = "R4 request-status";
const ONLY_ERROR = `${REQUEST_STATUS}: entered-in-error is for what should never have existed; what may have been acted upon is revoked`;
const OWN_VOID = "common practice, no source: a draft that this program took out never had an effect and may come back";
const request: Life = {
  states: ["draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"],
  moves: [
    {
      act: "save",
      from: [NONE, "draft"],
      to: "draft",
      source: `${REQUEST_STATUS}: not yet complete or ready for action`,
    },
    { act: "save", from: ["entered-in-error"], to: "draft", source: OWN_VOID, neverSigned: true },
    { act: "sign", from: [NONE, "draft"], to: "active", source: `${REQUEST_STATUS}: ready to be acted upon` },
    { act: "sign", from: ["entered-in-error"], to: "active", source: OWN_VOID, neverSigned: true },
    {
      act: "supersede",
      from: ["active", "on-hold"],
      to: "revoked",
      source: "R4 CarePlan.replaces, ServiceRequest.replaces: only a completed or terminated request is replaced",
    },
    { act: "withdraw", from: ["draft", "active", "on-hold"], to: "revoked", source: ONLY_ERROR },
    { act: "void", from: ["draft", "active", "on-hold", "revoked"], to: "entered-in-error", source: ONLY_ERROR },
    { act: "drop", from: ["draft"], to: "entered-in-error", source: ONLY_ERROR, neverSigned: true },
  ],
  left: [
    { states: ["completed"], why: "It is done, so it stays as it is." },
    { states: ["revoked"], why: "It is revoked already." },
    { states: ["entered-in-error"], why: "It is marked as entered in error already." },
    { states: ["unknown"], why: "The record does not say how it stands, so it is left to the clinic.", clinic: true },
    {
      states: ["active", "on-hold"],
      why: "It is signed: it is superseded or withdrawn, not turned back into a draft.",
    },
    { states: ["draft"], why: "A draft has no effect, so nothing takes its place." },
  ],
};

const APPOINTMENT_STATUS =
  "R4 appointmentstatus and Appointment app-3: only proposed, cancelled and waitlist may lack a time";
const appointment: Life = {
  states: [
    "proposed",
    "pending",
    "booked",
    "arrived",
    "fulfilled",
    "cancelled",
    "noshow",
    "entered-in-error",
    "checked-in",
    "waitlist",
  ],
  moves: [
    { act: "save", from: [NONE, "proposed"], to: "proposed", source: APPOINTMENT_STATUS },
    { act: "save", from: ["cancelled"], to: "proposed", source: OWN_VOID, neverSigned: true },
    { act: "sign", from: [NONE, "proposed"], to: "proposed", source: APPOINTMENT_STATUS },
    { act: "sign", from: ["cancelled"], to: "proposed", source: OWN_VOID, neverSigned: true },
    ...(["supersede", "withdraw", "drop"] as const).map((act) => ({
      act,
      from: ["proposed"],
      to: "cancelled",
      source: "R4 Appointment has no replaces: it is cancelled, with cancelationReason",
    })),
    {
      act: "void",
      from: ["proposed"],
      to: "cancelled",
      source:
        "R4 Appointment app-3: without start and end it may be proposed, cancelled or waitlisted, not entered in error",
    },
  ],
  left: [
    {
      states: ["booked", "pending", "arrived", "checked-in", "waitlist"],
      why: "The clinic has taken it up, so it is not changed from here: tell the clinic.",
      clinic: true,
    },
    { states: ["fulfilled"], why: "The visit took place, so it stays as it is." },
    { states: ["noshow"], why: "The patient did not come; the entry stays as it is." },
    { states: ["cancelled"], why: "It is cancelled already." },
    { states: ["entered-in-error"], why: "It is marked as entered in error already." },
    { states: ["proposed"], why: "It is not booked yet." },
  ],
};

const VERIFICATION = "R4 condition-ver-status";
const CON_5 = "R4 Condition con-5: no clinicalStatus beside entered-in-error";
const ASSERTED = ["unconfirmed", "provisional", "differential", "confirmed"];
/** States are those of verificationStatus. */
const condition: Life = {
  states: ["unconfirmed", "provisional", "differential", "confirmed", "refuted", "entered-in-error"],
  moves: [
    { act: "save", from: [NONE, "provisional"], to: "provisional", source: `${VERIFICATION}: tentative` },
    { act: "save", from: ["entered-in-error"], to: "provisional", source: OWN_VOID, neverSigned: true },
    { act: "sign", from: [NONE, ...ASSERTED], to: "confirmed", source: `${VERIFICATION}: enough evidence` },
    { act: "sign", from: ["entered-in-error"], to: "confirmed", source: OWN_VOID, neverSigned: true },
    ...(["supersede", "refute"] as const).map((act) => ({
      act,
      from: ASSERTED,
      to: "refuted",
      source: `${VERIFICATION}: ruled out by later evidence`,
    })),
    { act: "void", from: [...ASSERTED, "refuted"], to: "entered-in-error", source: CON_5 },
    { act: "drop", from: ["provisional"], to: "entered-in-error", source: CON_5, neverSigned: true },
  ],
  left: [
    { states: ["refuted"], why: "It is refuted already." },
    { states: ["entered-in-error"], why: "It is marked as entered in error already." },
    { states: ASSERTED, why: "The diagnosis stands: a plan may end without it." },
  ],
};

const ANSWERS = "R4 questionnaire-answers-status";
const answers: Life = {
  states: ["in-progress", "completed", "amended", "entered-in-error", "stopped"],
  moves: [
    { act: "save", from: [NONE, "in-progress"], to: "in-progress", source: ANSWERS },
    { act: "save", from: ["stopped", "entered-in-error"], to: "in-progress", source: OWN_VOID, neverSigned: true },
    { act: "sign", from: [NONE, "in-progress"], to: "completed", source: ANSWERS },
    { act: "sign", from: ["stopped", "entered-in-error"], to: "completed", source: OWN_VOID, neverSigned: true },
    {
      act: "sign",
      from: ["completed", "amended"],
      to: "amended",
      source: `${ANSWERS}: changed after it had been completed`,
    },
    { act: "withdraw", from: ["in-progress"], to: "stopped", source: `${ANSWERS}: ended before it was complete` },
    { act: "void", from: ["in-progress", "completed", "amended", "stopped"], to: "entered-in-error", source: ANSWERS },
  ],
  left: [
    { states: ["completed", "amended"], why: "What was found then stays on record." },
    { states: ["stopped"], why: "It was stopped already." },
    { states: ["entered-in-error"], why: "It is marked as entered in error already." },
    { states: ["in-progress"], why: "The findings are not finished." },
  ],
};

export const PLAN_LIFE: { readonly [T in LifeType]: Life } = {
  CarePlan: request,
  ServiceRequest: request,
  Appointment: appointment,
  Condition: condition,
  QuestionnaireResponse: answers,
};
export const isLifeType = (type: string): type is LifeType => Object.hasOwn(PLAN_LIFE, type);

export type Moved =
  | { readonly to: string; readonly source: string }
  | { readonly left: string; readonly clinic: boolean };
/**
 * Where an act takes a resource, or why it is left as it is.
 *
 * @param from its status (verificationStatus of a Condition), `NONE` when it is not stored
 * @param signed whether it was ever signed
 */
export function moveOf(type: LifeType, act: LifeAct, from: string, signed: boolean): Moved {
  const { moves, left } = PLAN_LIFE[type];
  const move = moves.find((m) => m.act === act && m.from.includes(from) && !(m.neverSigned && signed));
  if (move) return { to: move.to, source: move.source };
  const why = left.find((l) => l.states.includes(from));
  return {
    left: why?.why ?? `"${from}" is no state that R4 knows, so it is left to the clinic.`,
    clinic: why ? why.clinic === true : true,
  };
}

import type { Annotation, Coding, FhirResource } from "fhir/r4";
import { coding, hl7, PLAN_ITEM } from "./codings.ts";
import { dateWords } from "./dates.ts";
import { type ActContext, type DraftResource, narrative, person } from "./draft-item.ts";
import { wordsOf } from "./drafts.ts";
import type { EarlierItem, EarlierPlan } from "./earlier.ts";
import { isLifeType, LIFE_TAG, type LifeAct, moveOf, REFINED_FROM } from "./plan-life.ts";

/** A resource of an earlier plan that the same act changes: written over the version that was read, never deleted. */
export interface StoredChange {
  /** "old:<planId>:<item key>" */
  readonly key: string;
  readonly title: string;
  readonly words: readonly string[];
  readonly reference: string;
  readonly version?: string;
  /** Whole, as it shall be. */
  readonly resource: FhirResource;
}
/** What is not touched, and why. */
export interface LeftAlone {
  readonly title: string;
  readonly reference: string;
  readonly why: string;
  /** The clinic has to be told. */
  readonly clinic: boolean;
}
export interface Changes {
  readonly changes: readonly StoredChange[];
  readonly left: readonly LeftAlone[];
}
/** Who does it, when and why. */
export type Acting = Pick<ActContext, "signer" | "at"> & { readonly why: string };

type Stored = Record<string, unknown> & {
  status?: string;
  meta?: { tag?: Coding[] };
  verificationStatus?: { coding?: Coding[] };
  code?: { text?: string; coding?: { display?: string; code?: string }[] };
  description?: string;
  start?: string;
  note?: Annotation[];
  extension?: { url: string }[];
};
const storedOf = (item: Pick<EarlierItem, "resource">) => item.resource as Stored;

/** "Wound check: hand clinic", "Plan": what a clinician calls a stored item. */
export function titleOf(item: Pick<EarlierItem, "type" | "resource">): string {
  const { code, description } = storedOf(item);
  if (item.type === "CarePlan") return "Plan";
  if (item.type === "QuestionnaireResponse") return "Findings";
  if (item.type === "DocumentReference") return "Document of the plan";
  const words = code?.text ?? (item.type === "Appointment" ? description : undefined) ?? code?.coding?.[0]?.display;
  const kind = { Appointment: "Visit", Condition: "Diagnosis", ServiceRequest: "Order" }[item.type] ?? item.type;
  return words ? `${kind}: ${words}` : `${kind} without a name`;
}
const stateOf = (item: Pick<EarlierItem, "type" | "status" | "resource">): string =>
  item.type === "Condition" ? (storedOf(item).verificationStatus?.coding?.[0]?.code ?? "unconfirmed") : item.status;
export const startOf = (item: Pick<EarlierItem, "resource">): string | undefined => storedOf(item).start;
/** An entry of somebody else that this program only refined. */
const isRefined = (item: Pick<EarlierItem, "resource">): boolean =>
  storedOf(item).extension?.some((e) => e.url === REFINED_FROM) ?? false;

const SAID: { readonly [A in LifeAct]?: string } = {
  supersede: "Replaced by a newer plan",
  withdraw: "Withdrawn",
  refute: "Ruled out",
  void: "Entered in error",
  drop: "No longer part of the draft",
};

const reasonFor = (act: LifeAct, why: string): string => `${SAID[act]}: ${why}`;
/** "Withdrawn: entered for the wrong patient. By Dr Ada Okafor, Wed 25 November 2026, 15:10." */
export const saidBy = (act: LifeAct, { signer, at, why }: Acting): string =>
  `${reasonFor(act, why).replace(/\.$/, "")}. By ${signer.display ?? signer.reference}, ${dateWords(at)}.`;

/** What one act makes of one stored item, or why it is left as it is. */
export function changeOf(
  item: EarlierItem,
  act: Exclude<LifeAct, "save" | "sign">,
  signed: boolean,
  { signer, at, why }: Acting,
): { readonly change: StoredChange } | { readonly left: LeftAlone } {
  const from = stateOf(item);
  const title = titleOf(item);
  const leave = (words: string, clinic: boolean) => ({
    left: { title, reference: item.reference, why: words, clinic },
  });
  if (!isLifeType(item.type)) return leave("It is no part of a plan.", false);
  const move = moveOf(item.type, act, from, signed);
  if ("left" in move) {
    const start = startOf(item);
    return leave(start && move.clinic ? `Booked for ${dateWords(start)}. ${move.left}` : move.left, move.clinic);
  }
  if (isRefined(item)) return leave("It was in the chart before this plan, so it is not taken back from here.", false);
  const next = structuredClone(item.resource) as Stored;
  const { versionId: _version, lastUpdated: _updated, ...meta } = (next.meta ?? {}) as Record<string, unknown>;
  const tags = (next.meta?.tag ?? []).filter((t) => t.system !== LIFE_TAG && t.system !== PLAN_ITEM);
  next.meta = { ...meta, tag: [coding(PLAN_ITEM, item.planItem), ...tags, coding(LIFE_TAG, act)] };
  const reason = reasonFor(act, why);
  if (item.type === "Condition") {
    next.verificationStatus = { coding: [hl7("condition-ver-status", move.to)] };
    // R4 con-5 forbids it beside entered-in-error; beside refuted nothing is active any more.
    delete next.clinicalStatus;
  } else next.status = move.to;
  if (item.type === "Appointment") {
    // R4 app-4: a reason for cancelling belongs to a cancelled visit only.
    if (move.to === "cancelled")
      next.cancelationReason = {
        coding: [coding("http://terminology.hl7.org/CodeSystem/appointment-cancellation-reason", "prov", "Provider")],
        text: reason,
      };
  } else if (item.type !== "QuestionnaireResponse")
    next.note = [
      ...(next.note ?? []),
      { authorReference: person({ signer, at, act: "sign" }), time: at, text: reason },
    ];
  const resource = next as unknown as DraftResource;
  resource.text = narrative(saidBy(act, { signer, at, why }), wordsOf(resource));
  return {
    change: {
      key: `old:${item.planItem}`,
      title,
      words: [`Now ${from}, will be ${move.to}. ${reason}`],
      reference: item.reference,
      ...(item.version ? { version: item.version } : {}),
      resource,
    },
  };
}

/** What one act makes of several stored items. What merely stays on record is not worth a line. */
export function changesOf(
  items: readonly EarlierItem[],
  act: Exclude<LifeAct, "save" | "sign">,
  signed: boolean,
  acting: Acting,
): Changes {
  const changes: StoredChange[] = [];
  const left: LeftAlone[] = [];
  for (const item of items) {
    const what = changeOf(item, act, signed, acting);
    if ("change" in what) changes.push(what.change);
    else if (item.type !== "QuestionnaireResponse") left.push(what.left);
  }
  return { changes, left };
}

export type Withdrawal = "withdraw" | "void";
/** Something of the plan has happened or is arranged: then it cannot be said that it never existed (R4 request-status). */
export const actedUpon = (plan: Pick<EarlierPlan, "items">): boolean =>
  plan.items.some(
    (i) =>
      ["completed", "fulfilled", "arrived", "checked-in", "booked", "pending", "noshow"].includes(i.status) &&
      i.type !== "QuestionnaireResponse",
  );

/**
 * Takes a plan back, with a reason. A plan that may have been acted upon is revoked, one that never should have existed is entered in error;
 * a booked visit is left to the clinic. The diagnosis of a signed plan stands unless it is said to be wrong.
 */
export function withdrawal(
  plan: EarlierPlan,
  how: Withdrawal,
  acting: Acting,
  diagnosis: "stands" | "wrong" = "stands",
): Changes {
  const own = (type: string) => plan.items.filter((i) => (i.type === "Condition") === (type === "Condition"));
  const rest = changesOf(own("rest"), how, plan.signed, acting);
  // Nobody has stood for the diagnosis of a draft yet.
  const act = how === "void" || !plan.signed ? "void" : diagnosis === "wrong" ? "refute" : "withdraw";
  const diagnoses = changesOf(own("Condition"), act, plan.signed, acting);
  return { changes: [...rest.changes, ...diagnoses.changes], left: [...rest.left, ...diagnoses.left] };
}

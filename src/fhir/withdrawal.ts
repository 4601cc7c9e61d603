/** Taking back what was stored of a plan: by its status and with the reason, never by deleting it. */
import type {
  Annotation,
  Appointment,
  CarePlan,
  Condition,
  DocumentReference,
  Provenance,
  QuestionnaireResponse,
  ServiceRequest,
} from "fhir/r4";
import { hl7, PLAN_ITEM, PLAN_TAG, planIdOf } from "./codings.ts";
import { dateWords } from "./dates.ts";
import { asPage, base64 } from "./document-reference.ts";
import { type ActContext, narrative, person } from "./draft-item.ts";
import { storedWords } from "./drafts.ts";

export interface Withdrawal extends Pick<ActContext, "signer" | "at"> {
  readonly reason: string;
}
type Stored = { readonly resourceType: string; readonly id?: string | undefined };
export type Withdrawn = Condition | ServiceRequest | Appointment | CarePlan | QuestionnaireResponse | DocumentReference;

const saidBy = ({ signer, at, reason }: Withdrawal): string =>
  `Withdrawn by ${signer.display ?? signer.reference}, ${dateWords(at)}. Reason: ${reason}`;

/**
 * The resource as it is once it is withdrawn. What nobody could have acted on never should have been (entered-in-error); what was
 * in effect is revoked or cancelled (R4 request-status). Undefined for a type that is not ours and for a visit that the clinic has
 * taken in hand: it is never changed from here.
 */
export function withdrawn(stored: Stored, withdrawal: Withdrawal): Withdrawn | undefined {
  const said = saidBy(withdrawal);
  const note: Annotation = {
    authorReference: person({ act: "draft", ...withdrawal }),
    time: withdrawal.at,
    text: said,
  };
  const copy = structuredClone(stored) as unknown as Withdrawn;
  const text = narrative(said, storedWords(stored));
  switch (copy.resourceType) {
    case "Condition": {
      // R4 con-5: what is entered in error has no clinical status.
      const { clinicalStatus: _, ...rest } = copy;
      const verificationStatus = { coding: [hl7("condition-ver-status", "entered-in-error")] };
      return { ...rest, text, verificationStatus, note: [...(copy.note ?? []), note] };
    }
    case "ServiceRequest":
    case "CarePlan": {
      const status = copy.status === "active" || copy.status === "on-hold" ? "revoked" : "entered-in-error";
      return { ...copy, text, status, note: [...(copy.note ?? []), note] };
    }
    case "Appointment": {
      if (copy.status !== "proposed") return undefined;
      const comment = [copy.comment, said].filter(Boolean).join(" ");
      // R4 app-3: without a time a visit can only be proposed or cancelled, so also a draft is cancelled.
      return { ...copy, text, status: "cancelled", cancelationReason: { text: withdrawal.reason }, comment };
    }
    case "QuestionnaireResponse":
      return { ...copy, text, status: "entered-in-error" };
    case "DocumentReference":
      return { ...copy, text, status: "entered-in-error", docStatus: "entered-in-error" };
    default:
      return undefined;
  }
}

/** Who withdrew what, when and why. */
export function withdrawalRecord(planId: string, targets: readonly string[], withdrawal: Withdrawal): Provenance {
  const { signer, at, reason } = withdrawal;
  return {
    resourceType: "Provenance",
    meta: {
      tag: [
        { system: PLAN_ITEM, code: `${planId}:withdrawal-${at.replace(/\D/g, "")}` },
        { system: PLAN_TAG, code: planId },
      ],
    },
    text: narrative(saidBy(withdrawal), [`${targets.length} entries of the plan were withdrawn.`]),
    target: targets.map((reference) => ({ reference })),
    occurredDateTime: at,
    recorded: at,
    reason: [{ text: reason }],
    activity: { coding: [hl7("v3-DataOperation", "NULLIFY", "nullify")] },
    agent: [
      {
        type: { coding: [hl7("provenance-participant-type", "author", "Author")] },
        who: person({ act: "sign", signer, at }),
      },
    ],
  };
}

/** How the key of a document begins that says that the plan was withdrawn. */
export const WITHDRAWAL_DOCUMENT = "document-withdrawn-";
/** The document that takes the place of one that cannot be changed: it says that the plan was withdrawn. */
export function withdrawalDocument(stored: DocumentReference, withdrawal: Withdrawal): DocumentReference {
  const said = saidBy(withdrawal);
  const planId = planIdOf(stored);
  const value = `${planId}:${WITHDRAWAL_DOCUMENT}${withdrawal.at.replace(/\D/g, "")}`;
  const title = `Withdrawn: ${stored.description ?? "finger tip injury plan"}`;
  const page = asPage({ title, standing: said, parts: [] });
  const { relatesTo: _, docStatus: __, authenticator: ___, id: ____, text: _____, ...like } = structuredClone(stored);
  return {
    ...like,
    meta: {
      tag: [
        { system: PLAN_ITEM, code: value },
        { system: PLAN_TAG, code: planId },
      ],
    },
    text: narrative(said, [title]),
    identifier: [{ system: PLAN_ITEM, value }],
    status: "current",
    docStatus: "final",
    date: withdrawal.at,
    author: [person({ act: "sign", ...withdrawal })],
    description: title,
    relatesTo: [{ code: "replaces", target: { reference: `DocumentReference/${stored.id}` } }],
    content: [{ attachment: { contentType: "text/html", language: "en", title, data: base64(page) } }],
  };
}

import type { DocumentReference } from "fhir/r4";
import { PLAN_ITEM, planIdOf } from "./codings.ts";
import { asPage, base64 } from "./document-reference.ts";
import { type DraftItem, fingerprint } from "./draft-item.ts";
import type { Acting } from "./stored-change.ts";
import { saidBy } from "./stored-change.ts";

/** How the key of a document begins that says that the plan was withdrawn. */
export const WITHDRAWAL_DOCUMENT = "document-withdrawn-";

/** The document that takes the place of one, since a document is never changed: it says that the plan was withdrawn, by whom, when and why. */
export function withdrawalDocument(stored: DocumentReference, acting: Acting): DraftItem {
  const key = `${WITHDRAWAL_DOCUMENT}${stored.id}`;
  const planId = planIdOf(stored);
  const value = `${planId}:${key}`;
  const title = `Withdrawn: ${stored.description ?? "finger tip injury plan"}`;
  const page = asPage({ title, standing: saidBy("withdraw", acting), parts: [] });
  const { id: _id, text: _text, relatesTo: _relatesTo, authenticator: _by, context, ...like } = structuredClone(stored);
  const resource: DocumentReference = {
    ...like,
    meta: {
      tag: [
        { system: PLAN_ITEM, code: value },
        ...(like.meta?.tag ?? []).filter((t) => t.system !== PLAN_ITEM && t.code !== "signed" && t.code !== "draft"),
      ],
    },
    identifier: [{ system: PLAN_ITEM, value }],
    status: "current",
    description: title,
    relatesTo: [{ code: "replaces", target: { reference: `DocumentReference/${stored.id}` } }],
    content: [{ attachment: { contentType: "text/html", language: "en", title, data: base64(page) } }],
    ...(context?.encounter ? { context: { encounter: context.encounter } } : {}),
  };
  return {
    key,
    kind: "document",
    title,
    words: [saidBy("withdraw", acting)],
    resource,
    urn: `urn:uuid:${planId.slice(0, 24)}${fingerprint(key)}`,
    edits: [],
    changes: [],
  };
}

/** The plan as one document, for record systems that do not take its parts; also what a clinician takes along. */
import type { Bundle, CarePlan, DocumentReference } from "fhir/r4";
import { type Act, coding, EPISODE, LOINC, PLAN_ITEM, planIdOf } from "./codings.ts";
import { dateWords } from "./dates.ts";
import { type ActContext, type DraftItem, escapeXml, FORBIDDEN, person, type Writer } from "./draft-item.ts";

/** One item of the plan in words. */
export interface DocumentPart {
  /** Key of the draft item. */
  readonly key: string;
  readonly title: string;
  /** Where it stands beside this document, if that is to be said. */
  readonly where?: string | undefined;
  readonly words: readonly string[];
}
export interface Readable {
  readonly title: string;
  /** "Signed by Dr Ada Okafor, Wed 25 November 2026, 15:10." */
  readonly standing: string;
  readonly patient?: string | undefined;
  readonly parts: readonly DocumentPart[];
}

/** Who answers for it and since when: every copy of a plan says so. */
export function standingOf(act: Act, signer: ActContext["signer"], at: string): string {
  const who = signer.display ?? signer.reference;
  return act === "sign"
    ? `Signed by ${who}, ${dateWords(at)}.`
    : `Draft by ${who}, ${dateWords(at)}. Not signed, and without effect.`;
}
const patientLine = (patient: string | undefined): string[] => (patient ? [`Patient: ${patient}`] : []);

/** The plan as a page that can be read and printed anywhere: no script, no style, nothing loaded from elsewhere. */
export function asPage({ title, standing, patient, parts }: Readable): string {
  const list = (words: readonly string[]) => `<ul>${words.map((w) => `<li>${escapeXml(w)}</li>`).join("")}</ul>`;
  const part = ({ title: heading, where, words }: DocumentPart) =>
    `<h2>${escapeXml(heading)}</h2>${where ? `<p>${escapeXml(where)}</p>` : ""}${list(words)}`;
  return [
    `<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"/><title>${escapeXml(title)}</title></head><body>`,
    `<h1>${escapeXml(title)}</h1><p><b>${escapeXml(standing)}</b></p>`,
    ...patientLine(patient).map((line) => `<p>${escapeXml(line)}</p>`),
    ...parts.map(part),
    "</body></html>",
  ].join("\n");
}
/** The same as plain text, for a note. */
export function asNote({ title, standing, patient, parts }: Readable): string {
  const part = ({ title: heading, where, words }: DocumentPart) =>
    ["", heading, ...(where ? [where] : []), ...words.map((w) => `- ${w}`)].join("\n");
  return [title, standing, ...patientLine(patient), ...parts.map(part)].join("\n").replace(FORBIDDEN, "");
}

/** Base64 of the text in UTF-8 (R4 base64Binary). */
export function base64(text: string): string {
  let binary = "";
  for (const byte of new TextEncoder().encode(text)) binary += String.fromCharCode(byte);
  return btoa(binary);
}

/** Names of the injuries that a resource of ours is about, equal for every clinician. */
export function episodesOf(resource: object): string[] {
  const { identifier } = resource as { identifier?: unknown };
  const all = (Array.isArray(identifier) ? identifier : []) as { system?: string; value?: string }[];
  return all.flatMap(({ system, value }) => (system === EPISODE && value ? [value] : []));
}
/** References of the documents that this one takes the place of. */
export function replacedBy(resource: object): string[] {
  const { relatesTo } = resource as { relatesTo?: unknown };
  const all = (Array.isArray(relatesTo) ? relatesTo : []) as { code?: string; target?: { reference?: string } }[];
  return all.flatMap(({ code, target }) => (code === "replaces" && target?.reference ? [target.reference] : []));
}

export interface DocumentInput {
  /** Unique within the plan; a document is never changed, so each version has a key of its own. */
  readonly key: string;
  readonly urn: string;
  /** All items of the plan that were not left out. */
  readonly items: readonly DraftItem[];
  readonly readable: Readable;
  /** The whole plan as resources, as they stand by this act. */
  readonly bundle: Bundle;
  /** Urns of the items that are entries of their own. */
  readonly related: readonly string[];
  /** Earlier documents of the same plan or injury. */
  readonly replaces: readonly string[];
}

/** The plan as a DocumentReference: a page to read, and the resources behind it for a program that can use them. */
export function draftDocument(input: DocumentInput): DraftItem {
  const { key, items, readable, bundle, related, replaces } = input;
  const plan = items.find((i) => i.kind === "plan")?.resource as CarePlan | undefined;
  // The findings and the plan name patient and visit alike; one of them is always there.
  const like = (plan ?? items.find((i) => "subject" in i.resource)?.resource) as CarePlan;
  const planId = planIdOf(like);
  const value = `${planId}:${key}`;
  const resource: DocumentReference = {
    resourceType: "DocumentReference",
    meta: {
      tag: (like.meta?.tag ?? []).map((t) => (t.system === PLAN_ITEM ? { ...t, code: value } : t)),
    },
    identifier: [{ system: PLAN_ITEM, value }, ...(plan?.identifier ?? []).filter((i) => i.system === EPISODE)],
    status: "current",
    docStatus: "preliminary",
    type: { coding: [coding(LOINC, "18776-5", "Plan of care note")], text: "Plan of care" },
    category: [
      {
        coding: [
          coding(
            "http://hl7.org/fhir/us/core/CodeSystem/us-core-documentreference-category",
            "clinical-note",
            "Clinical Note",
          ),
        ],
      },
    ],
    subject: like.subject,
    ...(replaces.length > 0
      ? { relatesTo: replaces.map((reference) => ({ code: "replaces" as const, target: { reference } })) }
      : {}),
    description: readable.title,
    content: [
      {
        attachment: {
          contentType: "text/html",
          language: "en",
          title: `${readable.title}, to read`,
          data: base64(asPage(readable)),
        },
      },
      {
        attachment: {
          contentType: "application/fhir+json",
          title: `${readable.title}, as FHIR resources`,
          data: base64(JSON.stringify(bundle)),
        },
      },
    ],
    ...(like.encounter || related.length > 0
      ? {
          context: {
            ...(like.encounter ? { encounter: [like.encounter] } : {}),
            ...(related.length > 0 ? { related: related.map((reference) => ({ reference })) } : {}),
          },
        }
      : {}),
  };
  return {
    key,
    kind: "document",
    title: "The plan as a document",
    words: documentWriter.words(resource),
    resource,
    urn: input.urn,
    edits: [],
    changes: [],
  };
}

/** A document is made anew for each act, and what it holds was made with it: the act only signs it. */
export const documentWriter: Writer<DocumentReference> = {
  words(doc) {
    const by = doc.author?.[0];
    return [
      `${doc.description ?? "The plan"}, to read, with its FHIR resources attached.`,
      doc.docStatus === "final" ? "Final." : "Preliminary as a draft, final when you sign.",
      ...(doc.relatesTo?.length ? ["It replaces the earlier document of this plan."] : []),
      ...(by && doc.date ? [`Written by ${by.display ?? by.reference}, ${dateWords(doc.date)}.`] : []),
    ];
  },
  edits: () => [],
  edit: () => "Change the item itself: the document follows it.",
  perform(doc, context) {
    const sign = context.act === "sign";
    doc.docStatus = sign ? "final" : "preliminary";
    doc.date = context.at;
    doc.author = [person(context)];
    if (sign) doc.authenticator = person(context);
  },
};

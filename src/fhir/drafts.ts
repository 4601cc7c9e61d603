import type { Appointment, Bundle, Condition } from "fhir/r4";
import { type CaseRecord, PURPOSE_WORDS } from "../pathway/index.ts";
import { draftVisit, visitWriter } from "./appointment.ts";
import { draftCarePlan, planWriter } from "./care-plan.ts";
import { conditionKey, conditionWriter, draftCondition, signedCodes } from "./coded-condition.ts";
import { ACT_TAG, type Act, EPISODE, metaOf } from "./codings.ts";
import { visitKeys, withDaysKept } from "./days-kept.ts";
import { asDecided, standing } from "./decided.ts";
import { documentWriter, draftDocument, type Readable, standingOf } from "./document-reference.ts";
import { type BundleContext, itemsOf, transactionOf } from "./draft-bundle.ts";
import {
  type ActContext,
  type DraftInput,
  type DraftItem,
  type DraftKind,
  type DraftResource,
  fingerprint,
  type Writer,
  wordsOfDigit,
} from "./draft-item.ts";
import { findingsResponse, findingsWriter } from "./findings-record.ts";
import { changesOf, draftProvenance, provenanceWriter } from "./provenance.ts";
import { draftRequest, requestsOf, requestWriter } from "./service-request.ts";

export { type Act, planIdOf } from "./codings.ts";
export { asDecided, decisionWords, standing } from "./decided.ts";
export { asNote, asPage, episodesOf, type Readable, replacedBy } from "./document-reference.ts";
export {
  type BundleContext,
  type BundleItem,
  bundleJson,
  itemsOf,
  signedDifferences,
  withReferences,
} from "./draft-bundle.ts";
export type {
  AnswerOrigin,
  AnswerOrigins,
  Change,
  DecidedPart,
  DraftInput,
  DraftItem,
  DraftKind,
  DraftResource,
  EditableField,
  ExistingItem,
  Override,
} from "./draft-item.ts";

const WRITERS = {
  findings: findingsWriter,
  condition: conditionWriter,
  request: requestWriter,
  visit: visitWriter,
  plan: planWriter,
  document: documentWriter,
  provenance: provenanceWriter,
} as const;
const writerOf = (kind: DraftKind) => WRITERS[kind] as unknown as Writer<DraftResource>;

/**
 * Everything the assessment calls for, as drafts a doctor can read, edit and leave out: findings, a diagnosis per digit, requests, visits,
 * the plan, and the record of who did what. The clinician's own decisions stand in it in place of what was proposed. Works for an undecided assessment too: the plan then says what is open. Pure.
 */
export function draftPlan(asked: DraftInput): DraftItem[] {
  const overrides = standing(asked.overrides ?? [], asked.assessment);
  const assessment = withDaysKept(asDecided(asked.assessment, overrides), asked.revises);
  const input = { ...asked, overrides, assessment };
  const { record, planId } = input;
  const items: DraftItem[] = [];
  const add = (key: string, kind: DraftKind, title: string, resource: DraftResource): string => {
    const meta = metaOf(planId, key, assessment.knowledgeVersion, input.appVersion);
    const { resourceType, ...rest } = resource;
    const tagged = { resourceType, meta, ...rest } as DraftResource;
    // Two clinicians who plan the same injury write the same episode, so that each finds the other's plan.
    if (tagged.resourceType === "CarePlan")
      tagged.identifier = [
        ...(tagged.identifier ?? []),
        { system: EPISODE, value: episodeOf(input.record, input.patientId) },
      ];
    const urn = `urn:uuid:${planId.slice(0, 24)}${fingerprint(key)}`;
    items.push({
      key,
      kind,
      title,
      words: writerOf(kind).words(tagged),
      resource: tagged,
      urn,
      edits: writerOf(kind).edits(tagged),
      changes: [],
    });
    return urn;
  };
  const findings = add("findings", "findings", "Confirmed findings", findingsResponse(input));
  const codes = signedCodes(input);
  const conditions = record.digits.map((_, i) => {
    const resource = draftCondition(input, i, codes[i]!);
    resource.evidence = [{ detail: [...(resource.evidence?.[0]?.detail ?? []), { reference: findings }] }];
    return {
      urn: add(conditionKey(record.digits, i), "condition", `Diagnosis: ${wordsOfDigit(record, i)}`, resource),
      resource: resource satisfies Condition,
    };
  });
  const requestOfVisit = new Map<unknown, string>();
  const activities: string[] = [];
  for (const plan of requestsOf(input)) {
    const urn = add(plan.key, "request", plan.what, draftRequest(plan, input, conditions, findings));
    activities.push(urn);
    for (const visit of plan.visits) requestOfVisit.set(visit, urn);
  }
  const keys = visitKeys(assessment.visits);
  for (const [i, visit] of assessment.visits.entries()) {
    const key = keys[i]!;
    const resource: Appointment = draftVisit(
      visit,
      key,
      input,
      requestOfVisit.get(visit),
      conditions.map((c) => c.urn),
    );
    activities.push(add(key, "visit", `Visit: ${PURPOSE_WORDS[visit.purpose]}`, resource));
  }
  add("plan", "plan", "Plan", draftCarePlan(input, { conditions: conditions.map((c) => c.urn), findings, activities }));
  add("provenance", "provenance", "Who made it, from what", draftProvenance(input));
  return items;
}

/** One value of one draft changed by the clinician; a sentence that says what is allowed when it cannot be. The change is kept with its reason. */
export function editDraft(
  item: DraftItem,
  field: string,
  value: string,
  reason?: string,
): { ok: true; item: DraftItem } | { ok: false; problem: string } {
  const writer = writerOf(item.kind);
  const before = item.edits.find((e) => e.id === field);
  const resource = structuredClone(item.resource);
  const problem = writer.edit(resource, field, value);
  if (problem !== undefined) return { ok: false, problem };
  const first = item.changes.find((c) => c.field === field);
  const from = first?.from ?? before?.value ?? "";
  // Changed back: nothing was changed.
  const changes = [
    ...item.changes.filter((c) => c.field !== field),
    ...(from === value
      ? []
      : [{ field, label: before?.label ?? field, from, to: value, ...(reason ? { reason } : {}) }]),
  ];
  return {
    ok: true,
    item: { ...item, resource, words: writer.words(resource), edits: writer.edits(resource), changes },
  };
}

/** Leaves an item out, for a reason that is kept in the Provenance: the clinician's, or that this EHR does not take such a resource. */
export const removeDraft = (item: DraftItem, reason: string): DraftItem => ({ ...item, removed: { reason } });
export function restoreDraft({ removed: _, ...item }: DraftItem): DraftItem {
  return item;
}

/** One transaction of what is left, for one act: "draft" stores without effect, "sign" makes it active under the clinician's name. */
export function bundleOf(items: readonly DraftItem[], act: Act, context: BundleContext): Bundle {
  return transactionOf(items, act, context, WRITERS as never, changesOf);
}

const KIND_OF = {
  QuestionnaireResponse: "findings",
  Condition: "condition",
  ServiceRequest: "request",
  Appointment: "visit",
  CarePlan: "plan",
  DocumentReference: "document",
  Provenance: "provenance",
} as const;
/** The kind of a stored resource that an act can sign or take back; a record of who did what is neither. */
const kindOf = ({ resourceType }: { readonly resourceType: string }): DraftKind | undefined =>
  resourceType === "Provenance" ? undefined : (KIND_OF as Readonly<Record<string, DraftKind>>)[resourceType];
/** A stored draft of ours as an item again, so that it can be signed as it stands; undefined for a type that is not ours. */
export function storedItem(
  key: string,
  title: string,
  resource: { readonly resourceType: string; readonly id: string },
): DraftItem | undefined {
  const kind = kindOf(resource);
  if (!kind) return undefined;
  const ours = structuredClone(resource) as unknown as DraftResource;
  const { tag = [], ...meta } = ours.meta ?? {};
  // The tag of the earlier act goes; the next act sets its own.
  ours.meta = { ...meta, tag: tag.filter((t) => t.system !== ACT_TAG) };
  return {
    key,
    kind,
    title,
    words: writerOf(kind).words(ours),
    resource: ours,
    urn: `${resource.resourceType}/${resource.id}`,
    edits: [],
    changes: [],
  };
}

/** A copy of the plan for elsewhere is whole: what stands in this record, or would go over an entry of it, is in it like all else. */
const byItself = (items: readonly DraftItem[]): DraftItem[] =>
  items.map(({ stands: _stands, refines: _refines, ...item }) => item);

/** The items in words as they stand by this act, with who answers for them and since when. `where`: where an item stands, by its key. */
export function readableOf(
  items: readonly DraftItem[],
  { act, signer, at }: ActContext,
  where: ReadonlyMap<string, string> = new Map(),
): Readable {
  const kept = byItself(items.filter((i) => !i.removed));
  const entries = itemsOf(bundleOf(kept, act, { signer, at }));
  // The record of who acted has a key of its own for each act.
  const performed = (item: DraftItem) => entries.find((e) => e.urn === item.urn)?.resource ?? item.resource;
  const plan = kept.find((i) => i.kind === "plan")?.resource;
  const subject = kept.map((i) => i.resource).find((r) => "subject" in r);
  return {
    title: (plan?.resourceType === "CarePlan" && plan.title) || "Finger tip injury plan",
    standing: standingOf(act, signer, at),
    patient: subject && "subject" in subject ? subject.subject?.display : undefined,
    parts: kept.map((item) => ({
      key: item.key,
      title: item.title,
      where: where.get(item.key),
      words: writerOf(item.kind).words(performed(item)),
    })),
  };
}

/** The resources of the plan as they stand by this act, as a collection that points only to itself. */
export function collectionOf(items: readonly DraftItem[], { act, signer, at }: ActContext): Bundle {
  const { entry = [] } = bundleOf(byItself(items), act, { signer, at });
  return {
    resourceType: "Bundle",
    type: "collection",
    timestamp: at,
    entry: entry.map(({ fullUrl, resource }) => ({ fullUrl: fullUrl!, resource: resource! })),
  };
}

/** Key of the document that one act makes. */
export const documentKey = (act: Act, at: string): string => `document-${act}-${at.replace(/\D/g, "")}`;

/** The whole plan as one document. Each act and each version gets a document of its own, which replaces the earlier ones. */
export function planDocument(
  items: readonly DraftItem[],
  acting: ActContext,
  {
    where,
    related,
    replaces,
  }: { where: ReadonlyMap<string, string>; related: readonly string[]; replaces: readonly string[] },
): DraftItem {
  const kept = items.filter((i) => !i.removed);
  const key = documentKey(acting.act, acting.at);
  return draftDocument({
    key,
    urn: `${kept[0]!.urn.slice(0, -12)}${fingerprint(key)}`,
    items: kept,
    readable: readableOf(kept, acting, where),
    bundle: collectionOf(items, acting),
    related,
    replaces,
  });
}

/** One injury of one patient: equal for every clinician who plans it on the same facts. */
export function episodeOf(
  { digits: all, injuredAt, assessedAt }: Pick<CaseRecord, "digits" | "injuredAt" | "assessedAt">,
  patientId: string,
): string {
  const digits = all
    .map((d) => `${d.side}-${d.digit}`)
    .sort()
    .join("+");
  return fingerprint(`${patientId}|${injuredAt?.slice(0, 10) ?? assessedAt.slice(0, 10)}|${digits}`);
}

/** What a clinician reads of a resource of ours, as it is written or as it is stored. */
export const wordsOf = (resource: DraftResource): string[] => writerOf(KIND_OF[resource.resourceType]).words(resource);

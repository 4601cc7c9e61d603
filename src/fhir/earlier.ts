import * as z from "zod/mini";
import type { AskedInjury } from "../pathway/asked.ts";
import {
  type Found,
  type Origin,
  originOf,
  type Proposal,
  REVISES,
  type Reading,
  type Written,
} from "./chart-resource.ts";
import { ACT_TAG, EPISODE, KNOWLEDGE_TAG, PLAN_ITEM } from "./codings.ts";
import { type FindingsBack, findingsBack, proposalsOf, responseShape } from "./findings-back.ts";
import { codingShape, identifierShape, referenceShape } from "./shapes.ts";

export interface EarlierItem {
  /** Key within its plan: "plan", "condition-left-ring", ... */
  readonly key: string;
  /** "planId:key" under which it was written; of an earlier plan where a newer one took it over. */
  readonly planItem: string;
  readonly type: string;
  readonly reference: string;
  readonly version?: string | undefined;
  readonly status: string;
  /** As stored, for rewriting without losing elements of others. */
  readonly resource: Readonly<Record<string, unknown>>;
}
export interface EarlierPlan {
  readonly planId: string;
  readonly title: string;
  readonly status: string;
  readonly written?: string | undefined;
  readonly signed: boolean;
  /** Who wrote the findings, as far as the record says. */
  readonly author?: Author | undefined;
  readonly items: readonly EarlierItem[];
  readonly findings?: FindingsBack | undefined;
  /** Identifiers of the injury that it is for. */
  readonly episodes?: readonly string[];
  /** Clinical knowledge under which it was made. */
  readonly knowledgeVersion?: string | undefined;
  /** The plan whose place it takes, or took: "CarePlan/12". */
  readonly revises?: string | undefined;
}
export interface Author {
  /** True only where the record names the person who is signed in. */
  readonly own: boolean;
  readonly name?: string | undefined;
  /** "Practitioner/12" */
  readonly reference?: string | undefined;
}
/** Whose plan it is, and what a clinician reads of it: nobody is told that a colleague's draft is their own. */
export function writtenBy({ signed, author }: Pick<EarlierPlan, "signed" | "author">): {
  written: Written;
  label: string;
} {
  if (signed) return { written: "signed", label: "The saved plan" };
  if (author?.own) return { written: "draft", label: "Your saved draft" };
  return { written: "others-draft", label: `Draft by ${author?.name ?? "somebody not named"}` };
}

const common = {
  status: z.string(),
  meta: z.optional(z.object({ lastUpdated: z.optional(z.string()), tag: z.optional(z.array(codingShape)) })),
  title: z.optional(z.string()),
  /** The title of a document. */
  description: z.optional(z.string()),
  subject: z.optional(referenceShape),
  replaces: z.optional(z.array(referenceShape)),
  extension: z.optional(z.array(z.object({ url: z.string(), valueReference: z.optional(referenceShape) }))),
  activity: z.optional(z.array(z.object({ reference: z.optional(referenceShape) }))),
  addresses: z.optional(z.array(referenceShape)),
};
const listed = z.object({
  ...common,
  identifier: z.optional(z.array(identifierShape)),
  participant: z.optional(z.array(z.object({ actor: z.optional(referenceShape) }))),
});
const response = z.extend(responseShape, { ...common, identifier: z.optional(identifierShape) });

const isSigned = (meta: { readonly tag?: readonly z.infer<typeof codingShape>[] | undefined } | undefined): boolean =>
  meta?.tag?.some((t) => t.system === ACT_TAG && t.code === "signed") ?? false;

/** Plans that this program wrote before, newest first, and the newest confirmed findings of the patient as proposals. */
export function readEarlier(
  resources: readonly unknown[],
  diagnoses: readonly Found<{
    identifier?: readonly { system?: string | undefined; value?: string | undefined }[] | undefined;
  }>[],
  reading: Reading,
  modules: readonly AskedInjury[],
  user: string | undefined,
): { plans: EarlierPlan[]; proposals: Omit<Proposal, "conflict">[] } {
  const plans = new Map<
    string,
    {
      items: EarlierItem[];
      title?: string;
      status?: string;
      written?: string;
      signed: boolean;
      author?: Author;
      findings?: FindingsBack;
      findingsFrom?: Origin;
      episodes?: string[];
      knowledgeVersion?: string;
      revises?: string;
      /** Everything that the plan points to, whoever wrote it first. */
      pointsTo?: string[];
    }
  >();
  const found = [
    ...["CarePlan", "ServiceRequest", "Appointment", "DocumentReference"].flatMap((type) =>
      reading
        .each(
          resources,
          type,
          listed,
          (r) =>
            r.subject?.reference ??
            r.participant?.find((p) => p.actor?.reference?.includes("Patient/"))?.actor?.reference,
        )
        .map((f) => ({ ...f, type, ids: f.data.identifier ?? [] })),
    ),
    ...reading
      .each(resources, "QuestionnaireResponse", response, (r) => r.subject?.reference)
      .map((f) => ({ ...f, type: "QuestionnaireResponse", ids: f.data.identifier ? [f.data.identifier] : [] })),
  ];
  for (const { data, reference, version, raw, type, ids } of found) {
    const value = ids.find((i) => i.system === PLAN_ITEM)?.value;
    if (!value) {
      reading.leftOut("not-asked", type); // not ours: the server ignored the filter
      continue;
    }
    if (data.status === "entered-in-error") {
      reading.leftOut("entered-in-error", type);
      continue;
    }
    const cut = value.lastIndexOf(":");
    const [planId, key] = [value.slice(0, cut), value.slice(cut + 1)];
    const plan = plans.get(planId) ?? { items: [], signed: false };
    plans.set(planId, plan);
    plan.items.push({ key, planItem: value, type, reference, version, status: data.status, resource: raw });
    const written = data.meta?.lastUpdated;
    if (written && (plan.written === undefined || written > plan.written)) plan.written = written;
    if (type === "CarePlan") {
      plan.status = data.status;
      if (data.title) plan.title = data.title;
      plan.signed = isSigned(data.meta);
      plan.episodes = ids.flatMap((i) => (i.system === EPISODE && i.value ? [i.value] : []));
      const made = data.meta?.tag?.find((t) => t.system === KNOWLEDGE_TAG)?.code;
      if (made) plan.knowledgeVersion = made;
      const replaced = [
        ...(data.replaces ?? []),
        ...(data.extension ?? []).flatMap((e) => (e.url === REVISES && e.valueReference ? [e.valueReference] : [])),
      ][0];
      if (replaced?.reference) plan.revises = replaced.reference;
      plan.pointsTo = [...(data.activity ?? []).map((a) => a.reference), ...(data.addresses ?? [])].flatMap(
        (r) => r?.reference ?? [],
      );
    }
    // Where the record system takes no plan, its document stands for it.
    if (type === "DocumentReference" && data.status === "current" && plan.status === undefined) {
      plan.title ??= data.description ?? "";
      plan.signed ||= isSigned(data.meta);
    }
    if (type === "QuestionnaireResponse") {
      const back = findingsBack(data as z.infer<typeof response>, modules, reading.zone);
      if (back) plan.findings = back;
      const { authored, author } = data as z.infer<typeof response>;
      if (author)
        plan.author = {
          own: user !== undefined && author.reference === user,
          name: author.display,
          reference: author.reference,
        };
      plan.findingsFrom = originOf({ reference, version }, "Earlier findings", authored);
    }
  }
  for (const { data, reference, version, raw } of diagnoses) {
    const value = data.identifier?.find((i) => i.system === PLAN_ITEM)?.value ?? "";
    const plan = plans.get(value.slice(0, value.lastIndexOf(":")));
    const key = value.slice(value.lastIndexOf(":") + 1);
    plan?.items.push({ key, planItem: value, type: "Condition", reference, version, status: "active", resource: raw });
  }
  // What a signed revision took over unchanged was written by an earlier plan, and is the newer one's now, however that one ended.
  const carePlan = (items: readonly EarlierItem[]) => items.find((i) => i.type === "CarePlan")?.reference;
  const all = [...plans.values()];
  const revisions = (of: (typeof all)[number], beyond = all.length): number => {
    const before = of.revises && beyond > 0 ? all.find((p) => carePlan(p.items) === of.revises) : undefined;
    return before ? 1 + revisions(before, beyond - 1) : 0;
  };
  const inOrder = all.filter((p) => p.signed && p.revises).map((plan) => ({ plan, place: revisions(plan) }));
  for (const { plan } of inOrder.sort((a, b) => a.place - b.place))
    for (const other of all) {
      if (other === plan) continue;
      const taken = other.items.filter((i) => plan.pointsTo?.includes(i.reference));
      other.items = other.items.filter((i) => !taken.includes(i));
      plan.items.push(...taken);
    }
  const sorted = [...plans]
    .map(([planId, p]) => ({ ...p, planId }))
    .sort((a, b) => (b.written ?? "").localeCompare(a.written ?? ""));
  const newest = sorted.find((p) => p.findings && p.findingsFrom);
  return {
    plans: sorted.map(({ planId, title, status, written, signed, author, items, findings, ...p }) => ({
      planId,
      title: title || "Earlier plan",
      status: status ?? items[0]?.status ?? "unknown",
      written,
      signed,
      author,
      items,
      findings,
      episodes: p.episodes ?? [],
      knowledgeVersion: p.knowledgeVersion,
      revises: p.revises,
    })),
    // Only what belongs to the patient: the injury of that day is not the injury of today.
    proposals:
      newest?.findings && newest.findingsFrom
        ? proposalsOf(
            { ...newest.findings, injury: {}, digits: [] },
            newest.signed ? newest.findingsFrom : { ...newest.findingsFrom, label: writtenBy(newest).label },
          ).map((p) => ({ ...p, written: writtenBy(newest).written }))
        : [],
  };
}

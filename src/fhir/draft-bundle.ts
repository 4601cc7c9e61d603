import type { Bundle, BundleEntry, Coding, Extension, Meta, Provenance } from "fhir/r4";
import { ACT_TAG, type Act, coding, PLAN_ITEM } from "./codings.ts";
import { dateWords } from "./dates.ts";
import {
  type ActContext,
  type DraftItem,
  type DraftKind,
  type DraftResource,
  type ExistingItem,
  FORBIDDEN,
  fingerprint,
  narrative,
  type Writer,
} from "./draft-item.ts";
import { LIFE_TAG } from "./plan-life.ts";
import { lifeActivity } from "./provenance.ts";
import { refined } from "./refine.ts";
import type { StoredChange } from "./stored-change.ts";

export interface BundleContext {
  readonly signer: ActContext["signer"];
  readonly at: string;
  readonly existing?: { readonly [key: string]: ExistingItem };
  /** What the same act changes of an earlier plan, or of what the draft no longer holds. */
  readonly changes?: readonly StoredChange[];
}

// Elements that this program writes or deliberately leaves out: a stored one must not come back after the clinician took it away.
const OURS = new Set([
  "text",
  "meta",
  "extension",
  "contained",
  "note",
  "comment",
  "description",
  "requestedPeriod",
  "occurrencePeriod",
  "basedOn",
  "reasonReference",
  "supportingInfo",
  "addresses",
  "activity",
  "evidence",
  "onsetDateTime",
  "encounter",
  "bodySite",
  "item",
  "period",
]);

/**
 * One transaction for one act. New items are created only where none with their identifier exists; existing ones are updated only in the
 * version that was read. Items left out are dropped together with every reference to them; what stands already is only pointed to, and so is
 * what a draft would refine. Same items and context: same bytes.
 *
 * @throws Error when nothing is left to write.
 */
export function transactionOf(
  items: readonly DraftItem[],
  act: Act,
  context: BundleContext,
  writers: { readonly [K in DraftKind]: Writer<never> },
  changes: Changes,
): Bundle {
  const kept = items.filter((i) => !i.removed);
  const provenance = kept.find((i) => i.kind === "provenance");
  const written = kept.filter((i) => i.kind !== "provenance" && isWritten(i, act));
  const altered = context.changes ?? [];
  if (written.length + altered.length === 0) throw new Error("nothing to write: every item was left out");
  const gone = new Set(items.filter((i) => i.removed).map((i) => i.urn));
  const over = (item: DraftItem): ExistingItem | undefined =>
    item.stands ??
    (item.refines
      ? { ...item.refines, ...sameAs(item.refines, context.existing?.[item.key]) }
      : context.existing?.[item.key]);
  const target = (item: DraftItem): string => over(item)?.reference ?? item.urn;
  const address = new Map(kept.map((i) => [i.urn, target(i)]));
  const acting: ActContext = { act, signer: context.signer, at: context.at };
  const entry = written.map((item) =>
    entryOf(finished(item, acting, writers, gone, address, over(item)), item, over(item)),
  );
  const stored = altered.map(
    ({ reference, version, resource }): BundleEntry<DraftResource> => ({
      resource: resource as DraftResource,
      request: { method: "PUT", url: reference, ...(version ? { ifMatch: `W/"${version}"` } : {}) },
    }),
  );
  const records = provenance
    ? [
        ...(written.length ? [{ targets: written.map(target), entity: changes(items), name: `${act}` }] : []),
        ...recordsOf(altered),
      ]
    : [];
  return {
    resourceType: "Bundle",
    type: "transaction",
    entry: [...entry, ...stored, ...records.map((r) => recordEntry(provenance!, r, acting, writers, gone, address))],
  };
}
/** A draft refines nothing yet, and what stands is not written again. */
const isWritten = (item: DraftItem, act: Act): boolean => !item.stands && !(item.refines && act === "draft");
const sameAs = (refines: ExistingItem, now: ExistingItem | undefined) =>
  now?.reference === refines.reference ? now : {};

interface ActRecord {
  readonly targets: readonly string[];
  readonly entity: NonNullable<Provenance["entity"]>;
  readonly name: string;
  readonly reason?: string;
}
/** Each later act of a plan's life is recorded by itself, with its reason. */
function recordsOf(changes: readonly StoredChange[]): ActRecord[] {
  const by = new Map<string, StoredChange[]>();
  for (const change of changes) {
    const act = lifeOf(change.resource as DraftResource) ?? "supersede";
    by.set(act, [...(by.get(act) ?? []), change]);
  }
  return [...by].map(([name, group]) => ({
    targets: group.map((c) => c.reference),
    entity: [],
    name,
    reason: [...new Set(group.flatMap((c) => c.words))].join(" "),
  }));
}
const lifeOf = (resource: DraftResource): string | undefined =>
  resource.meta?.tag?.find((t) => t.system === LIFE_TAG)?.code;

function recordEntry(
  provenance: DraftItem,
  { targets, entity, name, reason }: ActRecord,
  acting: ActContext,
  writers: { readonly [K in DraftKind]: Writer<never> },
  gone: ReadonlySet<string>,
  address: ReadonlyMap<string, string>,
): BundleEntry<DraftResource> {
  const record = structuredClone(provenance) as DraftItem & { resource: Provenance };
  record.resource.target = targets.map((reference) => ({ reference }));
  record.resource.entity = [...(record.resource.entity ?? []), ...entity];
  // Every act is recorded anew; the frozen time makes a repeated request find the first one.
  const key = `${provenance.key}-${name}-${acting.at.replace(/\D/g, "")}`;
  record.resource.meta = retagged(record.resource.meta, key);
  const resource = finished(record, acting, writers, gone, address, undefined) as Provenance;
  if (reason !== undefined) {
    resource.activity = lifeActivity([name]);
    resource.reason = [{ text: reason }];
  }
  return {
    fullUrl: reason === undefined ? provenance.urn : `${provenance.urn.slice(0, -12)}${fingerprint(key)}`,
    resource,
    request: { method: "POST", url: "Provenance", ifNoneExist: `_tag=${PLAN_ITEM}|${tagOf(resource)}` },
  };
}
type Changes = (items: readonly DraftItem[]) => NonNullable<Provenance["entity"]>;
const tagOf = (resource: DraftResource): string => resource.meta?.tag?.find((t) => t.system === PLAN_ITEM)?.code ?? "";
const retagged = (meta: Meta | undefined, key: string): Meta => ({
  ...meta,
  tag: (meta?.tag ?? []).map((t) => (t.system === PLAN_ITEM ? { ...t, code: `${t.code?.split(":")[0]}:${key}` } : t)),
});

function finished(
  item: DraftItem,
  acting: ActContext,
  writers: { readonly [K in DraftKind]: Writer<never> },
  gone: ReadonlySet<string>,
  address: ReadonlyMap<string, string>,
  existing: ExistingItem | undefined,
): DraftResource {
  const linked = relinked(item.resource, gone, address) as DraftResource;
  const writer = writers[item.kind] as unknown as Writer<DraftResource>;
  const stored = existing?.resource;
  // The state of a stored questionnaire response decides between completed and amended.
  if (linked.resourceType === "QuestionnaireResponse" && typeof stored?.status === "string")
    linked.status = stored.status as typeof linked.status;
  writer.perform(linked, acting);
  const standing =
    acting.act === "draft"
      ? "Draft, not signed."
      : `Signed by ${acting.signer.display ?? acting.signer.reference}, ${dateWords(acting.at)}.`;
  linked.text = narrative(standing, writer.words(linked));
  linked.meta = {
    ...linked.meta,
    tag: [...(linked.meta?.tag ?? []), coding(ACT_TAG, acting.act === "draft" ? "draft" : "signed")],
  };
  const { resourceType, meta, text, ...rest } = linked;
  const ours = {
    resourceType,
    ...(existing ? { id: existing.reference.split("/").at(-1)! } : {}),
    meta,
    text,
    ...rest,
  } as DraftResource;
  if (!stored) return ours;
  if (item.refines && ours.resourceType === "Condition") return refined(ours, stored);
  const others = Object.fromEntries(Object.entries(stored).filter(([name]) => !(name in ours) && !OURS.has(name)));
  const foreign = ((stored.extension as Extension[] | undefined) ?? []).filter(
    (e) => !e.url.startsWith("https://fingerpost.example/"),
  );
  return {
    ...others,
    ...ours,
    ...(foreign.length ? { extension: [...(("extension" in ours && ours.extension) || []), ...foreign] } : {}),
  } as DraftResource;
}

function entryOf(
  resource: DraftResource,
  item: DraftItem,
  existing: ExistingItem | undefined,
): BundleEntry<DraftResource> {
  if (existing)
    return {
      resource,
      request: {
        method: "PUT",
        url: existing.reference,
        ...(existing.version ? { ifMatch: `W/"${existing.version}"` } : {}),
      },
    };
  return {
    fullUrl: item.urn,
    resource,
    request: { method: "POST", url: resource.resourceType, ifNoneExist: `identifier=${PLAN_ITEM}|${tagOf(resource)}` },
  };
}

/** A copy in which references to items left out are gone, with whatever held nothing else, and the others point where they should; text is cleaned. */
function relinked(value: unknown, gone: ReadonlySet<string>, address: ReadonlyMap<string, string>): unknown {
  if (Array.isArray(value)) {
    const kept = value.map((v) => relinked(v, gone, address)).filter((v) => v !== undefined);
    return kept.length ? kept : undefined;
  }
  // R4 string: no control characters. Text that is nothing else is no text.
  if (typeof value === "string") return value.replace(FORBIDDEN, "") || undefined;
  if (value === null || typeof value !== "object") return value;
  const { reference } = value as { reference?: unknown };
  if (typeof reference === "string" && gone.has(reference)) return undefined;
  const entries = Object.entries(value).flatMap(([name, v]) => {
    const next = name === "reference" && typeof v === "string" ? (address.get(v) ?? v) : relinked(v, gone, address);
    return next === undefined ? [] : [[name, next] as const];
  });
  return entries.length ? Object.fromEntries(entries) : undefined;
}

/** Real ids in place of "urn:uuid:..." references, for servers that take one resource at a time. */
export function withReferences<T>(resource: T, ids: { readonly [urn: string]: string }): T {
  return relinked(resource, new Set(), new Map(Object.entries(ids))) as T;
}

/** Exactly these bytes are shown and sent. */
export const bundleJson = (bundle: Bundle): string => JSON.stringify(bundle, null, 1);

export interface BundleItem {
  /** Key of the draft item. */
  readonly key: string;
  readonly resource: DraftResource;
  readonly method: "POST" | "PUT";
  readonly url: string;
  readonly ifNoneExist?: string;
  readonly ifMatch?: string;
  readonly urn?: string;
  /** Search that finds the stored item again. */
  readonly search: string;
}
/** The entries of a bundle in dependency order, one by one. */
export function itemsOf(bundle: Bundle): BundleItem[] {
  return (bundle.entry ?? []).map((entry) => {
    const resource = entry.resource as DraftResource;
    const { method, url, ifNoneExist, ifMatch } = entry.request!;
    const tag = tagOf(resource);
    // What is changed of an earlier plan may bear the key of a new item.
    const key = lifeOf(resource) === undefined ? tag.slice(tag.indexOf(":") + 1) : `old:${tag}`;
    const by = resource.resourceType === "Provenance" ? "_tag" : "identifier";
    return {
      key,
      resource,
      method: method as "POST" | "PUT",
      url,
      ...(ifNoneExist ? { ifNoneExist } : {}),
      ...(ifMatch ? { ifMatch } : {}),
      ...(entry.fullUrl ? { urn: entry.fullUrl } : {}),
      search: `${resource.resourceType}?${by}=${encodeURIComponent(`${PLAN_ITEM}|${tag}`)}`,
    };
  });
}

/** What the server changed or dropped, as paths ("status", "note[0].text"). What it added, its ids, meta and the narrative are its own business. */
export function signedDifferences(sent: unknown, stored: unknown): string[] {
  const differ = (a: unknown, b: unknown, path: string): string[] => {
    if (Array.isArray(a)) {
      if (!Array.isArray(b)) return [path];
      // A server may add or reorder: each thing sent must be there somewhere; a thing that is nowhere is named by its place.
      return a.flatMap((item, i) => {
        // Its own place first: a server that keeps the order is compared in one pass.
        const inPlace =
          b[i] !== undefined && typeof item === "object" ? differ(item, b[i], `${path}[${i}]`) : [`${path}[${i}]`];
        if (inPlace.length === 0 || b.some((other) => differ(item, other, `${path}[${i}]`).length === 0)) return [];
        return inPlace;
      });
    }
    if (a !== null && typeof a === "object") {
      if (b === null || typeof b !== "object") return [path || "resource"];
      return Object.entries(a).flatMap(([name, value]) => {
        const at = path ? `${path}.${name}` : name;
        if (!path && (name === "id" || name === "meta" || name === "text")) return [];
        const other = (b as Record<string, unknown>)[name];
        if (
          name === "reference" &&
          typeof value === "string" &&
          typeof other === "string" &&
          sameReference(value, other)
        )
          return [];
        return other === undefined ? [at] : differ(value, other, at);
      });
    }
    return a === b || sameInstant(a, b) ? [] : [path || "value"];
  };
  // What is stored comes from outside: its tags may be no list, or hold an empty place.
  const tags = (r: unknown): string[] => {
    const all: unknown = (r as { meta?: Meta } | null)?.meta?.tag;
    return Array.isArray(all) ? all.map((t: Coding | null) => `${t?.system}|${t?.code}`) : [];
  };
  const lost = tags(sent).filter((t) => !tags(stored).includes(t));
  return [...differ(sent, stored, ""), ...(lost.length ? ["meta.tag"] : [])];
}
const sameReference = (sent: string, stored: string): boolean =>
  sent === stored || sent.startsWith("urn:uuid:") || stored.endsWith(`/${sent}`);
const INSTANT = /^\d{4}-\d{2}-\d{2}T.*(Z|[+-]\d\d:\d\d)$/;
const sameInstant = (a: unknown, b: unknown): boolean =>
  typeof a === "string" &&
  typeof b === "string" &&
  INSTANT.test(a) &&
  INSTANT.test(b) &&
  Date.parse(a) === Date.parse(b);

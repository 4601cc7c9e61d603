/** What the record system holds of a plan: looked for before anything is sent, and read back afterwards. */
import { ACT_TAG, type Act } from "../fhir/codings.ts";
import { type BundleItem, type ExistingItem, signedDifferences } from "../fhir/drafts.ts";
import { LIFE_TAG } from "../fhir/plan-life.ts";
import type { Problem } from "./problem.ts";
import { planItemOf, seenIn, versionOf } from "./read-chart.ts";
import type { PatientContext } from "./session.ts";
import type { FhirProblem, FhirResource } from "./transport.ts";
import { AGAIN, type Job, KEPT, problem, type Writing } from "./write-report.ts";

export type Look =
  | { readonly state: "found"; readonly resource: FhirResource; readonly copies: readonly string[] }
  | { readonly state: "absent" }
  | { readonly state: "unclear"; readonly problem: FhirProblem };
export type Looks = ReadonlyMap<string, Look>;

export const referenceOf = (resource: FhirResource) => `${resource.resourceType}/${resource.id}`;

/** Types of which every version is a resource of its own: an earlier one stands in nobody's way. */
const NEW_EACH_TIME = ["Provenance", "DocumentReference"];
export const isNewEachTime = ({ resource }: Pick<BundleItem, "resource">) =>
  NEW_EACH_TIME.includes(resource.resourceType);
export const isRecord = ({ resource }: Pick<BundleItem, "resource">) => resource.resourceType === "Provenance";

/** Finds what is stored of each entry: at the place the server named, else by the plan's own identifier. */
export async function lookAll(
  session: Writing,
  entries: readonly BundleItem[],
  places: ReadonlyMap<string, string> = new Map(),
): Promise<Map<string, Look>> {
  const looks = await Promise.all(entries.map((entry) => look(session, entry, places.get(entry.key))));
  return new Map(entries.map((entry, at) => [entry.key, looks[at]!]));
}

/** Finds what is stored of one entry. A search that fails or is not complete shows nothing: "unclear". */
export async function look({ fhir, context }: Writing, entry: BundleItem, place?: string): Promise<Look> {
  // What goes over a stored resource is looked for there: it need not carry our identifier yet.
  const at = place ?? (entry.method === "PUT" ? entry.url : undefined);
  if (at) {
    const answer = await fhir.read(at);
    if (answer.ok) return { state: "found", resource: answer.value, copies: [at] };
  }
  // R4 finds a Provenance under a patient only when it is about the Patient resource itself; ours is about the plan's items.
  const narrowed = isRecord(entry) ? "" : `&patient=${context.patientId}`;
  const answer = await fhir.search(`${entry.search}${narrowed}`, { limit: 20 });
  if (!answer.ok) return { state: "unclear", problem: answer.problem };
  // A server may ignore the parameters it does not know: only what carries our identifier is ours.
  const wanted = planItemOf(entry.resource as unknown as FhirResource);
  const mine = answer.value.matches.filter(
    (one) => carries(one, wanted) && (!isRecord(entry) || isAboutOurs(one, context.patientId)),
  );
  const [resource] = mine;
  if (!resource) return answer.value.more ? unclearList() : { state: "absent" };
  return { state: "found", resource, copies: mine.map(referenceOf) };
}

const unclearList = (): Look => ({
  state: "unclear",
  problem: {
    kind: "not-fhir",
    title: "The record system's list is not complete.",
    what: "It does not show whether this item is stored.",
    next: AGAIN,
  },
});

/** A Provenance (R4) says no patient: it has at least one target, and nothing in it leads to another patient. */
function isAboutOurs(record: FhirResource, patientId: string): boolean {
  const patients = [...JSON.stringify(record).matchAll(/\bPatient\/([A-Za-z0-9.-]+)/g)].map(([, id]) => id);
  return Array.isArray(record.target) && record.target.length > 0 && patients.every((id) => id === patientId);
}

/** By identifier, or by tag where the resource has none (R4 Provenance) or the server dropped it. */
function carries(resource: FhirResource, planItem: string | undefined): boolean {
  if (planItem === undefined) return false;
  const own = resource.identifier;
  const identifiers = (Array.isArray(own) ? own : [own]) as ({ value?: unknown } | undefined)[];
  return planItemOf(resource) === planItem || identifiers.some((one) => one?.value === planItem);
}

/** Whose act made the resource what it is; undefined when it does not say. */
export function actOf(resource: FhirResource): Act | undefined {
  const tags = (resource.meta as { tag?: { system?: string; code?: string }[] } | undefined)?.tag;
  const code = Array.isArray(tags) ? tags.find((tag) => tag?.system === ACT_TAG)?.code : undefined;
  return code === "signed" ? "sign" : code === "draft" ? "draft" : undefined;
}
export const isSigned = (resource: FhirResource) => actOf(resource) === "sign";
/** Taken out of a draft by this program itself. */
const isDropped = (resource: FhirResource): boolean => {
  const tags = (resource.meta as { tag?: { system?: string; code?: string }[] } | undefined)?.tag;
  return !isSigned(resource) && Array.isArray(tags) && tags.some((t) => t?.system === LIFE_TAG && t.code === "drop");
};

export const isEqual = (entry: BundleItem, found: Look | undefined) =>
  found?.state === "found" && signedDifferences(entry.resource, found.resource).length === 0;

/** Whether what was found is the entry as it was to be written; a PUT whose target has its old version was not stored. */
export function standingOf(entry: BundleItem, found: Look | undefined): "stored" | "not-stored" | "unclear" {
  if (!found || found.state === "unclear") return "unclear";
  if (found.state === "absent") return entry.method === "POST" ? "not-stored" : "unclear";
  if (entry.method === "POST" || isEqual(entry, found)) return "stored";
  const { version } = versionOf(found.resource);
  return version !== undefined && entry.ifMatch === `W/"${version}"` ? "not-stored" : "stored";
}

/** Keeps in mind which version of an item this page itself has stored; newer than anything that was read. */
export function storedHere(
  context: PatientContext,
  { resource }: Pick<BundleItem, "resource">,
  stored: FhirResource,
): void {
  seenIn(context).own.set(planItemOf(resource as unknown as FhirResource) ?? "", versionOf(stored).version);
}

/** Decides from what is stored already whether, and over which versions, may be written. */
export function whatIsThere(
  { session, act, context }: Job,
  entries: readonly BundleItem[],
  looks: Looks,
): { problem: Problem } | There {
  const existing: Record<string, ExistingItem> = {};
  const done = new Map<string, FhirResource>();
  let allSaved = true;
  for (const entry of entries) {
    const found = looks.get(entry.key);
    const isNew = isNewEachTime(entry);
    if (found?.state !== "found") {
      if (found?.state === "unclear" && !isNew) {
        return {
          problem: {
            ...found.problem,
            what: `It could not be checked whether the plan is stored already, so nothing was sent. ${KEPT}`,
          },
        };
      }
      if (!isRecord(entry)) allSaved = false;
      continue;
    }
    if (found.copies.length > 1) return { problem: twice(found.copies) };
    if (isNew) continue;
    if (entry.method === "PUT") {
      // A change of an earlier plan, or an entry of the chart that is refined: over the version that was read, or not at all.
      if (signedDifferences(entry.resource, found.resource).length === 0) continue;
      allSaved = false;
      if (entry.ifMatch !== undefined && entry.ifMatch !== `W/"${versionOf(found.resource).version}"`)
        return { problem: CHANGED };
      continue;
    }
    existing[entry.key] = existingOf(found.resource);
    if (signedDifferences(entry.resource, found.resource).length === 0) continue;
    if (act === "sign" && isSigned(found.resource) && sameButForTime(entry.resource, found.resource)) {
      done.set(entry.key, found.resource);
      continue;
    }
    allSaved = false;
    if (isSigned(found.resource)) {
      return {
        problem: problem(
          "This plan is signed already.",
          `A signed plan is not ${act === "sign" ? "signed over" : "turned back into a draft"}; nothing was written. ${KEPT}`,
          "See the stored plan, and begin a new one if it has to change.",
        ),
      };
    }
    const { version } = versionOf(found.resource);
    const planItem = planItemOf(entry.resource as unknown as FhirResource) ?? "";
    const { own, items } = seenIn(session.context);
    const known = own.has(planItem)
      ? { version: own.get(planItem) }
      : (context.known?.[entry.key] ?? items.get(planItem));
    // What this program took out of a draft itself may come back: nobody has to have read it.
    if (!isDropped(found.resource) && (!known || known.version !== version)) return { problem: CHANGED };
  }
  return { allSaved, existing, done };
}

const CHANGED = problem(
  "The stored plan changed since you read it.",
  `Someone saved another version. Nothing was overwritten. ${KEPT}`,
  "Reload this page to read the chart again, compare, then sign.",
);

/** What is stored of a plan and may be written over. */
export interface There {
  readonly allSaved: boolean;
  readonly existing: Readonly<Record<string, ExistingItem>>;
  /** Signed already with the same content, at another time: it is left as it stands. */
  readonly done: ReadonlyMap<string, FhirResource>;
}
/** What is signed already takes the place of what would be sent. */
export const asItStands = (entries: readonly BundleItem[], { done }: Pick<There, "done">): BundleItem[] =>
  entries.map((entry) => {
    const stored = done.get(entry.key);
    return stored
      ? { ...entry, method: "PUT", url: referenceOf(stored), resource: stored as unknown as BundleItem["resource"] }
      : entry;
  });

const TIMES = ["authored", "authoredOn", "recordedDate", "created"];
/** The same content, whenever it was signed: the time of the act and of the assessment is all that may differ. */
function sameButForTime(sent: unknown, stored: unknown): boolean {
  return signedDifferences(untimed(sent), stored).length === 0;
}
function untimed(value: unknown): unknown {
  if (Array.isArray(value))
    return value.filter((one) => (one as { linkId?: unknown } | null)?.linkId !== "assessedAt").map(untimed);
  if (value === null || typeof value !== "object") return value;
  return Object.fromEntries(
    Object.entries(value).flatMap(([name, inner]) => (TIMES.includes(name) ? [] : [[name, untimed(inner)]])),
  );
}
export function existingOf(resource: FhirResource): ExistingItem {
  const { version } = versionOf(resource);
  return { reference: referenceOf(resource), resource, ...(version ? { version } : {}) };
}

export const twice = (copies: readonly string[]) =>
  problem(
    "The record holds one item of this plan twice.",
    `${copies.join(" and ")}. Nothing was written or deleted. ${KEPT}`,
    "Have one of them marked as entered in error in the record system, then try again.",
  );

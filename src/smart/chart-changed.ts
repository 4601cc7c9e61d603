/**
 * What became different in the chart between reading it and signing over it. The chart is read once more, past every cache,
 * and compared with what the clinician was shown: entry by entry, version by version. Nothing is taken over here.
 */
import { PLAN_ITEM } from "../fhir/codings.ts";
import { localOf, machineZone } from "../fhir/dates.ts";
import { differenceWords, entryTime, entryWords } from "../fhir/entry-words.ts";
import type { PartResult } from "../fhir/part-result.ts";
import { CHART_PARTS, type ChartPartName } from "../fhir/searches.ts";
import { keepInMind, type Parts, planItemOf, readChart, seenIn, versionOf } from "./read-chart.ts";
import type { Session } from "./session.ts";
import type { FhirResource } from "./transport.ts";

export interface ChartChange {
  /** The same for the same change, however often it is looked for. */
  readonly key: string;
  readonly kind: "new" | "changed" | "gone" | "not-read";
  readonly parts: readonly ChartPartName[];
  /** "allergy to penicillin, recorded 10:42". Holds text of the chart. */
  readonly words: string;
  /** The entries, each in the version that was found, "AllergyIntolerance/5/_history/1"; none for what could not be read. */
  readonly references: readonly string[];
  /** Somebody else's edit of a saved plan, or other details of the patient: to be looked at, not only to be acknowledged. */
  readonly mustRead: boolean;
}

export type Looking = Pick<Session, "context" | "can" | "fhir"> & Partial<Pick<Session, "opened" | "clock">>;

/** Reads the chart afresh, to be compared; what is found does not count as seen. */
export const lookAgain = (session: Looking, signal?: AbortSignal): Promise<Parts> =>
  readChart(session, () => undefined, { fresh: true, ...(signal ? { signal } : {}) });

/** Reads the chart afresh and tells what is not as in `seen`. */
export async function chartChanges(session: Looking, seen: Parts): Promise<ChartChange[]> {
  return differences(session, seen, await lookAgain(session));
}

const answered = (parts: Parts, part: ChartPartName) =>
  parts[part]?.state === "found" || parts[part]?.state === "empty";

function entriesOf(parts: Parts, part: ChartPartName): Map<string, FhirResource> {
  const resources = (parts[part]?.resources ?? []) as readonly FhirResource[];
  return new Map(
    resources.flatMap((one) =>
      one.id === undefined || one.resourceType === "OperationOutcome" ? [] : [[`${one.resourceType}/${one.id}`, one]],
    ),
  );
}

/** What is in `now` and not in `seen`, or otherwise, or no longer. What this page itself has stored is no change. */
export function differences({ context, clock }: Looking, seen: Parts, now: Parts): ChartChange[] {
  const { own } = seenIn(context);
  const zone = machineZone();
  const at = localOf((clock?.now() ?? new Date()).toISOString(), zone);
  const changes: ChartChange[] = [];
  const notRead: ChartPartName[] = [];
  const ofPlans = new Map<
    string,
    { readonly kinds: Set<string>; readonly entries: FhirResource[]; readonly words: string[] }
  >();

  for (const part of CHART_PARTS) {
    if (!now[part]) continue;
    if (!answered(now, part)) {
      if (answered(seen, part)) notRead.push(part);
      continue;
    }
    const before = entriesOf(seen, part);
    const after = entriesOf(now, part);
    for (const [reference, resource] of after) {
      const old = before.get(reference);
      if (old && isSame(old, resource)) continue;
      const item = planItemOf(resource) ?? identifierOf(resource);
      if (item !== undefined) {
        if (isOwn(own, resource)) continue;
        const planId = item.slice(0, item.lastIndexOf(":"));
        const plan = ofPlans.get(planId) ?? { kinds: new Set(), entries: [], words: [] };
        ofPlans.set(planId, plan);
        plan.kinds.add(old ? "changed" : "new");
        plan.entries.push(resource);
        const different = old ? differenceWords(old, resource) : [];
        plan.words.push(`${entryWords(resource)}${different.length > 0 ? ` (${different.join("; ")})` : ""}`);
        continue;
      }
      const kind = old ? "changed" : "new";
      const time = entryTime(resource, at, zone);
      const different = old ? differenceWords(old, resource) : [];
      changes.push({
        key: `${kind} ${reference} ${markOf(resource)}`,
        kind,
        parts: [part],
        references: [inVersion(reference, resource)],
        words: [
          `${entryWords(resource)}${time ? `, ${old ? "changed" : "recorded"} ${time}` : ""}`,
          ...(old ? [different.join("; ") || "stored again, no difference to be seen"] : []),
        ].join(": "),
        mustRead: resource.resourceType === "Patient",
      });
    }
    // A list that is not complete does not show that something left it.
    if (now[part].more || seen[part]?.more) continue;
    for (const [reference, resource] of before) {
      if (after.has(reference) || own.has(planItemOf(resource) ?? "")) continue;
      changes.push({
        key: `gone ${reference}`,
        kind: "gone",
        parts: [part],
        references: [inVersion(reference, resource)],
        words: entryWords(resource),
        mustRead: planItemOf(resource) !== undefined,
      });
    }
  }

  for (const [planId, { kinds, entries, words }] of ofPlans) {
    const latest = entries.map((one) => entryTime(one, at, zone)).find((time) => time !== undefined);
    const isNew = !kinds.has("changed");
    changes.push({
      key: `plan ${planId} ${entries.map(markOf).join(" ")}`,
      kind: isNew ? "new" : "changed",
      parts: ["conditions", "earlier"],
      references: entries.map((one) => inVersion(`${one.resourceType}/${one.id}`, one)),
      words: `a saved plan, stored elsewhere${latest ? ` ${latest}` : ""}: ${words.join(", ")}`,
      mustRead: true,
    });
  }
  if (notRead.length > 0) {
    changes.push({
      key: `not-read ${notRead}`,
      kind: "not-read",
      parts: notRead,
      references: [],
      words: "",
      mustRead: false,
    });
  }
  return changes;
}

const inVersion = (reference: string, resource: FhirResource): string => {
  const { version } = versionOf(resource);
  return version === undefined ? reference : `${reference}/_history/${version}`;
};

/** What was seen, with what this page itself has stored since, as far as `now` holds it: the basis for later changes. */
export function withOwnWriting({ context }: Looking, seen: Parts, now: Parts): Parts {
  const { own } = seenIn(context);
  const parts: { [part in ChartPartName]?: PartResult } = { ...seen };
  for (const part of CHART_PARTS) {
    const before = seen[part];
    if (!before || !answered(seen, part)) continue;
    const written = [...entriesOf(now, part)].filter(([, resource]) => isOwn(own, resource));
    if (written.length === 0) continue;
    const resources = [...new Map([...entriesOf(seen, part), ...written]).values()];
    parts[part] = { ...before, state: "found", resources };
  }
  return parts;
}

/** This version of a plan item was stored by this page. */
function isOwn(own: ReadonlyMap<string, string | undefined>, resource: FhirResource): boolean {
  const item = planItemOf(resource) ?? identifierOf(resource);
  return item !== undefined && own.has(item) && own.get(item) === versionOf(resource).version;
}

/** The clinician was shown these parts: from now on they are what a write may rest on. */
export function countAsSeen({ context }: Looking, parts: Parts): void {
  const { own } = seenIn(context);
  for (const part of CHART_PARTS) {
    for (const resource of entriesOf(parts, part).values()) {
      const item = planItemOf(resource);
      if (item !== undefined && own.get(item) !== versionOf(resource).version) own.delete(item);
      keepInMind(context, resource);
    }
  }
}

/** By version where the server counts versions, else by content. */
function isSame(a: FhirResource, b: FhirResource): boolean {
  const [one, other] = [versionOf(a).version, versionOf(b).version];
  return one !== undefined && other !== undefined ? one === other : differenceWords(a, b).length === 0;
}

/** Tells this state of an entry from any other, without holding anything of it. */
function markOf(resource: FhirResource): string {
  const { version } = versionOf(resource);
  if (version !== undefined) return version;
  let hash = 0x811c9dc5; // FNV-1a
  for (const char of JSON.stringify(resource)) hash = Math.imul(hash ^ char.codePointAt(0)!, 0x01000193);
  return `#${(hash >>> 0).toString(36)}`;
}

/** A plan item whose tag the server dropped is still known by its identifier. */
function identifierOf(resource: FhirResource): string | undefined {
  const own = resource.identifier;
  const identifiers = (Array.isArray(own) ? own : [own]) as ({ system?: unknown; value?: unknown } | undefined)[];
  const value = identifiers.find((one) => one?.system === PLAN_ITEM)?.value;
  return typeof value === "string" ? value : undefined;
}

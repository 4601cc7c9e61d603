import type { CodeableConcept, Coding, Condition, Extension } from "fhir/r4";
import type { Chart, ConditionLine } from "./chart.ts";
import { BASE, ICD10CM, PLAN_ITEM, SNOMED } from "./codings.ts";
import type { DraftItem, ExistingItem } from "./draft-item.ts";
import { REFINED_FROM } from "./plan-life.ts";

/** An entry of the chart that may mean the injury of a diagnosis about to be written. */
export interface SameDiagnosis {
  readonly line: ConditionLine;
  readonly existing: ExistingItem;
  /** "same": it names this finger and this side; "perhaps": it leaves one of them open; "other-side": it names the other hand. */
  readonly fit: "same" | "perhaps" | "other-side";
}

/** Finger and side, as answered or known so far. */
type Named = { readonly [finding: string]: unknown };

/** Entries of the chart that are injuries of this digit, the surest first. What was refuted or entered in error is never among them. */
export function sameDiagnoses(lines: readonly ConditionLine[], { digit, side }: Named): SameDiagnosis[] {
  const named = typeof digit === "string" && digit !== "cannot-tell" ? digit : undefined;
  return lines
    .flatMap((line): SameDiagnosis[] => {
      const { injury } = line;
      if (!injury || named === undefined) return [];
      if (injury.digits.length > 0 && !injury.digits.includes(named)) return [];
      const sides: readonly string[] = injury.sides;
      const otherSide = sides.length > 0 && !sides.includes(String(side));
      const sure = injury.digits.length === 1 && sides.length === 1;
      const existing: ExistingItem = {
        reference: line.from.reference,
        ...(line.from.version ? { version: line.from.version } : {}),
        resource: line.resource,
      };
      return [{ line, existing, fit: otherSide ? "other-side" : sure ? "same" : "perhaps" }];
    })
    .sort((a, b) => FITS.indexOf(a.fit) - FITS.indexOf(b.fit));
}
/** What the chart says of injuries beside our own plans: a diagnosis of one of our plans in force belongs to that plan. */
export function freeDiagnoses({ conditions, earlierPlans }: Pick<Chart, "conditions" | "earlierPlans">) {
  const taken = earlierPlans
    .filter((p) => ["active", "on-hold", "completed"].includes(p.status))
    .flatMap((p) => p.items.filter((i) => i.type === "Condition").map((i) => i.reference));
  return conditions.filter((c) => !taken.includes(c.from.reference));
}
/** Where the clinician's word is kept that this finger's injury is an entry of the chart, said together with its name. */
export const entryKey = ({ digit, side }: Named): string => `entry-${side}-${digit}`;

const OUR_SYSTEMS: readonly string[] = [ICD10CM, SNOMED];
const FITS = ["same", "perhaps", "other-side"];

/** The diagnosis goes over an entry of the chart, or, without one, stands beside what is there. */
export function refineDraft({ refines: _, ...item }: DraftItem, existing: ExistingItem | undefined): DraftItem {
  return existing ? { ...item, refines: existing } : item;
}

/** Each once, in order. */
const both = <T>(first: readonly T[] | undefined, second: readonly T[] | undefined, same: (a: T, b: T) => boolean) => {
  const all = [...(first ?? []), ...(second ?? [])];
  const distinct = all.filter((a, i) => all.findIndex((b) => same(a, b)) === i);
  return distinct.length > 0 ? distinct : undefined;
};
const sameCoding = (a: Coding, b: Coding) => a.system === b.system && a.code === b.code;
const sameJson = (a: unknown, b: unknown) => JSON.stringify(a) === JSON.stringify(b);

/**
 * An entry of the chart with what is now known about it. Everything of others stays: elements that nobody here reads, codings, words, notes,
 * who recorded it first and when. Only what is said of its certainty is replaced, and what it said before is kept beside it.
 */
export function refined(ours: Condition, stored: Readonly<Record<string, unknown>>): Condition {
  const theirs = stored as unknown as Condition;
  const own = theirs.identifier?.some((i) => i.system === PLAN_ITEM) ?? false;
  // What this program coded before is its own to correct; what others coded stays.
  const before: CodeableConcept | undefined = own
    ? theirs.extension?.find((e) => e.url === REFINED_FROM)?.valueCodeableConcept
    : theirs.code;
  const others = own
    ? [...(before?.coding ?? []), ...(theirs.code?.coding ?? []).filter((c) => !OUR_SYSTEMS.includes(c.system ?? ""))]
    : before?.coding;
  const foreign = (theirs.extension ?? []).filter((e: Extension) => !e.url.startsWith(`${BASE}/`));
  const identifier = both(ours.identifier, theirs.identifier, sameJson);
  const coding = both(ours.code?.coding, others, sameCoding);
  const bodySite = both(ours.bodySite, theirs.bodySite, sameJson);
  const category = both(theirs.category, ours.category, (a, b) => sameJson(a.coding?.[0]?.code, b.coding?.[0]?.code));
  const evidence = both(ours.evidence, theirs.evidence, sameJson);
  const foreignTags = theirs.meta?.tag?.filter((t) => !t.system?.startsWith(BASE) && t.system !== PLAN_ITEM);
  const tag = both(ours.meta?.tag, foreignTags, sameCoding);
  const { versionId: _version, lastUpdated: _updated, ...meta } = theirs.meta ?? {};
  // R4 onset[x]: one form only, and theirs was there first.
  const onset = Object.keys(theirs).some((name) => name.startsWith("onset"));
  const { onsetDateTime: _onset, ...dated } = ours;
  return {
    ...theirs,
    ...(onset ? dated : ours),
    meta: { ...meta, ...ours.meta, ...(tag ? { tag } : {}) },
    extension: [
      ...(ours.extension ?? []),
      ...foreign,
      ...(before ? [{ url: REFINED_FROM, valueCodeableConcept: before }] : []),
    ],
    ...(identifier ? { identifier } : {}),
    ...(theirs.clinicalStatus ? { clinicalStatus: theirs.clinicalStatus } : {}),
    ...(category ? { category } : {}),
    code: { ...ours.code, ...(coding ? { coding } : {}) },
    ...(bodySite ? { bodySite } : {}),
    ...(evidence ? { evidence } : {}),
    ...(theirs.encounter ? { encounter: theirs.encounter } : {}),
    ...(theirs.recordedDate ? { recordedDate: theirs.recordedDate } : {}),
    ...(theirs.recorder ? { recorder: theirs.recorder } : {}),
  };
}

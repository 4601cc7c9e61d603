/** From the visits of signed plans to visits that have to be arranged: what shares a window and a place becomes one. */
import type { VisitPurpose } from "../pathway/index.ts";
import { type Day, dayAfter, laterDay } from "./calendar.ts";
import { grouped } from "./grouped.ts";
import { type Place, placeKey } from "./sessions.ts";

/** Days on which a visit may be held, both ends counted, and the best of them. */
export interface Window {
  readonly earliest: Day;
  readonly ideal: Day;
  readonly latest: Day;
}
/** One visit of a signed plan. */
export interface PlannedVisit extends Place {
  /** Unique and lasting: the identifier that the plan gave it. */
  readonly key: string;
  readonly plan: string;
  readonly patient: string;
  readonly purpose: VisitPurpose;
  /** The purpose in words: "Wound check". */
  readonly words: string;
  /** Absent while the day is not known that it counts from. */
  readonly due?: Window;
  /** Purpose of the same plan that must have happened before. */
  readonly after?: VisitPurpose;
  /** The visit is needed only then: "if a wire was placed". */
  readonly onlyIf?: string;
}
/** When a patient cannot come: whole days, or those hours (wall clock of the clinic) of each of them. */
export interface Unavailable {
  readonly from: Day;
  readonly to: Day;
  readonly hours?: { readonly from: string; readonly to: string };
}
/** What the clinic was told by a patient. */
export interface PatientTimes {
  readonly unavailable: readonly Unavailable[];
  readonly notBefore?: Day;
  readonly notAfter?: Day;
}
/** One visit to arrange; it serves one or several visits of plans. */
export interface VisitToArrange extends Place {
  /** Keys of what it serves, joined by a space. */
  readonly id: string;
  readonly patient: string;
  readonly parts: readonly PlannedVisit[];
  /** Days that suit all its parts and the patient's "not before" and "not after"; `earliest` is after `latest` when none does. */
  readonly due: Window;
  readonly unavailable: readonly Unavailable[];
  /** Ids of visits, still to be arranged, that must not come later than this one. */
  readonly after: readonly string[];
}
/** A part of a plan that cannot be arranged yet. */
export interface NotYet {
  readonly visit: PlannedVisit;
  readonly because: "no-day-to-count-from" | "waits-for-one-without-a-day" | "waits-in-a-circle";
}
/** What became of a visit of a plan: the day it is booked for, or was held. */
export interface Taken {
  readonly day: Day;
  readonly had: boolean;
}

/**
 * Visits to arrange out of the visits of all plans.
 *
 * Visits of one patient at one place become one visit when some day suits both (`opens`): never two looks of one plan for the same purpose, which
 * are meant to lie apart, and never two of which the second waits for something at another place that waits for the first. A visit waits for the
 * last visit of the purpose it names that is not meant to come later.
 *
 * @param taken what is booked or was held, by key: it is not arranged again, and what waits for it comes on its day or later
 * @param opens whether a place sees patients on a day
 */
export function visitsToArrange(
  planned: readonly PlannedVisit[],
  taken: ReadonlyMap<string, Taken>,
  times: ReadonlyMap<string, PatientTimes>,
  opens: (place: Place, day: Day) => boolean,
): { readonly visits: readonly VisitToArrange[]; readonly notYet: readonly NotYet[] } {
  const visits: VisitToArrange[] = [];
  const notYet: NotYet[] = [];
  for (const own of grouped(planned, (v) => v.patient).values()) {
    const open = own.filter((v) => !taken.has(v.key));
    const before = new Map(own.map((v) => [v.key, predecessorOf(v, own)]));
    const waiting = withoutDay(open, before);
    notYet.push(...waiting);
    const held = new Set(waiting.map((w) => w.visit.key));
    const patient = times.get(own[0]!.patient) ?? { unavailable: [] };
    const ready = open.filter((v) => !held.has(v.key)).map((v) => ({ ...v, due: narrowed(v, before, taken, patient) }));
    visits.push(...combined(ready, before, patient, opens));
  }
  return { visits, notYet };
}

type Predecessors = ReadonlyMap<string, PlannedVisit | undefined>;
type Dated = PlannedVisit & { readonly due: Window };

/** The visit of the same plan that must have happened before this one. */
export function predecessorOf(visit: PlannedVisit, all: readonly PlannedVisit[]): PlannedVisit | undefined {
  if (visit.after === undefined) return undefined;
  const named = all.filter((v) => v.plan === visit.plan && v.purpose === visit.after && v.key !== visit.key);
  const ideal = (v: PlannedVisit) => v.due?.ideal ?? "";
  const dated = named.filter((v) => v.due !== undefined).sort((a, b) => ideal(a).localeCompare(ideal(b)));
  return dated.findLast((v) => ideal(v) <= ideal(visit)) ?? dated[0] ?? named[0];
}

function withoutDay(open: readonly PlannedVisit[], before: Predecessors): NotYet[] {
  const found = new Map<string, NotYet>();
  for (const visit of open)
    if (waitsForItself(visit, before)) found.set(visit.key, { visit, because: "waits-in-a-circle" });
    else if (visit.due === undefined) found.set(visit.key, { visit, because: "no-day-to-count-from" });
  for (let size = -1; size !== found.size; ) {
    size = found.size;
    for (const visit of open)
      if (!found.has(visit.key) && found.has(before.get(visit.key)?.key ?? ""))
        found.set(visit.key, { visit, because: "waits-for-one-without-a-day" });
  }
  return [...found.values()];
}

function waitsForItself(visit: PlannedVisit, before: Predecessors): boolean {
  const seen = new Set<string>();
  for (let at = before.get(visit.key); at && !seen.has(at.key); at = before.get(at.key)) {
    if (at.key === visit.key) return true;
    seen.add(at.key);
  }
  return false;
}

const sooner = (a: Day, b: Day | undefined) => (b !== undefined && b < a ? b : a);
const within = (earliest: Day, ideal: Day, latest: Day): Window => ({
  earliest,
  ideal: laterDay(sooner(ideal, latest), earliest),
  latest,
});
function narrowed(
  visit: PlannedVisit,
  before: Predecessors,
  taken: ReadonlyMap<string, Taken>,
  { notBefore, notAfter }: PatientTimes,
): Window {
  const { earliest, ideal, latest } = visit.due!;
  const previous = before.get(visit.key);
  const from = laterDay(laterDay(earliest, previous && taken.get(previous.key)?.day), notBefore);
  return within(from, ideal, sooner(latest, notAfter));
}
const both = (a: Window, b: Window): Window =>
  within(laterDay(a.earliest, b.earliest), sooner(a.ideal, b.ideal), sooner(a.latest, b.latest));

/** Whether a patient can come at all on a day. */
export const canCome = (unavailable: readonly Unavailable[], day: Day): boolean =>
  !unavailable.some((u) => u.hours === undefined && u.from <= day && day <= u.to);

interface Group {
  parts: Dated[];
  due: Window;
}
function combined(
  ready: readonly Dated[],
  before: Predecessors,
  patient: PatientTimes,
  opens: (place: Place, day: Day) => boolean,
): VisitToArrange[] {
  const groups: Group[] = [];
  const holds = (g: Group, v: PlannedVisit) => g.parts.some((p) => p.key === v.key);
  const hasDay = (place: Place, { earliest, latest }: Window) => {
    for (let day = earliest; day <= latest; day = dayAfter(day, 1))
      if (canCome(patient.unavailable, day) && opens(place, day)) return true;
    return false;
  };
  const inTurn = ready.toSorted(
    (a, b) => a.due.earliest.localeCompare(b.due.earliest) || a.due.latest.localeCompare(b.due.latest),
  );
  for (const visit of inTurn) {
    const group = groups.find(
      (g) =>
        placeKey(g.parts[0]!) === placeKey(visit) &&
        g.parts.every((p) => mayShare(p, visit)) &&
        hasDay(visit, both(g.due, visit.due)) &&
        !waitInCircle(g, visit, groups, before),
    );
    if (group) {
      group.due = both(group.due, visit.due);
      group.parts.push(visit);
    } else groups.push({ parts: [visit], due: visit.due });
  }
  const idOf = (g: Group) => g.parts.map((p) => p.key).join(" ");
  return groups.map((g): VisitToArrange => {
    const { patient: whose, clinic, role } = g.parts[0]!;
    const after = g.parts.flatMap((p) => {
      const previous = before.get(p.key);
      const other = previous && groups.find((o) => o !== g && holds(o, previous));
      return other ? [idOf(other)] : [];
    });
    return {
      id: idOf(g),
      patient: whose,
      clinic,
      role,
      parts: inOrderOfNeed(g.parts, before),
      due: g.due,
      unavailable: patient.unavailable,
      after: [...new Set(after)],
    };
  });
}
const mayShare = (a: PlannedVisit, b: PlannedVisit) => a.purpose !== b.purpose || a.plan !== b.plan;
/** True when, with `visit` in `group`, two visits would wait for one another: a film, then something elsewhere, then this. */
function waitInCircle(group: Group, visit: Dated, groups: readonly Group[], before: Predecessors): boolean {
  const joined = { parts: [...group.parts, visit] };
  const all = [joined, ...groups.filter((g) => g !== group)];
  const nodeOf = (v: PlannedVisit): { readonly parts: readonly PlannedVisit[] } =>
    all.find((g) => g.parts.some((p) => p.key === v.key)) ?? { parts: [v] };
  const visited = new Set<string>();
  const reaches = (v: PlannedVisit): boolean => {
    const previous = before.get(v.key);
    if (!previous || visited.has(v.key)) return false;
    visited.add(v.key);
    const node = nodeOf(previous);
    return node === joined ? nodeOf(v) !== joined || reaches(previous) : node.parts.some(reaches);
  };
  return joined.parts.some(reaches);
}
/** What must happen first is named first: the film, then the wire. */
function inOrderOfNeed(parts: readonly Dated[], before: Predecessors): Dated[] {
  const depth = (v: PlannedVisit): number => {
    const previous = before.get(v.key);
    return previous && parts.some((p) => p.key === previous.key) ? depth(previous) + 1 : 0;
  };
  return parts.toSorted((a, b) => depth(a) - depth(b));
}

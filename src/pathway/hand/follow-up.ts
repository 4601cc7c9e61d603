import { addDays, formatISO, parseISO } from "date-fns";
import type { Effect, Visit, VisitPurpose } from "./effects.ts";
import { EARLY_VISIT_DAYS } from "./limits.ts";

interface Window {
  readonly purpose: VisitPurpose;
  readonly earliest: number;
  readonly ideal: number;
  readonly latest: number;
  readonly check?: string;
  readonly onlyIf?: string;
  readonly countFrom?: Visit["countFrom"];
  /** Counted from an operation: days after the injury on which it is planned at the earliest. */
  readonly operationFrom?: number;
  readonly dueDay?: number;
}

/**
 * Purposes that lose nothing when they come early. All others wait for healing or have a last day of their own (wire, stitches, union,
 * growth plate, discharge, operation), so each class and digit keeps its own visit.
 */
const MAY_COME_EARLY: readonly VisitPurpose[] = [
  "wound-check",
  "splint-review",
  "clinic",
  "therapy",
  "film",
  "film-true-lateral",
];
const isEarly = ({ latest, countFrom }: Window, treatment: number) =>
  latest - (countFrom === "treatment" ? treatment : 0) <= EARLY_VISIT_DAYS;
const ofOperation = ({ countFrom }: Window) => countFrom === "operation";
const sameWindow = (a: Window, b: Window) => a.earliest === b.earliest && a.ideal === b.ideal && a.latest === b.latest;
const overlap = (a: Window, b: Window) => a.earliest <= b.latest && b.earliest <= a.latest;
/** Of one purpose, on one condition, counted from one day; the slot of an operation, which has a deadline, joins no first look. */
const mayJoin = (a: Window, b: Window, treatment: number) =>
  a.purpose === b.purpose &&
  a.onlyIf === b.onlyIf &&
  a.dueDay === b.dueDay &&
  ofOperation(a) === ofOperation(b) &&
  (sameWindow(a, b) ||
    (a.purpose === "surgeon-review" && a.earliest === b.earliest) ||
    (MAY_COME_EARLY.includes(a.purpose) && isEarly(a, treatment) && isEarly(b, treatment) && overlap(a, b)));
/** The place of a visit among the others: one counted from an operation comes after the surgeon who plans it. */
const turn = (v: Window) => v.ideal + (ofOperation(v) ? (v.operationFrom ?? 0) : 0);
const inTurn = (a: Window, b: Window) => turn(a) - turn(b) || a.earliest - b.earliest;
/** A check may itself be a list; what both name is said once. */
const bothChecks = (a: string, b: string) => [...new Set([...a.split("; "), ...b.split("; ")])].join("; ");

/**
 * Union of visits. Two early visits of one purpose whose windows overlap become one that checks both things, and each of its days is the
 * earlier of the two; late visits join only when their windows are the same, and the surgeon's first look when both start on one day. What
 * counts from an operation joins only its like. So joining classes, digits or modifiers can bring an early
 * look forward, never a wire, stitch, union film or discharge, and never moves anything back.
 *
 * @param treatment days from the injury to the treatment: what counts from that is early or late by its days after it
 */
export function mergeVisits<V extends Window>(visits: readonly V[], treatment = 0): V[] {
  const merged: V[] = [];
  for (const visit of [...visits].sort(inTurn)) {
    const at = merged.findIndex((m) => mayJoin(m, visit, treatment));
    const same = merged[at];
    if (same === undefined) merged.push(visit);
    else
      merged[at] = {
        ...same,
        earliest: Math.min(same.earliest, visit.earliest),
        ideal: Math.min(same.ideal, visit.ideal),
        latest: Math.min(same.latest, visit.latest),
        ...(same.check !== undefined && visit.check !== undefined
          ? { check: bothChecks(same.check, visit.check) }
          : {}),
      };
  }
  return merged.sort(inTurn);
}

/** Films and wires that must be behind a patient before anybody discharges. */
const BEFORE_DISCHARGE: readonly VisitPurpose[] = ["film", "film-true-lateral", "wire-out"];
/**
 * Nobody is discharged before the last film and the last wire of this digit: a discharge that would come earlier waits, its window as long as
 * it was. Apart from this no visit is ever moved back.
 */
export function dischargeLast<V extends Window>(visits: readonly V[]): V[] {
  const lastOf = (of: Window) =>
    Math.max(
      0,
      ...visits
        .filter((v) => BEFORE_DISCHARGE.includes(v.purpose) && ofOperation(v) === ofOperation(of))
        .map((v) => v.latest),
    );
  return visits.map((v) => {
    const wait = v.purpose === "discharge-check" ? Math.max(0, lastOf(v) - v.earliest) : 0;
    return wait === 0 ? v : { ...v, earliest: v.earliest + wait, ideal: v.ideal + wait, latest: v.latest + wait };
  });
}

const dayAfter = (day: string, days: number) => formatISO(addDays(parseISO(day), days), { representation: "date" });
interface Dates {
  readonly earliest: string;
  readonly ideal: string;
  readonly latest: string;
}
/**
 * Calendar dates (yyyy-MM-dd) of each window, counted in whole days from day 0, or from the operation where a visit counts from that;
 * a visit whose first day is not known has none.
 */
export function datedVisits<V extends Window>(
  visits: readonly V[],
  dayZero: string | undefined,
  operatedOn?: string,
): (V & { dates?: Dates })[] {
  const dated = visits.map((v): V & { dates?: Dates } => {
    const zero = ofOperation(v) ? operatedOn : dayZero;
    const said = v.check === undefined ? v : { ...v, check: withDeadline(v.check, v.dueDay, dayZero) };
    if (zero === undefined) return said;
    const on = (days: number) => dayAfter(zero, days);
    return { ...said, dates: { earliest: on(v.earliest), ideal: on(v.ideal), latest: on(v.latest) } };
  });
  return dated.every((v) => v.dates) ? dated.sort((a, b) => a.dates!.ideal.localeCompare(b.dates!.ideal)) : dated;
}

const LONG = new Intl.DateTimeFormat("en-GB", {
  weekday: "short",
  day: "numeric",
  month: "long",
  year: "numeric",
  timeZone: "UTC",
});
/** "Repair by day 10 after the injury (by Thu 12 March 2026)."; the words alone without a deadline or a day 0. */
export function withDeadline(words: string, dueDay: number | undefined, dayZero: string | undefined): string {
  if (dueDay === undefined || dayZero === undefined) return words;
  const date = LONG.format(Date.parse(`${dayAfter(dayZero, dueDay)}T00:00:00Z`)).replace(",", "");
  return words.replace(/[.:;]?$/, (end) => ` (by ${date})${end}`);
}
/** Lines with their deadlines as dates. */
export const datedLines = <L extends { readonly text: string; readonly effect: Effect }>(
  lines: readonly L[],
  dayZero: string | undefined,
): L[] =>
  lines.map((line) => {
    const dueDay = "dueDay" in line.effect ? line.effect.dueDay : undefined;
    return dueDay === undefined ? line : { ...line, text: withDeadline(line.text, dueDay, dayZero) };
  });

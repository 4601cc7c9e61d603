import { addDays, formatISO, parseISO } from "date-fns";
import type { VisitPurpose } from "./effects.ts";
import { EARLY_VISIT_DAYS } from "./limits.ts";

interface Window {
  readonly purpose: VisitPurpose;
  readonly earliest: number;
  readonly ideal: number;
  readonly latest: number;
  readonly check?: string;
  readonly onlyIf?: string;
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
const isEarly = ({ latest }: Window) => latest <= EARLY_VISIT_DAYS;
const mayJoin = (a: Window, b: Window) =>
  a.purpose === b.purpose &&
  a.onlyIf === b.onlyIf &&
  MAY_COME_EARLY.includes(a.purpose) &&
  ((isEarly(a) && isEarly(b) && a.earliest <= b.latest && b.earliest <= a.latest) ||
    (a.earliest === b.earliest && a.ideal === b.ideal && a.latest === b.latest));
const bothChecks = (a: string, b: string) => (a.split("; ").includes(b) ? a : `${a}; ${b}`);

/**
 * Union of visits. Two early visits of one purpose whose windows overlap become one that checks both things, and each of its days is the
 * earlier of the two; late visits join only when their windows are the same. So joining classes, digits or modifiers can bring an early
 * look forward, never a wire, stitch, union film or discharge, and never moves anything back.
 */
export function mergeVisits<V extends Window>(visits: readonly V[]): V[] {
  const merged: V[] = [];
  for (const visit of [...visits].sort((a, b) => a.ideal - b.ideal || a.earliest - b.earliest)) {
    const at = merged.findIndex((m) => mayJoin(m, visit));
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
  return merged.sort((a, b) => a.ideal - b.ideal);
}

/** Calendar dates (yyyy-MM-dd) of each window, counted in whole days from day 0; unchanged when day 0 is unknown. */
export function datedVisits<V extends Window>(
  visits: readonly V[],
  dayZero: string | undefined,
): (V & { dates?: { earliest: string; ideal: string; latest: string } })[] {
  if (dayZero === undefined) return [...visits];
  const zero = parseISO(dayZero);
  const on = (days: number) => formatISO(addDays(zero, days), { representation: "date" });
  return visits.map((v) => ({ ...v, dates: { earliest: on(v.earliest), ideal: on(v.ideal), latest: on(v.latest) } }));
}

import { addDays, formatISO, parseISO } from "date-fns";
import type { VisitPurpose } from "./effects.ts";

interface Window {
  readonly purpose: VisitPurpose;
  readonly earliest: number;
  readonly ideal: number;
  readonly latest: number;
}

/**
 * Union of visits: two of one purpose whose windows overlap become one, and each of its days is the earlier of the two.
 * So joining classes, digits or modifiers can bring a date forward but never back.
 */
export function mergeVisits<V extends Window>(visits: readonly V[]): V[] {
  const merged: V[] = [];
  for (const visit of [...visits].sort((a, b) => a.ideal - b.ideal || a.earliest - b.earliest)) {
    const at = merged.findIndex(
      (m) => m.purpose === visit.purpose && m.earliest <= visit.latest && visit.earliest <= m.latest,
    );
    const same = merged[at];
    if (same === undefined) merged.push(visit);
    else
      merged[at] = {
        ...same,
        earliest: Math.min(same.earliest, visit.earliest),
        ideal: Math.min(same.ideal, visit.ideal),
        latest: Math.min(same.latest, visit.latest),
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

/** What would be forgotten if nobody looked, read to its end: one function for the clinic's screen and for the nightly check. */
import type { BookedVisit, ListedVisit } from "../fhir/listed-visit.ts";
import { type Answer, type Asking, type ClinicDay, readRechecks, readVisits } from "./clinic-list.ts";

export interface LostVisits {
  /** The days have begun or are over, and no time is arranged. */
  readonly due: readonly ListedVisit[];
  /** Missed or called off, and no new time is arranged. */
  readonly missed: readonly ListedVisit[];
  /** Booked, and somebody has to decide about it: `recheck` says why. */
  readonly flagged: readonly BookedVisit[];
  /** What is missing from this list, in sentences: with any, it is not complete. */
  readonly problems: readonly string[];
}

/** Whether a visit to arrange was arranged before and did not take place. */
export const wasMissed = ({ state, before }: Pick<ListedVisit, "state" | "before">): boolean =>
  state !== "asked" || before > 0;

/**
 * Every page of what is due by `day.today`, and every booked visit to be decided about.
 *
 * @returns the problem of the first search that failed: half a list would look like a good one
 */
export async function readLost(session: Asking, day: ClinicDay): Promise<Answer<LostVisits>> {
  const rechecking = readRechecks(session, day);
  const visits = new Map<string, ListedVisit>();
  const problems: string[] = [];
  for (let next: string | undefined, first = true; first || next; first = false) {
    const answer = await readVisits(session, day, { filter: { to: day.today }, ...(next ? { next } : {}) });
    if (!answer.ok) return answer;
    for (const visit of answer.value.visits) visits.set(visit.key, visit);
    problems.push(...answer.value.problems);
    next = answer.value.next;
  }
  const rechecks = await rechecking;
  if (!rechecks.ok) return rechecks;
  const all = [...visits.values()];
  return {
    ok: true,
    value: {
      due: all.filter((visit) => !wasMissed(visit)),
      missed: all.filter(wasMissed),
      flagged: rechecks.value.visits,
      problems: [...new Set([...problems, ...rechecks.value.problems])],
    },
  };
}

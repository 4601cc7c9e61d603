import { differenceInCalendarDays, parseISO } from "date-fns";
import type { Answers, CaseRecord } from "../pathway/index.ts";
import { episodeOf } from "./drafts.ts";
import type { EarlierPlan } from "./earlier.ts";
import { RECENT_DAYS } from "./searches.ts";

/** "same": the same finger, hurt on the same day; "perhaps": only the clinician can tell. */
export interface SameInjury {
  readonly plan: EarlierPlan;
  readonly fit: "same" | "perhaps";
}
const nameOf = ({ digit, side }: Answers): string | undefined =>
  typeof digit === "string" && typeof side === "string" ? `${side}-${digit}` : undefined;
const STANDING = ["draft", "active", "on-hold", "completed"];
const dayOf = (at: string | undefined): string | undefined => (at && at.length >= 10 ? at.slice(0, 10) : undefined);

/**
 * Earlier plans that may be for the injury now on the screen, the surest first. Plans that ended, and injuries of another time (more than
 * `RECENT_DAYS` before), are not among them: an injury of years ago is not the injury of today.
 */
export function samePlans(
  plans: readonly EarlierPlan[],
  record: Pick<CaseRecord, "digits" | "injuredAt" | "assessedAt">,
  patientId: string,
): SameInjury[] {
  const names = record.digits.flatMap((d) => nameOf(d) ?? []);
  const day = dayOf(record.injuredAt);
  const today = record.assessedAt.slice(0, 10);
  const episode = episodeOf(record, patientId);
  return plans
    .filter((plan) => STANDING.includes(plan.status))
    .flatMap((plan): SameInjury[] => {
      if (plan.episodes?.includes(episode)) return [{ plan, fit: "same" }];
      const theirs = (plan.findings?.digits ?? []).flatMap((d) => nameOf(d) ?? []);
      const theirDay = dayOf(plan.findings?.injuredAt);
      const shared = names.some((n) => theirs.includes(n));
      const sameDay = day !== undefined && day === theirDay;
      if (shared && sameDay) return [{ plan, fit: "same" }];
      // Another finger, hurt on the same day: a finger more, or a finger put right.
      if (sameDay) return [{ plan, fit: "perhaps" }];
      const nothingToTell = theirs.length === 0 && plan.findings === undefined;
      if (!shared && !nothingToTell) return [];
      const then = theirDay ?? dayOf(plan.written);
      const apart = then ? Math.abs(differenceInCalendarDays(parseISO(day ?? today), parseISO(then))) : 0;
      return apart <= RECENT_DAYS ? [{ plan, fit: "perhaps" }] : [];
    })
    .sort((a, b) => Number(a.fit === "perhaps") - Number(b.fit === "perhaps"));
}

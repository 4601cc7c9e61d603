import type { Effect, Joint, ManagementCall, TodayTopic, Urgency, Visit, VisitPurpose } from "../hand/effects.ts";

/** Short forms of the effects, so that a row of a table reads as one sentence. */
export const named = (name: string): Effect => ({ kind: "class", class: name });
export const urgent = (urgency: Urgency, say: string): Effect => ({ kind: "urgency", urgency, say });
export const today = (topic: TodayTopic, say: string): Effect => ({ kind: "today", topic, say });
export const manage = (call: ManagementCall, say: string): Effect => ({ kind: "manage", call, say });
export const warn = (say: string): Effect => ({ kind: "warn", say });
export const task = (say: string): Effect => ({ kind: "task", say });
/** What to look for in the weeks and months after today, and what it leads to. */
export const later = (find: string, say: string): Effect => ({ kind: "later", find, say });
export const advise = (point: string, say: string): Effect => ({ kind: "advise", point, say, redFlag: false });
export const redFlag = (point: string, say: string): Effect => ({ kind: "advise", point, say, redFlag: true });
/** `days` after day 0: earliest, ideal, latest, inclusive. A condition stands before the check, so that nobody reads it as firm. */
export const visit = (
  purpose: VisitPurpose,
  who: string,
  days: readonly [number, number, number],
  check: string,
  more: Pick<Visit, "after" | "onlyIf" | "countFrom" | "dueDay"> = {},
): Effect => ({
  kind: "visit",
  visit: {
    purpose,
    who,
    earliest: days[0],
    ideal: days[1],
    latest: days[2],
    check: more.onlyIf ? `${more.onlyIf.charAt(0).toUpperCase()}${more.onlyIf.slice(1)}: ${check}` : check,
    ...more,
  },
});
/** `days` after it is put on: may stop from, should stop by. */
export const splint = (
  what: string,
  joints: readonly Joint[],
  free: readonly Joint[],
  position: string,
  days: readonly [number, number],
  wear: string,
  say: string,
): Effect => ({
  kind: "splint",
  splint: { what, joints, free, position, days: { from: days[0], to: days[1] }, wear },
  say,
});

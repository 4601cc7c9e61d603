/** The only door into scheduling: from plans to visits, from sessions to seats, and which visit takes which seat. Public holidays are a door of their own. */
export type { Assignment } from "./assignment.ts";
export * from "./bounds.ts";
export * from "./calendar.ts";
export * from "./clinics.ts";
export * from "./clock-times.ts";
export {
  type ClosedDay,
  type ClosedDays,
  clinicsNotFound,
  readClosedDays,
  type SiteClosedDay,
  type SiteClosedDays,
  type WhyClosed,
  whyClosed,
} from "./closed-days.ts";
export { type DayPlan, rankedPlans } from "./day-plans.ts";
export * from "./happenings.ts";
export * from "./problem.ts";
export * from "./propose.ts";
export * from "./sessions.ts";
export * from "./visits.ts";
export * from "./why-not.ts";
export * from "./worklist.ts";

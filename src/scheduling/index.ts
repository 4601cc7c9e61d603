/** The only door into scheduling: from plans to visits, from sessions to seats, and which visit takes which seat. */
export * from "./calendar.ts";
export * from "./clinics.ts";
export * from "./problem.ts";
export * from "./propose.ts";
export * from "./sessions.ts";
export * from "./visits.ts";

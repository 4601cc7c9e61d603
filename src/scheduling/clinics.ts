/** Clinics as a site describes them: where, when, who, how many at a time. */
import * as z from "zod/mini";
import { type InputProblem, inputProblems } from "../pathway/input-problem.ts";
import { isClock, isZone, minutesOf, WEEKDAYS } from "./calendar.ts";
import { ALLOWED_DAY, type ClosedDay, type ClosedDays, closedDay } from "./closed-days.ts";

const text = z.string().check(z.minLength(1));
/** What is allowed in a field, in words, wherever it stands. */
const ALLOWED: Readonly<Record<string, string>> = {
  day: ALLOWED_DAY,
  from: "a time of day, 00:00 to 23:59",
  to: "a time of day, 00:00 to 23:59",
  zone: 'a time zone such as "Europe/London"',
  country: "two capital letters, as GB",
};
const WRONG = { error: "has the wrong form" };
const clock = z.string().check(z.refine(isClock, WRONG));
const session = z.strictObject({
  weekday: z.enum(WEEKDAYS),
  from: clock,
  to: clock,
  /** Who sees patients there, in the words of the plans: "hand clinic", "hand therapist". */
  role: text,
  /** Length of one visit. */
  slotMinutes: z.int().check(z.gte(5), z.lte(480)),
  /** Patients seen side by side. */
  capacity: z.int().check(z.gte(1), z.lte(100)),
});
const clinic = z.strictObject({
  id: text,
  name: text,
  zone: z.string().check(z.refine(isZone, WRONG)),
  /** For public holidays: ISO 3166-1 country and the part of it, as "GB" and "ENG". */
  country: z.optional(z.string().check(z.refine((code) => /^[A-Z]{2}$/.test(code), WRONG))),
  region: z.optional(text),
  sessions: z.array(session).check(z.minLength(1)),
  closedDays: z.array(closedDay),
});
const clinics = z.array(clinic).check(z.minLength(1));

export type Session = z.infer<typeof session>;
export type Clinic = z.infer<typeof clinic>;
export type ClinicsReading =
  | { readonly ok: true; readonly clinics: readonly Clinic[] }
  | { readonly ok: false; readonly problems: readonly InputProblem[] };

/** Checks a description of clinics: a list of { id, name, zone, country?, region?, sessions, closedDays }. One fault and none is taken over. */
export function readClinics(json: unknown): ClinicsReading {
  const read = clinics.safeParse(json, { reportInput: true });
  if (!read.success) return { ok: false, problems: inputProblems(read.error, (path) => ALLOWED[String(path.at(-1))]) };
  const problems = [...sameIds(read.data), ...read.data.flatMap(oddParts)];
  return problems.length > 0 ? { ok: false, problems } : { ok: true, clinics: read.data };
}

const sameIds = (all: readonly Clinic[]): InputProblem[] =>
  all.flatMap(({ id }, i) =>
    all.findIndex((c) => c.id === id) < i
      ? [{ path: `${i}.id`, problem: `"${id}" is the id of an earlier clinic`, allowed: "an id of its own" }]
      : [],
  );

function oddParts({ country, region, sessions }: Clinic, at: number): InputProblem[] {
  const problems: InputProblem[] = [];
  if (region !== undefined && country === undefined)
    problems.push({ path: `${at}.region`, problem: "stands without a country", allowed: "a country beside it" });
  sessions.forEach((s, i) => {
    const path = `${at}.sessions.${i}`;
    const minutes = minutesOf(s.to) - minutesOf(s.from);
    if (minutes < s.slotMinutes)
      problems.push({
        path: `${path}.to`,
        problem: `${s.from} to ${s.to} holds no visit of ${s.slotMinutes} minutes`,
        allowed: "an end later on the same day, at least one visit after the start",
      });
    const twin = sessions.findIndex(
      (o) => o.role === s.role && o.weekday === s.weekday && o.from < s.to && s.from < o.to,
    );
    if (twin < i)
      problems.push({
        path,
        problem: `overlaps session ${twin} of the same ${s.role}`,
        allowed: "hours of its own; more patients at a time are a larger capacity",
      });
    const lengths = sessions.find((o) => o.role === s.role)!.slotMinutes;
    // What a day can hold is exact only while all visits of a role there are equally long.
    if (lengths !== s.slotMinutes)
      problems.push({
        path: `${path}.slotMinutes`,
        problem: `${s.slotMinutes} differs from ${lengths} in another session of the same ${s.role}`,
        allowed: "one length for all visits of a role in a clinic",
      });
  });
  return problems;
}

/** Days on which each clinic is closed: its own, and those of the list beside it (public holidays). */
export function closedDaysOf(
  all: readonly Clinic[],
  holidays: (clinic: Clinic) => readonly ClosedDay[] = () => [],
): ClosedDays {
  return new Map(
    all.map((c) => [c.id, new Map([...holidays(c), ...c.closedDays].map(({ day, why }) => [day, why] as const))]),
  );
}

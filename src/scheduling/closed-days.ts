/** Days on which clinics see nobody. Apart from the description of clinics, which no screen reads. */
import * as z from "zod/mini";
import { type InputProblem, inputProblems } from "../pathway/input-problem.ts";
import { type Day, isDay } from "./calendar.ts";

export const ALLOWED_DAY = "a day that exists, yyyy-MM-dd";
const day = z.string().check(z.refine(isDay, { error: "has the wrong form" }));
export const closedDay = z.strictObject({ day, why: z.string().check(z.minLength(1)) });
const closedDaysFile = z.strictObject({ from: day, to: day, closedDays: z.array(closedDay) });

export type ClosedDay = z.infer<typeof closedDay>;
/** Days on which a clinic does not see patients, each with its reason, by clinic id. */
export type ClosedDays = ReadonlyMap<string, ReadonlyMap<Day, string>>;

/** Days on which all clinics of a site are closed, known from one day to another, both counted. */
export interface SiteClosedDays {
  readonly from: Day;
  readonly to: Day;
  readonly closed: ReadonlyMap<Day, string>;
}
/** Checks a file of closed days: { from, to, closedDays: [{ day, why }] }. One fault and none is taken over. */
export function readClosedDays(
  json: unknown,
):
  | { readonly ok: true; readonly value: SiteClosedDays }
  | { readonly ok: false; readonly problems: readonly InputProblem[] } {
  const read = closedDaysFile.safeParse(json, { reportInput: true });
  if (!read.success)
    return {
      ok: false,
      problems: inputProblems(read.error, (path) =>
        ["from", "to", "day"].includes(String(path.at(-1))) ? ALLOWED_DAY : undefined,
      ),
    };
  const { from, to, closedDays } = read.data;
  if (to < from)
    return {
      ok: false,
      problems: [{ path: "to", problem: `${to} lies before ${from}`, allowed: "a day after the first" }],
    };
  return { ok: true, value: { from, to, closed: new Map(closedDays.map(({ day: on, why }) => [on, why])) } };
}

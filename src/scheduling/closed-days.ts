/** Days on which clinics see nobody. Apart from the description of clinics, which no screen reads. */
import * as z from "zod/mini";
import { type InputProblem, inputProblems } from "../pathway/input-problem.ts";
import { type Day, isDay } from "./calendar.ts";

export const ALLOWED_DAY = "a day that exists, yyyy-MM-dd";
const day = z.string().check(z.refine(isDay, { error: "has the wrong form" }));
export const closedDay = z.strictObject({ day, why: z.string().check(z.minLength(1)) });
const siteClosedDay = z.extend(closedDay, { clinic: z.optional(z.string().check(z.minLength(1))) });
const closedDaysFile = z.strictObject({ from: day, to: day, closedDays: z.array(siteClosedDay) });
const ALLOWED_CLINIC = 'name of a clinic\'s schedule, such as "Hand clinic", or its reference; left out: all clinics';

export type ClosedDay = z.infer<typeof closedDay>;
/** Days on which a clinic does not see patients, each with its reason, by clinic id. */
export type ClosedDays = ReadonlyMap<string, ReadonlyMap<Day, string>>;

/** One day on which a clinic of the site is closed: the name of its schedule, or its reference ("Schedule/3"); without one, all of them. */
export interface SiteClosedDay extends ClosedDay {
  readonly clinic?: string | undefined;
}
/** Days on which the clinics of a site are closed, known from one day to another, both counted. */
export interface SiteClosedDays {
  readonly from: Day;
  readonly to: Day;
  readonly closedDays: readonly SiteClosedDay[];
}
/** Checks a file of closed days: { from, to, closedDays: [{ day, why, clinic? }] }. One fault and none is taken over. */
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
        path.at(-1) === "clinic"
          ? ALLOWED_CLINIC
          : ["from", "to", "day"].includes(String(path.at(-1)))
            ? ALLOWED_DAY
            : undefined,
      ),
    };
  const { from, to } = read.data;
  if (to < from)
    return {
      ok: false,
      problems: [{ path: "to", problem: `${to} lies before ${from}`, allowed: "a day after the first" }],
    };
  return { ok: true, value: read.data };
}

/** A place in the words of the record system: "Schedule/3", "Hand clinic". */
export interface NamedPlace {
  readonly reference: string;
  readonly name: string;
}
/** Why a place (its reference) is closed on a day; undefined: nothing says that it is. */
export type WhyClosed = (reference: string, day: Day) => string | undefined;
const plain = (text: string) => text.trim().toLowerCase();
const isNamed = ({ reference, name }: NamedPlace, clinic: string) =>
  reference === clinic.trim() || plain(name) === plain(clinic);

/** Closed days by place. What is said of one clinic goes before what is said of all. */
export function whyClosed(closedDays: readonly SiteClosedDay[], places: readonly NamedPlace[]): WhyClosed {
  const everywhere = new Map<Day, string>();
  const own = new Map<string, Map<Day, string>>(places.map(({ reference }) => [reference, new Map()]));
  for (const { day: on, why, clinic } of closedDays) {
    if (clinic === undefined) everywhere.set(on, why);
    else for (const place of places) if (isNamed(place, clinic)) own.get(place.reference)!.set(on, why);
  }
  return (reference, on) => own.get(reference)?.get(on) ?? everywhere.get(on);
}
/** Names of clinics in a file of closed days that no place bears: their closed days hold nowhere. Each once. */
export const clinicsNotFound = (closedDays: readonly SiteClosedDay[], places: readonly NamedPlace[]): string[] => [
  ...new Set(
    closedDays.flatMap(({ clinic }) =>
      clinic === undefined || places.some((place) => isNamed(place, clinic)) ? [] : clinic,
    ),
  ),
];

/** Signed plans as the app writes them (fixtures/clinics/plans), filled in for a person and the day of an injury. */
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { addDays, differenceInCalendarDays, format, formatISO, parseISO, subWeeks } from "date-fns";
import type { Resource } from "../fhir/exchange.ts";

export const PLANS_FOLDER = join(import.meta.dirname, "../../../fixtures/clinics/plans");

export interface Template {
  /** Day of the injury for which it was written, yyyy-MM-dd: its weekday stays, since the text speaks of weekends. */
  readonly day0: string;
  readonly resources: readonly Resource[];
}
export const readTemplate = (name: string): Template =>
  JSON.parse(readFileSync(join(PLANS_FOLDER, `${name}.json`), "utf8")) as Template;

export interface Filling {
  readonly patient: string;
  readonly name: string;
  /** The day of the injury. */
  readonly day0: Date;
  /** Tells plans of one patient apart. */
  readonly nth?: number;
}

/** The latest day of the template's weekday that is so many whole weeks ago. */
export function injuryDay({ day0 }: Template, weeks: number, today: Date): Date {
  const day = new Date(today.getFullYear(), today.getMonth(), today.getDate());
  const back = (day.getDay() - parseISO(day0).getDay() + 7) % 7;
  return subWeeks(addDays(day, -back), weeks);
}

/** 24 characters that begin the ids and the plan id of one plan: "xxxxxxxx-xxxx-4xxx-9xxx-". */
function planStart(seed: string): string {
  const hex = createHash("sha256").update(seed).digest("hex");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-4${hex.slice(12, 15)}-9${hex.slice(15, 18)}-`;
}

/**
 * The plan's resources for one patient. Only strings that hold a placeholder are made anew, so thousands of plans share the rest.
 * @throws when something in double braces is not known
 */
export function fillPlan({ resources }: Template, { patient, name, day0, nth = 1 }: Filling): Resource[] {
  const plan = planStart(`${patient} ${nth}`);
  const episode = createHash("sha256")
    .update(`${patient} ${formatISO(day0)}`)
    .digest("hex")
    .slice(0, 12);
  const known: Readonly<Record<string, string>> = { patient, name, plan, episode };
  const filled = new Map(Object.entries(known));
  const one = (whole: string, inside: string): string => {
    const word = filled.get(inside) ?? dateOf(whole, inside);
    filled.set(inside, word);
    return word;
  };
  const dateOf = (whole: string, inside: string): string => {
    const [, kind, days, hour, minute] = /^(day|words)([+-]\d+)(?:T(\d\d):(\d\d))?$/.exec(inside) ?? [];
    if (kind === undefined) throw new Error(`${whole} is not a known placeholder of a plan.`);
    const day = addDays(day0, Number(days));
    if (kind === "words") return format(day, "EEE d MMMM yyyy");
    return hour === undefined ? format(day, "yyyy-MM-dd") : instantOn(day, `${hour}:${minute}`);
  };
  const fill = (node: unknown): unknown => {
    if (typeof node === "string") return node.includes("{{") ? node.replace(/\{\{([^}]*)\}\}/g, one) : node;
    if (Array.isArray(node)) return node.map(fill);
    if (node === null || typeof node !== "object") return node;
    return Object.fromEntries(Object.entries(node).map(([key, value]) => [key, fill(value)]));
  };
  return resources.map((resource) => fill(resource) as Resource);
}

/** Local time "HH:mm" of a day as an instant with the local offset. */
export function instantOn(day: Date, time: string): string {
  const [hour, minute] = time.split(":").map(Number);
  return formatISO(new Date(day.getFullYear(), day.getMonth(), day.getDate(), hour, minute));
}
export const daysBetween = (later: Date, earlier: Date): number => differenceInCalendarDays(later, earlier);

/** Loads the invented charts of `fixtures/cases` into the store, with their dates set relative to today. */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { addDays, addMinutes, addMonths, addYears, format, formatISO } from "date-fns";
import { heavyChart } from "../../fixtures/cases/heavy-chart/make-chart.ts";
import type { Bundle, Resource } from "./fhir/exchange.ts";
import type { Store } from "./fhir/store.ts";

export const CASES_FOLDER = join(import.meta.dirname, "../../fixtures/cases");

/**
 * Replaces placeholders by dates relative to `now`:
 * `{{today}}`, `{{today-1}}` days, `{{today-7y}}` years, `{{today-3m}}` months, also together as in `{{today-34y-100}}`: a date
 * (yyyy-MM-dd) in the local zone; `{{now}}`, `{{now-90min}}`: an instant with the local offset; `{{today-1T14:30}}`: that day at
 * that local time, as an instant.
 * @throws when something in double braces is not one of these
 */
export function fillDates(text: string, now: Date): string {
  return text.replace(/\{\{([^}]*)\}\}/g, (whole, inside: string) => {
    const instant = /^now(?:([+-]\d+)min)?$/.exec(inside);
    if (instant) return formatISO(addMinutes(now, Number(instant[1] ?? 0)));
    const [, steps, hour, minute] = /^today((?:[+-]\d+[ym]?)*)(?:T(\d{2}):(\d{2}))?$/.exec(inside) ?? [];
    if (steps === undefined) throw new Error(`${whole} is not a known placeholder; see fixtures/cases/README.md.`);
    let date = now;
    for (const [, amount, unit] of steps.matchAll(/([+-]\d+)([ym]?)/g)) {
      const n = Number(amount);
      date = unit === "y" ? addYears(date, n) : unit === "m" ? addMonths(date, n) : addDays(date, n);
    }
    if (hour === undefined) return format(date, "yyyy-MM-dd");
    return formatISO(new Date(date.getFullYear(), date.getMonth(), date.getDate(), Number(hour), Number(minute)));
  });
}

/** Charts by case name, ready to be stored. */
export function readCharts(now: Date): { name: string; resources: Resource[] }[] {
  const charts = readdirSync(CASES_FOLDER, { withFileTypes: true })
    .filter((folder) => folder.isDirectory() && existsSync(join(CASES_FOLDER, folder.name, "chart.json")))
    .map(({ name }) => {
      const bundle = JSON.parse(fillDates(readFileSync(join(CASES_FOLDER, name, "chart.json"), "utf8"), now)) as Bundle;
      return { name, resources: (bundle.entry ?? []).flatMap(({ resource }) => (resource ? [resource] : [])) };
    });
  return [...charts, { name: "heavy-chart", resources: heavyChart(now) as Resource[] }];
}

/** Stores all charts. They are checked for validity in the tests, not at each start. */
export function seedStore(store: Store, now = new Date()): void {
  store.atomically(() => {
    for (const { resources } of readCharts(now)) {
      for (const resource of resources) store.put(resource, resource.id as string, "PUT");
    }
  });
}

import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { proposalsFrom } from "../../src/app/chart-proposals.ts";
import { sayAllergy } from "../../src/app/say-allergy.ts";
import { storedLines } from "../../src/app/tasks/read-plans/stored.ts";
import { type Chart, chartFrom, type PartResult } from "../../src/fhir/chart.ts";
import { isFhirDate } from "../../src/fhir/dates.ts";
import { plainText } from "../../src/fhir/plain-text.ts";
import type { ChartPartName } from "../../src/fhir/searches.ts";
import { ASKED } from "../../src/pathway/all-asked.ts";
import { CONTEXT, chartNumbers, type Entry, hostileChart, STRANGER, VOIDED } from "./hostile-chart.ts";

const CHARTS = 10_000;
/** A reader that compares each entry with each other looks far more often. What a machine does in a second has no part in it. */
const MOST_LOOKS = 10;
const module = ASKED[0]!;

function partsOf(entries: readonly Entry[]): { [part in ChartPartName]?: PartResult } {
  const parts: { [part in ChartPartName]?: PartResult } = {};
  for (const { part, raw } of entries)
    parts[part] = { state: "found", more: false, resources: [...(parts[part]?.resources ?? []), raw] };
  return parts;
}
/** Everything that the screens make of a chart before anybody has answered anything. */
function shown(chart: Chart): string {
  proposalsFrom(chart, module, chart.earlierPlans[0]);
  return [
    plainText(chart.patient?.name ?? ""),
    ...chart.allergies.map(sayAllergy),
    ...chart.earlierPlans.flatMap(storedLines).map((line) => line.what),
    ...chart.conditions.map((c) => plainText(c.text)),
    ...chart.imaging.map((i) => plainText(i.title)),
  ].join("|");
}
/** The same entries, with every look at a value of theirs counted. */
function watched(entries: readonly Entry[]): { entries: Entry[]; looks: () => number } {
  let looks = 0;
  const known = new WeakMap<object, object>();
  const watch = <T>(value: T): T => {
    if (typeof value !== "object" || value === null) return value;
    const get = (of: object, name: PropertyKey, self: unknown) => {
      looks++;
      return watch(Reflect.get(of, name, self));
    };
    const made = known.get(value) ?? new Proxy(value, { get });
    known.set(value, made);
    return made as T;
  };
  return { entries: entries.map((entry) => ({ ...entry, raw: watch(entry.raw) })), looks: () => looks };
}
/** Not by recursion: some of these charts are nested ten thousand deep. */
function valuesIn(raw: unknown): number {
  let n = 0;
  for (const left = [raw]; left.length > 0; n++) {
    const value = left.pop();
    if (typeof value === "object" && value !== null) left.push(...Object.values(value));
  }
  return n;
}
/** Looks at the values of a chart for each value that it holds. */
function looksForEach(numbers: readonly Entry[]): number {
  const { entries, looks } = watched(numbers);
  shown(chartFrom(partsOf(entries), CONTEXT));
  return looks() / entries.reduce((n, { raw }) => n + valuesIn(raw), 1);
}

const used = (chart: Chart): number =>
  chart.conditions.length +
  chart.imaging.length +
  chart.allergies.length +
  chart.medications.length +
  (chart.patient ? 1 : 0) +
  chart.earlierPlans.reduce((sum, plan) => sum + plan.items.length, 0);
/** Used, but not in a list of their own: one value stands for all of them. */
const UNLISTED = ["Immunization", "Observation", "Encounter"];
const unlisted = ({ raw }: Entry) =>
  UNLISTED.includes(String((raw as { resourceType?: unknown } | null)?.resourceType));

/** As `expect`, for something that is looked at a million times. */
function must(holds: boolean, words: () => string): void {
  if (!holds) throw new Error(words());
}

function checkChart(entries: readonly Entry[]): void {
  const chart = chartFrom(partsOf(entries), CONTEXT);
  const entriesIn = (kind?: string) =>
    chart.problems.reduce((sum, p) => sum + (kind === undefined || p.kind === kind ? (p.entries ?? 0) : 0), 0);
  for (const kind of new Set(entries.map((e) => e.fate))) {
    const expected = entries.filter((e) => e.fate === kind).length;
    if (kind !== "used" && kind !== "copy")
      must(entriesIn(kind) === expected, () => `told as ${kind}: ${entriesIn(kind)} instead of ${expected}`);
  }
  const out = used(chart) + entriesIn() + entries.filter((e) => unlisted(e) && e.fate === "used").length;
  const came = entries.filter((e) => e.fate !== "copy").length;
  must(out === came, () => `came in: ${came}; used or told: ${out}`);

  const { problems, ...rest } = chart;
  const text = JSON.stringify(rest);
  for (const never of [STRANGER, VOIDED, "NaN", "[object", "native code"])
    must(!text.includes(never), () => `"${never}" is in the chart`);
  for (const { finding, value } of chart.proposals) {
    const definition = module.findings[finding]!;
    const possible =
      definition.type === "number"
        ? Number(value) >= definition.min && Number(value) <= definition.max
        : definition.values.includes(String(value));
    must(possible, () => `proposed: ${finding} ${String(value)}`);
  }
  for (const { value } of chart.dates)
    must(isFhirDate(value) || /^\d{4}-\d\d-\d\dT\d\d:\d\d$/.test(value), () => `no date: ${value}`);
  must(
    problems.every((p) => p.say.length > 0),
    () => "a problem without words",
  );
  must(!/\p{Cc}|\p{Cf}|\p{Cs}/u.test(shown(chart)), () => "hidden or half characters on the screen");
  must(({} as { polluted?: unknown }).polluted === undefined, () => "objects are polluted");
}

describe("charts of every bad kind, generated", () => {
  it("REL-16 REL-17 REL-18 SEC-19 GATE-06 nothing crashes, nothing of another patient or in error is used, each entry is used or told", () => {
    fc.assert(
      fc.property(chartNumbers, (numbers) => checkChart(hostileChart(numbers))),
      { numRuns: CHARTS },
    );
  }, 300_000);
  it("REL-16 GATE-06 no chart keeps the screen waiting: each value of it is looked at a bounded number of times", () => {
    const worst = Math.max(...fc.sample(chartNumbers, 2000).map((numbers) => looksForEach(hostileChart(numbers))));
    console.log(`looks for each value of a chart, at most: ${worst.toFixed(1)}`);
    expect(worst).toBeLessThan(MOST_LOOKS);
  });
  it("are a check that can fail: a reader that forgets an entry, or uses one that it tells of, is caught", () => {
    const condition = (more: object) => ({
      part: "conditions" as const,
      raw: { resourceType: "Condition", id: "c1", subject: { reference: "Patient/p1" }, ...more },
    });
    expect(() => checkChart([{ ...condition({}), fate: "over" }])).toThrow(/told as over: 0 instead of 1/);
    expect(() =>
      checkChart([
        { ...condition({}), fate: "used" },
        { ...condition({}), fate: "used" },
      ]),
    ).toThrow(/came in: 2; used or told: 1/);
    expect(() => checkChart([{ ...condition({ code: { text: STRANGER } }), fate: "used" }])).toThrow(STRANGER);
  });
});

/** Rules evaluated per second with the complete trace, beside a widely used generic engine on the same tables. */
import { assessDigit, type InjuryModule, pathwayFor, type SitePolicy } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import type { Span } from "../../src/pathway/reasoning/table.ts";
import { firedBy, genericEngine } from "./generic-engine.ts";
import { type Measured, median } from "./report.ts";
import { seeded } from "./seeded.ts";

type CompleteRecord = Record<string, string | number>;
const ROUNDS = 5;
const RECORDS = 2_000;
const COMPARED = 300;
const MILLISECONDS_A_ROUND = 400;

/** Records with a value for each finding; numbers fall at, between and beyond the limits that the rules use. */
function randomRecords(
  module: InjuryModule,
  limits: ReadonlyMap<string, readonly number[]>,
  count: number,
): CompleteRecord[] {
  const random = seeded(20_261_125);
  const pick = <T>(values: readonly T[]): T => values[Math.floor(random() * values.length)]!;
  const choices = Object.entries(module.findings).map(([name, definition]) => {
    if (definition.type === "choice") return { name, values: definition.values as readonly (string | number)[] };
    const cuts = [...new Set([definition.min, ...(limits.get(name) ?? []), definition.max])]
      .filter((n) => n >= definition.min && n <= definition.max)
      .sort((a, b) => a - b);
    return { name, values: cuts.flatMap((cut, i) => (i ? [(cut + cuts[i - 1]!) / 2, cut] : [cut])) };
  });
  return Array.from({ length: count }, () =>
    Object.fromEntries(choices.map(({ name, values }) => [name, pick(values)])),
  );
}

function limitsOf(rows: readonly object[]): Map<string, number[]> {
  const limits = new Map<string, number[]>();
  for (const row of rows)
    for (const [column, cell] of Object.entries(row) as [string, unknown][])
      if (typeof cell === "object" && cell !== null && "from" in cell) {
        const { from, under } = cell as Span;
        limits.set(column, [...(limits.get(column) ?? []), from, under].filter(Number.isFinite));
      }
  return limits;
}

/** Records per second over at least the given time. */
function rate(records: readonly Facts[], evaluate: (facts: Facts) => unknown): number {
  let done = 0;
  const begun = performance.now();
  let spent = 0;
  while (spent < MILLISECONDS_A_ROUND) {
    for (const record of records) evaluate(record);
    done += records.length;
    spent = performance.now() - begun;
  }
  return (done * 1000) / spent;
}

/**
 * @throws Error when the two engines do not fire the same rules: the comparison would then mean nothing.
 */
export async function measureEvaluation(module: InjuryModule, policy: SitePolicy): Promise<Measured[]> {
  const pathway = pathwayFor(module, policy);
  const rules = pathway.tables.flatMap((t) => t.rules);
  const limits = limitsOf([...rules.map((r) => r.when), ...pathway.signs.flatMap((s) => s.any)] as object[]);
  const records = randomRecords(module, limits, RECORDS);
  const generic = genericEngine(rules, pathway.signs);

  const fired = new Set<string>();
  for (const record of records.slice(0, COMPARED)) {
    const ours = pathway
      .evaluate(record)
      .verdicts.flatMap((v) => v.sure.map((r) => r.id))
      .sort();
    const theirs = await firedBy(generic, record);
    if (ours.join() !== theirs.join())
      throw new Error(`the engines disagree on ${JSON.stringify(record)}:\n${ours}\n${theirs}`);
    for (const id of ours) fired.add(id);
  }

  const rates = { trace: [] as number[], assess: [] as number[], generic: [] as number[] };
  for (let round = 0; round < ROUNDS; round++) {
    rates.trace.push(rate(records, pathway.evaluate));
    rates.assess.push(rate(records, (facts) => assessDigit(pathway, facts)));
    const some = records.slice(round * 20, round * 20 + 60);
    const begun = performance.now();
    for (const record of some) await generic.run(record);
    rates.generic.push((some.length * 1000) / (performance.now() - begun));
  }
  const [trace, assess, reference] = [median(rates.trace), median(rates.assess), median(rates.generic)];
  return [
    { name: "rules in the tables", value: rules.length, unit: "" },
    { name: "signs, a chained rule each in the generic engine", value: pathway.signs.length, unit: "" },
    { name: "rules fired alike by both engines", value: fired.size, unit: `different rules in ${COMPARED} records` },
    { name: "complete trace", value: trace, unit: "records/s" },
    { name: "whole assessment of a digit, in words", value: assess, unit: "records/s" },
    { name: "json-rules-engine, same tables", value: reference, unit: "records/s" },
    { name: "trace / json-rules-engine", value: trace / reference, unit: "times", target: { atLeast: 200 } },
    { name: "whole assessment / json-rules-engine", value: assess / reference, unit: "times" },
  ];
}

import type { FindingDefinitions } from "../../src/pathway/reasoning/finding.ts";
import {
  type AnySign,
  type AnyTable,
  compile,
  type Facts,
  type Trace,
  type Verdict,
} from "../../src/pathway/reasoning/program.ts";
import type { Span } from "../../src/pathway/reasoning/table.ts";

type Values = readonly (string | number)[];
const YES_NO: Values = ["yes", "no"];
const isSpan = (cell: unknown): cell is Span => typeof cell === "object" && cell !== null && "from" in cell;

/** Each limit that any of the rows uses, a point between each two, and one beyond each end: every number they can tell apart. */
export function cutPoints(rows: readonly Readonly<Record<string, unknown>>[], column: string): number[] {
  const spans = rows.map((row) => row[column]).filter(isSpan);
  const limits = [...new Set(spans.flatMap((s) => [s.from, s.under]))].filter(Number.isFinite).sort((a, b) => a - b);
  return limits
    .flatMap((limit, i) => [
      i > 0 ? (limit + limits[i - 1]!) / 2 : limit - Math.min(1, Math.abs(limit) / 2 || 1),
      limit,
    ])
    .concat(limits.length > 0 ? limits.at(-1)! + 1 : []);
}

/** Columns that the rows of a table read, each with every value they can tell apart. A sign counts as a finding with yes and no. */
export function domainOf(
  table: AnyTable,
  findings: FindingDefinitions,
  signNames: readonly string[],
): { [column: string]: Values } {
  const rows = table.rules.map((r) => r.when as Record<string, unknown>);
  return Object.fromEntries(
    [...new Set(rows.flatMap(Object.keys))].map((column) => {
      if (signNames.includes(column)) return [column, YES_NO];
      const definition = findings[column];
      if (!definition) throw new Error(`${table.id} reads "${column}", which is no finding or sign`);
      return [column, definition.type === "choice" ? definition.values : cutPoints(rows, column)];
    }),
  );
}

/** Every combination of the values given. */
export function* everyCase(domain: { readonly [column: string]: Values }): Generator<Facts> {
  const columns = Object.keys(domain);
  const at = columns.map(() => 0);
  for (;;) {
    yield Object.fromEntries(columns.map((c, i) => [c, domain[c]![at[i]!]!]));
    let i = 0;
    while (i < columns.length && ++at[i]! === domain[columns[i]!]!.length) at[i++] = 0;
    if (i === columns.length) return;
  }
}

/** Judges one table alone; its signs are given as findings, so that mixes no real record can show are covered too. */
export function judgeAlone(
  table: AnyTable,
  findings: FindingDefinitions,
  signNames: readonly string[],
): (facts: Facts) => Verdict {
  const signs: FindingDefinitions = Object.fromEntries(
    signNames.map((n) => [n, { type: "choice", scope: "digit", values: ["yes", "no"] }]),
  );
  const evaluate = compile({ findings: { ...findings, ...signs }, signs: [], tables: [table] });
  return (facts) => evaluate(facts).verdicts[0]!;
}

/**
 * Cases in which a table that answers "one" has no sure row, several sure rows, or a row still open although all is known.
 * Also lists rows that never decide any case. Empty when the table is sound.
 */
export function flawsOfOne(table: AnyTable, findings: FindingDefinitions, signNames: readonly string[]): string[] {
  const judge = judgeAlone(table, findings, signNames);
  const flaws: string[] = [];
  const deciding = new Set<string>();
  for (const facts of everyCase(domainOf(table, findings, signNames))) {
    const { sure, possible } = judge(facts);
    if (sure.length !== 1 || possible.length > 0)
      flaws.push(
        `${JSON.stringify(facts)}: sure ${sure.map((r) => r.id).join("+") || "none"}, open ${possible.map((r) => r.id).join("+") || "none"}`,
      );
    for (const rule of sure) deciding.add(rule.id);
  }
  return [...flaws, ...table.rules.filter((r) => !deciding.has(r.id)).map((r) => `${r.id} never decides`)];
}

/** Evaluates signs and tables together, as the pathway does. */
export const evaluateAll = (
  findings: FindingDefinitions,
  signs: readonly AnySign[],
  tables: readonly AnyTable[],
): ((facts: Facts) => Trace) => compile({ findings, signs, tables });

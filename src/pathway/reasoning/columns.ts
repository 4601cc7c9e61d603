import type { FindingDefinitions } from "./finding.ts";
import { isAbsent } from "./known.ts";
import type { AnySign, AnyTable, Facts } from "./program.ts";
import type { Row, Span } from "./table.ts";

/** Code of every value not known. Choice values and number bands count from 1; a sign is 1 for yes, 2 for no. */
export const UNKNOWN = 0;
export const YES = 1;
export const NO = 2;

/** A finding or sign as the compiled rules see it: each choice value, or each band between two limits of the rules, is one code. */
export interface Column {
  readonly name: string;
  readonly index: number;
  readonly codes: ReadonlyMap<string, number> | undefined;
  /** Limits that some row uses, ascending: band 1 lies under the first, band n + 1 starts with the n-th. */
  readonly cuts: readonly number[];
}

const YES_NO: ReadonlyMap<string, number> = new Map([
  ["yes", YES],
  ["no", NO],
]);

/** The columns of a program: its findings first, then its signs, each number cut at the limits that the rows use. */
export function columnsOf(
  findings: FindingDefinitions,
  signs: readonly AnySign[],
  tables: readonly AnyTable[],
): ReadonlyMap<string, Column> {
  const limits = new Map<string, number[]>();
  const rows = [...signs.flatMap((s) => s.any), ...tables.flatMap((t) => t.rules.map((r) => r.when))] as Row<never>[];
  for (const row of rows)
    for (const [name, cell] of Object.entries(row) as [string, unknown][])
      if (isSpan(cell)) limits.set(name, [...(limits.get(name) ?? []), cell.from, cell.under]);
  const columns = new Map<string, Column>();
  for (const [name, definition] of Object.entries(findings)) {
    const cuts = [...new Set(limits.get(name) ?? [])].filter(Number.isFinite).sort((a, b) => a - b);
    const codes = definition.type === "choice" ? new Map(definition.values.map((v, i) => [v, i + 1])) : undefined;
    columns.set(name, { name, index: columns.size, codes, cuts });
  }
  for (const { name } of signs) columns.set(name, { name, index: columns.size, codes: YES_NO, cuts: [] });
  return columns;
}

const isSpan = (cell: unknown): cell is Span => typeof cell === "object" && cell !== null && "from" in cell;

/** Number of codes of a column, the unknown counted in. */
export const codesOf = (column: Column): number => (column.codes ? column.codes.size + 1 : column.cuts.length + 2);

/** @throws Error for a value outside the column's domain: it is refused, never read as unknown. */
export function encode(column: Column, value: Facts[string]): number {
  if (value === undefined || value === "not-asked" || value === "cannot-tell") return UNKNOWN;
  if (column.codes) {
    const code = column.codes.get(value as string);
    if (code === undefined) throw new Error(`${column.name}: "${value}" is not one of its values`);
    return code;
  }
  if (typeof value !== "number" || Number.isNaN(value)) throw new Error(`${column.name}: a number is expected`);
  let band = 1;
  for (const cut of column.cuts) if (value >= cut) band++;
  return band;
}

/** The codes that satisfy one cell of a row. @throws Error when the cell names what the column has not. */
export function fitting(cell: unknown, column: Column, where: string): Set<number> {
  if (isSpan(cell)) {
    if (column.codes) throw new Error(`${where}: ${column.name} has no numbers`);
    const bands = new Set<number>();
    for (let band = 1; band <= column.cuts.length + 1; band++) {
      const low = band === 1 ? Number.NEGATIVE_INFINITY : column.cuts[band - 2]!;
      if (low >= cell.from && low < cell.under) bands.add(band);
    }
    return bands;
  }
  return new Set(
    (Array.isArray(cell) ? cell : [cell]).map((value) => {
      if (isAbsent(value) || !column.codes?.has(value))
        throw new Error(`${where}: ${column.name} has no value "${value}"`);
      return column.codes.get(value)!;
    }),
  );
}

import { type Column, codesOf, columnsOf, encode, fitting, UNKNOWN } from "./columns.ts";
import type { FindingDefinitions } from "./finding.ts";
import type { Row, Rule, Sign, Table } from "./table.ts";

/** Any record a program can read: finding id -> value; a missing key counts as "not-asked". */
export type Facts = { readonly [column: string]: string | number | undefined };
// biome-ignore lint/suspicious/noExplicitAny: a program joins tables over different record types; each was checked where it was written
export type AnyTable = Table<any, any>;
// biome-ignore lint/suspicious/noExplicitAny: as above
export type AnyRule = Rule<any, any>;
// biome-ignore lint/suspicious/noExplicitAny: as above
export type AnySign = Sign<any>;

export interface Program {
  readonly findings: FindingDefinitions;
  /** In order: a sign reads findings and earlier signs only. */
  readonly signs: readonly AnySign[];
  readonly tables: readonly AnyTable[];
}

/** What one table says of one record. `possible` holds the rules that are neither sure nor contradicted. */
export interface Verdict {
  readonly table: AnyTable;
  readonly sure: readonly AnyRule[];
  readonly possible: readonly AnyRule[];
}
/** The complete trace of one evaluation. */
export interface Trace {
  /** Value of each sign. */
  readonly signs: { readonly [name: string]: "yes" | "no" | "not-asked" };
  readonly verdicts: readonly Verdict[];
}

const BITS = 32;

/** Rows as bit masks: for each column and code, which rows that code does not contradict (may) and which it satisfies (is). */
interface Masks {
  readonly words: number;
  readonly rows: number;
  readonly columns: readonly { readonly index: number; readonly may: Uint32Array; readonly is: Uint32Array }[];
}

/**
 * Compiles signs and tables to bit masks. Strong Kleene logic for a conjunction is exact in this form: a row is sure
 * when each of its cells is satisfied, contradicted when one cell is, and possible otherwise.
 *
 * @throws Error when a row reads an unknown column, or a value outside the column's domain (a programming error).
 */
export function compile(program: Program): (facts: Facts) => Trace {
  return atOnce(compiling(program));
}
/** Runs all steps. */
export function atOnce<T>(steps: Generator<void, T>): T {
  for (;;) {
    const step = steps.next();
    if (step.done) return step.value;
  }
}
/** `compile`, step by step. */
export function* compiling(program: Program): Generator<void, (facts: Facts) => Trace> {
  const columns = columnsOf(program.findings, program.signs, program.tables);
  const findingColumns = [...columns.values()].slice(0, Object.keys(program.findings).length);

  const seen = new Set(findingColumns.map((c) => c.name));
  const signMasks: { sign: AnySign; masks: Masks; column: number }[] = [];
  for (const sign of program.signs) {
    yield;
    const masks = toMasks(sign.any as Row<never>[], columns, seen, `sign ${sign.name}`);
    seen.add(sign.name);
    signMasks.push({ sign, masks, column: columns.get(sign.name)!.index });
  }
  const tableMasks: { table: AnyTable; masks: Masks }[] = [];
  for (const table of program.tables) {
    yield;
    const rows = table.rules.map((r) => r.when) as Row<never>[];
    tableMasks.push({ table, masks: toMasks(rows, columns, seen, `table ${table.id}`) });
  }
  const codes = new Uint8Array(columns.size);

  return (facts) => {
    for (const column of findingColumns) codes[column.index] = encode(column, facts[column.name]);
    const signs: Record<string, "yes" | "no" | "not-asked"> = {};
    for (const { sign, masks, column } of signMasks) {
      const shown = anyRow(masks, codes);
      const state = shown === UNKNOWN && sign.noUntilShown ? 2 : shown;
      codes[column] = state;
      signs[sign.name] = state === 1 ? "yes" : state === 2 ? "no" : "not-asked";
    }
    const verdicts: Verdict[] = new Array(tableMasks.length);
    for (let i = 0; i < tableMasks.length; i++) verdicts[i] = judge(tableMasks[i]!.table, tableMasks[i]!.masks, codes);
    return { signs, verdicts };
  };
}

function toMasks(
  rows: readonly Row<never>[],
  columns: ReadonlyMap<string, Column>,
  readable: ReadonlySet<string>,
  where: string,
): Masks {
  const words = Math.max(1, Math.ceil(rows.length / BITS));
  const names = [...new Set(rows.flatMap((r) => Object.keys(r)))];
  return {
    words,
    rows: rows.length,
    columns: names.map((name) => {
      const column = columns.get(name);
      if (!column || !readable.has(name))
        throw new Error(`${where} reads "${name}", which is no finding or earlier sign`);
      const size = codesOf(column);
      const may = new Uint32Array(size * words);
      const is = new Uint32Array(size * words);
      rows.forEach((row, r) => {
        const cell = (row as Record<string, unknown>)[name];
        const bit = 1 << (r % BITS);
        const fits = cell === undefined ? undefined : fitting(cell, column, where);
        for (let code = 0; code < size; code++) {
          const at = code * words + ((r / BITS) | 0);
          if (fits === undefined || code === UNKNOWN || fits.has(code)) may[at]! |= bit;
          if (fits === undefined || fits.has(code)) is[at]! |= bit;
        }
      });
      return { index: column.index, may, is };
    }),
  };
}

/** 1 = some row is sure, 2 = every row is contradicted, 0 = open. */
function anyRow({ words, columns, rows }: Masks, codes: Uint8Array): 0 | 1 | 2 {
  let open = false;
  for (let w = 0; w < words; w++) {
    let may = w === words - 1 && rows % BITS ? (1 << (rows % BITS)) - 1 : rows ? -1 : 0;
    let is = may;
    for (const column of columns) {
      const at = codes[column.index]! * words + w;
      may &= column.may[at]!;
      is &= column.is[at]!;
    }
    if (is) return 1;
    if (may) open = true;
  }
  return open ? 0 : 2;
}

const NONE: readonly AnyRule[] = [];
/** Most tables say nothing of most records, so a list is made only for the first rule. */
function added(rules: AnyRule[] | undefined, rule: AnyRule): AnyRule[] {
  if (rules === undefined) return [rule];
  rules.push(rule);
  return rules;
}
function judge(table: AnyTable, { words, columns, rows }: Masks, codes: Uint8Array): Verdict {
  let sure: AnyRule[] | undefined;
  let possible: AnyRule[] | undefined;
  for (let w = 0; w < words; w++) {
    let may = w === words - 1 && rows % BITS ? (1 << (rows % BITS)) - 1 : rows ? -1 : 0;
    let is = may;
    for (const column of columns) {
      const at = codes[column.index]! * words + w;
      may &= column.may[at]!;
      is &= column.is[at]!;
    }
    while (may) {
      const bit = 31 - Math.clz32(may & -may);
      may &= may - 1;
      const rule = table.rules[w * BITS + bit]!;
      if ((is >>> bit) & 1) sure = added(sure, rule);
      else possible = added(possible, rule);
    }
  }
  return { table, sure: sure ?? NONE, possible: possible ?? NONE };
}

/** The shipped evaluator against the diagrams: state by state where that is possible, over every branch of every diagram for the whole. */
import { type Column, codesOf, columnsOf, encode, fitting } from "../../src/pathway/reasoning/columns.ts";
import type { FindingDefinitions } from "../../src/pathway/reasoning/finding.ts";
import { type AnyRule, type AnySign, type AnyTable, compile, type Facts } from "../../src/pathway/reasoning/program.ts";
import { OPEN, type PlainRow, Statements } from "../../src/pathway/reasoning/statements.ts";
import type { Row, Span } from "../../src/pathway/reasoning/table.ts";
import { type Flaw, recordOf, type Space, valueFor } from "./space.ts";

/** Above this many states a table is enumerated rule by rule, each over the columns that the rule reads. */
const MOST_STATES = 150_000;
const SIGN_VALUES = { type: "choice", scope: "digit", values: ["yes", "no"] } as const;

export interface Enumerated {
  readonly flaws: readonly Flaw[];
  readonly states: number;
  readonly whole: readonly string[];
  readonly byRule: readonly string[];
}

/**
 * Each table and each sign, over all states of the columns it reads itself: earlier signs count as findings with yes and no, so mixes that no
 * record can show are covered too. What the evaluator says is compared with the diagram made of the same rows.
 */
export function enumerateTables(space: Space): Enumerated {
  const { pathway } = space;
  const flaws: Flaw[] = [];
  const whole: string[] = [];
  const byRule: string[] = [];
  let states = 0;
  const parts: AnyTable[] = [
    ...pathway.tables,
    ...pathway.signs.map((s) => asTable(`sign ${s.name}`, s.any as Row<never>[])),
  ];
  for (const table of parts) {
    const product = statesOf(space, table);
    if (product <= MOST_STATES) {
      whole.push(table.id);
      states += compare(space, table, flaws);
    } else {
      byRule.push(table.id);
      for (const rule of table.rules) states += compare(space, { ...table, rules: [rule] }, flaws);
    }
  }
  return { flaws, states, whole, byRule };
}
const asTable = (id: string, rows: readonly Row<never>[]): AnyTable => ({
  id,
  question: "",
  answers: "every",
  rules: rows.map((when, i) => ({ id: `${id} row ${i + 1}`, when, then: [], because: "", sources: [] as never })),
});
/** Columns that a table reads itself, each as a finding. */
function readBy({ pathway }: Space, table: AnyTable): FindingDefinitions {
  const names = new Set(table.rules.flatMap((r) => Object.keys(r.when)));
  return Object.fromEntries([...names].map((n) => [n, pathway.module.findings[n] ?? SIGN_VALUES]));
}
function statesOf(space: Space, table: AnyTable): number {
  let product = 1;
  for (const column of columnsOf(readBy(space, table), [], [table]).values()) product *= codesOf(column) - 1;
  return product;
}
function compare(space: Space, table: AnyTable, flaws: Flaw[]): number {
  const findings = readBy(space, table);
  const order = Object.keys(findings);
  const evaluate = compile({ findings, signs: [], tables: [table] });
  const statements = new Statements({ findings, signs: [], tables: [table] }, order);
  const { diagrams, variables } = statements;
  const nodes = table.rules.map((r) => statements.row(r.when as PlainRow));
  const values = variables.map((column, v) =>
    diagrams.domains[v]!.map((code) => {
      const inBand = column.codes
        ? [...column.codes].find(([, c]) => c === code)![0]
        : valueFor(column, code, space.pathway);
      return [code, inBand] as const;
    }),
  );
  const facts: Record<string, string | number> = {};
  const codes = new Uint8Array(order.length);
  const at = values.map(() => 0);
  const set = (v: number) => {
    const [code, value] = values[v]![at[v]!]!;
    codes[v] = code;
    facts[order[v]!] = value;
  };
  for (let v = 0; v < order.length; v++) set(v);
  for (let states = 1; ; states++) {
    const { sure, possible } = evaluate(facts).verdicts[0]!;
    const said = new Set(sure);
    nodes.forEach((node, r) => {
      if (diagrams.holds(node, codes) !== said.has(table.rules[r]!))
        flaws.push({ what: `${table.rules[r]!.id}: evaluator and diagram differ`, witness: { ...facts } });
    });
    if (possible.length > 0) flaws.push({ what: `${table.id}: open although all is known`, witness: { ...facts } });
    let v = 0;
    while (v < order.length && ++at[v]! === values[v]!.length) {
      at[v] = 0;
      set(v++);
    }
    if (v === order.length) return states;
    set(v);
  }
}

/**
 * The whole: one record for each branch of each node of the diagrams of all rules, evaluated with signs and tables together. A branch that
 * leads wrong anywhere would give another set of rules than the evaluator.
 */
export function walkBranches(space: Space): { readonly flaws: readonly Flaw[]; readonly records: number } {
  const { pathway, statements, rules } = space;
  const { diagrams } = statements;
  const flaws: Flaw[] = [];
  let records = 0;
  for (const codes of diagrams.branchesOf(rules.map((r) => r.holds))) {
    const domainOf = (v: number) => diagrams.domains[v]!;
    const filled = codes.map((code, v) =>
      code === OPEN ? domainOf(v)[(records * 7 + v * 3) % domainOf(v).length]! : code,
    );
    const facts = recordOf(space, filled);
    records++;
    const fired = new Set<AnyRule>(pathway.evaluate(facts).verdicts.flatMap((v) => v.sure));
    for (const { rule, holds } of rules)
      if (diagrams.holds(holds, filled) !== fired.has(rule))
        flaws.push({ what: `${rule.id}: evaluator and diagram differ`, witness: facts });
  }
  return { flaws, records };
}

/** Just below each limit, on it and just above: the code of the number satisfies a cell exactly when the number lies in its span. */
export function probeCuts(
  space: Space,
  encoded: (column: Column, value: number) => number = encode,
): { readonly flaws: readonly Flaw[]; readonly probes: number } {
  const { pathway } = space;
  const columns = columnsOf(pathway.module.findings, pathway.signs, pathway.tables);
  const rows = [
    ...pathway.signs.flatMap((s: AnySign) => s.any),
    ...pathway.tables.flatMap((t) => (t.rules as readonly AnyRule[]).map((r) => r.when)),
  ] as PlainRow[];
  const flaws: Flaw[] = [];
  let probes = 0;
  for (const column of columns.values())
    for (const cut of column.cuts)
      for (const value of [cut - 1e-7, cut, cut + 1e-7])
        for (const row of rows) {
          const span = row[column.name] as Span | undefined;
          if (span === undefined) continue;
          probes++;
          const inside = value >= span.from && value < span.under;
          if (fitting(span, column, "a row").has(encoded(column, value)) !== inside)
            flaws.push({
              what: `${column.name} ${value} against ${span.from} to ${span.under}`,
              witness: { [column.name]: value } as Facts,
            });
        }
  return { flaws, probes };
}

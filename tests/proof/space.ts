/** The whole space of complete records, as statements made from the shipped rules, and the way back from a statement to a record. */
import type { Effect } from "../../src/pathway/hand/effects.ts";
import { type InjuryModule, type Pathway, pathwayFor, URGENCIES, type Urgency } from "../../src/pathway/index.ts";
import type { EffectTable } from "../../src/pathway/module.ts";
import { leftBehind, undefinedStatements } from "../../src/pathway/possible.ts";
import type { Column } from "../../src/pathway/reasoning/columns.ts";
import type { AnyRule, AnySign, Facts } from "../../src/pathway/reasoning/program.ts";
import { type Node, OPEN, type PlainRow, type Statements } from "../../src/pathway/reasoning/statements.ts";
import { ADULT } from "../pathway/distal-phalanx/records.ts";

/** What a check found, and a record that shows it. */
export interface Flaw {
  readonly what: string;
  readonly witness: Facts;
}
export interface ProvenRule {
  readonly rule: AnyRule;
  readonly table: EffectTable;
  readonly effects: readonly Effect[];
  /** All its cells are satisfied. */
  readonly holds: Node;
  /** It holds and no exit silences its table. */
  readonly heard: Node;
}
export interface Space {
  readonly pathway: Pathway;
  readonly statements: Statements;
  /** Every finding has an answer. */
  readonly complete: Node;
  /** An exit that leaves the ordinary pathway holds. */
  readonly left: Node;
  readonly rules: readonly ProvenRule[];
  /** Number of complete records, each number counted once per band that the rules tell apart. */
  readonly records: number;
}

export function spaceOf(pathway: Pathway): Space {
  const statements = undefinedStatements(pathway);
  for (const sign of pathway.signs) statements.define(sign);
  const { diagrams, mayStayOpen } = statements;
  const answered = (v: number) => diagrams.among(v, new Set(diagrams.domains[v]!.filter((code) => code > 0)));
  const complete = diagrams.all([...mayStayOpen].map(answered));
  const left = leftBehind(statements, pathway.tables);
  const ordinary = diagrams.not(left);
  const rules = pathway.tables.flatMap((table) =>
    (table.rules as readonly AnyRule[]).map((rule): ProvenRule => {
      const holds = statements.row(rule.when as PlainRow);
      const effects = rule.then as readonly Effect[];
      return { rule, table, effects, holds, heard: table.ordinary ? diagrams.and(holds, ordinary) : holds };
    }),
  );
  return { pathway, statements, complete, left, rules, records: diagrams.count(complete) };
}

/** The same module with other tables or signs, under the same policy: how faults are planted. */
export function changed(
  pathway: Pathway,
  change: {
    tables?: (tables: readonly EffectTable[]) => readonly EffectTable[];
    signs?: (signs: readonly AnySign[]) => readonly AnySign[];
  },
): Space {
  const tables = change.tables?.(pathway.tables) ?? pathway.tables;
  const signs = change.signs?.(pathway.signs) ?? pathway.signs;
  const module: InjuryModule = { ...pathway.module, tables: () => tables, signs: () => signs };
  return spaceOf(pathwayFor(module, pathway.policy));
}

/** A value that has this code; for a band of numbers its lowest one inside the plausible bounds. */
export function valueFor(column: Column, code: number, pathway: Pathway): string | number {
  if (column.codes) return [...column.codes].find(([, c]) => c === code)![0];
  const definition = pathway.module.findings[column.name] as { min: number };
  return Math.max(definition.min, column.cuts[code - 2] ?? definition.min);
}
/** A record with these codes; what is `OPEN` gets an ordinary answer, since any will do, and what stays unanswered is left out. */
export function recordOf(space: Space, codes: Uint8Array): Record<string, string | number> {
  const { statements, pathway } = space;
  const ordinary = statements.codesOf(ADULT);
  const facts: Record<string, string | number> = {};
  statements.variables.forEach((column, v) => {
    const some = ordinary[v] === OPEN ? statements.diagrams.domains[v]!.at(-1)! : ordinary[v]!;
    const code = codes[v] === OPEN ? some : codes[v]!;
    if (code > 0) facts[column.name] = valueFor(column, code, pathway);
  });
  return facts;
}
/** A record for which the statement holds, as ordinary as it can be; undefined if there is none. */
export function witnessOf(space: Space, statement: Node): Facts | undefined {
  const { statements } = space;
  const codes = statements.diagrams.witness(statement, statements.codesOf(ADULT));
  return codes && recordOf(space, codes);
}
/** One flaw with a witness if the statement holds for some complete record; none if it never does. */
export function never(space: Space, statement: Node, what: string): Flaw[] {
  const { diagrams } = space.statements;
  const witness = witnessOf(space, diagrams.and(statement, space.complete));
  return witness ? [{ what, witness }] : [];
}
/** One flaw if the first statement holds for some complete record without the second. */
export const always = (space: Space, given: Node, then: Node, what: string): Flaw[] =>
  never(space, space.statements.diagrams.and(given, space.statements.diagrams.not(then)), what);

/** Some heard rule has such an effect. */
export const someSays = (space: Space, says: (effect: Effect) => boolean): Node =>
  space.statements.diagrams.any(space.rules.filter((r) => r.effects.some(says)).map((r) => r.heard));
export const urgencyOf = (effect: Effect): Urgency | undefined =>
  effect.kind === "exit" || effect.kind === "urgency" ? effect.urgency : undefined;
/** The urgency is this one or a more urgent one. */
export const atLeast = (space: Space, urgency: Urgency): Node =>
  someSays(space, (effect) => {
    const said = urgencyOf(effect);
    return said !== undefined && URGENCIES.indexOf(said) <= URGENCIES.indexOf(urgency);
  });

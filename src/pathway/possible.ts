import type { Pathway } from "./assess.ts";
import { clinicalOrder } from "./clinical-order.ts";
import type { Effect } from "./hand/effects.ts";
import type { EffectTable } from "./module.ts";
import { UNKNOWN } from "./reasoning/columns.ts";
import { isAbsent } from "./reasoning/known.ts";
import { type AnyRule, atOnce, type Facts, type Trace, type Verdict } from "./reasoning/program.ts";
import { ALWAYS, NEVER, type Node, OPEN, type PlainRow, readUntilShown, Statements } from "./reasoning/statements.ts";

/**
 * What a partial record leaves open, exactly: a rule is sure when every way to answer the open findings makes it hold, possible when some way
 * does, and a finding is open when its answer can still change what is said. (Three-valued logic alone calls too much possible: it does not
 * see that two rows together cover every case, or that one missing answer cannot be both.)
 */
export interface Possibilities {
  /** In the order of the tables. `sure` stands whatever is answered; only the answer that ends a standing danger may take it back. */
  readonly verdicts: readonly ExactVerdict[];
  /** Findings without a value whose answer can still change something, natural clinical order. */
  readonly open: readonly string[];
  /** Those of them that keep a red flag open. */
  readonly gate: readonly string[];
  /** A sign as things stand; undefined for what is no sign. */
  readonly sign: (name: string) => "yes" | "no" | "not-asked" | undefined;
}
export interface ExactVerdict extends Verdict {
  /** Possible rules that speak all the same, by their cautious reading. */
  readonly assumed?: readonly AnyRule[];
}

/** A rule speaks when `holds`; it is heard when no exit silences it as well. */
interface Stated {
  readonly rule: AnyRule;
  readonly table: number;
  /** Where it stands in `standing`. */
  readonly holds: number;
  /** Where it stands in `roots`. */
  readonly heard: number;
  /** Where all cells but the one that the cautious reading leaves out stand in `standing`; -1 without such a reading. */
  readonly assumed: number;
}
/** The rules of a pathway as statements, and the last record they were narrowed to. */
interface Kept {
  readonly statements: Statements;
  readonly rules: readonly Stated[];
  readonly gate: readonly number[];
  /** For each variable the places in `roots` of what is heard, checks apart, and hangs on it. */
  readonly heardOn: readonly (readonly number[])[];
  /** Where it stands in `roots` that figures are shown, and the findings they then read; -1 without figures. */
  readonly figures: number;
  readonly roots: readonly Node[];
  /** Those of the roots that are also read as things stand. */
  readonly standing: readonly number[];
  readonly nodes: number;
  codes: Uint8Array;
  narrowed: readonly Node[];
}

const kept = new WeakMap<Pathway, Kept>();
/** Nodes that narrowing may add before they are thrown away; enough for several cases answered one by one. */
const SPARE_NODES = 49_152;

export const leavesPathway = (rule: AnyRule): boolean =>
  (rule.then as readonly Effect[]).some((effect) => effect.kind === "exit" && effect.leaves);

/** Some exit that leaves the ordinary pathway holds. */
export const leftBehind = (statements: Statements, tables: readonly EffectTable[]): Node =>
  statements.diagrams.any(
    tables.flatMap((t) => t.rules.filter(leavesPathway).map((r) => statements.row(r.when as PlainRow))),
  );

/** The rows of a pathway as statements, before its signs are defined. */
export const undefinedStatements = ({ module, signs, tables }: Pathway) =>
  new Statements({ findings: module.findings, signs, tables }, clinicalOrder(module));

/**
 * Makes ready, step by step, what the first partial record would otherwise wait for: some hundredths of a second altogether. Who runs the
 * steps may take a breath between them.
 */
export function* makingReady(pathway: Pathway): Generator<void, void> {
  if (!kept.has(pathway)) kept.set(pathway, yield* building(pathway));
}
/** All steps at once. */
export function makeReady(pathway: Pathway): void {
  atOnce(makingReady(pathway));
}

function keptOf(pathway: Pathway): Kept {
  makeReady(pathway);
  return kept.get(pathway)!;
}

function* building(pathway: Pathway): Generator<void, Kept> {
  const { module, tables } = pathway;
  const statements = undefinedStatements(pathway);
  for (const sign of pathway.signs) {
    statements.define(sign);
    yield;
  }
  const { diagrams } = statements;
  const ordinaryHeard = diagrams.not(leftBehind(statements, tables));
  const roots: Node[] = [];
  const standing: number[] = [];
  const root = (node: Node) => roots.push(node) - 1;
  const stands = (at: number) => standing.push(at) - 1;
  const rules: Stated[] = [];
  const gate: number[] = [];
  for (const [t, table] of tables.entries()) {
    for (const rule of table.rules as readonly AnyRule[]) {
      yield;
      const row = rule.when as PlainRow;
      const node = statements.row(row);
      const at = root(node);
      const heard = table.ordinary ? root(diagrams.and(node, ordinaryHeard)) : at;
      const { [rule.assume?.column ?? ""]: _, ...others } = row;
      rules.push({
        rule,
        table: t,
        holds: stands(at),
        heard,
        assumed: rule.assume ? stands(root(statements.row(others))) : -1,
      });
      if (table.gate) gate.push(heard);
    }
  }
  const figures = module.figuresRead ? root(statements.row(module.figuresRead.when as PlainRow)) : -1;
  diagrams.keep();
  const heard = [...new Set(rules.filter((r) => !tables[r.table]!.checks).map((r) => r.heard))];
  return {
    statements,
    rules,
    gate,
    heardOn: statements.variables.map((_, v) => heard.filter((at) => diagrams.hangsOn(roots[at]!, v))),
    figures,
    roots,
    standing,
    nodes: diagrams.nodes,
    codes: new Uint8Array(statements.variables.length).fill(OPEN),
    narrowed: roots,
  };
}

/** Statements to narrow to a record. Answers come one by one, so the last record is the usual place to start from. */
function before(all: Kept, codes: Uint8Array): readonly Node[] {
  const { diagrams } = all.statements;
  if (diagrams.nodes > all.nodes + SPARE_NODES) {
    diagrams.forget();
    all.codes = new Uint8Array(codes.length).fill(OPEN);
    all.narrowed = all.roots;
  }
  const more = all.codes.every((code, v) => code === OPEN || code === codes[v]);
  return more ? all.narrowed : all.roots;
}
/** All statements narrowed to one record. */
function narrow(all: Kept, codes: Uint8Array): readonly Node[] {
  all.narrowed = all.statements.diagrams.restrict(before(all, codes), codes);
  all.codes = codes;
  return all.narrowed;
}

/**
 * The first finding, red flags before all else, then in the natural clinical order, that is open and was not answered "cannot tell". It is
 * what `possibilities` gives, without the work for all that comes after it.
 */
export function firstOpen(pathway: Pathway, facts: Facts): string | undefined {
  if (closed(pathway, facts, pathway.evaluate(facts))) return undefined;
  const all = keptOf(pathway);
  const { diagrams, variables, mayStayOpen } = all.statements;
  const codes = all.statements.codesOf(facts);
  const roots = before(all, codes);
  const asked = (name: string) => facts[name] !== "cannot-tell";
  const standing = Uint8Array.from(codes, (code, v) => (code === OPEN && mayStayOpen.has(v) ? UNKNOWN : code));
  const flag = gateOf(
    all,
    diagrams.restrict(
      all.gate.map((at) => roots[at]!),
      codes,
    ),
    standing,
    facts,
  ).find(asked);
  if (flag) return flag;
  const narrowed = diagrams.narrowing(codes);
  const shown = all.figures >= 0 ? narrowed(roots[all.figures]!) : NEVER;
  const read = (name: string, v: number) =>
    shown !== NEVER && (diagrams.hangsOn(shown, v) || pathway.module.figuresRead!.findings.includes(name));
  return variables.find(
    ({ name }, v) =>
      codes[v] === OPEN &&
      asked(name) &&
      (read(name, v) || all.heardOn[v]!.some((at) => diagrams.hangsOn(narrowed(roots[at]!), v))),
  )?.name;
}

/** @param trace the three-valued evaluation of the same facts: where it leaves nothing open it is exact, and quicker */
export function possibilities(pathway: Pathway, facts: Facts, trace: Trace = pathway.evaluate(facts)): Possibilities {
  if (closed(pathway, facts, trace))
    return { verdicts: trace.verdicts, open: NONE, gate: NONE, sign: (name) => trace.signs[name] };
  const all = keptOf(pathway);
  const { statements, rules } = all;
  const { diagrams, variables, mayStayOpen } = statements;
  const codes = statements.codesOf(facts);
  const narrowed = narrow(all, codes);
  // As things stand, what may stay unanswered has not been answered.
  const standing = Uint8Array.from(codes, (code, v) => (code === OPEN && mayStayOpen.has(v) ? UNKNOWN : code));
  const now = diagrams.restrict(
    all.standing.map((at) => narrowed[at]!),
    standing,
  );

  const verdicts = pathway.tables.map((table) => ({
    table,
    sure: [] as AnyRule[],
    possible: [] as AnyRule[],
    assumed: [] as AnyRule[],
  }));
  const heard: Node[] = [];
  for (const { rule, table, holds, heard: at, assumed } of rules) {
    const verdict = verdicts[table]!;
    const isHeard = narrowed[at]!;
    if (!(verdict.table as EffectTable).checks) heard.push(isHeard);
    if (now[holds] === ALWAYS) verdict.sure.push(rule);
    else if (isHeard !== NEVER) {
      verdict.possible.push(rule);
      if (assumed >= 0 && now[assumed] === ALWAYS) verdict.assumed.push(rule);
    }
  }
  const open = diagrams.support(heard);
  if (all.figures >= 0 && narrowed[all.figures] !== NEVER) {
    for (const v of diagrams.support([narrowed[all.figures]!])) open.add(v);
    variables.forEach((column, v) => {
      if (codes[v] === OPEN && pathway.module.figuresRead!.findings.includes(column.name)) open.add(v);
    });
  }
  return {
    verdicts,
    open: variables.flatMap((column, v) => (open.has(v) ? column.name : [])),
    gate: gateOf(
      all,
      all.gate.map((at) => narrowed[at]!),
      standing,
      facts,
    ),
    sign: (name) => (statements.signs.has(name) ? signState(statements, name, standing) : undefined),
  };
}

const NONE: readonly never[] = [];

/** Three-valued logic has decided every rule, nothing that may end a danger is unanswered, and the figures lack nothing. */
function closed({ module, signs }: Pathway, facts: Facts, trace: Trace): boolean {
  for (const { possible } of trace.verdicts) if (possible.length > 0) return false;
  const absent = (finding: string) => {
    const value = facts[finding];
    return value === undefined || isAbsent(value);
  };
  const { figuresRead } = module;
  if (figuresRead?.findings.some(absent)) {
    const when = figuresRead.when as PlainRow;
    if (Object.keys(when).every((sign) => trace.signs[sign] === when[sign] || trace.signs[sign] === "not-asked"))
      return false;
  }
  return !readUntilShown(signs).some(absent);
}

/**
 * Findings that keep a red flag open. One that only ends a danger does so while nothing else shows the danger: when nobody can judge the tip,
 * the danger stands and is said, and looking again is offered like any other question.
 */
function gateOf(all: Kept, roots: readonly Node[], standing: Uint8Array, facts: Facts): string[] {
  const { diagrams, variables, mayStayOpen } = all.statements;
  const open = diagrams.support(roots);
  return variables.flatMap(({ name }, v) => {
    if (!open.has(v)) return [];
    if (!mayStayOpen.has(v) || facts[name] === "cannot-tell") return name;
    const alone = standing.slice();
    alone[v] = OPEN;
    return diagrams.support(diagrams.restrict(roots, alone)).has(v) ? name : [];
  });
}

function signState(statements: Statements, name: string, standing: Uint8Array): "yes" | "no" | "not-asked" {
  const sign = statements.signs.get(name)!;
  const [yes, no] = statements.diagrams.restrict([sign.yes, sign.no], standing);
  return yes === ALWAYS ? "yes" : no === ALWAYS ? "no" : "not-asked";
}

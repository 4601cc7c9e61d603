import { type Column, codesOf, columnsOf, encode, fitting, NO, UNKNOWN, YES } from "./columns.ts";
import { Diagrams, NEVER, type Node, OPEN } from "./diagram.ts";
import type { AnySign, Facts, Program } from "./program.ts";

export { ALWAYS, NEVER, type Node, OPEN } from "./diagram.ts";

/** A sign as two statements over findings. Only where it reads what may stay unanswered can a record make neither hold. */
export interface SignStatements {
  readonly yes: Node;
  readonly no: Node;
}

/**
 * The rows of a program as statements about findings alone: a sign in a row is replaced by what it means.
 *
 * A statement speaks of complete records: each finding has one of the values that the rules tell apart. One kind of finding may also stay
 * without an answer for good: what a sign reads that counts as "no" until it is shown. "Not shown" is then a state in which rules speak, so
 * such a finding has one more value, `UNKNOWN`, that satisfies no cell and contradicts none.
 */
export class Statements {
  readonly diagrams: Diagrams;
  /** The finding that each variable stands for. */
  readonly variables: readonly Column[];
  readonly signs = new Map<string, SignStatements>();
  /** Variables that may stay without an answer for good. */
  readonly mayStayOpen: ReadonlySet<number>;
  private readonly columns: ReadonlyMap<string, Column>;
  private readonly variableOf: ReadonlyMap<string, number>;

  /**
   * @param order the findings in the order in which they are asked; it is also a good order of variables, as what belongs together is
   *   asked together, and the exits that silence other rules come first
   */
  constructor(program: Program, order: readonly string[]) {
    this.columns = columnsOf(program.findings, program.signs, program.tables);
    this.variables = order.map((name) => this.columns.get(name)!);
    this.variableOf = new Map(order.map((name, i) => [name, i]));
    this.mayStayOpen = new Set(readUntilShown(program.signs).map((name) => this.variableOf.get(name)!));
    this.diagrams = new Diagrams(
      this.variables.map((column, v) => {
        const codes = reachable(column, program.findings[column.name]!);
        return this.mayStayOpen.has(v) ? [UNKNOWN, ...codes] : codes;
      }),
    );
  }

  /** Takes up a sign of the program; in their order, and all of them before rows are read. */
  define(sign: AnySign): void {
    const rows = sign.any as readonly PlainRow[];
    const yes = this.diagrams.any(rows.map((row) => this.row(row)));
    this.signs.set(sign.name, { yes, no: this.noOf(sign, rows, yes) });
  }

  /** All cells of the row are satisfied. Cells may name any finding or sign of the program. */
  row(row: PlainRow): Node {
    return this.diagrams.all(
      Object.entries(row).map(([name, cell]) => this.among(name, fitting(cell, this.columns.get(name)!, "a row"))),
    );
  }

  /** One code for each variable: `OPEN` for a finding that is not known. @throws Error for a value that a finding cannot have. */
  codesOf(facts: Facts): Uint8Array {
    const codes = new Uint8Array(this.variables.length);
    this.variables.forEach((column, v) => {
      codes[v] = encode(column, facts[column.name]) || OPEN;
    });
    return codes;
  }

  private noOf(sign: AnySign, rows: readonly PlainRow[], yes: Node): Node {
    const { diagrams } = this;
    if (sign.noUntilShown || ![...diagrams.support([yes])].some((v) => this.mayStayOpen.has(v)))
      return diagrams.not(yes);
    const broken = (row: PlainRow) =>
      diagrams.any(
        Object.entries(row).map(([name, cell]) => {
          const column = this.columns.get(name)!;
          const fits = fitting(cell, column, sign.name);
          return this.among(name, new Set(range(1, codesOf(column)).filter((code) => !fits.has(code))));
        }),
      );
    return diagrams.all(rows.map(broken));
  }
  private among(name: string, codes: ReadonlySet<number>): Node {
    const sign = this.signs.get(name);
    if (!sign) return this.diagrams.among(this.variableOf.get(name)!, codes);
    const either = [codes.has(YES) ? sign.yes : NEVER, codes.has(NO) ? sign.no : NEVER];
    return this.diagrams.any(either);
  }
}

export type PlainRow = Readonly<Record<string, unknown>>;
const range = (from: number, under: number) => Array.from({ length: Math.max(0, under - from) }, (_, i) => from + i);

/** Codes of the values that input may have: bands outside the plausible bounds of a number are no values. */
function reachable(column: Column, definition: Program["findings"][string]): number[] {
  const codes = range(1, codesOf(column));
  if (definition.type === "choice") return codes;
  const [lowest, highest] = [encode(column, definition.min), encode(column, definition.max)];
  return codes.filter((code) => code >= lowest && code <= highest);
}

const endings = new WeakMap<readonly AnySign[], readonly string[]>();
/** Findings that a sign which counts as "no" until it is shown reads, itself or through earlier signs. Kept: each assessment needs them. */
export function readUntilShown(signs: readonly AnySign[]): readonly string[] {
  const known = endings.get(signs);
  if (known) return known;
  const bySign = new Map(signs.map((s) => [s.name, s]));
  const findings = new Set<string>();
  const follow = (sign: AnySign) => {
    for (const row of sign.any as readonly PlainRow[])
      for (const name of Object.keys(row)) {
        const inner = bySign.get(name);
        if (inner) follow(inner);
        else findings.add(name);
      }
  };
  for (const sign of signs) if (sign.noUntilShown) follow(sign);
  const made = [...findings];
  endings.set(signs, made);
  return made;
}

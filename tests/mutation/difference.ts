/** Looks for a complete record that shows the difference between a row as written and the same row with a fault in it. */

import type { FindingDefinitions } from "../../src/pathway/reasoning/finding.ts";
import type { AnySign, AnyTable, compile, Facts } from "../../src/pathway/reasoning/program.ts";
import type { Span } from "../../src/pathway/reasoning/table.ts";

/** "none": every record was ruled out, so the fault changes nothing; "not found": the search was given up. */
export type Difference = { readonly shownBy: Facts } | "none" | "not found";
type When = Readonly<Record<string, unknown>>;

const STEPS = 25_000;
const isSpan = (cell: unknown): cell is Span => typeof cell === "object" && cell !== null && "from" in cell;

/** Values that some row can tell apart, inside the bounds that input is checked against. */
function valuesOf(
  findings: FindingDefinitions,
  rows: readonly When[],
): { [finding: string]: readonly (string | number)[] } {
  return Object.fromEntries(
    Object.entries(findings).map(([id, d]) => {
      if (d.type === "choice") return [id, d.values];
      const spans = rows.map((row) => row[id]).filter(isSpan);
      const limits = spans.flatMap((s) => [s.from, s.under]).filter((n) => n > d.min && n <= d.max);
      return [id, [...new Set([d.min, ...limits])].sort((a, b) => a - b)];
    }),
  );
}

/**
 * Searches completely, as far as `STEPS` evaluations reach: a finding is given each of its values only while it still matters.
 * A sign that is "no until shown" is searched as an ordinary sign, which is the same for a complete record.
 */
export function differenceOf(
  evaluateWith: typeof compile,
  findings: FindingDefinitions,
  signs: readonly AnySign[],
  was: When,
  now: When,
): Difference {
  const plain = signs.map(({ noUntilShown: _, ...sign }): AnySign => sign);
  const bySign = new Map(plain.map((s) => [s.name, s]));
  const rule = (id: string, when: When) => ({ id, when, then: [], because: "", sources: [] });
  const table = { id: "fault", question: "", answers: "every", rules: [rule("was", was), rule("now", now)] };
  const evaluate = evaluateWith({ findings, signs: plain, tables: [table as unknown as AnyTable] });
  const values = valuesOf(findings, [was, now, ...plain.flatMap((s) => s.any as readonly When[])]);
  const facts: Record<string, string | number> = {};
  let steps = 0;
  const search = (): boolean | undefined => {
    if (++steps > STEPS) return undefined;
    const { verdicts, signs: shown } = evaluate(facts);
    const { sure, possible } = verdicts[0]!;
    if (possible.length === 0) return sure.length === 1;
    const next = openFinding(possible[0]!.when as When, facts, shown, bySign);
    if (next === undefined) return false;
    for (const value of values[next]!) {
      facts[next] = value;
      const found = search();
      if (found !== false) return found;
    }
    delete facts[next];
    return false;
  };
  const found = search();
  return found === undefined ? "not found" : found ? { shownBy: { ...facts } } : "none";
}

function openFinding(
  row: When,
  facts: Facts,
  shown: { readonly [sign: string]: string },
  bySign: ReadonlyMap<string, AnySign>,
): string | undefined {
  for (const column of Object.keys(row)) {
    const sign = bySign.get(column);
    if (!sign) {
      if (facts[column] === undefined) return column;
    } else if (shown[column] === "not-asked")
      for (const inner of sign.any as readonly When[]) {
        if (contradicted(inner, facts, shown)) continue;
        const open = openFinding(inner, facts, shown, bySign);
        if (open !== undefined) return open;
      }
  }
  return undefined;
}
function contradicted(row: When, facts: Facts, shown: { readonly [sign: string]: string }): boolean {
  return Object.entries(row).some(([column, cell]) => {
    const value = shown[column] === "not-asked" ? undefined : (shown[column] ?? facts[column]);
    if (value === undefined) return false;
    if (typeof value === "number") return !(value >= (cell as Span).from && value < (cell as Span).under);
    return Array.isArray(cell) ? !cell.includes(value) : cell !== value;
  });
}

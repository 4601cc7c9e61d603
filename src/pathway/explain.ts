import type { Pathway } from "./assess.ts";
import type { Reason, UsedFinding } from "./assessment.ts";
import { isAbsent } from "./reasoning/known.ts";
import type { AnyRule, Facts } from "./reasoning/program.ts";
import { fits } from "./reasoning/table.ts";

interface Names {
  readonly rules: ReadonlyMap<string, AnyRule>;
  readonly signs: ReadonlyMap<string, Pathway["signs"][number]>;
}
const NAMES = new WeakMap<Pathway, Names>();
/** Rules and signs by their names, looked through once for each pathway. */
function namesIn(pathway: Pathway): Names {
  const known = NAMES.get(pathway);
  if (known) return known;
  const names: Names = {
    rules: new Map(pathway.tables.flatMap((t) => t.rules.map((r) => [r.id, r as AnyRule] as const))),
    signs: new Map(pathway.signs.map((s) => [s.name, s])),
  };
  NAMES.set(pathway, names);
  return names;
}

/**
 * Why a rule speaks: its sentence, its sources, and only the findings that mattered. A sign is followed down to the
 * findings that made it yes (the first row that holds) or no (one contradicting finding of each row).
 *
 * @throws Error for a rule id that the pathway does not know.
 */
export function explain(pathway: Pathway, facts: Facts, ruleId: string): Reason {
  const { rules, signs: bySign } = namesIn(pathway);
  const rule = rules.get(ruleId);
  if (!rule) throw new Error(`no rule "${ruleId}" in ${pathway.module.id}`);
  const used = new Map<string, UsedFinding>();
  const signs: Facts = pathway.evaluate(facts).signs;
  const note = (column: string) => {
    const sign = bySign.get(column);
    if (!sign) {
      const value = facts[column];
      if (value !== undefined && !isAbsent(value)) used.set(column, { finding: column, value });
      return;
    }
    const rows = sign.any as readonly Record<string, unknown>[];
    if (signs[column] === "yes") {
      // A sign that is "yes" has such a row.
      const holding = rows.find((row) =>
        Object.entries(row).every(([c, cell]) => fits(cell, signs[c] ?? facts[c]) === true),
      )!;
      for (const c of Object.keys(holding)) note(c);
    } else {
      for (const row of rows) {
        const broken = Object.entries(row).find(([c, cell]) => fits(cell, signs[c] ?? facts[c]) === false);
        if (broken) note(broken[0]);
      }
    }
  };
  for (const column of Object.keys(rule.when)) note(column);
  return { rule: rule.id, because: rule.because, used: [...used.values()], sources: rule.sources };
}

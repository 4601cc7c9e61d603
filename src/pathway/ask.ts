import type { InjuryModule } from "./module.ts";
import { isAbsent } from "./reasoning/known.ts";
import type { AnySign, Facts, Trace, Verdict } from "./reasoning/program.ts";
import { fits } from "./reasoning/table.ts";

export interface OpenFindings {
  /** Not yet asked, and an answer can still change something; natural clinical order. */
  readonly ask: readonly string[];
  /** Answered "cannot tell", and still mattering. */
  readonly cannotTell: readonly string[];
}

/** The findings that the still possible rules wait for. A sign is followed down to the findings that keep it open. */
export function openFindings(
  module: InjuryModule,
  signs: readonly AnySign[],
  facts: Facts,
  trace: Trace,
  verdicts: readonly Verdict[],
  alsoNeeded: readonly string[],
): OpenFindings {
  const bySign = signsByName(signs);
  const open = new Set<string>(alsoNeeded.filter((f) => facts[f] === undefined || isAbsent(facts[f])));
  const done = new Set<string>();
  const follow = (row: Readonly<Record<string, unknown>>) => {
    for (const column in row) {
      const sign = bySign.get(column);
      if (!sign) {
        if (facts[column] === undefined || isAbsent(facts[column])) open.add(column);
      } else if (trace.signs[column] === "not-asked" && !done.has(column)) {
        done.add(column);
        for (const inner of sign.any)
          if (!contradicted(inner as Record<string, unknown>, facts, trace)) follow(inner as Record<string, unknown>);
      }
    }
  };
  for (const verdict of verdicts) for (const rule of verdict.possible) follow(rule.when);
  const ask: string[] = [];
  const cannotTell: string[] = [];
  if (open.size > 0)
    for (const finding of clinicalOrder(module))
      if (open.has(finding)) (facts[finding] === "cannot-tell" ? cannotTell : ask).push(finding);
  return { ask, cannotTell };
}

const names = new WeakMap<readonly AnySign[], ReadonlyMap<string, AnySign>>();
/** The signs of a pathway by name; kept, since each assessment needs them twice. */
function signsByName(signs: readonly AnySign[]): ReadonlyMap<string, AnySign> {
  const kept = names.get(signs);
  if (kept) return kept;
  const made = new Map(signs.map((s) => [s.name, s]));
  names.set(signs, made);
  return made;
}

function contradicted(row: Readonly<Record<string, unknown>>, facts: Facts, trace: Trace): boolean {
  for (const column in row) if (fits(row[column], trace.signs[column] ?? facts[column]) === false) return true;
  return false;
}

const orders = new WeakMap<InjuryModule, readonly string[]>();
/** All findings of a module: those of its groups in their order, then the rest. Kept, since each assessment needs it twice. */
function clinicalOrder(module: InjuryModule): readonly string[] {
  const kept = orders.get(module);
  if (kept) return kept;
  const order = [...new Set([...module.groups.flatMap((g) => g.findings), ...Object.keys(module.findings)])];
  orders.set(module, order);
  return order;
}

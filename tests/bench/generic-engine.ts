import { type ConditionProperties, Engine, type NestedCondition, type TopLevelCondition } from "json-rules-engine";
import type { AnyRule, AnySign } from "../../src/pathway/reasoning/program.ts";
import type { Span } from "../../src/pathway/reasoning/table.ts";

type Cells = Readonly<Record<string, unknown>>;

/**
 * The same rules for the generic engine, in the form that serves it best: each row is an "all"; each sign is a rule of
 * its own that runs before those that read it and leaves its answer as a fact (the engine's own way to chain rules).
 * Writing the signs out inside every row gives the same answers some hundred times more slowly.
 */
export function genericEngine(rules: readonly AnyRule[], signs: readonly AnySign[]): Engine {
  const engine = new Engine();
  const depth = new Map<string, number>();
  for (const sign of signs) {
    const rows = sign.any as readonly Cells[];
    depth.set(sign.name, 1 + Math.max(0, ...rows.flatMap((row) => Object.keys(row).map((c) => depth.get(c) ?? 0))));
  }
  const deepest = Math.max(0, ...depth.values());
  for (const sign of signs)
    engine.addRule({
      name: sign.name,
      // Rules of a higher priority run first; those of one priority run together.
      priority: 2 + deepest - depth.get(sign.name)!,
      conditions: { any: (sign.any as readonly Cells[]).map(row) } as TopLevelCondition,
      event: { type: "sign" },
      onSuccess: (_event, almanac) => almanac.addRuntimeFact(sign.name, "yes"),
      onFailure: (_event, almanac) => almanac.addRuntimeFact(sign.name, "no"),
    });
  for (const rule of rules)
    engine.addRule({
      name: rule.id,
      priority: 1,
      conditions: row(rule.when as Cells) as TopLevelCondition,
      event: { type: rule.id },
    });
  return engine;
}

const row = (cells: Cells): NestedCondition => ({
  all: Object.entries(cells).flatMap(([column, cell]) => conditions(column, cell)),
});

function conditions(fact: string, cell: unknown): ConditionProperties[] {
  if (typeof cell === "object" && cell !== null && "from" in cell) {
    const { from, under } = cell as Span;
    return [
      ...(Number.isFinite(from) ? [{ fact, operator: "greaterThanInclusive", value: from }] : []),
      ...(Number.isFinite(under) ? [{ fact, operator: "lessThan", value: under }] : []),
    ];
  }
  return [{ fact, operator: Array.isArray(cell) ? "in" : "equal", value: cell }];
}

/** Ids of the rules that fire, sorted. */
export async function firedBy(engine: Engine, record: Record<string, string | number>): Promise<string[]> {
  const { events } = await engine.run(record);
  return events
    .map((event) => event.type)
    .filter((type) => type !== "sign")
    .sort();
}

import { mkdirSync, writeFileSync } from "node:fs";
import { join, relative } from "node:path";
import { afterAll, expect, vi } from "vitest";
import type * as Reasoning from "../../../src/pathway/reasoning/program.ts";
import { HEARD } from "./collect.ts";

const spoken = vi.hoisted(() => new Set<string>());

/** Every evaluation comes from `compile` or `compiling`, so what it gives back is everything that speaks in a test. */
vi.mock("../../../src/pathway/reasoning/program.ts", async (original) => {
  const real = await original<typeof Reasoning>();
  const heard = (evaluate: ReturnType<typeof real.compile>) => (facts: Reasoning.Facts) => {
    const trace = evaluate(facts);
    for (const { sure } of trace.verdicts) for (const rule of sure) spoken.add(rule.id);
    return trace;
  };
  return {
    ...real,
    compile: (program: Reasoning.Program) => heard(real.compile(program)),
    *compiling(program: Reasoning.Program) {
      return heard(yield* real.compiling(program));
    },
  };
});

afterAll(() => {
  const file = relative(process.cwd(), expect.getState().testPath!).replaceAll("\\", "/");
  if (spoken.size === 0) return;
  mkdirSync(HEARD, { recursive: true });
  writeFileSync(join(HEARD, `${encodeURIComponent(file)}.json`), JSON.stringify([...spoken].sort()));
});

/** Runs the tests of the rules against one planted fault after the other, each time from freshly evaluated code, until the first fails. */
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { Script } from "node:vm";
import {
  ASYMMETRIC_MATCHERS_OBJECT,
  chai,
  getState,
  JestAsymmetricMatchers,
  JestChaiExpect,
  JestExtend,
  setState,
} from "@vitest/expect";
import * as runner from "@vitest/runner";
import fc from "fast-check";
import type * as Pathway from "../../src/pathway/index.ts";
import type { EffectTable, InjuryModule, PolicyDefinitions, SitePolicy } from "../../src/pathway/index.ts";
import type * as Program from "../../src/pathway/reasoning/program.ts";
import type { Facts, Trace } from "../../src/pathway/reasoning/program.ts";
import type { Bundle } from "./bundle.ts";
import { type Difference, differenceOf } from "./difference.ts";
import type { SourceFault } from "./program-text.ts";
import {
  type Domain,
  domainOf,
  type Fault,
  faultsOfExport,
  faultsOfMade,
  hearingFaults,
  signFaults,
  tableFaults,
} from "./rule-mutants.ts";
import "../fixed-seed.ts";

/** A fault to plant: in the data that `name` of `file` holds, or (with an id) in the program text of `file`. */
export interface Planted {
  readonly kind: "rules" | "source";
  readonly file: string;
  readonly name: string;
  readonly key: string;
}
export interface Outcome {
  readonly end: "killed" | "survived" | "timed out";
  /** The test that failed. */
  readonly by?: string;
  readonly ms: number;
  readonly ran: number;
  /** Of a survivor: a record that shows the fault, or that none can. */
  readonly difference?: Difference | undefined;
}
export interface Work {
  readonly root: string;
  readonly tests: readonly string[];
  /** Tests that hold the rules against a copy of themselves: they count for the pathway book alone. */
  readonly frozen: readonly string[];
  /** Files that each test file imports, directly or by way of others: no other file can make it fail. */
  readonly reads: { readonly [test: string]: readonly string[] };
  readonly rules: Bundle;
  readonly source: Bundle;
  readonly sourceFaults: readonly SourceFault[];
}
/** Generated cases per property: fewer than in a normal run, so a fault is never easier to find here. */
const RUNS = 60;
const LONGEST_MS = 20_000;

type Hook = (file: string, name: string, value: unknown) => unknown;
interface Switches {
  plantFault: Hook;
  faultIsAwake: (id: string) => boolean;
  faultWasReached: (...ids: string[]) => void;
}
const switches = globalThis as unknown as Switches;
const asleep = () => {
  switches.plantFault = (_file, _name, value) => value;
  switches.faultIsAwake = () => false;
  switches.faultWasReached = () => {};
};
asleep();

// The doors of the test runner, without its own process: the same matchers, the same collecting of tests.
chai.use(JestExtend);
chai.use(JestChaiExpect);
chai.use(JestAsymmetricMatchers);
const expect = Object.assign(
  (value: unknown, message?: string) => chai.expect(value, message),
  chai.expect,
  (globalThis as unknown as Record<symbol, object>)[ASYMMETRIC_MATCHERS_OBJECT],
) as unknown as Parameters<typeof setState>[1];
Object.assign(expect, { getState: () => getState(expect), setState: (s: object) => setState(s, expect) });
setState({ assertionCalls: 0, isExpectingAssertions: false, expectedAssertionsNumber: null }, expect);
(globalThis as unknown as Record<symbol, unknown>)[Symbol.for("expect-global")] = expect;

const assert: typeof fc.assert = ((property: never, params: { numRuns?: number } = {}) =>
  fc.assert(property, { ...params, numRuns: Math.min(params.numRuns ?? RUNS, RUNS), endOnFailure: true })) as never;

interface Loaded {
  readonly tests: { readonly [file: string]: () => Promise<unknown> };
  readonly rules: () => Promise<typeof Pathway>;
  readonly program: () => Promise<typeof Program>;
}
type Evaluate = (module: { exports: unknown }, exports: unknown, require: (id: string) => unknown) => void;
async function loader({ code, packages }: Bundle): Promise<() => Loaded> {
  const script = new Script(`(function (module, exports, require) {${code}\n})`, { filename: "rules-and-tests.js" });
  const known = new Map<string, unknown>();
  const native = createRequire(import.meta.url);
  for (const id of packages) {
    if (id.startsWith("node:")) known.set(id, native(id));
    else if (id === "vitest") known.set(id, { ...runner, expect });
    else if (id === "fast-check") {
      const all = { ...fc, assert };
      known.set(id, { __esModule: true, ...all, default: all });
    } else known.set(id, { __esModule: true, ...(await import(id)) });
  }
  return () => {
    const module = { exports: {} as Loaded };
    (script.runInThisContext() as Evaluate)(module, module.exports, (id) => known.get(id));
    return module.exports;
  };
}

interface Test {
  readonly id: string;
  readonly run: () => Promise<void>;
}
const CONFIG = {
  sequence: { hooks: "stack", shuffle: false, concurrent: false, seed: 1 },
  setupFiles: [],
  // No limit by the clock: a test that is only slow on a busy machine has noticed nothing.
  testTimeout: 0,
  hookTimeout: 0,
  maxConcurrency: 1,
  allowOnly: false,
  passWithNoTests: false,
  includeTaskLocation: false,
  retry: 0,
  tags: [],
  strictTags: false,
};
/** The tests of one file, in order; a file that cannot be evaluated is one test that fails. */
async function testsOf(root: string, file: string, load: () => Promise<unknown>): Promise<Test[]> {
  const [collected] = await runner.collectTests([file], {
    config: { ...CONFIG, root },
    trace: (_name: string, a: unknown, b?: unknown) => ((b ?? a) as () => unknown)(),
    importFile: load,
  } as never);
  const failed = collected!.result?.errors?.[0];
  if (failed) return [{ id: `${file}: does not load`, run: () => Promise.reject(new Error(failed.message)) }];
  const tests: Test[] = [];
  const prepared = new Map<object, Promise<void>>();
  const prepare = (suite: object) => {
    if (!prepared.has(suite))
      prepared.set(
        suite,
        (async () => {
          for (const hook of runner.getHooks(suite as never).beforeAll ?? [])
            await (hook as (of: object) => unknown)(suite);
        })(),
      );
    return prepared.get(suite)!;
  };
  const names = new Map<string, number>();
  const walk = (suite: { tasks: unknown[] }, suites: readonly object[], words: string) => {
    for (const task of suite.tasks as { type: string; name: string; tasks: unknown[] }[]) {
      const name = words ? `${words} > ${task.name}` : task.name;
      if (task.type === "suite") walk(task, [...suites, task], name);
      else {
        const times = (names.get(name) ?? 0) + 1;
        names.set(name, times);
        tests.push({
          id: `${file} > ${name}${times > 1 ? ` (${times})` : ""}`,
          run: async () => {
            for (const s of suites) await prepare(s);
            await runner.getFn(task as never)();
          },
        });
      }
    }
  };
  walk(collected!, [collected!], "");
  return tests;
}

/** What a run without any fault tells of one test. */
interface Known {
  readonly id: string;
  readonly file: string;
  readonly ms: number;
  /** Milliseconds until the tests of its file are ready to run: some make a whole book first. */
  readonly loadMs: number;
  /** Rules that spoke in it, sure or possible. */
  readonly rules: Set<string>;
  /** Faults of the program text that it passes by. */
  readonly reached: Set<string>;
}
/** What a worker learns of the tests, passed on to the next so that it is learned once. */
export interface Learned {
  readonly tests: readonly {
    readonly id: string;
    readonly file: string;
    readonly ms: number;
    readonly loadMs: number;
    readonly rules: readonly string[];
    readonly reached: readonly string[];
  }[];
  readonly whileLoading: readonly string[];
}

export class MutationWorker {
  private readonly known: Known[] = [];
  private readonly text = new Map<string, string>();
  private readonly readers = new Map<string, Set<string>>();
  private readonly kills = new Map<string, Map<string, number>>();
  private readonly whileLoading = new Set<string>();
  private readonly work: Work;
  private readonly load: { readonly rules: () => Loaded; readonly source: () => Loaded };
  private domain: Domain = { values: {}, classes: [], drugs: [] };

  private constructor(work: Work, rules: () => Loaded, source: () => Loaded) {
    this.work = work;
    this.load = { rules, source };
  }
  static async begin(work: Work): Promise<MutationWorker> {
    const worker = new MutationWorker(work, await loader(work.rules), await loader(work.source));
    const { MODULES, ...pathway } = await worker.load.rules().rules();
    const policy = pathway.readSitePolicy(undefined);
    if (!policy.ok) throw new Error("the default policy is refused");
    worker.domain = domainOf(MODULES[0]!, MODULES[0]!.tables(policy.policy));
    for (const file of work.tests) {
      worker.text.set(file, readFileSync(`${work.root}/${file}`, "utf8"));
      for (const read of work.reads[file] ?? [])
        worker.readers.set(read, (worker.readers.get(read) ?? new Set()).add(file));
    }
    return worker;
  }

  /** Every fault that can be planted, in rules and in program text. */
  async faults(): Promise<Planted[]> {
    const all = new Map<string, Planted>();
    const seen = new Set<string>();
    const note = (file: string, name: string, faults: readonly Fault<unknown>[]) => {
      for (const { key } of faults) {
        const id = `${file} ${name} ${key}`;
        if (all.has(id)) continue;
        // Findings and questions of the hand stand again in those of the bone.
        if (seen.has(key) && /Array|FINDINGS|POLICY|QUESTIONS|GROUPS|CLASSES/.test(name)) continue;
        seen.add(key);
        all.set(id, { kind: "rules", file, name, key });
      }
    };
    const made = this.planting((file, name, value, isMade) => {
      note(file, name, isMade ? faultsOfMade(value, this.domain) : faultsOfExport(value));
      return value;
    });
    switches.plantFault = made;
    const { MODULES, POLICY_DEFINITIONS, readSitePolicy } = await this.load.rules().rules();
    const policy = readSitePolicy(undefined);
    if (!policy.ok) throw new Error("the default policy is refused");
    for (const one of everyChoice(POLICY_DEFINITIONS, policy.policy))
      for (const module of MODULES) {
        module.signs(one);
        note("src/pathway/distal-phalanx/index.ts", "distalPhalanx", hearingFaults(module.tables(one)));
      }
    asleep();
    return [
      ...all.values(),
      ...this.work.sourceFaults.map(({ id, file, key }): Planted => ({ kind: "source", file, name: id, key })),
    ];
  }

  /** Runs every test without a fault. @returns the tests that fail all the same (there must be none) */
  async learn(): Promise<string[]> {
    const failed: string[] = [];
    for (const [kind, load] of Object.entries(this.load) as ["rules" | "source", () => Loaded][]) {
      let heard = new Set<string>();
      const hear = (trace: Trace) => {
        for (const v of trace.verdicts) for (const r of [...v.sure, ...v.possible]) heard.add(r.id);
        return trace;
      };
      switches.plantFault = (file, name, value) =>
        file.endsWith("program.ts") && name === "compile"
          ? (...args: unknown[]) => {
              const evaluate = (value as (...a: unknown[]) => (facts: Facts) => Trace)(...args);
              return (facts: Facts) => hear(evaluate(facts));
            }
          : value;
      switches.faultWasReached = (...ids) => {
        for (const id of ids) heard.add(id);
      };
      const loaded = load();
      for (const file of this.work.tests) {
        heard = new Set();
        const asked = performance.now();
        const tests = await testsOf(this.work.root, file, loaded.tests[file]!);
        const loadMs = performance.now() - asked;
        if (kind === "source") for (const id of heard) this.whileLoading.add(id);
        for (const test of tests) {
          heard = new Set();
          const begun = performance.now();
          try {
            await test.run();
          } catch (error) {
            failed.push(`${test.id}: ${(error as Error).message}`);
          }
          const ms = performance.now() - begun;
          if (kind === "rules") this.known.push({ id: test.id, file, ms, loadMs, rules: heard, reached: new Set() });
          else for (const id of heard) this.known.find((k) => k.id === test.id)?.reached.add(id);
        }
      }
    }
    asleep();
    return failed;
  }

  learned(): Learned {
    const tests = this.known.map((k) => ({ ...k, rules: [...k.rules], reached: [...k.reached] }));
    return { tests, whileLoading: [...this.whileLoading] };
  }
  relearn({ tests, whileLoading }: Learned): void {
    for (const t of tests) this.known.push({ ...t, rules: new Set(t.rules), reached: new Set(t.reached) });
    for (const id of whileLoading) this.whileLoading.add(id);
  }

  async plant(fault: Planted): Promise<Outcome> {
    const begun = performance.now();
    const end = (outcome: Omit<Outcome, "ms">): Outcome => {
      asleep();
      return { ...outcome, ms: performance.now() - begun };
    };
    if (fault.kind === "rules") {
      switches.plantFault = this.planting((file, name, value, isMade) => {
        if (fault.file !== file || fault.name !== name) return value;
        const faults = isMade ? faultsOfMade(value, this.domain) : faultsOfExport(value);
        const found = faults.find((f) => f.key === fault.key);
        return found ? found.made : value;
      }, fault);
    } else {
      let awake = 0;
      switches.faultIsAwake = (id) => {
        if (id !== fault.name) return false;
        // A loop that never ends passes here again and again.
        if ((++awake & 1023) === 0 && performance.now() - begun > LONGEST_MS) throw new Error(TOO_LONG);
        return true;
      };
    }
    const loaded = this.load[fault.kind]();
    const collected = new Map<string, Map<string, Test>>();
    let ran = 0;
    for (const { id, file } of this.inOrder(fault)) {
      let tests = collected.get(file);
      if (!tests) {
        const all = await testsOf(this.work.root, file, loaded.tests[file]!);
        tests = new Map(all.map((t) => [t.id, t]));
        collected.set(file, tests);
      }
      const test = tests.get(id);
      ran++;
      // A test that is named after a rule is gone with the rule: its file's own tests still stand for it.
      if (!test) {
        const broken = [...tests.keys()].find((t) => t.endsWith(": does not load"));
        if (broken) return end({ end: "killed", by: broken, ran });
        continue;
      }
      try {
        await test.run();
      } catch (error) {
        if ((error as Error).message?.includes(TOO_LONG)) return end({ end: "timed out", by: id, ran });
        this.remember(fault, id);
        return end({ end: "killed", by: id, ran });
      }
      if (performance.now() - begun > 6 * LONGEST_MS) return end({ end: "timed out", ran });
    }
    return end({ end: "survived", ran });
  }

  /** For a fault in a row: whether any complete record can show it. Undefined for faults that always show. */
  async difference(fault: Planted): Promise<Difference | undefined> {
    const change = /^([^/]+)\/(?:when\.|row (\d+)\/)/.exec(fault.key);
    if (fault.kind !== "rules" || !change) return undefined;
    const [, id, row] = change;
    const loaded = this.load.rules();
    const { MODULES, readSitePolicy, POLICY_DEFINITIONS } = await loaded.rules();
    const { compile } = await loaded.program();
    const policy = readSitePolicy(undefined);
    const module = MODULES[0]!;
    if (!policy.ok) return undefined;
    for (const site of everyChoice(POLICY_DEFINITIONS, policy.policy)) {
      const signs = module.signs(site);
      if (row !== undefined) {
        const at = signs.findIndex((s) => s.name === id);
        const made = signFaults(signs, this.domain).find((f) => f.key === fault.key)?.made[at];
        if (!made) continue;
        const both = [...signs.slice(0, at + 1), { ...made, name: "with the fault" }];
        return differenceOf(compile, module.findings, both, { [id!]: "yes" }, { "with the fault": "yes" });
      }
      for (const table of module.tables(site)) {
        const rule = table.rules.find((r) => r.id === id);
        const made = tableFaults(table, this.domain).find((f) => f.key === fault.key)?.made;
        const faulty = made?.rules.find((r) => r.id === id);
        if (rule && faulty) {
          const found = differenceOf(compile, module.findings, signs, rule.when as never, faulty.when as never);
          // A cautious reading leaves a cell out while a record is incomplete, where another cell may be all that holds it back.
          return found === "none" && rule.assume ? "not found" : found;
        }
      }
    }
    return undefined;
  }

  /** The likeliest test first, weighed by the time it takes. All tests come, sooner or later. */
  private inOrder(fault: Planted): readonly Known[] {
    const rule = fault.key.split("/")[0]!;
    const kills = this.kills.get(groupOf(fault));
    const worth = ({ id, file, ms, loadMs, rules }: Known): number => {
      const killed = kills?.get(id) ?? 0;
      const spoke = fault.kind === "rules" && rules.has(rule) ? 2 / Math.sqrt(rules.size) : 0;
      const named = fault.kind === "rules" && this.text.get(file)!.includes(`"${rule}"`) ? 0.5 : 0;
      return (killed + spoke + named + 0.02) / (ms + loadMs + 0.5);
    };
    const readers = this.readers.get(fault.file);
    const able = this.known.filter(
      (k) =>
        readers?.has(k.file) &&
        (fault.file.includes("/book/") || !this.work.frozen.includes(k.file)) &&
        (fault.kind === "rules" || this.whileLoading.has(fault.name) || k.reached.has(fault.name)),
    );
    return able
      .map((k) => ({ k, w: worth(k) }))
      .sort((a, b) => b.w - a.w)
      .map(({ k }) => k);
  }
  private remember(fault: Planted, test: string): void {
    const group = groupOf(fault);
    const kills = this.kills.get(group) ?? new Map<string, number>();
    // What killed lately counts more than what killed long ago.
    for (const [t, n] of kills) kills.set(t, n * 0.9);
    kills.set(test, (kills.get(test) ?? 0) + 1);
    this.kills.set(group, kills);
  }

  /** Passes ready-made exports, and what makers of tables and signs return, to one function. */
  private planting(
    each: (file: string, name: string, value: unknown, isMade: boolean) => unknown,
    fault?: Planted,
  ): Hook {
    return (file, name, value) => {
      if (file.endsWith("program.ts")) return value;
      if (name === "distalPhalanx")
        return fault?.name === name ? this.heardOtherwise(value as InjuryModule, fault) : value;
      if (fault && (fault.file !== file || fault.name !== name)) return value;
      if (typeof value !== "function") return each(file, name, value, false);
      return (...args: unknown[]) => each(file, name, (value as (...a: unknown[]) => unknown)(...args), true);
    };
  }
  private heardOtherwise(module: InjuryModule, fault: Planted): InjuryModule {
    const otherwise = (tables: readonly EffectTable[]) =>
      hearingFaults(tables).find((f) => f.key === fault.key)?.made ?? tables;
    return { ...module, tables: (policy) => otherwise(module.tables(policy)) };
  }
}
/** The default policy, and each with one other choice: some rules exist only then. */
function everyChoice(definitions: PolicyDefinitions, policy: SitePolicy): SitePolicy[] {
  const others = Object.entries(definitions).flatMap(([key, d]) =>
    d.type === "choice" ? d.options.map((value) => ({ ...policy, values: { ...policy.values, [key]: value } })) : [],
  );
  return [policy, ...others];
}
const TOO_LONG = "The fault makes the test run without end";
const groupOf = ({ kind, file, name }: Planted) => (kind === "source" ? file : `${file} ${name}`);

interface Message {
  readonly work?: string;
  readonly learned?: Learned;
  readonly fault?: Planted;
}
if (process.send) {
  let worker: MutationWorker | undefined;
  process.on("message", async (message: Message) => {
    if (message.work !== undefined) {
      worker = await MutationWorker.begin(JSON.parse(readFileSync(message.work, "utf8")) as Work);
      if (message.learned) {
        worker.relearn(message.learned);
        process.send!({ ready: { failed: [], faults: [], learned: message.learned } });
      } else {
        const failed = await worker.learn();
        process.send!({ ready: { failed, faults: await worker.faults(), learned: worker.learned() } });
      }
    } else if (message.fault && worker) {
      const outcome = await worker.plant(message.fault);
      const difference = outcome.end === "survived" ? await worker.difference(message.fault) : undefined;
      process.send!({ outcome: { ...outcome, difference } });
    }
  });
}

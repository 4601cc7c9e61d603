/** Runs tests of reading and writing over the test runner itself, each time in a fresh process, until the first fails. */
import { readFileSync } from "node:fs";
import { createVitest, type TestModule, type TestSpecification, type Vitest } from "vitest/node";
import { type SourceFault, sleepingFaults } from "./program-text.ts";
import type { Outcome } from "./worker.ts";
import type { Waking } from "./writing-setup.ts";

export interface WritingWork {
  readonly root: string;
  readonly tests: readonly string[];
  /** Whole path and program text with every fault in it. */
  readonly text: readonly (readonly [path: string, text: string])[];
}
/** What a run without any fault tells of one test. */
export interface Known {
  /** The test runner's own name of it, the same in every run. */
  readonly id: string;
  readonly file: string;
  readonly title: string;
  readonly ms: number;
  /** Faults that it passes by, and how often. */
  readonly reached: Readonly<Record<string, number>>;
}
/** A test that waits for what never comes is ended after ten times what the slowest took without a fault, and not sooner than this. */
const LONGEST_TEST_MS = 30_000;
const LEARNING_TEST_MS = 600_000;
const LONGEST_FILE_MS = 90_000;
/** How often a fault may be passed, beside a hundred times as often as without it. */
const SPARE_PASSES = 20_000;
const TOO_LONG = "The fault makes the test run without end";

class WritingWorker {
  private readonly known: readonly Known[];
  private readonly vitest: Vitest;
  /** What noticed a fault of a file lately: by file of the fault, by file of the test. */
  private readonly kills = new Map<string, Map<string, number>>();

  private constructor(vitest: Vitest, known: readonly Known[]) {
    this.vitest = vitest;
    this.known = known;
  }

  static async begin(work: WritingWork, learned?: readonly Known[]): Promise<WritingWorker> {
    const known = learned ?? (await learn(work));
    const testTimeout = Math.max(LONGEST_TEST_MS, 10 * Math.max(...known.map(({ ms }) => ms)));
    return new WritingWorker(await runnerOf(work, { bail: 1, maxWorkers: 1, testTimeout }), known);
  }

  learned(): readonly Known[] {
    return this.known;
  }

  async plant(fault: SourceFault): Promise<Outcome> {
    const begun = performance.now();
    const able = this.inOrder(fault);
    const end = (what: Omit<Outcome, "ms">): Outcome => ({ ...what, ms: performance.now() - begun });
    if (able.length === 0) return end({ end: "survived", ran: 0 });
    const most = Math.max(...able.flatMap(({ tests }) => tests.map((t) => t.reached[fault.id] ?? 0)));
    const passes = 100 * most + SPARE_PASSES;
    const waking: Waking = { id: fault.id, passes, tooLong: TOO_LONG, longest: LONGEST_FILE_MS };
    const project = this.vitest.getRootProject();
    project.provide("waking", waking);
    const specs = able.map(({ file, tests }) => project.createSpecification(file, { testIds: tests.map((t) => t.id) }));
    // What failed under an earlier fault would count as a failure of this one, and stop it before it begins.
    this.vitest.state.filesMap.clear();
    this.vitest.state.idMap.clear();
    const { testModules, unhandledErrors } = await this.vitest.runTestSpecifications(specs);
    const tests = testModules.flatMap((m) => [...m.children.allTests()]);
    const ran = tests.filter((t) => ["passed", "failed"].includes(t.result().state)).length;
    const failed = failureIn(testModules);
    if (!failed) {
      // The process of a test file went away: it was ended because it no longer answered.
      return end(unhandledErrors.length > 0 ? { end: "timed out", ran } : { end: "survived", ran });
    }
    this.remember(fault, failed.file);
    const late = failed.says.includes(TOO_LONG) || / timed out in \d+ms/.test(failed.says);
    return end({ end: late ? "timed out" : "killed", by: failed.by, ran });
  }

  /** Test files with those of their tests that pass by the fault: the likeliest to notice it first, weighed by the time it takes. */
  private inOrder(fault: SourceFault): { file: string; tests: Known[] }[] {
    const files = new Map<string, Known[]>();
    for (const one of this.known)
      if (one.reached[fault.id] !== undefined) files.set(one.file, [...(files.get(one.file) ?? []), one]);
    const kills = this.kills.get(fault.file);
    const worth = (file: string, tests: readonly Known[]) =>
      ((kills?.get(file) ?? 0) + 0.05 * tests.length) / (700 + tests.reduce((sum, t) => sum + t.ms, 0));
    return [...files]
      .map(([file, tests]) => ({ file, tests, worth: worth(file, tests) }))
      .sort((a, b) => b.worth - a.worth);
  }
  private remember({ file }: SourceFault, test: string): void {
    const kills = this.kills.get(file) ?? new Map<string, number>();
    // What noticed one lately counts more than what noticed one long ago.
    for (const [t, n] of kills) kills.set(t, n * 0.9);
    kills.set(test, (kills.get(test) ?? 0) + 1);
    this.kills.set(file, kills);
  }
}

class AsGiven {
  sort(files: TestSpecification[]): TestSpecification[] {
    return files;
  }
  shard(files: TestSpecification[]): TestSpecification[] {
    return files;
  }
}

interface How {
  readonly bail: number;
  readonly maxWorkers: number;
  readonly testTimeout: number;
}
async function runnerOf(work: WritingWork, how: How): Promise<Vitest> {
  // As the command line of the test runner has it: the handshake library remembers less under test.
  process.env.NODE_ENV = "test";
  const vitest = await createVitest(
    "test",
    {
      ...{ root: work.root, config: false, watch: false, include: [...work.tests], environment: "node" },
      setupFiles: ["tests/fixed-seed.ts", "tests/mutation/writing-setup.ts"],
      pool: "forks",
      // Only what fails twice is noticed: on a busy machine a server's answer may come too late once.
      retry: 1,
      ...{ reporters: [{}], silent: true, dangerouslyIgnoreUnhandledErrors: true },
      // In the order given: the likeliest to notice the fault first.
      sequence: { sequencer: AsGiven },
      ...{ ...how, hookTimeout: how.testTimeout },
    },
    { plugins: [sleepingFaults(new Map(work.text))] },
  );
  await vitest.globTestSpecifications();
  return vitest;
}

/** All tests once, without a fault. @throws an Error that names the test that fails all the same */
async function learn(work: WritingWork): Promise<Known[]> {
  const vitest = await runnerOf(work, { bail: 0, maxWorkers: 2, testTimeout: LEARNING_TEST_MS });
  vitest.getRootProject().provide("waking", { passes: 0, tooLong: "", longest: 0 });
  const { testModules } = await vitest.runTestSpecifications(await vitest.globTestSpecifications());
  await vitest.close();
  const failed = failureIn(testModules);
  if (failed) throw new Error(`A test fails without any fault: ${failed.by}: ${failed.says}`);
  return testModules.flatMap((module) => {
    const tests = [...module.children.allTests()];
    const before = tests.find((t) => t.meta().before)?.meta().before ?? {};
    return tests.map((t) => ({
      id: t.id,
      file: module.moduleId,
      title: t.fullName,
      ms: t.diagnostic()?.duration ?? 0,
      reached: { ...before, ...t.meta().reached },
    }));
  });
}

function failureIn(modules: readonly TestModule[]): { file: string; by: string; says: string } | undefined {
  for (const module of modules) {
    const file = module.moduleId;
    const said = (errors: readonly { message: string }[]) => errors.map((e) => e.message).join("; ");
    for (const test of module.children.allTests()) {
      const result = test.result();
      if (result.state === "failed") return { file, by: `${file} > ${test.fullName}`, says: said(result.errors) };
    }
    for (const suite of module.children.allSuites())
      if (suite.errors().length > 0) return { file, by: `${file} > ${suite.fullName}`, says: said(suite.errors()) };
    if (module.errors().length > 0) return { file, by: `${file}: does not load`, says: said(module.errors()) };
  }
  return undefined;
}

interface Message {
  readonly work?: string;
  readonly learned?: readonly Known[];
  readonly fault?: SourceFault;
}
if (process.send) {
  let worker: WritingWorker | undefined;
  process.on("message", async (message: Message) => {
    if (message.work !== undefined) {
      const work = JSON.parse(readFileSync(message.work, "utf8")) as WritingWork;
      worker = await WritingWorker.begin(work, message.learned);
      process.send!({ ready: { learned: worker.learned() } });
    } else if (message.fault && worker) process.send!({ outcome: await worker.plant(message.fault) });
  });
}

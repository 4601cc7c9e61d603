/**
 * Runs one test file of the writing room: first once without a fault, to learn which test passes which fault by; then each such test again
 * for each fault, in the same process, until one fails. What is settled while a module loads is planted by loading all modules anew.
 *
 * A test that failed has to fail twice, and has to pass once more without the fault: what it left behind would otherwise count as noticed.
 */
import { appendFileSync } from "node:fs";
import { Worker } from "node:worker_threads";
import { type File, startTests, type Test } from "@vitest/runner";
import fc from "fast-check";
import { TestRunner, vi } from "vitest";

/** What a test file is asked to look for. */
export interface Planting {
  readonly faults: readonly string[];
  /** Path of the file that each line of what happens is added to. */
  readonly log: string;
  /** A slow file tries a fault in so many of its tests at most, and none that is settled while a module loads. */
  readonly most?: number;
}
/** One line of the log. */
export type Told =
  | { readonly tell: "fails without a fault"; readonly test: string; readonly why: string }
  | { readonly tell: "begins"; readonly fault: string }
  | { readonly tell: "passes"; readonly fault: string }
  | {
      readonly tell: "noticed";
      readonly fault: string;
      readonly late: boolean;
      readonly by: string;
      readonly ms: number;
    }
  | { readonly tell: "cannot be repeated"; readonly test: string; readonly faults: readonly string[] };

declare module "vitest" {
  interface ProvidedContext {
    readonly planting: Planting;
  }
}
interface Switches {
  faultIsAwake: (id: string) => boolean;
  faultWasReached: (...ids: string[]) => void;
}
/** Places that one try may pass by, beside twenty times as many as without a fault: counted, not timed, so that a busy machine notices nothing. */
const SPARE_PASSES = 500_000;
/** Milliseconds after which a test that waits for what never comes is ended; and how many times as long as the slowest without a fault. */
const LONGEST_WAIT_MS = 15_000;
const LEARNING_WAIT_MS = 1_200_000;
const TIMES_AS_LONG = 10;
const TOO_LONG = "The fault makes the test run without end";
/** Seconds of processor time after which a loop that never lets go is ended from another thread. */
const LONGEST_SECONDS = 60;

const isLate = (says: string) => says.includes(TOO_LONG) || / timed out in \d+ms/.test(says);
const nameOf = (test: Test): string => test.fullName;
const saidBy = (task: { result?: { errors?: { message: string }[] | undefined } | undefined }) =>
  (task.result?.errors ?? []).map((e) => e.message).join("; ");

type Counts = Map<string, number>;
type Found = Extract<Told, { tell: "noticed" }>;

export default class PlantingRunner extends TestRunner {
  private phase: "learning" | "in tests" | "while loading" = "learning";
  private readonly planting: Planting = this.injectValue("planting") as Planting;
  private readonly wanted = new Set(this.planting.faults);
  private awake: string | undefined;
  private passed = 0;
  private allowed = 0;
  private begun = 0;
  private readonly outside: Counts = new Map();
  private readonly inside = new Map<string, Counts>();
  private reached: Counts = this.outside;
  /** Of the test that runs: the faults it is repeated for, and which of them it noticed. */
  private turns: string[] = [];
  private found: Found[] = [];
  private readonly tried: Counts = new Map();
  /** Tests that are done with, and faults that left something behind in them: those are planted again by loading all modules anew. */
  private readonly done = new Set<string>();
  private readonly doubted = new Set<string>();
  private spoiled = false;
  /** By test: how many places it passes by without a fault. */
  private readonly usual = new Map<string, number>();
  private longest = 0;
  private readonly sinceBegun = new Int32Array(new SharedArrayBuffer(4));

  constructor(config: ConstructorParameters<typeof TestRunner>[0]) {
    super(config);
    Object.assign(config, { testTimeout: LEARNING_WAIT_MS, hookTimeout: LEARNING_WAIT_MS });
    const switches = globalThis as unknown as Switches;
    switches.faultIsAwake = (id) => {
      if (++this.passed > this.allowed && this.awake !== undefined) throw new Error(TOO_LONG);
      return id === this.awake;
    };
    switches.faultWasReached = (...ids) => {
      if (this.phase === "learning") for (const id of ids) this.reached.set(id, (this.reached.get(id) ?? 0) + 1);
    };
    // A test that merely waits on a busy machine burns no processor time.
    const watch = `const { workerData: since } = require("node:worker_threads");
      setInterval(() => { const now = process.cpuUsage().user / 1e6; if (since[0] && now - since[0] > ${LONGEST_SECONDS}) process.kill(process.pid, "SIGKILL"); }, 1000)`;
    new Worker(watch, { eval: true, workerData: this.sinceBegun }).unref();
  }

  private tell(line: Told): void {
    appendFileSync(this.planting.log, `${JSON.stringify(line)}\n`);
  }
  private wake(fault: string | undefined, usual: number): void {
    this.awake = fault;
    this.passed = 0;
    this.allowed = TIMES_AS_LONG * 2 * usual + SPARE_PASSES;
    this.begun = performance.now();
    this.sinceBegun[0] = fault === undefined ? 0 : Math.ceil(process.cpuUsage().user / 1e6);
    if (fault !== undefined) this.tell({ tell: "begins", fault });
  }
  private foundBy(fault: string, by: string, late: boolean): Found {
    return { tell: "noticed", fault, late, by, ms: performance.now() - this.begun };
  }

  onBeforeRunFiles(): void {
    // A failed property is not made smaller: it has failed.
    fc.configureGlobal({ ...fc.readConfigureGlobal(), endOnFailure: true });
  }
  override async onBeforeRunTask(test: Test): Promise<void> {
    await super.onBeforeRunTask(test);
    if (test.mode !== "run") return;
    const retry = { count: 1, condition: (error: { message: string }) => !isLate(error.message) };
    if (this.phase === "in tests") {
      const counts = this.inside.get(test.id) ?? new Map<string, number>();
      const { most = Number.POSITIVE_INFINITY } = this.planting;
      const open = (id: string) => this.wanted.has(id) && !this.doubted.has(id) && (this.tried.get(id) ?? 0) < most;
      this.turns = this.spoiled || this.done.has(test.id) ? [] : [...counts.keys()].filter(open);
      this.found = [];
      // Once for each fault, and once without.
      if (this.turns.length > 0) Object.assign(test, { repeats: this.turns.length, retry });
      else test.mode = "skip";
    } else if (this.phase === "while loading") {
      if (this.found.length > 0) test.mode = "skip";
      else Object.assign(test, { retry });
    }
  }
  override onBeforeTryTask(
    test: Test,
    { retry, repeats }: { retry: number; repeats: number } = { retry: 0, repeats: 0 },
  ) {
    super.onBeforeTryTask(test);
    if (this.phase === "learning") {
      this.reached = new Map();
      this.passed = 0;
      this.begun = performance.now();
    }
    if (this.phase !== "in tests" || retry > 0) return;
    Object.assign(test.result!, { state: "run", errors: undefined });
    const fault = this.turns[repeats];
    if (fault !== undefined) this.tried.set(fault, (this.tried.get(fault) ?? 0) + 1);
    this.wake(fault, this.usual.get(test.id) ?? 0);
  }
  onAfterRetryTask(test: Test, { retry, repeats }: { retry: number; repeats: number }): void {
    const failed = test.result?.state === "fail";
    const says = saidBy(test);
    if (this.phase === "learning") {
      this.inside.set(test.id, this.reached);
      this.reached = this.outside;
      this.usual.set(test.id, this.passed);
      this.longest = Math.max(this.longest, performance.now() - this.begun);
      if (failed) this.tell({ tell: "fails without a fault", test: nameOf(test), why: says });
      return;
    }
    if (failed && retry === 0 && !isLate(says)) return;
    if (this.phase === "while loading") {
      if (failed) this.found.push(this.foundBy(this.awake ?? "", nameOf(test), isLate(says)));
      return;
    }
    const fault = this.turns[repeats];
    if (fault !== undefined) {
      if (failed) this.found.push(this.foundBy(fault, nameOf(test), isLate(says)));
      this.wake(undefined, 0);
      return;
    }
    this.keep(failed, nameOf(test));
    if (!failed || this.found.length === 0) this.done.add(test.id);
    for (const one of failed ? this.found : []) this.doubted.add(one.fault);
    this.spoiled = failed;
  }
  /** @param broken whether the test now fails without a fault too: then what it found does not count */
  private keep(broken: boolean, test: string): void {
    if (broken) this.tell({ tell: "cannot be repeated", test, faults: this.found.map((f) => f.fault) });
    else
      for (const one of this.found) {
        this.tell(one);
        this.wanted.delete(one.fault);
      }
  }

  override async onAfterRunFiles(files?: File[]): Promise<void> {
    super.onAfterRunFiles();
    if (this.phase !== "learning" || !files?.[0]) return;
    const { filepath } = files[0];
    const wait = Math.max(LONGEST_WAIT_MS, TIMES_AS_LONG * this.longest);
    Object.assign(this.config, { testTimeout: wait, hookTimeout: wait });
    this.phase = "in tests";
    do {
      this.spoiled = false;
      await this.again(filepath);
    } while (this.spoiled);
    this.phase = "while loading";
    if (this.planting.most !== undefined) return;
    const found: Found[] = [];
    const whole = [...this.usual.values()].reduce((a, b) => a + b, 0);
    for (const fault of new Set([...this.doubted, ...this.outside.keys()])) {
      if (!this.wanted.has(fault)) continue;
      this.wake(fault, whole);
      this.found = [];
      const file = await this.again(filepath);
      const lost = failureOf(file);
      if (this.found.length === 0 && lost) this.found.push(this.foundBy(fault, "does not load", isLate(lost)));
      found.push(...this.found);
    }
    this.wake(undefined, 0);
    this.found = [];
    if (found.length === 0) return;
    const file = await this.again(filepath);
    const broken = this.found.length > 0 || failureOf(file) !== undefined;
    this.found = found;
    this.keep(broken, "all tests of the file");
  }
  private async again(filepath: string): Promise<File> {
    vi.resetModules();
    const [file] = await startTests([filepath], this as never);
    return file!;
  }
}

/** What a file or one of its groups failed of, apart from tests. */
function failureOf(suite: File | (Test["suite"] & object)): string | undefined {
  if (suite.result?.errors?.length) return saidBy(suite);
  for (const one of suite.tasks) {
    const inner = one.type === "suite" ? failureOf(one) : undefined;
    if (inner !== undefined) return inner;
  }
  return undefined;
}

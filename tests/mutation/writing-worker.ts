/** One process that looks for its share of the faults: test file after test file, the quick ones first, until each fault is noticed. */
import { existsSync, readFileSync } from "node:fs";
import { createVitest, type Vitest } from "vitest/node";
import { sleepingFaults } from "./program-text.ts";
import type { Outcome } from "./worker.ts";
import type { Told } from "./writing-runner.ts";

export interface WritingWork {
  readonly root: string;
  /** In the order in which they are run. */
  readonly tests: readonly string[];
  /** Test files that stand up a whole record system, and take long over each test. */
  readonly slow: readonly string[];
  /** Whole path and program text with every fault in it. */
  readonly text: readonly (readonly [path: string, text: string])[];
  readonly faults: readonly string[];
  /** Where the runner of the tests tells what happens. */
  readonly log: string;
}
/** What the process tells of: the end of one fault, or of one test file. */
export interface News {
  readonly fault?: string;
  readonly outcome?: Outcome;
  readonly file?: string;
  readonly left?: number;
  readonly remark?: string;
  readonly done?: boolean;
}
/** In so many of its tests a slow file tries one fault; more can only notice more. */
const TESTS_OF_A_SLOW_FILE = 8;

async function runnerOf(work: WritingWork): Promise<Vitest> {
  // As the command line of the test runner has it: the handshake library remembers less under test.
  process.env.NODE_ENV = "test";
  return createVitest(
    "test",
    {
      ...{ root: work.root, config: false, watch: false, include: [...work.tests], environment: "node" },
      ...{ setupFiles: ["tests/fixed-seed.ts"], runner: "./tests/mutation/writing-runner.ts" },
      ...{ pool: "forks", maxWorkers: 1, reporters: [{}], silent: true, dangerouslyIgnoreUnhandledErrors: true },
    },
    { plugins: [sleepingFaults(new Map(work.text))] },
  );
}

/** @throws an Error that names a test that fails without any fault */
async function look(work: WritingWork, tell: (news: News) => void): Promise<void> {
  const left = new Set(work.faults);
  const ran = new Map<string, number>();
  const settle = (fault: string, outcome: Outcome) => {
    left.delete(fault);
    tell({ fault, outcome });
  };
  let read = 0;
  const linesOf = (): Told[] => {
    if (!existsSync(work.log)) return [];
    const text = readFileSync(work.log, "utf8");
    // The last line of a process that was ended may be half a line.
    const end = text.lastIndexOf("\n") + 1;
    const lines = text.slice(read, end).split("\n");
    read = end;
    return lines.filter(Boolean).map((line) => JSON.parse(line) as Told);
  };
  const vitest = await runnerOf(work);
  const project = vitest.getRootProject();
  for (const file of work.tests) {
    const isSlow = work.slow.includes(file);
    // Again when the process was ended over a fault that never lets go: without that fault.
    for (let again = true; again && left.size > 0; ) {
      again = false;
      const most = isSlow ? { most: TESTS_OF_A_SLOW_FILE } : {};
      project.provide("planting", { faults: [...left], log: work.log, ...most });
      let open: string | undefined;
      const hear = (): void => {
        for (const line of linesOf()) {
          if (line.tell === "fails without a fault") throw new Error(`${file} > ${line.test}: ${line.why}`);
          if (line.tell === "begins") {
            open = line.fault;
            ran.set(line.fault, (ran.get(line.fault) ?? 0) + 1);
          }
          if (line.tell !== "noticed") continue;
          const { fault, late, by, ms } = line;
          settle(fault, { end: late ? "timed out" : "killed", by: `${file} > ${by}`, ms, ran: ran.get(fault) ?? 0 });
        }
      };
      const telling = setInterval(hear, 2000);
      const { unhandledErrors } = await vitest.runTestSpecifications([
        project.createSpecification(`${work.root}/${file}`),
      ]);
      clearInterval(telling);
      hear();
      const ended = unhandledErrors.map((e) => (e as Error).message).find((m) => /exited|terminated|SIGKILL/i.test(m));
      if (!ended) continue;
      if (open === undefined || !left.has(open))
        throw new Error(`${file}: the process of the tests went away: ${ended}`);
      settle(open, { end: "timed out", by: `${file}: never lets go`, ms: 0, ran: ran.get(open) ?? 0 });
      again = true;
    }
    tell({ file, left: left.size });
  }
  for (const fault of left) settle(fault, { end: "survived", ms: 0, ran: ran.get(fault) ?? 0 });
  tell({ done: true });
}

if (process.send) {
  process.on("message", async (path: string) => {
    const work = JSON.parse(readFileSync(path, "utf8")) as WritingWork;
    try {
      await look(work, (news) => process.send!(news));
    } catch (error) {
      process.send!({ remark: (error as Error).message });
      process.exitCode = 1;
    }
    process.disconnect();
    process.exit();
  });
}

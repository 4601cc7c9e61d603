/** In each test file of the writing room: wakes the one fault that is planted, or notes which faults each test passes by. */
import { Worker } from "node:worker_threads";
import { afterEach, beforeEach, inject } from "vitest";

/** What is planted while a test file runs; without `id` the run only learns. */
export interface Waking {
  readonly id?: string;
  /** How often the fault may be passed in one file before it counts as running without end. */
  readonly passes: number;
  /** What is said then. */
  readonly tooLong: string;
  /** Milliseconds of processor time after which a test file that no longer answers is ended from outside. */
  readonly longest: number;
}
declare module "vitest" {
  interface ProvidedContext {
    readonly waking: Waking;
  }
  interface TaskMeta {
    /** How often each fault was passed in this test, and, at the first of a file, before it. */
    reached?: Readonly<Record<string, number>>;
    before?: Readonly<Record<string, number>>;
  }
}
interface Switches {
  faultIsAwake: (id: string) => boolean;
  faultWasReached: (...ids: string[]) => void;
}
const switches = globalThis as unknown as Switches;
const { id, passes, tooLong, longest } = inject("waking");

let reached: Record<string, number> = {};
if (id === undefined) {
  switches.faultIsAwake = () => false;
  switches.faultWasReached = (...ids) => {
    for (const one of ids) reached[one] = (reached[one] ?? 0) + 1;
  };
  let before: Record<string, number> | undefined;
  beforeEach(({ task }) => {
    if (before === undefined) {
      before = reached;
      task.meta.before = before;
    }
    reached = {};
  });
  afterEach(({ task }) => {
    task.meta.reached = reached;
  });
} else {
  let passed = 0;
  switches.faultIsAwake = (asked) => {
    if (asked !== id) return false;
    // Counted, not timed: a busy machine notices nothing that a test does not notice.
    if (++passed > passes) throw new Error(tooLong);
    return true;
  };
  switches.faultWasReached = () => {};
  // A loop that never lets go, and never passes the fault again, can only be ended from another thread. It burns processor
  // time; a test that merely waits for a busy machine does not.
  const watch = `setInterval(() => process.cpuUsage().user > ${longest * 1000} && process.kill(process.pid, "SIGKILL"), 1000)`;
  new Worker(watch, { eval: true }).unref();
}

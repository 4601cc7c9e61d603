/** Processes that plant faults, two at a time; one that gets stuck is ended and another takes its place. */
import { type ChildProcess, fork } from "node:child_process";
import { availableParallelism } from "node:os";
import type { Outcome } from "./worker.ts";

/** What a worker tells before it begins. `learned` is passed on to the next, so that it is learned once. */
export interface Ready {
  readonly learned: unknown;
}
interface Answer<R> {
  readonly ready?: R;
  readonly outcome?: Outcome;
}
interface Hand<R, F> {
  readonly known: R;
  readonly run: (fault: F) => Promise<Outcome | undefined>;
  readonly stop: () => void;
}
/** All tests once without a fault, twice over; a busy machine may take long. */
const LEARNING_MS = 1_200_000;
// Each worker takes a run of neighbours: what noticed one fault of a table is likely to notice the next.
const RUN = 25;

const started: ChildProcess[] = [];
process.on("exit", () => {
  for (const child of started) child.kill();
});

export class Hands<R extends Ready, F> {
  private readonly script: URL;
  private readonly work: string;
  private readonly stuckMs: number;

  /** @param work path of the file that tells a worker what to do; @param stuckMs longest time one fault may take */
  constructor(script: URL, work: string, stuckMs: number) {
    this.script = script;
    this.work = work;
    this.stuckMs = stuckMs;
  }

  /** @throws an Error when the worker does not start */
  async ready(learned?: unknown): Promise<Hand<R, F>> {
    const child = fork(this.script, { stdio: ["ignore", "inherit", "inherit", "ipc"] });
    started.push(child);
    const ask = (message: object, patience = this.stuckMs) =>
      new Promise<Answer<R> | undefined>((done) => {
        const settle = (answer?: Answer<R>) => {
          clearTimeout(watchdog);
          child.off("message", settle);
          child.off("exit", gone);
          done(answer);
        };
        const gone = () => settle();
        const watchdog = setTimeout(() => {
          child.kill("SIGKILL");
        }, patience);
        child.on("message", settle);
        child.on("exit", gone);
        child.send(message);
      });
    const answer = await ask({ work: this.work, learned }, LEARNING_MS);
    if (!answer?.ready) throw new Error("a worker did not start");
    return {
      known: answer.ready,
      run: async (fault) => (await ask({ fault }))?.outcome,
      stop: () => {
        child.kill();
      },
    };
  }

  /** Plants every fault, with `first` and one more hand beside it; `onDone` hears of each. */
  async plantAll(
    first: Hand<R, F>,
    faults: readonly F[],
    onDone: (fault: F, outcome: Outcome, done: number) => void,
  ): Promise<Map<F, Outcome>> {
    const results = new Map<F, Outcome>();
    let at = 0;
    const toil = async (own: Hand<R, F>): Promise<void> => {
      let mine = own;
      while (at < faults.length) {
        const share = faults.slice(at, at + RUN);
        at += RUN;
        for (const fault of share) {
          const answer = await mine.run(fault);
          const outcome = answer ?? { end: "timed out" as const, ms: this.stuckMs, ran: 0 };
          results.set(fault, outcome);
          onDone(fault, outcome, results.size);
          if (!answer) mine = await this.ready(first.known.learned);
        }
      }
      mine.stop();
    };
    const hands = Math.min(availableParallelism(), 2, Math.ceil(faults.length / RUN));
    await Promise.all([
      toil(first),
      ...Array.from({ length: hands - 1 }, async () => toil(await this.ready(first.known.learned))),
    ]);
    return results;
  }
}

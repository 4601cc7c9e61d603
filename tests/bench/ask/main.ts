/** Runs in the browser: the rules alone, each call of the next question timed by itself. */
import {
  askNext,
  assessDigit,
  type Facts,
  MODULES,
  makeReady,
  pathwayFor,
  readSitePolicy,
} from "../../../src/pathway/index.ts";
import { seeded } from "../seeded.ts";

export type Order = "independent" | "one by one" | "guided";
export interface Timed {
  /** Until the first question can be asked: rules compiled, diagrams built. */
  readonly ready: number;
  /** Milliseconds of each call, in the order of the calls. */
  readonly next: readonly number[];
  readonly assess: readonly number[];
}
type Answers = { readonly [finding: string]: string | number };

const CANNOT_TELL_SHARE = 0.05;

/** Partial records without end, from one seed. `next` is what is asked after the record before. */
function partialRecords(order: Order, seed: number): (next: string | undefined) => Answers {
  const module = MODULES[0]!;
  const random = seeded(seed);
  const untold = new Set(module.questions.filter((q) => q.cannotTell).map((q) => q.finding));
  const findings = Object.keys(module.findings);
  const answer = (finding: string): string | number => {
    const definition = module.findings[finding]!;
    if (untold.has(finding) && random() < CANNOT_TELL_SHARE) return "cannot-tell";
    return definition.type === "choice"
      ? definition.values[Math.floor(random() * definition.values.length)]!
      : definition.min + random() * (definition.max - definition.min);
  };
  let facts: Answers = {};
  let rest: string[] = [];
  switch (order) {
    case "independent":
      return () => {
        const share = random();
        return Object.fromEntries(findings.filter(() => random() < share).map((f) => [f, answer(f)]));
      };
    case "one by one":
      return () => {
        if (rest.length === 0) {
          facts = {};
          rest = findings
            .map((f) => ({ f, at: random() }))
            .sort((a, b) => a.at - b.at)
            .map(({ f }) => f);
        }
        const finding = rest.pop()!;
        facts = { ...facts, [finding]: answer(finding) };
        return facts;
      };
    case "guided":
      return (next) => {
        facts = next === undefined ? {} : { ...facts, [next]: answer(next) };
        return facts;
      };
  }
}

function measure(order: Order, calls: number, assessed: number, seed: number): Timed {
  const read = readSitePolicy(undefined);
  if (!read.ok) throw new Error("the default policy is refused");
  const begun = performance.now();
  const pathway = pathwayFor(MODULES[0]!, read.policy);
  makeReady(pathway);
  const ready = performance.now() - begun;
  const timed = <T>(run: (facts: Facts) => T): { times: number[]; run: (facts: Facts) => T } => {
    const times: number[] = [];
    return {
      times,
      run: (facts) => {
        const from = performance.now();
        const made = run(facts);
        times.push(performance.now() - from);
        return made;
      },
    };
  };
  // Each by itself: an assessment narrows the same diagrams, and would do half the work of the next question.
  const loop = <T>(
    count: number,
    run: (facts: Facts) => T,
    nextOf: (facts: Facts, made: T) => string | undefined,
  ): number[] => {
    const record = partialRecords(order, seed);
    const { times, run: timedRun } = timed(run);
    let next: string | undefined;
    for (let i = 0; i < count; i++) {
      const facts = record(next);
      next = nextOf(facts, timedRun(facts));
    }
    return times;
  };
  const next = loop(
    calls,
    (facts) => askNext(pathway, facts),
    (_, asked) => asked,
  );
  const assess = loop(
    assessed,
    (facts) => assessDigit(pathway, facts),
    (facts) => (order === "guided" ? askNext(pathway, facts) : undefined),
  );
  return { ready, next, assess };
}

Object.assign(window, { measure });

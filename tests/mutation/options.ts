/** What is asked of `npm run mutate`. */
import { parseArgs } from "node:util";

const USAGE = `npm run mutate: plants one fault after the other in the program, and sees whether a test notices.

  npm run mutate                        in the rules and the program that reads them: a fixed sample of every folder in
                                        proportion; within 45 minutes on two cores
  npm run mutate -- --room writing      in dates, drafts, transport and writing back: a fixed sample, a fifth of it in the
                                        dates and every other file in proportion; some ten minutes
  npm run mutate -- --all               everything (hours)
  npm run mutate -- --sample 300        a sample of this size, the same each time (--seed N draws another)
  npm run mutate -- --file ask.ts       faults of one file; repeatable
  npm run mutate -- --rule OW3          faults of one rule, sign or policy key; repeatable (rules only)
  npm run mutate -- --kind source       faults of the program text alone, or (rules) of the rules alone (rules only)
  npm run mutate -- --list              names the faults and plants none
  npm run mutate -- --each              tells of each fault as it is done: what noticed it, how many tests ran, how long it took
  npm run mutate -- --without NAME      leaves out the test files whose path holds NAME; repeatable
  npm run mutate -- --with NAME         asks only the test files whose path holds NAME; repeatable (writing only)

Without --file, --rule, --kind, --with, --without the survivors are written to tests/mutation/survivors.md or survivors-writing.md.
The exit code is 1 when fewer are noticed than have to be (rules and dates 90 %, writing 80 %), 2 when the words above were not used.`;

const ROOMS = ["rules", "writing"] as const;
const KINDS = ["rules", "source"] as const;
export interface Options {
  readonly room: (typeof ROOMS)[number];
  /** Absent: the usual sample. */
  readonly sample?: number | "all";
  readonly seed: number;
  readonly rule?: readonly string[];
  readonly file?: readonly string[];
  readonly without?: readonly string[];
  readonly with?: readonly string[];
  readonly kind?: (typeof KINDS)[number];
  readonly list: boolean;
  readonly each: boolean;
}

/** Says on standard error what is wrong and how it is used, and ends the process. */
function refuse(what: string): never {
  console.error(`${what}\n\n${USAGE}`);
  process.exit(2);
}

/** The words of the command line; ends the process with the usage when they are not understood, or when it is asked for. */
export function readOptions(words: readonly string[]): Options {
  const many = { type: "string", multiple: true } as const;
  const flag = { type: "boolean" } as const;
  const one = { type: "string" } as const;
  const options = {
    ...{ room: one, all: flag, sample: one, seed: one, rule: many, file: many, without: many, with: many, kind: one },
    ...{ list: flag, each: flag, help: { ...flag, short: "h" } },
  };
  const parsed = (() => {
    try {
      return parseArgs({ args: [...words], options }).values;
    } catch (error) {
      return refuse((error as Error).message);
    }
  })();
  if (parsed.help) {
    console.log(USAGE);
    process.exit(0);
  }
  const oneOf = <T extends string>(name: string, value: string, of: readonly T[]): T =>
    of.find((word) => word === value) ?? refuse(`--${name} takes ${of.join(" or ")}, not "${value}".`);
  const whole = (name: string, value: string): number =>
    /^[1-9]\d{0,8}$/.test(value) ? Number(value) : refuse(`--${name} takes a whole number from 1, not "${value}".`);
  const { rule, file, without, list = false, each = false } = parsed;
  const room = oneOf("room", parsed.room ?? "rules", ROOMS);
  if (room === "writing" && (rule || parsed.kind))
    refuse("--rule and --kind are of the rules: leave out --room writing.");
  const kind = parsed.kind === undefined ? undefined : oneOf("kind", parsed.kind, KINDS);
  const sample = parsed.all ? "all" : parsed.sample === undefined ? undefined : whole("sample", parsed.sample);
  return {
    ...{ room, list, each, seed: whole("seed", parsed.seed ?? "1") },
    ...(rule && { rule }),
    ...(file && { file }),
    ...(without && { without }),
    ...(parsed.with && { with: parsed.with }),
    ...(kind && { kind }),
    ...(sample !== undefined && { sample }),
  };
}

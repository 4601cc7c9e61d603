import { once } from "node:events";
import { readFileSync } from "node:fs";
import { type ParseArgsConfig, parseArgs } from "node:util";

/** Wrong options, a file that cannot be read, or wrong input: one line per problem on standard error, exit code 2. */
export class BadInput extends Error {
  constructor(readonly problems: readonly string[]) {
    super(problems.join("\n"));
  }
}

/** Runs a command: what it gives back goes to standard output, its problems to standard error and nothing to standard output. */
export function run(main: (words: readonly string[]) => string): void {
  try {
    process.stdout.write(main(process.argv.slice(2)));
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    for (const problem of error.problems) process.stderr.write(`${problem}\n`);
    process.exitCode = 2;
  }
}

/**
 * Runs a command that writes piece by piece, waiting whenever the reader of standard output is slower. Problems go to standard error at
 * once and make the exit code 2, as a BadInput does.
 */
export async function runStreaming(
  main: (words: readonly string[], problem: (line: string) => void) => AsyncIterable<string>,
): Promise<void> {
  const problem = (line: string) => {
    process.stderr.write(`${line}\n`);
    process.exitCode = 2;
  };
  // A reader that has had enough (head, less) ends the work: that is no fault.
  process.stdout.on("error", (error: NodeJS.ErrnoException) => process.exit(error.code === "EPIPE" ? 0 : 1));
  try {
    for await (const piece of main(process.argv.slice(2), problem))
      if (!process.stdout.write(piece)) await once(process.stdout, "drain");
  } catch (error) {
    if (!(error instanceof BadInput)) throw error;
    for (const line of error.problems) problem(line);
  }
}

/** Options of a command line. @throws BadInput for an option that is not known */
export function optionsOf<const O extends NonNullable<ParseArgsConfig["options"]>>(
  words: readonly string[],
  options: O,
) {
  try {
    return parseArgs({ args: [...words], allowPositionals: true, options });
  } catch (error) {
    throw new BadInput([`options: ${(error as Error).message.split(". ")[0]}; allowed: see --help`]);
  }
}

export interface JsonInput {
  /** How the input is called in a message. */
  readonly name: string;
  readonly text: string;
  readonly json: unknown;
}
/** Reads JSON from a file, or from standard input for "-". @throws BadInput when it cannot be read or is not JSON */
export function readJson(file: string, holds: string): JsonInput {
  const name = file === "-" ? "standard input" : file;
  let text: string;
  try {
    text = readFileSync(file === "-" ? 0 : file, "utf8").replace(/^\uFEFF/, "");
  } catch (error) {
    throw new BadInput([
      `${name}: cannot be read (${(error as NodeJS.ErrnoException).code}); allowed: a JSON file, or "-" for standard input`,
    ]);
  }
  try {
    return { name, text, json: JSON.parse(text) };
  } catch (error) {
    throw new BadInput([`${name}: is not JSON (${(error as Error).message}); allowed: ${holds}`]);
  }
}

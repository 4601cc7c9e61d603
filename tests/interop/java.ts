/** Builds and starts the Java programs of this folder. Nothing else in the project needs Java. */
import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { Readable } from "node:stream";
import { pipeline } from "node:stream/promises";

const HERE = import.meta.dirname;
/** The collector with the most throughput: nobody waits for single answers. */
const MEMORY = ["-Xmx2g", "-XX:+UseParallelGC"];
const TELL_EVERY = 250;
const READY_WITHIN_MS = 8 * 60_000;

/** The programs that are missing of those needed, empty when interop tests can run. */
export const missingPrograms = (): string[] =>
  [
    ["java", "-version"],
    ["javac", "-version"],
    ["mvn", "-version"],
  ].flatMap(([program, question]) => (spawnSync(program!, [question!]).status === 0 ? [] : [program!]));

/**
 * Compiles both programs; from what Maven has already fetched if that is enough, else from its central repository.
 * @throws Error with Maven's own words, which name an artefact that cannot be had
 */
export function build(): void {
  const begun = performance.now();
  const maven = (...more: string[]) =>
    spawnSync("mvn", ["-q", "-B", ...more, "compile"], { cwd: HERE, encoding: "utf8", maxBuffer: 1 << 26 });
  const offline = maven("-o");
  const online = offline.status === 0 ? undefined : maven();
  if (online && online.status !== 0)
    throw new Error(`The Java programs could not be built:\n${online.error ?? online.stdout.slice(-4000)}`);
  const took = ((performance.now() - begun) / 1000).toFixed(0);
  console.log(
    `interop: Java programs built in ${took} s, ${online ? "with downloads" : "from what was fetched before"}`,
  );
}

function java(part: "server" | "validator", main: string, ...args: string[]): ChildProcess {
  const target = join(HERE, part, "target");
  const path = `${join(target, "classes")}:${readFileSync(join(target, "classpath"), "utf8").trim()}`;
  return spawn("java", [...MEMORY, "-cp", path, `fingerpost.interop.${main}`, ...args], {
    stdio: ["pipe", "pipe", "pipe"],
  });
}
/** Keeps the end of what a program says on standard error, for when it fails. */
function ear(child: ChildProcess): () => string {
  let said = "";
  child.stderr!.on("data", (part: Buffer) => {
    said = (said + part.toString()).slice(-4000);
  });
  return () => said;
}

export interface StockServer {
  /** FHIR base */
  readonly url: string;
  stop(): Promise<void>;
}
/** @throws Error when it ends, or says nothing for eight minutes, before it is ready */
export async function startStockServer(): Promise<StockServer> {
  const child = java("server", "StockServer", "0", "attended");
  const said = ear(child);
  const ended = new Promise<void>((done) => void child.once("exit", () => done()));
  const stop = () => {
    child.kill("SIGTERM");
    return ended;
  };
  const url = await new Promise<string>((done, fail) => {
    const late = setTimeout(() => {
      child.kill("SIGKILL");
      fail(new Error(`The stock server was not ready in time:\n${said()}`));
    }, READY_WITHIN_MS);
    createInterface(child.stdout!).on("line", (line) => {
      if (!line.startsWith("ready ")) return;
      clearTimeout(late);
      done(line.slice("ready ".length));
    });
    child.once("error", fail);
    child.once("exit", (code) => fail(new Error(`The stock server ended with ${code}:\n${said()}`)));
  });
  return { url, stop };
}

export interface ValidatorIssue {
  readonly severity: "fatal" | "error" | "warning" | "information";
  /** The validator's own name of what it found. */
  readonly code: string | null;
  readonly diagnostics: string;
  /** FHIRPath of the place. */
  readonly expression: string | null;
}
/**
 * What the HL7 instance validator says of each resource, in order.
 * @param definitions file with definitions of our own that it shall know, one resource a line
 * @throws Error when it does not answer for every one
 */
export async function validateAll(resources: Iterable<object>, definitions: string): Promise<ValidatorIssue[][]> {
  const child = java("validator", "Validate", definitions);
  const said = ear(child);
  const answers: ValidatorIssue[][] = [];
  createInterface(child.stdout!).on("line", (line) => {
    answers.push((JSON.parse(line) as { issue: ValidatorIssue[] }).issue);
    if (answers.length % TELL_EVERY === 0) console.log(`HL7 validator: ${answers.length} judged`);
  });
  const closed = new Promise<number | null>((done, fail) => {
    child.once("close", done);
    child.once("error", fail);
  });
  let sent = 0;
  function* lines() {
    for (const resource of resources) {
      sent++;
      yield `${JSON.stringify(resource)}\n`;
    }
  }
  // A validator that died early is told of below, by its own words.
  await pipeline(Readable.from(lines()), child.stdin!).catch(() => {});
  const code = await closed;
  if (code !== 0 || answers.length !== sent)
    throw new Error(`The validator answered ${answers.length} of ${sent} and ended with ${code}:\n${said()}`);
  return answers;
}

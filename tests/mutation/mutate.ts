/**
 * `npm run mutate`: plants one fault after the other in the rules and in the program that reads them, and sees whether a test notices.
 *
 *   npm run mutate                       a fixed sample of every folder in proportion; within 45 minutes on two cores
 *   npm run mutate -- --all              everything (hours)
 *   npm run mutate -- --sample 300       a sample of this size, the same each time (--seed N draws another)
 *   npm run mutate -- --rule OW3         faults of one rule, sign or policy key; repeatable
 *   npm run mutate -- --file ask.ts      faults of one file
 *   npm run mutate -- --kind source      faults of the program text alone, or (rules) of the rules alone
 *   npm run mutate -- --each             tells of each fault as it is done: what noticed it, how many tests ran, how long it took
 *   npm run mutate -- --without NAME     leaves out the test files whose path holds NAME; repeatable
 *
 * The first three write tests/mutation/survivors.md.
 */
import { type ChildProcess, fork } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { availableParallelism, tmpdir } from "node:os";
import { dirname, join, normalize } from "node:path";
import { parseArgs } from "node:util";
import { bundleForRules, bundleForSource } from "./bundle.ts";
import { REASONS } from "./reasons.ts";
import type { Learned, Outcome, Planted } from "./worker.ts";

const { values: asked } = parseArgs({
  options: {
    all: { type: "boolean" },
    sample: { type: "string" },
    seed: { type: "string", default: "1" },
    rule: { type: "string", multiple: true },
    file: { type: "string", multiple: true },
    without: { type: "string", multiple: true },
    kind: { type: "string" },
    list: { type: "boolean" },
    each: { type: "boolean" },
  },
});
const root = process.cwd();
const REPORT = "tests/mutation/survivors.md";
const GOAL_PERCENT = 90;
/** Faults that two cores get through in well under 45 minutes. */
const USUAL_SAMPLE = 1200;
const STUCK_MS = 180_000;
/** All tests once without a fault, twice over; a busy machine may take long. */
const LEARNING_MS = 1_200_000;

/**
 * Tests that may notice a fault: those of the rules and those that hold them against published sources. A comparison with a
 * frozen copy of the rules would notice any change and prove nothing, so it does not count.
 */
const FROZEN_COPY = /\/book\//;
const filesIn = (folder: string, end: string) =>
  readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(end))
    .map((name) => `${folder}/${name}`)
    .sort();
const tests = [
  ...filesIn("tests/pathway", ".test.ts"),
  ...filesIn("tests/reference", ".test.ts").filter(
    (file) => !/from "(fhir|@medplum)|coding\//.test(readFileSync(file, "utf8")),
  ),
  "tests/structure/knowledge.test.ts",
].filter((file) => !asked.without?.some((name) => file.includes(name)));

const scratch = mkdtempSync(join(tmpdir(), "fingerpost-mutation-"));
process.on("exit", () => rmSync(scratch, { recursive: true, force: true }));
const begun = performance.now();
const rules = await bundleForRules(root, tests);
const source = await bundleForSource(root, tests, filesIn("src/pathway", ".ts"));
const work = join(scratch, "work.json");
const reads = Object.fromEntries(tests.map((file) => [file, [...readBy(file)]]));
writeFileSync(
  work,
  JSON.stringify({
    root,
    tests,
    frozen: tests.filter((file) => FROZEN_COPY.test(file)),
    reads,
    rules,
    source: source.bundle,
    sourceFaults: source.faults,
  }),
);

/** All project files that one file imports, directly or by way of others. */
function readBy(file: string, known = new Set<string>()): Set<string> {
  if (known.has(file)) return known;
  known.add(file);
  for (const [, path] of readFileSync(file, "utf8").matchAll(/(?:from|import) "(\.[^"]+\.tsx?)"/g))
    readBy(normalize(join(dirname(file), path!)), known);
  return known;
}

interface Ready {
  readonly failed: readonly string[];
  readonly faults: readonly Planted[];
  readonly learned: Learned;
}
type Answer = { readonly ready?: Ready; readonly outcome?: Outcome };
const started: ChildProcess[] = [];
process.on("exit", () => {
  for (const child of started) child.kill();
});
function worker(): { child: ChildProcess; ask: (message: object, patience?: number) => Promise<Answer | undefined> } {
  const child = fork(new URL("worker.ts", import.meta.url), { stdio: ["ignore", "inherit", "inherit", "ipc"] });
  started.push(child);
  const ask = (message: object, patience = STUCK_MS) =>
    new Promise<Answer | undefined>((done) => {
      const settle = (answer?: Answer) => {
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
  return { child, ask };
}
async function ready(learned?: Learned): Promise<{
  run: (fault: Planted) => Promise<Outcome | undefined>;
  known: Ready;
  stop: () => void;
}> {
  const { child, ask } = worker();
  const answer = await ask({ work, learned }, LEARNING_MS);
  if (!answer?.ready) throw new Error("a worker did not start");
  return {
    known: answer.ready,
    run: async (fault) => (await ask({ fault }))?.outcome,
    stop: () => {
      child.kill();
    },
  };
}

const first = await ready();
if (first.known.failed.length > 0) {
  console.error(`These tests fail without any fault:\n${first.known.failed.join("\n")}`);
  process.exit(1);
}
/** "hand/wound.ts: OW3/when.isolatedTuft/drop"; limits stand under the name of their export. */
const nameOf = ({ kind, file, name, key }: Planted) =>
  `${file.replace("src/pathway/", "")}: ${kind === "rules" && !/^[A-Z]/.test(name) ? "" : kind === "rules" ? `${name} ` : ""}${key}`;

/** The same draw for the same seed (mulberry32). */
function random(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}
const folderOf = ({ kind, file }: Planted) =>
  `${file.replace("src/pathway", "").split("/").slice(0, -1).join("/").slice(1) || "(top)"}, ${kind === "rules" ? "rules" : "program"}`;
const chosenOnly = asked.rule !== undefined || asked.file !== undefined || asked.kind !== undefined;
const size = asked.sample !== undefined ? Number(asked.sample) : asked.all || chosenOnly ? undefined : USUAL_SAMPLE;
function drawn(all: readonly Planted[]): Planted[] {
  const left = all.filter(
    (f) =>
      (!asked.rule || asked.rule.some((r) => f.kind === "rules" && f.key.startsWith(`${r}/`))) &&
      (!asked.file || asked.file.some((part) => f.file.includes(part))) &&
      (!asked.kind || f.kind === asked.kind),
  );
  if (size === undefined || size >= left.length) return left;
  // Every folder in proportion: all faults folder by folder, shuffled inside it, and from this row one at every even step.
  const draw = random(Number(asked.seed));
  const order = new Map(left.map((f) => [f, draw()]));
  const row = [...left].sort((a, b) => folderOf(a).localeCompare(folderOf(b)) || order.get(a)! - order.get(b)!);
  const share = size / left.length;
  const chosen = new Set(row.filter((_, i) => Math.floor((i + 1) * share) > Math.floor(i * share)));
  return left.filter((f) => chosen.has(f));
}
const faults = drawn(first.known.faults);
const extent =
  faults.length === first.known.faults.length
    ? `every fault known (${faults.length})`
    : chosenOnly && size === undefined
      ? `${faults.length} of ${first.known.faults.length} faults known, those asked for`
      : `a sample of ${faults.length} of ${first.known.faults.length} faults known, every folder in proportion, seed ${asked.seed}`;
console.log(`Planting ${extent}; ${tests.length} test files; ready after ${seconds()} s`);
if (asked.list) {
  for (const fault of faults) console.log(`${fault.kind} ${nameOf(fault)}`);
  process.exit(0);
}
function seconds(): string {
  return ((performance.now() - begun) / 1000).toFixed(0);
}

const results = new Map<Planted, Outcome>();
// Each worker takes a run of neighbours: what noticed one fault of a table is likely to notice the next.
const RUN = 25;
let at = 0;
async function toil(own: Awaited<ReturnType<typeof ready>>): Promise<void> {
  let mine = own;
  while (at < faults.length) {
    const share = faults.slice(at, at + RUN);
    at += RUN;
    for (const fault of share) {
      const outcome = await mine.run(fault);
      results.set(fault, outcome ?? { end: "timed out", ms: STUCK_MS, ran: 0 });
      if (asked.each)
        console.log(
          `${outcome?.end} ${outcome?.ms.toFixed(0)} ms, ${outcome?.ran} tests  ${nameOf(fault)}  ${outcome?.by ?? ""}`,
        );
      if (!outcome) mine = await ready(first.known.learned);
      if (results.size % 200 === 0) progress();
    }
  }
  mine.stop();
}
const count = (end: Outcome["end"], of = [...results.values()]) => of.filter((r) => r.end === end).length;
function progress(): void {
  console.log(`${results.size} of ${faults.length}, ${count("survived")} survived, ${seconds()} s`);
}
const hands = Math.min(availableParallelism(), 2, Math.ceil(faults.length / RUN));
await Promise.all([
  toil(first),
  ...Array.from({ length: hands - 1 }, async () => toil(await ready(first.known.learned))),
]);

const reasonOf = (fault: Planted): string | undefined =>
  REASONS.find(({ faults: of }) => of.test(nameOf(fault)))?.reason;
const percent = (part: number, of: number) => (of === 0 ? "-" : ((100 * part) / of).toFixed(1));
/** A survivor that no complete record can show is no fault: it is counted apart. */
const changesNothing = (o: Outcome) => o.end === "survived" && o.difference === "none";
function row(name: string, of: readonly Outcome[]): string {
  const noticed = of.filter((o) => o.end !== "survived").length;
  const late = of.filter((o) => o.end === "timed out").length;
  const nothing = of.filter(changesNothing).length;
  const survived = of.length - noticed - nothing;
  return `| ${[name, of.length, noticed, late, nothing, survived, percent(noticed, of.length - nothing)].join(" | ")} |`;
}
const folders = [...new Set(faults.map(folderOf))].sort();
const table = [
  "| where | faults | noticed | of these by running too long | change nothing | survived | score % |",
  "|---|---|---|---|---|---|---|",
  ...folders.map((folder) =>
    row(
      folder,
      [...results].filter(([f]) => folderOf(f) === folder).map(([, o]) => o),
    ),
  ),
  row("**all**", [...results.values()]),
].join("\n");
const NOTHING = "No complete record shows a difference (searched completely)";
const survivors = faults.filter((f) => results.get(f)?.end === "survived");
const real = survivors.filter((f) => !changesNothing(results.get(f)!));
const byReason = new Map<string, Planted[]>();
for (const fault of survivors) {
  const reason = changesNothing(results.get(fault)!)
    ? NOTHING
    : (reasonOf(fault) ?? "To do: a test or a reason is missing");
  byReason.set(reason, [...(byReason.get(reason) ?? []), fault]);
}
const inLine = (f: Planted) => `- \`${nameOf(f).replaceAll("`", "'")}\``;
const listed = [...byReason]
  .sort(([, a], [, b]) => a.length - b.length)
  .map(([reason, of]) => `### ${reason}\n\n${of.length} of them:\n\n${of.map(inLine).join("\n")}`)
  .join("\n\n");
const reported = !chosenOnly && !asked.without;
console.log(`\n${table}\n`);
for (const fault of real) {
  const { difference } = results.get(fault)!;
  const shownBy = typeof difference === "object" ? `   shown by ${JSON.stringify(difference.shownBy)}` : "";
  console.log(`survived  ${nameOf(fault)}${shownBy}`);
}
const slowest = [...results].sort(([, a], [, b]) => b.ms - a.ms).slice(0, 5);
console.log(
  `\nslowest: ${slowest.map(([f, o]) => `${nameOf(f)} ${(o.ms / 1000).toFixed(1)} s (${o.end})`).join("; ")}`,
);
console.log(`${seconds()} s`);
if (reported) {
  writeFileSync(
    REPORT,
    `# Faults that no test notices\n\nMade by \`npm run mutate\`; reasons stand in \`reasons.ts\` beside this file. Planted: ${extent}; wording is left alone.\n\n${table}\n\n## Survivors\n\n${listed}\n`,
  );
  console.log(`written: ${REPORT}`);
}
const counted = results.size - (survivors.length - real.length);
process.exitCode = (100 * (counted - real.length)) / Math.max(1, counted) >= GOAL_PERCENT ? 0 : 1;

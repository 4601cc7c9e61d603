/** Plants one fault after the other in the rules and in the program that reads them. */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, normalize } from "node:path";
import { bundleForRules, bundleForSource } from "./bundle.ts";
import { drawn } from "./draw.ts";
import { Hands } from "./hands.ts";
import type { Options } from "./options.ts";
import { RULE_REASONS, reasonIn } from "./reasons.ts";
import { changesNothing, listOf, score, slowest, tableOf } from "./report.ts";
import type { Learned, Planted } from "./worker.ts";

const REPORT = "tests/mutation/survivors.md";
const GOAL_PERCENT = 90;
/** Faults that two cores get through in well under 45 minutes. */
const USUAL_SAMPLE = 1200;
const STUCK_MS = 180_000;

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
const testFiles = () => [
  ...filesIn("tests/pathway", ".test.ts"),
  ...filesIn("tests/reference", ".test.ts").filter(
    (file) => !/from "(fhir|@medplum)|coding\//.test(readFileSync(file, "utf8")),
  ),
  "tests/structure/knowledge.test.ts",
];

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
/** "hand/wound.ts: OW3/when.isolatedTuft/drop"; limits stand under the name of their export. */
const nameOf = ({ kind, file, name, key }: Planted) =>
  `${file.replace("src/pathway/", "")}: ${kind === "rules" && !/^[A-Z]/.test(name) ? "" : kind === "rules" ? `${name} ` : ""}${key}`;
const folderOf = ({ kind, file }: Planted) =>
  `${file.replace("src/pathway", "").split("/").slice(0, -1).join("/").slice(1) || "(top)"}, ${kind === "rules" ? "rules" : "program"}`;
const NOTHING = "No complete record shows a difference (searched completely)";

/** @returns whether as many faults are noticed as have to be */
export async function plant(asked: Options): Promise<boolean> {
  const root = process.cwd();
  const tests = testFiles().filter((file) => !asked.without?.some((name) => file.includes(name)));
  const scratch = mkdtempSync(join(tmpdir(), "fingerpost-mutation-"));
  process.on("exit", () => rmSync(scratch, { recursive: true, force: true }));
  const begun = performance.now();
  const seconds = () => ((performance.now() - begun) / 1000).toFixed(0);
  const rules = await bundleForRules(root, tests);
  const { bundle, faults: sourceFaults } = await bundleForSource(root, tests, filesIn("src/pathway", ".ts"));
  const work = join(scratch, "work.json");
  const reads = Object.fromEntries(tests.map((file) => [file, [...readBy(file)]]));
  const frozen = tests.filter((file) => FROZEN_COPY.test(file));
  writeFileSync(work, JSON.stringify({ root, tests, frozen, reads, rules, source: bundle, sourceFaults }));

  const hands = new Hands<Ready, Planted>(new URL("worker.ts", import.meta.url), work, STUCK_MS);
  const first = await hands.ready();
  if (first.known.failed.length > 0)
    throw new Error(`These tests fail without any fault:\n${first.known.failed.join("\n")}`);
  const all = first.known.faults;
  const chosenOnly = asked.rule !== undefined || asked.file !== undefined || asked.kind !== undefined;
  const size = asked.sample === "all" || (chosenOnly && !asked.sample) ? undefined : (asked.sample ?? USUAL_SAMPLE);
  const chosen = all.filter(
    (f) =>
      (!asked.rule || asked.rule.some((r) => f.kind === "rules" && f.key.startsWith(`${r}/`))) &&
      (!asked.file || asked.file.some((part) => f.file.includes(part))) &&
      (!asked.kind || f.kind === asked.kind),
  );
  const faults = drawn(chosen, size, asked.seed, folderOf);
  const extent =
    faults.length === all.length
      ? `every fault known (${faults.length})`
      : chosenOnly && size === undefined
        ? `${faults.length} of ${all.length} faults known, those asked for`
        : `a sample of ${faults.length} of ${all.length} faults known, every folder in proportion, seed ${asked.seed}`;
  console.log(`Planting ${extent}; ${tests.length} test files; ready after ${seconds()} s`);
  if (asked.list) {
    for (const fault of faults) console.log(`${fault.kind} ${nameOf(fault)}`);
    first.stop();
    return true;
  }
  let survived = 0;
  const results = await hands.plantAll(first, faults, (fault, outcome, done) => {
    if (outcome.end === "survived") survived++;
    const { end, ms, ran, by = "" } = outcome;
    if (asked.each) console.log(`${end} ${ms.toFixed(0)} ms, ${ran} tests  ${nameOf(fault)}  ${by}`);
    if (done % 200 === 0) console.log(`${done} of ${faults.length}, ${survived} survived, ${seconds()} s`);
  });

  const table = tableOf(results, folderOf);
  console.log(`\n${table}\n`);
  const survivors = faults.filter((f) => results.get(f)?.end === "survived");
  const nothing = (f: Planted) => changesNothing(results.get(f)!);
  for (const fault of survivors.filter((f) => !nothing(f))) {
    const { difference } = results.get(fault)!;
    const shownBy = typeof difference === "object" ? `   shown by ${JSON.stringify(difference.shownBy)}` : "";
    console.log(`survived  ${nameOf(fault)}${shownBy}`);
  }
  console.log(`\nslowest: ${slowest(results, nameOf)}\n${seconds()} s`);
  if (!chosenOnly && !asked.without) {
    const reasonOf = (f: Planted) => (nothing(f) ? NOTHING : reasonIn(RULE_REASONS, nameOf(f)));
    const listed = listOf(survivors, reasonOf, nameOf);
    writeFileSync(
      REPORT,
      `# Faults that no test notices\n\nMade by \`npm run mutate\`; reasons stand in \`reasons.ts\` beside this file. Planted: ${extent}; wording is left alone.\n\n${table}\n\n## Survivors\n\n${listed}\n`,
    );
    console.log(`written: ${REPORT}`);
  }
  return score([...results.values()]) >= GOAL_PERCENT;
}

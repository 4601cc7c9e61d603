/**
 * `npm test`: everything that must hold, in order, until the first stage that fails. The last line is
 * `N passed, N failed`: tests counted by the test runner, and one failure for each other stage that does not pass.
 */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { findChromium } from "./browser/chromium.ts";
import { missingPrograms } from "./interop/java.ts";
import { JOURNEYS } from "./interop/journeys.ts";

interface Count {
  passed: number;
  failed: number;
}
type Stage = readonly [title: string, run: () => Count];

const PASSED: Count = { passed: 0, failed: 0 };
const FAILED: Count = { passed: 0, failed: 1 };
const scratch = mkdtempSync(join(tmpdir(), "fingerpost-tests-"));

const started = (words: readonly string[]): boolean =>
  spawnSync(words[0]!, words.slice(1), { stdio: "inherit" }).status === 0;
const program = (name: string) => join("node_modules", ".bin", name);
const check = (name: string, ...words: string[]): Count => (started([program(name), ...words]) ? PASSED : FAILED);

/** Runs one set of test files. A test that is skipped counts as failed: nothing may be left out in silence. */
function tests(name: string, ...words: string[]): Count {
  const report = join(scratch, `${name}.json`);
  const vitest = ["run", "--reporter=default", "--reporter=json", `--outputFile.json=${report}`, ...words];
  const clean = started([program("vitest"), ...vitest]);
  const count = countsOf(report);
  return { ...count, failed: clean ? count.failed : Math.max(1, count.failed) };
}

function countsOf(report: string): Count {
  try {
    const read = JSON.parse(readFileSync(report, "utf8"));
    const skipped: number = read.numPendingTests + read.numTodoTests;
    if (skipped > 0) console.log(`${skipped} skipped: counted as failed`);
    const empty = read.numPassedTests === 0 && read.numFailedTests === 0 ? 1 : 0;
    return { passed: read.numPassedTests, failed: read.numFailedTests + skipped + empty };
  } catch (error) {
    console.log(`No result from the test runner: ${error}`);
    return FAILED;
  }
}

function browser(): Count {
  try {
    process.env.CHROMIUM = findChromium();
    console.log(process.env.CHROMIUM);
    return PASSED;
  } catch (error) {
    console.log((error as Error).message);
    return FAILED;
  }
}

/** Against a stock FHIR server and the HL7 validator, both in Java, which a user of the plugin never needs. */
function interop(): Count {
  const missing = missingPrograms();
  const files = ["validator", ...JOURNEYS.filter(({ ofSignIn }) => !ofSignIn).map(({ file }) => file)];
  if (missing.length === 0) return tests("interop", "--config", "tests/interop/vitest.config.ts", ...files);
  console.log(`interop not run: ${missing.join(" and ")} not on PATH (Java 17 and Maven 3.8 or later are needed)`);
  return PASSED;
}

/**
 * `npm test -- --long`, as `.ci/run` has it: all browser tests, and not only the main job and what must stop; all fault tests, and
 * not only those over stored plans; interop; and the lines and branches that the quick tests run are counted, and
 * held to the figures of the release gate.
 */
const LONG = process.argv.includes("--long");
/** Browser tests that run every time. */
const EVERY_TIME = ["main-path", "safe-stops"];
// What is written in the tests before is then judged by the HL7 validator.
if (LONG) process.env.FINGERPOST_WRITES = join(scratch, "written");
const STAGES: readonly Stage[] = [
  ["types", () => check("tsc", "--noEmit")],
  ["lint", () => check("biome", "check", ".")],
  ["build", () => (started(["npm", "run", "--silent", "build"]) ? PASSED : FAILED)],
  ...(LONG
    ? [
        ["tests, lines counted", () => tests("counted", "--config", "tests/coverage.config.ts")] as Stage,
        ["other tests", () => tests("tests", "--project", "other")] as Stage,
      ]
    : [["tests", () => tests("tests")] as Stage]),
  ["browser", browser],
  ["browser tests", () => tests("browser", "--config", "tests/browser/vitest.config.ts", ...(LONG ? [] : EVERY_TIME))],
  LONG
    ? ["all faults", () => tests("faults", "--config", "tests/faults/vitest.config.ts")]
    : ["faults, over stored plans", () => tests("faults", "--config", "tests/faults/vitest.config.ts", "stored-plans")],
  ...(LONG ? [["interop", interop] as const] : []),
];

const total: Count = { passed: 0, failed: 0 };
for (const [title, run] of STAGES) {
  console.log(`\n== ${title}`);
  const begun = performance.now();
  const { passed, failed } = run();
  total.passed += passed;
  total.failed += failed;
  console.log(`== ${title}: ${failed ? "FAILED" : "passed"} in ${((performance.now() - begun) / 1000).toFixed(1)} s`);
  if (failed) {
    console.log(`\nStopped at "${title}": later stages did not run`);
    break;
  }
}
rmSync(scratch, { recursive: true, force: true });
console.log(`${total.passed} passed, ${total.failed} failed`);
process.exitCode = total.failed ? 1 : 0;

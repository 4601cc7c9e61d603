/**
 * `npm run bench`: speed and weight beside references that are built and measured in the same run, since absolute times
 * differ from machine to machine. Prints `name: measured (target) ok|MISSED` for each, and exits 1 when a target is missed.
 * A word as argument runs only the parts whose title holds it: `npm run bench -- paint`.
 */
import { resolve } from "node:path";
import type { Browser } from "playwright-core";
import { startPractice } from "../../launch/start.ts";
import { MODULES, readSitePolicy } from "../../src/pathway/index.ts";
import { startChromium } from "../browser/chromium.ts";
import { measureAsk } from "./ask.ts";
import { buildReference } from "./build-reference.ts";
import { measureClinicList } from "./clinic-list.ts";
import { measureCoding } from "./coding.ts";
import { measureEvaluation } from "./evaluation.ts";
import { measureLaunch } from "./launch-times.ts";
import { measureChartMemory, measureListMemory, ROWS } from "./memory.ts";
import { measurePaint } from "./paint.ts";
import { measureQuestions } from "./questions.ts";
import { isMissed, lineOf, type Measured } from "./report.ts";
import { measureScheduling } from "./scheduling.ts";
import { measureWeight } from "./weight.ts";

/** Round trip to the EHR that each answer is held back for. */
const LATENCY_MS = 150;
const DIST = resolve("dist");
const TYPICAL = resolve(".cache/bench-typical");
const ASK = resolve(".cache/bench-ask");
const SEQUENTIAL = resolve(".cache/bench-sequential");

async function evaluation(): Promise<Measured[]> {
  const read = readSitePolicy(undefined);
  if (!read.ok) throw new Error("the default policy is refused");
  return measureEvaluation(MODULES[0]!, read.policy);
}

/** Practice EHR, built plugin and one browser, for the time of one part. */
async function inBrowser(
  latencyMs: number,
  measure: (...on: [Browser, Awaited<ReturnType<typeof startPractice>>]) => Promise<Measured[]>,
  clinics: number | false = false,
): Promise<Measured[]> {
  const practice = await startPractice({ quiet: true, ehrPort: 0, pluginPort: 0, latencyMs, clinics });
  const browser = await startChromium();
  try {
    return await measure(browser, practice);
  } finally {
    await browser.close();
    await practice.close();
  }
}

const PARTS: readonly (readonly [title: string, measure: () => Promise<Measured[]>])[] = [
  ["rules: evaluation", evaluation],
  ["rules: questions until settled", measureQuestions],
  ["coding: 100,000 records exported", measureCoding],
  ["clinic: list of visits", measureClinicList],
  ["scheduling: 500 patients, 60 days", measureScheduling],
  [
    "rules: ask, the next question on a slow computer",
    async () => {
      await buildReference("tests/bench/ask", ["index.html"], ASK);
      const browser = await startChromium();
      try {
        return await measureAsk(browser, ASK);
      } finally {
        await browser.close();
      }
    },
  ],
  [
    "weight: scripts",
    async () => {
      // Starting the practice EHR builds the plugin when its sources are newer than what was built.
      await (await startPractice({ quiet: true, ehrPort: 0, pluginPort: 0 })).close();
      return measureWeight(DIST);
    },
  ],
  ["memory: a full chart", () => inBrowser(0, measureChartMemory)],
  ["memory: a long list", () => inBrowser(0, measureListMemory, 2 * ROWS)],
  [
    "paint: slow computer, slow network",
    async () => {
      await buildReference("tests/bench/typical", ["index.html"], TYPICAL);
      return inBrowser(0, (browser, practice) => measurePaint(browser, practice, TYPICAL));
    },
  ],
  [
    `launch: answers of the EHR after ${LATENCY_MS} ms`,
    async () => {
      await buildReference("tests/bench/sequential", ["launch.html", "index.html"], SEQUENTIAL);
      return inBrowser(LATENCY_MS, (browser, practice) => measureLaunch(browser, practice, SEQUENTIAL));
    },
  ],
];

const wanted = process.argv[2] ?? "";
let missed = 0;
for (const [title, measure] of PARTS.filter(([title]) => title.includes(wanted))) {
  console.log(`\n${title}`);
  try {
    for (const measured of await measure()) {
      console.log(`  ${lineOf(measured)}`);
      if (isMissed(measured)) missed++;
    }
  } catch (error) {
    // A part that cannot be measured is missed, and the others are still worth knowing.
    console.log(`  could not be measured: ${error instanceof Error ? error.message : error}  MISSED`);
    missed++;
  }
}
console.log(missed ? `\n${missed} missed` : "\nall targets met");
process.exitCode = missed ? 1 : 0;

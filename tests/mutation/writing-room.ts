/** Plants one fault after the other in dates, drafts, transport and writing back. */
import { fork } from "node:child_process";
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { drawn } from "./draw.ts";
import type { Options } from "./options.ts";
import { instrumented, type SourceFault } from "./program-text.ts";
import { reasonIn, WRITING_REASONS } from "./reasons.ts";
import { listOf, score, slowest, tableOf } from "./report.ts";
import type { Outcome } from "./worker.ts";
import type { News, WritingWork } from "./writing-worker.ts";

const REPORT = "tests/mutation/survivors-writing.md";
/** Figures of the release gate. */
const GOAL_PERCENT = { dates: 90, writing: 80 };
/** Faults that two cores get through in under twelve minutes: a fifth of them in the dates, which are few and have to be right. */
const USUAL_SAMPLE = 300;
const OF_DATES = 1 / 5;
/** Test files that stand up a whole record system; they come last. The clinic's and the coders' ways of writing are other files. */
const LATE = ["smart/read-chart", "smart/launch", "smart/session", "fhir/chart.test"];
const SLOW = ["practice-ehr", "partial-servers"];
const OTHER_ROOMS = ["smart/clinic", "smart/coding"];

const DATES = "src/fhir/dates.ts";
const SMART = [
  ...[
    "transport",
    "write-back",
    "write-report",
    "one-transaction",
    "single-writes",
    "before-writing",
    "filing",
    "journal",
  ],
  ...[
    "unfinished",
    "same-injury",
    "capabilities",
    "token",
    "handshake",
    "stored-look",
    "chart-changed",
    "server-clock",
  ],
];
const FHIR = [
  ...["plan-life", "revision", "draft-bundle", "draft-item", "drafts", "refine", "stand-ins", "stored-change"],
  ...["withdrawal-document", "withdrawal-record"],
];
const FILES = [...SMART.map((name) => `src/smart/${name}.ts`), ...FHIR.map((name) => `src/fhir/${name}.ts`), DATES];
const testsIn = (folder: string) =>
  readdirSync(folder)
    .filter((name) => name.endsWith(".test.ts"))
    .map((name) => `${folder}/${name}`);

const nameOf = ({ file, key }: SourceFault) => `${file.replace("src/", "")}: ${key}`;
const fileOf = ({ file }: SourceFault) => file.replace("src/", "");
const isOfDates = ({ file }: SourceFault) => file === DATES;

/** One process over its share of the faults. @throws an Error when it ends before it is done */
function lookedFor(work: string, hear: (news: News) => void): Promise<void> {
  const child = fork(new URL("writing-worker.ts", import.meta.url), { stdio: ["ignore", "inherit", "inherit", "ipc"] });
  process.on("exit", () => child.kill());
  return new Promise((done, fail) => {
    let isDone = false;
    child.on("message", (news: News) => {
      if (news.done) isDone = true;
      hear(news);
    });
    child.on("exit", () => (isDone ? done() : fail(new Error("a process ended before it had tried all its faults"))));
    child.send(work);
  });
}

/** @returns whether as many faults are noticed as have to be */
export async function plant(asked: Options): Promise<boolean> {
  const root = process.cwd();
  const late = (file: string) => [...LATE, ...SLOW].findIndex((name) => file.includes(name));
  const tests = [...testsIn("tests/fhir"), ...testsIn("tests/smart")]
    .filter((file) => ![...OTHER_ROOMS, ...(asked.without ?? [])].some((name) => file.includes(name)))
    .filter((file) => asked.with?.some((name) => file.includes(name)) ?? true)
    .sort((a, b) => late(a) - late(b));
  const begun = performance.now();
  const seconds = () => ((performance.now() - begun) / 1000).toFixed(0);
  const { faults: all, text } = await instrumented(root, FILES);
  const chosen = all.filter(({ file }) => !asked.file || asked.file.some((part) => file.includes(part)));
  const size = asked.sample === "all" || (asked.file && !asked.sample) ? undefined : (asked.sample ?? USUAL_SAMPLE);
  const [dates, others] = [chosen.filter(isOfDates), chosen.filter((f) => !isOfDates(f))];
  const inDates = size && others.length > 0 ? Math.round(size * OF_DATES) : size;
  const inOthers = size && dates.length > 0 ? size - inDates! : size;
  const faults = [...drawn(others, inOthers, asked.seed, fileOf), ...drawn(dates, inDates, asked.seed, fileOf)];
  const extent =
    faults.length === all.length
      ? `every fault known (${faults.length})`
      : size === undefined
        ? `${faults.length} of ${all.length} faults known, those asked for`
        : `a sample of ${faults.length} of ${all.length} faults known, a fifth in the dates and every other file in proportion, seed ${asked.seed}`;
  console.log(`Planting ${extent}; ${tests.length} test files`);
  if (asked.list) {
    for (const fault of faults) console.log(nameOf(fault));
    return true;
  }

  const scratch = mkdtempSync(join(tmpdir(), "fingerpost-mutation-"));
  process.on("exit", () => rmSync(scratch, { recursive: true, force: true }));
  let survived = 0;
  const results = new Map<SourceFault, Outcome>();
  const byId = new Map(faults.map((fault) => [fault.id, fault]));
  const shares = faults.length < 50 ? [faults] : [0, 1].map((n) => faults.filter((_, i) => i % 2 === n));
  await Promise.all(
    shares.map((share, n) => {
      const work = join(scratch, `work-${n}.json`);
      const slow = tests.filter((file) => SLOW.some((name) => file.includes(name)));
      const log = join(scratch, `log-${n}`);
      const ids = share.map(({ id }) => id);
      writeFileSync(
        work,
        JSON.stringify({ root, tests, slow, text: [...text], faults: ids, log } satisfies WritingWork),
      );
      return lookedFor(work, ({ fault: id, outcome, file, left, remark }) => {
        if (remark) console.log(remark);
        if (file) console.log(`${file}: ${left} of ${share.length} not yet noticed (process ${n + 1}), ${seconds()} s`);
        const fault = id && byId.get(id);
        if (!fault || !outcome) return;
        results.set(fault, outcome);
        if (outcome.end === "survived") survived++;
        const { end, ran, by = "" } = outcome;
        if (asked.each) console.log(`${end}, ${ran} tests  ${nameOf(fault)}  ${by}`);
      });
    }),
  );
  console.log(`${results.size} of ${faults.length}, ${survived} survived`);

  const table = tableOf(results, fileOf);
  const survivors = faults.filter((f) => results.get(f)?.end === "survived");
  console.log(`\n${table}\n`);
  for (const fault of survivors) console.log(`survived  ${nameOf(fault)}`);
  console.log(`\nslowest: ${slowest(results, nameOf)}\n${seconds()} s`);
  if (!asked.file && !asked.without && !asked.with) {
    const listed = listOf(survivors, (f) => reasonIn(WRITING_REASONS, nameOf(f)), nameOf);
    writeFileSync(
      REPORT,
      `# Faults in writing that no test notices\n\nMade by \`npm run mutate -- --room writing\`; reasons stand in \`reasons.ts\` beside this file. Planted: ${extent}; wording is left alone.\n\n${table}\n\n## Survivors\n\n${listed}\n`,
    );
    console.log(`written: ${REPORT}`);
  }
  const of = (isIn: (f: SourceFault) => boolean) => score([...results].flatMap(([f, o]) => (isIn(f) ? [o] : [])));
  const [days, writing] = [of(isOfDates), of((f) => !isOfDates(f))];
  console.log(
    `dates ${days.toFixed(1)} % of at least ${GOAL_PERCENT.dates}, all else ${writing.toFixed(1)} % of at least ${GOAL_PERCENT.writing}`,
  );
  return days >= GOAL_PERCENT.dates && writing >= GOAL_PERCENT.writing;
}

/** Time until the next question is known, on a slow computer, over partial records. */
import type { Browser } from "playwright-core";
import type { Order, Timed } from "./ask/main.ts";
import { type Measured, median } from "./report.ts";
import { serveFolder } from "./static-server.ts";

/** A quarter of this machine's speed. */
const CPU_RATE = 4;
const CALLS = 10_000;
/** Whole assessments are timed for information only. */
const ASSESSED = 1_000;
/** The first calls pay for the compiler of the browser. They count in all that is measured, and are shown by themselves too. */
const FIRST = 200;
const SEED = 20_261_125;
/** The same calls in so many fresh pages: the time of a call is the median, as what other programs take of a shared machine is not ours. */
const PAGES = 5;
/** Clocks of a page are coarse (0.1 ms) unless nothing else can share its process. */
const ALONE = { "cross-origin-opener-policy": "same-origin", "cross-origin-embedder-policy": "require-corp" };
const SETS: readonly (readonly [order: Order, words: string])[] = [
  ["independent", "random partial records"],
  ["one by one", "answers one by one, random order"],
  ["guided", "answers to what is asked"],
];

async function timeIn(browser: Browser, url: string, order: Order): Promise<Timed> {
  const context = await browser.newContext();
  try {
    const page = await context.newPage();
    await page.goto(url);
    const devtools = await context.newCDPSession(page);
    await devtools.send("Emulation.setCPUThrottlingRate", { rate: CPU_RATE });
    return await page.evaluate<Timed>(`measure(${JSON.stringify(order)}, ${CALLS}, ${ASSESSED}, ${SEED})`);
  } finally {
    await context.close();
  }
}

const quantile = (times: readonly number[], share: number) =>
  [...times].sort((a, b) => a - b)[Math.min(times.length - 1, Math.floor(times.length * share))]!;

const most = (times: readonly number[]) => Math.max(...times);
const callByCall = (runs: readonly (readonly number[])[]) =>
  runs[0]!.map((_, call) => median(runs.map((r) => r[call]!)));

/** Each run in a page of its own, so that each begins cold. @param dist the built page of `ask/` */
export async function measureAsk(browser: Browser, dist: string): Promise<Measured[]> {
  const server = await serveFolder(dist, {}, ALONE);
  try {
    const measured: Measured[] = [];
    for (const [order, words] of SETS) {
      const runs: Timed[] = [];
      for (let page = 0; page < PAGES; page++) runs.push(await timeIn(browser, `${server.url}/`, order));
      const next = callByCall(runs.map((r) => r.next));
      const assess = callByCall(runs.map((r) => r.assess));
      const line = (name: string, value: number, atMost?: number): Measured => ({
        name: `${words}: ${name}`,
        value,
        unit: "ms",
        ...(atMost === undefined ? {} : { target: { atMost } }),
      });
      measured.push(
        line("rules made ready, before the first question", median(runs.map((r) => r.ready))),
        line(`next question, median of ${CALLS} calls`, median(next)),
        line("next question, 99th percentile", quantile(next, 0.99), 4),
        line("next question, longest of all", most(next), 16),
        line(`next question, longest of the first ${FIRST}`, most(next.slice(0, FIRST))),
        line(`next question, longest after the first ${FIRST}`, most(next.slice(FIRST))),
        line(`next question, longest of all in any of the ${PAGES} pages`, most(runs.flatMap((r) => most(r.next)))),
        line("whole assessment, median", median(assess)),
        line("whole assessment, 99th percentile", quantile(assess, 0.99)),
        line("whole assessment, longest", most(assess)),
      );
    }
    return measured;
  } finally {
    await server.close();
  }
}

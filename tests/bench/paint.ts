/** First paint and time until the page can be used, on a slow computer and a slow network. */
import { setTimeout } from "node:timers/promises";
import type { Browser, Page } from "playwright-core";
import type { Practice } from "../../launch/start.ts";
import { launchAddress, USABLE } from "./launch-times.ts";
import { type Measured, median } from "./report.ts";
import { serveFolder } from "./static-server.ts";
import { weightOfPage } from "./weight.ts";

const RUNS = 5;
/** A quarter of this machine's speed, and a slow mobile network. */
const CPU_RATE = 4;
const NETWORK = { offline: false, latency: 150, downloadThroughput: 1_600_000 / 8, uploadThroughput: 750_000 / 8 };
/** The page counts as quiet when no task of 50 ms or more began for this long. */
const QUIET_MS = 1_000;
const GIVE_UP_MS = 60_000;

interface PageToPaint {
  /** Brings the page to the address that is then loaded again under the slow conditions. */
  readonly open: (page: Page) => Promise<unknown>;
  /** Selector of the first thing that a person can work with. */
  readonly usable: string;
}
interface Painted {
  readonly firstPaint: number;
  /** The first control is there; the page may still be busy. */
  readonly firstControl: number;
  readonly interactive: number;
}

interface PaintWatch {
  readonly usableAt: number;
  readonly busyUntil: number;
}
/** Notes in the page when the selector first finds something and when the last long task ended. Text, since it runs there. */
const watchFor = (selector: string) => `
  window.paintWatch = { usableAt: 0, busyUntil: 0 };
  new PerformanceObserver((list) => {
    for (const task of list.getEntries())
      paintWatch.busyUntil = Math.max(paintWatch.busyUntil, task.startTime + task.duration);
  }).observe({ type: "longtask", buffered: true });
  requestAnimationFrame(function look() {
    if (document.querySelector(${JSON.stringify(selector)})) paintWatch.usableAt = performance.now();
    else requestAnimationFrame(look);
  });`;

/** Waits from outside: our page forbids the evaluated text that a wait inside it would need. */
async function quietWatch(page: Page): Promise<PaintWatch> {
  const givenUp = Date.now() + GIVE_UP_MS;
  while (Date.now() < givenUp) {
    await setTimeout(QUIET_MS);
    const { now, ...watch } = await page.evaluate<PaintWatch & { now: number }>(
      "({ ...paintWatch, now: performance.now() })",
    );
    if (watch.usableAt > 0 && now > Math.max(watch.usableAt, watch.busyUntil) + QUIET_MS) return watch;
  }
  throw new Error("the page never came to rest with something to work with");
}

async function paint(browser: Browser, { open, usable }: PageToPaint): Promise<Painted> {
  const context = await browser.newContext();
  try {
    const page = await context.newPage();
    await open(page);
    await page.waitForSelector(usable, { timeout: 60_000 });
    const devtools = await context.newCDPSession(page);
    await devtools.send("Network.enable");
    await devtools.send("Network.setCacheDisabled", { cacheDisabled: true });
    await devtools.send("Network.emulateNetworkConditions", NETWORK);
    await devtools.send("Emulation.setCPUThrottlingRate", { rate: CPU_RATE });
    await page.addInitScript(watchFor(usable));
    await page.reload({ waitUntil: "commit" });
    const watch = await quietWatch(page);
    const firstPaint = await page.evaluate<number>(
      'performance.getEntriesByName("first-contentful-paint")[0].startTime',
    );
    return { firstPaint, firstControl: watch.usableAt, interactive: Math.max(watch.usableAt, watch.busyUntil) };
  } finally {
    await context.close();
  }
}

/**
 * Both pages are opened at full speed first, ours by a real launch, and then loaded again from nothing under the slow
 * conditions: ours with the session it holds, so that it reads the chart as well, which the reference does not.
 */
export async function measurePaint(browser: Browser, practice: Practice, typicalDist: string): Promise<Measured[]> {
  const server = await serveFolder(typicalDist);
  try {
    const typical: PageToPaint = { open: (page) => page.goto(`${server.url}/`), usable: "form input" };
    const ours: PageToPaint = { open: async (page) => page.goto((await launchAddress(practice)).href), usable: USABLE };
    const painted = { ours: [] as Painted[], typical: [] as Painted[] };
    await paint(browser, typical); // the first page of a browser pays for its start
    for (let run = 0; run < RUNS; run++) {
      painted.ours.push(await paint(browser, ours));
      painted.typical.push(await paint(browser, typical));
    }
    const of = (which: "ours" | "typical", what: keyof Painted) => median(painted[which].map((p) => p[what]));
    const [ourPaint, theirPaint] = [of("ours", "firstPaint"), of("typical", "firstPaint")];
    const [ourUse, theirUse] = [of("ours", "interactive"), of("typical", "interactive")];
    return [
      { name: "usual stack, scripts of the page, brotli", value: weightOfPage(typicalDist, "index.html"), unit: "kB" },
      { name: "first paint, usual stack", value: theirPaint, unit: "ms" },
      { name: "first paint, ours", value: ourPaint, unit: "ms" },
      { name: "first paint, ours / usual stack", value: ourPaint / theirPaint, unit: "", target: { atMost: 0.3 } },
      { name: "first control there, usual stack", value: of("typical", "firstControl"), unit: "ms" },
      { name: "first control there, ours", value: of("ours", "firstControl"), unit: "ms" },
      { name: "interactive, usual stack", value: theirUse, unit: "ms" },
      { name: "interactive, ours", value: ourUse, unit: "ms" },
      { name: "interactive, ours / usual stack", value: ourUse / theirUse, unit: "", target: { atMost: 0.7 } },
    ];
  } finally {
    await server.close();
  }
}

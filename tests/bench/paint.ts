/** First paint and time until the page can be used, on a slow computer and a slow network. */
import react from "@vitejs/plugin-react";
import type { Browser } from "playwright-core";
import { build } from "vite";
import { type Measured, median } from "./report.ts";
import { serveFolder } from "./static-server.ts";
import { weightOfPage } from "./weight.ts";

const RUNS = 5;
/** A quarter of this machine's speed, and a slow mobile network. */
const CPU_RATE = 4;
const NETWORK = { offline: false, latency: 150, downloadThroughput: 1_600_000 / 8, uploadThroughput: 750_000 / 8 };
/** The page counts as quiet when no task of 50 ms or more began for this long. */
const QUIET_MS = 1_000;

export interface PageToPaint {
  readonly url: string;
  /** Selector of the first thing that a person can work with. */
  readonly usable: string;
}
interface Painted {
  readonly firstPaint: number;
  readonly interactive: number;
}

/** Builds the reference page of usual choices; the result is thrown away with the cache. */
export async function buildTypical(outDir: string): Promise<void> {
  await build({
    configFile: false,
    root: "tests/bench/typical",
    logLevel: "error",
    plugins: [react()],
    build: { outDir, emptyOutDir: true, target: "es2022", chunkSizeWarningLimit: 2_000 },
  });
}

declare global {
  interface Window {
    paintWatch: { usableAt: number; busyUntil: number };
  }
}

async function paint(browser: Browser, { url, usable }: PageToPaint): Promise<Painted> {
  const context = await browser.newContext();
  try {
    const page = await context.newPage();
    const devtools = await context.newCDPSession(page);
    await devtools.send("Network.enable");
    await devtools.send("Network.setCacheDisabled", { cacheDisabled: true });
    await devtools.send("Network.emulateNetworkConditions", NETWORK);
    await devtools.send("Emulation.setCPUThrottlingRate", { rate: CPU_RATE });
    await page.addInitScript((selector) => {
      window.paintWatch = { usableAt: 0, busyUntil: 0 };
      new PerformanceObserver((list) => {
        for (const task of list.getEntries())
          window.paintWatch.busyUntil = Math.max(window.paintWatch.busyUntil, task.startTime + task.duration);
      }).observe({ type: "longtask", buffered: true });
      const look = () => {
        if (document.querySelector(selector)) window.paintWatch.usableAt = performance.now();
        else requestAnimationFrame(look);
      };
      requestAnimationFrame(look);
    }, usable);
    await page.goto(url);
    await page.waitForFunction(
      (quiet) => {
        const { usableAt, busyUntil } = window.paintWatch;
        return usableAt > 0 && performance.now() > Math.max(usableAt, busyUntil) + quiet;
      },
      QUIET_MS,
      { timeout: 60_000 },
    );
    return await page.evaluate(() => ({
      firstPaint: performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? Number.NaN,
      interactive: Math.max(window.paintWatch.usableAt, window.paintWatch.busyUntil),
    }));
  } finally {
    await context.close();
  }
}

export async function measurePaint(browser: Browser, ours: PageToPaint, typicalDist: string): Promise<Measured[]> {
  const server = await serveFolder(typicalDist);
  try {
    const typical: PageToPaint = { url: `${server.url}/`, usable: "form input" };
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
      { name: "interactive, usual stack", value: theirUse, unit: "ms" },
      { name: "interactive, ours", value: ourUse, unit: "ms" },
      { name: "interactive, ours / usual stack", value: ourUse / theirUse, unit: "", target: { atMost: 0.7 } },
    ];
  } finally {
    await server.close();
  }
}

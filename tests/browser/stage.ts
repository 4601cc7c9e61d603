import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import type { Browser, BrowserContext, Page } from "playwright-core";
import { startPractice } from "../../launch/start.ts";
import { startChromium } from "./chromium.ts";

type Practice = Awaited<ReturnType<typeof startPractice>>;

/** Base of another FHIR server, already filled with the invented charts: the same journeys are then made on that one. */
const FOREIGN = process.env.FINGERPOST_FHIR;

/** A practice EHR, the built plugin and one Chromium: what every browser test stands on. */
export interface Stage {
  readonly practice: Practice;
  readonly browser: Browser;
  /** What the record system holds of a type, whichever server keeps it. */
  stored(type: string): Promise<Stored[]>;
  close(): Promise<void>;
}

// biome-ignore lint/suspicious/noExplicitAny: resources of any type are looked into; one that differs fails the test
export type Stored = { resourceType: string; id: string; meta: { versionId: string } } & Record<string, any>;

export async function openStage(options: Parameters<typeof startPractice>[0] = {}): Promise<Stage> {
  const practice = await startPractice({ quiet: true, ehrPort: 0, pluginPort: 0, fhir: FOREIGN, ...options });
  const browser = await startChromium();
  return {
    practice,
    browser,
    stored: async (type) => {
      const answer = await fetch(`${practice.listensAt}/practice/resources/${type}`);
      if (!answer.ok) throw new Error(`${type} cannot be listed: ${await answer.text()}`);
      return (await answer.json()) as Stored[];
    },
    close: async () => {
      await browser.close();
      const faults = await launchFaults(practice);
      await practice.close();
      if (faults.length) throw new Error(`launches that a strict server would mark down: ${faults.join("; ")}`);
    },
  };
}

/** What was wrong with the launches of this practice EHR so far, of the points that it counts at each of them. */
export async function launchFaults(practice: Practice): Promise<string[]> {
  const answer = await fetch(`${practice.listensAt}/practice/launch-checks`);
  const { checks } = (await answer.json()) as { checks: Record<string, { passed: number; failed: number }> };
  return Object.entries(checks)
    .filter(([, { failed }]) => failed > 0)
    .map(([name, { failed }]) => `${name}: failed ${failed} times`);
}

/** What a visit to the plugin left behind; every test that opens one ends by looking at it. */
export interface Trail {
  /** Content-Security-Policy and Trusted Types violations, from any page or frame of the plugin. */
  readonly violations: string[];
  readonly console: string[];
  readonly requests: { method: string; url: string }[];
  readonly errors: string[];
  /** Deliberate presses of a pointer on EHR and plugin pages. */
  clicks: number;
}

export async function openVisit(
  stage: Stage,
  options: Parameters<Browser["newContext"]>[0] = {},
): Promise<{ context: BrowserContext; page: Page; trail: Trail }> {
  const context = await stage.browser.newContext({
    viewport: { width: 1280, height: 900 },
    reducedMotion: "reduce",
    ...options,
  });
  // A busy machine takes its time; no journey is about how long.
  context.setDefaultTimeout(150_000);
  const trail: Trail = { violations: [], console: [], requests: [], errors: [], clicks: 0 };
  await context.exposeBinding("__report", (_source, kind: string, detail: string) => {
    if (kind === "click") trail.clicks++;
    else trail.violations.push(detail);
  });
  await context.addInitScript(() => {
    const report = (kind: string, detail: string) =>
      (window as unknown as { __report(kind: string, detail: string): void }).__report(kind, detail);
    document.addEventListener("securitypolicyviolation", (e) =>
      report("csp", `${e.effectiveDirective} ${e.blockedURI} ${e.sourceFile}`),
    );
    // One press of mouse, pen or finger, wherever it lands: what a person would count.
    document.addEventListener("pointerdown", (e) => e.isTrusted && report("click", ""), true);
  });
  const page = await context.newPage();
  context.on("request", (r) => trail.requests.push({ method: r.method(), url: r.url() }));
  context.on("console", (m) => trail.console.push(`${m.type()}: ${m.text()}`));
  context.on("weberror", (e) => trail.errors.push(String(e.error())));
  return { context, page, trail };
}

/** Windows in which whole screens are looked at; none on a stock server, since the looks do not depend on whose server it is. */
export const looksAt = <W>(...windows: readonly W[]): readonly W[] => (process.env.FINGERPOST_FHIR ? [] : windows);

const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
/** WCAG 2.2 A and AA violations of the page as it stands: rule, and the elements. */
export async function axeViolations(page: Page): Promise<string[]> {
  // Half a megabyte: once for each document is enough.
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(axeSource);
  return page.evaluate(async () => {
    const axe = (
      window as unknown as {
        axe: {
          run(
            context: Document,
            options: object,
          ): Promise<{ violations: { id: string; nodes: { target: unknown[] }[] }[] }>;
        };
      }
    ).axe;
    const { violations } = await axe.run(document, {
      // Nothing is asked of what passes: half of the time.
      resultTypes: ["violations"],
      runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice"],
    });
    return violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).join(" | ")}`);
  });
}
/** How many pixels the page is wider than its window; 0 when nothing needs sideways scrolling. */
export const sidewaysScroll = (page: Page): Promise<number> =>
  page.evaluate(() => Math.max(0, document.documentElement.scrollWidth - document.documentElement.clientWidth));

/** Sets how the practice EHR behaves: faults, withheld scopes, refused types. `{ reset: true }` makes it good again. */
export async function control(stage: Stage, message: object): Promise<void> {
  // Charts of another server are put back where they were filled in.
  if (FOREIGN && "reseed" in message) await (await import("../interop/charts.ts")).putBack(FOREIGN);
  const answer = await fetch(`${stage.practice.ehrUrl}/practice/control`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(message),
  });
  if (!answer.ok) throw new Error(`the practice EHR refused the control message: ${await answer.text()}`);
}
export interface EhrRequest {
  readonly method: string;
  readonly path: string;
  readonly status: number;
  readonly bytes: number;
}
/** What the practice EHR was asked since the log was cleared. */
export async function ehrRequests(stage: Stage): Promise<EhrRequest[]> {
  const answer = await fetch(`${stage.practice.ehrUrl}/practice/requests`);
  const log = (await answer.json()) as EhrRequest[] | { requests: EhrRequest[] };
  return Array.isArray(log) ? log : log.requests;
}

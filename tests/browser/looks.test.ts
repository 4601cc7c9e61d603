import { mkdirSync } from "node:fs";
import { join } from "node:path";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launched, press, STANDARD_CASE, tabTo } from "./journey.ts";
import { axeViolations, openStage, openVisit, type Stage, sidewaysScroll } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());

const PICTURES = join(import.meta.dirname, "../../.cache/screens");
mkdirSync(PICTURES, { recursive: true });
/** `README_PICTURES=1 npx vitest run --config tests/browser/vitest.config.ts looks` makes the pictures of the README anew. */
const README_PICTURES = process.env.README_PICTURES && join(import.meta.dirname, "../../fixtures/screens");

const TWO_FINGERS = "Anselm Ibarra-Wick";
/** Every screen of the doctor's job, in order, each looked at by `look` before going on. */
async function walk(page: Page, look: (screen: string) => Promise<void>): Promise<void> {
  await page.goto(`${stage.practice.ehrUrl}/desk`);
  await look("people");
  await launched(stage, page, TWO_FINGERS);
  await page.getByRole("button", { name: "Both are injured" }).waitFor();
  await look("findings-two-fingers");
  await launched(stage, page, STANDARD_CASE.patient);
  await look("findings-at-first");
  await answerStandardCase(page);
  await look("findings-answered");
  await press(page, "See the plan");
  await page.getByRole("heading", { name: "The plan, and why" }).waitFor();
  for (const summary of await page.locator("details > summary").all())
    if (await summary.isVisible()) await summary.click();
  await look("plan-opened");
  await press(page, "Review and sign");
  await page.getByText("Signs: ", { exact: false }).waitFor();
  await look("sign");
}

describe("every screen, at every size and in every scheme", () => {
  const cases = [
    { name: "1280 light", viewport: { width: 1280, height: 900 } },
    { name: "1280 dark", viewport: { width: 1280, height: 900 }, colorScheme: "dark" as const },
    { name: "700 light", viewport: { width: 700, height: 900 } },
    { name: "700 dark", viewport: { width: 700, height: 900 }, colorScheme: "dark" as const },
    { name: "320 light", viewport: { width: 320, height: 640 } },
    { name: "700 forced", viewport: { width: 700, height: 900 }, forcedColors: "active" as const },
  ];
  it.each(cases)(
    "SAF-15, SAF-18: $name has no accessibility violation and needs no sideways scrolling",
    async ({ name, ...options }) => {
      const { page, trail, context } = await openVisit(stage, options);
      await walk(page, async (screen) => {
        await page.evaluate(() => window.scrollTo(0, 0));
        await page.screenshot({ path: join(PICTURES, `${screen}-${name.replace(" ", "-")}.png`) });
        if (README_PICTURES && name === "1280 light")
          await page.screenshot({ path: join(README_PICTURES, `${screen}.png`) });
        expect(await axeViolations(page), `${screen}, ${name}`).toEqual([]);
        expect(await sidewaysScroll(page), `${screen}, ${name}: sideways scroll`).toBe(0);
        const banner = page.getByRole("region", { name: "Patient", exact: true });
        if (screen !== "people") expect(await banner.isVisible(), `${screen}: the patient is on screen`).toBe(true);
      });
      expect(trail.violations).toEqual([]);
      await context.close();
    },
  );

  it.each([700, 320])(
    "with two fingers the bar at the foot of a %i px screen names the one that is asked about",
    async (width) => {
      const { page, context } = await openVisit(stage, { viewport: { width, height: 900 } });
      await launched(stage, page, TWO_FINGERS);
      await press(page, "Both are injured");
      const bar = page.getByRole("complementary", { name: "Assessment so far" });
      const fingers = page.getByRole("region", { name: "Injured fingers" }).getByRole("button", { pressed: true });
      await fingers.waitFor();
      const seen: string[] = [];
      for (const other of await page.locator(".digits button[aria-pressed]").all()) {
        await other.click();
        const shown = bar.locator(".finger");
        await expect.poll(() => shown.textContent()).toBe(await fingers.textContent());
        expect(await shown.isVisible()).toBe(true);
        seen.push(await shown.innerText());
      }
      expect(new Set(seen).size).toBe(2);
      await page.screenshot({ path: join(PICTURES, `bar-two-fingers-${width}.png`) });
      expect(await axeViolations(page)).toEqual([]);
      expect(await sidewaysScroll(page)).toBe(0);
      await context.close();
    },
  );

  it("safe-stop screens have no accessibility violation", async () => {
    const { page, context } = await openVisit(stage);
    await page.goto(stage.practice.pluginUrl);
    await page.getByRole("heading", { level: 1, name: "Fingerpost opens from a chart" }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.goto(`${stage.practice.pluginUrl}/launch.html?iss=https%3A%2F%2Felsewhere.example&launch=x`);
    await expect.poll(() => page.getByRole("alert").innerText()).not.toBe("");
    expect(await axeViolations(page)).toEqual([]);
    await page.goto(`${stage.practice.pluginUrl}/launch.html`);
    await page.getByRole("heading", { name: "Which record system?" }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await context.close();
  });
});

describe("by keyboard alone", () => {
  /** To the wanted control by Tab, then its key; the pointer is never used. */
  async function reach(page: Page, name: RegExp, key = "Enter"): Promise<void> {
    await tabTo(page, name);
    await page.keyboard.press(key);
  }

  it("SAF-16: the doctor goes from the chart to a signed plan without a pointer", async () => {
    const { page, trail, context } = await openVisit(stage, { viewport: { width: 700, height: 900 } });
    await page.goto(`${stage.practice.ehrUrl}/desk`);
    await reach(page, /^Launch for Odalys Fennimore/);
    await page.getByRole("heading", { level: 1, name: "What do you find?" }).waitFor();
    await reach(page, /^These are right/);
    await reach(page, /^None of these/);
    await reach(page, /^Pink, refill/);
    await reach(page, /^Jammed end-on/);
    await reach(page, /^Closed, nail intact/);
    await reach(page, /^Tip droops/);
    await reach(page, /^Dorsal lip fragment/);
    await tabTo(page, /share of the joint surface/i);
    await page.keyboard.type(STANDARD_CASE.sharePercent);
    await reach(page, /^See the plan/);
    await page.getByRole("heading", { name: "The plan, and why" }).waitFor();
    await reach(page, /^Review and sign/);
    await page.getByText("Signs: ", { exact: false }).waitFor();
    await reach(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    expect(trail.clicks, "no pointer was used").toBe(0);
    await context.close();
  });
});

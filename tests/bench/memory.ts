/** What the browser's heap holds of a full chart and of a long list, and whether it grows as they are opened and closed. */
import type { Browser, CDPSession, Page } from "playwright-core";
import type { Practice } from "../../launch/start.ts";
import type { Measured } from "./report.ts";

/** Trust bar of this project for a page that stays open all day. [common practice, no source] */
const MOST_MB = 400;
const MOST_GROWTH = 1.1;
const CYCLES = 50;
/** What is loaded late is loaded after so many; what grows after them grows with use. */
const WARM_UP = 5;
const MEGABYTE = 1e6;

/** The fullest chart of the fixtures has 2,500 entries; these make it 5,000. */
const FULL = { patient: "philippa-drossington", more: 2_500 } as const;
export const ROWS = 1_000;

const coded = (system: string, code: string) => ({
  coding: [{ system: `http://terminology.hl7.org/CodeSystem/${system}`, code }],
});
/** Twenty years of medicines, allergies and complaints that say nothing of a finger. */
export function moreEntries(): object[] {
  const subject = { reference: `Patient/${FULL.patient}` };
  return Array.from({ length: FULL.more }, (_, i) => {
    const day = `20${String(5 + (i % 20)).padStart(2, "0")}-0${1 + (i % 9)}-1${i % 10}`;
    if (i % 5 < 2)
      return {
        resourceType: "MedicationRequest",
        ...{ status: "active", intent: "order", subject, authoredOn: day },
        medicationCodeableConcept: { text: `Tablets, course ${i}` },
      };
    if (i % 5 === 2)
      return {
        resourceType: "AllergyIntolerance",
        patient: subject,
        clinicalStatus: coded("allergyintolerance-clinical", "active"),
        code: { text: `Pollen of kind ${i}` },
      };
    return {
      resourceType: "Condition",
      ...{ subject, recordedDate: day },
      clinicalStatus: coded("condition-clinical", "active"),
      code: { text: `Complaint ${i}` },
    };
  });
}

async function usedMegabytes(devtools: CDPSession): Promise<number> {
  const { usedSize } = await devtools.send("Runtime.getHeapUsage");
  return usedSize / MEGABYTE;
}
/** After a collection: what is really held. */
async function heldMegabytes(devtools: CDPSession): Promise<number> {
  await devtools.send("HeapProfiler.collectGarbage");
  return usedMegabytes(devtools);
}

interface Grown {
  readonly most: number;
  readonly before: number;
  readonly after: number;
}
/** `most`: the highest of all that was seen between the cycles, before any collection. */
async function grownBy(page: Page, cycle: (n: number) => Promise<void>): Promise<Grown> {
  const devtools = await page.context().newCDPSession(page);
  let most = await usedMegabytes(devtools);
  const run = async (times: number) => {
    for (let n = 0; n < times; n++) {
      await cycle(n);
      most = Math.max(most, await usedMegabytes(devtools));
    }
    return heldMegabytes(devtools);
  };
  const before = await run(WARM_UP);
  const after = await run(CYCLES);
  return { most, before, after };
}
const lines = (what: string, { most, before, after }: Grown): Measured[] => [
  { name: `${what}: heap at its highest`, value: most, unit: "MB", target: { atMost: MOST_MB } },
  { name: `${what}: held before`, value: before, unit: "MB" },
  { name: `${what}: held after ${CYCLES} times open and closed`, value: after, unit: "MB" },
  { name: `${what}: after / before`, value: after / before, unit: "", target: { atMost: MOST_GROWTH } },
];

async function withPage<T>(browser: Browser, use: (page: Page) => Promise<T>): Promise<T> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 } });
  context.setDefaultTimeout(120_000);
  try {
    return await use(await context.newPage());
  } finally {
    await context.close();
  }
}

/** A chart of 5,000 entries, launched again and again in one tab, and then all screens gone through again and again on one page. */
export async function measureChartMemory(browser: Browser, practice: Practice): Promise<Measured[]> {
  const answer = await fetch(`${practice.ehrUrl}/practice/control`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ enter: moreEntries() }),
  });
  if (!answer.ok) throw new Error(`the practice EHR took no more entries: ${await answer.text()}`);
  return withPage(browser, async (page) => {
    const launch = async () => {
      await page.goto(`${practice.ehrUrl}/desk/launch?patient=${FULL.patient}&as=emergency&view=tab`);
      await page.getByText(/^Chart read/).waitFor();
    };
    await launch();
    const launched = await grownBy(page, launch);
    const screens = await grownBy(page, async () => {
      for (const step of ["plan", "findings", "record", "sign", "about", "findings"]) {
        await page.evaluate((to) => {
          location.hash = to;
        }, step);
        await page.getByRole("heading", { level: 1 }).waitFor();
      }
    });
    return [...lines("chart of 5,000 entries", launched), ...lines("its screens", screens)];
  });
}

/**
 * The clinic's list read down to a thousand rows, a row of it opened and closed again and again. The list is asked by its own
 * markup: finding buttons by name among thousands takes longer than what is measured.
 */
export async function measureListMemory(browser: Browser, practice: Practice): Promise<Measured[]> {
  return withPage(browser, async (page) => {
    await page.goto(`${practice.ehrUrl}/desk`);
    await page.getByRole("button", { name: "Launch for the clinics" }).click();
    const rows = page.locator("ol.worklist > li");
    const more = page.locator("ol.worklist + button:enabled");
    await rows.first().waitFor();
    let shown = await rows.count();
    while (shown < ROWS) {
      await more.click();
      await rows.nth(shown).waitFor();
      shown = await rows.count();
    }
    const grown = await grownBy(page, async (n) => {
      const row = rows.nth(n);
      const opener = row.locator("button[aria-expanded]");
      await opener.click();
      await row.locator("button[aria-expanded=true]").waitFor();
      await row.locator("form, fieldset, .outcomes").first().waitFor({ state: "attached" });
      await opener.click();
      await row.locator("button[aria-expanded=false]").waitFor();
    });
    return [
      { name: "rows of the list", value: shown, unit: "", target: { atLeast: ROWS } },
      ...lines("list of visits", grown),
    ];
  });
}

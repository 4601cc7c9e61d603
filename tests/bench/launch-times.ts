/** From launch to the chart in hand, over a slow line, beside the same reads made one after another with fhirclient. */
import type { Browser, Page } from "playwright-core";
import type { Practice } from "../../launch/start.ts";
import { type Measured, median } from "./report.ts";
import { type Journey, watchRoundTrips } from "./round-trips.ts";
import { serveFolder } from "./static-server.ts";

const RUNS = 5;
const PATIENT = "odalys-fennimore";
/** The first question of the findings: something to work with. */
export const USABLE = "form.questions input";

/** The address an EHR opens to launch the plugin for the practice patient; each can be used once. */
export async function launchAddress(practice: Practice): Promise<URL> {
  const answer = await fetch(`${practice.ehrUrl}/desk/launch?as=emergency&patient=${PATIENT}`, { redirect: "manual" });
  const address = answer.headers.get("location");
  if (!address) throw new Error(`the practice EHR gave no launch address (HTTP ${answer.status})`);
  return new URL(address);
}

interface Arrived {
  /** Milliseconds since 1970 when the first question stood in the page; NaN for the reference, which has no screen. */
  readonly shownAt: number;
  /** kB of script that the page had loaded by then, as sent. */
  readonly scripts: number;
}
/** Notes in the page, at the moment itself, when the first question is there and what had been loaded. Text, since it runs there. */
const WATCH = `
  new MutationObserver((_, watching) => {
    if (!document.querySelector(${JSON.stringify(USABLE)})) return;
    watching.disconnect();
    const loaded = performance.getEntriesByType("resource").filter((entry) => entry.name.endsWith(".js"));
    window.arrived = {
      shownAt: performance.timeOrigin + performance.now(),
      scripts: loaded.reduce((sum, entry) => sum + entry.encodedBodySize, 0) / 1000,
    };
  }).observe(document, { childList: true, subtree: true });`;
interface Launched extends Journey {
  /** Milliseconds from the launch to the first question. */
  readonly usable: number;
  readonly scripts: number;
}
interface Way {
  readonly addressFor: (launch: URL) => string;
  readonly arrived: (page: Page) => Promise<Arrived>;
}

/** One launch in a fresh browser profile, and a second one after it in the same profile. */
async function coldAndWarm(
  browser: Browser,
  practice: Practice,
  way: Way,
): Promise<{ cold: Launched; warm: Launched }> {
  const context = await browser.newContext();
  try {
    const page = await context.newPage();
    await page.addInitScript(WATCH);
    const trips = await watchRoundTrips(await context.newCDPSession(page), practice.ehrUrl);
    const once = async (): Promise<Launched> => {
      const address = way.addressFor(await launchAddress(practice));
      trips.clear();
      const begun = Date.now();
      await page.goto(address);
      const { shownAt, scripts } = await way.arrived(page);
      await page.waitForLoadState("networkidle");
      return { ...trips.journey(), usable: shownAt - begun, scripts };
    };
    return { cold: await once(), warm: await once() };
  } finally {
    await context.close();
  }
}

const OURS: Way = {
  addressFor: (launch) => launch.href,
  arrived: async (page) => {
    await page.waitForSelector(USABLE);
    return page.evaluate<Arrived>("arrived");
  },
};

export async function measureLaunch(browser: Browser, practice: Practice, sequentialDist: string): Promise<Measured[]> {
  const server = await serveFolder(sequentialDist);
  try {
    await fetch(`${practice.ehrUrl}/practice/control`, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify({
        clients: [
          {
            clientId: "bench-sequential",
            name: "Sequential reference",
            redirectUris: [`${server.url}/index.html`],
            launchUrl: `${server.url}/launch.html`,
          },
        ],
      }),
    });
    const sequential: Way = {
      addressFor: (launch) => `${server.url}/launch.html${launch.search}`,
      arrived: async (page) => {
        await page.waitForFunction(() => document.title === "ready", undefined, { timeout: 60_000 });
        return { shownAt: Number.NaN, scripts: Number.NaN };
      },
    };
    await coldAndWarm(browser, practice, OURS); // servers compress their files at the first request
    await coldAndWarm(browser, practice, sequential);
    const runs = {
      ours: [] as { cold: Launched; warm: Launched }[],
      theirs: [] as { cold: Launched; warm: Launched }[],
    };
    for (let run = 0; run < RUNS; run++) {
      runs.ours.push(await coldAndWarm(browser, practice, OURS));
      runs.theirs.push(await coldAndWarm(browser, practice, sequential));
    }
    const of = (who: "ours" | "theirs", when: "cold" | "warm", what: keyof Launched) =>
      median(runs[who].map((run) => run[when][what]));
    return [
      {
        name: "scripts loaded until the first usable screen, as sent",
        value: of("ours", "cold", "scripts"),
        unit: "kB",
        target: { atMost: 95 },
      },
      { name: "launch to first usable screen, cold", value: of("ours", "cold", "usable"), unit: "ms" },
      { name: "launch to first usable screen, warm", value: of("ours", "warm", "usable"), unit: "ms" },
      { name: "launch to chart ready, cold", value: of("ours", "cold", "milliseconds"), unit: "ms" },
      { name: "launch to chart ready, warm", value: of("ours", "warm", "milliseconds"), unit: "ms" },
      { name: "same reads one after another, cold", value: of("theirs", "cold", "milliseconds"), unit: "ms" },
      { name: "same reads one after another, warm", value: of("theirs", "warm", "milliseconds"), unit: "ms" },
      {
        name: "requests to the EHR at launch, warm, sequential way",
        value: of("theirs", "warm", "requests"),
        unit: "",
      },
      { name: "requests to the EHR at launch, cold", value: of("ours", "cold", "requests"), unit: "" },
      { name: "requests to the EHR at launch, warm", value: of("ours", "warm", "requests"), unit: "" },
      { name: "round trips one after another, cold, sequential way", value: of("theirs", "cold", "depth"), unit: "" },
      {
        name: "round trips one after another, cold",
        value: of("ours", "cold", "depth"),
        unit: "",
        target: { atMost: 5 },
      },
      {
        name: "round trips one after another, warm",
        value: of("ours", "warm", "depth"),
        unit: "",
        target: { atMost: 3 },
      },
      {
        name: "launch to chart ready, cold / sequential way",
        value: of("ours", "cold", "milliseconds") / of("theirs", "cold", "milliseconds"),
        unit: "",
        target: { atMost: 0.45 },
      },
    ];
  } finally {
    await server.close();
  }
}

/** The plugin in a real browser behind the fault proxy, with a finished assessment in the tab, as after a reload. */
import type { BrowserContext, Page } from "playwright-core";
import { answerStandardCase, launched, press, STANDARD_CASE } from "../browser/journey.ts";
import { openStage, openVisit, type Stage } from "../browser/stage.ts";
import { type FaultProxy, openProxy } from "./proxy.ts";

export const BROWSER_PATIENT = "odalys-fennimore";
/** Long pauses of the page run so many times faster; short ones, which the screen itself uses, as they are. */
const PAUSES_FASTER = 20;

/** A kept draft, as the tab holds it. */
interface Kept {
  readonly slot: string;
  readonly text: string;
}
export interface ScreenRoom {
  readonly stage: Stage;
  readonly proxy: FaultProxy;
  readonly context: BrowserContext;
  /** The tab; another one after `reopened`. */
  readonly page: Page;
  /** Launches in the tab with the answers of the standard case already given, under a new plan unless named; gives its id. */
  begin(changes?: object, planId?: string): Promise<string>;
  /** Launches again in the same tab; what it kept is still there. */
  relaunch(page?: Page): Promise<void>;
  toSigning(page?: Page): Promise<void>;
  /** Closes the tab, whatever runs in it, and opens it again as a browser brings back a closed tab: with what it kept. */
  reopened(): Promise<void>;
  /** Whether answers that are not yet signed lie in the tab. */
  keepsAnswers(): Promise<boolean>;
  /** What the store holds of a plan: "Type/id" by item. */
  held(planId: string): Map<string, { reference: string; status: string; signed: boolean }[]>;
  clean(): Promise<void>;
  close(): Promise<void>;
}

/** `hurried`: nobody waits for the pauses and time-outs of the page. Off where time itself is what is tried. */
export async function openScreenRoom({ hurried = true }: { hurried?: boolean } = {}): Promise<ScreenRoom> {
  const proxy = await openProxy();
  const stage = await openStage({ seenAs: proxy.url, tokenSeconds: 3600 });
  proxy.target = stage.practice.listensAt;
  const visit = await openVisit(stage);
  const { context } = visit;
  let { page } = visit;
  if (hurried) {
    await context.addInitScript((faster) => {
      const later = window.setTimeout.bind(window);
      window.setTimeout = ((run: TimerHandler, ms = 0, ...rest: unknown[]) =>
        later(run, ms >= 400 ? ms / faster : ms, ...rest)) as typeof window.setTimeout;
      const enders = new Set<AbortController>();
      AbortSignal.timeout = () => {
        const ender = new AbortController();
        enders.add(ender);
        return ender.signal;
      };
      Object.assign(window, {
        endWaiting: () => {
          for (const ender of enders) ender.abort(new DOMException("The operation timed out.", "TimeoutError"));
          enders.clear();
        },
      });
    }, PAUSES_FASTER);
    // A request that hangs is timed out at once, and no other ever is: how fast the machine is makes no difference.
    proxy.onHang = () => void page.evaluate(() => (window as unknown as { endWaiting(): void }).endWaiting());
  }
  let answered: Kept | undefined;
  /** The answers are given once, by hand; afterwards they come from the tab, as after a reload. */
  const keptAnswers = async (): Promise<Kept> => {
    if (answered) return answered;
    await launched(stage, page, STANDARD_CASE.patient);
    await answerStandardCase(page);
    answered = await keptIn(page);
    return answered;
  };
  const launchAt = `${stage.practice.ehrUrl}/desk/launch?patient=${BROWSER_PATIENT}&as=emergency&view=tab`;

  const room: ScreenRoom = {
    stage,
    proxy,
    context,
    get page() {
      return page;
    },
    async begin(changes = {}, planId = crypto.randomUUID() as string) {
      const kept = await keptAnswers();
      const draft = JSON.parse(kept.text) as { state: object };
      const text = JSON.stringify({ ...draft, state: { ...draft.state, ...changes, planId } });
      if (!page.url().startsWith(stage.practice.pluginUrl)) await page.goto(`${stage.practice.pluginUrl}/config.json`);
      await page.evaluate(([slot, value]) => sessionStorage.setItem(slot, value), [kept.slot, text] as const);
      await room.relaunch();
      return planId;
    },
    async relaunch(on = page) {
      await on.goto(launchAt);
      await on.getByRole("heading", { level: 1, name: /What do you find|Saved plans/ }).waitFor();
      await on.getByText(/^Chart read/).waitFor();
    },
    async toSigning(on = page) {
      await on.evaluate(() => {
        location.hash = "sign";
      });
      await on.getByRole("heading", { name: /What will be written|Written to the chart/ }).waitFor();
      await on.getByText("Signs: ", { exact: false }).waitFor();
    },
    async reopened() {
      const kept = await page.evaluate(() => Object.entries(sessionStorage));
      await page.close();
      page = await context.newPage();
      await page.goto(`${stage.practice.pluginUrl}/config.json`);
      await page.evaluate((entries) => {
        for (const [name, value] of entries) sessionStorage.setItem(name, value);
      }, kept);
    },
    keepsAnswers: async () => (await keptIn(page)).text !== "",
    held(planId) {
      const held = new Map<string, { reference: string; status: string; signed: boolean }[]>();
      for (const type of ["QuestionnaireResponse", "Condition", "ServiceRequest", "Appointment", "CarePlan"])
        for (const resource of stage.practice.stored(type)) {
          const codes = (resource.meta?.tag ?? []).map(({ code }) => code ?? "");
          const item = codes.find((code) => code.startsWith(`${planId}:`));
          if (!item) continue;
          const copy = {
            reference: `${type}/${resource.id}`,
            status: String(resource.status),
            signed: codes.includes("signed"),
          };
          held.set(item, [...(held.get(item) ?? []), copy]);
        }
      return held;
    },
    clean: async () => {
      const answer = await fetch(`${stage.practice.listensAt}/practice/control`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ reseed: true, clearLogs: true }),
      });
      if (!answer.ok) throw new Error(await answer.text());
    },
    close: async () => {
      await stage.close();
      await proxy.close();
    },
  };
  return room;
}

async function keptIn(page: Page): Promise<Kept> {
  const [slot, text] = await page.evaluate(() => {
    const name = Object.keys(sessionStorage).find((key) => key.startsWith("fingerpost.draft.")) ?? "";
    return [name, sessionStorage.getItem(name) ?? ""] as const;
  });
  return { slot, text };
}

/** What the sign-off screen says after an act. */
export interface Said {
  readonly title: string;
  readonly kind: "saved" | "not-saved" | "unknown";
  /** What happened and the one next step; empty when all is well. */
  readonly problem: readonly string[];
  /** "saved", "not saved" or "not known yet" of each item. */
  readonly items: readonly string[];
  /** What may be pressed in that part of the screen to go on. The way back, where something is stored, is not one of them. */
  readonly waysOn: readonly string[];
  /** "CarePlan/12": what the screen calls stored as a draft and not signed. */
  readonly drafts: readonly string[];
}
const WAY_BACK = "Withdraw what is stored";
/** After a refusal that taught something: it is read what can be filed, and then decided again. */
const SEE_LANES = "See what can be filed now";
/** Waits for the end of an act and reads what the screen says of it. */
export async function whatIsSaid(page: Page): Promise<Said> {
  const outcome = page.locator("section.outcome");
  await outcome.waitFor();
  const { buttons, ...said } = await outcome.evaluate((section) => ({
    title: section.querySelector("h2")?.textContent ?? "",
    kind: (["saved", "not-saved", "unknown"] as const).find((kind) => section.classList.contains(kind)) ?? "unknown",
    problem: [...section.querySelectorAll(":scope > p")].map((p) => p.textContent ?? "").filter(Boolean),
    items: [...section.querySelectorAll("li:not(.as-draft) > b")].map((b) => b.textContent ?? ""),
    drafts: [...section.querySelectorAll("li.as-draft")].map(
      (li) => li.textContent?.match(/ as (\w+\/\S+?)(,|\.|$)/)?.[1] ?? "",
    ),
    buttons: [...section.querySelectorAll("button")].map((b) => b.textContent ?? ""),
  }));
  return { ...said, waysOn: buttons.filter((name) => name !== WAY_BACK) };
}

/** Takes the one way on that the screen offers after an act, and reads what it says then. */
export async function goOn(page: Page, { waysOn }: Said, act: string | RegExp): Promise<Said> {
  const [next] = waysOn;
  if (next === undefined) throw new Error("the screen offers no way on");
  await press(page, next);
  if (next === SEE_LANES) await press(page, act);
  return whatIsSaid(page);
}

/** Between reading the chart and signing: what changes meanwhile in the chart, on the clock, in other windows, at the desk. */

import { parseISO } from "date-fns";
import type { BrowserContext, Page } from "playwright-core";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { seeded } from "../bench/seeded.ts";
import { answerStandardCase, launched, press, STANDARD_CASE } from "./journey.ts";
import { axeViolations, control, ehrRequests, openStage, openVisit, type Stage, sidewaysScroll } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());
afterEach(() => control(stage, { reset: true, reseed: true, clearLogs: true }));

const PATIENT = "odalys-fennimore";
const SIGN = /^Sign and write \d+ items to the chart$/;
type Stored = { id: string; meta: { versionId: string } } & Record<string, unknown>;
const stored = (type: string) => stage.practice.stored(type) as unknown as Stored[];
const plansOf = (patient: string) =>
  stored("CarePlan").filter((plan) => JSON.stringify(plan).includes(`Patient/${patient}`));
/** The patient's day of birth in words, with its weekday or short: the chart is made anew for each day. */
async function bornOn(how: "whole" | "short"): Promise<string> {
  const patient = (await stage.stored("Patient")).find(({ id }) => id === PATIENT);
  const day = parseISO(patient!.birthDate as string);
  const parts = { day: "numeric", year: "numeric" } as const;
  return how === "whole"
    ? day.toLocaleDateString("en-GB", { weekday: "long", month: "long", ...parts }).replace(",", "")
    : day.toLocaleDateString("en-GB", { month: "short", ...parts });
}
/** Requests that could have changed something in the record. */
const writes = async () =>
  (await ehrRequests(stage)).filter(
    ({ method, path }) => path.startsWith("/fhir") && !["GET", "OPTIONS", "HEAD"].includes(method),
  );
const allergyTo = (substance: string) => ({
  resourceType: "AllergyIntolerance",
  patient: { reference: `Patient/${PATIENT}` },
  clinicalStatus: {
    coding: [{ system: "http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical", code: "active" }],
  },
  code: { text: substance },
});
const heading = (page: Page, name: string) => page.getByRole("heading", { level: 1, name }).waitFor();
const news = (page: Page) => page.getByRole("region", { name: "New since you read the chart" });
const banner = (page: Page) => page.getByRole("region", { name: "Patient", exact: true });
const notice = (page: Page, text: RegExp | string) => page.locator(".watch").getByText(text);

async function toSign(page: Page): Promise<void> {
  await launched(stage, page, STANDARD_CASE.patient);
  await answerStandardCase(page);
  await press(page, "See the plan");
  await press(page, "Review and sign");
  await page.getByRole("button", { name: SIGN }).waitFor();
}

describe("REL-24 the chart changes while the doctor is about to sign", () => {
  it("a new allergy is shown, nothing is sent over it, and once seen the plan can be signed", async () => {
    const { page, trail, context } = await openVisit(stage);
    await toSign(page);
    await control(stage, { clearLogs: true, enter: [allergyTo("Cefazolin")] });
    await press(page, SIGN);
    await news(page).waitFor();
    expect(await news(page).innerText()).toMatch(/New: Allergy to Cefazolin, recorded \d\d:\d\d/);
    expect(await page.getByRole("heading", { name: "Nothing was signed: the plan was not saved" }).count()).toBe(1);
    expect(await page.getByRole("button", { name: SIGN }).count()).toBe(0);
    expect(await page.getByRole("button", { name: "Save as draft" }).isDisabled()).toBe(true);
    expect(await axeViolations(page)).toEqual([]);
    expect(await writes(), "nothing was sent").toEqual([]);
    await press(page, "I have seen it");
    await expect.poll(() => banner(page).innerText()).toContain("Cefazolin");
    await press(page, SIGN);
    await page.getByText("Signed and saved").first().waitFor();
    expect(plansOf(PATIENT)).toHaveLength(1);
    const seen = (stored("Provenance").flatMap(({ entity }) => entity) as { what: { display?: string } }[])
      .map(({ what }) => what.display ?? "")
      .filter((display) => display.startsWith("Seen before signing"));
    expect(seen, "that it was seen is kept with the signature").toEqual([
      expect.stringContaining("Allergy to Cefazolin"),
    ]);
    expect(trail.violations).toEqual([]);
    await context.close();
  });

  it("read again, it names the answer it puts in question; answered anew, the changed advice is marked", async () => {
    const { page, context } = await openVisit(stage);
    await toSign(page);
    await control(stage, { enter: [allergyTo("Nickel")] });
    await press(page, SIGN);
    await press(page, "Read the chart again");
    await heading(page, "What do you find?");
    const taken = page.getByRole("region", { name: "Taken over from the chart" });
    expect(await taken.innerText()).toMatch(/Allergy to Nickel[\s\S]*Allergy to metal.*You answered: No/);
    await taken.getByRole("button", { name: /^Answer it again/ }).click();
    const question = page.getByRole("group", { name: /metal/i });
    await question.getByRole("radio", { name: /^Yes/ }).check();
    await press(page, "See the plan");
    await press(page, "Review and sign");
    await page.getByRole("button", { name: SIGN }).waitFor();
    const told = page.locator("#advice-changed").locator("..");
    expect(await told.innerText()).toContain("Allergy to Nickel");
    expect(await axeViolations(page)).toEqual([]);
    await context.close();
  });

  it("REL-30 a colleague's edit of the saved draft is not signed over before it was read", async () => {
    const { page, context } = await openVisit(stage);
    await toSign(page);
    await press(page, "Save as draft");
    await page.getByText("Saved as draft").first().waitFor();
    const [draft] = plansOf(PATIENT);
    const { meta: _server, ...rest } = draft!;
    const note = [{ text: "Family asked for a later visit." }];
    await control(stage, { clearLogs: true, enter: [{ ...rest, meta: { ...draft!.meta }, note } as never] });
    await press(page, SIGN);
    await news(page).waitFor();
    expect(await news(page).innerText()).toMatch(/Changed: A saved plan, stored elsewhere[\s\S]*note/);
    expect(await page.getByRole("button", { name: "I have seen it" }).count()).toBe(0);
    expect(await writes()).toEqual([]);
    expect(plansOf(PATIENT)[0]!.note, "the colleague's words stand").toEqual(note);
    await press(page, "Read the chart again");
    await heading(page, "What do you find?");
    await press(page, "See the plan");
    await press(page, "Review and sign");
    await press(page, SIGN);
    await page.getByText("Signed and saved").first().waitFor();
    expect(plansOf(PATIENT).map((plan) => plan.status)).toEqual(["active"]);
    await context.close();
  });
});

describe("another launch", () => {
  async function secondTab(context: BrowserContext): Promise<Page> {
    const other = await context.newPage();
    await launched(stage, other, "Maren Liv Tollgrave");
    return other;
  }

  it("SEC-03 REL-39 in another tab: the first page, about to sign, becomes read-only, and its draft stays intact", async () => {
    const { page, context } = await openVisit(stage);
    await toSign(page);
    const kept = () => page.evaluate(() => JSON.stringify(Object.entries(sessionStorage).sort()));
    const before = await kept();
    const other = await secondTab(context);
    await notice(page, "Another chart was opened.").waitFor();
    expect(await page.getByRole("button", { name: SIGN }).count()).toBe(0);
    for (const control of await page.getByRole("main").locator("button, input, select").all())
      expect(await control.isDisabled()).toBe(true);
    expect(await page.getByRole("main").innerText(), "it can still be read").toContain("Bony mallet");
    expect(await kept(), "the draft is what it was").toBe(before);
    expect(await axeViolations(page)).toEqual([]);
    expect(await banner(other).innerText()).toContain("Maren Liv Tollgrave");
    expect(await other.getByRole("radio", { checked: true }).count(), "nothing of it is in the other chart").toBe(0);

    await press(page, "Go on with this chart here");
    await notice(other, "Another chart was opened.").waitFor();
    await press(page, SIGN);
    await page.getByText("Signed and saved").first().waitFor();
    expect(plansOf(PATIENT)).toHaveLength(1);
    expect(plansOf("maren-tollgrave")).toEqual([]);
    await context.close();
  });

  it("SEC-03 in the same tab: the draft of the first patient waits for that patient, and is not signable for the second", async () => {
    const { page, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await press(page, "None of these");
    await press(page, "Middle", "radio");
    await launched(stage, page, "Maren Liv Tollgrave");
    await expect.poll(() => banner(page).innerText()).toContain("Maren Liv Tollgrave");
    expect(await page.getByRole("radio", { checked: true }).count()).toBe(0);
    await page.goto(`${stage.practice.pluginUrl}/#sign`);
    expect(await page.getByRole("button", { name: SIGN }).count()).toBe(0);
    await launched(stage, page, STANDARD_CASE.patient);
    await expect.poll(() => page.getByRole("radio", { name: /^Middle/ }).isChecked()).toBe(true);
    await notice(page, /Your unfinished answers from .* are back/).waitFor();
    await context.close();
  });

  it("REL-39 a record system that switched to another patient stops the signing, with nothing sent", async () => {
    const { page, context } = await openVisit(stage);
    await control(stage, { tokenSeconds: 30 });
    await toSign(page);
    const sentence = await page.getByRole("region", { name: "Sign this plan?" }).innerText();
    expect(sentence.replace("day, ", "day "), "whom it is for stands where one signs").toMatch(
      new RegExp(`You sign for Odalys Fennimore, born ${await bornOn("whole")}, female, .*PX-20417: right ring finger`),
    );
    await control(stage, { clearLogs: true, patientOnRefresh: "maren-tollgrave" });
    await press(page, SIGN);
    await page.getByText("The record system switched to another patient.").first().waitFor();
    expect(await page.getByRole("button", { name: /Sign|Save/ }).count()).toBe(0);
    expect(await writes()).toEqual([]);
    await context.close();
  });
});

describe("REL-09 a computer whose clock is wrong by a day", () => {
  /** The page's clock runs so many hours beside the true one; the record system's does not. */
  async function dueDaysWith(hours: number) {
    const { page, context } = await openVisit(stage);
    await context.addInitScript((shift) => {
      const True = Date;
      class Wrong extends True {
        constructor(...parts: unknown[]) {
          super(...((parts.length > 0 ? parts : [True.now() + shift]) as [number]));
        }
        static override now = () => True.now() + shift;
      }
      window.Date = Wrong as DateConstructor;
    }, hours * 3_600_000);
    await toSign(page);
    const told = await notice(page, /The clock of this computer is/).count();
    const sentence = await page.getByRole("region", { name: "Sign this plan?" }).innerText();
    await press(page, SIGN);
    await page.getByText("Signed and saved").first().waitFor();
    const plan = plansOf(PATIENT)[0] as unknown as { created?: string };
    const due = stored("Appointment")
      .filter((visit) => JSON.stringify(visit).includes(PATIENT))
      .map((visit) => JSON.stringify(visit.requestedPeriod))
      .filter((period) => period !== undefined)
      .sort();
    if (hours !== 0) expect(await axeViolations(page)).toEqual([]);
    await context.close();
    await control(stage, { reseed: true });
    return { told, first: /First visit:.*?due [^.]*/.exec(sentence)?.[0], created: plan.created?.slice(0, 10), due };
  }
  it("is told, and the days due, the plan's own day and the right to sign are those of the record system", async () => {
    const right = await dueDaysWith(0);
    expect(right).toMatchObject({ told: 0, first: expect.stringContaining("due "), created: expect.any(String) });
    expect(right.due.length).toBeGreaterThan(2);
    expect(await dueDaysWith(24)).toEqual({ ...right, told: 1 });
    expect(await dueDaysWith(-24)).toEqual({ ...right, told: 1 });
  });
});

describe("SEC-25 the doctor walks away", () => {
  const MINUTE = 60_000;
  it("after a warning the page is covered: no chart, no token, nothing to reach; the draft is back for the same person only", async () => {
    const { page, context } = await openVisit(stage);
    await page.clock.install();
    await launched(stage, page, STANDARD_CASE.patient);
    await press(page, "None of these");
    await press(page, "Middle", "radio");
    await page.clock.fastForward(8 * MINUTE);
    await notice(page, /will be covered in 2 minutes/).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await press(page, "Go on working");
    await notice(page, /will be covered/).waitFor({ state: "detached" });
    await page.clock.fastForward(10 * MINUTE);
    await heading(page, "This page was covered because nothing was entered for a while.");
    expect(await axeViolations(page)).toEqual([]);
    const left = await page.evaluate(() => ({
      dom: document.documentElement.outerHTML,
      tokens: Object.entries(sessionStorage).filter(([, value]) => /access_token|refresh_token|eyJ/.test(value)).length,
      reachable: [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")]
        .map((element) => element.textContent)
        .filter((text) => text !== "Choose a record system and a patient"),
    }));
    expect(left.dom).not.toMatch(/Fennimore|PX-20417|Penicillin|Middle|mallet/i);
    expect(left.tokens).toBe(0);
    expect(left.reachable, "only the heading holds the focus").toEqual([
      "This page was covered because nothing was entered for a while.",
    ]);

    await launched(stage, page, STANDARD_CASE.patient, { as: "clinic" });
    await notice(page, /Somebody else's unfinished answers for this patient/).waitFor();
    expect(await page.getByRole("radio", { checked: true }).count()).toBe(0);
    await launched(stage, page, STANDARD_CASE.patient);
    await expect.poll(() => page.getByRole("radio", { name: /^Middle/ }).isChecked()).toBe(true);
    await context.close();
  });
});

describe("REL-29 answers that are only in this tab", () => {
  it("are asked about before the tab goes, and are back after a reload", async () => {
    const { page, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await press(page, "Middle", "radio");
    let asked = 0;
    page.on("dialog", (dialog) => {
      if (dialog.type() === "beforeunload") asked++;
      void dialog.accept();
    });
    await page.reload();
    await expect.poll(() => page.getByRole("radio", { name: /^Middle/ }).isChecked()).toBe(true);
    expect(asked).toBe(1);
    await notice(page, /Your unfinished answers from .* are back/).waitFor();
    await context.close();
  });
});

describe("SAF-12 a newer program is installed while the page is open", () => {
  it("is told before signing, and the older one signs only when that is said; the build that runs is named among the cautions", async () => {
    const { page, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await press(page, "About and cautions", "link");
    await heading(page, "About and cautions");
    const { build } = (await (await fetch(`${stage.practice.pluginUrl}/version.json`)).json()) as { build: string };
    expect(build).toMatch(/^[0-9a-f]{12}$/);
    expect(await page.getByRole("main").innerText()).toContain(`build ${build}`);
    expect(await notice(page, /A newer version/).count()).toBe(0);
    await page.goto(`${stage.practice.pluginUrl}/#findings`);
    await answerStandardCase(page);
    await context.route("**/version.json", (route) => route.fulfill({ json: { build: "0123456789ab" } }));
    await press(page, "See the plan");
    await press(page, "Review and sign");
    await notice(page, /A newer version of Fingerpost is installed/).waitFor();
    await page.getByText("Signs: ", { exact: false }).waitFor();
    expect(await page.getByRole("button", { name: SIGN }).count()).toBe(0);
    expect(await axeViolations(page)).toEqual([]);
    await press(page, /^Sign with this version all the same/, "checkbox");
    await press(page, SIGN);
    await page.getByText("Signed and saved").first().waitFor();
    expect(JSON.stringify(stored("Provenance"))).toContain("the clinician chose to sign with this one");
    await context.close();
  });
});

describe("who the patient is", () => {
  const WIDTHS = [320, 700, 1280, 1920];
  const ROUTES = ["findings", "plan", "sign", "record", "about"];
  it("SAF-03 L8 stands on every screen at every width, although the record system shows it itself", async () => {
    await control(stage, { needPatientBanner: false });
    const { page, context } = await openVisit(stage);
    const born = await bornOn("short");
    await toSign(page);
    for (const route of ROUTES) {
      await page.evaluate((to) => {
        location.hash = to;
      }, route);
      await page.locator("h1").first().waitFor();
      for (const width of WIDTHS) {
        await page.setViewportSize({ width, height: 700 });
        for (const where of ["top", "end"]) {
          await page.evaluate((to) => window.scrollTo(0, to === "top" ? 0 : document.body.scrollHeight), where);
          const seen = `${route} at ${width} px, ${where} of the page`;
          const box = await banner(page).boundingBox();
          expect(box!.y, seen).toBeGreaterThanOrEqual(0);
          expect(box!.y + box!.height, seen).toBeLessThanOrEqual(700);
          const text = (await banner(page).innerText()).replace(/\s+/g, " ");
          for (const part of ["Odalys Fennimore", `born ${born}`, "female", "PX-20417"])
            expect(text, seen).toContain(part);
        }
        expect(await sidewaysScroll(page), `${route} at ${width} px`).toBe(0);
      }
    }
    await context.close();
  });

  it("L10 the film that was open in the chart comes first", async () => {
    const { page, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    const opened = page.getByRole("region", { name: "Open in the chart when you started" });
    await opened.waitFor();
    expect(await opened.innerText()).toMatch(/Film: Right ring finger, three views/);
    await context.close();
  });
});

describe("SAF-20 the plan as plain text", () => {
  const text = (page: Page) => page.getByLabel("The plan as text").first().inputValue();
  const VERSION_AND_TIME =
    /Assessed: \w{3},? \d+ \w+ \d{4}, \d\d:\d\d[\s\S]*Fingerpost \d+\.\d+\.\d+, knowledge \d+\.\d+\.\d+/;
  it("is there with version and time before signing, after it, and where nothing may be written", async () => {
    const { page, context } = await openVisit(stage);
    await toSign(page);
    expect(await text(page)).toMatch(VERSION_AND_TIME);
    await press(page, SIGN);
    await page.getByText("Signed and saved").first().waitFor();
    expect(await text(page)).toMatch(VERSION_AND_TIME);
    await context.close();

    await control(stage, { denyScopes: ["patient/CarePlan.crus", "patient/ServiceRequest.crus"] });
    const other = await openVisit(stage);
    await launched(stage, other.page, "Maren Liv Tollgrave");
    await other.page.goto(`${stage.practice.pluginUrl}/#plan`);
    await heading(other.page, "The plan, and why");
    expect(await text(other.page)).toMatch(VERSION_AND_TIME);
    await other.context.close();
  });
});

describe("SAF-04 nothing is written without the press that says so", () => {
  const KEYS = ["Enter", "Tab", "Shift+Tab", "Space", "Escape", "ArrowDown", "ArrowUp", "End", "5", "x", "Backspace"];
  const EVENTS = 500;
  // Where one signs comes first, while everything is ready to be signed.
  const SCREENS = ["sign", "plan", "record", "about", "findings"];

  it(`${EVENTS} random events on each screen write nothing; the press that signs does`, async () => {
    const { page, context } = await openVisit(stage);
    await toSign(page);
    await control(stage, { clearLogs: true });
    const next = seeded(20260310);
    const among = (n: number) => Math.floor(next() * n);
    /** True where a press would be the very act that is meant to write. */
    const onDeed = () =>
      page.evaluate(() => /^(Sign and write|Save as draft)/.test(document.activeElement?.textContent ?? ""));
    const acts = {
      key: async () => {
        const key = KEYS[among(KEYS.length)]!;
        if ((key === "Enter" || key === "Space") && (await onDeed())) return;
        await page.keyboard.press(key);
      },
      press: (at: number) =>
        page.evaluate((share) => {
          const controls = [
            ...document.querySelectorAll<HTMLElement>("main :is(button, summary, input, select)"),
          ].filter((one) => !/^(Sign and write|Save as draft)/.test(one.textContent ?? ""));
          controls[Math.floor(share * controls.length)]?.click();
        }, at),
      submit: () =>
        page.evaluate(() => {
          for (const form of document.forms) form.requestSubmit();
        }),
      focus: (at: number) =>
        page.evaluate((share) => {
          const controls = document.querySelectorAll<HTMLElement>("main :is(button, input, select, textarea)");
          controls[Math.floor(share * controls.length)]?.focus();
        }, at),
      blur: () => page.evaluate(() => (document.activeElement as HTMLElement | null)?.blur()),
      window: (at: number) =>
        page.evaluate((share) => {
          const names = ["focus", "blur", "online", "offline", "resize", "scroll", "pageshow", "pagehide", "message"];
          window.dispatchEvent(new Event(names[Math.floor(share * names.length)]!));
          document.dispatchEvent(new Event("visibilitychange"));
        }, at),
    };
    for (const screen of SCREENS) {
      for (let n = 0; n < EVENTS; n++) {
        // Some presses lead to another screen: back to the one under test.
        if (n % 10 === 0)
          await page.evaluate((to) => {
            location.hash = to;
          }, screen);
        const which = next();
        if (which < 0.45) await acts.key();
        else if (which < 0.75) await acts.press(next());
        else if (which < 0.8) await acts.submit();
        else if (which < 0.9) await acts.focus(next());
        else if (which < 0.95) await acts.blur();
        else await acts.window(next());
      }
      expect(await writes(), screen).toEqual([]);
    }
    for (const type of ["CarePlan", "ServiceRequest", "Appointment", "QuestionnaireResponse"])
      expect(
        stored(type).filter((one) => JSON.stringify(one).includes(PATIENT)),
        type,
      ).toEqual([]);
    await context.close();

    const again = await openVisit(stage);
    await toSign(again.page);
    await press(again.page, SIGN);
    await again.page.getByText("Signed and saved").first().waitFor();
    expect((await writes()).length, "the counting sees a write").toBeGreaterThan(0);
    await again.context.close();
  }, 600_000);
});

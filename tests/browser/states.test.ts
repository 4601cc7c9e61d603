/**
 * Every state of the plugin that a person can meet, by its name, at two sizes, one of them in the dark: no accessibility violation
 * and nothing wider than the window. `LOOKS_DIR=folder` keeps a picture of each.
 */
import { mkdirSync } from "node:fs";
import { join } from "node:path";
import type { BrowserContext, Page } from "playwright-core";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launch, launched, press, STANDARD_CASE } from "./journey.ts";
import { axeViolations, control, openStage, openVisit, type Stage, sidewaysScroll } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());
afterEach(() => control(stage, { reset: true, reseed: true, clearLogs: true }));

const SIZES = [
  { width: 1280, colorScheme: "light" },
  { width: 700, colorScheme: "dark" },
] as const;
const LEAST_STATES = 40;
const LOOKS = process.env.LOOKS_DIR;
if (LOOKS) mkdirSync(LOOKS, { recursive: true });

/** What is wrong with each state, by its name: filled by the journeys below. */
const wrongIn = new Map<string, string[]>();
async function look(page: Page, state: string): Promise<void> {
  if (wrongIn.has(state)) throw new Error(`two states are called "${state}"`);
  const wrong: string[] = [];
  wrongIn.set(state, wrong);
  for (const { width, colorScheme } of SIZES) {
    await page.setViewportSize({ width, height: 900 });
    await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
    // As tall as its content: a control that is half under the bar at the foot just now would count as too small.
    const height = await page.evaluate(() => document.documentElement.scrollHeight);
    await page.setViewportSize({ width, height: Math.max(900, height) });
    await page.evaluate(() => window.scrollTo(0, 0));
    if (LOOKS)
      await page.screenshot({ path: join(LOOKS, `${state.replaceAll(/\W+/g, "-")}-${width}.png`), fullPage: true });
    wrong.push(...(await axeViolations(page)).map((one) => `${width} ${colorScheme}: ${one}`));
    const over = await sidewaysScroll(page);
    if (over > 0) wrong.push(`${width}: ${over} pixels too wide`);
  }
  await page.setViewportSize({ width: SIZES[0].width, height: 900 });
  expect(wrong, state).toEqual([]);
}

const SIGN = /^Sign and write \d+ items to the chart$/;
const heading = (page: Page, name: string | RegExp) => page.getByRole("heading", { level: 1, name }).waitFor();
const named = (page: Page, name: string | RegExp) => page.getByRole("region", { name }).waitFor();
async function visit<T>(steps: (page: Page, context: BrowserContext) => Promise<T>): Promise<void> {
  const { page, context, trail } = await openVisit(stage);
  await steps(page, context);
  expect(trail.violations).toEqual([]);
  await context.close();
}
async function toPlan(page: Page): Promise<void> {
  await launched(stage, page, STANDARD_CASE.patient);
  await answerStandardCase(page);
  await press(page, "See the plan");
  await heading(page, "The plan, and why");
}
/** The screens before the signature, without looking at them. */
async function toSign(page: Page): Promise<void> {
  await toPlan(page);
  await press(page, "Review and sign");
  await page.getByText("Signs: ", { exact: false }).waitFor();
}
async function signed(page: Page): Promise<void> {
  await press(page, SIGN);
  await page.getByText("Signed and saved").first().waitFor();
}
const go = (page: Page, to: string) =>
  page.evaluate((hash) => {
    location.hash = hash;
  }, to);

describe("SAF-15 GATE-15: a named state has no accessibility violation, wide and light or narrow and dark", () => {
  it("before a chart is open: launches that start, choose, and stop", async () => {
    await visit(async (page) => {
      const at = (path: string) => page.goto(`${stage.practice.pluginUrl}${path}`);
      await at("/");
      await heading(page, "Fingerpost opens from a chart");
      await look(page, "opened without a launch");
      await at("/launch.html");
      await page.getByRole("heading", { name: "Which record system?" }).waitFor();
      await look(page, "choice of a record system");
      await at("/launch.html?iss=https%3A%2F%2Felsewhere.example&launch=x");
      await expect.poll(() => page.getByRole("alert").innerText()).toContain("elsewhere.example");
      await look(page, "launch from an unknown server");
      await at(`/launch.html?iss=${encodeURIComponent(stage.practice.fhirBase)}&launch=x&patientId=y`);
      await expect.poll(() => page.getByRole("alert").innerText()).toContain("patientId");
      await look(page, "launch link that names a patient");
      await at("/?code=stolen&state=5c7f2a56-0000-4000-8000-000000000000");
      await heading(page, /does not belong to a launch/);
      await look(page, "answer to no launch");
      await at("/launch.html");
      await page
        .getByRole("button", { name: /Practice EHR/ })
        .or(page.getByRole("link", { name: /Practice EHR/ }))
        .first()
        .click();
      await page.getByRole("button", { name: "Decline" }).click();
      await heading(page, "Access was not granted.");
      await look(page, "access declined");
    });
  });

  it("the findings, answer by answer, to the plan and to what may be changed in it", async () => {
    await visit(async (page, context) => {
      let release = (): void => {};
      const held = new Promise<void>((done) => {
        release = done;
      });
      await context.route(/\/fhir\/(Condition|ImagingStudy)/, async (route) => {
        await held;
        await route.continue();
      });
      await launched(stage, page, STANDARD_CASE.patient);
      await look(page, "chart still being read");
      release();
      await page.getByText(/^Chart read/).waitFor();
      await look(page, "chart read, nothing answered");
      await page.getByText("What the chart holds").click();
      await look(page, "what the chart holds");
      await page.getByText("What the chart holds").click();
      await press(page, "These are right");
      await look(page, "finger confirmed");
      await press(page, "None of these");
      await look(page, "red flags answered");
      await press(page, /^Pink, refill/);
      await look(page, "circulation answered");
      await press(page, /^Jammed end-on/);
      await press(page, /^Closed, nail intact/);
      await look(page, "skin and nail answered");
      await press(page, /^Tip droops/);
      await look(page, "movement answered, film asked for");
      await press(page, /^Dorsal lip fragment/);
      await expect
        .poll(() => page.evaluate(() => (document.activeElement as HTMLInputElement | null)?.inputMode))
        .toBe("decimal");
      await page.keyboard.type("250");
      await page.keyboard.press("Tab");
      await page
        .getByText(/^Enter a number from/)
        .first()
        .waitFor();
      await look(page, "number out of bounds");
      await page.getByRole("textbox", { name: /share of the joint surface/i }).fill(STANDARD_CASE.sharePercent);
      await page.keyboard.press("Tab");
      await press(page, /^None of these \(/);
      await expect.poll(() => page.getByRole("complementary").innerText()).toContain("Settled");
      await look(page, "findings settled");
      await press(page, "See the plan");
      await heading(page, "The plan, and why");
      await look(page, "plan");
      for (const summary of await page.locator("details > summary").all())
        if (await summary.isVisible()) await summary.click();
      await look(page, "plan with its reasons open");
      await press(page, /^I decide differently/);
      await press(page, "Keep my decision");
      await look(page, "own decision without a reason");
      const own = page.getByRole("group", { name: /^I decide differently/ });
      await own.getByLabel("What you decide").selectOption({ index: 1 });
      await own.getByLabel("Reason").selectOption({ index: 1 });
      await press(page, "Keep my decision");
      await page.getByRole("button", { name: "Follow the suggestion after all" }).waitFor();
      await look(page, "own decision kept");
      await press(page, "Review and sign");
      await page.getByText("Signs: ", { exact: false }).waitFor();
      await page.getByRole("button", { name: SIGN }).waitFor();
      await look(page, "about to sign");
      for (const summary of await page.locator(".drafts details > summary").all())
        if (await summary.isVisible()) await summary.click();
      await look(page, "items open to change and as FHIR");
      await press(page, /^Leave out/);
      await page
        .getByRole("group", { name: /^Leave out/ })
        .getByRole("button", { name: "Leave out" })
        .click();
      await page.getByText("Give a reason.").waitFor();
      await look(page, "item left out without a reason");
      await go(page, "about");
      await heading(page, "About and cautions");
      await look(page, "about and cautions");
      await context.route("**/version.json", (route) => route.fulfill({ json: { build: "0123456789ab" } }));
      await go(page, "sign");
      await page
        .locator(".watch")
        .getByText(/A newer version of Fingerpost is installed/)
        .waitFor();
      await look(page, "newer version installed");
    });
  });

  it("a signature: refused by what is new in the chart, given, revised, taken back", async () => {
    await visit(async (page) => {
      await toSign(page);
      await press(page, "Save as draft");
      await page.getByText("Saved as draft").first().waitFor();
      await look(page, "saved as a draft");
      const allergy = {
        resourceType: "AllergyIntolerance",
        patient: { reference: "Patient/odalys-fennimore" },
        code: { text: "Cefazolin" },
      };
      await control(stage, { enter: [allergy] });
      await press(page, SIGN);
      await named(page, "New since you read the chart");
      await look(page, "chart changed before the signature");
      await press(page, "I have seen it");
      await signed(page);
      await look(page, "signed and saved");
    });
    await visit(async (page) => {
      await toSign(page);
      await named(page, "Is this the injury of an earlier plan?");
      await look(page, "asked whether it is an earlier injury");
      await press(page, /^Revise that plan/, "radio");
      await named(page, "What becomes of the earlier plan");
      await look(page, "about to revise a plan");
      await signed(page);
      await go(page, "record");
      await heading(page, "Saved plans in this chart");
      await page.getByText("Findings it rests on").first().click();
      await look(page, "saved plans, one replaced");
      await press(page, /^Withdraw this plan/);
      const form = page.getByRole("region", { name: "Withdraw this plan" });
      await look(page, "about to withdraw a plan");
      await form.getByRole("button", { name: /^Withdraw \d+ entries$/ }).click();
      await form.getByText("Say why: it is kept with every entry.").waitFor();
      await look(page, "withdrawal without a reason");
      await form.getByLabel("Why is it withdrawn?").fill("The film of another patient was read.");
      await form.getByRole("button", { name: /^Withdraw \d+ entries$/ }).click();
      await page.getByRole("heading", { name: "The plan is withdrawn" }).waitFor();
      await look(page, "plan withdrawn");
    });
  });

  it("what stands in the way: red flags, conflicts, unknowns, people who may not be written for", async () => {
    await visit(async (page) => {
      await launched(stage, page, "Maren Liv Tollgrave");
      await press(page, "These are right");
      await press(page, "None of these");
      await press(page, /^Show \d+ questions\s*, Circulation and feeling/);
      await press(page, /^White/, "radio");
      await expect.poll(() => page.getByRole("complementary").innerText()).toMatch(/Go now|Now/);
      await look(page, "red flag, white finger");
      await go(page, "plan");
      await heading(page, "The plan, and why");
      await look(page, "plan of a red flag");
      await launched(stage, page, "Anselm Ibarra-Wick");
      await named(page, "The chart names two digits:");
      await look(page, "chart names two fingers");
      await press(page, "Both are injured");
      await named(page, "Injured fingers");
      await look(page, "two injured fingers");
      await launched(stage, page, "Rowan Castellane");
      await expect.poll(() => page.getByRole("main").innerText()).toContain("more than one answer");
      await look(page, "entries of the chart contradict each other");
      await launched(stage, page, "Not yet known Harbour");
      await press(page, "None of these");
      await press(page, /^Show \d+ questions\s*, Circulation and feeling/);
      await press(page, /^Cannot judge the colour/, "radio");
      await look(page, "no birth date, colour cannot be told");
      await go(page, "sign");
      await named(page, "Signing is not possible");
      await look(page, "signing is not possible yet");
      await launch(stage, page, gone());
      await expect.poll(() => page.getByRole("main").innerText()).toContain("records this patient as deceased");
      await look(page, "patient has died");
    });
    await control(stage, { refuseTypes: ["ImagingStudy", "Condition"] });
    await visit(async (page) => {
      await launched(stage, page, STANDARD_CASE.patient);
      await page.getByText(/^Chart read, without/).waitFor();
      await page.getByText("What the chart holds").click();
      await look(page, "part of the chart could not be read");
    });
  });

  it("roles that may only read, and sign-ins that allow less", async () => {
    for (const as of ["clinic", "coder"] as const)
      await visit(async (page) => {
        await launched(stage, page, STANDARD_CASE.patient, { as });
        await look(page, `opened as ${as}`);
      });
    await control(stage, { denyScopes: ["CarePlan", "ServiceRequest", "DocumentReference"] });
    await visit(async (page) => {
      await launch(stage, page, STANDARD_CASE.patient);
      await expect.poll(() => page.getByRole("main").innerText()).toContain("not write them");
      await look(page, "writing not allowed by the sign-in");
    });
  });

  it("record systems that take only a part, or one thing at a time", async () => {
    await control(stage, { capabilities: { noCreate: ["CarePlan", "Appointment"] } });
    await visit(async (page) => {
      await toSign(page);
      await page.getByText("Document, will be filed").waitFor();
      await look(page, "plan goes into a document");
      await signed(page);
      await look(page, "document and orders signed");
    });
    await control(stage, { reseed: true, capabilities: { readOnly: true } });
    await visit(async (page) => {
      await toPlan(page);
      await press(page, "Review and sign");
      await heading(page, "The plan, to take along");
      await named(page, /^Not filed/);
      await look(page, "nothing can be filed");
      await press(page, "Take the plan along");
      await page.getByText(/^Taken along, not filed/).waitFor();
      await look(page, "plan taken along");
    });
    await control(stage, { reseed: true, capabilities: { noCreate: ["CarePlan"], stated: false } });
    await visit(async (page) => {
      await toSign(page);
      await press(page, SIGN);
      await named(page, "Nothing was signed: the plan was not saved");
      await look(page, "plan refused by the record system");
      await press(page, "See what can be filed now");
      await look(page, "what can be filed after a refusal");
    });
    await control(stage, { reset: true, reseed: true, capabilities: { transaction: false } });
    await visit(async (page) => {
      await toSign(page);
      await look(page, "written one by one");
      const fifth = { method: "POST", path: "^/fhir/[A-Z]", skip: 5, times: 2, kind: "status", status: 500 };
      await control(stage, { faults: [fifth] });
      await press(page, SIGN);
      await named(page, "Not certain what was saved");
      await look(page, "stopped half way");
      await launched(stage, page, STANDARD_CASE.patient);
      await named(page, "Unfinished plan");
      await look(page, "unfinished plan at the next launch");
      await page.getByRole("button", { name: "Withdraw what is stored" }).click();
      await page.getByRole("button", { name: "Withdraw it" }).click();
      await page.getByRole("status", { name: "Withdrawn." }).waitFor();
      await look(page, "unfinished plan withdrawn");
    });
  });

  it("what happens beside the work: other windows, other people, the clock, a desk left alone", async () => {
    await visit(async (page, context) => {
      await launched(stage, page, STANDARD_CASE.patient);
      await press(page, "Middle", "radio");
      const other = await context.newPage();
      await launched(stage, other, "Maren Liv Tollgrave");
      await page.locator(".watch").getByText("Another chart was opened.").waitFor();
      await look(page, "another chart was opened");
      await other.close();
      await launched(stage, page, STANDARD_CASE.patient, { as: "surgeon" });
      await page
        .locator(".watch")
        .getByText(/^Somebody else's unfinished answers/)
        .waitFor();
      await look(page, "somebody else's answers in this tab");
    });
    await visit(async (page) => {
      await page.clock.install();
      await launched(stage, page, STANDARD_CASE.patient);
      // What counts the idle minutes is there once the page has answered.
      await press(page, "None of these");
      await press(page, "Middle", "radio");
      await page.clock.fastForward(8 * 60_000);
      await page
        .locator(".watch")
        .getByText(/will be covered in 2 minutes/)
        .waitFor();
      await look(page, "about to be covered");
      await page.clock.fastForward(10 * 60_000);
      await heading(page, "This page was covered because nothing was entered for a while.");
      await look(page, "covered");
    });
    await visit(async (page, context) => {
      await context.addInitScript(() => {
        const now = Date.now.bind(Date);
        Date.now = () => now() + 86_400_000;
      });
      await launched(stage, page, STANDARD_CASE.patient);
      await page
        .locator(".watch")
        .getByText(/The clock of this computer is/)
        .waitFor();
      await look(page, "clock of the computer is wrong");
    });
  });

  it(`counts at least ${LEAST_STATES} states, and the check sees a page that nobody can read`, async () => {
    console.log(`states looked at, each at two sizes: ${wrongIn.size} (at least ${LEAST_STATES})`);
    expect(wrongIn.size).toBeGreaterThanOrEqual(LEAST_STATES);
    await visit(async (page) => {
      await page.goto(`${stage.practice.pluginUrl}/`);
      await heading(page, "Fingerpost opens from a chart");
      await page.evaluate(() => {
        const main = document.querySelector("main") ?? document.body;
        main.append(document.createElement("img"), document.createElement("button"));
        const pale = document.createElement("p");
        pale.textContent = "Nobody can read this.";
        // Not as a style attribute: the page's own policy would refuse it.
        Object.assign(pale.style, { color: "#ccc", background: "#fff" });
        main.append(pale);
      });
      const found = (await axeViolations(page)).join("\n");
      for (const rule of ["image-alt", "button-name", "color-contrast"]) expect(found).toContain(rule);
    });
  });
});

function gone(): string {
  const patients = stage.practice.stored("Patient") as {
    deceasedDateTime?: string;
    deceasedBoolean?: boolean;
    name?: { given?: string[]; family?: string }[];
  }[];
  const [name] = patients.find((p) => p.deceasedDateTime || p.deceasedBoolean)?.name ?? [];
  return [...(name?.given ?? []), name?.family].join(" ");
}

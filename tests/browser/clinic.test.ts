import { mkdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Appointment, Communication, Patient, Slot } from "fhir/r4";
import ICAL from "ical.js";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { press, tabTo } from "./journey.ts";
import { axeViolations, control, looksAt, openStage, openVisit, type Stage, sidewaysScroll } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage({ clinics: true });
});
afterAll(() => stage?.close());
beforeEach(() => control(stage, { reset: true, reseed: true }));

const LOOKS = process.env.LOOKS_DIR;
if (LOOKS) mkdirSync(LOOKS, { recursive: true });
/** A picture for people to look at, where one is wanted; no violation and no sideways scroll in any case. */
async function look(page: Page, name: string): Promise<void> {
  await page.mouse.move(0, 0);
  if (LOOKS) await page.screenshot({ path: join(LOOKS, `${name}.png`) });
  expect(await axeViolations(page), name).toEqual([]);
  expect(await sidewaysScroll(page), `${name}: sideways scroll`).toBe(0);
}

const stored = async <T>(type: string) => (await stage.stored(type)) as unknown as T[];
const appointment = async (id: string) => (await stored<Appointment>("Appointment")).find((one) => one.id === id)!;
/** The visit that a signed plan asks for, of the patient with this id. */
async function asked(patient: string, words: string): Promise<Appointment> {
  const found = (await stored<Appointment>("Appointment")).filter(
    (one) =>
      one.status === "proposed" &&
      one.serviceType?.[0]?.text?.startsWith(words) &&
      JSON.stringify(one.participant).includes(`Patient/${patient}"`),
  );
  return found.sort((a, b) => a.requestedPeriod![0]!.start!.localeCompare(b.requestedPeriod![0]!.start!))[0]!;
}
const slotOf = async (visit: Appointment) =>
  (await stored<Slot>("Slot")).find(({ id }) => visit.slot?.[0]?.reference === `Slot/${id}`)!;

async function openClinic(options: Parameters<typeof openVisit>[1] = {}) {
  const visit = await openVisit(stage, options);
  // A busy machine takes its time to start the first page; nothing here is about speed.
  visit.page.setDefaultTimeout(90_000);
  await visit.page.goto(`${stage.practice.ehrUrl}/desk`);
  await visit.page.getByRole("button", { name: "Launch for the clinics" }).click();
  await visit.page.getByRole("heading", { level: 1, name: "Visits to arrange" }).waitFor();
  await visit.page
    .getByRole("button", { name: /^Arrange the visits of/ })
    .first()
    .waitFor();
  return visit;
}
const ANSGAR = { id: "ansgar-brackenridge", opens: /^Arrange the visits of Ansgar Brackenridge ?, Splint review/ };
/** Opens the visits of Ansgar Brackenridge and chooses the first suggestion of the first of them. */
async function chooseFirst(page: Page): Promise<string> {
  await press(page, ANSGAR.opens);
  const times = page.getByRole("group", { name: "Choose a time: Splint review" });
  const first = times.getByRole("radio").first();
  await first.waitFor();
  await first.check();
  return (await times.locator("label").first().innerText()).split("\n")[0]!;
}

describe("clinic staff arrange visits", () => {
  it("W1 W2 W5 W7 a visit is arranged in three presses, inside its days, and the time is nobody else's any more", async () => {
    const { page, trail, context } = await openClinic();
    const { id } = await asked(ANSGAR.id, "Splint review");
    const { start, end } = (await appointment(id!)).requestedPeriod![0]!;
    await look(page, "clinic-list-1280-light");
    const before = trail.clicks;
    const time = await chooseFirst(page);
    await look(page, "clinic-panel-1280-light");
    await press(page, "Book");
    await page.getByText(`Splint review is booked: ${time}`, { exact: false }).waitFor();
    expect(trail.clicks - before).toBe(3);
    const visit = await appointment(id!);
    expect(visit.status).toBe("booked");
    expect(visit.start!.slice(0, 10) >= start! && visit.start!.slice(0, 10) <= end!).toBe(true);
    expect((await slotOf(visit)).status).toBe("busy");
    const told = await stored<{ target: { reference: string }[]; agent: { who: { display?: string } }[] }>(
      "Provenance",
    );
    expect(told.some(({ target }) => target.some(({ reference }) => reference.includes(`Appointment/${id}`)))).toBe(
      true,
    );
    // the focus has not been lost, and the next one is one press away
    await press(page, "Go on with the next visit");
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.textContent ?? ""))
      .toMatch(/^Arrange the visits of/);
    expect(trail.violations).toEqual([]);
    expect(trail.requests.filter(({ url }) => url.includes("Ansgar"))).toEqual([]);
    await context.close();
  });

  it("W2 a time that somebody else took meanwhile is told, and the next best is offered and booked", async () => {
    const { page, context } = await openClinic();
    const { id } = await asked(ANSGAR.id, "Splint review");
    await chooseFirst(page);
    const checked = page.getByRole("group", { name: "Choose a time: Splint review" }).locator("input:checked");
    const describedBy = await checked.evaluate((input) => input.getAttribute("aria-describedby") ?? "");
    const slot = (await stored<Slot>("Slot")).find((one) => describedBy.endsWith(`Slot/${one.id}`))!;
    await control(stage, { enter: [{ ...slot, status: "busy" }] });
    await press(page, "Book");
    await page.getByText("This time was taken a moment ago.").waitFor();
    await page.getByText("The next best free time is", { exact: false }).waitFor();
    expect((await appointment(id!)).status).toBe("proposed");
    await look(page, "clinic-clash-1280-light");
    await press(page, "Book");
    await page.getByText("Splint review is booked", { exact: false }).waitFor();
    expect((await appointment(id!)).slot![0]!.reference).not.toBe(`Slot/${slot.id}`);
    await context.close();
  });

  it("W3 outside the days of the plan a reason is asked for, kept with the visit, and the doctor is told", async () => {
    const { page, context } = await openClinic();
    const { id } = await asked(ANSGAR.id, "Splint review");
    await press(page, ANSGAR.opens);
    const visit = page.locator(".one-visit", { has: page.getByRole("heading", { name: /^Splint review/ }) }).first();
    await visit.getByText("More days and times").click();
    const day = visit.getByLabel("Day", { exact: true });
    const late = await day.locator("option", { hasText: "after the last day" }).first().getAttribute("value");
    await day.selectOption(late);
    await visit.getByRole("group", { name: "Times of that day" }).getByRole("radio").first().check();
    await press(page, "Book");
    await visit.getByText("Say why it lies outside the days of the plan.").waitFor();
    expect((await appointment(id!)).status).toBe("proposed");
    await visit.getByLabel("Why outside the days of the plan?").fill("Away until then");
    await look(page, "clinic-outside-1280-light");
    await press(page, "Book");
    await page.getByText("The doctor who asked for it was told.", { exact: false }).waitFor();
    expect(JSON.stringify((await appointment(id!)).extension)).toContain("Away until then");
    const messages = await stored<Communication>("Communication");
    expect(messages.some(({ about }) => about?.[0]?.reference === `Appointment/${id}`)).toBe(true);
    await context.close();
    // what the doctor sees who opens the chart, and who told it
    const doctor = await openVisit(stage, { viewport: { width: 700, height: 900 } });
    doctor.page.setDefaultTimeout(90_000);
    await doctor.page.goto(`${stage.practice.ehrUrl}/desk/launch?patient=${ANSGAR.id}&as=emergency&view=tab`);
    const told = doctor.page.getByRole("region", { name: "What the clinic tells you" });
    await told.getByText("Away until then").waitFor();
    await press(doctor.page, "See it");
    await told.getByText("Told by Tobias Quillfeather", { exact: false }).waitFor();
    await told.getByText("outside the days of the plan (", { exact: false }).waitFor();
    await look(doctor.page, "clinic-told-700-light");
    expect(doctor.trail.violations).toEqual([]);
    await doctor.context.close();
  });

  it("W2 where the clinic's times are kept elsewhere, a date and time that were agreed are booked", async () => {
    const { page, context } = await openClinic();
    const visit = await asked(ANSGAR.id, "Splint review");
    await press(page, ANSGAR.opens);
    const part = page.locator(".one-visit", { has: page.getByRole("heading", { name: /^Splint review/ }) }).first();
    await part.getByText("More days and times").click();
    await part.getByLabel("Date", { exact: true }).fill(visit.requestedPeriod![0]!.end!);
    await part.getByLabel("Time, hours and minutes").fill("23:15");
    await part.getByRole("button", { name: "Use this time" }).click();
    await press(page, "Book");
    await page.getByText("Splint review is booked", { exact: false }).waitFor();
    const booked = await appointment(visit.id!);
    expect([booked.status, booked.slot]).toEqual(["booked", undefined]);
    expect(booked.start!.slice(0, 16)).toBe(`${visit.requestedPeriod![0]!.end}T23:15`);
    await context.close();
  });
});

describe("the list while it is looked at", () => {
  it("W1 W6 is narrowed to a named clinician, tells of somebody else's booking by itself, and stops the booking for one who died", async () => {
    const { page, context } = await openClinic();
    await page.getByText("Filters", { exact: true }).click();
    await page.getByLabel("Named clinician").selectOption({ label: "Ilse Thackerby" });
    await press(page, "Show");
    const lines = page.locator(".worklist > li");
    await expect.poll(() => lines.filter({ hasNotText: "hand therapist" }).count()).toBe(0);
    await page.getByRole("button", { name: ANSGAR.opens }).first().waitFor();
    await look(page, "clinic-filtered-1280-light");
    const other = (await stored<Appointment>("Appointment")).find(
      (one) =>
        one.status === "proposed" &&
        /hand therapist$/.test(one.description ?? "") &&
        one.requestedPeriod &&
        !JSON.stringify(one.participant).includes(ANSGAR.id),
    )!;
    const person = (await stored<Patient>("Patient")).find(({ id }) => id === ANSGAR.id)!;
    await control(stage, {
      enter: [
        { ...other, status: "booked", start: "2031-12-03T09:15:00Z", end: "2031-12-03T09:30:00Z" },
        { ...person, deceasedBoolean: true },
      ],
    });
    await page.evaluate(() => document.dispatchEvent(new Event("visibilitychange")));
    await page.getByText("The list was brought up to date: 1 visit no longer to arrange", { exact: false }).waitFor();
    await press(page, ANSGAR.opens);
    const panel = page.getByRole("region", { name: "Times for Ansgar Brackenridge" });
    await panel.getByText("The chart records this patient as deceased.", { exact: false }).first().waitFor();
    expect(await panel.getByRole("radio").count()).toBe(0);
    await context.close();
  });

  it("W2 two schedulers with the same time before them: the first has it, the second is told and offered the next", async () => {
    const [one, other] = [await openClinic(), await openClinic()];
    const { id } = await asked(ANSGAR.id, "Splint review");
    await chooseFirst(one.page);
    await chooseFirst(other.page);
    await press(one.page, "Book");
    await one.page.getByText("Splint review is booked", { exact: false }).waitFor();
    const { slot } = await appointment(id!);
    await press(other.page, "Book");
    await other.page.getByText(/^This (time was taken|visit was changed) a moment ago/).waitFor();
    expect((await appointment(id!)).slot).toEqual(slot);
    await one.context.close();
    await other.context.close();
  });
});

describe("a whole list at once", () => {
  it("W2 times are proposed for everyone shown with the provable limits beside them; only what is ticked is booked", async () => {
    const { page, context } = await openClinic();
    const before = (await stored<Appointment>("Appointment")).filter(({ status }) => status === "booked").length;
    await press(page, "Propose times for everyone shown");
    const list = page.getByRole("region", { name: "Proposal for everyone shown" });
    await list.getByRole("checkbox").first().waitFor();
    await list.getByText(/no proposal can have fewer than/).waitFor();
    expect((await stored<Appointment>("Appointment")).filter(({ status }) => status === "booked").length).toBe(before);
    await look(page, "clinic-whole-1280-light");
    const free = list.locator("input[type=checkbox]:enabled");
    await free.nth(0).check();
    await free.nth(1).check();
    await press(page, "Book the 2 ticked visits");
    await list.getByText("2 visits booked.").waitFor();
    expect(
      (await stored<Appointment>("Appointment")).filter(({ status }) => status === "booked").length,
    ).toBeGreaterThanOrEqual(before + 2);
    await context.close();
  });
});

describe("booked visits", () => {
  it("W4 W6 a visit of a plan that ended is flagged, called off with a reason, and its time is free again", async () => {
    const { page, context } = await openClinic();
    await press(page, "Nothing lost", "link");
    await page.getByRole("heading", { name: /^Booked, and to be decided about/ }).waitFor();
    const line = page.locator(".booked > li", { hasText: "was changed or withdrawn. Cancel this visit?" }).first();
    await line.waitFor();
    await look(page, "clinic-lost-1280-light");
    await line.getByRole("button", { name: /^Call off/ }).click();
    await line.getByRole("button", { name: "Call this visit off" }).click();
    await line.getByText("Say why it is called off.").waitFor();
    await line.getByLabel("Why is it called off?").fill("The plan ended");
    expect(await line.getByRole("checkbox").isChecked()).toBe(false);
    const booked = (await stored<Appointment>("Appointment")).filter(({ status }) => status === "booked");
    await line.getByRole("button", { name: "Call this visit off" }).click();
    await page.getByText("is called off. Nobody has to arrange it again.", { exact: false }).waitFor();
    const calledOff = (await stored<Appointment>("Appointment")).filter(({ status }) => status === "cancelled");
    const gone = booked.find(({ id }) => calledOff.some((one) => one.id === id))!;
    expect((await appointment(gone.id!)).cancelationReason?.text).toBe("The plan ended");
    expect((await slotOf(gone)).status).toBe("free");
    await context.close();
  });

  it("W4 a visit is moved to another time inside its days, and its old time is free again", async () => {
    const { page, context } = await openClinic();
    await press(page, "Booked visits", "link");
    const line = page.locator(".booked > li").first();
    await line.getByRole("button", { name: /^Move/ }).click();
    await line.getByRole("radio").first().check();
    await look(page, "clinic-move-1280-light");
    const before = (await stored<Appointment>("Appointment")).filter(({ status }) => status === "booked");
    await line.getByRole("button", { name: "Move", exact: true }).last().click();
    await page.getByText(" is moved to ", { exact: false }).waitFor();
    const after = new Map((await stored<Appointment>("Appointment")).map((one) => [one.id, one]));
    const moved = before.find(({ id, start }) => after.get(id)!.start !== start)!;
    expect((await slotOf(moved)).status).toBe("free");
    expect((await slotOf(after.get(moved.id)!)).status).toBe("busy");
    await context.close();
  });

  it("W4 a patient who did not come is noted, and the visit is on the list again", async () => {
    const [visit] = (await stored<Appointment>("Appointment")).filter(
      (one) => one.status === "booked" && one.requestedPeriod && one.slot,
    );
    const hoursAgo = (n: number) => new Date(Date.now() - n * 3_600_000).toISOString();
    await control(stage, { enter: [{ ...visit!, start: hoursAgo(30), end: hoursAgo(29) }] });
    const { page, context } = await openClinic();
    await press(page, "Nothing lost", "link");
    const line = page.locator(".booked > li", { hasText: "did the patient come?" }).first();
    await line.getByRole("button", { name: /^Did not come/ }).click();
    await line.getByRole("button", { name: "Note that the patient did not come" }).click();
    await page.getByText("noted that the patient did not come", { exact: false }).waitFor();
    expect((await appointment(visit!.id!)).status).toBe("noshow");
    const item = visit!.identifier!.find(({ system }) => system?.endsWith("plan-item"))!.value!;
    expect(
      (await stored<Appointment>("Appointment")).some(
        (one) => one.status === "proposed" && one.identifier?.some(({ value }) => value?.startsWith(`${item}-again`)),
      ),
    ).toBe(true);
    await context.close();
  });

  it("the day list of the clinics becomes a calendar file that another program reads, without a name or a finger in it", async () => {
    const { page, context } = await openClinic();
    await press(page, "Booked visits", "link");
    await page.locator(".booked-row").first().waitFor();
    await look(page, "clinic-booked-1280-light");
    const [file] = await Promise.all([page.waitForEvent("download"), press(page, "Calendar file of all of them")]);
    const text = readFileSync(await file.path(), "utf8");
    const events = new ICAL.Component(ICAL.parse(text)).getAllSubcomponents("vevent");
    expect(events.length).toBe(await page.locator(".booked-row").count());
    expect(new Set(events.map((event) => event.getFirstPropertyValue("summary")))).toEqual(new Set(["Clinic visit"]));
    const names = await page.locator(".booked-row .whose b").allInnerTexts();
    expect(names.filter((name) => text.includes(name))).toEqual([]);
    await context.close();
  });
});

describe("the clinic's screens for everyone", () => {
  const cases = looksAt(
    { name: "1280-dark", viewport: { width: 1280, height: 900 }, colorScheme: "dark" as const },
    { name: "700-light", viewport: { width: 700, height: 900 } },
    { name: "700-dark", viewport: { width: 700, height: 900 }, colorScheme: "dark" as const },
  );
  it.each(cases)(
    "SAF-15 SAF-18 $name has no accessibility violation and needs no sideways scroll",
    async ({ name, ...options }) => {
      const { page, context } = await openClinic(options);
      await look(page, `clinic-list-${name}`);
      await chooseFirst(page);
      await look(page, `clinic-panel-${name}`);
      await press(page, "Nothing lost", "link");
      await page.getByRole("heading", { name: /^Due, and no time is arranged/ }).waitFor();
      await look(page, `clinic-lost-${name}`);
      await press(page, "Booked visits", "link");
      await page.locator(".booked-row").first().waitFor();
      await look(page, `clinic-booked-${name}`);
      await context.close();
    },
  );

  it("SAF-16 a visit is arranged by keyboard alone", async () => {
    const { page, trail, context } = await openVisit(stage, { viewport: { width: 700, height: 900 } });
    await page.goto(`${stage.practice.ehrUrl}/desk`);
    await tabTo(page, /^Launch for the clinics/);
    await page.keyboard.press("Enter");
    await page.getByRole("heading", { level: 1, name: "Visits to arrange" }).waitFor();
    await page.getByRole("button", { name: ANSGAR.opens }).waitFor();
    await tabTo(page, /^Arrange the visits of Ansgar Brackenridge/);
    await page.keyboard.press("Enter");
    await page.getByRole("group", { name: "Choose a time: Splint review" }).getByRole("radio").first().waitFor();
    await tabTo(page, /Choose a time: Splint review/);
    await page.keyboard.press("Space");
    await tabTo(page, /^Book$/);
    await page.keyboard.press("Enter");
    await page.getByText("Splint review is booked", { exact: false }).waitFor();
    expect(trail.clicks, "no pointer was used").toBe(0);
    await context.close();
  });
});

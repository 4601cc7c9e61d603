import { mkdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { Condition, Provenance, Task } from "fhir/r4";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { press, tabTo } from "./journey.ts";
import { CRUSH, DAYS, MALLET, signedRecords, TUFT } from "./signed-records.ts";
import { axeViolations, control, looksAt, openStage, openVisit, type Stage, sidewaysScroll } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());
beforeEach(async () => {
  await control(stage, { reset: true, reseed: true });
  await control(stage, { enter: signedRecords() });
});

const stored = async <T>(type: string) => (await stage.stored(type)) as unknown as T[];
const icdOf = async (patient: string) =>
  (await stored<Condition>("Condition"))
    .filter((c) => c.subject.reference === `Patient/${patient}`)
    .filter((c) => c.verificationStatus?.coding?.[0]?.code !== "entered-in-error")
    .flatMap((c) => c.code?.coding?.find((x) => x.system?.includes("icd-10-cm"))?.code ?? []);

async function opened(page: Page): Promise<void> {
  await page.goto(`${stage.practice.ehrUrl}/desk`);
  await press(page, "Launch for coding");
  await page.getByRole("heading", { level: 1, name: "Records to code" }).waitFor();
  await page.getByLabel("Signed from").fill(DAYS.from);
  await page.getByLabel("to", { exact: true }).fill(DAYS.to);
  await page.getByText("3 read of 3").waitFor();
}
const LOOKS = process.env.LOOKS_DIR;
if (LOOKS) mkdirSync(LOOKS, { recursive: true });
async function look(page: Page, name: string): Promise<void> {
  if (LOOKS) await page.screenshot({ path: join(LOOKS, `${name}.png`), fullPage: true });
  expect(await axeViolations(page), name).toEqual([]);
  expect(await sidewaysScroll(page), `${name}: sideways scroll`).toBe(0);
}

describe("the coder's day", () => {
  it("a clean case takes three presses: open, sign, next; the code stands on the diagnosis and who signed is filed", async () => {
    const { page, trail, context } = await openVisit(stage);
    await opened(page);
    const before = trail.clicks;
    await press(page, new RegExp(`^${MALLET}`));
    await page.getByText("S62.635A", { exact: true }).waitFor();
    await press(page, "Sign these codes");
    await page.getByText("The codes are written to the record.").waitFor();
    await press(page, "Next record");
    expect(trail.clicks - before).toBe(3);
    await page.getByRole("heading", { level: 1, name: new RegExp(`${CRUSH}|${TUFT}`) }).waitFor();
    expect(await icdOf("coder-mallet")).toEqual(["S62.635A"]);
    const provenance = (await stored<Provenance>("Provenance")).find((p) =>
      JSON.stringify(p.activity ?? {}).includes("signed"),
    );
    expect(provenance?.agent.at(-1)?.who.display).toBe("Solveig Marchbanks");
    expect(trail.violations).toEqual([]);
    expect(trail.errors).toEqual([]);
    expect(trail.requests.filter(({ url }) => /Fairweather|Quince/.test(url))).toEqual([]);
    await context.close();
  });

  it("a question goes to the doctor in one press, is answered at the chart, and the code follows the answer; another code needs a reason", async () => {
    const { page, context } = await openVisit(stage);
    await opened(page);
    await press(page, new RegExp(`^${CRUSH}`));
    await page.getByText("S62.630B", { exact: true }).waitFor();
    await press(page, /^Ask Dr Imke Harrowgate: Position of the fragments/);
    await page.getByText("Question sent").first().waitFor();
    const [task] = await stored<Task>("Task");
    expect([task?.status, task?.owner?.display]).toEqual(["requested", "Dr Imke Harrowgate"]);
    expect(task?.description).toContain("Right index finger");

    const doctor = await openVisit(stage);
    await doctor.page.goto(`${stage.practice.ehrUrl}/desk/launch?patient=coder-crush&as=emergency&view=tab`);
    await doctor.page.getByText("A coder asks about a signed record").click();
    await doctor.page.getByRole("radio", { name: "not displaced", exact: true }).click();
    await press(doctor.page, "Sign this answer");
    await doctor.page.getByText("Answered. The coder sees it.").first().waitFor();
    await doctor.context.close();

    await press(page, "Back to the list");
    await press(page, "Read again");
    await page.getByRole("button", { name: new RegExp(`^${CRUSH}.*Answered`) }).click();
    await page.getByText("S62.660B", { exact: true }).waitFor();
    await press(page, "Change S62.662A");
    await page.getByLabel("Code to keep instead").fill("s62663a");
    await press(page, "Apply");
    await page.getByText("Give a reason.").waitFor();
    await page.getByLabel("Why is it not the proposed one?").fill("The operation note names the left side.");
    await press(page, "Apply");
    await page.getByText("Kept instead: S62.663A").waitFor();
    await press(page, "Sign these codes");
    await page.getByText("The codes are written to the record.").waitFor();
    expect((await icdOf("coder-crush")).sort()).toEqual(["S62.660B", "S62.663A"]);
    await page.getByText("S62.662A changed to S62.663A. Reason: The operation note names the left side.").waitFor();
    await context.close();
  });

  it("a diagnosis that somebody else changed meanwhile is shown with its differences, and nothing is overwritten", async () => {
    const { page, context } = await openVisit(stage);
    await opened(page);
    await press(page, new RegExp(`^${CRUSH}`));
    await page.getByText("S62.630B", { exact: true }).waitFor();
    await press(page, "Change S62.630B");
    await page.getByLabel("Code to keep instead").fill("S62.639B");
    await page.getByLabel("Why is it not the proposed one?").fill("The digit is not named in the note.");
    await press(page, "Apply");
    const theirs = (await stored<Condition>("Condition")).find((c) => JSON.stringify(c).includes("S62.630B"))!;
    await control(stage, {
      enter: [{ ...theirs, code: { ...theirs.code, text: "Seen again by the hand surgeon" } }],
    });
    await press(page, "Sign these codes");
    await page.getByRole("heading", { name: "What is different now" }).waitFor();
    await page.getByText('is now "Seen again by the hand surgeon"').waitFor();
    expect(await icdOf("coder-crush")).toContain("S62.630B");
    expect(await icdOf("coder-crush")).not.toContain("S62.639B");
    await context.close();
  });

  it("with the keyboard alone: open, sign, and export the period as CSV", async () => {
    const { page, context, trail } = await openVisit(stage);
    await opened(page);
    const before = trail.clicks;
    await tabTo(page, new RegExp(MALLET));
    await page.keyboard.press("Enter");
    await page.getByText("S62.635A", { exact: true }).waitFor();
    expect(await page.evaluate(() => document.activeElement?.tagName)).toBe("H1");
    await tabTo(page, /^Sign these codes/);
    await page.keyboard.press("Enter");
    await page.getByText("The codes are written to the record.").waitFor();
    await page.keyboard.press("Home");
    await tabTo(page, /^Export/);
    await page.keyboard.press("Enter");
    await page.getByRole("heading", { level: 1, name: "Export" }).waitFor();
    await tabTo(page, /^Export these days/);
    await page.keyboard.press("Enter");
    await page.getByText("Ready: 1 records, 1 codes.").waitFor();
    await tabTo(page, /^Save the file/);
    const saving = page.waitForEvent("download");
    await page.keyboard.press("Enter");
    const file = await (await saving).path();
    const [head, row] = readFileSync(file, "utf8").split("\r\n");
    expect(head).toMatch(/^encounterId,patientId,/);
    expect(row).toContain("S62.635A");
    expect(row).toContain("Solveig Marchbanks");
    expect(trail.clicks).toBe(before);
    await context.close();
  });

  it.each([1280, 700])(
    "at %i pixels an empty list, a signing that is refused, and a diagnosis changed by somebody else each say what to do, without an accessibility violation or sideways scrolling",
    async (width) => {
      const { page, context } = await openVisit(stage, { viewport: { width, height: 900 } });
      await opened(page);
      await page.getByLabel("Signed from").fill(DAYS.to);
      await page.getByText("No record of these days is in this state.").waitFor();
      await look(page, `coder-empty-list-${width}`);
      await page.getByLabel("Signed from").fill(DAYS.from);
      await press(page, new RegExp(`^${MALLET}`));
      await page.getByText("S62.635A", { exact: true }).waitFor();
      await page.getByLabel("What was this encounter for?").selectOption("Healing phase, healing as it should");
      await page.getByText("S62.635D", { exact: true }).waitFor();
      const told = page.getByRole("alert");
      const refused = { path: "^/fhir", kind: "status", status: 403, times: 99 };
      await control(stage, { faults: ["POST", "PUT"].map((method) => ({ ...refused, method })) });
      await press(page, "Sign these codes");
      await told.filter({ hasText: "The record system does not allow this." }).waitFor();
      await look(page, `coder-signing-refused-${width}`);
      expect(await page.getByText("The codes are written to the record.").count()).toBe(0);
      expect(await icdOf("coder-mallet")).toEqual(["S62.635A"]);
      await control(stage, { reset: true });
      const theirs = (await stored<Condition>("Condition")).find((c) => JSON.stringify(c).includes("S62.635A"))!;
      await control(stage, {
        enter: [{ ...theirs, code: { ...theirs.code, text: "Seen again by the hand surgeon" } }],
      });
      await press(page, "Sign these codes");
      await told.filter({ hasText: 'is now "Seen again by the hand surgeon"' }).waitFor();
      await look(page, `coder-changed-meanwhile-${width}`);
      expect(await icdOf("coder-mallet")).toEqual(["S62.635A"]);
      await context.close();
    },
  );

  it.each(
    looksAt(
      { name: "1280 light", viewport: { width: 1280, height: 900 } },
      { name: "1280 dark", viewport: { width: 1280, height: 900 }, colorScheme: "dark" as const },
      { name: "700 light", viewport: { width: 700, height: 900 } },
      { name: "700 dark", viewport: { width: 700, height: 900 }, colorScheme: "dark" as const },
    ),
  )(
    "$name: list, record and export have no accessibility violation and need no sideways scrolling",
    async ({ name, ...how }) => {
      const { page, context, trail } = await openVisit(stage, how);
      await opened(page);
      await look(page, `coder-list-${name.replace(" ", "-")}`);
      await press(page, new RegExp(`^${CRUSH}`));
      await page.getByText("S62.630B", { exact: true }).waitFor();
      await press(page, "Change S62.630B");
      for (const summary of await page.locator("details > summary").all()) await summary.click();
      await look(page, `coder-case-${name.replace(" ", "-")}`);
      await press(page, "Export");
      await press(page, "Export these days");
      await page.getByText("Ready: 0 records").waitFor();
      await look(page, `coder-export-${name.replace(" ", "-")}`);
      expect(trail.violations).toEqual([]);
      await context.close();
    },
  );
});

import { mkdirSync } from "node:fs";
import { readFile } from "node:fs/promises";
import { join } from "node:path";
import type { Download, Page } from "playwright-core";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launched, press, STANDARD_CASE } from "./journey.ts";
import { axeViolations, control, ehrRequests, openStage, openVisit, type Stage, sidewaysScroll } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());
afterEach(() => control(stage, { reset: true, reseed: true, clearLogs: true }));

const PICTURES = join(import.meta.dirname, "../../.cache/screens");
mkdirSync(PICTURES, { recursive: true });
type Stored = { resourceType: string; id?: string; status?: string } & Record<string, unknown>;
/** What the plugin wrote for the patient of the standard case. */
const ours = (type: string) =>
  (stage.practice.stored(type) as unknown as Stored[]).filter((r) =>
    JSON.stringify(r).includes("https://fingerpost.example/plan-item"),
  );
const writes = async () =>
  (await ehrRequests(stage)).filter((r) => ["POST", "PUT"].includes(r.method) && r.path.startsWith("/fhir"));

async function toSigning(page: Page): Promise<void> {
  await launched(stage, page, STANDARD_CASE.patient);
  await answerStandardCase(page);
  await press(page, "See the plan");
  await page.getByRole("heading", { name: "The plan, and why" }).waitFor();
  await press(page, "Review and sign");
  await page.getByRole("heading", { name: /^What the record system takes/ }).waitFor();
}
/** Looks at the page at both widths: accessible, nothing sideways, and a picture of it. */
async function look(page: Page, name: string): Promise<void> {
  for (const width of [1280, 700]) {
    await page.setViewportSize({ width, height: 900 });
    await page.screenshot({ path: join(PICTURES, `${name}-${width}.png`), fullPage: true });
    expect(await axeViolations(page), `${name} at ${width}`).toEqual([]);
    expect(await sidewaysScroll(page), `${name} at ${width}`).toBe(0);
  }
  await page.setViewportSize({ width: 1280, height: 900 });
}

describe("a record system that takes neither care plans nor visits", () => {
  it("P2 P6 REL-33 shows before signing what becomes of each item, then files orders and a document of the plan", async () => {
    await control(stage, { capabilities: { noCreate: ["CarePlan", "Appointment"] } });
    const { page, trail, context } = await openVisit(stage);
    await toSigning(page);
    const takes = page.getByRole("region", { name: "What the record system takes" });
    await expect.poll(() => takes.innerText()).toContain("1 item will stand in a document of the plan");
    expect(await takes.innerText()).toContain("The record system takes no care plans from other programs.");
    expect(await takes.innerText()).toContain("It is filed as an order with its window.");
    await page.getByText("Document, will be filed").waitFor();
    expect(await page.getByText("Visit, will be filed as an order").count()).toBeGreaterThan(0);
    await look(page, "partial-before");
    expect(await writes(), "nothing is written before the act").toEqual([]);

    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    await look(page, "partial-signed");
    expect([ours("CarePlan").length, ours("Appointment").length]).toEqual([0, 0]);
    const [document, ...others] = ours("DocumentReference");
    expect(others).toEqual([]);
    expect(document).toMatchObject({ status: "current", docStatus: "final" });
    expect(ours("ServiceRequest").some((r) => r.intent === "instance-order")).toBe(true);
    for (const request of ours("ServiceRequest")) expect(request.status).toBe("active");
    expect((await writes()).map(({ status }) => status)).toEqual([200]);
    expect(trail.violations).toEqual([]);
    expect(trail.errors).toEqual([]);
    await context.close();
  });

  it("P1 REL-33 but claims to: the refusal is told, nothing is stored, and the second press files what can be filed", async () => {
    await control(stage, { capabilities: { noCreate: ["CarePlan"], stated: false } });
    const { page, context } = await openVisit(stage);
    await toSigning(page);
    await press(page, /^Sign and write \d+ items to the chart$/);
    const outcome = page.getByRole("region", { name: "Nothing was signed: the plan was not saved" });
    await outcome.waitFor();
    expect(await outcome.innerText()).toContain("See below what can be filed instead, then decide again.");
    await outcome.getByRole("button", { name: "See what can be filed now" }).click();
    expect(ours("Condition")).toEqual([]);
    await expect
      .poll(() => page.getByRole("region", { name: "What the record system takes" }).innerText())
      .toContain("The record system refused this care plan when it was tried");
    await look(page, "partial-refused");
    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    expect([ours("CarePlan").length, ours("DocumentReference").length]).toEqual([0, 1]);
    await context.close();
  });
});

describe("a record system that lets nobody write", () => {
  it("P6 P7 says that the plan is not filed, and lets it be taken along: downloaded and as a text for the note", async () => {
    await control(stage, { capabilities: { readOnly: true } });
    const { page, trail, context } = await openVisit(stage, { acceptDownloads: true });
    await toSigning(page);
    await page.getByRole("heading", { level: 1, name: "The plan, to take along" }).waitFor();
    const notFiled = page.getByRole("region", { name: /^Not filed/ });
    await notFiled.waitFor();
    expect(await page.getByRole("button", { name: /^Sign and write|^Save as draft/ }).count()).toBe(0);
    await look(page, "read-only");
    const files: Download[] = [];
    page.on("download", (file) => files.push(file));
    await press(page, "Take the plan along");
    await notFiled.getByText(/^Taken along, not filed/).waitFor();
    await expect.poll(() => files.length).toBe(2);
    const texts = new Map<string, string>();
    for (const file of files) texts.set(file.suggestedFilename(), await readFile(await file.path(), "utf8"));
    const bundle = JSON.parse(texts.get("plan-bundle.json") ?? "{}") as { entry: { resource: Stored }[] };
    expect(bundle.entry.map(({ resource }) => resource.resourceType)).toEqual(
      expect.arrayContaining(["Condition", "CarePlan", "ServiceRequest", "Appointment", "Provenance"]),
    );
    const note = await notFiled.getByRole("textbox", { name: "Text for the note" }).inputValue();
    for (const text of [note, texts.get("plan-not-filed.html") ?? ""]) {
      expect(text).toContain("NOT FILED in the record system");
      expect(text).toContain("Dr Imke Harrowgate");
      expect(text).toContain(String(new Date().getFullYear()));
      expect(text).toContain("Bony mallet");
    }
    await look(page, "read-only-taken");
    expect(await writes()).toEqual([]);
    expect(trail.violations).toEqual([]);
    expect(trail.errors).toEqual([]);
    await context.close();
  });
});

describe("a record system that takes one item at a time", () => {
  it("REL-29 INV-5 a window closed in mid-write: the next launch shows how far it came, and the plan is finished", async () => {
    await control(stage, { capabilities: { transaction: false } });
    const { page, context } = await openVisit(stage);
    await toSigning(page);
    await expect
      .poll(() => page.getByRole("region", { name: "What the record system takes" }).innerText())
      .toContain("takes one item at a time");
    // The fifth item and all after it never get through, and the page is left while it waits.
    await control(stage, {
      faults: [{ method: "POST", path: "^/fhir/[A-Z]", skip: 4, times: 99, kind: "cut-before" }],
    });
    await press(page, /^Sign and write \d+ items to the chart$/);
    await expect.poll(async () => (await writes()).length).toBeGreaterThanOrEqual(5);
    await page.goto(`${stage.practice.ehrUrl}/desk`);
    for (const request of ours("ServiceRequest")) expect(request.status).toBe("draft");
    await control(stage, { reset: true, capabilities: { transaction: false } });

    await launched(stage, page, STANDARD_CASE.patient);
    const unfinished = page.getByRole("region", { name: "Unfinished plan" });
    await unfinished.waitFor();
    expect(await unfinished.innerText()).toMatch(/An unfinished plan from .*: 4 of \d+ saved\./);
    await look(page, "unfinished");
    await unfinished.getByRole("button", { name: "Go on with it" }).click();
    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    expect([ours("Condition").length, ours("CarePlan").length, ours("QuestionnaireResponse").length]).toEqual([
      1, 1, 1,
    ]);
    for (const request of ours("ServiceRequest")) expect(request.status).toBe("active");
    await context.close();
  });

  it("P4 REL-38 what was stored of a plan that could not be finished is withdrawn from the report, and nothing is deleted", async () => {
    await control(stage, { capabilities: { transaction: false } });
    const { page, context } = await openVisit(stage);
    await toSigning(page);
    await control(stage, {
      faults: [{ method: "POST", path: "^/fhir/[A-Z]", skip: 5, times: 2, kind: "status", status: 500 }],
    });
    await press(page, /^Sign and write \d+ items to the chart$/);
    const report = page.getByRole("region", { name: "Not certain what was saved" });
    await report.waitFor();
    expect(await report.innerText()).toContain("stored as a draft, not signed");
    await look(page, "stopped-half-way");
    await report.getByRole("button", { name: "Withdraw what is stored" }).click();
    await report.getByRole("button", { name: "Withdraw it" }).click();
    await page.getByRole("status", { name: "Withdrawn." }).getByText("Findings: ").waitFor();
    await look(page, "withdrawn");
    const stored = ["QuestionnaireResponse", "Condition", "ServiceRequest", "Appointment", "CarePlan"].flatMap(ours);
    expect(stored).toHaveLength(5);
    for (const one of stored)
      expect(one.status ?? JSON.stringify(one.verificationStatus)).toMatch(/entered-in-error|cancelled|revoked/);
    expect((await ehrRequests(stage)).filter((r) => r.method === "DELETE")).toEqual([]);
    // What is signed afterwards is another plan, whole, beside what was withdrawn.
    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    expect(ours("CarePlan")).toMatchObject([{ status: "active" }]);
    await context.close();
  });
});

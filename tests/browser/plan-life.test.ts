import { mkdirSync } from "node:fs";
import { join } from "node:path";
import type { Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launched, press, STANDARD_CASE } from "./journey.ts";
import { axeViolations, openStage, openVisit, type Stage, type Stored, sidewaysScroll } from "./stage.ts";

const PICTURES = join(import.meta.dirname, "../../.cache/screens");
mkdirSync(PICTURES, { recursive: true });

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());

const ofPatient = async (type: string, patient: string) =>
  (await stage.stored(type)).filter((r) => JSON.stringify(r).includes(`Patient/${patient}`));
const statuses = async (type: string, patient: string) => (await ofPatient(type, patient)).map((r) => r.status);

/** The page looked at in both widths: no accessibility violation, nothing wider than the window. */
async function looksRight(page: Page, name: string): Promise<void> {
  for (const width of [1280, 700]) {
    await page.setViewportSize({ width, height: 900 });
    await page.screenshot({ path: join(PICTURES, `life-${name}-${width}.png`), fullPage: true });
    expect(await axeViolations(page), `${name} at ${width}`).toEqual([]);
    expect(await sidewaysScroll(page), `${name} at ${width}`).toBe(0);
  }
  await page.setViewportSize({ width: 1280, height: 900 });
}
async function toSigning(page: Page): Promise<void> {
  await press(page, "See the plan");
  await page.getByRole("heading", { name: "The plan, and why" }).waitFor();
  await press(page, "Review and sign");
  await page.getByRole("heading", { name: "What will be written" }).waitFor();
  await page.getByText("Signs: ", { exact: false }).waitFor();
}
const SIGN = /^Sign and write \d+ items to the chart$/;
async function sign(page: Page): Promise<void> {
  await press(page, SIGN);
  await page.getByText("Signed and saved").first().waitFor();
}

describe("the life of a plan, over several visits of one patient", () => {
  const PATIENT = "odalys-fennimore";
  let firstPlan: Stored;

  it("I4: the chart's own entry of the injury is refined by signing, with the choice on the card", async () => {
    const before = await ofPatient("Condition", PATIENT);
    expect(before).toHaveLength(1);
    const { page, context, trail } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await answerStandardCase(page);
    await toSigning(page);
    // It was confirmed together with finger and side; until then nothing is chosen.
    const choice = page.getByRole("group", { name: "The chart already holds this injury" });
    expect(
      await choice.getByRole("radio", { name: /^Refine the chart's entry "Injury of right ring finger"/ }).isChecked(),
    ).toBe(true);
    await choice.scrollIntoViewIfNeeded();
    await looksRight(page, "refine");
    await press(page, "File a new diagnosis beside it", "radio");
    await press(page, /^Refine the chart's entry/, "radio");
    await sign(page);
    const after = await ofPatient("Condition", PATIENT);
    expect(after, "refined, not doubled").toHaveLength(1);
    expect(after[0]!.id).toBe(before[0]!.id);
    const json = JSON.stringify(after[0]!.code);
    expect(json).toContain("S62.664A");
    expect(json, "the code that stood there stays").toContain("S69.91XA");
    expect(JSON.stringify(after[0]!.verificationStatus)).toContain("confirmed");
    [firstPlan] = (await ofPatient("CarePlan", PATIENT)) as [Stored];
    expect(trail.violations).toEqual([]);
    expect(trail.errors).toEqual([]);
    await context.close();
  });

  it("X1: a second run for the same injury finds the signed plan and asks before it can be signed", async () => {
    const { page, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await answerStandardCase(page);
    await toSigning(page);
    const question = page.getByRole("region", { name: "Is this the injury of an earlier plan?" });
    await expect.poll(() => question.innerText()).toContain("The same finger, hurt on the same day.");
    expect(await page.getByRole("button", { name: SIGN }).count(), "no signature before the choice").toBe(0);
    await expect
      .poll(() => page.getByRole("main").innerText())
      .toContain("Say first whether this is the injury of an earlier plan.");
    await looksRight(page, "question");
    await press(page, /^Another injury/, "radio");
    await page.getByRole("button", { name: SIGN }).waitFor();
    await press(page, /^Revise that plan/, "radio");
    await page.getByRole("region", { name: "What becomes of the earlier plan" }).waitFor();
    await looksRight(page, "revise");
    const untouched = new Map(
      [...(await ofPatient("ServiceRequest", PATIENT)), ...(await ofPatient("Appointment", PATIENT))].map((r) => [
        r.id,
        r.meta.versionId,
      ]),
    );
    await sign(page);
    const plans = await ofPatient("CarePlan", PATIENT);
    expect(plans.map((p) => p.status).sort()).toEqual(["active", "revoked"]);
    const next = plans.find((p) => p.status === "active")!;
    expect(next.replaces).toEqual([{ reference: `CarePlan/${firstPlan.id}` }]);
    for (const type of ["ServiceRequest", "Appointment"])
      for (const r of await ofPatient(type, PATIENT))
        expect(r.meta.versionId, "what did not change is not rewritten").toBe(untouched.get(r.id));
    await context.close();
  });

  it("REL-38: it is withdrawn with a reason, nothing is deleted, and the record says who did it", async () => {
    const { page, context, trail } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await press(page, /Saved plans/, "link");
    await page.getByRole("heading", { level: 1, name: "Saved plans in this chart" }).waitFor();
    await page.getByText("Findings it rests on").first().click();
    await looksRight(page, "record");
    await press(page, /^Withdraw this plan/);
    const form = page.getByRole("region", { name: "Withdraw this plan" });
    await form.getByRole("button", { name: /^Withdraw \d+ entries$/ }).click();
    await form.getByText("Say why: it is kept with every entry.").waitFor();
    await form.getByLabel("Why is it withdrawn?").fill("The film of another patient was read.");
    await looksRight(page, "withdraw");
    const count = (await ofPatient("ServiceRequest", PATIENT)).length;
    await form.getByRole("button", { name: /^Withdraw \d+ entries$/ }).click();
    await page.getByRole("heading", { name: "The plan is withdrawn" }).waitFor();
    await looksRight(page, "withdrawn");
    expect(await statuses("CarePlan", PATIENT)).toEqual(["revoked", "revoked"]);
    expect(new Set(await statuses("ServiceRequest", PATIENT))).toEqual(new Set(["revoked"]));
    expect(new Set(await statuses("Appointment", PATIENT))).toEqual(new Set(["cancelled"]));
    expect(await ofPatient("ServiceRequest", PATIENT)).toHaveLength(count);
    const [condition] = await ofPatient("Condition", PATIENT);
    expect(JSON.stringify(condition!.verificationStatus), "the injury is still an injury").toContain("confirmed");
    expect(trail.requests.filter((r) => r.method === "DELETE")).toEqual([]);
    const provenance = JSON.stringify(await stage.stored("Provenance"));
    expect(provenance).toContain("The film of another patient was read.");
    expect(trail.violations).toEqual([]);
    await context.close();
  });

  it("X1: once it is withdrawn, the next run is a plan of its own", async () => {
    const { page, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await answerStandardCase(page);
    await toSigning(page);
    await page.getByRole("button", { name: SIGN }).waitFor();
    expect(await page.getByRole("region", { name: "Is this the injury of an earlier plan?" }).count()).toBe(0);
    await context.close();
  });
});

describe("a draft that another clinician goes on with", () => {
  const PATIENT = "maren-tollgrave";
  const answer = async (page: Page) => {
    await press(page, "None of these");
    await press(page, /^Pink, refill/);
    await press(page, /^Crushed, rings off/);
    await press(page, /^Closed, nail intact/);
    await press(page, /^Straightens and bends/);
    await press(page, /^True lateral seen/);
    await press(page, /^Tuft/, "radio");
    await press(page, /^Three or more pieces/, "radio");
  };

  it("D3, D8: shows who drafted it, when and from which findings; signed by the second, it names both", async () => {
    const first = await openVisit(stage);
    await launched(stage, first.page, "Maren Liv Tollgrave");
    await press(first.page, "These are right");
    await answer(first.page);
    await toSigning(first.page);
    await press(first.page, "Save as draft");
    await first.page.getByText("Saved as draft").first().waitFor();
    await first.context.close();
    expect(await statuses("CarePlan", PATIENT)).toEqual(["draft"]);
    const [entry] = await ofPatient("Condition", PATIENT);
    expect(entry!.meta.versionId, "a draft leaves the chart's own entry as it is").toBe("1");

    const { page, context } = await openVisit(stage);
    await launched(stage, page, "Maren Liv Tollgrave", { as: "surgeon" });
    await press(page, /Saved plans/, "link");
    const main = page.getByRole("main");
    await expect.poll(() => main.innerText()).toMatch(/Written by Dr Imke Harrowgate/);
    await page.getByText("Findings it rests on").first().click();
    await expect.poll(() => main.innerText()).toMatch(/Which digit is injured: Middle/);
    await looksRight(page, "others-draft");
    await press(page, "Continue this draft of somebody else");
    await page.getByRole("heading", { level: 1, name: /What do you find/ }).waitFor();
    await press(page, "These are right");
    await answer(page);
    await toSigning(page);
    await expect.poll(() => main.innerText()).toContain("This goes on with: Draft by Dr Imke Harrowgate");
    await looksRight(page, "goes-on");
    await sign(page);
    expect(await statuses("CarePlan", PATIENT)).toEqual(["active"]);
    const [plan] = await ofPatient("CarePlan", PATIENT);
    const signatures = (await stage.stored("Provenance")).filter(
      (p) => JSON.stringify(p.activity).includes('"LA"') && JSON.stringify(p.target).includes(`CarePlan/${plan!.id}`),
    );
    expect(signatures).toHaveLength(1);
    expect(JSON.stringify(signatures[0]!.agent)).toMatch(/imke-harrowgate.*aurel-pemberwick/);
    await context.close();
  });
});

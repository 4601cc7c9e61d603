import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launched, press, STANDARD_CASE } from "./journey.ts";
import { axeViolations, openStage, openVisit, type Stage } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());

const ofPatient = async (type: string, patient: string) =>
  (await stage.stored(type)).filter((r) => JSON.stringify(r).includes(`Patient/${patient}`));

describe("from the chart to a signed plan, in a real browser against a real server", () => {
  it("an emergency doctor signs the plan for a closed bony mallet in at most 12 presses", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    expect(new URL(page.url()).search, "code and state leave the address bar").toBe("");
    const banner = page.getByRole("region", { name: "Patient", exact: true });
    for (const shown of ["Odalys Fennimore", "34 years", "female", "PX-20417", "Penicillin"])
      await expect.poll(() => banner.innerText()).toContain(shown);

    const panel = page.getByRole("complementary");
    await answerStandardCase(page, {
      beforeLast: async () => {
        await expect
          .poll(() => panel.innerText(), { message: "urgency before the last question" })
          .toMatch(/Within one week|Within one to two weeks/);
        expect(await panel.innerText(), "what to do now before the last question").toContain("What to do now");
      },
    });
    await expect.poll(() => panel.innerText()).toContain("Settled");
    await expect.poll(() => panel.innerText()).toContain("Bony mallet");

    await press(page, "See the plan");
    await page.getByRole("heading", { name: "The plan, and why" }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    const plan = await page.getByRole("main").innerText();
    expect(plan).toContain("Bony mallet");
    expect(plan).toMatch(/DIP/);
    expect(plan, "a splint that is worn already is not counted from today").toContain(
      "it counts from the day it was put on",
    );
    const urgency = page.getByRole("group").filter({ hasText: /./ });
    expect(await urgency.count(), "lines open to their reasons").toBeGreaterThan(5);

    await press(page, "Review and sign");
    await page.getByRole("heading", { name: "What will be written" }).waitFor();
    await page.getByText("Signs: ", { exact: false }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect((await stage.stored("CarePlan")).length, "nothing is written before the sign act").toBe(0);
    // The cards show what would be signed once it can be signed, however long the record system takes to say what it is able to.
    await page.getByRole("button", { name: /^Sign and write \d+ items to the chart$/ }).waitFor();
    const shown = await page.locator(".drafts pre").allTextContents();
    const sent = page.waitForRequest((r) => r.method() === "POST" && r.url().startsWith(stage.practice.fhirBase));

    await press(page, /^Sign and write \d+ items to the chart$/);
    const bundle = JSON.parse((await sent).postData() ?? "{}") as { type: string; entry: { resource: unknown }[] };
    expect(bundle.type).toBe("transaction");
    expect(
      bundle.entry.map((e) => JSON.stringify(e.resource)),
      "what was shown is what is sent",
    ).toEqual(shown.map((text) => JSON.stringify(JSON.parse(text))));
    await page.getByText("Signed and saved").first().waitFor();
    expect(trail.clicks, "presses from Launch to signed").toBeLessThanOrEqual(12);
    console.log(`presses from Launch to signed: ${trail.clicks} (at most 12)`);
    expect(await axeViolations(page)).toEqual([]);

    const [plan1] = await ofPatient("CarePlan", "odalys-fennimore");
    expect(plan1).toMatchObject({ status: "active", intent: "plan" });
    const condition = (await ofPatient("Condition", "odalys-fennimore")).find((c) =>
      JSON.stringify(c).includes("S62.634A"),
    );
    expect(
      condition,
      "displaced is the official default where displacement is not recorded; here it is",
    ).toBeUndefined();
    const coded = (await ofPatient("Condition", "odalys-fennimore")).find((c) => JSON.stringify(c).includes("S62.66"));
    expect(coded, "closed, not displaced, right ring finger").toBeDefined();
    expect(JSON.stringify(coded)).toContain("S62.664A");
    expect(JSON.stringify(coded)).toContain("confirmed");
    for (const request of await ofPatient("ServiceRequest", "odalys-fennimore"))
      expect(request).toMatchObject({ status: "active", intent: "order" });
    const visits = await ofPatient("Appointment", "odalys-fennimore");
    expect(visits.length).toBeGreaterThan(0);
    for (const visit of visits) {
      expect(visit).toMatchObject({ status: "proposed" });
      expect(visit.start).toBeUndefined();
    }
    expect(await ofPatient("QuestionnaireResponse", "odalys-fennimore")).toHaveLength(1);
    const [provenance] = await stage.stored("Provenance");
    expect(JSON.stringify(provenance)).toContain("Practitioner/imke-harrowgate");

    await page.goto(`${stage.practice.ehrUrl}/desk/patient/odalys-fennimore`);
    const chart = await page.getByRole("main").innerText();
    expect(chart).toContain("new in this session");
    expect(chart).toMatch(/active/);

    expect(trail.violations).toEqual([]);
    expect(trail.errors).toEqual([]);
    expect(
      trail.console.filter((c) => /Fennimore|PX-20417|odalys/.test(c)),
      "no patient data in the console",
    ).toEqual([]);
    await context.close();
  });

  it("what a doctor saves as a draft stays a draft until signed, and signing makes no second plan", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launched(stage, page, "Maren Liv Tollgrave");
    await press(page, "These are right");
    await press(page, "None of these");
    await press(page, /^Pink, refill/);
    await press(page, /^Crushed, rings off/);
    await press(page, /^Closed, nail intact/);
    await press(page, /^Straightens and bends/);
    await press(page, /^True lateral seen/);
    await press(page, /^Tuft/, "radio");
    await press(page, /^Three or more pieces/, "radio");
    await press(page, "See the plan");
    await press(page, "Review and sign");
    await press(page, "Save as draft");
    await page.getByText("Saved as draft").first().waitFor();
    const drafts = await ofPatient("CarePlan", "maren-tollgrave");
    expect(drafts).toHaveLength(1);
    expect(drafts[0]).toMatchObject({ status: "draft", intent: "plan" });
    for (const request of await ofPatient("ServiceRequest", "maren-tollgrave")) expect(request.status).toBe("draft");

    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    const plans = await ofPatient("CarePlan", "maren-tollgrave");
    expect(plans).toHaveLength(1);
    expect(plans[0]).toMatchObject({ id: drafts[0]!.id, status: "active" });
    for (const request of await ofPatient("ServiceRequest", "maren-tollgrave")) expect(request.status).toBe("active");
    expect(await ofPatient("QuestionnaireResponse", "maren-tollgrave")).toHaveLength(1);
    expect(trail.violations).toEqual([]);
    await context.close();
  });
});

import type { Page } from "playwright-core";
import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launch, launched, press, STANDARD_CASE } from "./journey.ts";
import { control, openStage, openVisit, type Stage, type Trail } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());
afterEach(() => control(stage, { reset: true }));

/** Twelve words that stand nowhere but in the chart, each in another kind of field. */
const CANARIES = {
  family: "Quizzleworthe",
  given: "Zephyrintha",
  identifier: "ZQ-7741-KESTREL",
  phone: "0199-KESTREL-55",
  address: "Marzipan Alley 417",
  condition: "Vextrous knuckle",
  allergy: "Plumbagine salve",
  film: "Obliquark film",
  report: "Gossamer cortex seen",
  medicine: "Trizolvane drops",
  note: "Whispered at intake",
  outcome: "Refused for Quizzleworthe by ward 9",
} as const;
const WORDS = Object.values(CANARIES);
const held = (text: string) => WORDS.filter((word) => text.includes(word) || text.includes(encodeURIComponent(word)));

/** Puts the words into what the practice EHR answers, and into its refusals. */
async function seed(page: Page): Promise<void> {
  await page.context().route(`${stage.practice.fhirBase}/**`, async (route) => {
    if (route.request().method() !== "GET") return route.continue();
    const response = await route.fetch().catch(() => undefined);
    if (!response) return route.abort();
    const type = new URL(route.request().url()).pathname.split("/")[2];
    const body = await response.json().catch(() => undefined);
    // The page may be gone by then.
    if (!body) return route.fulfill({ response }).catch(() => undefined);
    const subject = { reference: "Patient/odalys-fennimore" };
    const more: Record<string, object> = {
      Condition: { code: { text: CANARIES.condition }, note: [{ text: CANARIES.note }] },
      AllergyIntolerance: { patient: subject },
      ImagingStudy: { status: "available", description: CANARIES.film },
      DiagnosticReport: { status: "final", conclusion: CANARIES.report, issued: "2026-11-20" },
      MedicationRequest: { status: "active", medicationCodeableConcept: { text: CANARIES.medicine } },
    };
    if (body.resourceType === "Patient")
      Object.assign(body, {
        name: [{ family: CANARIES.family, given: [CANARIES.given] }],
        identifier: [{ value: CANARIES.identifier }],
        telecom: [{ system: "phone", value: CANARIES.phone }],
        address: [{ text: CANARIES.address }],
      });
    // What is read back of a plan by its identifier stays as it was stored.
    const found = !route.request().url().includes("identifier");
    if (found && body.resourceType === "Bundle" && type && more[type]) {
      const added = { resource: { resourceType: type, id: `canary-${type}`, subject, ...more[type] } };
      const [first] = body.entry ?? [];
      if (["Condition", "MedicationRequest"].includes(type)) body.entry = [...(body.entry ?? []), added];
      // What a plan rests on must exist on the server: such entries are those that are there, in other words.
      else if (first)
        Object.assign(first.resource, more[type], { code: { ...first.resource.code, text: CANARIES.allergy } });
    }
    return route.fulfill({ response, json: body });
  });
}

/** Where a word or a token may have come to lie, other than on the page itself. */
async function leaks(page: Page, trail: Trail, tokens: readonly string[]): Promise<string[]> {
  const places = await page.evaluate(async () => {
    const databases = (await indexedDB.databases?.()) ?? [];
    const kept = await caches.keys();
    const globals = Object.entries(window).flatMap(([name, value]) =>
      typeof value === "string" ? [`${name}=${value}`] : [],
    );
    return {
      address: location.href,
      title: document.title,
      historyState: JSON.stringify(history.state),
      cookies: document.cookie,
      localStorage: JSON.stringify(localStorage),
      sessionStorage: JSON.stringify(sessionStorage),
      databases: JSON.stringify(databases),
      caches: JSON.stringify(kept),
      windowName: window.name,
      globals: globals.join("\n"),
    };
  });
  const requests = trail.requests.map((r) => r.url).join("\n");
  const all: Record<string, string> = {
    ...places,
    requests,
    console: trail.console.join("\n"),
    errors: trail.errors.join("\n"),
  };
  return Object.entries(all).flatMap(([place, text]) => [
    ...held(text).map((word) => `${place}: ${word}`),
    // The tab's session storage is the one place where a token may lie, so that a reload does not end the work.
    ...(place === "sessionStorage"
      ? []
      : tokens.filter((token) => text.includes(token)).map(() => `${place}: a token`)),
  ]);
}

/** A visit whose every token is known to the test. */
async function visit() {
  const { page, trail, context } = await openVisit(stage);
  const tokens: string[] = [];
  page.on("response", async (response) => {
    if (!new URL(response.url()).pathname.endsWith("/token")) return;
    const answer = (await response.json().catch(() => ({}))) as Record<string, unknown>;
    for (const name of ["access_token", "refresh_token", "id_token"])
      if (typeof answer[name] === "string") tokens.push(answer[name]);
  });
  await seed(page);
  return {
    page,
    trail,
    context,
    tokens,
    clean: async (step: string) => expect(await leaks(page, trail, tokens), step).toEqual([]),
  };
}

describe("words of the chart stay on the page, and tokens in their place", () => {
  it("SEC-23 SEC-08 L13 GATE-10 from launch to signed plan, with a reload, a draft and a refusal that quotes the patient", async () => {
    const { page, context, tokens, clean, trail } = await visit();
    await launched(stage, page, STANDARD_CASE.patient);
    await expect
      .poll(() => page.getByRole("region", { name: "Patient", exact: true }).innerText())
      .toContain(CANARIES.family);
    await page.getByText("What the chart holds").click();
    const chart = await page.locator("#chart").innerText();
    expect(held(chart).length, "the words are really in the chart that is read").toBeGreaterThanOrEqual(4);
    expect(tokens.length).toBeGreaterThanOrEqual(2);
    await clean("the findings");
    await answerStandardCase(page);
    await clean("answered");
    await page.reload();
    await page.getByRole("heading", { level: 1, name: "What do you find?" }).waitFor();
    await clean("reloaded");
    await press(page, "See the plan");
    await page.getByRole("heading", { name: "The plan, and why" }).waitFor();
    await clean("the plan");
    await press(page, "Review and sign");
    await page.getByText("Signs: ", { exact: false }).waitFor();
    await context.route(stage.practice.fhirBase, (route) =>
      route.request().method() === "POST"
        ? route.fulfill({
            status: 422,
            contentType: "application/fhir+json",
            headers: { "access-control-allow-origin": "*" },
            body: JSON.stringify({
              resourceType: "OperationOutcome",
              issue: [
                {
                  severity: "error",
                  code: "invalid",
                  diagnostics: CANARIES.outcome,
                  expression: ["Bundle.entry[0].resource"],
                },
              ],
            }),
          })
        : route.continue(),
    );
    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText(CANARIES.outcome).first().waitFor();
    await clean("refused");
    await context.unroute(stage.practice.fhirBase);
    await press(page, /^Sign and write \d+ items to the chart$/);
    await page.getByText("Signed and saved").first().waitFor();
    await clean("signed");
    const here = new URL(stage.practice.pluginUrl).origin;
    const sent = trail.requests.filter((r) => new URL(r.url).origin === here).map((r) => r.url);
    expect(sent.filter((url) => /odalys|token|code=.*state=/.test(url) && !/[?&]code=/.test(url))).toEqual([]);
    await context.close();
  });
  it.each([
    ["parts are refused", { refuseTypes: ["Condition", "AllergyIntolerance"] }],
    ["answers are garbage", { faults: [{ path: "/Condition", kind: "garbage", times: 5 }] }],
    ["the connection is cut", { faults: [{ path: "/ImagingStudy", kind: "cut-before", times: 9 }] }],
    ["the server has faults", { faults: [{ path: "/AllergyIntolerance", kind: "status", status: 500, times: 9 }] }],
    ["scopes are withheld", { denyScopes: ["CarePlan", "Condition"] }],
  ])("SEC-23 SEC-28 GATE-10 while %s", async (_name, message) => {
    await control(stage, message);
    const { page, context, clean } = await visit();
    await launch(stage, page, STANDARD_CASE.patient);
    await page.getByRole("heading", { level: 1 }).waitFor();
    await expect.poll(() => page.locator("body").innerText()).toMatch(/Chart read|could not be read|not write them/);
    await clean("opened");
    const shown = await page.getByRole("main").innerText();
    expect(shown, "no stack, no address of a request").not.toMatch(/\bat \w+ \(|\.js:\d+|\/fhir\/\w+\?/);
    await context.close();
  });
  it("SEC-23 GATE-10 is a check that can fail: a word in the title, a token in local storage", async () => {
    const { page, context, trail, tokens } = await visit();
    await launched(stage, page, STANDARD_CASE.patient);
    await expect.poll(() => tokens.length).toBeGreaterThan(0);
    await page.evaluate(
      ([word, token]) => {
        document.title = `Plan for ${word}`;
        localStorage.setItem("t", token!);
      },
      [CANARIES.family, tokens[0]!],
    );
    expect(await leaks(page, trail, tokens)).toEqual([`title: ${CANARIES.family}`, "localStorage: a token"]);
    await context.close();
  });
});

import type { BrowserContext, Page } from "playwright-core";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { PAYLOADS } from "../fuzz/payloads.ts";
import { launched, press, STANDARD_CASE } from "./journey.ts";
import { openStage, openVisit, type Stage, sidewaysScroll, type Trail } from "./stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage();
});
afterAll(() => stage?.close());

const PATIENT = "odalys-fennimore";
type Json = Record<string, unknown>;
const subject = { reference: `Patient/${PATIENT}` };
const div = (words: string) => ({
  status: "generated",
  div: `<div xmlns="http://www.w3.org/1999/xhtml">${words}</div>`,
});
const attached = (words: string) => ({
  contentType: "text/html",
  url: words,
  title: words,
  data: Buffer.from(words).toString("base64"),
});
const item = (key: string) => [{ system: "https://fingerpost.example/plan-item", value: `plan-1:${key}` }];
/** The string fields of a chart, by type of resource; each stands alone in an entry. */
const FIELDS: Readonly<Record<string, readonly ((words: string) => Json)[]>> = {
  Condition: [
    (w) => ({ code: { text: w } }),
    (w) => ({ code: { coding: [{ system: "urn:x", code: "x", display: w }] } }),
    (w) => ({ code: { coding: [{ system: w, code: w }] } }),
    (w) => ({ code: { text: "x" }, text: div(w), note: [{ text: w }] }),
    (w) => ({ code: { text: "x" }, onsetDateTime: w, onsetString: w }),
  ],
  ImagingStudy: [
    (w) => ({ description: w }),
    (w) => ({ procedureCode: [{ text: w }] }),
    (w) => ({ series: [{ bodySite: { display: w }, modality: { code: w } }], endpoint: [{ reference: w }] }),
  ],
  DiagnosticReport: [
    (w) => ({ code: { text: w } }),
    (w) => ({ conclusion: w }),
    (w) => ({ presentedForm: [attached(w)], text: div(w) }),
  ],
  AllergyIntolerance: [
    (w) => ({ code: { text: w } }),
    (w) => ({ code: { text: "x" }, reaction: [{ manifestation: [{ text: w }] }] }),
    (w) => ({ code: { text: "x" }, reaction: [{ severity: w, description: w }] }),
  ],
  MedicationRequest: [
    (w) => ({ medicationCodeableConcept: { text: w } }),
    (w) => ({ medicationReference: { display: w } }),
    (w) => ({ medicationReference: { reference: w }, dosageInstruction: [{ text: w }] }),
  ],
  Immunization: [
    (w) => ({
      vaccineCode: { text: w, coding: [{ system: "http://hl7.org/fhir/sid/cvx", code: "115" }] },
      occurrenceDateTime: "2020-01-01",
    }),
  ],
  CarePlan: [(w) => ({ title: w, identifier: item("plan") })],
  ServiceRequest: [(w) => ({ code: { text: w }, identifier: item("request-1") })],
  Appointment: [(w) => ({ description: w, identifier: item("visit-1"), participant: [{ actor: subject }] })],
  QuestionnaireResponse: [(w) => ({ identifier: item("findings")[0], author: { display: w }, authored: w })],
  OperationOutcome: [
    (w) => ({ issue: [{ severity: "warning", code: "informational", details: { text: w } }] }),
    (w) => ({ issue: [{ diagnostics: w }] }),
  ],
};
const REQUIRED: Readonly<Record<string, Json>> = {
  Condition: { recordedDate: "2026-11-20" },
  ImagingStudy: { status: "available" },
  DiagnosticReport: { status: "final", issued: "2026-11-20" },
  MedicationRequest: { status: "active" },
  Immunization: { status: "completed" },
  CarePlan: { status: "active" },
  ServiceRequest: { status: "active" },
  Appointment: { status: "proposed" },
  QuestionnaireResponse: { status: "completed" },
};
const patient = (words: string): Json => ({
  resourceType: "Patient",
  id: PATIENT,
  text: div(words),
  name: [{ text: words, family: words, given: [words] }],
  identifier: [{ value: words, type: { text: words } }],
  gender: words,
  birthDate: words,
  photo: [attached(words)],
  telecom: [{ system: "url", value: words }],
});
/** 25 and more string fields: nine of the patient, and those of the other entries. */
const PATIENT_FIELDS = 9;
const FIELD_COUNT = PATIENT_FIELDS + Object.values(FIELDS).flat().length;

/** Answers every read of the chart with entries whose every word is one of these. */
async function chartOf(context: BrowserContext, words: () => readonly string[]): Promise<void> {
  await context.route(`${stage.practice.fhirBase}/**`, async (route) => {
    const url = new URL(route.request().url());
    const type = url.pathname.split("/")[2] ?? "";
    const now = words();
    if (route.request().method() !== "GET" || type.startsWith(".") || type === "metadata") return route.continue();
    const answer = (body: Json, status = 200) =>
      route.fulfill({
        status,
        contentType: "application/fhir+json",
        headers: { "access-control-allow-origin": "*" },
        body: JSON.stringify(body),
      });
    if (type === "Patient") return answer(patient(now[0]!));
    if (type === "MedicationStatement" || type === "Encounter")
      return answer(
        { resourceType: "OperationOutcome", issue: [{ severity: "error", code: "forbidden", diagnostics: now[0] }] },
        403,
      );
    const entries = [type, "OperationOutcome"].flatMap((name) =>
      now.flatMap((w, i) =>
        (FIELDS[name] ?? []).map((field, f) => ({
          resource: {
            resourceType: name,
            id: `${name}-${i}-${f}`,
            subject,
            patient: subject,
            ...REQUIRED[name],
            ...field(w),
          },
        })),
      ),
    );
    return answer({ resourceType: "Bundle", type: "searchset", entry: entries });
  });
}

/** What of the payloads has come alive in a page: a flag that was set, elements that only a payload has, addresses that run. */
const alive = (page: Page): Promise<string[]> =>
  page.evaluate(() => {
    const found = (window as unknown as { __xss?: unknown }).__xss === undefined ? [] : ["a script ran"];
    const foreign =
      "svg script, svg animate, img, iframe, object, embed, base, meta[http-equiv], math, marquee, video, audio, template, custom-element, xmp, style, [srcdoc], [formaction], [style*=evil], [href*=evil], [src*=evil]";
    for (const element of document.querySelectorAll(foreign)) found.push(element.outerHTML.slice(0, 80));
    for (const element of document.querySelectorAll("body *"))
      for (const { name, value } of element.attributes)
        if (
          /^on/.test(name) ||
          (/^(?:href|src|action|xlink:href)$/.test(name) && /^\W*(?:javascript|data|vbscript):/i.test(value))
        )
          found.push(`${element.tagName} ${name}=${value.slice(0, 60)}`);
    return found;
  });
/** Nothing ran, no rule of the page was broken, nobody else was asked. */
async function untouched(page: Page, trail: Trail): Promise<void> {
  expect(await alive(page)).toEqual([]);
  expect(trail.violations).toEqual([]);
  expect(trail.errors).toEqual([]);
  const hosts = new Set(trail.requests.filter((r) => r.url.startsWith("http")).map((r) => new URL(r.url).origin));
  expect([...hosts].filter((origin) => ![stage.practice.ehrUrl, stage.practice.pluginUrl].includes(origin))).toEqual(
    [],
  );
}
/** Until the screen has said all that it has to say of the chart. */
const settled = async (page: Page) => {
  let words = "";
  await expect
    .poll(async () => {
      const before = words;
      words = await page.getByRole("main").innerText();
      return words === before && !/Reading|being prepared|being read/.test(words);
    })
    .toBe(true);
};
const readAgain = async (page: Page) => {
  await page.reload();
  await page.getByRole("heading", { level: 1, name: "What do you find?" }).waitFor();
  await page
    .getByText(/Chart read/)
    .first()
    .waitFor();
};

describe("a chart that is written to attack", () => {
  it("SEC-14 SEC-18 GATE-09 60 payloads in each of 25 and more fields: all of them are text, none runs, nobody else is asked", async () => {
    expect(new Set(PAYLOADS).size).toBe(60);
    expect(FIELD_COUNT).toBeGreaterThanOrEqual(25);
    const { page, trail, context } = await openVisit(stage);
    page.on("dialog", (dialog) => {
      trail.errors.push(`dialog: ${dialog.message()}`);
      void dialog.dismiss();
    });
    let words: readonly string[] = PAYLOADS;
    await chartOf(context, () => words);
    await launched(stage, page, STANDARD_CASE.patient);
    await page
      .getByText(/Chart read/)
      .first()
      .waitFor();
    await page.getByText("What the chart holds").click();
    const shown = await page.locator("#chart").innerText();
    for (const payload of [
      "<script>window.__xss=1</script>",
      '<img src=x onerror="window.__xss=1">',
      "javascript:window.__xss=1",
    ])
      expect(shown, "the payload is on the screen, as text").toContain(payload);
    await untouched(page, trail);
    for (const payload of PAYLOADS) {
      words = [payload];
      await readAgain(page);
      await expect
        .poll(() => page.getByRole("region", { name: "Patient", exact: true }).innerText())
        .toContain(
          payload
            .replace(/\p{Cc}/gu, " ")
            .replace(/\s+/g, " ")
            .trim()
            .slice(0, 60),
        );
      expect(await alive(page), payload).toEqual([]);
    }
    await untouched(page, trail);
    await press(page, "See it");
    await page.getByRole("heading", { level: 1, name: "Saved plans" }).waitFor();
    await untouched(page, trail);
    await context.close();
  }, 300_000);

  it("SEC-14 GATE-20 the check itself sees script: a page that puts chart text into innerHTML is caught", async () => {
    const { page, context } = await openVisit(stage);
    await page.goto(`${stage.practice.ehrUrl}/desk`);
    const careless = await context.newPage();
    await careless.setContent("<!doctype html><p id=words></p>");
    await careless.evaluate((payload) => {
      document.getElementById("words")!.innerHTML = payload;
    }, PAYLOADS[2]!);
    await expect.poll(() => alive(careless)).toContain("a script ran");
    const found: string[] = [];
    for (const payload of PAYLOADS) {
      await careless.setContent("<!doctype html><p id=words></p>");
      await careless.evaluate((text) => {
        document.getElementById("words")!.innerHTML = text;
      }, payload);
      if ((await alive(careless)).length > 0) found.push(payload);
    }
    expect(found.length, "payloads that come alive in innerHTML").toBeGreaterThan(30);
    await context.close();
  });

  it("SEC-14 GATE-09 60 payloads in the address of the launch and of the answer to the sign-in: text, or not shown", async () => {
    const { page, trail, context } = await openVisit(stage);
    for (const payload of PAYLOADS) {
      const p = encodeURIComponent(payload);
      await page.goto(`${stage.practice.pluginUrl}/launch.html?iss=${p}&launch=${p}#${p}`);
      await page.getByRole("alert").waitFor();
      expect(await alive(page), payload).toEqual([]);
      await page.goto(`${stage.practice.pluginUrl}/?error=${p}&error_description=${p}&state=${p}#${p}`);
      await page.getByRole("heading", { level: 1 }).waitFor();
      expect(await alive(page), payload).toEqual([]);
    }
    await untouched(page, trail);
    await context.close();
  });

  it("SEC-18 addresses in a chart are text: no link, no picture and no attachment is made of them", async () => {
    const { page, trail, context } = await openVisit(stage);
    const addresses = [
      "javascript:window.__xss=1",
      "data:text/html,<script>window.__xss=1</script>",
      "http://evil.example/film.png",
      "https://evil.example/report.html",
      "blob:https://evil.example/1",
      "file:///etc/passwd",
      "//evil.example/x",
    ];
    await chartOf(context, () => addresses);
    await launched(stage, page, STANDARD_CASE.patient);
    await page
      .getByText(/Chart read/)
      .first()
      .waitFor();
    const links = await page.locator("a[href]").evaluateAll((all) => all.map((a) => a.getAttribute("href") ?? ""));
    expect(links.filter((href) => !/^(?:#|\.\/|https:\/\/)/.test(href) || href.includes("evil"))).toEqual([]);
    expect(await page.locator("img, iframe, object, embed, video, audio").count()).toBe(0);
    await untouched(page, trail);
    await context.close();
  });

  it("SEC-21 REL-19 names that are endless, turned round, hidden or half a character keep their place, with the identifier beside", async () => {
    const { page, trail, context } = await openVisit(stage, { viewport: { width: 700, height: 900 } });
    let words = ["x"];
    await chartOf(context, () => words);
    await launched(stage, page, STANDARD_CASE.patient);
    const NAMES: readonly (readonly [name: string, shown: RegExp])[] = [
      ["W".repeat(5000), /W{40,}…/],
      ["👍".repeat(2500), /^(?:👍)+…/u],
      ["\u202eregnaD\u202c \u200bA\u200dB", /^regnaD A B$/m],
      ["\ud83d half", /^\ufffd half$/m],
      ["محمد بن علی", /محمد بن علی/],
      ["李", /李/],
    ];
    for (const [name, shownAs] of NAMES) {
      words = [name];
      await readAgain(page);
      const banner = page.getByRole("region", { name: "Patient", exact: true });
      await expect.poll(() => banner.innerText()).toMatch(shownAs);
      expect(await banner.locator("bdi").count(), "a direction cannot spread from it").toBeGreaterThan(0);
      expect(await banner.innerText()).not.toMatch(/\p{Cf}|\p{Cs}/u);
      expect(await sidewaysScroll(page)).toBe(0);
    }
    await untouched(page, trail);
    await context.close();
  });
});

describe("messages from other windows", () => {
  it("SEC-17 200 forged ones change nothing: no navigation, no request, no word on the screen", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await page
      .getByText(/Chart read/)
      .first()
      .waitFor();
    await settled(page);
    const before = {
      url: page.url(),
      words: await page.getByRole("main").innerText(),
      requests: trail.requests.length,
    };
    const forged = Array.from({ length: 200 }, (_, i): unknown => {
      const url = `${stage.practice.pluginUrl}/?code=stolen-${i}&state=x`;
      return [
        { type: "completeAuth", url },
        { type: "SMART", url, code: "x", state: "y" },
        { messageType: "ui.done", payload: { url } },
        { messageId: String(i), messageType: "scratchpad.create", payload: { resource: { resourceType: "CarePlan" } } },
        url,
        JSON.stringify({ type: "logout" }),
        { type: "patient", patient: "other" },
        null,
        ["completeAuth", url],
        { __proto__: { polluted: true } },
      ][i % 10];
    });
    await page.evaluate(async (messages) => {
      const frame = document.createElement("iframe");
      document.body.append(frame);
      for (const [i, message] of messages.entries()) {
        // Half of them as from another window.
        const from = i % 2 ? window : (frame.contentWindow as Window & { eval?: unknown });
        window.dispatchEvent(
          new MessageEvent("message", { data: message, origin: "https://evil.example", source: from as Window }),
        );
        window.postMessage(message, "*");
      }
      // A message of our own, posted last, arrives after all of them.
      await new Promise<void>((done) => {
        window.addEventListener("message", (e) => e.data === "last" && done());
        window.postMessage("last", "*");
      });
      frame.remove();
    }, forged);
    expect({
      url: page.url(),
      words: await page.getByRole("main").innerText(),
      requests: trail.requests.length,
    }).toEqual(before);
    expect(trail.errors).toEqual([]);
    await context.close();
  });
});

describe("a launch that a foreign page starts", () => {
  it("SEC-03 L12 leaves the running visit and its answers alone, in another tab and in the same one", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await press(page, "These are right");
    const chosen = () =>
      page
        .getByRole("radio", { checked: true })
        .evaluateAll((all) => all.map((radio) => (radio as HTMLInputElement).value));
    await expect.poll(chosen).toEqual(["ring", "right"]);
    const forged = `${stage.practice.pluginUrl}/launch.html?iss=${encodeURIComponent(stage.practice.fhirBase)}&launch=forged`;

    const other = await context.newPage();
    await other.setContent("<!doctype html><p>Win a prize</p>");
    await other.goto(forged);
    await other.waitForLoadState("networkidle");
    await other.close();
    await press(page, /^Middle/, "radio");
    await expect.poll(chosen).toEqual(["middle", "right"]);

    // The same tab is led away: what was answered waits for a launch from the chart, and nothing was written.
    await page.goto(forged);
    await page.waitForLoadState("networkidle");
    expect(stage.practice.stored("CarePlan")).toEqual([]);
    await launched(stage, page, "Maren Liv Tollgrave");
    expect(await chosen(), "another patient gets none of it").toEqual([]);
    await launched(stage, page, STANDARD_CASE.patient);
    await expect.poll(chosen).toEqual(["middle", "right"]);
    expect(trail.errors).toEqual([]);
    await context.close();
  });
});

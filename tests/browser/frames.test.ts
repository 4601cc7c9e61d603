import { createServer, type Server } from "node:http";
import type { AddressInfo } from "node:net";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { answerStandardCase, launch, launched, STANDARD_CASE } from "./journey.ts";
import { openStage, openVisit, type Stage } from "./stage.ts";

let stage: Stage;
/** A record system on another site: 127.0.0.1 and localhost are different sites to a browser, so storage is partitioned or blocked. */
let stranger: Server;
let strangerUrl: string;
beforeAll(async () => {
  stage = await openStage();
  stranger = createServer((request, response) => {
    const address = new URL(request.url ?? "/", "http://127.0.0.1").searchParams.get("show") ?? "";
    response.setHeader("content-type", "text/html; charset=utf-8");
    response.end(
      `<!doctype html><title>Other record system</title><iframe title="plugin" width="900" height="700" src="${address.replaceAll('"', "&quot;")}"></iframe>`,
    );
  });
  await new Promise<void>((done) => stranger.listen(0, "127.0.0.1", done));
  strangerUrl = `http://127.0.0.1:${(stranger.address() as AddressInfo).port}`;
});
afterAll(async () => {
  stranger?.close();
  await stage?.close();
});

describe("inside another page", () => {
  it("the whole standard case can be answered in a frame of the record system", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launch(stage, page, STANDARD_CASE.patient, { view: "Open in a frame" });
    const frame = page.frameLocator("iframe");
    await frame.getByRole("heading", { level: 1, name: "What do you find?" }).waitFor();
    await frame.getByRole("button", { name: "None of these", exact: true }).first().click();
    await frame.getByRole("button", { name: /^Pink, refill/ }).click();
    await expect.poll(() => frame.getByRole("complementary").innerText()).toContain("Assessment so far");
    expect(trail.violations).toEqual([]);
    await context.close();
  });

  it("SEC-16: a page that is not a known record system cannot frame it", async () => {
    const { page, context } = await openVisit(stage);
    await page.goto(`${strangerUrl}/?show=${encodeURIComponent(`${stage.practice.pluginUrl}/launch.html`)}`);
    await page.locator("iframe").waitFor();
    await expect
      .poll(() =>
        page
          .frames()
          .map((f) => f.url())
          .join(" "),
      )
      .toContain("chrome-error");
    expect(await page.frameLocator("iframe").getByRole("heading", { name: "Broken finger tip" }).count()).toBe(0);
    await context.close();
  });

  it("REL-07: where the browser blocks storage in the frame it offers its own window", async () => {
    const { page, context } = await openVisit(stage);
    // What Chromium does in another site's frame: touching the storage throws.
    await context.addInitScript(() => {
      if (window === window.top) return;
      Object.defineProperty(window, "sessionStorage", {
        get() {
          throw new DOMException("The operation is insecure.", "SecurityError");
        },
      });
    });
    await launch(stage, page, STANDARD_CASE.patient, { view: "Open in a frame" });
    const frame = page.frameLocator("iframe");
    const own = frame.getByRole("link", { name: "Open in its own window" });
    await own.waitFor();
    const [fresh] = await Promise.all([context.waitForEvent("page"), own.click()]);
    await fresh.getByRole("heading", { level: 1, name: "What do you find?" }).waitFor();
    await expect
      .poll(() => fresh.getByRole("region", { name: "Patient", exact: true }).innerText())
      .toContain("Odalys Fennimore");
    await context.close();
  });

  it("L2: standalone launch: the doctor signs in, picks the patient, and the same screen opens", async () => {
    const { page, trail, context } = await openVisit(stage);
    await page.goto(`${stage.practice.pluginUrl}/launch.html`);
    await page
      .getByRole("button", { name: /Practice EHR/ })
      .or(page.getByRole("link", { name: /Practice EHR/ }))
      .first()
      .click();
    await page.getByRole("radio", { name: /Odalys Fennimore/ }).check();
    await page.getByRole("button", { name: "Allow" }).click();
    await page.getByRole("heading", { level: 1, name: "What do you find?" }).waitFor();
    await expect
      .poll(() => page.getByRole("region", { name: "Patient", exact: true }).innerText())
      .toContain("Odalys Fennimore");
    expect(trail.violations).toEqual([]);
    await context.close();
  });
});

describe("Content-Security-Policy and Trusted Types", () => {
  it("SEC-15 negative control: the check sees a planted inline script and a planted innerHTML", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    const thrown = await page.evaluate(() => {
      const refused = (plant: () => void) => {
        try {
          plant();
          return false;
        } catch {
          return true;
        }
      };
      return [
        refused(() => {
          document.body.innerHTML = "<p>planted</p>";
        }),
        refused(() => {
          document.createElement("script").text = "window.planted = true";
        }),
        refused(() => {
          document.createElement("img").setAttribute("onerror", "window.planted = true");
        }),
      ];
    });
    expect(thrown, "Trusted Types refuse strings").toEqual([true, true, true]);
    await expect.poll(() => trail.violations.length).toBeGreaterThan(0);
    await context.close();
  });
});

describe("what stays behind", () => {
  it("SEC-23, L13: no patient data or token in addresses, history, console, localStorage or cookies of the plugin", async () => {
    const { page, trail, context } = await openVisit(stage);
    await launched(stage, page, STANDARD_CASE.patient);
    await answerStandardCase(page);
    const left = await page.evaluate(() => ({
      local: JSON.stringify(localStorage),
      cookies: document.cookie,
      title: document.title,
      address: location.href,
      session: Object.entries(sessionStorage).map(([key, value]) => `${key}=${value}`),
    }));
    // The patient's id is in the session (it is its subject); names, numbers and chart texts are not.
    const canaries = /Fennimore|Odalys|PX-20417|Penicillin/;
    expect(left.local).toBe("{}");
    expect(left.cookies).toBe("");
    expect(left.title).not.toMatch(canaries);
    expect(left.address).not.toMatch(/odalys|code=|state=/);
    expect(
      left.session.filter((entry) => canaries.test(entry)),
      "the kept draft holds answers, no identity",
    ).toEqual([]);
    expect(trail.console.filter((line) => canaries.test(line) || /eyJ/.test(line))).toEqual([]);
    expect(trail.requests.filter((r) => r.url.startsWith(stage.practice.pluginUrl) && canaries.test(r.url))).toEqual(
      [],
    );
    const hosts = new Set(trail.requests.filter((r) => r.url.startsWith("http")).map((r) => new URL(r.url).origin));
    expect([...hosts].sort()).toEqual([stage.practice.ehrUrl, stage.practice.pluginUrl].sort());
    await context.close();
  });
});

import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { html } from "../../launch/ehr/desk/html.ts";
import { inWords, patientWords } from "../../launch/ehr/desk/words.ts";
import type { Practice } from "../../launch/start.ts";
import { call, openPractice, signIn } from "./practice.ts";

let practice: Practice;
beforeAll(async () => {
  practice = await openPractice();
});
afterAll(() => practice.close());
const page = async (path: string) => {
  const answer = await fetch(`${practice.ehrUrl}${path}`);
  return { status: answer.status, headers: answer.headers, text: await answer.text() };
};

describe("chart pages", () => {
  it("every page says that it is practice, and has a strict policy without scripts", async () => {
    for (const path of [
      "/desk",
      "/desk/patient/odalys-fennimore",
      "/desk/launch?patient=odalys-fennimore&as=emergency&view=frame",
      "/desk/nowhere",
    ]) {
      const { text, headers } = await page(path);
      expect(text, path).toContain("Every person and place here is invented");
      expect(text).not.toMatch(/<script|style="|onclick/);
      expect(headers.get("content-security-policy")).toMatch(
        /^default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self' http:\/\/localhost:\d+/,
      );
      expect(headers.get("cache-control")).toBe("no-store");
    }
  });
  it("the list has every invented patient with what brings them, and the three ways to launch", async () => {
    const { text } = await page("/desk");
    for (const name of [
      "Odalys Fennimore",
      "Pim Okonjo-Vale",
      "Bertil Aschenbrook",
      "Philippa Maud Drossington",
      "Theda Lindqvist-Marr",
    ])
      expect(text).toContain(name);
    expect(text).toContain("Ball struck the tip of the right ring finger");
    expect(text).toContain("birth date not recorded");
    for (const way of ["Launch", "Open in a frame", "Open in its own window"])
      expect(text).toContain(`>${way}</button>`);
  });
  it("a launch goes to the app with iss and a fresh launch value, a frame to the same address", async () => {
    const answer = await fetch(`${practice.ehrUrl}/desk/launch?patient=odalys-fennimore&as=coder&view=tab`, {
      redirect: "manual",
    });
    const target = new URL(answer.headers.get("location") ?? "");
    expect(target.origin + target.pathname).toBe(`${practice.pluginUrl}/launch.html`);
    expect([...target.searchParams.keys()]).toEqual(["iss", "launch"]);
    expect(target.searchParams.get("iss")).toBe(practice.fhirBase);
    const framed = await page("/desk/launch?patient=odalys-fennimore&as=coder&view=frame");
    expect(framed.text).toContain(`<iframe src="${practice.pluginUrl}/launch.html?iss=`);
    expect(framed.headers.get("content-security-policy")).toContain(`frame-src ${practice.pluginUrl}`);
  });
  it("a launch for nobody, or as nobody, says what to choose", async () => {
    expect((await page("/desk/launch?patient=nobody&as=coder")).text).toContain("Choose a patient");
    expect((await page("/desk/launch?patient=odalys-fennimore&as=visitor")).text).toContain("Choose a patient");
  });
  it("the chart shows what an app has stored, in words, marked as new, with its JSON", async () => {
    const { token } = await signIn(practice);
    const visit = await call(practice, token, "Appointment", {
      method: "POST",
      body: {
        resourceType: "Appointment",
        status: "proposed",
        description: "Hand clinic <check>",
        requestedPeriod: [{ start: "2026-12-01T08:00:00Z", end: "2026-12-04T16:00:00Z" }],
        participant: [{ actor: { reference: "Patient/odalys-fennimore" }, status: "needs-action" }],
      },
    });
    const { text } = await page("/desk/patient/odalys-fennimore");
    expect(text).toContain(`data-reference="Appointment/${visit.body.id}"`);
    expect(text).toContain("Hand clinic &#60;check&#62;");
    expect(text).toContain("Wanted from 1 Dec 2026");
    expect(text).toContain("new in this session");
    const asJson = await page(`/desk/json/Appointment/${visit.body.id}`);
    expect(JSON.parse(asJson.text)).toMatchObject({ status: "proposed" });
  });
});

describe("words", () => {
  it("what is put into a page is escaped", () => {
    expect(html`<p title="${'"><img src=x>'}">${["<b>", html`<i>${"&"}</i>`]}</p>`.text).toBe(
      '<p title="&#34;&#62;&#60;img src=x&#62;">&#60;b&#62;<i>&#38;</i></p>',
    );
  });
  it("a findings record lists its answers", () => {
    const { title, lines } = inWords({
      resourceType: "QuestionnaireResponse",
      status: "completed",
      item: [
        {
          linkId: "a",
          text: "Digit",
          answer: [{ valueCoding: { code: "ring" } }],
          item: [{ linkId: "b", text: "Gap", answer: [{ valueQuantity: { value: 2, unit: "mm" } }] }],
        },
      ],
    });
    expect(title).toBe("Findings record, 2 answers");
    expect(lines).toEqual(["Digit: ring", "Gap: 2 mm"]);
  });
  it("age is counted by birthdays", () => {
    const born = (birthDate: string) =>
      patientWords({ resourceType: "Patient", birthDate }, new Date(2026, 10, 25)).born;
    expect(born("2014-11-25")).toContain("(12 years)");
    expect(born("2014-11-26")).toContain("(11 years)");
    expect(patientWords({ resourceType: "Patient" }).born).toBe("birth date not recorded");
  });
});

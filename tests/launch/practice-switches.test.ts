import { afterAll, afterEach, beforeAll, describe, expect, it } from "vitest";
import type { Practice } from "../../launch/start.ts";
import { call, control, type Json, openPractice, practiceLog, signIn } from "./practice.ts";

let practice: Practice;
let token: string;
beforeAll(async () => {
  practice = await openPractice();
  ({ token } = await signIn(practice));
});
afterAll(() => practice.close());
afterEach(() => control(practice, { reset: true, clearLogs: true }));

const CONDITION = {
  resourceType: "Condition",
  code: { text: "Switch check" },
  subject: { reference: "Patient/odalys-fennimore" },
};
const create = () => call(practice, token, "Condition", { method: "POST", body: CONDITION });
const count = () => practice.stored("Condition").length;

describe("faults on demand (each once, then the server is good again)", () => {
  it.each<[string, { kind: string; status?: number; retryAfter?: string; afterCommit?: boolean }, number]>([
    ["a status before anything is stored", { kind: "status", status: 503, retryAfter: "2" }, 0],
    ["a status after it is stored", { kind: "status", status: 500, afterCommit: true }, 1],
    ["a network sign-in page with 200", { kind: "html" }, 0],
    ["an empty answer after it is stored", { kind: "empty" }, 1],
    ["half an answer", { kind: "truncated" }, 1],
    ["an answer that is not JSON", { kind: "garbage" }, 1],
  ])("%s", async (_, fault, stored) => {
    await control(practice, { faults: [{ method: "POST", path: "^/fhir/Condition", ...fault }] });
    const before = count();
    const answer = await fetch(`${practice.fhirBase}/Condition`, {
      method: "POST",
      headers: { authorization: `Bearer ${token}`, "content-type": "application/fhir+json" },
      body: JSON.stringify(CONDITION),
    });
    const text = await answer.text();
    expect(count() - before).toBe(stored);
    if (fault.kind === "status") {
      expect(answer.status).toBe(fault.status);
      expect(answer.headers.get("retry-after")).toBe(fault.retryAfter ?? null);
    } else {
      expect(answer.ok).toBe(true);
      expect(() => JSON.parse(text)).toThrow();
    }
    expect((await create()).status).toBe(201);
  });

  it.each([
    ["cut-before", 0],
    ["cut-after", 1],
  ])("%s: the connection ends without an answer", async (kind, stored) => {
    await control(practice, { faults: [{ method: "POST", kind }] });
    const before = count();
    await expect(create()).rejects.toThrow();
    expect(count() - before).toBe(stored);
  });

  it("hits only the n-th matching request, for as many as set", async () => {
    await control(practice, { faults: [{ path: "Patient", kind: "status", status: 500, skip: 1, times: 2 }] });
    const seen: number[] = [];
    for (let i = 0; i < 4; i++) seen.push((await call(practice, token, "Patient/odalys-fennimore")).status);
    expect(seen).toEqual([200, 500, 500, 200]);
  });

  it("delays an answer, and keeps all answers back for a set latency", async () => {
    await control(practice, { faults: [{ path: "/fhir/Patient", kind: "delay", delayMs: 80 }], clearLogs: true });
    await call(practice, token, "Patient/odalys-fennimore");
    await control(practice, { latencyMs: 60 });
    await call(practice, token, "Patient/odalys-fennimore");
    const [delayed, late] = (await practiceLog(practice, "requests")).map(
      ({ startedAt, answeredAt }: Json) => answeredAt - startedAt,
    );
    expect(delayed).toBeGreaterThanOrEqual(79);
    expect(late).toBeGreaterThanOrEqual(59);
  });
});

describe("control messages", () => {
  it.each([
    ["an unknown switch", { colour: "blue" }],
    ["a token life beyond an hour", { tokenSeconds: 86_400 }],
    ["an unknown fault", { faults: [{ kind: "explode" }] }],
  ])("%s is refused and changes nothing", async (_, settings) => {
    const before = await (await fetch(`${practice.ehrUrl}/practice/control`)).json();
    const answer = await control(practice, settings);
    expect(answer.status).toBe(400);
    expect(answer.error).toBeTruthy();
    expect(await (await fetch(`${practice.ehrUrl}/practice/control`)).json()).toEqual(before);
  });
  it("a form cannot set anything, so no foreign page can", async () => {
    const answer = await fetch(`${practice.ehrUrl}/practice/control`, {
      method: "POST",
      body: new URLSearchParams({ reset: "true" }),
    });
    expect(answer.status).toBe(415);
    const preflight = await fetch(`${practice.ehrUrl}/practice/control`, {
      method: "OPTIONS",
      headers: { origin: practice.pluginUrl },
    });
    expect(preflight.headers.get("access-control-allow-origin")).toBeNull();
  });
  it("reseed puts the charts back", async () => {
    await create();
    await control(practice, { reseed: true });
    expect(practice.stored("Condition").some((each) => JSON.stringify(each).includes("Switch check"))).toBe(false);
  });
});

describe("records", () => {
  it("the request log has method, path, status and times, the ledger who wrote what", async () => {
    await control(practice, { clearLogs: true });
    await create();
    const requests = await practiceLog(practice, "requests");
    expect(requests).toMatchObject([{ method: "POST", path: "/fhir/Condition", status: 201 }]);
    expect(await practiceLog(practice, "ledger")).toMatchObject([
      { method: "POST", by: "emergency", within: "single", versionId: "1" },
    ]);
  });
});

describe("a very long chart", () => {
  it("is answered page by page, filtered at the server", async () => {
    const heavy = await signIn(practice, { patient: "philippa-drossington" });
    const active = await call(
      practice,
      heavy.token,
      "Condition?patient=philippa-drossington&clinical-status=active,recurrence,relapse&_count=100",
    );
    expect(active.body.total).toBe(52);
    const films = await call(
      practice,
      heavy.token,
      `ImagingStudy?patient=philippa-drossington&modality=DX,CR&started=ge${new Date().getFullYear() - 1}&_sort=-started&_count=20&_elements=status,started,description`,
    );
    expect(films.body.entry[0].resource.id).toBe("philippa-drossington-film");
    expect(films.body.entry).toHaveLength(20);
    const all = await call(practice, heavy.token, "Condition?patient=philippa-drossington");
    expect([all.body.total, all.body.entry.length]).toEqual([2000, 50]);
  });
});

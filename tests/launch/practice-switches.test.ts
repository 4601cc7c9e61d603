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

describe("a server that supports only part", () => {
  const stated = async (type: string) => {
    const { body } = await call(practice, undefined, "metadata");
    const [rest] = body.rest;
    const resource = rest.resource.find((each: Json) => each.type === type);
    return {
      system: rest.interaction.map(({ code }: Json) => code),
      own: resource.interaction.map(({ code }: Json) => code),
      conditionalCreate: resource.conditionalCreate,
    };
  };
  const bundle = (type: string, ifNoneExist?: string) => ({
    resourceType: "Bundle",
    type,
    entry: [
      { resource: CONDITION, request: { method: "POST", url: "Condition", ...(ifNoneExist ? { ifNoneExist } : {}) } },
    ],
  });
  const post = (path: string, body: object, headers = {}) =>
    call(practice, token, path, { method: "POST", body, headers });

  it("P1 says so in its CapabilityStatement, and refuses for real", async () => {
    await control(practice, { capabilities: { noCreate: ["Condition"], noUpdate: ["ServiceRequest"] } });
    expect((await stated("Condition")).own).not.toContain("create");
    expect((await stated("Condition")).own).toContain("update");
    expect((await stated("ServiceRequest")).own).not.toContain("update");
    const before = count();
    expect((await create()).status).toBe(405);
    expect((await post("", bundle("transaction"))).body.issue[0].diagnostics).toMatch(
      /^Bundle\.entry\[0\]: POST of Condition/,
    );
    expect((await post("", bundle("batch"))).body.entry[0].response.status).toMatch(/^405/);
    expect(count()).toBe(before);
  });
  it("P1 without transactions takes batches and single writes; without conditional create it never creates instead", async () => {
    await control(practice, { capabilities: { transaction: false, conditionalCreate: false, refuseWith: 501 } });
    const { system, conditionalCreate } = await stated("Condition");
    expect([system.includes("transaction"), system.includes("batch"), conditionalCreate]).toEqual([false, true, false]);
    expect((await post("", bundle("transaction"))).status).toBe(501);
    const before = count();
    expect((await post("Condition", CONDITION, { "if-none-exist": "identifier=a|b" })).status).toBe(412);
    expect((await post("", bundle("batch", "identifier=a|b"))).body.entry[0].response.status).toMatch(/^412/);
    expect(count()).toBe(before);
    expect((await create()).status).toBe(201);
  });
  it("P1 read-only it can be read and searched, nothing else", async () => {
    await control(practice, { capabilities: { readOnly: true } });
    expect((await stated("Condition")).own).toEqual([
      "read",
      "vread",
      "history-instance",
      "history-type",
      "search-type",
    ]);
    const [first] = practice.stored("Condition");
    const address = `Condition/${first!.id}`;
    for (const method of ["PUT", "PATCH", "DELETE"])
      expect([405, 403]).toContain(
        (await call(practice, token, address, { method, body: method === "DELETE" ? undefined : [] })).status,
      );
    expect((await create()).status).toBe(405);
    expect((await call(practice, token, "Condition?patient=odalys-fennimore")).status).toBe(200);
  });
  it("may claim everything and refuse nevertheless, and is whole again after a reset", async () => {
    await control(practice, { capabilities: { readOnly: true, stated: false, refuseWith: 403 } });
    expect((await stated("Condition")).own).toContain("create");
    expect((await create()).status).toBe(403);
    await control(practice, { reset: true });
    expect((await create()).status).toBe(201);
    expect((await stated("Condition")).system).toContain("transaction");
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

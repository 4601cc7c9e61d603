import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it, vi } from "vitest";
import type { Act } from "../../src/fhir/codings.ts";
import { type DraftItem, removeDraft } from "../../src/fhir/drafts.ts";
import { UNKNOWN } from "../../src/smart/capabilities.ts";
import { filingOf } from "../../src/smart/filing.ts";
import { readChart } from "../../src/smart/read-chart.ts";
import { covers } from "../../src/smart/scopes.ts";
import type { TokenState } from "../../src/smart/token.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { checkAgain, type WriteContext, writeBack } from "../../src/smart/write-back.ts";
import { BASE, bundleOf, fhirJson, outcome, RecordSystem } from "./record-system.ts";
import { drafts, PLAN_ID, Store } from "./stored-plan.ts";

let server: RecordSystem;
let store: Store;
beforeEach(() => {
  server = new RecordSystem();
  store = new Store();
  server.fhir = (request, body) => store.answer(request, body);
  server.start();
});
afterEach(() => {
  server.stop();
  vi.unstubAllGlobals();
});

const GRANTED = ["patient/*.crus"];
const OPEN: TokenState = { kind: "open" };
function clinician(scopes = GRANTED, changed: object = {}) {
  return {
    context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }),
    config: { issuers: [], frameAncestors: [] },
    can: (resource: string, letter: "c" | "r" | "u" | "d" | "s") => covers(scopes, resource, letter),
    signer: async () => ({ ok: true as const, reference: "Practitioner/dr-1", name: "Dr Example" }),
    state: () => OPEN,
    lastsFor: async () => true,
    fhir: fhirTransport({
      base: BASE,
      token: { current: async () => "t", renewAfter: async () => false, state: () => OPEN },
      limits: { read: 2000, write: 200 },
      wait: async () => {},
    }),
    ...changed,
  };
}
type Clinician = ReturnType<typeof clinician>;

let slept = 0;
beforeEach(() => {
  slept = 0;
});
const NOW: WriteContext = {
  at: "2026-06-01T10:00:00+02:00",
  wait: async (ms) => {
    slept += ms;
  },
};
const file = (
  session: Clinician = clinician(),
  items: DraftItem[] = drafts(),
  act: Act = "sign",
  more: Partial<WriteContext> = {},
) => writeBack(session, items, act, { ...NOW, ...more });
const sendings = () => server.seen.filter((one) => one.method === "POST");
/** I2: each item of the plan is stored once. */
const once = () => [store.of("Condition").length, store.of("ServiceRequest").length, store.of("CarePlan").length];

/** Bends what happens to the transaction; the store behind stays as it is. */
function onSending(bend: (commit: () => Response, sending: number) => Response) {
  let sending = 0;
  server.fhir = (request, body) =>
    request.method === "POST" ? bend(() => store.transaction(body), ++sending) : store.answer(request, body);
}

describe("signing a plan", () => {
  it("I7 is 'saved' only after every item was read back, with its place and version", async () => {
    const steps: string[] = [];
    const report = await file(undefined, undefined, "sign", { onStep: (step) => steps.push(step) });
    expect(report.outcome).toBe("saved");
    expect(report.items.map((item) => item.outcome)).toEqual(["saved", "saved", "saved"]);
    expect(report.items.at(-1)).toMatchObject({
      key: "plan",
      reference: expect.stringMatching(/^CarePlan\/n\d+$/),
      version: "1",
    });
    expect(report.provenance?.outcome).toBe("saved");
    expect(steps).toEqual(["checking", "sending", "confirming"]);
    const readBack = server.seen.filter((one) => /\/(CarePlan|Condition|ServiceRequest|Provenance)\/n\d/.test(one.url));
    expect(readBack).toHaveLength(4);
  });

  it("P3 goes out as one transaction with a conditional create for each item", async () => {
    await file();
    expect(sendings()).toHaveLength(1);
    const bundle = JSON.parse(sendings()[0]!.body) as { type: string; entry: { request: { ifNoneExist?: string } }[] };
    expect(bundle.type).toBe("transaction");
    expect(bundle.entry.every((entry) => entry.request.ifNoneExist?.includes(PLAN_ID))).toBe(true);
    expect(store.of("CarePlan")[0]).toMatchObject({ status: "active", author: { reference: "Practitioner/dr-1" } });
  });

  it("REL-27 I2 a double click writes one plan and gives one report", async () => {
    const session = clinician();
    const reports = await Promise.all(Array.from({ length: 50 }, () => file(session)));
    expect(new Set(reports).size).toBe(1);
    expect(sendings()).toHaveLength(1);
    expect(once()).toEqual([1, 1, 1]);
  });

  it("signing once more what is signed already sends nothing and says 'saved'", async () => {
    const session = clinician();
    await file(session);
    expect((await file(session)).outcome).toBe("saved");
    expect(sendings()).toHaveLength(1);
  });

  it("turns a stored draft into the signed plan, over the version it saved", async () => {
    const session = clinician();
    expect((await file(session, drafts(), "draft")).outcome).toBe("saved");
    expect(store.of("CarePlan")[0]).toMatchObject({ status: "draft" });
    expect((await file(session, drafts("Splint at night."), "sign")).outcome).toBe("saved");
    expect(once()).toEqual([1, 1, 1]);
    expect(store.of("CarePlan")[0]).toMatchObject({
      status: "active",
      meta: { versionId: "2" },
      note: [{ text: "Splint at night." }],
    });
    expect(sendings()[1]?.body).toContain('W/\\"1\\"');
  });

  it("R3 a server that ignores the search parameter and lists other plans misleads nobody", async () => {
    const other = { ...drafts()[2]!.resource, identifier: [{ value: "another plan" }], meta: {} };
    store.put(other as never, "other");
    server.fhir = (request, body) =>
      request.url.includes("CarePlan?") ? fhirJson(bundleOf(store.of("CarePlan"))) : store.answer(request, body);
    const report = await file();
    expect(report.outcome).toBe("saved");
    expect(report.items.at(-1)?.reference).not.toBe("CarePlan/other");
    expect(store.of("CarePlan")).toHaveLength(2);
  });

  it("D1 leaves out what the clinician left out", async () => {
    const items = drafts().map((item) => (item.key === "request" ? removeDraft(item, "asked by phone") : item));
    const report = await file(undefined, items);
    expect(report.outcome).toBe("saved");
    expect(once()).toEqual([1, 0, 1]);
  });
});

describe("REL-25 REL-26 a fault after the record system has stored the plan", () => {
  it.each<[string, () => Response]>([
    ["the connection is cut", () => HttpResponse.error()],
    ["the server reports a fault", () => fhirJson(outcome("late"), { status: 500 })],
    ["a proxy gives up", () => new HttpResponse("Gateway", { status: 504 })],
    ["a web page comes back", () => HttpResponse.html("<h1>Welcome</h1>")],
    ["half an answer comes back", () => fhirJson('{"resourceType":"Bun')],
    ["the answer is empty", () => new HttpResponse(null, { status: 200 })],
    ["the answer names no places", () => fhirJson({ resourceType: "Bundle", type: "transaction-response" })],
    ["the token dies on the way", () => fhirJson({}, { status: 401 })],
  ])("P8 REL-35 INV-1 %s: the plan is found, stored once, and called saved", async (_name, fault) => {
    onSending((commit) => {
      commit();
      return fault();
    });
    const report = await file();
    expect(report.outcome).toBe("saved");
    expect(once()).toEqual([1, 1, 1]);
    expect(sendings()).toHaveLength(1);
  });

  it("no answer ever comes: the plan is found and called saved", async () => {
    server.fhir = (request, body) => {
      if (request.method !== "POST") return store.answer(request, body);
      store.transaction(body);
      return new Promise<Response>(() => {});
    };
    expect((await file()).outcome).toBe("saved");
    expect(once()).toEqual([1, 1, 1]);
    expect(sendings()).toHaveLength(1);
  });

  it("REL-37 a search index that lags does not lead to a second sending", async () => {
    onSending((commit) => {
      commit();
      store.blindFor = 4;
      return HttpResponse.error();
    });
    expect((await file()).outcome).toBe("saved");
    expect(sendings()).toHaveLength(1);
    expect(once()).toEqual([1, 1, 1]);
  });

  it("REL-35 a place on another server is not read, and the plan is found by its own identifier", async () => {
    onSending((commit) => {
      commit();
      const entry = Array.from({ length: 4 }, () => ({
        response: { status: "201 Created", location: "https://evil.example/fhir/CarePlan/1" },
      }));
      return fhirJson({ resourceType: "Bundle", type: "transaction-response", entry });
    });
    expect((await file()).outcome).toBe("saved");
    expect(server.to("evil.example")).toEqual([]);
  });
});

describe("REL-25 a fault before the record system has stored the plan", () => {
  it("INV-1 is sent once more, after two looks two seconds apart found nothing", async () => {
    onSending((commit, sending) => (sending === 1 ? HttpResponse.error() : commit()));
    const report = await file();
    expect(report.outcome).toBe("saved");
    expect(sendings()).toHaveLength(2);
    expect(sendings()[1]?.body).toBe(sendings()[0]?.body);
    expect(once()).toEqual([1, 1, 1]);
    expect(slept).toBeGreaterThan(2000);
  });

  it("INV-4 that stays is 'unknown', never 'saved' and never 'not saved', and ends within a minute", async () => {
    onSending(() => HttpResponse.error());
    const report = await file();
    expect(report.outcome).toBe("unknown");
    expect(report.items.every((item) => item.outcome === "unknown")).toBe(true);
    expect(report.problem?.next).toContain("Check again");
    expect(sendings()).toHaveLength(2);
    expect(slept).toBeLessThan(60_000);
  });

  it("with a record system that cannot be searched is not sent again", async () => {
    let down = false;
    server.fhir = (request, body) => {
      if (request.method === "POST") {
        down = true;
        return HttpResponse.error();
      }
      return down ? fhirJson({}, { status: 500 }) : store.answer(request, body);
    };
    const report = await file();
    expect(report.outcome).toBe("unknown");
    expect(sendings()).toHaveLength(1);
  });

  it("can be looked into later: found, it is saved; not found, it is not saved; nothing is sent", async () => {
    const session = clinician();
    onSending(() => HttpResponse.error());
    await file(session);
    const before = sendings().length;
    expect((await checkAgain(session, drafts(), "sign", NOW)).outcome).toBe("not-saved");
    store.transaction(sendings()[0]!.body);
    expect((await checkAgain(session, drafts(), "sign", NOW)).outcome).toBe("saved");
    expect(sendings()).toHaveLength(before);
  });
});

describe("a plan that the record system refuses", () => {
  it.each([
    [400, "invalid"],
    [403, "refused"],
    [422, "invalid"],
  ])(
    "REL-31 REL-33 HTTP %i for one item: nothing is stored, the reason is said, the draft is kept, nothing is sent again",
    async (status, kind) => {
      onSending(() => fhirJson(outcome("status is not allowed"), { status }));
      const report = await file();
      expect(report).toMatchObject({ outcome: "not-saved", problem: { kind, serverSaid: "status is not allowed" } });
      expect(report.problem?.what).toContain("Your draft is kept");
      expect(report.items.map((item) => item.outcome)).toEqual(["not-saved", "not-saved", "not-saved"]);
      expect(sendings()).toHaveLength(1);
    },
  );

  it.each([404, 405, 501])(
    "REL-31 REL-33 HTTP %i for transactions and for diagnoses: the first single write is refused too, and nothing is stored",
    async (status) => {
      onSending(() => fhirJson(outcome("no such thing here"), { status }));
      const report = await file();
      expect(report).toMatchObject({
        outcome: "not-saved",
        problem: { kind: "unsupported", serverSaid: "no such thing here" },
      });
      expect(report.problem?.what).toContain("Your draft is kept");
      expect(report.items.map((item) => item.outcome)).toEqual(["not-saved", "not-saved", "not-saved"]);
      expect(sendings().map((one) => one.url)).toEqual([BASE, `${BASE}/Condition`]);
    },
  );

  it.each([409, 412])("I5 REL-30 a version conflict (HTTP %i) overwrites nothing", async (status) => {
    onSending(() => fhirJson(outcome("version"), { status }));
    expect(await file()).toMatchObject({ outcome: "not-saved", problem: { kind: "conflict" } });
    expect(sendings()).toHaveLength(1);
  });

  it("a conflict with our own lost first sending is recognised as saved", async () => {
    onSending((commit, sending) => {
      if (sending > 1) return fhirJson(outcome("exists"), { status: 412 });
      commit();
      store.blindFor = 40;
      return HttpResponse.error();
    });
    const report = await file(undefined, undefined, "sign", {
      wait: async () => {
        if (sendings().length > 1) store.blindFor = 0;
      },
    });
    expect(report.outcome).toBe("saved");
    expect(once()).toEqual([1, 1, 1]);
  });

  it("I4 REL-30 a draft that someone else changed is not overwritten", async () => {
    const session = clinician();
    await file(session, drafts(), "draft");
    const stored = store.of("CarePlan")[0]!;
    store.put({ ...stored, note: [{ text: "Changed by a colleague" }] }, stored.id, "2");
    const report = await file(session, drafts(), "sign");
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: { title: "The stored plan changed since you read it." },
    });
    expect(sendings()).toHaveLength(1);
  });

  it("a stored draft that was read with the chart may be signed in a new window", async () => {
    await file(clinician(), drafts(), "draft");
    const later = clinician();
    expect((await file(later, drafts("Other words."), "sign")).outcome).toBe("not-saved");
    await readChart(later, () => {}, { today: "2026-06-01", only: ["earlier", "conditions"] });
    // The miniature store finds only by identifier; hand over what a search of the whole chart would show.
    const reopened = clinician();
    const known = Object.fromEntries(
      ["condition", "request", "plan"].map((key, at) => {
        const stored = store.of(["Condition", "ServiceRequest", "CarePlan"][at]!)[0]!;
        return [key, { reference: `${stored.resourceType}/${stored.id}`, version: "1" }];
      }),
    );
    expect((await file(reopened, drafts("Other words."), "sign", { known })).outcome).toBe("saved");
  });

  it("a signed plan is neither signed over nor turned back into a draft", async () => {
    const session = clinician();
    await file(session);
    for (const act of ["sign", "draft"] as const) {
      expect(await file(session, drafts("Other words."), act)).toMatchObject({
        outcome: "not-saved",
        problem: { title: "This plan is signed already." },
      });
    }
    expect(sendings()).toHaveLength(1);
  });

  it("I2 INV-2 one item stored twice stops everything, and nothing is deleted", async () => {
    const session = clinician();
    await file(session, drafts(), "draft");
    store.put(store.of("CarePlan")[0]!, "copy");
    expect(await file(session)).toMatchObject({
      outcome: "not-saved",
      problem: { title: "The record holds one item of this plan twice." },
    });
    expect(store.of("CarePlan")).toHaveLength(2);
  });
});

describe("REL-36 a record system that changes what it is given", () => {
  it("I3 INV-4 is never called 'saved': the changed parts are named", async () => {
    store.alter = (resource) =>
      resource.resourceType === "CarePlan" ? { ...resource, note: [{ text: "…" }] } : resource;
    const report = await file();
    expect(report.outcome).toBe("unknown");
    expect(report.items.find((item) => item.key === "plan")).toMatchObject({
      outcome: "unknown",
      differences: ["note[0].text"],
      reference: expect.stringContaining("CarePlan/"),
    });
    expect(report.items.find((item) => item.key === "request")?.outcome).toBe("saved");
    expect(sendings()).toHaveLength(1);
  });

  it("that drops our identifier is told, and nothing is sent again", async () => {
    store.alter = (resource) => {
      const { identifier: _dropped, ...rest } = resource;
      return resource.resourceType === "Condition" ? (rest as typeof resource) : resource;
    };
    const report = await file();
    expect(report.items.find((item) => item.key === "condition")).toMatchObject({
      outcome: "unknown",
      differences: ["identifier"],
    });
    expect(sendings()).toHaveLength(1);
  });

  it("REL-32 INV-6 that fails in part although it answers 200 is looked into", async () => {
    onSending((commit) => {
      commit();
      store.held.delete(`CarePlan/${store.of("CarePlan")[0]!.id}`);
      const entry = ["201", "201", "422", "201"].map((status) => ({ response: { status } }));
      return fhirJson({ resourceType: "Bundle", type: "transaction-response", entry });
    });
    const report = await file();
    expect(report.outcome).toBe("unknown");
    expect(report.items.map((item) => [item.key, item.outcome])).toEqual([
      ["condition", "saved"],
      ["request", "saved"],
      ["plan", "unknown"],
    ]);
    expect(sendings()).toHaveLength(1);
  });
});

describe("before anything is sent", () => {
  it.each<[string, object, string]>([
    ["REL-21 has died", { deceasedBoolean: true }, "deceased"],
    ["REL-21 has a date of death", { deceasedDateTime: "2026-05-30" }, "deceased"],
    ["REL-22 has an inactive record", { active: false }, "inactive"],
    [
      "REL-22 was merged into another record",
      { link: [{ type: "replaced-by", other: { reference: "Patient/p2" } }] },
      "replaced",
    ],
  ])("nothing is written for a patient who %s", async (_name, change) => {
    Object.assign(store.patient, change);
    const report = await file();
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: { title: "Nothing may be written for this patient." },
    });
    expect(sendings()).toEqual([]);
  });

  it("REL-24 nothing is sent over a chart that changed, and what was asked is asked before the sending", async () => {
    const held = { kind: "chart-changed", title: "The chart changed since you read it.", what: "w", next: "n" };
    let sentBefore: number | undefined;
    const beforeSending = async () => {
      sentBefore = sendings().length;
      return held;
    };
    for (const act of ["draft", "sign"] as const) {
      const report = await file(clinician(), drafts(), act, { beforeSending });
      expect(report).toMatchObject({ outcome: "not-saved", problem: held });
    }
    expect(sentBefore).toBe(0);
    expect(sendings()).toEqual([]);
    expect((await file(clinician(), drafts(), "sign", { beforeSending: async () => undefined })).outcome).toBe("saved");
  });

  it("INV-4 REL-24 a plan that is stored already is called saved, whatever else changed in the chart", async () => {
    await file();
    const beforeSending = async () => ({ kind: "chart-changed", title: "Changed.", what: "w", next: "n" });
    expect((await file(clinician(), drafts(), "sign", { beforeSending })).outcome).toBe("saved");
  });

  it("INV-3 nothing is written when the record system answers with another patient", async () => {
    store.patient.id = "p2";
    expect((await file()).outcome).toBe("not-saved");
    expect(sendings()).toEqual([]);
  });

  it("REL-39 nothing is written when the patient's details changed since the chart was read", async () => {
    const session = clinician();
    await readChart(session, () => {}, { today: "2026-06-01", only: ["patient"] });
    store.patient.birthDate = "1960-01-01";
    const report = await file(session);
    expect(report.problem?.what).toContain("Changed: birthDate");
    expect(sendings()).toEqual([]);
  });

  it.each<[string, (request: Request) => Response | undefined]>([
    [
      "the patient cannot be read",
      (request) => (request.url.includes("/Patient/") ? fhirJson({}, { status: 403 }) : undefined),
    ],
    [
      "the stored plan cannot be looked for",
      (request) => (request.url.includes("/CarePlan?") ? fhirJson({}, { status: 403 }) : undefined),
    ],
    ["REL-40 the connection is down", () => HttpResponse.error()],
    ["REL-40 the network wants a sign-in", () => HttpResponse.html("<h1>Hotel</h1>")],
  ])("nothing is written when %s", async (_name, fault) => {
    server.fhir = (request, body) => fault(request) ?? store.answer(request, body);
    const report = await file();
    expect(report.outcome).toBe("not-saved");
    expect(report.problem?.what).toContain("Your draft is kept");
    expect(sendings()).toEqual([]);
  });

  it("S4 P2 with no right to file an order, nor a document, the order is told to be entered by hand and the rest is filed", async () => {
    const session = clinician([
      "patient/*.rs",
      "patient/Condition.crus",
      "patient/CarePlan.crus",
      "patient/Provenance.crs",
    ]);
    const { lanes, way } = filingOf(drafts(), UNKNOWN, session.can);
    expect(way).toBe("transaction");
    expect([...lanes].map(([key, { lane }]) => [key, lane])).toEqual([
      ["condition", "filed"],
      ["request", "by-hand"],
      ["plan", "filed"],
      ["provenance", "filed"],
    ]);
    expect(lanes.get("request")?.reason).toBe("Your sign-in may not file orders here.");
    expect((await file(session)).items.map(({ key, outcome }) => [key, outcome])).toEqual([
      ["condition", "saved"],
      ["plan", "saved"],
    ]);
    expect(store.of("ServiceRequest")).toEqual([]);
  });

  it("S4 P2 with no right to write anything nothing is sent", async () => {
    const session = clinician(["patient/*.rs"]);
    expect(filingOf(drafts(), UNKNOWN, session.can).way).toBe("nothing");
    const report = await file(session);
    expect(report).toMatchObject({
      outcome: "not-saved",
      problem: { title: "The record system takes no part of this plan." },
    });
    expect(sendings()).toEqual([]);
  });

  it("L11 nobody signs without a verified sign-in", async () => {
    const session = clinician(GRANTED, {
      signer: async () => ({ ok: false, reason: "The proof could not be verified." }),
    });
    const report = await file(session);
    expect(report.problem?.what).toContain("The proof could not be verified.");
    expect(server.seen).toEqual([]);
  });

  it("REL-34 nothing is begun with a sign-in about to end", async () => {
    const report = await file(clinician(GRANTED, { lastsFor: async () => false }));
    expect(report).toMatchObject({ outcome: "not-saved", problem: { title: "Your sign-in is about to end." } });
    expect(server.seen).toEqual([]);
  });

  it.each(["ended", "locked"] as const)("nothing is sent in a session that is %s", async (kind) => {
    const problem = { kind, title: "Over.", what: "w", next: "n" };
    expect(await file(clinician(GRANTED, { state: () => ({ kind, problem }) }))).toMatchObject({
      outcome: "not-saved",
      problem,
    });
    expect(server.seen).toEqual([]);
  });

  it("SEC-16 nobody signs in the frame of an unknown page", async () => {
    vi.stubGlobal("window", { top: {}, location: { ancestorOrigins: ["https://evil.example"] } });
    vi.stubGlobal("location", { origin: "https://plugin.example" });
    expect((await file()).problem?.title).toBe("This page is shown inside an unknown page.");
    expect(server.seen).toEqual([]);
  });

  it("nothing is sent when every item was left out", async () => {
    const items = drafts().map((item) => (item.kind === "provenance" ? item : removeDraft(item, "not needed")));
    expect((await file(undefined, items)).problem?.title).toBe("Nothing is left to write.");
    expect(server.seen).toEqual([]);
  });
});

it("SEC-10 SEC-23 writes go under the base only, and no address holds a name or a birth date", async () => {
  await file();
  expect(server.seen.every((one) => one.url.startsWith(BASE))).toBe(true);
  expect(server.seen.map((one) => one.url).join()).not.toMatch(/Ann|1990/);
});

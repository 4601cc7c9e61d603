import { HttpResponse } from "msw";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { PartResult } from "../../src/fhir/chart.ts";
import { CHART_PARTS, type ChartPartName } from "../../src/fhir/searches.ts";
import { type ReadOptions, readChart } from "../../src/smart/read-chart.ts";
import { covers } from "../../src/smart/scopes.ts";
import { fhirTransport } from "../../src/smart/transport.ts";
import { BASE, bundleOf, fhirJson, outcome, RecordSystem } from "./record-system.ts";

let server: RecordSystem;
beforeEach(() => {
  server = new RecordSystem();
  server.start();
  server.fhir = (request) =>
    fhirJson(new URL(request.url).search ? bundleOf([]) : { resourceType: typeOf(request), id: idOf(request) });
});
afterEach(() => server.stop());

const path = (request: Request) => request.url.slice(BASE.length + 1).split("?")[0] ?? "";
const typeOf = (request: Request) => path(request).split("/")[0] ?? "";
const idOf = (request: Request) => path(request).split("/")[1];

const session = (scopes = ["patient/*.rs"]) => ({
  context: { base: BASE, patientId: "p1", encounterId: "e1", launchId: "l1" },
  can: (resource: string, letter: "c" | "r" | "u" | "d" | "s") => covers(scopes, resource, letter),
  fhir: fhirTransport({
    base: BASE,
    token: { current: async () => "t", renewAfter: async () => false, state: () => ({ kind: "open" }) },
    wait: async () => {},
  }),
});

async function read(scopes?: string[], options: ReadOptions = {}) {
  const arrived: [ChartPartName, PartResult][] = [];
  const parts = await readChart(session(scopes), (part, result) => arrived.push([part, result]), {
    today: "2026-06-01",
    ...options,
  });
  return { parts, arrived };
}
/** Answers for one type only; the rest of the chart is empty and healthy. */
function but(type: string, respond: (request: Request) => Response) {
  const well = server.fhir;
  server.fhir = (request, body) => (typeOf(request) === type ? respond(request) : well(request, body));
}

describe("reading the chart", () => {
  it("sends every request before any answer has come: one wave", async () => {
    let release: () => void = () => {};
    const held = new Promise<void>((resolve) => {
      release = resolve;
    });
    const well = server.fhir;
    server.fhir = async (request, body) => {
      await held;
      return well(request, body);
    };
    const reading = read();
    await expect.poll(() => server.seen.length).toBe(16);
    release();
    const { parts } = await reading;
    expect(Object.keys(parts).toSorted()).toEqual([...CHART_PARTS].toSorted());
    expect(server.seen).toHaveLength(16);
    expect(server.to("metadata")).toEqual([]);
  });

  it("bounds every search on the server, so that a large chart is not read whole", async () => {
    await read();
    const searches = server.seen.filter((one) => one.url.includes("?"));
    expect(searches.length).toBeGreaterThan(10);
    for (const one of searches) {
      const asked = new URL(one.url).searchParams;
      expect(Number(asked.get("_count"))).toBeGreaterThan(0);
      expect(asked.get("patient")).toBe("p1");
    }
  });

  it("SEC-23 has no name, birth date or record number in an address", async () => {
    but("Patient", () =>
      fhirJson({ resourceType: "Patient", id: "p1", birthDate: "1931-02-03", name: [{ family: "Zebraquagga" }] }),
    );
    await read();
    expect(server.seen.map((one) => one.url).join()).not.toMatch(/Zebraquagga|1931/);
  });

  it("tells each part as it arrives, the quick ones before the slow one", async () => {
    let release: () => void = () => {};
    const held = new Promise<void>((resolve) => {
      release = resolve;
    });
    const well = server.fhir;
    server.fhir = async (request, body) => {
      if (typeOf(request) === "Condition") await held;
      return well(request, body);
    };
    const arrived: ChartPartName[] = [];
    const reading = readChart(session(), (part) => arrived.push(part), { today: "2026-06-01" });
    await expect.poll(() => arrived.length).toBe(CHART_PARTS.length - 1);
    expect(arrived).not.toContain("conditions");
    release();
    await reading;
    expect(arrived.at(-1)).toBe("conditions");
  });

  it.each<[string, () => Response, PartResult["state"]]>([
    ["refused (403)", () => fhirJson(outcome("no"), { status: 403 }), "refused"],
    ["not known to the server (404)", () => fhirJson(outcome("no such type"), { status: 404 }), "unsupported"],
    ["not offered (501)", () => fhirJson({}, { status: 501 }), "unsupported"],
    ["broken (500)", () => fhirJson({}, { status: 500 }), "failed"],
    ["cut", () => HttpResponse.error(), "failed"],
    ["a web page", () => HttpResponse.html("<p>sign in</p>"), "failed"],
    ["empty", () => fhirJson(bundleOf([])), "empty"],
    ["there", () => fhirJson(bundleOf([{ resourceType: "ImagingStudy", id: "i1" }])), "found"],
  ])("R4 REL-10 films that are %s are their own state, and no other part suffers", async (_name, respond, state) => {
    but("ImagingStudy", respond);
    const { parts } = await read();
    expect(parts.imaging?.state).toBe(state);
    expect(parts.patient?.state).toBe("found");
    expect(parts.conditions?.state).toBe("empty");
    if (state !== "empty" && state !== "found") expect(parts.imaging?.note).toBeTruthy();
  });

  it("S4 asks for nothing that was not granted, and says which part that is", async () => {
    const { parts } = await read(["patient/Patient.rs", "patient/Condition.rs"]);
    expect(parts.imaging).toMatchObject({ state: "not-allowed", resources: [] });
    expect(parts.imaging?.note).toContain("ImagingStudy");
    expect(parts.conditions?.state).toBe("empty");
    expect(new Set(server.seen.map((one) => new URL(one.url).pathname.split("/")[2]))).toEqual(
      new Set(["Patient", "Condition"]),
    );
  });

  it("R1 a part whose pages were cut says that there is more", async () => {
    but("ImagingStudy", (request) =>
      fhirJson(
        bundleOf(
          Array.from({ length: 20 }, (_, n) => ({ resourceType: "ImagingStudy", id: `i${n}` })),
          `${request.url}&page=2`,
        ),
      ),
    );
    const { parts } = await read();
    expect(parts.imaging).toMatchObject({ state: "found", more: true });
    expect(server.to("ImagingStudy")).toHaveLength(1);
  });

  it("an empty first page of a list that could not be finished is not an empty chart", async () => {
    but("AllergyIntolerance", () => fhirJson(bundleOf([], "https://evil.example/next")));
    const { parts } = await read();
    expect(parts.allergies).toMatchObject({ state: "failed", more: true });
    expect(server.to("evil.example")).toEqual([]);
  });

  it("R2 REL-13 hands on the server's remark without calling the list found", async () => {
    but("AllergyIntolerance", () => fhirJson(bundleOf([outcome("_sort ignored")])));
    const { parts } = await read();
    expect(parts.allergies?.state).toBe("empty");
    expect(parts.allergies?.resources).toMatchObject([{ resourceType: "OperationOutcome" }]);
  });

  it("REL-13 a list that is shorter than the server says it is counts as unread, not as 'none'", async () => {
    but("AllergyIntolerance", () => fhirJson({ ...bundleOf([]), total: 2 }));
    but("MedicationRequest", () =>
      fhirJson({ ...bundleOf([{ resourceType: "MedicationRequest", id: "m1" }]), total: 3 }),
    );
    const { parts } = await read();
    const note = "The record system counts more entries than it sent; the rest was not read.";
    expect(parts.allergies).toMatchObject({ state: "failed", more: true, note: note });
    expect(parts.medications).toMatchObject({ state: "found", more: true, note: note });
  });

  it("REL-18 INV-3 an answer with another patient's record is not used", async () => {
    but("Patient", () => fhirJson({ resourceType: "Patient", id: "p2" }));
    const { parts } = await read();
    expect(parts.patient).toMatchObject({ state: "failed", resources: [] });
  });

  it("R12 one part can be tried again alone", async () => {
    const { parts } = await read(undefined, { only: ["imaging"] });
    expect(Object.keys(parts)).toEqual(["imaging"]);
    expect(server.seen).toHaveLength(1);
  });
});

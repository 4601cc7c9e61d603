/**
 * Everything the plugin writes, judged by the HL7 instance validator (org.hl7.fhir.validation) with the R4 4.0.1 definitions that HAPI ships;
 * no terminology server. In the same run it judges HL7's own example instances (npm hl7.fhir.r4.examples 4.0.1, CC0) and errors planted in
 * them, so that "no error" means something.
 */
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { beforeAll, describe, expect, it } from "vitest";
import { capabilityStatement } from "../../launch/ehr/fhir/capability.ts";
import { findingsQuestionnaire } from "../../src/fhir/findings-record.ts";
import { MODULES } from "../../src/pathway/index.ts";
import { PLANTED } from "../reference/planted-errors.ts";
import { BEYOND_IT, EXPLAINED, FAULTY_EXAMPLES } from "./explained.ts";
import { generatedPlans, PLANS } from "./generated-plans.ts";
import { type ValidatorIssue, validateAll } from "./java.ts";
import { JOURNEYS } from "./journeys.ts";
import { JOURNEY_WRITES, kept, PRACTICE_WRITES } from "./writes.ts";

/** Some four minutes of two cores; many times that where others use them too. */
const HANGS_AFTER_MS = 75 * 60_000;
const EXAMPLES = join(import.meta.dirname, "../../node_modules/hl7.fhir.r4.examples");
const WRITTEN = [
  "CarePlan",
  "ServiceRequest",
  "Appointment",
  "Condition",
  "QuestionnaireResponse",
  "Questionnaire",
  "DocumentReference",
  "Provenance",
  "CapabilityStatement",
];
const example = (file: string) => JSON.parse(readFileSync(join(EXAMPLES, file), "utf8"));
const exampleFiles = readdirSync(EXAMPLES).filter(
  (file) => file.endsWith(".json") && WRITTEN.includes(file.split("-")[0] ?? "") && example(file).resourceType,
);

const ADDRESSES = Object.fromEntries(
  ["base", "authorize", "token"].map((name) => [name, `https://ehr.example/${name}`]),
) as unknown as Parameters<typeof capabilityStatement>[0];
const questionnaires = MODULES.map((module) => findingsQuestionnaire(module));

type Group = "examples" | "planted" | "plans" | "documents" | "stock server" | "practice EHR" | "definitions";
const judged: { group: Group; resource: object; issues: ValidatorIssue[] }[] = [];
const of = (...groups: Group[]) => judged.filter(({ group }) => groups.includes(group));
const OURS: readonly Group[] = ["plans", "documents", "stock server", "practice EHR", "definitions"];
const errorsOf = (issues: readonly ValidatorIssue[]) =>
  issues.filter(({ severity }) => severity === "error" || severity === "fatal");
/** "CarePlan.note.extension": the place without numbers and without the bundle around it. */
const placeOf = ({ expression }: ValidatorIssue) =>
  (expression ?? "").replace(/^Bundle\.entry\[\d+\]\.resource\/\*([A-Za-z]+)\/[^*]*\*\//, "$1").replace(/\[\d+\]/g, "");

function* everything(): Generator<{ group: Group; resource: object }> {
  const as = (group: Group) => (resource: object) => ({ group, resource });
  yield* exampleFiles.map(example).map(as("examples"));
  yield* PLANTED.map(([, name, plant]) => {
    const resource = example(`${name}.json`);
    return { ...resource, ...plant(resource) };
  }).map(as("planted"));
  yield* [...questionnaires, capabilityStatement(ADDRESSES, "2026-11-25T15:10:00+01:00")].map(as("definitions"));
  for (const { transaction, documents } of generatedPlans()) {
    yield as("plans")(transaction);
    yield* documents.map(as("documents"));
  }
  yield* kept(JOURNEY_WRITES).map(as("stock server"));
  if (PRACTICE_WRITES && existsSync(PRACTICE_WRITES)) yield* kept(PRACTICE_WRITES).map(as("practice EHR"));
}

beforeAll(async () => {
  const definitions = join(import.meta.dirname, "../../.cache/written/definitions.ndjson");
  mkdirSync(join(definitions, ".."), { recursive: true });
  writeFileSync(definitions, questionnaires.map((one) => JSON.stringify(one)).join("\n"));
  const sent: { group: Group; resource: object }[] = [];
  function* noted() {
    for (const each of everything()) {
      sent.push(each);
      yield each.resource;
    }
  }
  const begun = performance.now();
  const answers = await validateAll(noted(), definitions);
  judged.push(...sent.map((each, i) => ({ ...each, issues: answers[i]! })));
  console.log(`HL7 validator: ${judged.length} judged in ${((performance.now() - begun) / 1000).toFixed(0)} s`);
}, HANGS_AFTER_MS);

describe("the HL7 instance validator is one that can tell right from wrong", () => {
  it("accepts HL7's official examples of every type that is written, except those that are faulty themselves", () => {
    expect(new Set(exampleFiles.map((file) => file.split("-")[0]))).toEqual(new Set(WRITTEN));
    const refused = of("examples").flatMap(({ issues }, i) => (errorsOf(issues).length > 0 ? [exampleFiles[i]] : []));
    expect(refused.sort()).toEqual(Object.keys(FAULTY_EXAMPLES).sort());
  });
  it("refuses every planted error, except what it cannot see without the rest of the chart", () => {
    const accepted = of("planted").flatMap(({ issues }, i) => (errorsOf(issues).length === 0 ? [PLANTED[i]![0]] : []));
    expect(accepted).toEqual(Object.keys(BEYOND_IT));
    expect(of("planted")).toHaveLength(PLANTED.length);
  });
});

describe("D12 what the plugin writes, before the HL7 instance validator", () => {
  const faults = (...groups: Group[]) =>
    of(...groups).flatMap(({ issues }) => errorsOf(issues).map((issue) => `${placeOf(issue)}: ${issue.diagnostics}`));

  it("generated plans, half of them drafts and half signed, have no error", () => {
    expect(of("plans")).toHaveLength(PLANS);
    expect(faults("plans")).toEqual([]);
  });
  it("the plan as a document, and the collection in it, have no error", () => {
    expect(of("documents").length).toBeGreaterThanOrEqual(PLANS / 10);
    expect(faults("documents")).toEqual([]);
  });
  it("the questionnaire of the findings and the capability statement of the practice EHR have no error", () => {
    expect(of("definitions").length).toBe(MODULES.length + 1);
    expect(faults("definitions")).toEqual([]);
  });
  it("all that the journeys wrote into the stock server has no error, as it is stored there", () => {
    const types = new Set(
      of("stock server").map(({ resource }) => (resource as { resourceType: string }).resourceType),
    );
    for (const type of [
      "CarePlan",
      "ServiceRequest",
      "Appointment",
      "Condition",
      "QuestionnaireResponse",
      "Provenance",
    ])
      expect(types, `written in ${JOURNEYS.length} journeys`).toContain(type);
    expect(faults("stock server")).toEqual([]);
  });
  it("all that was written into the practice EHR in the tests before has no error", () => {
    if (PRACTICE_WRITES) expect(of("practice EHR").length).toBeGreaterThan(50);
    expect(faults("practice EHR")).toEqual([]);
  });

  it("whatever else the validator remarks is explained, one by one, and no explanation is idle", () => {
    const heard = new Map<number, number>();
    const unexplained = new Set<string>();
    for (const { issues } of of(...OURS))
      for (const issue of issues) {
        if (issue.severity === "error" || issue.severity === "fatal") continue;
        const line = `${issue.severity} ${issue.code} ${placeOf(issue)}: ${issue.diagnostics}`;
        const by = EXPLAINED.findIndex(({ remark }) => remark.test(line));
        if (by < 0) unexplained.add(line);
        else heard.set(by, (heard.get(by) ?? 0) + 1);
      }
    console.log(
      EXPLAINED.map(({ remark, why }, i) => `${heard.get(i) ?? 0} remarks ${remark.source}: ${why}`).join("\n"),
    );
    expect([...unexplained].sort()).toEqual([]);
    const idle = EXPLAINED.filter(
      ({ ours, onlyThere }, i) => !ours && !heard.has(i) && !(onlyThere && !PRACTICE_WRITES),
    );
    expect(idle.map(({ remark }) => remark.source)).toEqual([]);
  });
  it("says what was judged", () => {
    const count = (group: Group) => of(group).length;
    const resources = of("plans").reduce((n, { resource }) => n + (resource as { entry: unknown[] }).entry.length, 0);
    console.log(
      `HL7 validator: ${PLANS} plans (${resources} resources), ${count("documents")} documents and collections, ${count("stock server")} written to the stock server, ${count("practice EHR")} to the practice EHR; ${count("examples")} official examples, ${count("planted")} planted errors`,
    );
    expect(resources).toBeGreaterThan(10 * PLANS);
  });
});

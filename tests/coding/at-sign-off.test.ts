import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { codesAtSignOff } from "../../src/coding/at-sign-off.ts";
import { codeEncounter } from "../../src/coding/code-encounter.ts";
import { deriveForCoding } from "../../src/coding/derive.ts";
import { fractureCode } from "../../src/coding/fracture-code.ts";
import { codePolicyOf, DEFAULT_CODE_POLICY } from "../../src/coding/other-systems.ts";
import { tableOn } from "../../src/coding/tables.ts";
import { draftPlan } from "../../src/fhir/drafts.ts";
import type { CaseRecord } from "../../src/pathway/index.ts";
import { anyRecord, inputFor, MALLET, pathway, TWO_DIGITS } from "../fhir/cases.ts";

const day = "2026-11-25";
const table = (await tableOn(day))!;
const signed = (record: CaseRecord, policy = DEFAULT_CODE_POLICY) =>
  codesAtSignOff(record, deriveForCoding(pathway, record), { day, table, policy });
const of = (digit: object): CaseRecord => ({ ...MALLET, digits: [{ ...MALLET.digits[0]!, ...digit }] }) as CaseRecord;
const codes = (record: CaseRecord) => signed(record).map(({ first }) => first?.code);

describe("the code of a diagnosis when its clinician signs", () => {
  it("is the one that coders are then proposed first for that digit", () => {
    fc.assert(
      fc.property(anyRecord, (record) => {
        const dated = { ...record, assessedAt: `${day}T12:00` } as CaseRecord;
        const derived = deriveForCoding(pathway, dated);
        const proposed = codeEncounter({ id: "e", date: day, kind: "initial", record: dated, derived }, table).codes;
        for (const [at, { first }] of signed(dated).entries())
          if (first) expect(first.code).toBe(proposed.find((line) => line.digit === at)?.code);
      }),
      { numRuns: 300 },
    );
  });
  it("is what the drafted diagnosis carries, fracture or not, for every record", () => {
    fc.assert(
      fc.property(anyRecord, (record) => {
        const dated = { ...record, assessedAt: `${day}T12:00` } as CaseRecord;
        const input = inputFor(dated, { table });
        const conditions = draftPlan(input).flatMap((item) =>
          item.resource.resourceType === "Condition" ? [item.resource] : [],
        );
        const written = conditions.map((c) => c.code?.coding?.find((x) => x.system?.includes("icd-10-cm"))?.code);
        const wanted = codesAtSignOff(
          dated,
          dated.digits.map((_, at) => ({
            classes: input.assessment.digits[at]?.classes ?? [],
            signs: input.signs?.[at] ?? {},
          })),
          { day, table, policy: DEFAULT_CODE_POLICY },
        ).map(({ first }) => first?.code);
        expect(written).toEqual(wanted);
      }),
      { numRuns: 300 },
    );
  });
  it("each of two broken fingers has its own", () =>
    expect(codes({ ...TWO_DIGITS, assessedAt: `${day}T12:00` })).toEqual(["S62.630B", "S62.662A"]));
  it.each([
    ["nobody is sure that it is broken", { fractureSite: "cannot-tell" }],
    ["bone is lost with the tip", { tissueLoss: "amputation-not-replantable" }],
    ["the bone looks diseased", { boneLesion: "yes" }],
    ["nobody says which digit it is", { digit: "cannot-tell" }],
  ])("is the coder's to choose while %s", (_, digit) => expect(codes(of(digit))).toEqual([undefined]));
  it("in WHO ICD-10 two broken fingers stay two diagnoses, and become multiple fractures only in the coder's list", () => {
    const policy = codePolicyOf({ values: { "coding.icd10": "on", "coding.snomed": "off" } });
    const record = { ...TWO_DIGITS, assessedAt: `${day}T12:00` };
    expect(signed(record, policy).map(({ others }) => others.map((o) => o.code))).toEqual([["S62.6"], ["S62.6"]]);
    const derived = deriveForCoding(pathway, record);
    const { others } = codeEncounter({ id: "e", date: day, kind: "initial", record, derived }, table, { policy });
    expect(others.map((o) => o.code)).toEqual(["S62.7"]);
  });
  it("without ICD-10-CM in the site's policy coders are told so, and nothing is proposed", () => {
    const policy = codePolicyOf({ values: { "coding.icd10cm": "off" } });
    const { codes, problems } = codeEncounter({ id: "e", date: day, kind: "initial", record: MALLET }, table, {
      policy,
    });
    expect(codes).toEqual([]);
    expect(problems).toEqual([expect.stringContaining("coding.icd10cm")]);
  });
  it("a fracture needs no other table than its own", () =>
    expect(fractureCode({ digit: "ring", side: "left", displaced: "yes", open: "no" }).code).toBe(codes(MALLET)[0]));
});

import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import * as z from "zod/mini";
import { caseSchema, FINDING_DEFINITIONS, readCase } from "../../src/pathway/index.ts";

const MINIMAL = { assessedAt: "2026-03-01T12:00", patient: {}, injury: {}, digits: [{ digit: "ring", side: "left" }] };
const problems = (json: unknown) => {
  const read = readCase(json);
  return read.ok ? [] : read.problems;
};
const paths = (json: unknown) => problems(json).map((p) => p.path);
const fixture = (name: string) => JSON.parse(readFileSync(`fixtures/findings/${name}.json`, "utf8")) as unknown;

describe("a case from outside", () => {
  it("needs no more than a time, a digit and a side: everything else may be unknown", () =>
    expect(readCase(MINIMAL)).toEqual({ ok: true, record: MINIMAL }));
  it("may say 'not asked' and 'cannot tell' for any finding", () => {
    for (const word of ["not-asked", "cannot-tell"]) {
      const answers = (scope: string) =>
        Object.fromEntries(
          Object.entries(FINDING_DEFINITIONS)
            .filter(([, d]) => d.scope === scope)
            .map(([id]) => [id, word]),
        );
      expect(
        paths({
          ...MINIMAL,
          patient: answers("patient"),
          injury: answers("injury"),
          digits: [{ ...answers("digit"), digit: "ring", side: "left" }],
        }),
      ).toEqual([]);
    }
  });
  it("an unknown answer is refused with the answers allowed", () =>
    expect(problems({ ...MINIMAL, patient: { diabetes: "maybe" } })).toEqual([
      {
        path: "patient.diabetes",
        problem: '"maybe" is not an allowed value',
        allowed: "one of yes, no, not-asked, cannot-tell",
      },
    ]));
  it("an implausible number is refused with its bounds and unit", () =>
    expect(problems({ ...MINIMAL, patient: { weightKg: 7000 } })).toEqual([
      { path: "patient.weightKg", problem: "7000 is too large", allowed: "0.5 to 350 kg, or not-asked, cannot-tell" },
    ]));
  it("a number written as text is refused", () =>
    expect(problems({ ...MINIMAL, patient: { ageYears: "7" } })[0]).toMatchObject({
      path: "patient.ageYears",
      allowed: "0 to 120 years, or not-asked, cannot-tell",
    }));
  it("a finding in the wrong place, or a misspelt one, is refused, not ignored", () => {
    expect(paths({ ...MINIMAL, patient: { openness: "closed" } })).toEqual(["patient.openness"]);
    expect(paths({ ...MINIMAL, digits: [{ digit: "ring", side: "left", opennes: "closed" }] })).toEqual([
      "digits.0.opennes",
    ]);
  });
  it.each([
    ["2026-02-30T10:00", "assessedAt"],
    ["2026-03-01", "assessedAt"],
    ["yesterday", "assessedAt"],
  ])("%s is no time of assessment", (assessedAt, path) => expect(paths({ ...MINIMAL, assessedAt })).toEqual([path]));
  it("29 February exists in leap years only", () => {
    expect(paths({ ...MINIMAL, birthDate: "2024-02-29" })).toEqual([]);
    expect(paths({ ...MINIMAL, birthDate: "2023-02-29" })).toEqual(["birthDate"]);
  });
  it("a birth date may be a year or a month", () => {
    expect(paths({ ...MINIMAL, birthDate: "1980" })).toEqual([]);
    expect(paths({ ...MINIMAL, birthDate: "1980-13" })).toEqual(["birthDate"]);
  });
  it("nothing happens after the assessment", () => {
    expect(paths({ ...MINIMAL, injuredAt: "2026-03-01T12:01" })).toEqual(["injuredAt"]);
    expect(paths({ ...MINIMAL, injuredAt: "2026-03-01T12:00" })).toEqual([]);
    expect(paths({ ...MINIMAL, injuredAt: "2026-03-01" })).toEqual([]);
    expect(paths({ ...MINIMAL, birthDate: "2026-03-02" })).toEqual(["birthDate"]);
    expect(paths({ ...MINIMAL, birthDate: "2027" })).toEqual(["birthDate"]);
    expect(paths({ ...MINIMAL, lastTetanusDoseOn: "2026-03-02" })).toEqual(["lastTetanusDoseOn"]);
  });
  it("nobody is hurt or vaccinated before birth", () =>
    expect(
      paths({ ...MINIMAL, birthDate: "2020-05-05", injuredAt: "2019-01-01", lastTetanusDoseOn: "2019-01-01" }),
    ).toEqual(["injuredAt", "lastTetanusDoseOn"]));
  it("each digit is named, and none twice", () => {
    expect(paths({ ...MINIMAL, digits: [] })).toEqual(["digits"]);
    expect(paths({ ...MINIMAL, digits: [{ digit: "ring" }] })).toEqual(["digits.0.side"]);
    expect(paths({ ...MINIMAL, digits: [{ digit: "not-asked", side: "left" }] })).toEqual(["digits.0.digit"]);
    expect(paths({ ...MINIMAL, digits: [MINIMAL.digits[0], MINIMAL.digits[0]] })).toEqual(["digits.1"]);
    expect(paths({ ...MINIMAL, digits: [MINIMAL.digits[0], { digit: "ring", side: "right" }] })).toEqual([]);
  });
  it.each([[null], ["text"], [[]], [42], [{}]])("%j is no case, and the message says what one is", (json) => {
    expect(problems(json).length).toBeGreaterThan(0);
    for (const p of problems(json)) expect(p.allowed).not.toBe("");
  });
  it("all problems are listed at once", () =>
    expect(paths({ ...MINIMAL, assessedAt: "x", patient: { diabetes: "maybe", smoker: 1 }, digits: [] })).toHaveLength(
      4,
    ));
  it.each([["closed-bony-mallet"], ["closed-tuft-crush"], ["child-nail-over-fold"], ["red-flags-not-asked"]])(
    "the example %s is accepted",
    (name) => expect(problems(fixture(name))).toEqual([]),
  );
});

describe("the schema for other programs", () => {
  const json = z.toJSONSchema(caseSchema) as {
    properties: Record<
      string,
      { properties?: Record<string, unknown>; items?: { properties: Record<string, unknown> } }
    >;
    additionalProperties: boolean;
  };
  it("lists every finding in its scope, and nothing more is allowed", () => {
    const listed = [
      ...Object.keys(json.properties.patient!.properties!),
      ...Object.keys(json.properties.injury!.properties!),
      ...Object.keys(json.properties.digits!.items!.properties),
    ];
    expect(listed.sort()).toEqual(Object.keys(FINDING_DEFINITIONS).sort());
    expect(json.additionalProperties).toBe(false);
  });
});

import { describe, expect, it } from "vitest";
import * as z from "zod/mini";
import { commonPractice } from "../../src/pathway/evidence/citation.ts";
import { FINDING_DEFINITIONS, readCase } from "../../src/pathway/index.ts";
import { inputProblems, list } from "../../src/pathway/input-problem.ts";
import type { PolicyDefinitions } from "../../src/pathway/policy/policy-value.ts";
import { allowedFor, checkSitePolicy } from "../../src/pathway/policy/site-policy.ts";

/* What somebody who wrote a file with a mistake is told: what is wrong, where, and what is allowed there. */
const MINIMAL = { assessedAt: "2026-03-01T12:00", patient: {}, injury: {}, digits: [{ digit: "ring", side: "left" }] };
const problems = (change: object) => {
  const read = readCase({ ...MINIMAL, ...change });
  return read.ok ? [] : read.problems;
};
const first = (change: object) => problems(change)[0];
const keysOf = (scope: string) =>
  Object.entries(FINDING_DEFINITIONS)
    .filter(([, d]) => d.scope === scope)
    .map(([id]) => id);

describe("a mistake in a case", () => {
  it.each([
    ["birthDate", "2026-02-30", "a real date: yyyy-MM-dd, or yyyy-MM or yyyy when the day is not known"],
    ["injuredAt", "noon", "a real date: yyyy-MM-dd or yyyy-MM-ddTHH:mm, local time without zone"],
    ["assessedAt", "2026-03-01", "a real date and time: yyyy-MM-ddTHH:mm, local time without zone"],
    ["operatedOn", "2026-03-01T09:00", "a real date: yyyy-MM-dd"],
    ["lastTetanusDoseOn", "2016", "a real date: yyyy-MM-dd"],
  ])("in the date %s", (path, value, allowed) =>
    expect(problems({ [path]: value })).toEqual([{ path, problem: "is not a real date", allowed }]),
  );
  it("a date that is a number, a missing date, and a key that nobody knows", () => {
    expect(first({ birthDate: 1980 })).toMatchObject({ path: "birthDate", problem: "1980 has the wrong type" });
    expect(first({ assessedAt: undefined })).toMatchObject({ path: "assessedAt", problem: "is missing" });
    expect(problems({ bornOn: "1980" })).toEqual([
      { path: "bornOn", problem: '"bornOn" is not known here', allowed: "leave it out" },
    ]);
  });
  it("a time with seconds is a time; a zone, or words around a date, are not", () => {
    expect(problems({ assessedAt: "2026-03-01T12:00:30" })).toEqual([]);
    for (const assessedAt of ["2026-03-01T12:00Z", "on 2026-03-01T12:00", "2026-03-01T12:00:3"])
      expect(first({ assessedAt })!.path).toBe("assessedAt");
    for (const birthDate of ["born 1980", "1980-01-01T00:00", "80"])
      expect(first({ birthDate })!.path).toBe("birthDate");
    expect(first({ injuredAt: "2026-02-28 at 9" })!.path).toBe("injuredAt");
    expect(first({ operatedOn: "x2026-03-01" })!.path).toBe("operatedOn");
  });
  it("in a part: a patient, an accident or a digit that is no object, or has an unknown key", () => {
    const keys = (scope: string) => list(keysOf(scope));
    expect(first({ patient: [] })).toMatchObject({ allowed: `an object; its keys are ${keys("patient")}` });
    expect(first({ injury: "crush" })).toMatchObject({
      path: "injury",
      allowed: `an object; its keys are ${keys("injury")}`,
    });
    expect(first({ digits: ["ring"] })).toMatchObject({
      path: "digits.0",
      allowed: `an object; its keys are ${keys("digit")}`,
    });
    expect(first({ patient: { opennes: "closed" } })).toMatchObject({
      path: "patient.opennes",
      problem: '"opennes" is not known here',
      allowed: `an object; its keys are ${keys("patient")}`,
    });
  });
  it("a finding of the digit told of the patient is refused", () =>
    expect(first({ patient: { openness: "closed" } })).toMatchObject({
      path: "patient.openness",
      problem: '"openness" is not known here',
    }));
  it("no digit at all, or digits that are no list", () => {
    expect(problems({ digits: [] })).toEqual([
      { path: "digits", problem: "is empty", allowed: "at least one injured digit" },
    ]);
    expect(first({ digits: "ring" })).toMatchObject({ path: "digits", allowed: "at least one injured digit" });
  });
  it("a digit without name or side, and one that stands twice", () => {
    expect(problems({ digits: [{ side: "left" }] })).toEqual([
      { path: "digits.0.digit", problem: "is missing", allowed: "one of thumb, index, middle, ring, little" },
    ]);
    expect(problems({ digits: [{ digit: "ring", side: "cannot-tell" }] })).toEqual([
      { path: "digits.0.side", problem: "is missing", allowed: "one of left, right" },
    ]);
    const ring = { digit: "ring", side: "left" };
    expect(problems({ digits: [ring, { digit: "ring", side: "right" }, ring] })).toEqual([
      { path: "digits.2", problem: "the left ring is listed twice", allowed: "each digit once" },
    ]);
    // Two digits that nobody named are two gaps, not one digit twice.
    expect(problems({ digits: [{}, {}] }).map((p) => p.path)).toEqual([
      "digits.0.digit",
      "digits.0.side",
      "digits.1.digit",
      "digits.1.side",
    ]);
  });
  it("a day after the assessment, before birth, or an operation before the accident", () => {
    expect(problems({ injuredAt: "2026-03-02" })).toEqual([
      { path: "injuredAt", problem: "2026-03-02 is after the assessment", allowed: "not later than 2026-03-01T12:00" },
    ]);
    expect(problems({ birthDate: "2020-05", injuredAt: "2020-04-30" })).toEqual([
      { path: "injuredAt", problem: "2020-04-30 is before the birth date", allowed: "not earlier than 2020-05" },
    ]);
    expect(problems({ birthDate: "2020-05", injuredAt: "2020-05-01", lastTetanusDoseOn: "2020-05-02" })).toEqual([]);
    expect(problems({ injuredAt: "2026-02-28T09:00", operatedOn: "2026-02-27" })).toEqual([
      { path: "operatedOn", problem: "2026-02-27 is before the injury", allowed: "not earlier than 2026-02-28" },
    ]);
    expect(problems({ birthDate: "2020-05-05", operatedOn: "2019-01-01" })).toEqual([
      { path: "operatedOn", problem: "2019-01-01 is before the birth date", allowed: "not earlier than 2020-05-05" },
    ]);
    // An operation on the day of the accident, or booked for a day to come.
    expect(problems({ injuredAt: "2026-02-28T09:00", operatedOn: "2026-02-28" })).toEqual([]);
    expect(problems({ injuredAt: "2026-02-28", operatedOn: "2026-03-20" })).toEqual([]);
    expect(problems({ operatedOn: "2026-03-20" })).toEqual([]);
  });
  it("a number out of bounds names the bound; what is no JSON value is shown as text", () => {
    expect(first({ patient: { weightKg: 0.1 } })).toMatchObject({ problem: "0.1 is too small" });
    expect(first({ patient: { smoker: {} } })).toMatchObject({ problem: "{} is not an allowed value" });
    const long = "x".repeat(200);
    expect(first({ patient: { smoker: long } })!.problem).toBe(`"${"x".repeat(59)} is not an allowed value`);
  });
});

describe("a mistake in a site's policy", () => {
  const definitions = {
    "toy.days": { type: "number", value: 5, unit: "days", min: 1, max: 9, sources: [commonPractice], note: "." },
    "toy.way": { type: "choice", value: "a", options: ["a", "b"], sources: [commonPractice], note: "." },
  } as const satisfies PolicyDefinitions;
  const head = { site: "Unit", approvedBy: "Dr Test", approvedOn: "2026-01-15" };
  const said = (json: unknown) => {
    const read = checkSitePolicy(definitions, json);
    return read.ok ? [] : read.problems.map((p) => [p.path, p.allowed]);
  };
  it("is answered with what is allowed in that place", () => {
    expect(said({ ...head, values: { "toy.days": 10 } })).toEqual([["values.toy.days", "1 to 9 days"]]);
    expect(said({ ...head, values: { "toy.way": "c" } })).toEqual([["values.toy.way", "one of a, b"]]);
    expect(said({ ...head, values: { "toy.hours": 1 } })).toEqual([["values.toy.hours", "one of toy.days, toy.way"]]);
    expect(said({ ...head, values: [] })).toEqual([["values", "one of toy.days, toy.way"]]);
    expect(said({ ...head, approvedOn: "spring", values: {} })).toEqual([["approvedOn", "a date yyyy-MM-dd"]]);
    expect(said({ ...head, approvedOn: "2026-01-15, noon", values: {} })).toEqual([
      ["approvedOn", "a date yyyy-MM-dd"],
    ]);
    expect(said({ ...head, approvedBy: "", values: {} })).toEqual([["approvedBy", "a text that is not empty"]]);
    expect(said({ ...head, site: 7, values: {} })).toEqual([["site", "a text that is not empty"]]);
    expect(said("text")).toEqual([["", "an object with site, approvedBy, approvedOn and values"]]);
  });
  it("says in words what a site may enter", () => {
    expect(allowedFor(definitions["toy.days"])).toBe("1 to 9 days");
    expect(allowedFor(definitions["toy.way"])).toBe("one of a, b");
  });
});

it("a list of more than eighteen values is cut there, and says that it goes on", () => {
  const values = Array.from({ length: 19 }, (_, i) => `v${i + 1}`);
  expect(list(values.slice(0, 18))).toBe(`one of ${values.slice(0, 18).join(", ")}`);
  expect(list(values)).toBe(`one of ${values.slice(0, 18).join(", ")} …`);
});

describe("a mistake that no schema of ours foresees", () => {
  const said = (schema: z.ZodMiniType, value: unknown) => {
    const read = schema.safeParse(value, { reportInput: true });
    return read.success ? [] : inputProblems(read.error, () => undefined);
  };
  it.each([
    [z.literal("left"), undefined, "nothing is not an allowed value", "one of left"],
    [z.literal("left"), Symbol("left"), "Symbol(left) is not an allowed value", "one of left"],
    [z.string().check(z.regex(/^a/)), "b", '"b" has the wrong form', "see the schema"],
    [z.string().check(z.refine(() => false, "is odd")), "b", "is odd", "see the schema"],
  ])("%#: it is shown, with what is known of it", (schema, value, problem, allowed) =>
    expect(said(schema, value)).toEqual([{ path: "", problem, allowed }]),
  );
});

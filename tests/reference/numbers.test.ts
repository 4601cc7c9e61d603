import { describe, expect, it } from "vitest";
import { SOURCES } from "../../src/pathway/evidence/sources.ts";
import * as limits from "../../src/pathway/hand/limits.ts";
import { POLICY_DEFINITIONS } from "../../src/pathway/index.ts";
import type { AnyRule } from "../../src/pathway/reasoning/program.ts";
import { pathway } from "../pathway/distal-phalanx/records.ts";
import { LIMIT_NUMBERS, POLICY_NUMBERS, RULE_NUMBERS } from "./numbers.ts";
import { inText, numbersUsed } from "./numbers-in-rules.ts";

const COMMON = "common practice, no source";
const MEMORY = "from memory";
const SAID = /^(?:says|visit|splint|due) /;
const CONVENTION = /^(?:convention|calendar)/;
const ids = new Set<string>(Object.keys(SOURCES));
/** The publications that a line of the table names. */
const named = (source: string) =>
  (source.match(/[A-Z][A-Z0-9]*(?:-[A-Z0-9]+)*/g) ?? []).filter((word) => ids.has(word));
const hasOrigin = (source: string) =>
  named(source).length > 0 || source.includes(COMMON) || source.includes(MEMORY) || CONVENTION.test(source);

const listed = RULE_NUMBERS.flatMap(({ says, source, rules }) =>
  rules.split(", ").map((rule) => ({ rule, says, source })),
);
const rules = new Map(pathway.tables.flatMap((t) => (t.rules as readonly AnyRule[]).map((r) => [r.id, r] as const)));

describe("every number of the rules has its published source, or says that it has none", () => {
  const used = new Set(numbersUsed(pathway).map(({ rule, says }) => `${rule}: ${says}`));
  const known = new Set(listed.map(({ rule, says }) => `${rule}: ${says}`));
  it("no rule uses or says a number that the table does not hold", () =>
    expect([...used].filter((number) => !known.has(number))).toEqual([]));
  it("the table holds no number that its rule no longer uses, or uses with another value", () =>
    expect([...known].filter((number) => !used.has(number))).toEqual([]));
  it("each number stands in the table once", () => expect(listed.length).toBe(known.size));
  // A limit in a row only says where a rule begins: its source may stand at the policy value, or at the rule on the other side of it.
  it("a rule cites what the numbers that it says come from, apart from those listed", () => {
    const uncited = listed.filter(({ rule, says, source }) => {
      const cited: readonly string[] | undefined = rules.get(rule)?.sources.map((c) => c.source);
      return (
        cited !== undefined &&
        SAID.test(says) &&
        !CONVENTION.test(source) &&
        !named(source).some((id) => cited.includes(id)) &&
        !(source.includes(COMMON) && cited.includes("COMMON-PRACTICE")) &&
        !(source.includes(MEMORY) && cited.includes("FROM-MEMORY"))
      );
    });
    expect(uncited.map(({ rule, says }) => `${rule}: ${says}`)).toEqual([]);
  });
});

it("every default and every bound of the site policy is the published one, or says that it has none", () => {
  const numbers = Object.entries(POLICY_DEFINITIONS).flatMap(([key, d]) =>
    d.type === "number" ? [{ key, value: d.value, min: d.min, max: d.max }] : [],
  );
  expect(POLICY_NUMBERS.map(({ key, value, min, max }) => ({ key, value, min, max }))).toEqual(numbers);
});

it("every limit that no site moves has the published value", () => {
  const flat = (name: string, value: unknown): { name: string; value: number }[] =>
    typeof value === "number"
      ? [{ name, value }]
      : Object.entries(value as object).flatMap(([part, inner]) => flat(`${name}.${part}`, inner));
  const byName = (a: { name: string }, b: { name: string }) => (a.name < b.name ? -1 : 1);
  const used = Object.entries(limits).flatMap(([name, value]) => flat(name, value));
  expect(LIMIT_NUMBERS.map(({ name, value }) => ({ name, value })).sort(byName)).toEqual(used.sort(byName));
});

it("each line of the tables names a known publication, common practice, memory or a convention", () =>
  expect([...RULE_NUMBERS, ...POLICY_NUMBERS, ...LIMIT_NUMBERS].filter(({ source }) => !hasOrigin(source))).toEqual(
    [],
  ));

it("reads the numbers of a sentence with their units, and no digit inside a name", () =>
  expect(inText("Type A4: within 24 hours, 28 to 42 days or 0.28 (95 % 0.12-0.64); see G6.")).toEqual([
    "says 24 hours",
    "says 28 to 42 days",
    "says 0.28",
    "says 95 %",
    "says 0.12-0.64",
  ]));

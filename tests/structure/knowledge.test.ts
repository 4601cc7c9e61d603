import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { SOURCES } from "../../src/pathway/evidence/sources.ts";
import { type Citation, MODULES, POLICY_DEFINITIONS, readSitePolicy } from "../../src/pathway/index.ts";
import { RETIRED_RULE_IDS } from "./retired-rule-ids.ts";

const read = readSitePolicy(undefined);
if (!read.ok) throw new Error("the default policy is refused");
const { policy } = read;
const RULES = MODULES.flatMap((m) => m.tables(policy).flatMap((t) => t.rules));
const POLICY_VALUES = Object.entries(POLICY_DEFINITIONS);
const CLASSES_OF_CITATION = new Set(["COMMON-PRACTICE", "FROM-MEMORY"]);

const repeated = (ids: readonly string[]) => ids.filter((id, i) => ids.indexOf(id) !== i);
const returned = (ids: readonly string[], retired: readonly string[]) => ids.filter((id) => retired.includes(id));

/** Source ids written in the code of the rules, where a line or a figure is built by arithmetic and stands in no table. */
const citedInText = readdirSync("src/pathway", { recursive: true, encoding: "utf8" })
  .filter((path) => path.endsWith(".ts"))
  .flatMap((path) =>
    [...readFileSync(join("src/pathway", path), "utf8").matchAll(/\b(?:cite|against)\(\s*"([^"]+)"/g)].map(
      (m) => m[1]!,
    ),
  );

describe("rule ids", () => {
  it("name one rule each", () => {
    expect(RULES.length).toBeGreaterThan(20);
    expect(repeated(RULES.map((r) => r.id))).toEqual([]);
    expect(repeated(["MAL-1", "MAL-2", "MAL-1"])).toEqual(["MAL-1"]);
  });
  it("never come back once a rule is taken out", () => {
    expect(
      returned(
        RULES.map((r) => r.id),
        RETIRED_RULE_IDS,
      ),
    ).toEqual([]);
    expect(returned(["MAL-1", "MAL-6"], ["MAL-6"])).toEqual(["MAL-6"]);
  });
  it("can be spoken of: a table prefix, a dash and a number", () => {
    expect(RULES.map((r) => r.id).filter((id) => !/^[A-Z][A-Z0-9]*(-[A-Z0-9]+)*-?\d+[a-z]?$/.test(id))).toEqual([]);
  });
});

describe("every rule", () => {
  it("says why in a sentence", () => {
    expect(RULES.filter((r) => !/^\S.{8,}[.?!]$/.test(r.because.trim())).map((r) => `${r.id}: ${r.because}`)).toEqual(
      [],
    );
  });
  it("names a source that speaks for it: dissent alone carries no rule", () => {
    expect(RULES.filter((r) => !r.sources.some((s: Citation) => s.says === "for")).map((r) => r.id)).toEqual([]);
  });
  it("says something", () => {
    expect(RULES.filter((r) => r.then.length === 0).map((r) => r.id)).toEqual([]);
  });
});

describe("every source", () => {
  const cited = new Set<string>([
    ...RULES.flatMap((r) => r.sources.map((s: Citation) => s.source)),
    ...POLICY_VALUES.flatMap(([, value]) => value.sources.map((s) => s.source)),
    ...citedInText,
  ]);
  it("that is cited is recorded", () => {
    expect([...cited].filter((id) => !(id in SOURCES) && !CLASSES_OF_CITATION.has(id))).toEqual([]);
  });
  it("that is recorded is cited", () => {
    expect(Object.keys(SOURCES).filter((id) => !cited.has(id))).toEqual([]);
  });
  it("is named so that it can be found, and a read text has a year, an edition or a title", () => {
    expect(
      Object.entries(SOURCES)
        .filter(([, record]) => record.citation.length < 20)
        .map(([id]) => id),
    ).toEqual([]);
  });
});

describe("every value a site may set", () => {
  it("lies inside its own bounds, has a unit and a source", () => {
    expect(POLICY_VALUES.length).toBeGreaterThan(0);
    const odd = POLICY_VALUES.filter(([, v]) =>
      v.type === "number"
        ? v.value < v.min || v.value > v.max || v.min > v.max || v.unit === "" || v.sources.length === 0
        : !v.options.includes(v.value) || v.sources.length === 0,
    );
    expect(odd.map(([key]) => key)).toEqual([]);
  });
});

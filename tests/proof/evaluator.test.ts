import { describe, expect, it } from "vitest";
import { pathway } from "../pathway/distal-phalanx/records.ts";
import { enumerateTables, probeCuts, walkBranches } from "./evaluator.ts";
import { spaceOf } from "./space.ts";

const space = spaceOf(pathway);
const seconds = (since: number) => `${((performance.now() - since) / 1000).toFixed(1)} s`;

describe("the shipped evaluator and the diagrams", () => {
  it("agree on every state of every table and sign over the columns that each reads itself", () => {
    const begun = performance.now();
    const { flaws, states, whole, byRule } = enumerateTables(space);
    console.log(
      `tables and signs: ${states} states in ${seconds(begun)}; ${whole.length} enumerated whole, rule by rule: ${byRule.join(", ")}`,
    );
    expect(flaws.slice(0, 3)).toEqual([]);
    expect(whole.length + byRule.length).toBe(pathway.tables.length + pathway.signs.length);
  });
  it("agree on the whole pathway along every branch of every diagram", () => {
    const begun = performance.now();
    const { flaws, records } = walkBranches(space);
    console.log(
      `whole pathway: ${space.rules.length} rules, ${space.statements.diagrams.nodes} nodes, ${space.records.toExponential(1)} complete records; ${records} walked in ${seconds(begun)}`,
    );
    expect(flaws.slice(0, 3)).toEqual([]);
    expect(records).toBeGreaterThan(10_000);
  });
  it("agree just below, on and just above every limit", () => {
    const { flaws, probes } = probeCuts(space);
    expect(flaws).toEqual([]);
    expect(probes).toBeGreaterThan(500);
  });
});

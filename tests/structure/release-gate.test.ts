import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import counting from "../coverage.config.ts";
import { FAULTS } from "../faults/faults.ts";
import { ENDED_PLANS, NEW_PLANS, SINGLE_WRITES, STORED_PLANS } from "../faults/flows.ts";
import { readRecord } from "../faults/record.ts";

/** Rows of the table of a report on planted faults, by what stands in their first cell. */
function tableIn(report: string): Map<string, { planted: number; score: number }> {
  const rows = report.split("\n").filter((line) => line.startsWith("| ") && !line.startsWith("| where"));
  return new Map(
    rows.map((line) => {
      const cells = line.split("|").map((cell) => cell.trim());
      return [cells[1]!, { planted: Number(cells[2]), score: Number(cells[7]) }];
    }),
  );
}
const read = (file: string) => readFileSync(`${import.meta.dirname}/../${file}`, "utf8");
const RULES = read("mutation/survivors.md");
const WRITING = read("mutation/survivors-writing.md");

/** The figures of blocks 16 and 17 of the release gate; the runs that make these reports are too long for every run. */
describe("GATE-16 faults planted in the program, as the last report has them", () => {
  it("are noticed by tests: nine in ten of those in the rules", () => {
    const { planted, score } = tableIn(RULES).get("**all**")!;
    expect(planted).toBeGreaterThanOrEqual(300);
    expect(score).toBeGreaterThanOrEqual(90);
  });
  it("are noticed by tests: nine in ten of those in the dates, eight in ten of those in transport and writing", () => {
    const rows = tableIn(WRITING);
    const [all, dates] = [rows.get("**all**")!, rows.get("fhir/dates.ts")!];
    expect(all.planted).toBeGreaterThanOrEqual(300);
    expect(dates.planted).toBeGreaterThanOrEqual(60);
    expect(dates.score).toBeGreaterThanOrEqual(90);
    const noticed = (all.planted * all.score - dates.planted * dates.score) / (all.planted - dates.planted);
    expect(noticed, "per cent of those outside the dates").toBeGreaterThanOrEqual(80);
  });
  it.each([
    ["the rules", RULES],
    ["dates, transport and writing", WRITING],
  ])("have been looked at one by one where no test of %s noticed them", (_where, report) => {
    expect(report).toContain("## Survivors");
    expect(report).not.toContain("To do");
  });
});

describe("GATE-01 REL-25 each fault at each request of each flow of writing, as it was last tried", () => {
  const record = readRecord();
  it("was tried on the flows and with the faults that there are", () => {
    const flows = [...NEW_PLANS, ...STORED_PLANS, ...ENDED_PLANS, ...SINGLE_WRITES].map(({ name }) => name);
    expect(Object.keys(record).sort()).toEqual(flows.sort());
    for (const { faults, combinations, struck } of Object.values(record)) {
      expect(faults, "a new fault is tried everywhere: FAULTS_TURN=all npm run test:faults").toBe(FAULTS.length);
      expect(struck).toBe(combinations);
    }
    const combinations = Object.values(record).reduce((all, row) => all + row.combinations, 0);
    expect(combinations, "more than the runs of every day").toBeGreaterThan(9_000);
  });
  it("lost, doubled and misfiled nothing, and said nothing false", () => {
    for (const [flow, { lost, duplicated, misfiled, falseWords }] of Object.entries(record))
      expect({ lost, duplicated, misfiled, falseWords }, flow).toEqual({
        ...{ lost: 0, duplicated: 0, misfiled: 0, falseWords: 0 },
      });
  });
});

describe("GATE-17 lines and branches", () => {
  it("are held to limits: all of the rules, nearly all of transport and writing", () => {
    const { thresholds } = counting.test!.coverage as { thresholds: Record<string, unknown> };
    expect(thresholds).toMatchObject({ lines: 85, branches: 80, "src/pathway/**": { lines: 100, branches: 100 } });
    const writing = Object.entries(thresholds).find(([files]) => files.startsWith("src/smart/"));
    expect(writing?.[0]).toMatch(/transport,.*single-writes.*write-back/);
    expect(writing?.[1]).toEqual({ lines: 95, branches: 90 });
  });
  it("are counted in the run from a clean checkout", () => {
    expect(read("../.ci/run")).toContain("npm --silent test -- --long");
    expect(read("run.ts")).toContain('"--config", "tests/coverage.config.ts"');
  });
});

import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";

const FOUR = "fixtures/coding/encounters.ndjson";
/** The real command. */
function code(words: readonly string[], input = "") {
  const { status, stdout, stderr } = spawnSync("node_modules/.bin/tsx", ["src/cli/code.ts", ...words], {
    encoding: "utf8",
    input,
  });
  return { exit: status, out: stdout, said: stderr.split("\n").filter((line) => line !== "") };
}
const lines = (out: string) =>
  out
    .trimEnd()
    .split("\n")
    .map((line) => JSON.parse(line));
const FIRST = readFileSync(FOUR, "utf8").split("\n")[0]!;

describe("codes from the command line", () => {
  it("a file with one encounter in each line gives each its codes, with the reason for each", () => {
    const { exit, out, said } = code([FOUR]);
    expect({ exit, said }).toEqual({ exit: 0, said: [] });
    const all = lines(out);
    expect(all.map((c) => c.codes.map((l: { code: string }) => l.code))).toEqual([
      ["S62.665B", "W23.2XXA", "Y92.63", "Y99.0"],
      ["S66.316A", "W21.05XA", "Y92.310", "Y93.67", "Y99.8"],
      ["S62.665D", "W23.2XXD"],
      ["S60.111A"],
    ]);
    expect(all[0].codes[0].wouldChange.length).toBeGreaterThan(5);
    expect(all[0].edition.name).toBe("ICD-10-CM FY2027");
  });
  it("a period, other classifications and CSV; how far it is goes to standard error", () => {
    const { exit, out, said } = code([
      "--format",
      "csv",
      "--from",
      "2026-12-01",
      "--to",
      "2026-12-31",
      "--progress",
      FOUR,
    ]);
    expect(exit).toBe(0);
    expect(
      out
        .trimEnd()
        .split("\r\n")
        .slice(1)
        .map((row) => row.split(",")[0]),
    ).toEqual(["E-1003", "E-1003"]);
    expect(said).toEqual(["1 encounters, 2 codes, 0 without a code"]);
    const also = lines(code(["--also", "icd10", "--no-snomed", "-"], FIRST).out);
    expect(also[0].others.map((o: { code: string }) => o.code)).toEqual(["S62.6"]);
  });
  it("what is wrong in one line is told with its place, and the other lines are written all the same", () => {
    const bad = JSON.parse(FIRST);
    bad.record.digits[0].openness = "wide";
    bad.kind = "first";
    const worse = JSON.parse(FIRST);
    worse.stated.circumstances.place = "Y92.9";
    const finding = JSON.parse(FIRST);
    finding.record.digits[0].openness = "wide";
    const { exit, out, said } = code(
      ["--format", "csv"],
      [FIRST, "{ no JSON", JSON.stringify(bad), JSON.stringify(worse), JSON.stringify(finding)].join("\n"),
    );
    expect(exit).toBe(2);
    expect(out).toContain("S62.665B");
    expect(said).toHaveLength(4);
    expect(said[0]).toBe("standard input line 2: is not JSON; allowed: one encounter in each line");
    expect(said[1]).toMatch(/^standard input line 3: kind: .*"initial"/);
    expect(said[2]).toMatch(/^standard input line 4: stated.circumstances.place: is no place of the tables here/);
    expect(said[3]).toMatch(/^standard input line 5: record.digits.0.openness: /);
  });
  it("one encounter over several lines is read as well, and a day without an edition is refused by name", () => {
    const encounter = { ...JSON.parse(FIRST), date: "2025-03-01" };
    const { exit, out } = code(["-"], JSON.stringify(encounter, null, 2));
    expect(exit).toBe(0);
    expect(lines(out)[0]).toMatchObject({ state: "not-coded", codes: [] });
    expect(lines(out)[0].problems[0]).toContain("No ICD-10-CM table here holds on 2025-03-01");
  });
  it("a file that is not there, and an option that is not known, write nothing and say what is allowed", () => {
    expect(code(["nowhere.ndjson"])).toEqual({
      exit: 2,
      out: "",
      said: ['nowhere.ndjson: cannot be read (ENOENT); allowed: a JSON or NDJSON file, or "-"'],
    });
    expect(code(["--format", "xml", FOUR])).toEqual({
      exit: 2,
      out: "",
      said: ["options: --format xml; allowed: json, csv, bundle, ndjson, dg1"],
    });
  });
});

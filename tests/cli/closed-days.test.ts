import { spawnSync } from "node:child_process";
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { readClosedDays } from "../../src/scheduling/index.ts";

/** The real command. */
function closedDays(...words: string[]) {
  const { status, stdout, stderr } = spawnSync("node_modules/.bin/tsx", ["src/cli/closed-days.ts", ...words], {
    encoding: "utf8",
  });
  return { exit: status, out: stdout, said: stderr.split("\n").filter(Boolean) };
}

describe("closed days from the command line", () => {
  it("are a file that the clinic's screens can read, with the public holidays (gov.uk for 2026, from memory) and days of one's own", () => {
    const own = join(mkdtempSync(join(tmpdir(), "closed-")), "own.json");
    writeFileSync(
      own,
      JSON.stringify({
        from: "2026-01-01",
        to: "2026-12-31",
        closedDays: [{ day: "2026-03-09", why: "Training day" }],
      }),
    );
    const { exit, out, said } = closedDays(
      "--country",
      "GB",
      "--region",
      "ENG",
      "--from",
      "2026",
      "--to",
      "2026",
      "--add",
      own,
    );
    expect([exit, said]).toEqual([0, []]);
    const read = readClosedDays(JSON.parse(out));
    if (!read.ok) throw new Error(read.problems[0]!.problem);
    expect([read.value.from, read.value.to]).toEqual(["2026-01-01", "2026-12-31"]);
    expect(read.value.closed.get("2026-04-06")).toBe("public holiday, Easter Monday");
    expect(read.value.closed.get("2026-03-09")).toBe("Training day");
    expect([...read.value.closed.keys()]).toEqual([...read.value.closed.keys()].sort());
    expect(read.value.closed.size).toBe(10);
  });
  it.each([
    ["no country", [], "--country is missing"],
    ["a country without a calendar", ["--country", "XX"], 'no calendar of public holidays for "XX"'],
    ["years the wrong way round", ["--country", "GB", "--from", "2027", "--to", "2026"], "the first one first"],
  ])("refuse %s, and write nothing", (_, words, why) => {
    const { exit, out, said } = closedDays(...words);
    expect([exit, out]).toEqual([2, ""]);
    expect(said.join(" ")).toContain(why);
  });
});

describe("a file of closed days", () => {
  const problemsOf = (json: unknown) => {
    const read = readClosedDays(json);
    return read.ok ? [] : read.problems.map(({ path, problem, allowed }) => `${path}: ${problem}; ${allowed}`);
  };
  it("is refused with place and reason, and never taken over in part", () => {
    const file = { from: "2026-01-01", to: "2026-12-31", closedDays: [{ day: "2026-02-30", why: "x" }] };
    expect(problemsOf(file)).toEqual([expect.stringMatching(/^closedDays.0.day: .*a day that exists/)]);
    expect(problemsOf({ ...file, closedDays: [], from: "2027-01-01" })).toEqual([
      expect.stringContaining("lies before 2027-01-01"),
    ]);
    expect(problemsOf({ ...file, closedDays: [], to: "soon" })).toEqual([
      expect.stringMatching(/^to: .*a day that exists/),
    ]);
  });
});

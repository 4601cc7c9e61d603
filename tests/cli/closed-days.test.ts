import { spawnSync } from "node:child_process";
import { mkdtempSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { clinicsNotFound, readClosedDays, whyClosed } from "../../src/scheduling/index.ts";

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
    const days = new Map(read.value.closedDays.map(({ day, why }) => [day, why]));
    expect(days.get("2026-04-06")).toBe("public holiday, Easter Monday");
    expect(days.get("2026-03-09")).toBe("Training day");
    expect([...days.keys()]).toEqual([...days.keys()].sort());
    expect(read.value.closedDays).toHaveLength(10);
  });
  it("W2 may hold for one clinic alone, beside those that another file holds for all", () => {
    const own = join(mkdtempSync(join(tmpdir(), "closed-")), "own.json");
    const all = { day: "2026-12-25", why: "Closed everywhere" };
    writeFileSync(own, JSON.stringify({ from: "2026-01-01", to: "2026-12-31", closedDays: [all] }));
    const asked = ["--country", "GB", "--region", "SCT", "--from", "2026", "--to", "2026", "--clinic", "Hand clinic"];
    const { exit, out, said } = closedDays(...asked, "--add", own);
    expect([exit, said]).toEqual([0, []]);
    const read = readClosedDays(JSON.parse(out));
    if (!read.ok) throw new Error(read.problems[0]!.problem);
    const ofDay = (on: string) => read.value.closedDays.filter(({ day }) => day === on).map(({ clinic }) => clinic);
    // St Andrew's Day, a holiday in Scotland alone (Bank Holidays, gov.uk, from memory)
    expect(ofDay("2026-11-30")).toEqual(["Hand clinic"]);
    expect(ofDay("2026-12-25")).toEqual([undefined, "Hand clinic"]);
  });
  it.each([
    ["a clinic without a name", ["--country", "GB", "--clinic", " "], "--clinic is empty"],
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
    const named = (clinic: unknown) => ({ ...file, closedDays: [{ day: "2026-02-03", why: "x", clinic }] });
    expect([named(3), named("")].flatMap(problemsOf)).toEqual([
      expect.stringMatching(/^closedDays.0.clinic: 3 has the wrong type; name of a clinic's schedule/),
      expect.stringMatching(/^closedDays.0.clinic: is empty; name of a clinic's schedule/),
    ]);
    expect(problemsOf(named("Hand clinic"))).toEqual([]);
  });
  it("W2 names a clinic by its schedule's name or reference; its own reason goes before that of all, and a name that nobody bears is told", () => {
    const places = [
      { reference: "Schedule/1", name: "Hand clinic, Alder Quay" },
      { reference: "Schedule/2", name: "Hand therapy" },
    ];
    const days = [
      { day: "2026-03-09", why: "Founders' Day", clinic: "hand clinic, alder quay " },
      { day: "2026-03-10", why: "Training", clinic: "Schedule/2" },
      { day: "2026-03-11", why: "Flood", clinic: "Hand clinic" },
      { day: "2026-03-12", why: "Everybody" },
      { day: "2026-03-12", why: "Stocktaking", clinic: "Schedule/1" },
    ];
    const closed = whyClosed(days, places);
    expect(
      ["09", "10", "11", "12"].map((d) => places.map(({ reference }) => closed(reference, `2026-03-${d}`))),
    ).toEqual([
      ["Founders' Day", undefined],
      [undefined, "Training"],
      [undefined, undefined],
      ["Stocktaking", "Everybody"],
    ]);
    expect(clinicsNotFound(days, places)).toEqual(["Hand clinic"]);
  });
});

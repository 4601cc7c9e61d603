import { spawnSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { jsonPlaces } from "../../src/cli/json-places.ts";
import { SITE_DEFINITIONS } from "../../src/pathway/index.ts";

function policy(words: readonly string[], input = "") {
  const { status, stdout, stderr } = spawnSync("node_modules/.bin/tsx", ["src/cli/policy.ts", ...words], {
    encoding: "utf8",
    input,
  });
  return { code: status, out: stdout, problems: stderr.split("\n").filter((line) => line !== "") };
}
const HEAD = { site: "Harbour Street Hand Unit (invented)", approvedBy: "Dr Ada Example", approvedOn: "2026-01-15" };
const withValues = (values: object) => JSON.stringify({ ...HEAD, values }, null, 2);

describe("a site's policy file is checked before it is used", () => {
  it("a good file is told in one line what differs from the defaults", () => {
    const { code, out, problems } = policy(["check", "fixtures/site-policies/cautious.json"]);
    expect({ code, problems }).toEqual({ code: 0, problems: [] });
    expect(out.trimEnd().split("\n")).toHaveLength(1);
    expect(out).toContain("hand.washoutHours 12 hours (default 24 hours)");
    expect(out).toContain("hand.tetanusScheme UK (default US)");
  });
  it("a file of defaults differs in nothing", () =>
    expect(policy(["check", "fixtures/site-policies/default.json"]).out).toMatch(/sets nothing but defaults$/m));
  it("a broken file gives no output, and each fault with line and column, what is allowed and who says so", () => {
    const file = "fixtures/site-policies/broken.json";
    const { code, out, problems } = policy(["check", file]);
    expect({ code, out }).toEqual({ code: 2, out: "" });
    const lines = readFileSync(file, "utf8").split("\n");
    const line = lines.findIndex((l) => l.includes("plainLidocaineMgPerKg"));
    const column = lines[line]!.indexOf("7") + 1;
    const dose = problems.find((p) => p.includes("plainLidocaineMgPerKg"));
    expect(dose).toContain(`${file}:${line + 1}:${column}: values.hand.plainLidocaineMgPerKg: 7 is too large`);
    expect(dose).toContain("allowed: 3 to 4.5 mg/kg; source: New South Wales Agency for Clinical Innovation");
    expect(dose).toContain("dissent: Lidocaine hydrochloride injection USP");
    expect(problems).toHaveLength(4);
  });
  it("a mistyped name is answered with the one that was probably meant", () =>
    expect(policy(["check", "-"], withValues({ "hand.washoutHuors": 12 })).problems).toEqual([
      'standard input:6:26: values.hand.washoutHuors: "hand.washoutHuors" is not known here; did you mean hand.washoutHours? allowed: the names that "show" lists',
    ]));
  it("a value that is named twice is refused, because one of the two would be dropped in silence", () => {
    const twice = `{"site":"A","approvedBy":"B","approvedOn":"2026-01-15","values":{\n"hand.washoutHours":24,\n"hand.washoutHours":12}}`;
    const { code, out, problems } = policy(["check", "-"], twice);
    expect({ code, out }).toEqual({ code: 2, out: "" });
    expect(problems).toEqual([
      "standard input:3:21: values.hand.washoutHours: is named twice; allowed: each name once",
    ]);
  });
  it("thresholds that cross are refused at the one that is too high", () => {
    const crossed = withValues({ "hand.clinicWithinDays": 7, "hand.routineFromDays": 5 });
    expect(policy(["check", "-"], crossed).problems).toEqual([
      expect.stringMatching(
        /^standard input:6:30: values\.hand\.clinicWithinDays: 7 is above hand\.routineFromDays \(5\)/,
      ),
    ]);
  });
  it.each([
    ["what is not JSON", ["check", "-"], "{", /^standard input: is not JSON/],
    ["a file that is not there", ["check", "nowhere.json"], "", /^nowhere\.json: cannot be read \(ENOENT\)/],
    ["an unknown command", ["chek", "-"], "", /^options: "chek -" is not a command; allowed: check FILE/],
    ["an unknown option", ["--fix"], "", /^options: .*allowed: see --help/],
  ])("%s is refused in one line", (_what, words, input, line) => {
    const { code, out, problems } = policy(words, input);
    expect({ code, out }).toEqual({ code: 2, out: "" });
    expect(problems).toEqual([expect.stringMatching(line)]);
  });
});

describe("what a site may set", () => {
  it("is shown value by value with default, unit, bounds and sources", () => {
    const { code, out } = policy(["show"]);
    expect(code).toBe(0);
    const blocks = out.split("\n\n").slice(1);
    expect(blocks.map((b) => b.split("\n")[0])).toEqual(Object.keys(SITE_DEFINITIONS));
    expect(blocks.filter((b) => !/\n {2}default: .+\n {2}allowed: .+\n {2}(source:|dissent:)/.test(b))).toEqual([]);
    expect(out).toContain("  default: 24 hours\n  allowed: 6 to 24 hours\n");
  });
  it("is shown beside what a site sets", () => {
    const { out } = policy(["show", "fixtures/site-policies/cautious.json"]);
    expect(out).toContain("  set:     12 hours\n  default: 24 hours\n");
  });
  it("has a schema with the bounds, unit and default of each value", () => {
    const schema = JSON.parse(policy(["--schema"]).out);
    expect(Object.keys(schema.properties.values.properties)).toEqual(Object.keys(SITE_DEFINITIONS));
    expect(schema.properties.values.properties["hand.washoutHours"]).toMatchObject({
      minimum: 6,
      maximum: 24,
      default: 24,
    });
    expect(schema.properties.values.properties["hand.washoutHours"].description).toContain("[hours]");
  });
});

describe("places in a JSON text", () => {
  const text = '{\n  "a.b": [1, {"c": "x, \\"y\\""}],\n  "d": {}, "d": null\n}';
  it.each([
    ["", "1:1"],
    ["a.b", "2:10"],
    ["a.b.0", "2:11"],
    ["a.b.1.c", "2:20"],
    ["d", "3:17"],
  ])("%j begins at %s", (path, place) => expect(jsonPlaces(text).at(path)).toBe(place));
  it("a path that is not there leads to what is around it", () => expect(jsonPlaces(text).at("a.b.7.q")).toBe("2:10"));
  it("a name given twice is found", () => expect(jsonPlaces(text).twice).toEqual(["d"]));
  it("commas, brackets and quotes inside text are no structure", () =>
    expect(jsonPlaces('{"k": "}],{\\"", "l": 1}').at("l")).toBe("1:22"));
});

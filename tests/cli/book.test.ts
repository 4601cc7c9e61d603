import { spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { namedIn, testsOfRules } from "../../src/cli/rule-tests.ts";

const book = (...words: readonly string[]) => {
  const { status, stdout, stderr } = spawnSync("node_modules/.bin/tsx", ["src/cli/book.ts", ...words], {
    encoding: "utf8",
  });
  return { code: status, out: stdout, problems: stderr.split("\n").filter((line) => line !== "") };
};

describe("the pathway book", () => {
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), "fingerpost-book-"));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it("is complete and readable, and says so without writing anything", () => {
    const { code, out, problems } = book("--check");
    expect({ code, problems }).toEqual({ code: 0, problems: [] });
    expect(out).toMatch(/^The book is complete/);
  });
  it("is written as HTML and Markdown into the folder that is named", () => {
    const { code, out } = book("--out", folder);
    expect(code).toBe(0);
    expect(readdirSync(folder).sort()).toEqual(["pathway-book.html", "pathway-book.md"]);
    expect(out.trimEnd().split("\n")).toEqual([join(folder, "pathway-book.html"), join(folder, "pathway-book.md")]);
    const html = readFileSync(join(folder, "pathway-book.html"), "utf8");
    expect(html).toContain("tests/pathway/hand/wound.test.ts");
    expect(html).toContain("Changes between versions");
  });
  it.each([
    [["--folder", "x"], /^options: .*allowed: see --help/],
    [["page.html"], /^options: "page.html" is not an option/],
    [["--out", "package.json/x"], /cannot be written \((ENOTDIR|EEXIST)\)/],
  ])("%j is refused in one line", (words, line) => {
    const { code, out, problems } = book(...words);
    expect({ code, out }).toEqual({ code: 2, out: "" });
    expect(problems).toEqual([expect.stringMatching(line)]);
  });
});

describe("the tests of a rule", () => {
  const named = (text: string) => Object.fromEntries(namedIn(text, new Set(["AB-1", "AB-2"])));
  it("are found by the title of the test around its id", () =>
    expect(
      named('describe("a", () => {\n  it("is seen", () => {\n    expect(ids).toContain("AB-1");\n  });\n});'),
    ).toEqual({
      "AB-1": ["is seen"],
    }));
  it("are found behind the list of cases of one test", () =>
    expect(
      named('it.each([\n  ["x", "AB-1"],\n  ["y", "AB-2"],\n])("%s is seen", (a, id) => {\n  go(id);\n});'),
    ).toEqual({
      "AB-1": ["%s is seen"],
      "AB-2": ["%s is seen"],
    }));
  it("have a title on the next line where the first is too long", () =>
    expect(named('it(\n  "a \\"long\\" title",\n  () => expect(x).toBe("AB-1"),\n);')).toEqual({
      "AB-1": ['a "long" title'],
    }));
  it("have no title where the id stands among the data of the file", () =>
    expect(named('const CASES = [\n  ["AB-1"],\n];\nit("is seen", () => {\n  go(CASES);\n});')).toEqual({
      "AB-1": [],
    }));
  it("do not take a word in a sentence, or another rule, for the rule", () =>
    expect(named('it("a", () => {\n  say("AB-1 is a rule");\n  go("AB-12");\n});')).toEqual({}));
  it("are read from the real files: the clean open fracture is named by its test of reasons and sources", () => {
    const tests = testsOfRules(["OW3"]).get("OW3")!;
    expect(tests.map((t) => t.file)).toContain("tests/pathway/hand/wound.test.ts");
    expect(tests.find((t) => t.file === "tests/pathway/hand/wound.test.ts")!.titles).toContain(
      "an open fracture beyond the tuft is seen within 24 hours",
    );
  });
});

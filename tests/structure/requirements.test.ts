import { describe, expect, it } from "vitest";
import { REQUIREMENTS } from "./requirements.ts";
import { counted, coverage } from "./requirements-covered.ts";
import { allTestTitles, bareTitle, numbersOf, strayNumbers, titlesIn } from "./test-titles.ts";

const range = (prefix: string, from: number, to: number, digits = 1) =>
  Array.from({ length: to - from + 1 }, (_, i) => `${prefix}${String(from + i).padStart(digits, "0")}`);

describe("requirements", () => {
  const { rows, problems } = coverage(allTestTitles());
  it("that apply each have a test whose name carries the number, or a word on what is missing", () => {
    console.log(counted(rows));
    expect(problems).toEqual([]);
  });
  it("are all listed, none left out of a family", () => {
    const short = { L: 14, S: 6, R: 15, D: 14, X: 5, I: 8, P: 8, W: 7 };
    const long = { "SEC-": 28, "REL-": 47, "SAF-": 20 };
    expect(Object.keys(REQUIREMENTS)).toEqual([
      ...Object.entries(short).flatMap(([family, last]) => range(family, 1, last)),
      ...range("SEC-", 1, long["SEC-"], 2),
      ...range("REL-", 1, long["REL-"], 2),
      ...range("INV-", 1, 6),
      ...range("SAF-", 1, long["SAF-"], 2),
      ...range("GATE-", 1, 20, 2),
    ]);
  });
  it("are said in a sentence, and what is missing or does not apply has its reason", () => {
    const sentence = /^\S.{8,}[.]$/;
    const odd = Object.entries(REQUIREMENTS).filter(([, { says, missing, notApplicable }]) =>
      [says, missing, notApplicable].some((words) => words !== undefined && !sentence.test(words)),
    );
    expect(odd.map(([number]) => number)).toEqual([]);
  });
});

describe("a gap in the requirements is found", () => {
  const test = (title: string, ...within: string[]) => ({ file: "tests/a.test.ts", title, within, cases: [] });
  const said = { says: "Something holds." };
  it("a requirement without a test and without a word on it", () =>
    expect(coverage([], { L1: said }).problems).toEqual(["L1: no test names it, and no word on what is missing"]));
  it("a number that nobody knows", () =>
    expect(coverage([test("L9 opens")], {}).problems).toEqual([
      'tests/a.test.ts: "L9 opens": there is no requirement L9',
    ]));
  it("a number in the middle of a title, where it would be overlooked", () =>
    expect(coverage([test("opens (SEC-01)")], {}).problems).toEqual([
      'tests/a.test.ts: "opens (SEC-01)": SEC-01 counts at the beginning of a title only',
    ]));
  it("a test for what does not apply", () =>
    expect(coverage([test("L1 opens")], { L1: { ...said, notApplicable: "None." } }).problems).toHaveLength(1));
  it("and a test that names its number, or stands in a group that does, covers it", () => {
    const standing = (missing?: string, ...titles: ReturnType<typeof test>[]) =>
      coverage(titles, { L1: { ...said, ...(missing ? { missing } : {}) } }).rows.map((r) => r.standing);
    expect(standing(undefined, test("L1 opens"))).toEqual(["covered"]);
    expect(standing(undefined, test("opens", "L1: a launch"))).toEqual(["covered"]);
    expect(standing("More.", test("L1 opens"))).toEqual(["part"]);
    expect(standing("More.")).toEqual(["open"]);
  });
});

describe("numbers in a title", () => {
  it.each([
    ["R4 REL-10 films that are %s are their own state", ["R4", "REL-10"], "films that are %s are their own state"],
    ["L1, SEC-01: an unknown issuer stops", ["L1", "SEC-01"], "an unknown issuer stops"],
    ["create (R4 http.html#create)", [], "create (R4 http.html#create)"],
    ["W1A is no number", [], "W1A is no number"],
    ["G1: a child with an open growth plate", [], "G1: a child with an open growth plate"],
  ])("%s", (title, numbers, bare) => {
    expect(numbersOf(title)).toEqual(numbers);
    expect(bareTitle(title)).toBe(bare);
    expect(strayNumbers(title)).toEqual([]);
  });
});

describe("titles of a test file", () => {
  const read = (text: string) => titlesIn("tests/a.test.tsx", text).map(({ title, within }) => [...within, title]);
  it("are read with the groups around them, however they are written", () =>
    expect(
      read(
        [
          'describe("a", () => {',
          '  it("b \\"c\\"", () => go());',
          "  it.each([[1]])(`d %s`, (x) => go(x));",
          // biome-ignore lint/suspicious/noTemplateCurlyInString: the file under test holds a template
          "  it(`e ${f}`, async () => go());",
          "  for (const x of y) it(x.name, () => go());",
          "});",
          'describe.each`g`("h $g", () => it("i", function () {}));',
        ].join("\n"),
      ),
    ).toEqual([
      ["a", 'b "c"'],
      ["a", "d %s"],
      ["a", "e $" + "{f}"],
      ["a", "x.name"],
      ["h $g", "i"],
    ]));
  it("bring the requirement numbers of their cases along", () => {
    const text =
      'it.each([["REL-40 is down", 1], { name: "L1 is no long number" }])("nothing is sent when %s", () => go());';
    expect(titlesIn("tests/a.test.ts", text)[0]?.cases).toEqual(["REL-40 is down"]);
  });
  it("are not made of other calls, or of a list of cases", () =>
    expect(read('expect("a", () => 1); it.each([["b", () => 1]]); test.fails;')).toEqual([]));
});

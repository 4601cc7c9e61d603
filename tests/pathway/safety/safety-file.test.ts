import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, it } from "vitest";
import { testsOfRules } from "../../../src/cli/rule-tests.ts";
import { anchorsOf, blocksOf, type Entry, plain } from "../../../src/pathway/book/blocks.ts";
import { type MadeBook, makeBook, toMarkdown } from "../../../src/pathway/book/index.ts";
import { KNOWLEDGE_VERSION } from "../../../src/pathway/index.ts";
import {
  type Hazard,
  type Level,
  NEEDS_DESIGN,
  NOT_RELEASED,
  riskOf,
  SAFETY_FILE,
  safetyProblems,
  testsNotThere,
} from "../../../src/pathway/safety/index.ts";
import { allTestTitles, bareTitle } from "../../structure/test-titles.ts";

const CHANGES = readFileSync("src/pathway/CHANGES.md", "utf8");
const { hazards } = SAFETY_FILE;

let made: MadeBook;
beforeAll(() => {
  made = makeBook({ changeLog: CHANGES, tests: testsOfRules });
});
const rules = () => [...made.knowledge.tables.flatMap((t) => t.rules), ...made.knowledge.figures];

describe("the clinical safety file", () => {
  it("has no empty field, no hazard without a control, no serious harm without one in the design, no risk left too high", () => {
    expect(hazards.length).toBeGreaterThan(20);
    expect(safetyProblems(SAFETY_FILE)).toEqual([]);
  });
  it("names for each control a test that exists", () => {
    const titles = new Map<string, Set<string>>();
    for (const { file, title } of allTestTitles())
      titles.set(file, (titles.get(file) ?? new Set()).add(bareTitle(title)));
    expect(testsNotThere(SAFETY_FILE, titles)).toEqual([]);
  });
  it("names only rules that there are", () => {
    const known = new Set(rules().map((r) => r.id));
    expect(hazards.flatMap((h) => h.rules ?? []).filter((id) => !known.has(id))).toEqual([]);
  });
  it("numbers its hazards without a gap", () =>
    expect(hazards.map((h) => h.id)).toEqual(hazards.map((_, i) => `H${String(i + 1).padStart(2, "0")}`)));
  it("keeps a change log of the knowledge that tells of the version in use", () =>
    expect(CHANGES).toContain(`\n## ${KNOWLEDGE_VERSION}\n`));
});

describe("traceability", () => {
  it("leads from every rule to a source that speaks for it", () => {
    const bare = made.knowledge.tables
      .flatMap((t) => t.rules)
      .filter((r) => !r.variants.every((v) => v.says.sources.some((c) => c.says === "for")));
    expect(bare.map((r) => r.id)).toEqual([]);
    expect(made.knowledge.figures.filter((f) => f.sources.length === 0).map((f) => f.id)).toEqual([]);
  });
  it("leads from every rule to a test that names it or makes it speak", () => {
    const tests = testsOfRules(rules().map((r) => r.id));
    expect(
      rules()
        .filter((r) => !tests.has(r.id))
        .map((r) => r.id),
    ).toEqual([]);
  });
  it("stands in the book with one line for each rule", () => {
    const traced = anchorsOf(made.book).filter((a) => a.startsWith("trace-"));
    expect(traced.sort()).toEqual(
      rules()
        .map((r) => `trace-${r.id}`)
        .sort(),
    );
  });
});

describe("the safety chapters of the book", () => {
  const entryOf = (id: string): Entry => {
    const [found] = blocksOf(made.book).flatMap((b) =>
      "entry" in b && b.entry.anchor === `hazard-${id}` ? [b.entry] : [],
    );
    return found!;
  };
  it("come without a dead link or an inner name", () => expect(made.problems).toEqual([]));
  it("say of the flexor that is missed why it happens, how it is kept from happening, and which test shows it", () => {
    const flexor = hazards.find((h) => h.hazard.includes("deep flexor"))!;
    const rows = Object.fromEntries(
      entryOf(flexor.id).rows.map((row) => [
        row.label,
        row.blocks.flatMap((b) => ("p" in b ? [plain(b.p)] : "list" in b ? b.list.map(plain) : [])).join(" / "),
      ]),
    );
    expect(rows.Causes).toContain("The film is normal.");
    expect(rows.Risk).toBe("3 (major, medium) without its controls; 2 (major, very low) with them: acceptable.");
    expect(rows.Controls).toContain("By design: A lost deep flexor is never routine.");
    expect(rows.Controls).toContain("“G2: a lost deep flexor is never routine” tests/pathway/guards.test.ts");
  });
  it("tell what the program is not for, and that nobody has signed the file", () => {
    const markdown = toMarkdown(made.book);
    expect(markdown).toContain("Reading images: no picture is fetched or analysed");
    expect(markdown).toContain("nobody has signed this file");
  });
});

describe("a gap in the safety file is found", () => {
  const [shownBy] = hazards[0]!.controls;
  const good: Hazard = { ...hazards[0]!, id: "H99" };
  const problems = (change: Partial<Hazard>) => safetyProblems({ ...SAFETY_FILE, hazards: [{ ...good, ...change }] });
  it("and without one there is none", () => expect(problems({})).toEqual([]));
  it.each<[string, Partial<Hazard>, RegExp]>([
    ["an empty harm", { harm: " " }, /^H99, harm: is empty$/],
    ["no cause", { causes: [] }, /^H99, causes: has none$/],
    ["no control", { controls: [] }, /^H99, controls: has none$/],
    ["a control that no test shows", { controls: [{ ...shownBy!, shownBy: [] }] }, /^H99: no test shows that/],
    ["a warning alone", { controls: [{ ...shownBy!, kind: "information" }] }, /^H99: nothing in the design/],
    ["controls that make it likelier", { before: 1, after: 2 }, /^H99: is called more likely/],
    ["a high risk that is left", { severity: 5, before: 3, after: 2 }, /^H99: a risk of 4 is left$/],
  ])("%s", (_, change, problem) => expect(problems(change)).toContainEqual(expect.stringMatching(problem)));
  it("a control that no test shows is one gap, told once", () => {
    const gaps = problems({ controls: [...good.controls, { ...shownBy!, does: "It is hoped for.", shownBy: [] }] });
    expect(gaps).toEqual(["H99: no test shows that “It is hoped for.”"]);
  });
  it("a hazard named twice", () =>
    expect(safetyProblems({ ...SAFETY_FILE, hazards: [good, good] })).toEqual(["H99: is named twice"]));
  it("a test that is no longer there", () =>
    expect(testsNotThere({ ...SAFETY_FILE, hazards: [good] }, new Map())).toContainEqual(
      expect.stringMatching(/^H99: tests\/.* has no test/),
    ));
});

describe("the risk matrix", () => {
  it("never falls when harm or likelihood grows", () => {
    const levels: readonly Level[] = [1, 2, 3, 4, 5];
    for (const fixed of levels)
      levels.slice(1).forEach((more, i) => {
        const less = levels[i]!;
        expect(riskOf(fixed, more)).toBeGreaterThanOrEqual(riskOf(fixed, less));
        expect(riskOf(more, fixed)).toBeGreaterThanOrEqual(riskOf(less, fixed));
      });
    expect([riskOf(1, 1), riskOf(3, 3), riskOf(5, 2), riskOf(5, 5)]).toEqual([1, 3, 4, 5]);
    expect(NEEDS_DESIGN).toBeLessThan(NOT_RELEASED);
  });
});

import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { anchorsOf, blocksOf, type Entry, plain } from "../../../src/pathway/book/blocks.ts";
import { makeBook, toHtml, toMarkdown } from "../../../src/pathway/book/index.ts";
import { numberWords, spanWords } from "../../../src/pathway/book/words.ts";
import { against, cite, commonPractice } from "../../../src/pathway/evidence/citation.ts";
import { SOURCES } from "../../../src/pathway/evidence/sources.ts";
import type { Effect } from "../../../src/pathway/hand/effects.ts";
import { type InjuryModule, KNOWLEDGE_VERSION, MODULES, POLICY_DEFINITIONS } from "../../../src/pathway/index.ts";
import type { PolicyDefinitions, SitePolicy } from "../../../src/pathway/policy/policy-value.ts";
import { choice, quantity } from "../../../src/pathway/reasoning/finding.ts";
import { from, under } from "../../../src/pathway/reasoning/table.ts";

const CHANGES = readFileSync("src/pathway/CHANGES.md", "utf8");
const RELEASED = readFileSync("src/pathway/book/released-0.1.0.jsonl", "utf8");
const make = (parts: Partial<Parameters<typeof makeBook>[0]> = {}) =>
  makeBook({ changeLog: CHANGES, tests: () => new Map(), ...parts });
type Made = ReturnType<typeof makeBook>;
/** The rows of one entry as text. */
function rowsOf({ book }: Made, anchor: string): Record<string, string> {
  const found = blocksOf(book).flatMap((b) => ("entry" in b && b.entry.anchor === anchor ? [b.entry] : []));
  expect(found).toHaveLength(1);
  const text = (rows: Entry["rows"]) =>
    Object.fromEntries(
      rows.map((row) => [
        row.label,
        row.blocks.flatMap((b) => ("p" in b ? [plain(b.p)] : "list" in b ? b.list.map(plain) : [])).join(" / "),
      ]),
    );
  return text(found[0]!.rows);
}
const times = (text: string, part: string) => text.split(part).length - 1;

describe("the book of the shipped rules", () => {
  const made = make({ released: RELEASED });
  const html = toHtml(made.book);
  const markdown = toMarkdown(made.book);
  const policyWith = (set: SitePolicy["values"]): SitePolicy => ({
    site: "",
    approvedBy: "",
    approvedOn: "",
    values: { ...Object.fromEntries(Object.entries(POLICY_DEFINITIONS).map(([k, d]) => [k, d.value])), ...set },
  });
  const everyId = () => {
    const schemes = ["US", "UK", "AU"].map((scheme) => policyWith({ "hand.tetanusScheme": scheme }));
    const rules = MODULES.flatMap((m) => schemes.flatMap((p) => m.tables(p).flatMap((t) => t.rules.map((r) => r.id))));
    return [
      ...[...new Set(rules)].map((id) => `rule-${id}`),
      ...MODULES.flatMap((m) => m.signs(policyWith({})).map((s) => `sign-${s.name}`)),
      ...MODULES.flatMap((m) => m.questions.map((q) => `question-${q.finding}`)),
      ...MODULES.flatMap((m) => Object.keys(m.classes).map((id) => `class-${id}`)),
      ...Object.keys(SOURCES).map((id) => `source-${id}`),
      ...Object.keys(POLICY_DEFINITIONS).map((key) => `policy-${key}`),
    ];
  };

  it("has no gap, no dead link, no value without words and no inner name", () => {
    expect(made.problems).toEqual([]);
  });
  it("holds every rule of every tetanus scheme, every sign, question, class, source and site value exactly once", () => {
    expect(everyId().length).toBeGreaterThan(700);
    expect(everyId().filter((id) => times(html, ` id="${id}"`) !== 1)).toEqual([]);
    expect(everyId().filter((id) => times(markdown, `<a id="${id}"></a>`) !== 1)).toEqual([]);
  });
  it("says first that it supports licensed clinicians, that local policy prevails, and its version", () => {
    const top = html.slice(0, html.indexOf("<nav"));
    expect(top).toContain("Decision support for licensed clinicians.");
    expect(top).toContain("Local policy prevails");
    expect(top).toContain(`Knowledge version ${KNOWLEDGE_VERSION}.`);
  });
  it("puts emergencies before classes, classes before treatment, treatment before follow-up and advice", () => {
    const stages = made.book.sections.map((s) => s.anchor);
    const order = ["stage-emergencies", "stage-first-minutes", "stage-class", "stage-urgency", "stage-treatment"];
    const wanted = [...order, "stage-splint", "stage-follow-up", "stage-advice", "signs", "sources", "changes"];
    expect(stages.filter((s) => wanted.includes(s))).toEqual(wanted);
  });
  it("says of an open fracture beyond the tuft when it holds, what follows, why, who says so and on which site value it rests", () => {
    const rows = rowsOf(made, "rule-OW3");
    expect(rows.When).toContain("open fracture: yes");
    expect(rows.When).toContain("tuft fracture alone: no");
    expect(rows.Then).toContain("Urgency: Same day.");
    expect(rows.Sources).toContain("HandStands 2");
    expect(rows.Sources).toContain("Guideline, official label or law");
    expect(rows["Site values"]).toContain("hand.washoutHours: 24 hours");
  });
  it("shows with the clean open fracture who disagrees, and that it is said only where the site keeps the switch at never", () => {
    const rows = rowsOf(made, "rule-AB2");
    expect(rows.Dissent).toContain("up to 72 h or until closure");
    expect(rows["Only with"]).toBe("hand.openShaftAntibiotic = never");
    expect(rowsOf(made, "rule-TET-UK-3")["Only with"]).toBe("hand.tetanusScheme = UK");
  });
  it("shows the anaesthetic ceiling of an adult of 70 kg worked out", () => {
    expect(rowsOf(made, "rule-LA1").Example).toContain("300 mg = 30 mL of 1 %");
  });
  it("shows each number of a site in bounds, with who uses it", () => {
    const row = html.slice(html.indexOf('<tr id="policy-hand.washoutHours">')).split("</tr>")[0]!;
    expect(row).toContain("6 to 24 hours");
    expect(row).toContain('href="#rule-OW3"');
  });
  it("is one file without script or anything loaded from elsewhere", () => {
    expect(html).not.toMatch(/<script|<link|<img|<iframe|\bsrc=|@import|url\(/i);
    expect(html).toContain("default-src 'none'");
    expect(html).toContain('<meta name="color-scheme" content="light dark">');
    expect(html).toContain("@media print");
  });
  it("comes out the same, byte for byte, when it is made again", () => {
    const again = make({ released: RELEASED });
    expect(toHtml(again.book)).toBe(html);
    expect(toMarkdown(again.book)).toBe(markdown);
    expect(again.snapshot).toBe(made.snapshot);
  });
  it("compares itself with a released version", () => {
    expect(markdown).toContain("Compared with the rules of 0.1.0");
    expect(anchorsOf(made.book)).toContain("changes");
  });
});

describe("limits in words", () => {
  it.each([
    [from(2), "mm", "2 mm or more"],
    [under(33.3), "%", "less than 33.3 %"],
    [from(33.3, 66.7 + 1e-6), "%", "33.3 % or more and not more than 66.7 %"],
    [from(66.7 + 1e-6), "%", "more than 66.7 %"],
    [from((6 * 7) / 365.25), "years", "6 weeks or more"],
    [under(10 + 1 / 365.25), "years", "less than 10 years and 1 day"],
  ])("%j in %s is said as a clinician says it", (span, unit, words) => {
    const finite = {
      ...(Number.isFinite(span.from) ? { from: span.from } : {}),
      ...(Number.isFinite(span.under) ? { under: span.under } : {}),
    };
    expect(spanWords(finite, unit)).toBe(words);
  });
  it("a part of a year that is neither whole weeks nor whole days stays a number of years", () =>
    expect(numberWords(2.1234567, "years")).toBe("2.123 years"));
  it("one of a unit is singular", () => expect(numberWords(1, "hours")).toBe("1 hour"));
});

/** A small injury in which faults can be planted. */
const VALUES = {
  "toy.limitMm": { type: "number", value: 2, unit: "mm", min: 1, max: 3, sources: [commonPractice], note: "Limit." },
  "toy.scheme": {
    type: "choice",
    value: "north",
    options: ["north", "south"],
    sources: [commonPractice],
    note: "Scheme.",
  },
} as const satisfies PolicyDefinitions;
type ToyRule = ReturnType<InjuryModule["tables"]>[number]["rules"][number];
const toyRule = (id: string, when: object, say: string, more: Partial<ToyRule> = {}): ToyRule => ({
  id,
  when,
  then: [{ kind: "warn", say } as Effect],
  because: "So it is agreed.",
  sources: [cite("HS2", "G"), against("KET17", "B", "says otherwise")],
  ...more,
});
function toy(change: Partial<InjuryModule> = {}, rules: readonly ToyRule[] = []): InjuryModule {
  return {
    id: "toy",
    title: "Toy injury",
    findings: { colour: choice("digit", "deep-red", "blue"), stepMm: quantity("digit", "mm", 0, 9) },
    questions: [
      {
        finding: "colour",
        scope: "digit",
        wording: "Which colour?",
        options: [
          { value: "deep-red", label: "Red" },
          { value: "blue", label: "Blue" },
        ],
        chartMayPropose: false,
      },
      { finding: "stepMm", scope: "digit", wording: "Step", chartMayPropose: false },
    ],
    groups: [{ id: "all", title: "All", findings: ["colour", "stepMm"], quick: [] }],
    policy: VALUES,
    classes: { TOY: { name: "Toy class", definition: "A toy." } },
    signs: (p) => [{ name: "bigStep", words: "big step", any: [{ stepMm: from(p.values["toy.limitMm"] as number) }] }],
    tables: (p) => [
      {
        id: "toy",
        question: "What of it?",
        answers: "every",
        rules: [
          toyRule("TOY-1", { colour: "deep-red", bigStep: "yes" }, "Look again."),
          ...(p.values["toy.scheme"] === "south" ? [toyRule("TOY-2", { colour: "blue" }, "Only in the south.")] : []),
          ...rules,
        ],
      },
    ],
    figures: () => ({ anaesthetic: [], needs: [] }),
    ...change,
  };
}
const toyBook = (module: InjuryModule, parts: Partial<Parameters<typeof makeBook>[0]> = {}) =>
  make({ modules: [module], definitions: VALUES, ...parts });
/** Sources that no toy rule cites are links nowhere used; they are no fault. */
const faults = (module: InjuryModule) => toyBook(module).problems;

describe("a planted fault is found", () => {
  it("and without one there is none", () => expect(faults(toy())).toEqual([]));
  it("an answer without words is named", () => {
    const { questions } = toy();
    const bare = questions.map((q) =>
      q.finding === "colour" ? { ...q, options: [{ value: "blue", label: "Blue" }] } : q,
    );
    expect(faults(toy({ questions: bare }))).toContain('there are no words: words for the answer "deep-red" of colour');
  });
  it("a finding without a question is named, both as a gap and where a rule reads it", () => {
    const found = faults(toy({ questions: toy().questions.filter((q) => q.finding !== "colour") }));
    expect(found).toContain("question for colour is missing");
    expect(found).toContain("there are no words: the question for colour");
  });
  it("a class that is given but not described is named", () => {
    const rule = toyRule("TOY-9", {}, "", { then: [{ kind: "class", class: "GONE" } as Effect] });
    expect(faults(toy({}, [rule]))).toContain('there are no words: the description of the class "GONE"');
  });
  it("a rule that stands in two tables is named", () => {
    const twice = toy();
    const tables: InjuryModule["tables"] = (p) => twice.tables(p).flatMap((t) => [t, { ...t, id: "again" }]);
    expect(faults({ ...twice, tables })).toContain("rule-TOY-1 stands 2 times");
  });
  it("the inner name of a finding, and a value as the code writes it, in what a clinician reads", () => {
    const found = faults(
      toy({}, [toyRule("TOY-8", {}, "When bigStep or a stepMm-wide gap is deep-red, under 0.01 mGy and 2 mL.")]),
    );
    expect(found).toContain('TOY-8 shows the inner name "bigStep"');
    expect(found).toContain('TOY-8 shows the inner name "stepMm-wide"');
    expect(found).toContain('TOY-8 shows the inner name "deep-red"');
    expect(found).toHaveLength(3);
  });
});

describe("what a book says of a small injury", () => {
  it("a condition reads as question and answer, a sign by its words, and a limit through the sign", () => {
    const rows = rowsOf(toyBook(toy()), "rule-TOY-1");
    expect(rows.When).toBe("Which colour? Red / big step: yes");
    expect(rows["Site values"]).toBe("toy.limitMm: 2 mm (through a sign)");
    expect(rowsOf(toyBook(toy()), "sign-bigStep")["Yes when"]).toBe("Step: 2 mm or more");
  });
  it("a table is headed by a choice only when its rules do not exist under the others", () => {
    const tabled = (id: string, rules: (scheme: string) => readonly ToyRule[]) =>
      toy({
        tables: (p) => [
          { id, question: "What of it?", answers: "every", rules: rules(String(p.values["toy.scheme"])) },
        ],
      });
    const heading = (module: InjuryModule) => /^### .*What of it\?.*$/m.exec(toMarkdown(toyBook(module).book))?.[0];
    const south = tabled("toy", (scheme) =>
      scheme === "south" ? [toyRule("TOY-2", { colour: "blue" }, "South.")] : [],
    );
    expect(heading(south)).toMatch(/What of it\? \(south\)$/);
    const worded = tabled("toy", (scheme) => [toyRule("TOY-3", { colour: "blue" }, `As they say in the ${scheme}.`)]);
    expect(heading(worded)).toMatch(/What of it\?$/);
  });
  it("a rule that only one choice of a site brings in is there and says so", () =>
    expect(rowsOf(toyBook(toy()), "rule-TOY-2")["Only with"]).toBe("toy.scheme = south"));
  it("the tests that name a rule stand with it, and a rule that no test covers says so and is counted", () => {
    const tests = () => new Map([["TOY-1", [{ file: "tests/toy.test.ts", titles: ["a red toy is looked at again"] }]]]);
    const made = toyBook(toy(), { tests });
    expect(rowsOf(made, "rule-TOY-1").Tests).toBe("“a red toy is looked at again” tests/toy.test.ts");
    expect(rowsOf(made, "rule-TOY-2").Tests).toContain("No test");
    expect(toMarkdown(made.book)).toContain("make speak: 1");
  });
  it("text from a rule never becomes markup", () => {
    const hostile = `<script>alert("x")</script> [a](b) *c* | \`d\` & 'e'`;
    const { book } = toyBook(toy({}, [toyRule("TOY-7", {}, hostile, { because: hostile })]));
    const html = toHtml(book);
    expect(html).not.toContain("<script");
    expect(html).toContain("&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt; [a](b) *c* | `d` &amp; &#39;e&#39;");
    expect(toMarkdown(book)).toContain('\\<script\\>alert("x")\\</script\\> \\[a\\](b) \\*c\\* \\| \\`d\\`');
  });
});

describe("changes since a released version", () => {
  const before = toyBook(
    toy({}, [toyRule("TOY-5", { colour: "blue" }, "Wait."), toyRule("TOY-6", {}, "Leave it.")]),
  ).snapshot;
  const now = toy({}, [toyRule("TOY-5", { colour: "deep-red" }, "Wait."), toyRule("TOY-4", {}, "New.")]);
  const said = toMarkdown(toyBook(now, { released: before }).book);
  it("count what was added, changed and taken out", () =>
    expect(said).toContain("Rules: 1 added, 1 changed, 1 taken out"));
  it("say of a changed rule what it was and what it is", () => {
    expect(said).toContain("**When, was:** Which colour? Blue");
    expect(said).toContain("**When, now:** Which colour? Red");
    expect(said).not.toContain("Because, was");
  });
  it("link what was added, and say what a rule that was taken out had said", () => {
    expect(said).toContain("Added: [TOY-4](#rule-TOY-4)");
    expect(said).toContain("Taken out: **TOY-6**. Warning: Leave it.");
  });
  it("a question that is only worded anew is one change, not one for each rule that reads it", () => {
    const { questions } = toy();
    const reworded = toy({
      questions: questions.map((q) => (q.finding === "colour" ? { ...q, wording: "What colour?" } : q)),
    });
    const changes = toMarkdown(toyBook(reworded, { released: toyBook(toy()).snapshot }).book);
    expect(changes).toContain("Questions: 0 added, 1 changed, 0 taken out");
    expect(changes).not.toContain("Rules: 0 added");
  });
  it("a question that is asked once for the patient, or that a chart may now propose, is a change", () => {
    const asked = toy({
      questions: toy().questions.map((q) =>
        q.finding === "colour" ? { ...q, scope: "patient", chartMayPropose: true } : q,
      ),
    });
    const changes = toMarkdown(toyBook(asked, { released: toyBook(toy()).snapshot }).book);
    expect(changes).toContain("**Asked, was:** For each injured digit");
    expect(changes).toContain("**Asked, now:** Once for the patient");
    expect(changes).toContain("**From the chart, was:** never proposed");
    expect(changes).toContain("**From the chart, now:** may be proposed");
  });
  it("a number that may no longer exceed another is a change", () => {
    const released = toyBook(toy()).snapshot;
    const ordered = { ...VALUES, "toy.limitMm": { ...VALUES["toy.limitMm"], notAbove: "toy.otherMm" } } as const;
    const definitions = { ...ordered, "toy.otherMm": { ...VALUES["toy.limitMm"], value: 3 } } as const;
    const changes = toMarkdown(toyBook(toy({ policy: definitions }), { released, definitions }).book);
    expect(changes).toContain("**Never above, was:** nothing");
    expect(changes).toContain("**Never above, now:** toy.otherMm");
  });
  describe("of a worked figure", () => {
    const dosed = (mg: number) =>
      toy({
        figures: ({ stepMm }) => ({
          anaesthetic:
            stepMm === undefined && mg > 0
              ? [{ rule: "TOY-F", text: `${mg} mg.`, because: "By weight.", sources: [commonPractice] }]
              : [],
          needs: [],
        }),
        findings: {
          ...toy().findings,
          ageYears: quantity("patient", "years", 0, 99),
          weightKg: quantity("patient", "kg", 1, 99),
        },
      });
    const since = (before: InjuryModule, after: InjuryModule) =>
      toMarkdown(toyBook(after, { released: toyBook(before).snapshot }).book);
    it("another dose is a change, with the patient for whom it is worked out", () => {
      const changes = since(dosed(3), dosed(4));
      expect(changes).toContain("Figures: 0 added, 1 changed, 0 taken out");
      expect(changes).toContain("**Examples, was:** 0.25 years, 6 kg: 3 mg.");
      expect(changes).toContain("**Examples, now:** 0.25 years, 6 kg: 4 mg.");
    });
    it("one that is the same is none, and one that is gone is taken out", () => {
      expect(since(dosed(3), dosed(3))).toContain("No rule, sign, question, class or value differs");
      expect(since(dosed(3), dosed(0))).toContain("Figures: 0 added, 0 changed, 1 taken out");
    });
    it("is not called new when the older version did not write its figures down", () => {
      const changes = since(dosed(0), dosed(3));
      expect(changes).toContain("Figures: not written down with that version, so not compared.");
      expect(changes).not.toContain("Added: [TOY-F]");
    });
  });
  it("are none when a version is compared with itself", () =>
    expect(toMarkdown(toyBook(toy(), { released: toyBook(toy()).snapshot }).book)).toContain(
      "No rule, sign, question, class or value differs from that version.",
    ));
  it("a snapshot without its version is refused", () =>
    expect(() => toyBook(toy(), { released: "{}\n" })).toThrow("names its version"));
});

import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import type { Block, Book } from "../../../src/pathway/book/blocks.ts";
import { type BookParts, makeBook, toHtml, toMarkdown } from "../../../src/pathway/book/index.ts";
import { KNOWN_LIMITS } from "../../../src/pathway/book/known-limits.ts";
import { against, cite, commonPractice, fromMemory } from "../../../src/pathway/evidence/citation.ts";
import { SOURCES } from "../../../src/pathway/evidence/sources.ts";
import type { Effect } from "../../../src/pathway/hand/effects.ts";
import type { EffectTable, InjuryModule } from "../../../src/pathway/module.ts";
import type { PolicyDefinitions, SitePolicy } from "../../../src/pathway/policy/policy-value.ts";
import { choice, quantity } from "../../../src/pathway/reasoning/finding.ts";
import type { AnySign } from "../../../src/pathway/reasoning/program.ts";
import { from, under } from "../../../src/pathway/reasoning/table.ts";
import { KNOWLEDGE_VERSION } from "../../../src/pathway/version.ts";

/*
 * A whole book of an invented injury of a teapot, small enough to be read from end to end: one rule for each kind of thing a rule can say,
 * each flag of a table, values and switches of a site, worked figures, and a change log. What the book must say of it stands beside this
 * file, once as Markdown and once as HTML, and was read line by line. No clinical content.
 */
const days = (value: number) =>
  ({ type: "number", value, unit: "days", min: 1, max: 20, sources: [commonPractice], note: "A window." }) as const;
const VALUES = {
  "teapot.crackMm": {
    type: "number",
    value: 2,
    unit: "mm",
    min: 1,
    max: 3,
    notAbove: "teapot.gapMm",
    sources: [cite("AAFP22", "C", "table 2."), against("KET17", "B")],
    note: "From here a crack is wide.",
  },
  "teapot.gapMm": {
    type: "number",
    value: 5,
    unit: "mm",
    min: 5,
    max: 6,
    sources: [commonPractice],
    note: "From here a crack is a gap.",
  },
  "teapot.glueMl": { type: "number", value: 1, unit: "mL", min: 1, max: 2, sources: [fromMemory], note: "Glue." },
  "hand.clinicWithinDays": days(7),
  "hand.routineFromDays": days(7),
  "hand.routineToDays": days(14),
  "hand.nextDayWithinDays": days(1),
  "teapot.school": {
    type: "choice",
    value: "north",
    options: ["north", "south"],
    sources: [commonPractice],
    note: "Who teaches mending.",
  },
  "teapot.glaze": {
    type: "choice",
    value: "clear",
    options: ["clear", "white", "none"],
    sources: [commonPractice],
    note: "What it is covered with.",
  },
} as const satisfies PolicyDefinitions;

type Rules = EffectTable["rules"];
const rule = (id: string, when: object, then: readonly Effect[], more: Partial<Rules[number]> = {}): Rules[number] => ({
  id,
  when,
  then,
  because: `Reason of ${id}.`,
  sources: [cite("HS2", "G")],
  ...more,
});
const warn = (say: string): Effect => ({ kind: "warn", say });
const isNumber = (policy: SitePolicy, key: keyof typeof VALUES) => policy.values[key] as number;
const tables = (policy: SitePolicy): EffectTable[] => {
  const south = policy.values["teapot.school"] === "south";
  return [
    {
      id: "G",
      question: "Is anybody scalded?",
      answers: "every",
      gate: true,
      rules: [
        rule("G-1", { scald: ["large", "small"] }, [
          {
            kind: "exit",
            exit: "SCALD",
            title: "Scald",
            urgency: "NOW",
            sendTo: "burns service",
            say: "Cool it.",
            leaves: true,
          },
          {
            kind: "exit",
            exit: "COLD",
            title: "Cold tea",
            urgency: "W1",
            sendTo: "kitchen",
            say: "Warm it.",
            leaves: false,
            means: "The kitchen warms it this week.",
          },
        ]),
      ],
    },
    {
      id: "Q",
      question: "Is the record good?",
      answers: "every",
      checks: true,
      rules: [
        rule("Q-1", { crackMm: under(0.5), spout: "whole" }, [
          { kind: "quality", say: "Measure again.", blocks: true },
          { kind: "quality", say: "Say who measured.", blocks: false },
          warn("Too small to see."),
        ]),
      ],
    },
    {
      id: "A",
      question: "What else of the record?",
      answers: "every",
      rules: [rule("A-1", {}, [warn("Handle with care."), { kind: "task", say: "Note the maker." }])],
    },
    {
      id: "C",
      question: "Which break?",
      answers: "one",
      rules: [
        rule("C-1", { wideCrack: "yes" }, [{ kind: "class", class: "WIDE" }], {
          assume: { column: "wideCrack", say: "Until it is measured:" },
          sources: [commonPractice],
        }),
        rule("C-2", { wideCrack: "no" }, [{ kind: "class", class: "FINE" }], {
          sources: [fromMemory, commonPractice, against("HS2", "G", "says it is wide"), against("KET17", "B")],
        }),
        rule("C-3", { lid: "lost" }, [
          { kind: "class", class: "WIDE" },
          { kind: "class", class: "NAMED" },
        ]),
      ],
    },
    {
      id: "U",
      question: "How urgent?",
      answers: "every",
      ordinary: true,
      rules: [
        rule("U-1", { colour: ["red", "blue", "green", "black", "white"], crackMm: from(1, 4 + 1e-6) }, [
          { kind: "urgency", urgency: "D1", say: "Tomorrow." },
          { kind: "urgency", urgency: "R2", say: "Later.", means: "The potter looks when there is time." },
        ]),
      ],
    },
    {
      id: "B",
      question: "Is anything given?",
      answers: "every",
      rules: [
        rule("B-1", { spout: "broken", crackMm: from(isNumber(policy, "teapot.gapMm")) }, [
          { kind: "antibiotic", decision: "not-routinely", say: "Only if mouldy." },
          { kind: "antibiotic-class", choose: "vinegar", avoid: "bleach", say: "Rinse well." },
          { kind: "antibiotic-class", choose: "soap", say: "" },
          { kind: "today", topic: "dressing", say: "Wrap it." },
        ]),
      ],
    },
    ...(south
      ? [
          {
            id: "S",
            question: "What does the south add?",
            answers: "every",
            rules: [
              rule("S-1", { spout: "broken" }, [
                { kind: "tetanus", vaccine: true, immunoglobulin: false, say: "Against moss." },
                { kind: "tetanus", vaccine: false, immunoglobulin: true, say: "Against rust." },
              ]),
            ],
          } as EffectTable,
        ]
      : []),
    {
      id: "F",
      question: "What first?",
      answers: "every",
      rules: [
        rule("F-1", { spout: "broken", lid: "on" }, [
          { kind: "today", topic: "first-minutes", say: "Empty it." },
          { kind: "epinephrine", allow: south, say: "Ask first." },
        ]),
        rule("F-2", { lid: "lost" }, [{ kind: "today", topic: "first-minutes", say: "Cover it." }]),
      ],
    },
    {
      id: "M",
      question: "How is it mended?",
      answers: "every",
      rules: [
        rule("M-1", { glazed: "yes", safe: "no" }, [
          { kind: "manage", call: "options", say: `Glue, ${policy.values["teapot.glueMl"]} mL.` },
          {
            kind: "splint",
            say: "Bind it.",
            splint: {
              what: "Cloth",
              joints: ["DIP", "PIP"],
              free: [],
              position: "upright",
              days: { from: 3, to: 7 },
              wear: "day and night",
            },
          },
          { kind: "manage", call: "must-refer", say: "To the potter." },
        ]),
        rule("M-2", { never: "yes" }, [
          {
            kind: "splint",
            say: "Leave it.",
            splint: {
              what: "Sling",
              joints: [],
              free: ["MCP", "wrist"],
              position: "down",
              days: { from: 1, to: 1 },
              wear: "night",
            },
          },
        ]),
      ],
    },
    {
      id: "V",
      question: "Who looks again?",
      answers: "every",
      rules: [
        rule("V-1", { dry: "yes" }, [
          {
            kind: "visit",
            visit: {
              purpose: "film",
              who: "potter",
              earliest: 1,
              ideal: 2,
              latest: 3,
              check: "If wired: is it dry?",
              onlyIf: "if wired",
              countFrom: "injury",
            },
          },
          {
            kind: "visit",
            visit: {
              purpose: "wire-out",
              who: "smith",
              earliest: 8,
              ideal: 9,
              latest: 10,
              check: "wire out",
              onlyIf: "if wired",
              after: "film",
              countFrom: "operation",
            },
          },
          {
            kind: "visit",
            visit: { purpose: "clinic", who: "guild", earliest: 4, ideal: 5, latest: 6, check: "Does it hold?" },
          },
          { kind: "later", find: "Drips", say: "back to the potter" },
        ]),
      ],
    },
    {
      id: "T",
      question: "What is the owner told?",
      answers: "every",
      rules: [
        rule("T-1", { colour: "red" }, [
          { kind: "advise", point: "hot", say: "It burns.", redFlag: true },
          { kind: "advise", point: "cold", say: "Drink cold tea.", redFlag: false },
          warn("Once a year it is looked at."),
        ]),
      ],
    },
  ];
};
const scheme = (policy: SitePolicy) => policy.values["teapot.glaze"] as string;
const TEAPOT: InjuryModule = {
  id: "teapot",
  title: "Broken teapot",
  findings: {
    ageYears: quantity("patient", "years", 0, 120),
    weightKg: quantity("patient", "kg", 1, 300),
    scald: choice("patient", "none", "small", "large"),
    spout: choice("injury", "whole", "broken"),
    crackMm: quantity("digit", "mm", 0, 9),
    colour: choice("digit", "red", "blue", "green", "black", "white", "brown", "pale-grey"),
    lid: choice("digit", "on", "lost"),
  },
  questions: [
    {
      finding: "scald",
      scope: "patient",
      wording: "Is anybody scalded?",
      hint: "Look at hands and feet",
      options: [
        { value: "none", label: "Nobody" },
        { value: "small", label: "A little", hint: "a coin" },
        { value: "large", label: "Much" },
      ],
      cannotTell: "Nobody looked",
      chartMayPropose: false,
    },
    {
      finding: "spout",
      scope: "injury",
      wording: "Spout",
      options: [
        { value: "whole", label: "Whole" },
        { value: "broken", label: "Broken" },
      ],
      chartMayPropose: true,
    },
    { finding: "ageYears", scope: "patient", wording: "Age of the potter", chartMayPropose: true },
    { finding: "weightKg", scope: "patient", wording: "Weight of the potter", chartMayPropose: true },
    { finding: "crackMm", scope: "digit", wording: "Width of the crack", chartMayPropose: false },
    {
      finding: "colour",
      scope: "digit",
      wording: "Which colours:",
      options: ["red", "blue", "green", "black", "white", "brown", "pale-grey"].map((value) => ({
        value,
        label: value.replace("-", " "),
      })),
      chartMayPropose: false,
    },
    {
      finding: "lid",
      scope: "digit",
      wording: "Lid",
      options: [
        { value: "on", label: "On it" },
        { value: "lost", label: "Lost" },
      ],
      chartMayPropose: false,
    },
  ],
  groups: [
    {
      id: "look",
      title: "Look first",
      hint: "Before it is touched",
      findings: ["scald", "spout"],
      quick: [{ label: "All well", sets: { scald: "none", spout: "whole" } }],
    },
    { id: "measure", title: "Measure", findings: ["crackMm", "colour"], quick: [] },
  ],
  policy: VALUES,
  classes: {
    WIDE: { name: "Wide crack", definition: "A crack that can be felt." },
    FINE: { name: "Fine crack", definition: "A crack that can be seen." },
    NAMED: { name: "Potter II", definition: "As potters call it.", scheme: "Potters" },
    UNUSED: { name: "Dust", definition: "Nothing is left." },
  },
  signs: (policy) =>
    [
      { name: "wideCrack", words: "wide crack", any: [{ crackMm: from(isNumber(policy, "teapot.crackMm")) }] },
      {
        name: "glazed",
        words: "a glaze",
        any:
          scheme(policy) === "none"
            ? []
            : scheme(policy) === "white"
              ? [{ colour: "white" }, { colour: "black", lid: "on" }]
              : [{ lid: "on" }],
      },
      { name: "safe", words: "safe to touch", any: [{ spout: "whole", wideCrack: "no" }, { lid: "on" }] },
      { name: "dry", words: "dry inside", any: [{ safe: "yes" }], noUntilShown: true },
      { name: "never", words: "flying", any: [] },
    ] as readonly object[] as readonly AnySign[],
  tables,
  figures: (facts, policy) => {
    const needs = facts.spout === undefined ? ["spout", "ageYears"] : [];
    if (typeof facts.ageYears !== "number" || facts.blockLikely !== "yes") return { anaesthetic: [], needs };
    const line = (rule: string, text: string) => ({
      rule,
      text,
      because: `Sum of ${rule}.`,
      sources: [cite("HS2", "G" as const)] as const,
    });
    return {
      needs,
      anaesthetic: [
        line("L-1", `${Number(facts.ageYears) * isNumber(policy, "teapot.glueMl")} mL`),
        ...(facts.spout === "broken" ? [line("L-2", "A new spout.")] : []),
      ],
    };
  },
};

const CHANGE_LOG = `# Changes

## 2.0.0, in spring

First words, over
two lines with \`code.id\` in them.

- one \`thing\`
  on two lines
- another

### Smaller

End.
`;
const tests = () =>
  new Map([
    ["G-1", [{ file: "tests/scald.test.ts", titles: ["a scald is cooled"] }]],
    [
      "Q-1",
      [
        { file: "tests/a.test.ts", titles: ["one", "two", "three", "four", "five"] },
        { file: "tests/b.test.ts", titles: ["six", "seven", "eight"] },
        { file: "tests/c.test.ts", titles: [] },
        { file: "tests/d.test.ts", titles: [] },
      ],
    ],
    ["C-1", [{ file: "tests/c.test.ts", titles: [] }]],
    ["L-1", [{ file: "tests/c.test.ts", titles: [] }]],
  ]);
const make = (module: InjuryModule, released?: string) =>
  makeBook({
    changeLog: CHANGE_LOG,
    tests,
    modules: [module],
    definitions: module.policy as NonNullable<BookParts["definitions"]>,
    ...(released === undefined ? {} : { released }),
  });
/** Without what the teapot does not bring along: sources that nothing here cites, and the limits of the clinical knowledge. */
function ownPart(book: Book): Book {
  const cited = ["AAFP22", "HS2", "KET17", "COMMON-PRACTICE", "FROM-MEMORY"].map((id) => `source-${id}`);
  const own = (b: Block) => !("entry" in b) || !b.entry.anchor.startsWith("source-") || cited.includes(b.entry.anchor);
  return {
    ...book,
    // The safety file is about the program, not about the injury, and has its own test.
    sections: book.sections
      .filter((s) => !["intended-use", "hazards", "traceability"].includes(s.anchor))
      .map((s) => ({
        ...s,
        blocks: s.anchor === "limits" ? s.blocks.slice(1) : s.blocks.filter(own),
      })),
  };
}
const expected = (name: string) =>
  readFileSync(`tests/pathway/book/${name}`, "utf8")
    .replaceAll("{version}", KNOWLEDGE_VERSION)
    .replaceAll("{sources}", String(Object.keys(SOURCES).length));
const section = (book: Book, anchor: string): Book => ({
  title: "",
  cautions: [],
  sections: book.sections.filter((s) => s.anchor === anchor),
});

/** The teapot as it was a version ago: one thing of each kind added, changed and taken out since. */
const BEFORE: InjuryModule = {
  ...TEAPOT,
  findings: { ...TEAPOT.findings, chip: choice("digit", "yes", "no") },
  questions: [
    ...TEAPOT.questions
      .filter((q) => q.finding !== "lid")
      .map((q) =>
        q.finding === "scald"
          ? { ...q, wording: "Any scald?", hint: "Ask", cannotTell: "Not seen", options: q.options!.slice(1) }
          : q,
      ),
    {
      finding: "chip",
      scope: "digit",
      wording: "Chipped?",
      options: ["yes", "no"].map((value) => ({ value, label: value })),
      chartMayPropose: false,
    },
  ],
  policy: {
    ...VALUES,
    "teapot.crackMm": { ...VALUES["teapot.crackMm"], value: 1, max: 2, note: "A wide crack." },
    "teapot.glaze": { ...VALUES["teapot.glaze"], value: "white", options: ["clear", "white"] },
    "teapot.old": { ...VALUES["teapot.gapMm"], note: "Old." },
  } as PolicyDefinitions,
  classes: {
    WIDE: { name: "Broad crack", definition: "A crack." },
    FINE: TEAPOT.classes.FINE!,
    NAMED: TEAPOT.classes.NAMED!,
    CHIP: { name: "Chip", definition: "A piece is off." },
  },
  signs: (policy) =>
    [
      ...TEAPOT.signs(policy).map((s) =>
        s.name === "dry" ? { name: "dry", words: "dry", any: [{ safe: "yes" }, { spout: "whole" }] } : s,
      ),
      { name: "chipped", words: "chipped edge", any: [{ chip: "yes" }] },
    ] as readonly object[] as readonly AnySign[],
  tables: (policy) =>
    tables(policy)
      .filter((t) => t.id !== "A")
      .map((t) =>
        t.id !== "C"
          ? t
          : {
              ...t,
              rules: [
                rule("C-1", { wideCrack: "yes", spout: "whole" }, [{ kind: "class", class: "WIDE" }], {
                  because: "Old reason.",
                  sources: [cite("KET17", "B", "page 3")],
                }),
                ...t.rules.slice(1),
                rule("C-9", { chipped: "yes" }, [{ kind: "class", class: "CHIP" }, warn("Smooth it.")]),
              ],
            },
      ),
};

describe("the whole book of a small invented injury", () => {
  const made = make(TEAPOT);
  const book = ownPart(made.book);
  it("is complete and readable", () => expect(made.problems).toEqual([]));
  it("says in Markdown what stands beside this test, word for word", () =>
    expect(toMarkdown(book)).toBe(expected("whole-small-book.md")));
  it("says the same in HTML", () =>
    expect(toHtml(book).replace(/<style>.*<\/style>/s, "<style></style>")).toBe(expected("whole-small-book.html")));
  it("lists every known limit of the clinical knowledge first among the limits", () => {
    const [limits] = made.book.sections.find((s) => s.anchor === "limits")!.blocks;
    expect(limits).toEqual({ list: KNOWN_LIMITS.map((limit) => [limit]) });
    expect(KNOWN_LIMITS.length).toBeGreaterThan(3);
  });
  it("says what was added, changed and taken out since the version before, thing by thing", () => {
    const since = make(TEAPOT, make(BEFORE).snapshot).book;
    expect(toMarkdown(section(since, "changes"))).toBe(expected("whole-small-book-changes.md"));
  });
  it("a book of two injuries names the injury of a table and of a rule that only one has, and of nothing that both have", () => {
    const CUP: InjuryModule = {
      ...TEAPOT,
      id: "cup",
      title: "Broken cup",
      tables: (policy) =>
        tables(policy)
          .filter((t) => t.id === "A" || t.id === "Q" || t.id === "F")
          .map((t) => (t.id === "A" ? { ...t, rules: [rule("A-1", {}, [warn("Drink up.")])] } : t))
          .map((t) => (t.id === "F" ? { ...t, rules: t.rules.slice(0, 1) } : t)),
    };
    const both = makeBook({
      changeLog: CHANGE_LOG,
      tests,
      modules: [TEAPOT, CUP],
      definitions: VALUES as NonNullable<BookParts["definitions"]>,
    });
    const lines = toMarkdown(both.book).split("\n");
    expect(lines[0]).toBe("# Pathway book: Broken teapot, Broken cup");
    const at = (anchor: string) => lines.findIndex((l) => l.includes(`id="${anchor}"`));
    expect(["G", "Q", "A", "F"].map((table) => lines[at(`table-${table}`)]!.split("</a>")[1])).toEqual([
      "Is anybody scalded? (Broken teapot)",
      "Is the record good?",
      "What else of the record?",
      "What first?",
    ]);
    const injuryOf = (rule: string) => {
      const from = lines.slice(at(`rule-${rule}`) + 1);
      return from
        .slice(
          0,
          from.findIndex((l) => l.startsWith("#")),
        )
        .filter((l) => /site with:|Only with:/.test(l));
    };
    expect(injuryOf("F-2")).toEqual(["- **Only with:** injury: Broken teapot"]);
    expect(injuryOf("A-1")).toEqual([
      "- **At a site with:** injury: Broken teapot",
      "- **At a site with:** injury: Broken cup",
    ]);
    expect(injuryOf("Q-1")).toEqual([]);
    expect(both.problems).toEqual([]);
  });
  it("a link that leads nowhere is a fault: here to a class that nobody described", () => {
    const { FINE: _, ...classes } = TEAPOT.classes;
    expect(make({ ...TEAPOT, classes }).problems).toContain("a link leads to class-FINE, which is not there");
  });
});

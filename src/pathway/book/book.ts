import type { Citation, Strength } from "../evidence/citation.ts";
import { STRENGTH_WORDS } from "../evidence/citation.ts";
import { READ_WORDS, SOURCES } from "../evidence/sources.ts";
import { type EffectKind, URGENCIES } from "../hand/effects.ts";
import { urgencyWords } from "../hand/urgency-words.ts";
import type { PolicyValue, SitePolicy } from "../policy/policy-value.ts";
import { allowedFor } from "../policy/site-policy.ts";
import { KNOWLEDGE_VERSION } from "../version.ts";
import { type Block, type Book, type Entry, joined, type Section, type Words } from "./blocks.ts";
import { changesSince, logOf } from "./changes.ts";
import type { BookTable, Knowledge, Over, PlainRow, RuleSaying, SignSaying } from "./knowledge.ts";
import { KNOWN_LIMITS } from "./known-limits.ts";
import { safetyChapters } from "./safety-chapters.ts";
import { at, capital, citationWords, numberWords, patientWords, recordOf, SCOPE_WORDS, type Speaker } from "./words.ts";

/** A test file and what in it names a rule, or that it makes the rule speak. */
export interface CoveringTest {
  readonly file: string;
  /** Titles of the tests that name the rule; empty when its data name it, or when it only makes the rule speak. */
  readonly titles: readonly string[];
}
export interface BookInput {
  readonly knowledge: Knowledge;
  /** The default policy: its values stand in the words. */
  readonly policy: SitePolicy;
  /** The change log as kept beside the rules, Markdown. */
  readonly changeLog: string;
  /** What `snapshotOf` wrote for the released version to compare with; absent: no comparison. */
  readonly released?: string;
  readonly tests: ReadonlyMap<string, readonly CoveringTest[]>;
}

/** The stages of care in the order in which a patient is treated. A table stands where most of what it says belongs. */
const STAGES = [
  { id: "emergencies", title: "Emergencies and exits" },
  { id: "first-minutes", title: "First minutes" },
  { id: "record", title: "Can the record be relied on?" },
  { id: "class", title: "What it is" },
  { id: "urgency", title: "How urgent it is" },
  { id: "antibiotic", title: "Antibiotic" },
  { id: "tetanus", title: "Tetanus" },
  { id: "anaesthetic", title: "Anaesthetic" },
  { id: "today", title: "Wound, nail and operation today" },
  { id: "treatment", title: "Definitive treatment" },
  { id: "splint", title: "Splint" },
  { id: "follow-up", title: "Follow-up" },
  { id: "later", title: "What to look for later" },
  { id: "conditions", title: "Other conditions, work and safeguarding" },
  { id: "advice", title: "What the patient is told" },
] as const;
type Stage = (typeof STAGES)[number]["id"];
const STAGE_OF: { readonly [K in EffectKind]: Stage } = {
  exit: "emergencies",
  quality: "record",
  class: "class",
  urgency: "urgency",
  today: "today",
  antibiotic: "antibiotic",
  "antibiotic-class": "antibiotic",
  tetanus: "tetanus",
  epinephrine: "anaesthetic",
  manage: "treatment",
  splint: "splint",
  visit: "follow-up",
  later: "later",
  warn: "conditions",
  task: "conditions",
  advise: "advice",
};

/** Puts all knowledge into one document. What has no words is noted in the speaker's `missing` and found by `bookProblems`. */
export function bookOf(input: BookInput, speaker: Speaker, oldSpeaker: Speaker): Book {
  const { knowledge, policy, changeLog, released } = input;
  const readers = readersOf(knowledge);
  const staged = stagesOf(knowledge.tables);
  const stages = STAGES.map(({ id, title }): Section => {
    const tables = knowledge.tables.filter((t) => staged.get(t.id) === id);
    return {
      anchor: `stage-${id}`,
      title,
      blocks: [
        ...tables.flatMap((t) => tableBlocks(t, input, speaker)),
        ...(id === "anaesthetic" ? figureBlocks(input, speaker) : []),
      ],
    };
  }).filter((s) => s.blocks.length > 0);
  return {
    title: `Pathway book: ${knowledge.modules.map((m) => m.title).join(", ")}`,
    cautions: [
      [
        { strong: "Decision support for licensed clinicians." },
        " It never signs, orders or prescribes, and is no substitute for examination.",
      ],
      [{ strong: "Local policy prevails" }, " wherever it and this book differ. Not a cleared or CE-marked device."],
      [
        { strong: `Knowledge version ${KNOWLEDGE_VERSION}.` },
        " Written from the rules themselves; where a site may set a value, the default is shown.",
      ],
    ],
    sections: [
      aboutSection(input, policy),
      ...stages,
      signSection(knowledge, speaker, readers),
      questionSection(knowledge, speaker, readers),
      classSection(knowledge),
      policySection(knowledge),
      sourceSection(knowledge),
      ...safetyChapters(knowledge, input.tests),
      limitSection(knowledge, input),
      {
        anchor: "changes",
        title: "Changes between versions",
        blocks: [
          ...(released ? changesSince(released, knowledge, oldSpeaker) : []),
          { heading: "Change log", level: 3 },
          ...logOf(changeLog),
        ],
      },
    ],
  };
}

function aboutSection({ knowledge }: BookInput, policy: SitePolicy): Section {
  const rules = knowledge.tables.flatMap((t) => t.rules).length + knowledge.figures.length;
  const strengths = Object.entries(STRENGTH_WORDS) as [Strength, string][];
  return {
    anchor: "about",
    title: "How to read this book",
    blocks: [
      {
        p: [
          `${rules} rules in ${knowledge.tables.length} tables, ${knowledge.signs.size} signs, ${knowledge.questions.size} questions, ` +
            `${knowledge.classes.size} classes and published names, ${Object.keys(knowledge.policy).length} values that a site may set, ` +
            `${Object.keys(SOURCES).length} sources.`,
        ],
      },
      {
        list: [
          ["A rule speaks when every line of its “When” holds. A line with several answers holds for any one of them."],
          [
            "A sign is a named mix of findings, linked to its own rows under “Signs”. It is “no” only when each of its rows is contradicted.",
          ],
          [
            "An answer that is not known makes a rule neither true nor false: it stays possible, is never said, and the question stays open.",
          ],
          ["A limit counts its lower value in and its upper value out, unless it says “more than” or “not more than”."],
          [
            "Urgency is the most urgent of all that is said. Visits are the union of all; joining can only bring one forward.",
          ],
          ["Where sources disagree, the dissent stands with the rule."],
        ],
      },
      { heading: "Strength of a source", level: 3, anchor: "strength" },
      { list: strengths.map(([, words]): Words => [capital(words)]) },
      { heading: "Levels of urgency", level: 3, anchor: "urgency-levels" },
      {
        list: URGENCIES.map((level): Words => {
          const { title, means } = urgencyWords(level, policy);
          return [{ strong: title }, ` (${level}): ${means}`];
        }),
      },
    ],
  };
}

/** Warnings and tasks alone belong to what stands before them; everything else to the stage that most of its effects name. */
function stagesOf(tables: readonly BookTable[]): Map<string, Stage> {
  const staged = new Map<string, Stage>();
  let before: Stage = "emergencies";
  for (const table of tables) {
    const effects = table.rules.flatMap((r) => r.variants.flatMap((v) => v.says.then));
    const count = new Map<Stage, number>();
    for (const e of effects) count.set(STAGE_OF[e.kind], (count.get(STAGE_OF[e.kind]) ?? 0) + 1);
    const [most = "conditions"]: Stage[] = [...count].sort((a, b) => b[1] - a[1]).map(([stage]) => stage);
    const onlyAdds = effects.every((e) => e.kind === "warn" || e.kind === "task");
    const first = most === "today" && effects.some((e) => e.kind === "today" && e.topic === "first-minutes");
    const stage: Stage = table.gate ? "emergencies" : onlyAdds ? before : first ? "first-minutes" : most;
    staged.set(table.id, stage);
    before = stage;
  }
  return staged;
}

function tableBlocks(table: BookTable, input: BookInput, speaker: Speaker): Block[] {
  const says = [
    table.answers === "one" ? "Exactly one rule holds for each complete record." : "Each rule that holds speaks.",
    ...(table.gate ? ["Red flags: no urgency is shown until they are ruled in or out."] : []),
    ...(table.ordinary ? ["Assumes an ordinary fracture: silent once an exit that leaves the pathway is sure."] : []),
    ...(table.checks ? ["Holds answers against each other; never a reason to ask."] : []),
  ].join(" ");
  return [
    { heading: `${table.question}${onlyFor(table, input.knowledge)}`, level: 3, anchor: `table-${table.id}` },
    { p: [says], note: true },
    ...table.rules.map((rule) => ({ entry: ruleEntry(rule, input, speaker) })),
  ];
}

/** " (UK)" behind the question of a table whose rules all exist under the same choices only, and not under every choice of a site. */
function onlyFor({ rules }: BookTable, { policy, modules }: Knowledge): string {
  const every = (key: string) => {
    const d = policy[key];
    return d === undefined ? modules.map((m) => m.title) : d.type === "choice" ? d.options : [];
  };
  const under = rules.map(({ variants }) => {
    const choices = variants.every((v) => v.only.length > 0) ? variants.flatMap((v) => v.only) : [];
    const keys = [...new Set(choices.flatMap(Object.keys))];
    return keys
      .map((key) => [...new Set(choices.map((c) => c[key]!))].sort())
      .filter((values, i) => every(keys[i]!).some((option) => !values.includes(option)))
      .map((values) => values.join(" or "))
      .join(", ");
  });
  return under[0] && under.every((words) => words === under[0]) ? ` (${under[0]})` : "";
}

const ALWAYS: Words = ["Always."];
type Rows = Entry["rows"];
function ruleEntry(rule: Over<RuleSaying>, input: BookInput, speaker: Speaker): Entry {
  const { knowledge } = input;
  const many = rule.variants.length > 1;
  const rows = rule.variants.flatMap(({ only, says }): Rows => {
    const conditions = speaker.row(says.when);
    const paragraphs = says.then.flatMap((effect) => speaker.effect(effect).map((p): Block => ({ p })));
    return [
      ...(only.length
        ? [{ label: many ? "At a site with" : "Only with", blocks: [{ p: speaker.choices(only) }] }]
        : []),
      { label: "When", blocks: conditions.length ? [{ list: conditions }] : [{ p: ALWAYS }] },
      ...(says.assume
        ? [
            {
              label: "Also",
              blocks: [
                {
                  p: [
                    "while this alone is not known: ",
                    ...speaker.column(says.assume.column),
                    `. It then says first: “${says.assume.say}”`,
                  ] as Words,
                },
              ],
            },
          ]
        : []),
      { label: "Then", blocks: paragraphs },
      { label: "Because", blocks: [{ p: [says.because] }] },
      ...citationRows(says.sources),
    ];
  });
  return {
    anchor: at.rule(rule.id),
    title: [rule.id],
    rows: [...rows, ...valueRow(rule, knowledge), ...testRow(rule.id, input)],
  };
}

function citationRows(citations: readonly Citation[]): Rows {
  const of = (says: Citation["says"], label: string): Rows => {
    const found = citations.filter((c) => c.says === says);
    if (found.length === 0) return [];
    return [
      { label, blocks: found.length === 1 ? [{ p: citationWords(found[0]!) }] : [{ list: found.map(citationWords) }] },
    ];
  };
  return [...of("for", "Sources"), ...of("against", "Dissent")];
}

/** The numbers of a site that a rule rests on, its own and those of the signs it reads. */
function valueRow(rule: Over<RuleSaying>, knowledge: Knowledge): Rows {
  const own = new Set(rule.numbers);
  const throughSigns = new Set(
    [
      ...signsRead(
        rule.variants.map((v) => v.says.when),
        knowledge,
      ),
    ].flatMap((name) => knowledge.signs.get(name)?.numbers ?? []),
  );
  const keys = [...own, ...[...throughSigns].filter((key) => !own.has(key))];
  if (keys.length === 0) return [];
  const words = keys.map(
    (key): Words => [...valueWords(key, knowledge), ...(own.has(key) ? [] : [" (through a sign)"])],
  );
  return [{ label: "Site values", blocks: [words.length === 1 ? { p: words[0]! } : { list: words }] }];
}
function valueWords(key: string, knowledge: Knowledge): Words {
  const d = knowledge.policy[key]!;
  return [{ text: key, to: at.policy(key) }, `: ${d.type === "number" ? numberWords(d.value, d.unit) : d.value}`];
}
/** Signs that rows read, and the signs those read in turn. */
function signsRead(rows: readonly PlainRow[], knowledge: Knowledge, seen = new Set<string>()): Set<string> {
  for (const column of rows.flatMap(Object.keys)) {
    const sign = knowledge.signs.get(column);
    if (!sign || seen.has(column)) continue;
    seen.add(column);
    signsRead(
      sign.variants.flatMap((v) => v.says.any),
      knowledge,
      seen,
    );
  }
  return seen;
}

const TESTS_SHOWN = 6;
function testRow(rule: string, { tests }: BookInput): Rows {
  const covering = tests.get(rule) ?? [];
  if (covering.length === 0)
    return [{ label: "Tests", blocks: [{ p: ["No test names this rule or is recorded to make it speak."] }] }];
  const named = covering.flatMap(({ file, titles }) => titles.map((title): Words => [`“${title}” `, { code: file }]));
  const others = covering.filter((c) => c.titles.length === 0).map((c): Words => [{ code: c.file }]);
  const rest = named.length - TESTS_SHOWN;
  const shown = [
    ...named.slice(0, TESTS_SHOWN),
    ...(rest > 0 ? [[`and ${rest} more.`] as Words] : []),
    ...(others.length ? [["Made to speak in: ", ...joined(others, ", ")] as Words] : []),
  ];
  return [{ label: "Tests", blocks: [shown.length === 1 ? { p: shown[0]! } : { list: shown }] }];
}

function figureBlocks(input: BookInput, speaker: Speaker): Block[] {
  const { knowledge } = input;
  if (knowledge.figures.length === 0) return [];
  return [
    { heading: "Which figures hold for a finger block?", level: 3, anchor: "figures" },
    { p: ["Arithmetic, not a table: shown by worked examples. Ceilings, not prescriptions."], note: true },
    ...knowledge.figures.map((figure): Block => {
      const examples = figure.examples.map(({ facts, text }): Words => [`${patientWords(facts, speaker)}: ${text}`]);
      return {
        entry: {
          anchor: at.rule(figure.id),
          title: [figure.id],
          rows: [
            { label: "Example", blocks: [{ list: examples }] },
            { label: "Because", blocks: [{ p: [figure.because] }] },
            ...citationRows(figure.sources),
            ...(figure.numbers.length
              ? [{ label: "Site values", blocks: [{ list: figure.numbers.map((key) => valueWords(key, knowledge)) }] }]
              : []),
            ...testRow(figure.id, input),
          ],
        },
      };
    }),
  ];
}

/** Who reads a finding or sign: rules by id, signs by name. */
interface Readers {
  readonly rules: ReadonlyMap<string, readonly string[]>;
  readonly signs: ReadonlyMap<string, readonly string[]>;
}
function readersOf(knowledge: Knowledge): Readers {
  const rules = new Map<string, string[]>();
  const signs = new Map<string, string[]>();
  const note = (by: Map<string, string[]>, rows: readonly PlainRow[], reader: string) => {
    for (const column of new Set(rows.flatMap(Object.keys))) by.set(column, [...(by.get(column) ?? []), reader]);
  };
  for (const rule of knowledge.tables.flatMap((t) => t.rules))
    note(
      rules,
      rule.variants.map((v) => v.says.when),
      rule.id,
    );
  for (const sign of knowledge.signs.values())
    note(
      signs,
      sign.variants.flatMap((v) => v.says.any),
      sign.id,
    );
  return { rules, signs };
}
const ruleLinks = (ids: readonly string[]): Words =>
  joined(
    ids.map((id) => [{ text: id, to: at.rule(id) }]),
    ", ",
  );
function readerRow(name: string, readers: Readers, speaker: Speaker): Rows {
  const rules = readers.rules.get(name) ?? [];
  const signs = readers.signs.get(name) ?? [];
  const parts: Words[] = [
    ...(rules.length ? [["Rules: ", ...ruleLinks(rules)]] : []),
    ...(signs.length
      ? [
          [
            "Signs: ",
            ...joined(
              signs.map((s) => speaker.column(s)),
              ", ",
            ),
          ],
        ]
      : []),
  ];
  return [
    {
      label: "Read by",
      blocks: parts.length
        ? parts.map((p) => ({ p }))
        : [{ p: ["No rule: recorded for the chart, or read by arithmetic."] }],
    },
  ];
}

const signName = (sign: Over<SignSaying>) => capital(sign.variants[0]?.says.words ?? "");
const alphabetical = (signs: readonly Over<SignSaying>[]) =>
  [...signs].sort((a, b) => (signName(a) < signName(b) ? -1 : 1));
function signSection(knowledge: Knowledge, speaker: Speaker, readers: Readers): Section {
  const rows = ({ variants }: Over<SignSaying>): Rows =>
    variants.flatMap(
      ({ only, says }): Rows => [
        ...(only.length ? [{ label: "At a site with", blocks: [{ p: speaker.choices(only) }] }] : []),
        {
          label: says.any.length > 1 ? "Yes when any" : "Yes when",
          blocks: says.any.length
            ? [{ list: says.any.map((row) => joined(speaker.row(row), "; and ")) }]
            : [{ p: ["It cannot occur here."] }],
        },
        ...(says.noUntilShown
          ? [{ label: "Until shown", blocks: [{ p: ["Counts as no: a danger stands until an answer ends it."] }] }]
          : []),
      ],
    );
  return {
    anchor: "signs",
    title: "Signs",
    blocks: [
      { p: ["Named mixes of findings that rules read like one finding."], note: true },
      ...alphabetical([...knowledge.signs.values()]).map(
        (sign): Block => ({
          entry: {
            anchor: at.sign(sign.id),
            title: [signName(sign)],
            rows: [
              ...rows(sign),
              ...(sign.numbers.length
                ? [{ label: "Site values", blocks: [{ list: sign.numbers.map((key) => valueWords(key, knowledge)) }] }]
                : []),
              ...readerRow(sign.id, readers, speaker),
            ],
          },
        }),
      ),
    ],
  };
}

function questionSection(knowledge: Knowledge, speaker: Speaker, readers: Readers): Section {
  const entry = (finding: string): Block[] => {
    const question = knowledge.questions.get(finding);
    const definition = knowledge.findings[finding];
    if (!question || !definition) return [];
    const answers: Words[] =
      definition.type === "number"
        ? [[`A number in ${definition.unit}, ${definition.min} to ${definition.max}`]]
        : (question.options ?? []).map((o) => [{ strong: o.label }, o.hint ? ` (${o.hint})` : ""]);
    return [
      {
        entry: {
          anchor: at.question(finding),
          title: [question.wording],
          rows: [
            ...(question.hint ? [{ label: "Hint", blocks: [{ p: [question.hint] as Words }] }] : []),
            {
              label: "Answers",
              blocks: [{ list: [...answers, ...(question.cannotTell ? [[question.cannotTell]] : [])] }],
            },
            {
              label: "Asked",
              blocks: [
                {
                  p: [
                    `${capital(SCOPE_WORDS[question.scope])}; ${question.chartMayPropose ? "the chart may propose an answer, the clinician confirms it" : "examined, never proposed by a chart"}.`,
                  ],
                },
              ],
            },
            ...readerRow(finding, readers, speaker),
          ],
        },
      },
    ];
  };
  const grouped = new Set(knowledge.groups.flatMap((g) => g.findings));
  const rest = [...knowledge.questions.keys()].filter((f) => !grouped.has(f));
  const quick = (sets: { readonly [finding: string]: string }): Words =>
    joined(
      Object.entries(sets).map(([f, v]): Words => [...speaker.column(f), " ", { strong: speaker.value(f, v) }]),
      "; ",
    );
  return {
    anchor: "questions",
    title: "Questions",
    blocks: [
      ...knowledge.groups.flatMap((group): Block[] => [
        { heading: group.title, level: 3, anchor: `group-${group.id}` },
        ...(group.hint ? [{ p: [group.hint] as Words, note: true as const }] : []),
        ...(group.quick.length
          ? [
              {
                list: group.quick.map(
                  (q): Words => [{ strong: `One answer for all: “${q.label}”` }, " sets ", ...quick(q.sets)],
                ),
              },
            ]
          : []),
        ...group.findings.flatMap(entry),
      ]),
      ...(rest.length ? [{ heading: "Others", level: 3 as const }, ...rest.flatMap(entry)] : []),
    ],
  };
}

function classSection(knowledge: Knowledge): Section {
  const givenBy = new Map<string, string[]>();
  for (const rule of knowledge.tables.flatMap((t) => t.rules))
    for (const e of rule.variants.flatMap((v) => v.says.then))
      if (e.kind === "class" && !givenBy.get(e.class)?.includes(rule.id))
        givenBy.set(e.class, [...(givenBy.get(e.class) ?? []), rule.id]);
  const row = ([id, c]: readonly [string, { readonly name: string; readonly definition: string }]) => ({
    anchor: at.class(id),
    cells: [
      [[{ strong: c.name }]],
      [[c.definition]],
      [givenBy.has(id) ? ruleLinks(givenBy.get(id)!) : ["No rule"]],
    ] as readonly (readonly Words[])[],
  });
  const head = ["Name", "Definition", "Given by"];
  const schemes = [...new Set([...knowledge.classes.values()].map((c) => c.scheme))];
  return {
    anchor: "classes",
    title: "Classes and published names",
    blocks: schemes.flatMap((scheme, i): Block[] => [
      { heading: scheme ?? "Classes", level: 3, anchor: `scheme-${i}` },
      { table: { head, rows: [...knowledge.classes].filter(([, c]) => c.scheme === scheme).map(row) } },
    ]),
  };
}

function policySection(knowledge: Knowledge): Section {
  const users = (key: string, d: PolicyValue): Words => {
    const uses = (o: Over<RuleSaying | SignSaying>) =>
      d.type === "number" ? o.numbers.includes(key) : o.variants.some((v) => v.only.some((c) => key in c));
    const rules = knowledge.tables
      .flatMap((t) => t.rules)
      .filter(uses)
      .map((r) => r.id);
    const figures = knowledge.figures.filter((f) => f.numbers.includes(key)).map((f) => f.id);
    const signs = [...knowledge.signs.values()].filter(uses);
    const signLinks = joined(
      signs.map((s): Words => [{ text: s.variants[0]?.says.words ?? "", to: at.sign(s.id) }]),
      ", ",
    );
    const said = [...rules, ...figures];
    if (said.length + signs.length === 0) return ["The words of an urgency or the order of figures"];
    return [
      ...ruleLinks(said),
      ...(said.length && signs.length ? [". "] : []),
      ...(signs.length ? ["Signs: ", ...signLinks] : []),
    ];
  };
  return {
    anchor: "site-policy",
    title: "What a site may set",
    blocks: [
      {
        p: [
          "A site sets values inside bounds in its policy file; it cannot switch a rule off. A value out of bounds stops the program with what is wrong and where.",
        ],
        note: true,
      },
      {
        table: {
          head: ["Value", "Default", "Allowed", "Used by"],
          rows: Object.entries(knowledge.policy).map(([key, d]) => ({
            anchor: at.policy(key),
            cells: [
              [
                [{ code: key }],
                [d.note],
                ...d.sources.map((c): Words => [c.says === "against" ? "Dissent: " : "", ...citationWords(c)]),
              ],
              [d.type === "number" ? [numberWords(d.value, d.unit)] : [{ code: d.value }]],
              [
                [allowedFor(d)],
                ...(d.type === "number" && d.notAbove
                  ? [["never above ", { text: d.notAbove, to: at.policy(d.notAbove) }] as Words]
                  : []),
              ],
              [users(key, d)],
            ],
          })),
        },
      },
    ],
  };
}

interface Citing {
  readonly rules: Set<string>;
  readonly values: Set<string>;
  readonly strengths: Set<Strength>;
}
/** The rules, figures and site values that cite a source, by source id, and how strong it is for them. */
function citingOf(knowledge: Knowledge): Map<string, Citing> {
  const citing = new Map<string, Citing>();
  const note = (c: Citation, where: "rules" | "values", id: string) => {
    const by = citing.get(c.source) ?? { rules: new Set(), values: new Set(), strengths: new Set() };
    by[where].add(id);
    by.strengths.add(c.strength);
    citing.set(c.source, by);
  };
  for (const r of knowledge.tables.flatMap((t) => t.rules))
    for (const v of r.variants) for (const c of v.says.sources) note(c, "rules", r.id);
  for (const f of knowledge.figures) for (const c of f.sources) note(c, "rules", f.id);
  for (const [key, d] of Object.entries(knowledge.policy)) for (const c of d.sources) note(c, "values", key);
  return citing;
}

function sourceSection(knowledge: Knowledge): Section {
  const citing = citingOf(knowledge);
  const entry = (id: string, title: Words, rows: Rows): Block => {
    const by = citing.get(id);
    const values = [...(by?.values ?? [])].map((key): Words => [{ text: key, to: at.policy(key) }]);
    return {
      entry: {
        anchor: at.source(id),
        title,
        rows: [
          ...rows,
          {
            label: "Cited by",
            blocks: [
              ...(by?.rules.size ? [{ p: ruleLinks([...by.rules]) }] : []),
              ...(values.length ? [{ p: ["Site values: ", ...joined(values, ", ")] as Words }] : []),
              ...(by ? [] : [{ p: ["Arithmetic only."] as Words }]),
            ],
          },
        ],
      },
    };
  };
  const withoutRecord = [...citing.keys()].filter((id) => !recordOf(id)).sort();
  const strengthsOf = (id: string) =>
    (Object.keys(STRENGTH_WORDS) as Strength[])
      .filter((s) => citing.get(id)?.strengths.has(s))
      .map((s) => STRENGTH_WORDS[s])
      .join("; ");
  return {
    anchor: "sources",
    title: "Sources",
    blocks: [
      ...Object.keys(SOURCES).map((id) => {
        const record = recordOf(id)!;
        return entry(
          id,
          [record.citation],
          [
            { label: "Strength", blocks: [{ p: [`${capital(strengthsOf(id) || "cited by arithmetic only")}.`] }] },
            {
              label: "Read",
              blocks: [
                { p: [`${capital(READ_WORDS[record.read])}.${record.caution ? ` Caution: ${record.caution}.` : ""}`] },
              ],
            },
            ...(record.link
              ? [{ label: "Link", blocks: [{ p: [{ text: record.link, href: record.link }] as Words }] }]
              : []),
          ],
        );
      }),
      ...withoutRecord.map((id) => entry(id, [capital(strengthsOf(id))], [])),
    ],
  };
}

function limitSection(knowledge: Knowledge, { tests }: BookInput): Section {
  const rules = knowledge.tables.flatMap((t) => t.rules);
  const restOn = (weak: (c: Citation) => boolean) =>
    rules
      .filter((r) => r.variants.every((v) => v.says.sources.filter((c) => c.says === "for").every(weak)))
      .map((r) => r.id);
  const practice = restOn((c) => c.strength === "CP");
  const memory = restOn((c) => c.strength === "M" || c.strength === "CP").filter((id) => !practice.includes(id));
  const untested = [...rules, ...knowledge.figures].map((r) => r.id).filter((id) => !tests.has(id));
  const listed = (title: string, ids: readonly string[]): Block[] => [
    { heading: `${title}: ${ids.length}`, level: 3 },
    { p: ids.length ? ruleLinks(ids) : ["None."] },
  ];
  return {
    anchor: "limits",
    title: "Known limits",
    blocks: [
      { list: KNOWN_LIMITS.map((limit) => [limit]) },
      ...listed("Rules that rest on common practice alone", practice),
      ...listed("Rules that rest on memory, or memory and common practice", memory),
      ...listed("Rules that no test names or is recorded to make speak", untested),
    ],
  };
}

import type { Citation } from "../evidence/citation.ts";
import {
  type Control,
  type Hazard,
  LIKELIHOODS,
  NOT_RELEASED,
  RISK_WORDS,
  riskOf,
  SAFETY_FILE,
  SEVERITIES,
} from "../safety/index.ts";
import { type Block, joined, type Section, type Words } from "./blocks.ts";
import type { CoveringTest } from "./book.ts";
import type { Knowledge } from "./knowledge.ts";
import { at } from "./words.ts";

/** The clinical safety file: what the program is for, what can go wrong with it, and how each rule is traced. */
export function safetyChapters(
  knowledge: Knowledge,
  tests: ReadonlyMap<string, readonly CoveringTest[]>,
): readonly Section[] {
  return [intendedUse(), hazardSection(knowledge), traceSection(knowledge, tests)];
}

function intendedUse(): Section {
  const { purpose, users, settings, patients, notFor, misuse, standing } = SAFETY_FILE.intendedUse;
  const listed = (heading: string, items: readonly string[]): Block[] => [
    { heading, level: 3 },
    { list: items.map((item): Words => [item]) },
  ];
  return {
    anchor: "intended-use",
    title: "Intended use",
    blocks: [
      { p: [purpose] },
      ...listed("Who uses it", users),
      ...listed("Where", settings),
      ...listed("For whom", patients),
      ...listed("What it is not for", notFor),
      { heading: "Wrong uses to expect, and what stands against them", level: 3 },
      { list: misuse.map(({ use, against }): Words => [{ strong: use }, ` ${against}`]) },
      ...listed("Standing", standing),
    ],
  };
}

const KINDS: { readonly [K in Control["kind"]]: string } = {
  design: "By design",
  protective: "Noticed and stopped",
  information: "Said",
};
/** The word before the colon: "major" of "major: lasting loss". */
const severityWord = (severity: Hazard["severity"]) => SEVERITIES[severity - 1]!.split(":")[0]!;

function hazardSection(knowledge: Knowledge): Section {
  const known = new Set([...knowledge.tables.flatMap((t) => t.rules), ...knowledge.figures].map((r) => r.id));
  const { hazards } = SAFETY_FILE;
  const left = hazards.filter((h) => riskOf(h.severity, h.after) === NOT_RELEASED - 1).length;
  return {
    anchor: "hazards",
    title: "Hazard log",
    blocks: [
      {
        p: [
          `${hazards.length} hazards. Severity and likelihood are estimates of the authors, to be reviewed by whoever deploys the program. `,
          `A risk of ${NOT_RELEASED} or more is not released; ${left} are left at ${NOT_RELEASED - 1}. `,
          "What the rules themselves do not carry stands under ",
          { text: "known limits", to: "limits" },
          ", what changed under ",
          { text: "changes", to: "changes" },
          ".",
        ],
      },
      { list: SEVERITIES.map((words, i): Words => [`Severity ${i + 1}, ${words}.`]) },
      ...hazards.map((hazard) => hazardEntry(hazard, known)),
    ],
  };
}

function hazardEntry(hazard: Hazard, known: ReadonlySet<string>): Block {
  const { id, severity, before, after, causes, harm, controls, rules = [], left } = hazard;
  const risk = (likelihood: Hazard["before"]) =>
    `${riskOf(severity, likelihood)} (${severityWord(severity)}, ${LIKELIHOODS[likelihood - 1]!})`;
  const control = ({ kind, does, shownBy }: Control): Words => [
    { strong: `${KINDS[kind]}:` },
    ` ${does} Shown by `,
    ...joined(
      shownBy.map(({ file, title }): Words => [`“${title}” `, { code: file }]),
      ", ",
    ),
    ".",
  ];
  const link = (rule: string): Words => [known.has(rule) ? { text: rule, to: at.rule(rule) } : { code: rule }];
  return {
    entry: {
      anchor: `hazard-${id}`,
      title: [`${id}. ${hazard.hazard}`],
      rows: [
        { label: "Causes", blocks: [{ list: causes.map((cause): Words => [cause]) }] },
        { label: "Harm", blocks: [{ p: [harm] }] },
        {
          label: "Risk",
          blocks: [
            {
              p: [
                `${risk(before)} without its controls; ${risk(after)} with them: ${RISK_WORDS[riskOf(severity, after)]}.`,
              ],
            },
          ],
        },
        { label: "Controls", blocks: [{ list: controls.map(control) }] },
        ...(rules.length ? [{ label: "Rules", blocks: [{ p: joined(rules.map(link), ", ") }] }] : []),
        ...(left ? [{ label: "What is left", blocks: [{ p: [left] as Words }] }] : []),
      ],
    },
  };
}

/** Each source once, by its short name, with a word where it disagrees. */
function sourceLinks(citations: readonly Citation[]): Words[] {
  const once = new Map(citations.map((c) => [`${c.source} ${c.says}`, c]));
  return [...once.values()].map(
    ({ source, says }): Words => [
      { text: source, to: at.source(source) },
      ...(says === "against" ? [" (dissent)"] : []),
    ],
  );
}

function traceSection(knowledge: Knowledge, tests: ReadonlyMap<string, readonly CoveringTest[]>): Section {
  const rules = [
    ...knowledge.tables.flatMap((t) =>
      t.rules.map((r) => ({ id: r.id, sources: r.variants.flatMap((v) => v.says.sources) })),
    ),
    ...knowledge.figures,
  ];
  return {
    anchor: "traceability",
    title: "Traceability",
    blocks: [
      {
        p: [
          "Each rule with its sources and how many tests name it or are recorded to make it speak; their titles stand with the rule.",
        ],
        note: true,
      },
      {
        table: {
          head: ["Rule", "Sources", "Tests that name it", "Test files in which it speaks"],
          rows: rules.map(({ id, sources }) => {
            const covering = tests.get(id) ?? [];
            const named = covering.flatMap((c) => c.titles).length;
            return {
              anchor: `trace-${id}`,
              cells: [
                [[{ text: id, to: at.rule(id) }]],
                [joined(sourceLinks(sources), ", ")],
                [[String(named)]],
                [[String(covering.length)]],
              ],
            };
          }),
        },
      },
    ],
  };
}

import type { Citation } from "../evidence/citation.ts";
import type { ClassDescription, Question } from "../module.ts";
import type { PolicyValue } from "../policy/policy-value.ts";
import { type Block, joined, plain, type Words } from "./blocks.ts";
import type { Choices, Figure, Knowledge, RuleSaying, SignSaying, Variant } from "./knowledge.ts";
import { at, capital, citationWords, patientWords, SCOPE_WORDS, type Speaker } from "./words.ts";

/** One thing that is known, as plain data that can be kept in a file and put into today's words later. */
type Kept =
  | { readonly kind: "rule"; readonly id: string; readonly data: readonly Variant<RuleSaying>[] }
  | { readonly kind: "figure"; readonly id: string; readonly data: Omit<Figure, "id"> }
  | { readonly kind: "sign"; readonly id: string; readonly data: readonly Variant<SignSaying>[] }
  | { readonly kind: "question"; readonly id: string; readonly data: Question }
  | { readonly kind: "class"; readonly id: string; readonly data: ClassDescription }
  | { readonly kind: "value"; readonly id: string; readonly data: PolicyValue };
type Kind = Kept["kind"];
const KINDS: { readonly [K in Kind]: { readonly many: string; readonly anchor: (id: string) => string } } = {
  rule: { many: "Rules", anchor: at.rule },
  figure: { many: "Figures", anchor: at.rule },
  sign: { many: "Signs", anchor: at.sign },
  question: { many: "Questions", anchor: at.question },
  class: { many: "Classes", anchor: at.class },
  value: { many: "Site policy", anchor: at.policy },
};

const keptOf = (k: Knowledge): Kept[] => [
  ...k.tables.flatMap((t) => t.rules.map((r): Kept => ({ kind: "rule", id: r.id, data: r.variants }))),
  ...k.figures.map(({ id, ...data }): Kept => ({ kind: "figure", id, data })),
  ...[...k.signs.values()].map((s): Kept => ({ kind: "sign", id: s.id, data: s.variants })),
  ...[...k.questions].map(([id, data]): Kept => ({ kind: "question", id, data })),
  ...[...k.classes].map(([id, data]): Kept => ({ kind: "class", id, data })),
  ...Object.entries(k.policy).map(([id, data]): Kept => ({ kind: "value", id, data })),
];

/** Everything known, one thing a line, to be kept beside a released version and compared with later. */
export const snapshotOf = (knowledge: Knowledge, version: string): string =>
  `${[{ version }, ...keptOf(knowledge)].map((line) => JSON.stringify(line)).join("\n")}\n`;

/**
 * What was added, changed and taken out since a snapshot, in words. Both sides are put in today's words, so that a
 * question that is only worded anew does not count as a change of every rule that reads it.
 *
 * @throws Error when the snapshot is not what `snapshotOf` wrote
 */
export function changesSince(snapshot: string, knowledge: Knowledge, speaker: Speaker): readonly Block[] {
  const [head, ...lines] = snapshot
    .trimEnd()
    .split("\n")
    .map((line) => JSON.parse(line));
  if (typeof head?.version !== "string") throw new Error("the first line of a snapshot names its version");
  const name = ({ kind, id }: Kept) => `${kind} ${id}`;
  const before = new Map((lines as Kept[]).map((kept) => [name(kept), kept]));
  const now = new Map(keptOf(knowledge).map((kept) => [name(kept), kept]));
  const titled = (kept: Kept, stands: boolean): Words => {
    const title = titleOf(kept, speaker);
    return stands ? [{ text: title, to: KINDS[kept.kind].anchor(kept.id) }] : [{ strong: title }];
  };
  // A kind of thing that the older version did not write down cannot be compared: not all of it is new.
  const written = new Set((lines as Kept[]).map((kept) => kept.kind));
  const kinds = Object.keys(KINDS) as Kind[];
  const unwritten = kinds.filter((kind) => lines.length > 0 && !written.has(kind) && of(now, kind).length > 0);
  const blocks = kinds
    .filter((kind) => !unwritten.includes(kind))
    .flatMap((kind): Block[] => {
      const added = of(now, kind).filter((kept) => !before.has(name(kept)));
      const removed = of(before, kind).filter((kept) => !now.has(name(kept)));
      const changed = of(now, kind).flatMap((kept) => {
        const old = before.get(name(kept));
        if (old === undefined || JSON.stringify(old.data) === JSON.stringify(kept.data)) return [];
        const fields = differing(fieldsOf(old, speaker), fieldsOf(kept, speaker));
        return fields.length ? [{ kept, fields }] : [];
      });
      if (added.length + removed.length + changed.length === 0) return [];
      return [
        {
          heading: `${KINDS[kind].many}: ${added.length} added, ${changed.length} changed, ${removed.length} taken out`,
          level: 4,
        },
        ...(added.length
          ? [
              {
                p: [
                  "Added: ",
                  ...joined(
                    added.map((kept) => titled(kept, true)),
                    ", ",
                  ),
                  ".",
                ] as Words,
              },
            ]
          : []),
        ...(removed.length
          ? [
              {
                list: removed.map(
                  (kept): Words => ["Taken out: ", ...titled(kept, false), `. ${saidShort(kept, speaker)}`],
                ),
              },
            ]
          : []),
        ...changed.flatMap(({ kept, fields }): Block[] => [
          { p: ["Changed: ", ...titled(kept, true)] },
          {
            list: fields.flatMap(({ label, was, is }): Words[] => [
              [{ strong: `${label}, was:` }, ` ${was}`],
              [{ strong: `${label}, now:` }, ` ${is}`],
            ]),
          },
        ]),
      ];
    });
  return [
    { heading: `Compared with the rules of ${head.version}`, level: 3 },
    ...(blocks.length ? blocks : [{ p: ["No rule, sign, question, class or value differs from that version."] }]),
    ...unwritten.map(
      (kind): Block => ({ p: [`${KINDS[kind].many}: not written down with that version, so not compared.`] }),
    ),
  ];
}
const of = (all: ReadonlyMap<string, Kept>, kind: Kind) => [...all.values()].filter((kept) => kept.kind === kind);

type Fields = { readonly [label: string]: string };
const differing = (old: Fields, fresh: Fields) =>
  [...new Set([...Object.keys(old), ...Object.keys(fresh)])]
    .map((label) => ({ label, was: old[label] || "nothing", is: fresh[label] || "nothing" }))
    .filter(({ was, is }) => was !== is);
const saidShort = (kept: Kept, speaker: Speaker) => (kept.kind === "rule" ? (fieldsOf(kept, speaker).Then ?? "") : "");

function titleOf(kept: Kept, speaker: Speaker): string {
  switch (kept.kind) {
    case "rule":
    case "figure":
    case "value":
      return kept.id;
    case "sign":
      return kept.data[0]?.says.words ?? plain(speaker.column(kept.id));
    case "question":
      return kept.data.wording;
    case "class":
      return kept.data.name;
  }
}

function fieldsOf(kept: Kept, speaker: Speaker): Fields {
  switch (kept.kind) {
    case "rule":
      return {
        When: perVariant(kept.data, speaker, (s) => all(speaker.row(s.when), " and ")),
        Then: perVariant(kept.data, speaker, (s) =>
          all(
            s.then.flatMap((e) => speaker.effect(e)),
            " ",
          ),
        ),
        Because: perVariant(kept.data, speaker, (s) => s.because),
        Sources: perVariant(kept.data, speaker, (s) => s.sources.map(cited).join(" ")),
        "While not known": perVariant(kept.data, speaker, (s) => s.assume?.say ?? ""),
      };
    case "figure":
      return {
        Examples: kept.data.examples.map(({ facts, text }) => `${patientWords(facts, speaker)}: ${text}`).join(" "),
        Because: kept.data.because,
        Sources: kept.data.sources.map(cited).join(" "),
        "Site values": kept.data.numbers.join(", "),
      };
    case "sign":
      return {
        Words: perVariant(kept.data, speaker, (s) => s.words),
        "Yes when": perVariant(kept.data, speaker, (s) =>
          s.any.map((row) => all(speaker.row(row), " and ")).join("; or "),
        ),
        "No until shown": perVariant(kept.data, speaker, (s) => (s.noUntilShown ? "yes" : "no")),
      };
    case "question":
      return {
        Wording: kept.data.wording,
        Hint: kept.data.hint ?? "",
        Answers: (kept.data.options ?? []).map((o) => (o.hint ? `${o.label} (${o.hint})` : o.label)).join(", "),
        "Cannot tell": kept.data.cannotTell ?? "",
        Asked: capital(SCOPE_WORDS[kept.data.scope]),
        "From the chart": kept.data.chartMayPropose ? "may be proposed" : "never proposed",
      };
    case "class":
      return { Name: kept.data.name, Definition: kept.data.definition };
    case "value": {
      const { data } = kept;
      return {
        Default: String(data.value),
        Allowed: data.type === "number" ? `${data.min} to ${data.max} ${data.unit}` : data.options.join(", "),
        "Never above": data.type === "number" ? (data.notAbove ?? "") : "",
        Note: data.note,
        Sources: data.sources.map(cited).join(" "),
      };
    }
  }
}
const all = (parts: readonly Words[], between: string) => parts.map(plain).join(between);
const cited = (c: Citation) => `${c.says === "against" ? "Against: " : ""}${plain(citationWords(c))}`;
const under = (only: readonly Choices[], speaker: Speaker) =>
  only.length ? `With ${plain(speaker.choices(only))}: ` : "";
/** The same words under several choices of a site stand once. */
function perVariant<T>(variants: readonly Variant<T>[], speaker: Speaker, say: (says: T) => string): string {
  const said = new Map<string, Choices[]>();
  for (const { only, says } of variants) said.set(say(says), [...(said.get(say(says)) ?? []), ...only]);
  return [...said].map(([text, only]) => (said.size === 1 ? text : `${under(only, speaker)}${text}`)).join(" ");
}

/** A change log in Markdown (headings, paragraphs, bullets) as blocks; its own title is left out. */
export function logOf(markdown: string): Block[] {
  return markdown
    .split(/\n{2,}/)
    .map((part) => part.trim())
    .filter((part) => part !== "" && !/^# /.test(part))
    .map((part): Block => {
      if (/^#{2,} /.test(part)) return { heading: part.replace(/^#+ /, ""), level: 3 };
      if (/^- /.test(part)) return { list: part.split(/\n(?=- )/).map((item) => marked(item.replace(/^- /, ""))) };
      return { p: marked(part) };
    });
}
/** One run of Markdown text: lines joined, `code` kept. */
const marked = (text: string): Words =>
  text
    .replace(/\s*\n\s*/g, " ")
    .split(/(`[^`]+`)/)
    .filter((part) => part !== "")
    .map((part) => (part.startsWith("`") ? { code: part.slice(1, -1) } : part));

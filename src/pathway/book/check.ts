import { SOURCES } from "../evidence/sources.ts";
import type { InjuryModule } from "../module.ts";
import type { PolicyDefinitions } from "../policy/policy-value.ts";
import { anchorsOf, type Book, blocksOf, plain, wordsOf } from "./blocks.ts";
import type { Knowledge } from "./knowledge.ts";
import { at, type Speaker } from "./words.ts";

/**
 * What keeps the book from being complete and readable: something that is missing or stands twice, a link that leads
 * nowhere, a value without words, an inner name where a clinician reads. Empty when the book is good.
 *
 * @param modules the knowledge itself, against which the book is held
 */
export function bookProblems(
  book: Book,
  knowledge: Knowledge,
  speaker: Speaker,
  modules: readonly InjuryModule[],
  definitions: PolicyDefinitions,
): string[] {
  return [
    ...completeness(book, modules, definitions),
    ...deadLinks(book),
    ...[...speaker.missing].map((what) => `there are no words: ${what}`),
    ...leaks(book, knowledge),
  ];
}

/** Every id that must stand in the book, taken from the modules and not from what the book was made of. */
function expected(modules: readonly InjuryModule[], definitions: PolicyDefinitions): Map<string, string> {
  const defaults = Object.fromEntries(Object.entries(definitions).map(([key, d]) => [key, d.value]));
  const choices = Object.entries(definitions).flatMap(([key, d]) =>
    d.type === "choice" ? d.options.map((o) => ({ [key]: o })) : [],
  );
  const wanted = new Map<string, string>();
  for (const m of modules)
    for (const set of [{}, ...choices]) {
      const policy = { site: "", approvedBy: "", approvedOn: "", values: { ...defaults, ...set } };
      for (const rule of m.tables(policy).flatMap((t) => t.rules)) wanted.set(at.rule(rule.id), `rule ${rule.id}`);
      for (const sign of m.signs(policy)) wanted.set(at.sign(sign.name), `sign ${sign.name}`);
    }
  for (const m of modules) {
    for (const finding of Object.keys(m.findings)) wanted.set(at.question(finding), `question for ${finding}`);
    for (const id of Object.keys(m.classes)) wanted.set(at.class(id), `class ${id}`);
  }
  for (const id of Object.keys(SOURCES)) wanted.set(at.source(id), `source ${id}`);
  for (const key of Object.keys(definitions)) wanted.set(at.policy(key), `site value ${key}`);
  return wanted;
}
function completeness(book: Book, modules: readonly InjuryModule[], definitions: PolicyDefinitions): string[] {
  const count = new Map<string, number>();
  for (const anchor of anchorsOf(book)) count.set(anchor, (count.get(anchor) ?? 0) + 1);
  return [
    ...[...expected(modules, definitions)]
      .filter(([anchor]) => !count.has(anchor))
      .map(([, what]) => `${what} is missing`),
    ...[...count].filter(([, n]) => n > 1).map(([anchor, n]) => `${anchor} stands ${n} times`),
  ];
}

function deadLinks(book: Book): string[] {
  const anchors = new Set(anchorsOf(book));
  const targets = wordsOf(book).flatMap((words) =>
    words.flatMap((w) => (typeof w === "object" && "to" in w ? [w.to] : [])),
  );
  return [...new Set(targets)]
    .filter((to) => !anchors.has(to))
    .map((to) => `a link leads to ${to}, which is not there`);
}

/** How a name of the code begins; units such as mGy are shorter. */
const INNER = /^[a-z]{3,}[A-Z]/;
/** Names of findings and signs, and values with a hyphen or shouted, that no question or sign uses as its own words. */
function leaks(book: Book, knowledge: Knowledge): string[] {
  const shown = new Set(
    [
      ...[...knowledge.questions.values()].flatMap((q) => [
        q.wording,
        q.hint ?? "",
        ...(q.options ?? []).flatMap((o) => [o.label, o.hint ?? ""]),
      ]),
      ...[...knowledge.signs.values()].flatMap((s) => s.variants.map((v) => v.says.words)),
      ...[...knowledge.classes.values()].flatMap((c) => [c.name, c.definition]),
    ].flatMap(tokens),
  );
  const values = new Set(
    Object.values(knowledge.findings).flatMap((d) =>
      d.type === "choice" ? d.values.filter((v) => v.includes("-")) : [],
    ),
  );
  return blocksOf(book).flatMap((block) => {
    if (!("entry" in block) || !block.entry.anchor.startsWith("rule-")) return [];
    const read = block.entry.rows
      .filter((row) => READ_ROWS.includes(row.label))
      .flatMap((row) => row.blocks.flatMap((b) => ("p" in b ? [b.p] : "list" in b ? b.list : [])))
      .flatMap((words) => tokens(plain(words)));
    const names = read.filter((t) => INNER.test(t) || t in knowledge.findings || knowledge.signs.has(t));
    const raw = read.filter((t) => values.has(t) && !shown.has(t));
    return [...new Set([...names.filter((t) => /[A-Z]/.test(t)), ...raw])].map(
      (t) => `${plain(block.entry.title)} shows the inner name "${t}"`,
    );
  });
}
const READ_ROWS = ["When", "Then", "Also"];
const tokens = (text: string) => text.split(/[^\p{L}\p{N}-]+/u).filter(Boolean);

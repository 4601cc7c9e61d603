import type { Line } from "../assessment.ts";
import type { Citation } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import type { ClassDescription, EffectTable, InjuryModule, Question, QuestionGroup } from "../module.ts";
import type { PolicyDefinitions, PolicyValue, SitePolicy } from "../policy/policy-value.ts";
import type { FindingDefinition, FindingDefinitions } from "../reasoning/finding.ts";
import type { AnyRule, AnySign, Facts } from "../reasoning/program.ts";

/** A cell of a row as plain data, so that it can be kept in a file: values, or the ends of a span that has them. */
export type Cell = readonly string[] | { readonly from?: number; readonly under?: number };
export type PlainRow = { readonly [column: string]: Cell };
export interface RuleSaying {
  readonly when: PlainRow;
  readonly then: readonly Effect[];
  readonly because: string;
  readonly sources: readonly Citation[];
  readonly assume?: { readonly column: string; readonly say: string };
}
export interface SignSaying {
  readonly words: string;
  readonly any: readonly PlainRow[];
  readonly noUntilShown?: true;
}
/** Choices of a site (and the injury, where several are covered) under which something is said. */
export type Choices = { readonly [key: string]: string };
/** What is said, and under which choices; an empty list: under all. */
export interface Variant<T> {
  readonly only: readonly Choices[];
  readonly says: T;
}
/** A rule or sign over everything a site may set. */
export interface Over<T> {
  readonly id: string;
  readonly variants: readonly Variant<T>[];
  /** Keys of numbers that change what it says. */
  readonly numbers: readonly string[];
}
export interface BookTable {
  readonly id: string;
  readonly question: string;
  readonly answers: "one" | "every";
  readonly gate: boolean;
  readonly ordinary: boolean;
  readonly checks: boolean;
  readonly rules: readonly Over<RuleSaying>[];
}
/** A line that arithmetic says, not a row of a table, shown by worked examples. */
export interface Figure {
  readonly id: string;
  readonly because: string;
  readonly sources: readonly Citation[];
  readonly examples: readonly { readonly facts: Facts; readonly text: string }[];
  readonly numbers: readonly string[];
}
/** Everything the rules know, under every policy a site may choose. */
export interface Knowledge {
  readonly modules: readonly InjuryModule[];
  readonly findings: FindingDefinitions;
  readonly questions: ReadonlyMap<string, Question>;
  readonly groups: readonly QuestionGroup[];
  readonly classes: ReadonlyMap<string, ClassDescription>;
  readonly tables: readonly BookTable[];
  readonly signs: ReadonlyMap<string, Over<SignSaying>>;
  readonly figures: readonly Figure[];
  readonly policy: PolicyDefinitions;
}

interface World {
  readonly at: Choices;
  readonly module: InjuryModule;
  readonly policy: SitePolicy;
}
export const INJURY = "injury";

/** Collects the rules of every injury under every choice a site has: alone and in pairs, which is as deep as rules depend on choices. */
export function knowledgeOf(modules: readonly InjuryModule[], definitions: PolicyDefinitions): Knowledge {
  const worlds = worldsOf(modules, definitions);
  const said = worlds.map((world) => saidIn(world));
  const numbers = numbersUsed(worlds, definitions);
  const over = <T>(id: string, pick: (s: Said) => T | undefined): Over<T> => ({
    id,
    variants: variantsOf(
      worlds.map((w) => w.at),
      said.map(pick),
    ),
    numbers: [...(numbers.get(id) ?? [])].sort(),
  });
  const tables = new Map<string, { table: EffectTable; order: number; rules: string[] }>();
  for (const { tables: own } of said)
    own.forEach((table, order) => {
      const seen = tables.get(table.id) ?? { table, order, rules: [] };
      for (const rule of table.rules) if (!seen.rules.includes(rule.id)) seen.rules.push(rule.id);
      tables.set(table.id, seen);
    });
  const signNames = [...new Set(said.flatMap((s) => [...s.signs.keys()]))];
  return {
    modules,
    findings: Object.assign({}, ...modules.map((m) => m.findings)),
    questions: new Map(modules.flatMap((m) => m.questions.map((q) => [q.finding, q]))),
    groups: groupsOf(modules),
    classes: new Map(modules.flatMap((m) => Object.entries(m.classes))),
    tables: [...tables.values()]
      .sort((a, b) => a.order - b.order)
      .map(({ table, rules }) => ({
        id: table.id,
        question: table.question,
        answers: table.answers,
        gate: table.gate === true,
        ordinary: table.ordinary === true,
        checks: table.checks === true,
        rules: rules.map((id) => over(id, (s) => s.rules.get(id))),
      })),
    signs: new Map(signNames.map((name) => [name, over(name, (s) => s.signs.get(name))])),
    figures: figuresOf(worlds, definitions),
    policy: definitions,
  };
}

/** The groups of all injuries; one that several share stands once, with the questions of each. */
function groupsOf(modules: readonly InjuryModule[]): QuestionGroup[] {
  const groups = new Map<string, QuestionGroup>();
  const placed = new Set<string>();
  for (const group of modules.flatMap((m) => m.groups)) {
    const before = groups.get(group.id);
    const fresh = group.findings.filter((f) => !placed.has(f));
    for (const f of fresh) placed.add(f);
    const quick = [...(before?.quick ?? []), ...group.quick].filter(
      (q, i, all) => all.findIndex((o) => o.label === q.label) === i,
    );
    groups.set(group.id, { ...(before ?? group), findings: [...(before?.findings ?? []), ...fresh], quick });
  }
  return [...groups.values()];
}

function worldsOf(modules: readonly InjuryModule[], definitions: PolicyDefinitions): World[] {
  const defaults = Object.fromEntries(Object.entries(definitions).map(([key, d]) => [key, d.value]));
  const choices = Object.entries(definitions).flatMap(([key, d]) => (d.type === "choice" ? [{ key, d }] : []));
  const others = choices.flatMap(({ key, d }) =>
    d.options.filter((o) => o !== d.value).map((option) => ({ key, option })),
  );
  const singles = others.map(({ key, option }) => ({ [key]: option }));
  const pairs = others.flatMap((a, i) =>
    others.slice(i + 1).flatMap((b) => (a.key === b.key ? [] : [{ [a.key]: a.option, [b.key]: b.option }])),
  );
  const base: Choices = Object.fromEntries(choices.map(({ key, d }) => [key, d.value]));
  return modules.flatMap((module) =>
    [{}, ...singles, ...pairs].map(
      (set): World => ({
        at: { [INJURY]: module.title, ...base, ...set },
        module,
        policy: { site: "", approvedBy: "", approvedOn: "", values: { ...defaults, ...set } },
      }),
    ),
  );
}

interface Said {
  readonly tables: readonly EffectTable[];
  readonly rules: ReadonlyMap<string, RuleSaying>;
  readonly signs: ReadonlyMap<string, SignSaying>;
}
function saidIn({ module, policy }: World): Said {
  const tables = module.tables(policy);
  return {
    tables,
    rules: new Map(tables.flatMap((t) => t.rules.map((r) => [r.id, ruleSaying(r)]))),
    signs: new Map(module.signs(policy).map((s) => [s.name, signSaying(s)])),
  };
}
const ruleSaying = (rule: AnyRule): RuleSaying => ({
  when: plainRow(rule.when),
  then: rule.then as readonly Effect[],
  because: rule.because,
  sources: rule.sources,
  ...(rule.assume ? { assume: rule.assume } : {}),
});
const signSaying = (sign: AnySign): SignSaying => ({
  words: sign.words,
  any: sign.any.map(plainRow),
  ...(sign.noUntilShown ? { noUntilShown: true } : {}),
});
function plainRow(row: object): PlainRow {
  const cell = (value: unknown): Cell => {
    if (typeof value === "object" && value !== null && "under" in value) {
      const { from, under } = value as { from: number; under: number };
      return { ...(Number.isFinite(from) ? { from } : {}), ...(Number.isFinite(under) ? { under } : {}) };
    }
    return (Array.isArray(value) ? value : [value]).map(String);
  };
  return Object.fromEntries(Object.entries(row).map(([column, value]) => [column, cell(value)]));
}

/** The different things that are said over the worlds, each with the choices it hangs on; what the first world says comes first. */
function variantsOf<T>(worlds: readonly Choices[], said: readonly (T | undefined)[]): Variant<T>[] {
  const content = said.map((s) => JSON.stringify(s) ?? "");
  const kinds = [...new Set(content)];
  if (kinds.length === 1) return said[0] === undefined ? [] : [{ only: [], says: said[0] }];
  const keys = [...new Set(worlds.flatMap(Object.keys))];
  const matters = keys.filter((key) => {
    const neighbours = new Map<string, string>();
    return worlds.some((at, i) => {
      const rest = JSON.stringify({ ...at, [key]: "" });
      const before = neighbours.get(rest);
      neighbours.set(rest, content[i]!);
      return before !== undefined && before !== content[i];
    });
  });
  return kinds.flatMap((kind): Variant<T>[] => {
    const first = said[content.indexOf(kind)];
    if (first === undefined) return [];
    const only = worlds.flatMap((at, i) =>
      content[i] === kind ? [Object.fromEntries(matters.map((key) => [key, at[key]!]))] : [],
    );
    return [{ only: [...new Map(only.map((o) => [JSON.stringify(o), o])).values()], says: first }];
  });
}

/** A number at its other ends. */
const otherValues = (d: PolicyValue): number[] =>
  d.type === "number" ? [...new Set([d.min, d.max])].filter((v) => v !== d.value) : [];
/** The world with no choice but the defaults, and those with a single one. */
const upToOneChoice = (worlds: readonly World[], definitions: PolicyDefinitions) =>
  worlds.filter(({ at }) => Object.keys(at).filter((k) => k !== INJURY && at[k] !== definitions[k]!.value).length <= 1);

/** Which numbers change which rules and signs, found by moving one number at a time. */
function numbersUsed(worlds: readonly World[], definitions: PolicyDefinitions): Map<string, Set<string>> {
  const used = new Map<string, Set<string>>();
  const note = (id: string, key: string) => used.set(id, (used.get(id) ?? new Set()).add(key));
  for (const { module, policy } of upToOneChoice(worlds, definitions)) {
    // Whole tables are compared first: most numbers touch few of them.
    const text = (p: SitePolicy) => module.tables(p).map((t) => ({ rules: t.rules, text: JSON.stringify(t.rules) }));
    const signs = (p: SitePolicy) => module.signs(p).map((s) => ({ name: s.name, text: JSON.stringify(s) }));
    const before = { tables: text(policy), signs: signs(policy) };
    for (const [key, d] of Object.entries(definitions))
      for (const value of otherValues(d)) {
        const moved = { ...policy, values: { ...policy.values, [key]: value } };
        signs(moved).forEach((sign, i) => {
          if (sign.text !== before.signs[i]?.text) note(sign.name, key);
        });
        text(moved).forEach((table, i) => {
          const old = before.tables[i];
          if (table.text === old?.text) return;
          const known = new Map(old?.rules.map((r) => [r.id, JSON.stringify(r)]));
          for (const rule of table.rules) if (known.get(rule.id) !== JSON.stringify(rule)) note(rule.id, key);
        });
      }
  }
  return used;
}

/** Patients for whom the arithmetic is written out: an infant, a child and an adult. */
const EXAMPLES: readonly Facts[] = [
  { ageYears: 0.25, weightKg: 6 },
  { ageYears: 5, weightKg: 20 },
  { ageYears: 40, weightKg: 70 },
];
function figuresOf(worlds: readonly World[], definitions: PolicyDefinitions): Figure[] {
  const figures = new Map<string, { line: Line; examples: Map<string, Facts>; numbers: Set<string> }>();
  const choicesOf = ({ findings }: InjuryModule, finding: string): readonly string[] => {
    const d: FindingDefinition | undefined = findings[finding];
    return d?.type === "choice" ? d.values : [];
  };
  for (const { module, policy } of upToOneChoice(worlds, definitions)) {
    const open = { blockLikely: "yes", blockForbidden: "no" };
    const needed = module.figures(open, policy).needs.filter((f) => choicesOf(module, f).length > 0);
    const patients = needed.reduce<readonly Facts[]>(
      (all, finding) =>
        all.flatMap((facts) => choicesOf(module, finding).map((value) => ({ ...facts, [finding]: value }))),
      EXAMPLES,
    );
    for (const facts of patients) {
      const lines = (p: SitePolicy) => module.figures({ ...open, ...facts }, p).anaesthetic;
      for (const line of lines(policy)) {
        const figure = figures.get(line.rule) ?? { line, examples: new Map(), numbers: new Set() };
        if (!figure.examples.has(line.text)) figure.examples.set(line.text, facts);
        figures.set(line.rule, figure);
      }
    }
    for (const [key, d] of Object.entries(definitions))
      for (const value of otherValues(d))
        for (const facts of EXAMPLES) {
          const moved = { ...policy, values: { ...policy.values, [key]: value } };
          const before = new Map(
            module.figures({ ...open, ...facts }, policy).anaesthetic.map((l) => [l.rule, l.text]),
          );
          for (const line of module.figures({ ...open, ...facts }, moved).anaesthetic)
            if (before.get(line.rule) !== line.text) figures.get(line.rule)?.numbers.add(key);
        }
  }
  return [...figures.values()].map(({ line, examples, numbers }) => ({
    id: line.rule,
    because: line.because,
    sources: line.sources,
    examples: [...examples].map(([text, facts]) => ({ facts, text })),
    numbers: [...numbers].sort(),
  }));
}

/**
 * Faults planted in the rules themselves. Rules are data, so a fault is made on the data: a cell dropped, a threshold moved by one step,
 * an effect lost, an urgency one level off. Wording is left alone: a changed word is for a reader to find, not for a test.
 *
 * Every fault has a key that stays the same from run to run ("AB3/when.openness/drop").
 */
import {
  type AntibioticDecision,
  type Effect,
  type ManagementCall,
  type Splint,
  URGENCIES,
  VISIT_PURPOSES,
  type Visit,
} from "../../src/pathway/hand/effects.ts";
import type { EffectTable, InjuryModule, Question, QuestionGroup } from "../../src/pathway/module.ts";
import type { PolicyValue } from "../../src/pathway/policy/policy-value.ts";
import type { FindingDefinition } from "../../src/pathway/reasoning/finding.ts";
import type { AnyRule, AnySign } from "../../src/pathway/reasoning/program.ts";
import type { Span } from "../../src/pathway/reasoning/table.ts";

export interface Fault<T> {
  readonly key: string;
  readonly made: T;
}
/** What the faults of a cell need to know of the whole: the values of each finding, and the classes and drug groups rules name. */
export interface Domain {
  readonly values: { readonly [finding: string]: readonly string[] };
  readonly classes: readonly string[];
  readonly drugs: readonly string[];
}

const YES_NO = ["yes", "no"];
const CALLS: readonly ManagementCall[] = ["non-operative", "must-refer", "discuss", "operative", "options"];
const DECISIONS: readonly AntibioticDecision[] = [
  "no",
  "not-routinely",
  "consider",
  "yes",
  "treat-infection",
  "local-policy",
];
const next = <V>(all: readonly V[], value: V): V => all[(all.indexOf(value) + 1) % all.length]!;
const without = <V>(all: readonly V[], at: number): V[] => all.filter((_, i) => i !== at);
const same = (a: unknown, b: unknown) => JSON.stringify(a) === JSON.stringify(b);
function dropped<T extends object>(from: T, key: keyof T): T {
  const { [key]: _, ...rest } = from;
  return rest as T;
}
const inside = <A, B>(faults: readonly Fault<A>[], at: string, put: (made: A) => B): Fault<B>[] =>
  faults.map((f) => ({ key: `${at}${f.key}`, made: put(f.made) }));

/** One step of the unit: 1 for whole numbers, a tenth otherwise, less for fractions of a year or a month. */
const stepOf = (n: number): number => (Math.abs(n - Math.round(n)) < 1e-4 ? 1 : Math.abs(n) >= 1 ? 0.1 : 0.02);
const shifted = (n: number): Fault<number>[] => [
  { key: "+step", made: n + stepOf(n) },
  { key: "-step", made: n - stepOf(n) },
];
const aDayLater = (n: number): Fault<number>[] => [{ key: "+1", made: n + 1 }];

const isSpan = (cell: unknown): cell is Span => typeof cell === "object" && cell !== null && "from" in cell;

function cellFaults(cell: unknown, values: readonly string[]): Fault<unknown>[] {
  if (isSpan(cell))
    return (["from", "under"] as const).flatMap((end) =>
      Number.isFinite(cell[end]) ? inside(shifted(cell[end]), end, (made): unknown => ({ ...cell, [end]: made })) : [],
    );
  const listed = (Array.isArray(cell) ? cell : [cell]) as string[];
  const others = values.filter((v) => !listed.includes(v));
  const faults: Fault<unknown>[] = [];
  if (listed.length > 1)
    listed.forEach((value, i) => {
      faults.push({ key: `without ${value}`, made: without(listed, i) });
    });
  else if (others.length > 0) faults.push({ key: `${others[0]} instead`, made: others[0] });
  // A list widened by its last missing value is the same as the cell dropped.
  if (others.length > 1) faults.push({ key: `also ${others.at(-1)}`, made: [...listed, others.at(-1)!] });
  return faults;
}

type When = Readonly<Record<string, unknown>>;
function rowFaults(row: When, domain: Domain): Fault<When>[] {
  return Object.entries(row).flatMap(([column, cell]) => [
    { key: `${column}/drop`, made: dropped(row, column) },
    ...inside(cellFaults(cell, domain.values[column] ?? YES_NO), `${column}/`, (made) => ({ ...row, [column]: made })),
  ]);
}

function visitFaults(visit: Visit): Fault<Visit>[] {
  return [
    ...(["earliest", "ideal", "latest"] as const).flatMap((day) =>
      inside(aDayLater(visit[day]), day, (made): Visit => ({ ...visit, [day]: made })),
    ),
    { key: "another purpose", made: { ...visit, purpose: next(VISIT_PURPOSES, visit.purpose) } },
    {
      key: "counted from the other day",
      made: { ...visit, countFrom: visit.countFrom === "treatment" ? "injury" : "treatment" },
    },
    ...(visit.onlyIf === undefined ? [] : [{ key: "whatever was done", made: dropped(visit, "onlyIf") }]),
    ...(visit.after === undefined ? [] : [{ key: "after nothing", made: dropped(visit, "after") }]),
  ];
}
function splintFaults(splint: Splint): Fault<Splint>[] {
  return [
    ...(["from", "to"] as const).flatMap((day) =>
      inside(
        aDayLater(splint.days[day]),
        `days.${day}`,
        (made): Splint => ({ ...splint, days: { ...splint.days, [day]: made } }),
      ),
    ),
    ...splint.joints.map((joint, i) => ({
      key: `${joint} not held`,
      made: { ...splint, joints: without(splint.joints, i) },
    })),
    ...splint.free.map((joint, i) => ({
      key: `${joint} held`,
      made: { ...splint, free: without(splint.free, i), joints: [...splint.joints, joint] },
    })),
  ];
}
function urgencyFaults<E extends Effect & { readonly urgency: (typeof URGENCIES)[number] }>(effect: E): Fault<E>[] {
  const at = URGENCIES.indexOf(effect.urgency);
  return [at - 1, at + 1].flatMap((level) => {
    const urgency = URGENCIES[level];
    return urgency === undefined ? [] : [{ key: `urgency ${urgency}`, made: { ...effect, urgency } }];
  });
}

function effectFaults(effect: Effect, domain: Domain): Fault<Effect>[] {
  switch (effect.kind) {
    case "exit":
      return [...urgencyFaults(effect), { key: "leaves", made: { ...effect, leaves: !effect.leaves } }];
    case "urgency":
      return urgencyFaults(effect);
    case "quality":
      return [{ key: "blocks", made: { ...effect, blocks: !effect.blocks } }];
    case "class":
      return [{ key: "another class", made: { ...effect, class: next(domain.classes, effect.class) } }];
    case "antibiotic":
      return [{ key: "another decision", made: { ...effect, decision: next(DECISIONS, effect.decision) } }];
    case "antibiotic-class":
      return [
        { key: "another drug", made: { ...effect, choose: next(domain.drugs, effect.choose) } },
        ...(effect.avoid === undefined ? [] : [{ key: "nothing to avoid", made: dropped(effect, "avoid") }]),
      ];
    case "tetanus":
      return [
        { key: "vaccine", made: { ...effect, vaccine: !effect.vaccine } },
        { key: "immunoglobulin", made: { ...effect, immunoglobulin: !effect.immunoglobulin } },
      ];
    case "epinephrine":
      return [{ key: "allow", made: { ...effect, allow: !effect.allow } }];
    case "manage":
      return [{ key: "another call", made: { ...effect, call: next(CALLS, effect.call) } }];
    case "splint":
      return inside(splintFaults(effect.splint), "", (splint): Effect => ({ ...effect, splint }));
    case "visit":
      return inside(visitFaults(effect.visit), "", (visit): Effect => ({ ...effect, visit }));
    case "advise":
      return [{ key: "red flag", made: { ...effect, redFlag: !effect.redFlag } }];
    default: // what is only said: dropped as a whole, never reworded
      return [];
  }
}

function ruleFaults(rule: AnyRule, domain: Domain): Fault<AnyRule>[] {
  const then = rule.then as readonly Effect[];
  return [
    ...inside(rowFaults(rule.when as When, domain), "when.", (when) => ({ ...rule, when }) as AnyRule),
    ...then.flatMap((effect, i): Fault<AnyRule>[] => [
      { key: `then.${i} ${effect.kind}/drop`, made: { ...rule, then: without(then, i) } },
      ...inside(
        effectFaults(effect, domain),
        `then.${i} ${effect.kind}/`,
        (made): AnyRule => ({ ...rule, then: then.with(i, made) }),
      ),
    ]),
    ...(rule.assume ? [{ key: "assume/drop", made: dropped(rule, "assume") }] : []),
  ];
}

/** Faults of a table: of each rule, a rule lost, and two neighbours that say each other's words. */
export function tableFaults(table: EffectTable, domain: Domain): Fault<EffectTable>[] {
  const { rules } = table;
  return rules.flatMap((rule, i): Fault<EffectTable>[] => {
    const other = rules[i + 1];
    const swapped =
      other && !same(rule.then, other.then)
        ? [
            {
              key: `${rule.id}/says what ${other.id} says`,
              made: {
                ...table,
                rules: rules.with(i, { ...rule, then: other.then }).with(i + 1, { ...other, then: rule.then }),
              },
            },
          ]
        : [];
    return [
      { key: `${rule.id}/drop`, made: { ...table, rules: without(rules, i) } },
      ...inside(
        ruleFaults(rule, domain),
        `${rule.id}/`,
        (made): EffectTable => ({ ...table, rules: rules.with(i, made) }),
      ),
      ...swapped,
    ];
  });
}

/** How a table is heard: red-flag gate, silent after an exit, or only a check of answers against each other. */
export const hearingFaults = (tables: readonly EffectTable[]): Fault<readonly EffectTable[]>[] =>
  tables.flatMap((table, i) =>
    (["gate", "ordinary", "checks"] as const)
      .filter((flag) => flag !== "checks" || table.checks)
      .map((flag) => ({
        key: `${table.id}/${flag}`,
        made: tables.with(i, table[flag] ? dropped(table, flag) : { ...table, [flag]: true }),
      })),
  );

export const signFaults = (signs: readonly AnySign[], domain: Domain): Fault<readonly AnySign[]>[] =>
  signs.flatMap((sign, s) => {
    const rows = sign.any as readonly When[];
    const withRows = (any: readonly When[]) => signs.with(s, { ...sign, any } as AnySign);
    return [
      ...rows.flatMap((row, r) => [
        { key: `${sign.name}/row ${r + 1}/drop`, made: withRows(without(rows, r)) },
        ...inside(rowFaults(row, domain), `${sign.name}/row ${r + 1}/`, (made) => withRows(rows.with(r, made))),
      ]),
      {
        key: `${sign.name}/no until shown`,
        made: signs.with(s, sign.noUntilShown ? dropped(sign, "noUntilShown") : { ...sign, noUntilShown: true }),
      },
    ];
  });

const entriesWith = <V, O extends { readonly [key: string]: V }>(
  all: O,
  faults: (value: V, key: string) => Fault<V>[],
): Fault<O>[] =>
  Object.entries(all).flatMap(([key, value]) =>
    inside(faults(value, key), `${key}/`, (made): O => ({ ...all, [key]: made })),
  );

export const policyFaults = (definitions: { readonly [key: string]: PolicyValue }) =>
  entriesWith<PolicyValue, typeof definitions>(definitions, (d) =>
    d.type === "choice"
      ? [{ key: "value", made: { ...d, value: next(d.options, d.value) } }]
      : [
          ...(["value", "min", "max"] as const).flatMap((end) =>
            inside(shifted(d[end]), end, (made): PolicyValue => ({ ...d, [end]: made })),
          ),
          ...(d.notAbove === undefined ? [] : [{ key: "order", made: dropped(d, "notAbove") }]),
        ],
  );

export const findingFaults = (definitions: { readonly [id: string]: FindingDefinition }) =>
  entriesWith<FindingDefinition, typeof definitions>(definitions, (d) => [
    { key: "scope", made: { ...d, scope: next(["patient", "injury", "digit"] as const, d.scope) } },
    ...(d.type === "number"
      ? (["min", "max"] as const).flatMap((end) =>
          inside(shifted(d[end]), end, (made): FindingDefinition => ({ ...d, [end]: made })),
        )
      : []),
  ]);

export const questionFaults = (questions: readonly Question[]): Fault<readonly Question[]>[] =>
  questions.flatMap((q, i): Fault<readonly Question[]>[] => [
    { key: `${q.finding}/drop`, made: without(questions, i) },
    {
      key: `${q.finding}/chart may propose`,
      made: questions.with(i, { ...q, chartMayPropose: !q.chartMayPropose }),
    },
    ...(q.options && q.options.length > 0
      ? [{ key: `${q.finding}/last option`, made: questions.with(i, { ...q, options: q.options.slice(0, -1) }) }]
      : []),
  ]);

export const groupFaults = (groups: readonly QuestionGroup[]): Fault<readonly QuestionGroup[]>[] =>
  groups.flatMap((g, i): Fault<readonly QuestionGroup[]>[] => [
    { key: `${g.id}/last question`, made: groups.with(i, { ...g, findings: g.findings.slice(0, -1) }) },
    ...g.quick.flatMap((quick, q): Fault<readonly QuestionGroup[]>[] =>
      Object.keys(quick.sets).map((finding) => ({
        key: `${g.id}/quick ${q + 1}/${finding}`,
        made: groups.with(i, { ...g, quick: g.quick.with(q, { ...quick, sets: dropped(quick.sets, finding) }) }),
      })),
    ),
  ]);

/** Limits and cut points that stand as plain numbers: each moved by one step. */
export function numberFaults(value: unknown): Fault<unknown>[] {
  if (typeof value === "number") return shifted(value);
  if (!isPlain(value)) return [];
  return Object.entries(value).flatMap(([key, inner]) =>
    inside(numberFaults(inner), `${key}/`, (made): unknown => ({ ...value, [key]: made })),
  );
}

type Plain = Readonly<Record<string, unknown>>;
const isPlain = (value: unknown): value is Plain =>
  typeof value === "object" && value !== null && Object.getPrototypeOf(value) === Object.prototype;
const every = (all: readonly unknown[], has: readonly string[]) =>
  all.length > 0 && all.every((one) => isPlain(one) && has.every((key) => key in one));

/** All faults of what a maker of tables or signs returns; empty for what holds no rule. */
export function faultsOfMade(made: unknown, domain: Domain): Fault<unknown>[] {
  if (Array.isArray(made)) return every(made, ["name", "words", "any"]) ? signFaults(made, domain) : [];
  return every([made], ["id", "question", "answers", "rules"]) ? tableFaults(made as EffectTable, domain) : [];
}
/** All faults of what a rule file exports ready-made: limits, policy values, findings, questions, class names. */
export function faultsOfExport(exported: unknown): Fault<unknown>[] {
  if (Array.isArray(exported)) {
    if (every(exported, ["finding", "wording", "chartMayPropose"])) return questionFaults(exported);
    if (every(exported, ["findings", "quick"])) return groupFaults(exported);
    return [];
  }
  if (!isPlain(exported)) return numberFaults(exported);
  const values = Object.values(exported);
  if (every(values, ["type", "sources", "note"])) return policyFaults(exported as { [key: string]: PolicyValue });
  if (every(values, ["type", "scope"])) return findingFaults(exported as { [id: string]: FindingDefinition });
  if (every(values, ["name", "definition"]))
    return Object.keys(exported).map((id) => ({ key: `${id}/drop`, made: dropped(exported, id) }));
  return onlyNumbers(exported) ? numberFaults(exported) : [];
}
const onlyNumbers = (value: unknown): boolean =>
  typeof value === "number" || (typeof value === "object" && value !== null && Object.values(value).every(onlyNumbers));

export const domainOf = (module: InjuryModule, tables: readonly EffectTable[]): Domain => {
  const effects = tables.flatMap((t) => t.rules.flatMap((r) => r.then));
  return {
    values: Object.fromEntries(
      Object.entries(module.findings).flatMap(([id, d]) => (d.type === "choice" ? [[id, d.values]] : [])),
    ),
    classes: Object.keys(module.classes),
    drugs: [...new Set(effects.flatMap((e) => (e.kind === "antibiotic-class" ? [e.choose] : [])))],
  };
};

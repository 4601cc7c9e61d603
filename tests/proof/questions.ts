/** How many questions a record needs: asked in the shipped order, and at least, whatever the order. */
import fc from "fast-check";
import type { Highs } from "highs";
import { ADULT_YEARS } from "../../src/pathway/hand/limits.ts";
import { askNext, type Pathway } from "../../src/pathway/index.ts";
import { leavesPathway } from "../../src/pathway/possible.ts";
import { UNKNOWN } from "../../src/pathway/reasoning/columns.ts";
import type { AnyRule, Facts } from "../../src/pathway/reasoning/program.ts";
import { ALWAYS, NEVER, type Node, OPEN, type PlainRow } from "../../src/pathway/reasoning/statements.ts";
import { ADULT, CHILD, completeRecord } from "../pathway/distal-phalanx/records.ts";
import { type ProvenRule, recordOf, type Space } from "./space.ts";

type CompleteRecord = Readonly<Record<string, string | number>>;

/** Seeded records with an answer to every question; red flags are rare, so that most patients stay in the ordinary pathway. */
export const completeRecords = (count: number, seed: number): CompleteRecord[] =>
  fc.sample(completeRecord, { numRuns: count, seed }) as CompleteRecord[];

/** The findings asked from a blank form on, each answered from the record, until nothing is asked any more. */
export function askedFor(pathway: Pathway, record: CompleteRecord): string[] {
  const facts: Record<string, string | number> = {};
  const asked: string[] = [];
  for (let next = askNext(pathway, facts); next !== undefined; next = askNext(pathway, facts)) {
    if (next in facts) throw new Error(`${next} is asked twice`);
    asked.push(next);
    facts[next] = record[next]!;
  }
  return asked;
}
export const answersTo = (asked: readonly string[], record: CompleteRecord): CompleteRecord =>
  Object.fromEntries(asked.map((finding) => [finding, record[finding]!]));

/** Parts of what is said, in the order in which a clinician waits for them. */
export const PARTS = ["disposition", "class", "plan", "everything"] as const;
export type Part = (typeof PARTS)[number];
const PART_OF: { readonly [kind: string]: Part } = {
  exit: "disposition",
  urgency: "disposition",
  class: "class",
  manage: "plan",
  splint: "plan",
  visit: "plan",
  today: "plan",
};

/** What must be decided before nothing can change any more. */
export interface Decided {
  readonly space: Space;
  /** Statements of which all must be sure or out of the question, for each part. */
  readonly of: { readonly [P in Part]: readonly Node[] };
  /** Figures are shown; each finding that they read is then needed. */
  readonly figures: Node;
  readonly figuresRead: readonly number[];
}
export function decidedBy(space: Space): Decided {
  const { statements, pathway } = space;
  const { figuresRead } = pathway.module;
  const figures = figuresRead ? statements.row(figuresRead.when as PlainRow) : NEVER;
  const spoken = space.rules.filter((r) => !r.table.checks);
  const saying = (part: Part) =>
    spoken.filter((r: ProvenRule) => r.effects.some((e) => PART_OF[e.kind] === part)).map((r) => r.heard);
  statements.diagrams.keep();
  return {
    space,
    of: {
      disposition: [...new Set(saying("disposition"))],
      class: [...new Set(saying("class"))],
      plan: [...new Set([...saying("disposition"), ...saying("class"), ...saying("plan")])],
      everything: [...new Set([...spoken.map((r) => r.heard), figures])],
    },
    figures,
    figuresRead: statements.variables.flatMap((c, v) => (figuresRead?.findings.includes(c.name) ? v : [])),
  };
}
const settled = (nodes: readonly Node[]) => nodes.every((node) => node === ALWAYS || node === NEVER);

/** After how many of the answers, in the order asked, each part can no longer change. */
export function answersUntil(decided: Decided, record: CompleteRecord, asked: readonly string[]): Record<Part, number> {
  const { statements } = decided.space;
  const { diagrams } = statements;
  const all = statements.codesOf(record);
  const after = (count: number) => {
    const known = new Set(asked.slice(0, count));
    return all.map((code, v) => (known.has(statements.variables[v]!.name) ? code : OPEN));
  };
  const first = (part: Part) => {
    // What is settled stays settled, so the first such count can be found by halving.
    let [low, high] = [0, asked.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (settled(diagrams.restrict(decided.of[part], after(middle)))) high = middle;
      else low = middle + 1;
    }
    return low;
  };
  const counts = {
    disposition: first("disposition"),
    class: first("class"),
    plan: first("plan"),
    // Figures may need an answer that no rule reads.
    everything: asked.length,
  };
  diagrams.forget();
  return counts;
}

/** A pair of records that differ in one answer only, and what the shipped evaluator says of each. */
export interface Difference {
  readonly records: readonly [Facts, Facts];
  readonly said: readonly [string, string];
}
/**
 * Shows that the answer to a question can still matter: two ways to complete the record that differ in that answer alone. Undefined when
 * there is no such pair.
 */
export function differenceMadeBy(decided: Decided, facts: CompleteRecord, finding: string): Difference | undefined {
  const { space } = decided;
  const { diagrams, variables } = space.statements;
  const v = variables.findIndex((column) => column.name === finding);
  const open = space.statements.codesOf(facts);
  const alone = (code: number) => {
    const codes = new Uint8Array(open.length).fill(OPEN);
    codes[v] = code;
    return codes;
  };
  const pair = (witness: Uint8Array, values: readonly (number | string | undefined)[]): Difference => {
    const { [finding]: _, ...rest } = recordOf(space, witness);
    const [a, b] = values.map((value) => ({ ...rest, ...facts, ...(value === undefined ? {} : { [finding]: value }) }));
    return { records: [a!, b!], said: [saidOf(space, a!), saidOf(space, b!)] };
  };
  const byRule = (): Difference | undefined => {
    const node = diagrams.restrict(decided.of.everything, open).find((n) => diagrams.hangsOn(n, v));
    if (node === undefined) return undefined;
    for (const one of diagrams.domains[v]!)
      for (const other of diagrams.domains[v]!) {
        const [holds] = diagrams.restrict([node], alone(one));
        const [fails] = diagrams.restrict([node], alone(other));
        const witness = diagrams.witness(diagrams.and(holds!, diagrams.not(fails!)));
        const value = (code: number) => (code === UNKNOWN ? undefined : recordOf(space, alone(code))[finding]);
        if (witness) return pair(witness, [one, other].map(value));
      }
    return undefined;
  };
  const byFigures = (): Difference | undefined => {
    const shown = diagrams.witness(diagrams.restrict([decided.figures], open)[0]!);
    const definition = space.pathway.module.findings[finding]!;
    const values = definition.type === "number" ? [definition.min, definition.max] : definition.values.slice(0, 2);
    return shown && decided.figuresRead.includes(v) ? pair(shown, values) : undefined;
  };
  const found = byRule() ?? byFigures();
  diagrams.forget();
  return found;
}

/** All that is heard of a record, by the shipped evaluator, and its figures. */
export function saidOf({ pathway }: Space, record: Facts): string {
  const { verdicts, signs } = pathway.evaluate(record);
  const left = verdicts.some((v) => (v.sure as readonly AnyRule[]).some(leavesPathway));
  const heard = verdicts.flatMap((v, i) => {
    const table = pathway.tables[i]!;
    return table.checks || (left && table.ordinary) ? [] : v.sure.map((r) => r.id);
  });
  const { figuresRead } = pathway.module;
  const shown = figuresRead && Object.entries(figuresRead.when).every(([sign, value]) => signs[sign] === value);
  const figures = shown ? pathway.module.figures({ ...record, ...signs }, pathway.policy).anaesthetic : [];
  return [...heard, ...figures.map((line) => line.text)].join();
}

/**
 * The smallest set of answers of a record that settles everything, whatever all other answers are: no order of questions can do with fewer.
 *
 * Exact, by implicit hitting sets: each set of answers that is as large as it can be and still leaves something open says "one of all others
 * is needed"; the smallest set that meets all these demands is a lower bound, and the answer as soon as it settles everything.
 */
export function smallestCertificate(decided: Decided, highs: Highs, record: CompleteRecord): string[] {
  const { statements } = decided.space;
  const { diagrams, variables } = statements;
  const all = statements.codesOf(record);
  const roots = decided.of.everything;
  const needed = new Set<number>();
  if (diagrams.holds(decided.figures, all)) for (const v of decided.figuresRead) needed.add(v);
  const allBut = all.slice();
  for (let v = 0; v < all.length; v++) {
    allBut[v] = OPEN;
    if (!settled(diagrams.restrict(roots, allBut))) needed.add(v);
    allBut[v] = all[v]!;
  }
  const demands: Set<number>[] = [];
  for (;;) {
    const chosen = new Set([...needed, ...smallestHittingSet(highs, demands)]);
    const codes = all.map((code, v) => (chosen.has(v) ? code : OPEN));
    const open = [...new Set(diagrams.restrict(roots, codes))].filter((node) => node > ALWAYS);
    if (open.length === 0) {
      diagrams.forget();
      return [...chosen].map((v) => variables[v]!.name);
    }
    for (const node of open) demands.push(oneOfIsNeeded(node));
  }

  /** Adds answers to a statement for as long as it stays open: what is then left out is a smallest demand. */
  function oneOfIsNeeded(node: Node): Set<number> {
    let narrowed = node;
    for (const v of diagrams.support([node])) {
      const codes = new Uint8Array(all.length).fill(OPEN);
      codes[v] = all[v]!;
      const [more] = diagrams.restrict([narrowed], codes);
      if (more! > ALWAYS) narrowed = more!;
    }
    return diagrams.support([narrowed]);
  }
}

function smallestHittingSet(highs: Highs, demands: readonly ReadonlySet<number>[]): number[] {
  if (demands.length === 0) return [];
  const candidates = [...new Set(demands.flatMap((demand) => [...demand]))];
  const sum = (variables: Iterable<number>) => [...variables].map((v) => `x${v}`).join(" + ");
  const solution = highs.solve(
    `Minimize\n ${sum(candidates)}\nSubject To\n${demands.map((d) => ` ${sum(d)} >= 1\n`).join("")}Binary\n ${candidates.map((v) => `x${v}`).join(" ")}\nEnd`,
  );
  if (solution.Status !== "Optimal") throw new Error(`smallest hitting set: ${solution.Status}`);
  return candidates.filter((v) => solution.Columns[`x${v}`]!.Primal > 0.5);
}

export const mean = (values: readonly number[]): number =>
  values.reduce((sum, value) => sum + value, 0) / values.length;

/**
 * A published case as a whole record: what the report does not say is answered as an ordinary patient of that age would, and a wound that
 * was uncertain proves to be open.
 */
export const publishedRecord = (facts: Facts): CompleteRecord =>
  ({
    ...(Number(facts.ageYears) < ADULT_YEARS ? CHILD : ADULT),
    opennessOnSecondLook: "open-skin",
    ...facts,
  }) as CompleteRecord;

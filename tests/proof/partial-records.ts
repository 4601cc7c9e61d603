/** Partial records against all their completions, one by one, by the shipped evaluator alone. */
import fc from "fast-check";
import { askNext, assessDigit, moreUrgent, URGENCIES, type Urgency } from "../../src/pathway/index.ts";
import { leavesPathway, possibilities } from "../../src/pathway/possible.ts";
import type { AnyRule, Facts } from "../../src/pathway/reasoning/program.ts";
import { completeRecord } from "../pathway/distal-phalanx/records.ts";
import { type Flaw, type Space, urgencyOf, valueFor } from "./space.ts";

/** Findings on which most rules turn: taken away more often than the others. */
const TURNING = [
  "mechanism",
  "tipColour",
  "capillaryRefill",
  "perfusionAfterFirstSteps",
  "tissueLoss",
  "openness",
  "nailPlate",
  "nailBed",
  "bloodAtNailFold",
  "contamination",
  "activeExtension",
  "activeFlexion",
  "passiveExtension",
  "filmTaken",
  "trueLateral",
  "fractureSite",
  "fracturePattern",
  "displacement",
  "jointPosition",
  "articularSharePercent",
  "physis",
  "salterHarris",
  "ageYears",
  "weightKg",
  "hoursSinceInjury",
  "restOfPhalanx",
  "jointDislocated",
  "localAnaestheticAllergy",
  "penicillinAllergy",
  "biteBloodDrawn",
];
const MOST_COMPLETIONS = 400;
type Record = { readonly [finding: string]: string | number };

/** Seeded partial records with few enough completions to try them all. */
export function partialRecords(space: Space, count: number, seed: number): Facts[] {
  const turning = TURNING.filter((f) => space.pathway.module.findings[f]);
  const drawn = fc.sample(
    fc.tuple(
      completeRecord,
      fc.shuffledSubarray(turning, { minLength: 1, maxLength: 7 }),
      fc.array(fc.boolean(), { minLength: 7, maxLength: 7 }),
    ),
    { numRuns: count, seed },
  );
  return drawn.map(([full, gone, told]) => {
    const facts: globalThis.Record<string, string | number> = { ...(full as Record) };
    let completions = 1;
    gone.forEach((finding, i) => {
      completions *= valuesOf(space, finding).length;
      if (completions <= MOST_COMPLETIONS) facts[finding] = told[i] ? "not-asked" : "cannot-tell";
    });
    return facts;
  });
}

/** Each value the rules tell apart; `undefined` where a finding may stay unanswered; two numbers where only figures read one. */
function valuesOf(space: Space, finding: string): readonly (string | number | undefined)[] {
  const { statements, pathway } = space;
  const v = statements.variables.findIndex((c) => c.name === finding);
  const column = statements.variables[v]!;
  const values = statements.diagrams.domains[v]!.map((code) =>
    code === 0 ? undefined : valueFor(column, code, pathway),
  );
  const definition = pathway.module.findings[finding]!;
  return values.length === 1 && definition.type === "number" ? [definition.min, definition.max] : values;
}

interface Completion {
  readonly at: readonly number[];
  readonly stands: boolean;
  readonly complete: boolean;
  readonly holds: ReadonlySet<AnyRule>;
  readonly heard: ReadonlySet<AnyRule>;
  /** All that is said, rules and figures. */
  readonly said: string;
}

/** Compares sure and possible rules, open findings and urgency of one partial record with what its completions give. */
export function againstCompletions(
  space: Space,
  facts: Facts,
): { readonly flaws: readonly Flaw[]; readonly completions: number } {
  const { pathway } = space;
  const flaws: Flaw[] = [];
  const flaw = (what: string) => flaws.push({ what, witness: facts });
  const gone = Object.keys(pathway.module.findings).filter(
    (f) => facts[f] === "not-asked" || facts[f] === "cannot-tell",
  );
  const values = gone.map((f) => valuesOf(space, f));
  const all = completionsOf(space, facts, gone, values);

  const exact = possibilities(pathway, facts);
  const standing = all.filter((c) => c.stands);
  for (const { rule, table } of space.rules) {
    const verdict = exact.verdicts[pathway.tables.indexOf(table)]!;
    const sure = standing.every((c) => c.holds.has(rule));
    const possible = !sure && all.some((c) => c.heard.has(rule));
    if (verdict.sure.includes(rule) !== sure) flaw(`${rule.id} is ${sure ? "" : "not "}sure`);
    if (verdict.possible.includes(rule) !== possible) flaw(`${rule.id} is ${possible ? "" : "not "}possible`);
  }
  gone.forEach((finding, i) => {
    const apart = new Map<string, string>();
    const matters = all.some((c) => {
      const others = c.at.map((x, j) => (j === i ? "" : x)).join();
      const known = apart.get(others);
      if (known === undefined) apart.set(others, c.said);
      return known !== undefined && known !== c.said;
    });
    if (exact.open.includes(finding) !== matters) flaw(`${finding} ${matters ? "matters" : "does not matter"}`);
  });
  if (exact.open.some((f) => !gone.includes(f))) flaw("an answered finding is open");

  const assessed = assessDigit(pathway, facts);
  const next = askNext(pathway, facts);
  if ((next === undefined) !== (assessed.ask.length === 0)) flaw("the next question and the list of questions differ");
  if (next !== undefined && !assessed.ask.includes(next)) flaw(`${next} is asked and cannot matter`);
  if (assessed.state === "settled" && (next !== undefined || new Set(all.map((c) => c.said)).size > 1))
    flaw("settled, and an answer could still change it");
  const rank = (u: Urgency | undefined) => (u === undefined ? URGENCIES.length : URGENCIES.indexOf(u));
  const { level } = assessed.urgency;
  for (const c of all.filter((x) => x.complete))
    if (level !== undefined && rank(level) > rank(urgencyOfAll(c.heard)))
      flaw(`${level} is less urgent than a completion`);
  return { flaws, completions: all.length };
}

function completionsOf(
  { pathway, statements }: Space,
  facts: Facts,
  gone: readonly string[],
  values: readonly (readonly (string | number | undefined)[])[],
): Completion[] {
  const all: Completion[] = [];
  const at = gone.map(() => 0);
  const mayStay = gone.map((f) => statements.mayStayOpen.has(statements.variables.findIndex((c) => c.name === f)));
  for (;;) {
    const record: globalThis.Record<string, string | number | undefined> = { ...facts };
    gone.forEach((f, i) => {
      record[f] = values[i]![at[i]!];
    });
    const { verdicts, signs } = pathway.evaluate(record);
    const holds = new Set<AnyRule>(verdicts.flatMap((v) => v.sure));
    const left = [...holds].some(leavesPathway);
    const heard = new Set<AnyRule>(verdicts.flatMap((v, i) => (left && pathway.tables[i]!.ordinary ? [] : v.sure)));
    const { figuresRead } = pathway.module;
    const figures =
      figuresRead && Object.entries(figuresRead.when).every(([sign, value]) => signs[sign] === value)
        ? figuresRead.findings.map((f) => record[f]).join()
        : "";
    const spoken = verdicts.flatMap((v, i) =>
      pathway.tables[i]!.checks ? [] : v.sure.filter((r) => heard.has(r)).map((r) => r.id),
    );
    all.push({
      at: [...at],
      stands: gone.every((f, i) => !mayStay[i] || record[f] === undefined),
      complete: gone.every((f) => record[f] !== undefined),
      holds,
      heard,
      said: `${spoken.join()} ${figures}`,
    });
    let i = 0;
    while (i < gone.length && ++at[i]! === values[i]!.length) at[i++] = 0;
    if (i === gone.length) return all;
  }
}
const urgencyOfAll = (rules: Iterable<AnyRule>): Urgency | undefined =>
  [...rules].flatMap((r) => r.then.map(urgencyOf)).reduce<Urgency | undefined>(moreUrgent, undefined);

import type { Chart, EarlierPlan } from "../fhir/chart.ts";
import type { AnswerOrigins } from "../fhir/drafts.ts";
import { writtenBy } from "../fhir/earlier.ts";
import { plainText } from "../fhir/plain-text.ts";
import { entryKey, freeDiagnoses, sameDiagnoses } from "../fhir/refine.ts";
import type { Answers, AskedInjury } from "../pathway/asked.ts";
import type { Scope } from "../pathway/index.ts";
import { CASE_DATES, type CaseState } from "./case-state.ts";
import { NO_WORDS, NONE, type Proposals } from "./proposals.ts";
import { sayAllergy } from "./say-allergy.ts";
import { sayShortDay } from "./say-date.ts";
import type { Proposed } from "./value-state.ts";

/**
 * Words of an allergy entry that bear on a finding. They never answer it: they only keep it from being waved through
 * with a quick answer, so a match too many costs one press. [from memory]
 */
const ALLERGY_WORDS: { readonly [finding: string]: RegExp } = {
  penicillinAllergy: /cillin|beta.?lactam/i,
  otherAntibioticAllergy: /antibiotic|cef|ceph|mycin|cycline|floxacin|sulfa|sulpha|metronidazole|clavulan/i,
  localAnaestheticAllergy: /caine|local an(a)?esthetic/i,
  latexOrAdhesiveAllergy: /latex|rubber|adhesive|plaster|tape|colophon/i,
  metalAllergy: /nickel|metal|cobalt|chrom/i,
};

/**
 * What the chart and, when the clinician continues from one, an earlier plan propose. What a chart says of "the" finger is
 * proposed for the first finger only; an earlier plan knows which finger it means. Where the chart names several digits, each
 * finger gets what is said of its own, once `digits` (the answers so far, by place) tell which it is, and before that what
 * is said of those not yet taken; an entry that names no digit may mean each of them.
 */
export function proposalsFrom(
  chart: Pick<Chart, "proposals" | "dates" | "allergies" | "medications" | "conditions" | "earlierPlans">,
  module: AskedInjury,
  continued: EarlierPlan | undefined,
  digits: readonly (string | number | null)[] = [null],
): Proposals {
  const byFinding = new Map<string, Proposed[]>();
  const put = (key: string, proposed: Proposed) => byFinding.set(key, [...(byFinding.get(key) ?? []), proposed]);
  const key = (finding: string, scope: Scope, digit: number) => (scope === "digit" ? `${finding} ${digit}` : finding);
  const scopes = new Map(module.questions.map((q) => [q.finding, q]));
  const back = continued?.findings;
  const said = new Set(chart.proposals.flatMap((p) => p.ofDigit ?? []));
  const names = (scopes.get("digit")?.options ?? []).map((o) => o.value).filter((name) => said.has(name));
  const known = digits.map((digit, i) => digit ?? back?.digits[i]?.digit);
  const left = names.filter((name) => !known.includes(name));
  for (const p of chart.proposals) {
    if (p.scope !== "digit" || names.length === 0) put(key(p.finding, p.scope, 0), p);
    else
      known.forEach((digit, i) => {
        const its = names.find((name) => name === digit);
        if (p.ofDigit === undefined || (its ? p.ofDigit === its : left.includes(p.ofDigit)))
          put(key(p.finding, p.scope, i), p);
      });
  }
  for (const d of chart.dates) put(d.field, d);

  const bearing = new Map<string, string[]>();
  const bear = (finding: string, entry: string) => bearing.set(finding, [...(bearing.get(finding) ?? []), entry]);
  for (const allergy of chart.allergies)
    for (const [finding, words] of Object.entries(ALLERGY_WORDS))
      if (!allergy.noKnown && words.test(allergy.substance)) bear(finding, sayAllergy(allergy));
  for (const line of [...chart.medications, ...chart.conditions])
    for (const finding of line.bearsOn) {
      // An entry that answers by its code is already proposed.
      const proposed = chart.proposals.some((p) => p.finding === finding && p.from.reference === line.from.reference);
      if (!proposed) bear(finding, line.text);
    }

  if (continued && back) {
    const { written, label } = writtenBy(continued);
    const findings = continued.items.find((i) => i.type === "QuestionnaireResponse");
    const from = {
      label,
      reference: findings?.reference ?? `plan ${continued.planId}`,
      ...(continued.written ? { date: continued.written } : {}),
    };
    const take = (answers: Answers, scope: Scope, digit: number) => {
      for (const [finding, value] of Object.entries(answers)) {
        const question = scopes.get(finding);
        if (question)
          put(key(finding, scope, digit), {
            value,
            from,
            conflict: false,
            written,
            ...(question.chartMayPropose ? {} : { onlyShown: true }),
          });
      }
    };
    take(back.patient, "patient", 0);
    take(back.injury, "injury", 0);
    back.digits.forEach((answers, i) => {
      take(answers, "digit", i);
    });
    for (const date of CASE_DATES) {
      const value = back[date];
      if (value) put(date, { value, from, conflict: false, written });
    }
  }
  return {
    of: (finding, digit) => byFinding.get(key(finding, scopes.get(finding)?.scope ?? "patient", digit)) ?? NONE,
    date: (date) => byFinding.get(date) ?? NONE,
    bearing: (finding) => bearing.get(finding) ?? NO_WORDS,
    named: names.map((digit) => {
      const about = chart.proposals.filter((p) => p.ofDigit === digit);
      const sides = about.filter((p) => p.finding === "side");
      return {
        digit,
        side: sides.length === 1 ? String(sides[0]!.value) : undefined,
        said: about.filter((p) => p.finding === "digit"),
      };
    }),
    entryOf: (named) => {
      const fitting = sameDiagnoses(freeDiagnoses(chart), named).filter((d) => d.fit !== "other-side");
      const [only] = fitting;
      if (fitting.length !== 1 || only?.fit !== "same") return undefined;
      const { line, existing } = only;
      return {
        text: plainText(line.text, 120),
        choice: { item: entryKey(named), field: "refines", value: existing.reference },
      };
    },
  };
}

const sayOrigin = ({ label, date }: Proposed["from"]): string =>
  `${plainText(label)}${date ? `, ${sayShortDay(date)}` : ""}`;
/** For each answer: given by the clinician alone, agreed with the chart or an earlier record of ours, or changed against it. */
export function originsOf(state: CaseState, proposals: Proposals): AnswerOrigins {
  const origins: Record<string, AnswerOrigins[string]> = {};
  const note = (path: string, value: string | number, proposed: readonly Proposed[]) => {
    const [first] = proposed;
    if (!first) return;
    const agreeing = proposed.find((p) => p.value === value);
    const { from, written, value: said } = agreeing ?? first;
    const whose = written === "signed" ? "earlier" : (written ?? "chart");
    const { reference } = from;
    const entry = { reference, ...(written === "others-draft" ? { label: sayOrigin(from) } : {}) };
    origins[path] = agreeing
      ? { kind: `${whose}-confirmed`, ...entry }
      : { kind: `${whose}-changed`, ...entry, chartSaid: String(said) };
  };
  const all = (answers: Answers, path: string, digit: number) => {
    for (const [finding, value] of Object.entries(answers))
      note(`${path}.${finding}`, value, proposals.of(finding, digit));
  };
  all(state.patient, "patient", 0);
  all(state.injury, "injury", 0);
  state.digits.forEach((answers, i) => {
    all(answers, `digit.${i}`, i);
  });
  for (const date of CASE_DATES) {
    const value = state.dates[date];
    if (value) note(date, value, proposals.date(date));
  }
  return origins;
}

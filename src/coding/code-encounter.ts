import { compose, placesOf } from "./characters.ts";
import { type Candidate, inOrder } from "./code-order.ts";
import { circumstancesOf, type DigitCase, digitCases } from "./digit-case.ts";
import type { Change, CodedEncounter, CodeLine, DecidedBy, EncounterToCode, LeftOut, UsedFact } from "./encounter.ts";
import { type Cause, type CausesLeftOut, externalCauses } from "./external-cause.ts";
import { asCoded, FACTS, type FactName, type Facts, holds, NOTHING_STATED } from "./facts.ts";
import { readAccident } from "./from-findings.ts";
import { gapsOf, type SayFinding } from "./gaps.ts";
import { GUIDELINES, type GuidelineId } from "./guideline.ts";
import { CODE_RULES, type CodeRule, EXCLUSIONS, type Exclusion } from "./injury-rules.ts";
import { type CodePolicy, DEFAULT_CODE_POLICY, otherCodes } from "./other-systems.ts";
import { type CodeTable, type Edition, inForce, noEdition } from "./tables.ts";

const CODE_OF_DIGIT = (facts: Facts): Omit<Candidate, "digit">[] => {
  const plain = asCoded(facts);
  return CODE_RULES.flatMap((rule) => {
    const composed = holds(rule.when, plain) ? compose(rule.code, plain) : undefined;
    return composed ? [{ rule, composed }] : [];
  });
};
const exclusionOf = (code: string, others: readonly string[], facts: Facts): [Exclusion, string] | undefined => {
  for (const exclusion of EXCLUSIONS) {
    if (!code.startsWith(exclusion.leavesOut) || (exclusion.when && !holds(exclusion.when, facts))) continue;
    const beside = others.find((other) => exclusion.beside.some((start) => other.startsWith(start)));
    if (beside) return [exclusion, beside];
  }
  return undefined;
};

const decided = (ids: readonly GuidelineId[]): DecidedBy[] =>
  [...new Set(ids)].map((id) => ({ id, ...GUIDELINES[id] }));
const PHASE_READERS = new Set<FactName>(["phase", "openness", "healing"]);
/** The facts a rule reads, its row first. */
const readBy = (rule: CodeRule): readonly FactName[] => [
  ...new Set([...(Object.keys(rule.when) as FactName[]), ...placesOf(rule.code).flatMap((place) => place.reads)]),
];
const wordsOf = (fact: FactName) => FACTS[fact].words;
/** What does not play in the present phase is not said to have been used. */
const matters = (fact: FactName, { phase }: Facts): boolean =>
  !PHASE_READERS.has(fact) || fact === "phase" || (fact === "openness" ? phase === "active" : phase === "healing");

const used = (digit: DigitCase, rule: CodeRule): UsedFact[] =>
  readBy(rule)
    .filter((fact) => matters(fact, digit.facts))
    .map((fact) => {
      const value = digit.facts[fact];
      const origin = digit.origins[fact];
      const from = digit.stated.has(fact)
        ? "stated"
        : value === "not-stated"
          ? "not stated"
          : origin
            ? "findings"
            : "stated";
      return {
        fact,
        words: wordsOf(fact),
        value,
        from,
        findings: from === "findings" ? origin!.used : [],
        ...(from === "findings" && origin?.because ? { because: origin.because } : {}),
      };
    });

/** For each fact a line rests on, each other value and the code that would then stand in its stead. */
function changesOf(digit: DigitCase, rule: CodeRule): Change[] {
  const family = rule.id.replace(/-[TFU]$/, "");
  const now = compose(rule.code, asCoded(digit.facts))?.code;
  return readBy(rule).flatMap((fact) =>
    FACTS[fact].values
      .filter((value) => value !== digit.facts[fact] && value !== "undetermined" && value !== "not-stated")
      .flatMap((value): Change[] => {
        const facts = { ...digit.facts, [fact]: value };
        const all = CODE_OF_DIGIT(facts);
        const there = all.find((c) => c.rule.id.replace(/-[TFU]$/, "") === family);
        const out = there && exclusionOf(there.composed.code, codesOf(all), facts);
        const code = there && !out ? there.composed.code : undefined;
        if (code === now) return [];
        return [{ fact, words: wordsOf(fact), value, ...(code ? { code } : {}) }];
      }),
  );
}
const codesOf = (all: readonly Pick<Candidate, "composed">[]) => all.map((c) => c.composed.code);

const SWITCHED_OFF =
  "This site's policy has ICD-10-CM switched off (coding.icd10cm), so no code of it is proposed and none is signed. Set it to on to code here.";
export interface CodeOptions {
  readonly policy?: CodePolicy;
  /** False: `wouldChange` stays empty, for exports of many records. */
  readonly changes?: boolean;
  /** How a query says a finding that it quotes; default: its id and value. */
  readonly say?: SayFinding;
}
/**
 * Codes one encounter from its confirmed findings and what was stated: the ordered list of codes with the reason for each, what is
 * left out beside them, and what is missing for a more specific code. Rules, order and defaults: the ICD-10-CM Official Guidelines and
 * Tabular List, as `GUIDELINES` names them.
 *
 * @param table of the edition that holds on the day of service (`tableOn`); undefined, or of another day: nothing is coded and the problem says so
 */
export function codeEncounter(
  encounter: EncounterToCode,
  table: CodeTable | undefined,
  { policy = DEFAULT_CODE_POLICY, changes = true, say }: CodeOptions = {},
): CodedEncounter {
  const digits = digitCases(encounter);
  const circumstances = circumstancesOf(encounter);
  const gaps = gapsOf(digits, circumstances, encounter.date, say);
  const others = otherCodes(digits, encounter.derived ?? [], policy);
  if (!policy.icd10cm || !table || !inForce(table.edition, encounter.date))
    return {
      encounter,
      state: "not-coded",
      codes: [],
      leftOut: [],
      others,
      gaps,
      problems: [policy.icd10cm ? noEdition(encounter.date) : SWITCHED_OFF],
    };
  const { edition } = table;
  const problems: string[] = [];
  const described = (code: string): string | undefined => {
    const display = table.describe(code);
    if (display === undefined)
      problems.push(
        `${code} is not a billable code of ${edition.name}, so it is left out. Code it by hand and report this.`,
      );
    return display;
  };
  const kept: Candidate[] = [];
  const leftOut: LeftOut[] = [];
  for (const digit of digits) {
    const all = CODE_OF_DIGIT(digit.facts);
    for (const { rule, composed } of all) {
      const out = exclusionOf(composed.code, codesOf(all), digit.facts);
      if (rule.once && kept.some((c) => c.rule === rule)) continue;
      if (!out) kept.push({ rule, digit, composed });
      else
        leftOut.push({
          key: `${rule.id}@${digit.at}`,
          code: composed.code,
          display: described(composed.code) ?? "",
          digit: digit.at,
          beside: out[1],
          because: out[0].because,
          guidelines: decided([out[0].guideline]),
          ...(out[0].printed ? { printed: out[0].printed } : {}),
        });
    }
  }
  const lines: Omit<CodeLine, "sequence" | "role">[] = inOrder(kept).flatMap(({ rule, digit, composed }) => {
    const display = described(composed.code);
    return display === undefined
      ? []
      : [
          {
            key: `${rule.id}@${digit.at}`,
            system: edition.system,
            version: edition.version,
            code: composed.code,
            display,
            digit: digit.at,
            rule: rule.id,
            because: rule.because,
            guidelines: decided([...rule.guidelines, ...composed.guidelines]),
            used: used(digit, rule),
            defaults: composed.defaults,
            wouldChange: changes ? changesOf(digit, rule) : [],
          },
        ];
  });
  // One code stands once, whichever digit gave it: stiffness of a hand is one diagnosis.
  const diagnoses = lines.filter((line, i) => lines.findIndex((l) => l.code === line.code) === i);
  const external = externalCauses(circumstances, asCoded(digits[0]?.facts ?? NOTHING_STATED));
  const causes = diagnoses.length
    ? external.given.flatMap((cause) => {
        const display = described(cause.code);
        return display === undefined ? [] : [causeLine(cause, edition, display, encounter)];
      })
    : [];
  const codes = [...diagnoses, ...causes].map(
    (line, i): CodeLine => ({
      sequence: i + 1,
      role: i >= diagnoses.length ? "external-cause" : i === 0 ? "principal" : "additional",
      ...line,
    }),
  );
  return {
    encounter,
    state: codes.length ? "coded" : "not-coded",
    edition,
    codes,
    leftOut: [...leftOut, ...external.leftOut.map((l) => causeLeftOut(l, table))],
    others,
    gaps,
    problems,
  };
}

const PART = { CAUSE: "causes", PLACE: "place", ACTIVITY: "activity", STATUS: "status" } as const;
const PART_WORDS = { CAUSE: "cause", PLACE: "place", ACTIVITY: "activity", STATUS: "status" } as const;
function causeLine(
  { id, stem, code, because, guidelines, defaults }: Cause,
  edition: Edition,
  display: string,
  { record, stated }: EncounterToCode,
): Omit<CodeLine, "sequence" | "role"> {
  const findings = stated?.circumstances?.[PART[id]] ? undefined : readAccident(record).used[PART[id]];
  return {
    key: id === "CAUSE" ? `${id}:${stem}` : id,
    system: edition.system,
    version: edition.version,
    code,
    display,
    rule: id,
    because,
    guidelines: decided(guidelines),
    used: [
      {
        fact: PART[id],
        words: PART_WORDS[id],
        value: stem,
        from: findings ? "findings" : "stated",
        findings: findings ?? [],
      },
    ],
    defaults,
    wouldChange: [],
  };
}
const causeLeftOut = ({ stem, beside, printed }: CausesLeftOut, table: CodeTable): LeftOut => ({
  key: `CAUSE:${stem}`,
  code: stem,
  display: table.describe(table.beginning(stem)[0] ?? "") ?? "",
  beside,
  because: "The classification does not let this cause stand beside the other.",
  guidelines: decided(["EXCLUDES1"]),
  printed,
});

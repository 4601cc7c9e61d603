import type { CaseRecord, UsedFinding } from "../pathway/index.ts";
import { type Composed, compose, placesOf } from "./characters.ts";
import { type Cause, type CausesLeftOut, externalCauses } from "./external-cause.ts";
import {
  asCoded,
  type Circumstances,
  type DigitFacts,
  type EncounterFacts,
  FACTS,
  type FactName,
  type Facts,
  holds,
  merged,
  NOTHING_STATED,
} from "./facts.ts";
import { type ConfirmedDigit, type Origin, type ReadDigit, readAccident, readDigit } from "./from-findings.ts";
import { type Gap, gapsOf, type SayFinding } from "./gaps.ts";
import { GUIDELINES, type Guideline, type GuidelineId } from "./guideline.ts";
import { CODE_RULES, type CodeRule, EXCLUSIONS, type Exclusion } from "./injury-rules.ts";
import { type CodePolicy, DEFAULT_CODE_POLICY, type OtherCode, otherCodes } from "./other-systems.ts";
import { type CodeTable, type Edition, inForce, noEdition } from "./tables.ts";

/** What the encounter was in relation to the injury. "initial": active treatment; "subsequent": healing is not stated. */
export const ENCOUNTER_KINDS = [
  "initial",
  "subsequent",
  "subsequent-routine",
  "subsequent-delayed",
  "subsequent-nonunion",
  "subsequent-malunion",
  "sequela",
  "not-stated",
] as const;
export type EncounterKind = (typeof ENCOUNTER_KINDS)[number];

/** What clinician or coder said beyond the findings: answers to queries, the intake form. It wins over what findings say. */
export interface Stated {
  readonly encounter?: { readonly [F in keyof EncounterFacts]?: EncounterFacts[F] };
  /** By the place of the digit in the record. */
  readonly digits?: readonly { readonly [F in keyof DigitFacts]?: DigitFacts[F] }[];
  readonly circumstances?: Circumstances;
}
/** All that is coded from. */
export interface EncounterToCode {
  readonly id: string;
  /** The patient's identifier in the record system, for exports alone. */
  readonly patient?: string;
  /** Day of service, yyyy-MM-dd: it chooses the edition. */
  readonly date: string;
  readonly kind: EncounterKind;
  readonly record: Pick<CaseRecord, "injury" | "digits">;
  /** What the rules derived, by the place of the digit in the record. */
  readonly derived?: readonly Pick<ConfirmedDigit, "classes" | "signs">[];
  readonly stated?: Stated;
  readonly signedBy?: string;
  /** Instant with offset. */
  readonly signedAt?: string;
}

export type Role = "principal" | "additional" | "external-cause";
export interface UsedFact {
  readonly fact: string;
  readonly words: string;
  readonly value: string;
  /** "stated": said by a person beyond the findings. */
  readonly from: "findings" | "stated" | "not stated";
  readonly findings: readonly UsedFinding[];
  readonly because?: string;
}
/** Another value of one fact, and the code that would then stand here; absent: no code. */
export interface Change {
  readonly fact: string;
  readonly words: string;
  readonly value: string;
  readonly code?: string;
}
export interface DecidedBy extends Guideline {
  readonly id: GuidelineId;
}
/** One code of the list, with all that decided it. */
export interface CodeLine {
  /** Stable while the facts of its rule change: "FX-F@0". */
  readonly key: string;
  readonly sequence: number;
  readonly role: Role;
  readonly system: string;
  readonly version: string;
  readonly code: string;
  /** The official description, unchanged. */
  readonly display: string;
  /** Place of the digit in the record; absent: of the encounter. */
  readonly digit?: number;
  readonly rule: string;
  readonly because: string;
  readonly guidelines: readonly DecidedBy[];
  readonly used: readonly UsedFact[];
  /** What the classification assumed because nobody stated it. */
  readonly defaults: readonly string[];
  readonly wouldChange: readonly Change[];
}
/** A code that would stand there, were it not for another. */
export interface LeftOut {
  readonly key: string;
  readonly code: string;
  readonly display: string;
  readonly digit?: number;
  readonly beside: string;
  readonly because: string;
  readonly guidelines: readonly DecidedBy[];
  readonly printed?: { readonly at: string; readonly text: string };
}
export interface CodedEncounter {
  readonly encounter: EncounterToCode;
  /** "not-coded": no code can be given; `problems` and `gaps` say why. */
  readonly state: "coded" | "not-coded";
  /** The edition that was used; absent when none holds on the day. */
  readonly edition?: Edition;
  readonly codes: readonly CodeLine[];
  readonly leftOut: readonly LeftOut[];
  /** The same diagnoses in other classifications, as the site wants them. */
  readonly others: readonly OtherCode[];
  readonly gaps: readonly Gap[];
  readonly problems: readonly string[];
}

const PHASE_OF: { readonly [K in EncounterKind]: EncounterFacts["phase"] } = {
  initial: "active",
  subsequent: "healing",
  "subsequent-routine": "healing",
  "subsequent-delayed": "healing",
  "subsequent-nonunion": "healing",
  "subsequent-malunion": "healing",
  sequela: "sequela",
  "not-stated": "not-stated",
};
/** Healing that the kind of encounter states for each digit that says nothing of its own. */
const healingOf = (kind: EncounterKind): DigitFacts["healing"] | undefined =>
  /^subsequent-/.test(kind) ? (kind.slice("subsequent-".length) as DigitFacts["healing"]) : undefined;

/** One digit ready to be coded. */
export interface DigitCase {
  readonly at: number;
  readonly facts: Facts;
  readonly origins: { readonly [fact: string]: Origin };
  readonly stated: ReadonlySet<string>;
  readonly signals: ReadDigit["signals"];
}
const present = <T extends object>(facts: T | undefined): Partial<T> =>
  Object.fromEntries(Object.entries(facts ?? {}).filter(([, v]) => v !== undefined)) as Partial<T>;

/** The facts of each digit: what findings say, over it what was stated. */
export function digitCases(encounter: EncounterToCode): readonly DigitCase[] {
  const { record, derived, stated, kind } = encounter;
  const accident = readAccident(record);
  const visit = { phase: PHASE_OF[kind], ...(accident.first ? { first: accident.first } : {}) };
  const healing = healingOf(kind);
  return record.digits.map((answers, at) => {
    const { classes = [], signs = {} } = derived?.[at] ?? {};
    const read = readDigit({ answers, classes, signs }, record.injury);
    const said = merged(present(stated?.encounter), healing ? { healing } : {}, present(stated?.digits?.[at]));
    return {
      at,
      facts: merged<Facts>(NOTHING_STATED, visit, read.facts, said),
      origins: merged<DigitCase["origins"]>(
        read.origins,
        accident.first ? { first: { used: accident.used.first! } } : {},
      ),
      stated: new Set(Object.keys(said)),
      signals: read.signals,
    };
  });
}

interface Candidate {
  readonly rule: CodeRule;
  readonly digit: DigitCase;
  readonly composed: Composed;
}
const CODE_OF_DIGIT = (facts: Facts): { readonly rule: CodeRule; readonly composed: Composed }[] => {
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
const codesOf = (all: readonly { readonly composed: Composed }[]) => all.map((c) => c.composed.code);

/** Severity of a fracture: open before displaced before the others. Common practice, no source; the clinician's own word wins. */
const worse = ({ openness, displacement }: Facts): number =>
  openness === "open" ? 0 : displacement === "not-displaced" ? 2 : 1;
/** Half a step orders fractures among themselves without passing the next weight. */
const STEP = 1 / 4;
const weightOf = ({ rule, digit }: Candidate): number =>
  rule.weight + (rule.id.startsWith("FX") ? worse(asCoded(digit.facts)) * STEP : 0);
const GROUPS = ["complication", "late-effect", "injury", "structure", "companion"] as const;

/** Order of the diagnoses: the reason for the visit, late effects before the injury with S, injuries by severity digit by digit, then the rest. */
function inOrder(candidates: readonly Candidate[]): readonly Candidate[] {
  const ofDigit = (at: number) => candidates.filter((c) => c.digit.at === at);
  const hasInjury = (at: number) => ofDigit(at).some((c) => c.rule.place === "injury");
  const group = (c: Candidate): number => {
    if (c.rule.place === "complication" && asCoded(c.digit.facts).reason !== "infection")
      return GROUPS.indexOf("structure") + STEP;
    if (c.rule.place === "late-effect" && c.digit.facts.phase !== "sequela")
      return GROUPS.indexOf("structure") + 2 * STEP;
    // A tendon, nerve or vessel that is the only injury of its digit stands among the injuries.
    if (c.rule.place === "structure" && !hasInjury(c.digit.at)) return GROUPS.indexOf("injury");
    return GROUPS.indexOf(c.rule.place);
  };
  // A crush heads its digit without making the digit worse than its fracture does.
  const worst = (at: number) =>
    Math.min(
      ...ofDigit(at)
        .filter((c) => !c.rule.id.startsWith("CRUSH") || ofDigit(at).length === 1)
        .map(weightOf),
    );
  const flagged = (c: Candidate) => (c.digit.facts.mostSerious === "yes" ? 0 : 1);
  const keys = (c: Candidate) => [group(c), flagged(c), worst(c.digit.at), c.digit.at, weightOf(c)];
  return [...candidates].sort((a, b) => {
    const [left, right] = [keys(a), keys(b)];
    const at = left.findIndex((key, i) => key !== right[i]);
    return at < 0 ? 0 : left[at]! - right[at]!;
  });
}

const SWITCHED_OFF =
  "This site's policy has ICD-10-CM switched off (coding.icd10cm), so no code of it is proposed. Set it to on to code here.";
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

/** What is recorded of the accident: what was stated, else what findings say. */
export function circumstancesOf({ record, stated }: EncounterToCode): Circumstances {
  return merged(readAccident(record).circumstances, present(stated?.circumstances));
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

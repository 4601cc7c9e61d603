import type { EncounterKind, EncounterToCode } from "./encounter.ts";
import {
  type Circumstances,
  type DigitFacts,
  type EncounterFacts,
  type Facts,
  merged,
  NOTHING_STATED,
} from "./facts.ts";
import { type Origin, type ReadDigit, readAccident, readDigit } from "./from-findings.ts";

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

/** What is recorded of the accident: what was stated, else what findings say. */
export function circumstancesOf({ record, stated }: EncounterToCode): Circumstances {
  return merged(readAccident(record).circumstances, present(stated?.circumstances));
}

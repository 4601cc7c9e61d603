import type { CaseRecord, UsedFinding } from "../pathway/index.ts";
import type { Circumstances, DigitFacts, EncounterFacts } from "./facts.ts";
import type { ConfirmedDigit } from "./from-findings.ts";
import type { Gap } from "./gaps.ts";
import type { Guideline, GuidelineId } from "./guideline.ts";
import type { OtherCode } from "./other-systems.ts";
import type { Edition } from "./tables.ts";

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

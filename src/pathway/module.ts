import type { Line } from "./assessment.ts";
import type { Effect } from "./hand/effects.ts";
import type { PolicyDefinitions, SitePolicy } from "./policy/policy-value.ts";
import type { FindingDefinitions, Scope } from "./reasoning/finding.ts";
import type { AnySign, Facts } from "./reasoning/program.ts";
import type { Table } from "./reasoning/table.ts";

export interface Option {
  readonly value: string;
  /** What the clinician reads on the control. */
  readonly label: string;
  readonly hint?: string;
}
export interface Question {
  readonly finding: string;
  readonly scope: Scope;
  readonly wording: string;
  readonly hint?: string;
  /** Only for choice findings; a number finding takes unit and bounds from its definition. */
  readonly options?: readonly Option[];
  /** Words of the "cannot tell" answer, said for this finding ("Cannot test because of pain"). Absent: not offered. */
  readonly cannotTell?: string;
  /** A chart may propose an answer. Never for skin, circulation, tendon function, feeling, tissue loss (they are examined). */
  readonly chartMayPropose: boolean;
}
/** One answer that stands for several findings the clinician has looked at together ("none of these"). */
export interface QuickAnswer {
  readonly label: string;
  readonly sets: { readonly [finding: string]: string };
}
export interface QuestionGroup {
  readonly id: string;
  readonly title: string;
  readonly hint?: string;
  /** Question finding ids in the natural clinical order. */
  readonly findings: readonly string[];
  readonly quick: readonly QuickAnswer[];
}
export interface ClassDescription {
  /** Short name in trade words: "Bony mallet". */
  readonly name: string;
  /** One line that defines it. */
  readonly definition: string;
  /** Set for a published name that stands beside a class ("Doyle"): never a class of its own, never "still possible". */
  readonly scheme?: string;
}

// biome-ignore lint/suspicious/noExplicitAny: record type differs per module
export type EffectTable = Table<any, readonly Effect[]> & {
  /** Its possible rules must be ruled out before any urgency is shown (red flags). */
  readonly gate?: true;
  /** Assumes an ordinary fracture: silent once an exit that leaves the pathway is sure. */
  readonly ordinary?: true;
  /** Holds answers against each other: speaks when sure, and is never a reason to ask or to keep a case open. */
  readonly checks?: true;
};

/** What an injury asks, without any rule: enough for a screen to take answers. */
export interface AskedInjury {
  readonly id: string;
  readonly title: string;
  readonly findings: FindingDefinitions;
  readonly questions: readonly Question[];
  readonly groups: readonly QuestionGroup[];
}
/** What an injury must provide to be a pathway. The next hand bone is one folder and one line each in modules.ts, asked.ts and all-asked.ts. */
export interface InjuryModule extends AskedInjury {
  readonly policy: PolicyDefinitions;
  readonly classes: { readonly [id: string]: ClassDescription };
  signs(policy: SitePolicy): readonly AnySign[];
  tables(policy: SitePolicy): readonly EffectTable[];
  /** Arithmetic that is no table: anaesthetic ceilings, published class names that need a number. */
  figures(facts: Facts, policy: SitePolicy): Figures;
  /** Signs under which there are figures, and the findings these then read; absent: no figures. */
  readonly figuresRead?: {
    readonly when: { readonly [sign: string]: "yes" | "no" };
    readonly findings: readonly string[];
  };
}
export interface Figures {
  /** Lines on the anaesthetic ceiling, with the arithmetic written out. */
  readonly anaesthetic: readonly Line[];
  /** Finding ids still needed for the figures. */
  readonly needs: readonly string[];
}

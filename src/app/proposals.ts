import type { CaseDate, ItemEdit } from "./case-state.ts";
import type { Proposed } from "./value-state.ts";

/** Which date stands behind a number that rules read. */
export const DATE_BEHIND: { readonly [finding: string]: CaseDate } = {
  ageYears: "birthDate",
  hoursSinceInjury: "injuredAt",
  tetanusYearsSinceLast: "lastTetanusDoseOn",
};
/** One of several digits that separate entries of the chart name. */
export interface NamedDigit {
  readonly digit: string;
  /** Where all that is said of this digit agrees on it. */
  readonly side: string | undefined;
  readonly said: readonly Proposed[];
}
/** Proposals by finding, for each digit; `dates` by name of the date. */
export interface Proposals {
  of(finding: string, digit: number): readonly Proposed[];
  date(date: CaseDate): readonly Proposed[];
  /** Entries of the chart that bear on a finding without answering it, in words. */
  bearing(finding: string): readonly string[];
  /** Empty unless the chart names more than one. */
  readonly named: readonly NamedDigit[];
  /** The one entry of the chart that is an injury of just this finger on this side, and the choice that says so; none where several are. */
  readonly entryOf?: (named: {
    readonly [finding: string]: unknown;
  }) => { readonly text: string; readonly choice: ItemEdit } | undefined;
}
export const NONE: readonly Proposed[] = [];
export const NO_WORDS: readonly string[] = [];
export const noProposals: Proposals = { of: () => NONE, date: () => NONE, bearing: () => NO_WORDS, named: [] };

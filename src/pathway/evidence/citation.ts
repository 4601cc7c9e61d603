import type { SourceId } from "./sources.ts";

/** How strongly a source carries a rule: see `knowledge` of the pathway book; "G" guideline/label/law ... "M" memory only. */
export type Strength = "G" | "A" | "B" | "C" | "CP" | "M";

export interface Citation {
  readonly source: SourceId | "COMMON-PRACTICE" | "FROM-MEMORY";
  /** Where in the source, e.g. "table 2", "abstract"; empty for common practice. */
  readonly at: string;
  readonly says: "for" | "against";
  readonly strength: Strength;
}
export const cite = (source: SourceId, strength: Strength, at = ""): Citation => ({
  source,
  at,
  says: "for",
  strength,
});
/** Dissent stands beside the rule and is shown with it. `at` may carry what the dissenting source says, in our own words. */
export const against = (source: SourceId, strength: Strength, at = ""): Citation => ({
  source,
  at,
  says: "against",
  strength,
});
export const commonPractice: Citation = { source: "COMMON-PRACTICE", at: "", says: "for", strength: "CP" };
/** A value nobody has looked up yet; a clinician should check it before release. */
export const fromMemory: Citation = { source: "FROM-MEMORY", at: "", says: "for", strength: "M" };
/** Strength in words a clinician reads. */
export const STRENGTH_WORDS: { readonly [S in Strength]: string } = {
  G: "guideline, official label or law",
  A: "randomised trial or meta-analysis",
  B: "comparative or cohort study",
  C: "case series, review or textbook",
  CP: "common practice, no source",
  M: "from memory, not looked up",
};

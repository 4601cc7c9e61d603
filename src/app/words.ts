import type { DigitAssessment } from "../pathway/index.ts";

/** Words that more than one task says. House style: what, why, what to do; present tense; no exclamation. */
export const STATE_WORDS: { readonly [S in DigitAssessment["state"]]: string } = {
  "cannot-decide": "Cannot decide yet",
  provisional: "Provisional: open answers can still change it",
  settled: "Settled: no open answer can change it",
};

export const words = {
  app: "Fingerpost",
  caution: "Decision support for licensed clinicians. Local policy prevails. You decide and you sign.",
  steps: { findings: "Findings", plan: "Plan", sign: "Sign", record: "Saved plans", about: "About and cautions" },
  opening: "Opening.",
  preparing: "The assessment is being prepared.",
  policyBeingRead: "being read",
} as const;

/** "a, b and c". */
export function list(parts: readonly string[]): string {
  return parts.length < 2 ? (parts[0] ?? "") : `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}`;
}
const FEW = 4;
/** The first few of many. */
export const few = (parts: readonly string[]): string =>
  parts.length <= FEW + 1 ? list(parts) : `${parts.slice(0, FEW).join(", ")} and ${parts.length - FEW} others`;
export const upper = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

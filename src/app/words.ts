import type { DigitAssessment, Urgency } from "../pathway/index.ts";

/** Words that more than one task says. House style: what, why, what to do; present tense; no exclamation. */
export const URGENCY_WORDS: { readonly [U in Urgency]: { readonly title: string; readonly means: string } } = {
  NOW: { title: "Now", means: "Phone the hand surgeon. The patient does not leave." },
  D0: { title: "Same day", means: "The hand surgery team sees or takes over the patient today." },
  D1: {
    title: "Next working day",
    means: "The hand surgery team hears of it now and sees the patient on the next working day.",
  },
  W1: { title: "Within one week", means: "To be seen within one week, as planned." },
  R2: { title: "Within one to two weeks", means: "To be seen within one to two weeks, as planned." },
  none: { title: "No referral", means: "No referral to hand surgery. Follow the visits below." },
};
export const STATE_WORDS: { readonly [S in DigitAssessment["state"]]: string } = {
  "cannot-decide": "Cannot decide yet",
  provisional: "Provisional: open answers can still change it",
  settled: "Settled: no open answer can change it",
};

export const words = {
  app: "Fingerpost",
  caution: "Decision support for licensed clinicians. Local policy prevails. You decide and you sign.",
  steps: { findings: "Findings", plan: "Plan", sign: "Sign", record: "Saved plans", about: "About and cautions" },
  unknownAllergies: "not known",
  notSaid: "not recorded",
  patientMissing: "No name in the chart",
  deceased: "This chart says the patient has died. Nothing can be written. Check that you have the right chart.",
  merged: "This chart has been merged into another one. Nothing can be written here. Open the chart that replaced it.",
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

/** What the knowledge as a whole does not carry, beside what single rules say of themselves. */
export const KNOWN_LIMITS: readonly string[] = [
  "No source gives an accepted limit in millimetres or degrees for displacement of this bone; the limits here are common practice.",
  "Apart from the review of an open hand fracture within one week and the visits of published trials, the intervals of follow-up are common practice.",
  "The UK tetanus grid, shielding in pregnancy, long-term symptom figures of one older series and the AO types of the base are from memory; a clinician should check them before any use on patients.",
  "Data on the thumb are thin; the rules for the fingers are used for it.",
  "Many sources were read as abstract or in part only; each says so where it stands.",
];

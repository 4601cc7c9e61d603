import type { AllergyLine } from "../fhir/chart.ts";
import { plainText } from "../fhir/plain-text.ts";

const SHOWN_REACTIONS = 2;
/** "Penicillin (high risk, hives)". */
export function sayAllergy({ substance, criticality, reactions, unconfirmed }: AllergyLine): string {
  const notes = [
    criticality === "high" ? "high risk" : "",
    ...reactions.slice(0, SHOWN_REACTIONS).map((r) => plainText(r, 60)),
    unconfirmed ? "unconfirmed" : "",
  ].filter(Boolean);
  return `${plainText(substance, 40)}${notes.length > 0 ? ` (${notes.join(", ")})` : ""}`;
}

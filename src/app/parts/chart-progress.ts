import type { PartState } from "../../fhir/part-result.ts";
import { CHART_PARTS, type ChartPartName } from "../../fhir/searches.ts";

export const PART_WORDS: { readonly [P in ChartPartName]: string } = {
  patient: "Patient",
  conditions: "Conditions",
  imaging: "Imaging studies",
  reports: "Imaging reports",
  allergies: "Allergies",
  immunizations: "Immunisations",
  medications: "Medicines",
  weight: "Weight",
  encounter: "Visit",
  earlier: "Earlier plans",
};

/** One polite line while the chart arrives: it says how far, then what is missing. */
export function chartProgress(
  parts: { readonly [P in ChartPartName]?: { readonly state: PartState; readonly inPart?: boolean | undefined } },
): string {
  const stateOf = (part: ChartPartName) => parts[part]?.state ?? "reading";
  const read = CHART_PARTS.filter((part) => stateOf(part) !== "reading").length;
  if (read < CHART_PARTS.length) return `Reading the chart: ${read} of ${CHART_PARTS.length}`;
  const missing = CHART_PARTS.filter((part) => parts[part]?.inPart || !["found", "empty"].includes(stateOf(part))).map(
    (part) => PART_WORDS[part].toLowerCase() + (parts[part]?.inPart ? " in part" : ""),
  );
  return missing.length === 0 ? "Chart read." : `Chart read, without: ${missing.join(", ")}.`;
}

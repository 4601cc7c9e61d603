import type { Origin, Written } from "../fhir/chart.ts";

/** A proposed answer, as far as the screens need it. */
export interface Proposed {
  readonly value: string | number;
  readonly from: Pick<Origin, "label" | "date" | "reference">;
  /** The chart holds another value for the same finding: both are shown, neither is suggested. */
  readonly conflict: boolean;
  /** Shown for information only: this finding is examined afresh each time (skin, circulation, tendons). */
  readonly onlyShown?: boolean;
  readonly note?: string;
  /** It comes back from a draft or a signed plan of this program. */
  readonly written?: Written;
}
/** Whose word a proposal is: the chart's, or that of an earlier draft or plan. */
export type Whose = "chart" | Written;
export const whoseIs = (proposed: Proposed | undefined): Whose => proposed?.written ?? "chart";

/** Three states of a value, one for disagreement within the chart, one for an earlier finding, one for nothing known. */
export type ValueState =
  | { readonly is: "open" }
  | { readonly is: "from-chart"; readonly value: string | number; readonly proposals: readonly Proposed[] }
  | { readonly is: "chart-disagrees" | "earlier" | "confirmed" | "changed"; readonly proposals: readonly Proposed[] };

/** How an answer and the chart's proposals for the same finding stand to one another. A proposal alone never counts as an answer. */
export function valueState(answer: string | number | undefined, proposals: readonly Proposed[]): ValueState {
  const [first] = proposals;
  if (answer !== undefined) {
    const others = proposals.filter((p) => p.value !== answer);
    return others.length > 0 ? { is: "changed", proposals: others } : { is: "confirmed", proposals };
  }
  if (first === undefined) return { is: "open" };
  if (proposals.some((p) => p.conflict || p.value !== first.value)) return { is: "chart-disagrees", proposals };
  if (proposals.every((p) => p.onlyShown)) return { is: "earlier", proposals };
  return { is: "from-chart", value: first.value, proposals };
}

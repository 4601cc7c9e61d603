import { parseISO } from "date-fns";
import type { VisitWindow } from "../pathway/index.ts";

/** A visit may hang on something that is not yet certain, or count from the treatment; where the rules say so, its words do. */
type Conditional = Pick<VisitWindow, "check"> & {
  readonly onlyIf?: string | undefined;
  readonly countFrom?: "injury" | "treatment" | undefined;
};
/** "Only if a wire was placed. Counted from the day of treatment."; empty for a visit without conditions, and without what `check` says itself. */
export function visitCondition({ onlyIf, countFrom, check }: Conditional): string {
  const said = onlyIf === undefined || check.toLowerCase().startsWith(onlyIf.toLowerCase());
  return [
    ...(said ? [] : [`${/^only\b/i.test(onlyIf) ? "" : "Only "}${onlyIf}.`]),
    ...(countFrom === "treatment" ? ["Counted from the day of treatment."] : []),
  ].join(" ");
}
/** What to check at a visit, its conditions first. */
export const visitCheck = (visit: Conditional): string =>
  [visitCondition(visit), visit.check].filter(Boolean).join(" ");

const WEEKEND = "The best day falls on a weekend: the clinic picks the nearest session inside the window";
const SATURDAY = 6;
const SUNDAY = 0;
/** Said of a best day on which most clinics are shut; the date stays what the rules say. Empty on a weekday. */
export const weekendNote = (ideal: string): string =>
  [SATURDAY, SUNDAY].includes(parseISO(ideal).getDay()) ? `${WEEKEND}.` : "";

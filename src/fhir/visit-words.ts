import { parseISO } from "date-fns";
import { PURPOSE_WORDS, type VisitWindow } from "../pathway/index.ts";

/** Names of the visits that are asked for together, each once: "Wound check, stitches out". */
export function purposeNames(visits: readonly Pick<VisitWindow, "purpose">[]): string {
  const names = [...new Set(visits.map((v) => PURPOSE_WORDS[v.purpose]))];
  return names.map((name, i) => (i === 0 ? name : name.charAt(0).toLowerCase() + name.slice(1))).join(", ");
}

/** A visit may hang on something that is not yet certain, or count from a treatment or operation; where the rules say so, its words do. */
type Conditional = Pick<VisitWindow, "check" | "earliest" | "latest" | "dates"> & {
  readonly onlyIf?: string | undefined;
  readonly countFrom?: VisitWindow["countFrom"] | undefined;
};
/** True while the visit counts from an operation whose day nobody has said: it has days, and no date. */
export const awaitsOperation = ({ countFrom, dates }: Pick<VisitWindow, "countFrom" | "dates">): boolean =>
  countFrom === "operation" && dates === undefined;
/** "Only if a wire was placed. Counted from the day of treatment."; empty for a visit without conditions, and without what `check` says itself. */
export function visitCondition(visit: Conditional): string {
  const { onlyIf, countFrom, check, earliest, latest, dates } = visit;
  const said = onlyIf === undefined || check.toLowerCase().startsWith(onlyIf.toLowerCase());
  return [
    ...(said ? [] : [`${/^only\b/i.test(onlyIf) ? "" : "Only "}${onlyIf}.`]),
    ...(countFrom === "treatment" ? ["Counted from the day of treatment."] : []),
    ...(countFrom !== "operation"
      ? []
      : dates
        ? ["Counted from the day of the operation."]
        : [`Days ${earliest} to ${latest} after the operation; booked once its day is known.`]),
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

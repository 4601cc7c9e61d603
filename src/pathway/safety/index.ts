/** The clinical safety file as data: intended use, hazards and the tests that show their controls. The book prints it. */
import { HAZARDS, type Hazard } from "./hazards.ts";
import { INTENDED_USE, type IntendedUse } from "./intended-use.ts";
import { NEEDS_DESIGN, NOT_RELEASED, riskOf } from "./risk.ts";

export type { Control, ControlKind, Hazard, ShownBy } from "./hazards.ts";
export type { IntendedUse } from "./intended-use.ts";
export { type Level, LIKELIHOODS, NEEDS_DESIGN, NOT_RELEASED, RISK_WORDS, riskOf, SEVERITIES } from "./risk.ts";

export interface SafetyFile {
  readonly intendedUse: IntendedUse;
  readonly hazards: readonly Hazard[];
}
export const SAFETY_FILE: SafetyFile = { intendedUse: INTENDED_USE, hazards: HAZARDS };

/**
 * What keeps the file from being complete: an empty field, a hazard named twice or without a control, a serious harm that
 * nothing in the design stands against, a control that no test shows, a risk that is left too high. Empty when it is good.
 */
export function safetyProblems({ intendedUse, hazards }: SafetyFile): string[] {
  const ids = hazards.map((h) => h.id);
  return [
    ...emptyFields(intendedUse, "intended use"),
    ...ids.filter((id, i) => ids.indexOf(id) !== i).map((id) => `${id}: is named twice`),
    ...hazards.flatMap(hazardProblems),
  ];
}

function hazardProblems(hazard: Hazard): string[] {
  const { id, severity, before, after, controls } = hazard;
  const risk = riskOf(severity, after);
  return [
    ...emptyFields(hazard, id),
    ...(severity >= NEEDS_DESIGN && !controls.some((c) => c.kind === "design")
      ? [`${id}: nothing in the design stands against it`]
      : []),
    ...controls.filter((c) => c.shownBy.length === 0).map((c) => `${id}: no test shows that “${c.does}”`),
    ...(after > before ? [`${id}: is called more likely with its controls than without`] : []),
    ...(risk >= NOT_RELEASED ? [`${id}: a risk of ${risk} is left`] : []),
  ];
}

/** Texts and lists that are empty, by their place. Tests of a control are counted apart. */
function emptyFields(value: unknown, place: string): string[] {
  if (typeof value === "string") return value.trim() === "" ? [`${place}: is empty`] : [];
  if (typeof value !== "object" || value === null) return [];
  if (Array.isArray(value) && value.length === 0) return [`${place}: has none`];
  return Object.entries(value).flatMap(([key, inner]) =>
    key === "shownBy" && Array.isArray(inner) && inner.length === 0 ? [] : emptyFields(inner, `${place}, ${key}`),
  );
}

/**
 * Controls whose test is not there.
 *
 * @param titles the titles of each test file, without requirement numbers
 */
export function testsNotThere({ hazards }: SafetyFile, titles: ReadonlyMap<string, ReadonlySet<string>>): string[] {
  return hazards.flatMap(({ id, controls }) =>
    controls
      .flatMap((c) => c.shownBy)
      .filter(({ file, title }) => !titles.get(file)?.has(title))
      .map(({ file, title }) => `${id}: ${file} has no test “${title}”`),
  );
}

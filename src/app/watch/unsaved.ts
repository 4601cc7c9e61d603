import type { CaseState } from "../case-state.ts";

/** What a clinician entered, without the time of day and what is on the screen. */
const entered = ({ dates, patient, injury, digits, decisions, removed, edits }: CaseState) =>
  JSON.stringify([dates, patient, injury, digits, decisions, removed, edits]);

/** True when something was entered that the chart does not hold yet. */
export function isUnsaved(state: CaseState, stored: CaseState | undefined): boolean {
  const nothing = [state.dates, state.patient, state.injury, ...state.digits, state.decisions, state.removed].every(
    (part) => Object.keys(part).length === 0,
  );
  return !nothing && (stored === undefined || entered(stored) !== entered(state));
}

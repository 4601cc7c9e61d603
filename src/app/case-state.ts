import type { DecidedPart, Override } from "../fhir/draft-item.ts";
import type { Answers, CaseRecord, Scope } from "../pathway/index.ts";

/** Dates that stand behind a number the rules read; the record keeps the date, the rules derive the number. */
export const CASE_DATES = ["birthDate", "injuredAt", "operatedOn", "lastTetanusDoseOn"] as const;
export type CaseDate = (typeof CASE_DATES)[number];

/** The clinician's own way where it differs from a suggestion. */
export interface OwnDecision {
  readonly rule: string;
  readonly proposed: string;
  readonly decided: string;
  readonly reason: string;
  /** Id of what was decided, where there is one. */
  readonly choice?: string | undefined;
}
export interface ItemEdit {
  readonly item: string;
  readonly field: string;
  readonly value: string;
}
/**
 * All that the clinician has said about one case. What the chart proposes is not part of it: a proposal gets in only
 * by the clinician's own act, so facts that arrive late cannot overwrite an answer.
 */
export interface CaseState {
  readonly planId: string;
  /** yyyy-MM-ddTHH:mm, local. */
  readonly assessedAt: string;
  readonly dates: { readonly [D in CaseDate]?: string };
  readonly patient: Answers;
  readonly injury: Answers;
  readonly digits: readonly Answers[];
  /** Index of the digit on the screen. */
  readonly active: number;
  /** By `decisionKey`. */
  readonly decisions: { readonly [key: string]: OwnDecision };
  /** Draft items left out, with the reason. */
  readonly removed: { readonly [item: string]: string };
  readonly edits: readonly ItemEdit[];
}

export interface Answer {
  readonly finding: string;
  readonly scope: Scope;
  readonly value: string | number;
}
export type CaseAction =
  | { readonly act: "answer"; readonly answers: readonly Answer[]; readonly digit: number }
  | { readonly act: "clear"; readonly finding: string; readonly scope: Scope; readonly digit: number }
  | { readonly act: "date"; readonly date: CaseDate; readonly value: string | undefined }
  | { readonly act: "add-digit" }
  | { readonly act: "drop-digit"; readonly digit: number }
  | { readonly act: "show-digit"; readonly digit: number }
  | { readonly act: "decide"; readonly key: string; readonly decision: OwnDecision | undefined }
  | { readonly act: "remove-item"; readonly item: string; readonly reason: string }
  | { readonly act: "restore-item"; readonly item: string }
  | { readonly act: "edit-item"; readonly edit: ItemEdit }
  | { readonly act: "clock"; readonly now: string }
  | { readonly act: "continue"; readonly planId: string; readonly digits: number };

/** One rule may speak on several parts of the advice: each of them can be decided differently by itself. */
export const decisionKey = (on: DecidedPart, digit: number, rule: string): string => `${on}/${digit}/${rule}`;
/** The decisions with the part and the digit that their keys name. */
export const overridesOf = ({ decisions }: Pick<CaseState, "decisions">): Override[] =>
  Object.entries(decisions).map(([key, { choice, ...decision }]) => {
    const [on, digit] = key.split("/");
    return {
      ...decision,
      ...(choice === undefined ? {} : { choice }),
      on: on as DecidedPart,
      digit: Number(digit),
    };
  });

export const freshCase = (planId: string, now: string): CaseState => ({
  planId,
  assessedAt: now,
  dates: {},
  patient: {},
  injury: {},
  digits: [{}],
  active: 0,
  decisions: {},
  removed: {},
  edits: [],
});

export function caseReducer(state: CaseState, action: CaseAction): CaseState {
  switch (action.act) {
    case "answer":
      return action.answers.reduce((s, a) => withAnswer(s, a.finding, a.scope, action.digit, a.value), state);
    case "clear":
      return withAnswer(state, action.finding, action.scope, action.digit, undefined);
    case "date": {
      const { [action.date]: _, ...others } = state.dates;
      const dates: CaseState["dates"] = action.value ? { ...others, [action.date]: action.value } : others;
      // Nobody is operated before the accident: a day that a corrected injury overtakes is asked again.
      if (dates.operatedOn && dates.injuredAt && dates.operatedOn < dates.injuredAt.slice(0, 10)) {
        const { operatedOn: _overtaken, ...rest } = dates;
        return { ...state, dates: rest };
      }
      return { ...state, dates };
    }
    case "add-digit":
      return { ...state, digits: [...state.digits, {}], active: state.digits.length };
    case "drop-digit":
      if (state.digits.length < 2) return state;
      return {
        ...state,
        digits: state.digits.filter((_, i) => i !== action.digit),
        active: Math.max(0, Math.min(state.active, state.digits.length - 2)),
        // Keys hold the place of the digit, so decisions cannot be carried over to another one.
        decisions: {},
        removed: {},
        edits: [],
      };
    case "show-digit":
      return { ...state, active: action.digit };
    case "decide": {
      const { [action.key]: _, ...others } = state.decisions;
      return { ...state, decisions: action.decision ? { ...others, [action.key]: action.decision } : others };
    }
    case "remove-item":
      return { ...state, removed: { ...state.removed, [action.item]: action.reason } };
    case "restore-item": {
      const { [action.item]: _, ...others } = state.removed;
      return { ...state, removed: others };
    }
    case "edit-item": {
      const { item, field } = action.edit;
      return { ...state, edits: [...state.edits.filter((e) => e.item !== item || e.field !== field), action.edit] };
    }
    case "clock":
      return action.now === state.assessedAt ? state : { ...state, assessedAt: action.now };
    case "continue":
      // The findings of the earlier plan come back as proposals only; what is answered here stays.
      return {
        ...state,
        planId: action.planId,
        digits: [
          ...state.digits,
          ...Array.from({ length: Math.max(0, action.digits - state.digits.length) }, () => ({})),
        ],
      };
  }
}

function withAnswer(
  state: CaseState,
  finding: string,
  scope: Scope,
  digit: number,
  value: string | number | undefined,
): CaseState {
  const put = (answers: Answers): Answers => {
    const { [finding]: _, ...others } = answers;
    return value === undefined ? others : { ...others, [finding]: value };
  };
  if (scope === "digit") return { ...state, digits: state.digits.map((d, i) => (i === digit ? put(d) : d)) };
  return { ...state, [scope]: put(state[scope]) };
}

/** The record that rules and drafts read: confirmed answers only. */
export const recordOf = ({ assessedAt, dates, patient, injury, digits }: CaseState): CaseRecord => ({
  assessedAt,
  ...dates,
  patient,
  injury,
  digits,
});
/** What the clinician answered to one question, if anything. */
export const answerOf = (
  state: CaseState,
  finding: string,
  scope: Scope,
  digit: number,
): string | number | undefined => (scope === "digit" ? state.digits[digit]?.[finding] : state[scope][finding]);

import type { Absent } from "./known.ts";

/** Whose property a finding is: one patient, one accident, or one injured digit of possibly several. */
export type Scope = "patient" | "injury" | "digit";

export interface ChoiceFinding {
  readonly type: "choice";
  readonly scope: Scope;
  readonly values: readonly string[];
}
/** A measured or derived quantity; `min` and `max` are the plausible bounds that input is checked against, inclusive. */
export interface NumberFinding {
  readonly type: "number";
  readonly scope: Scope;
  readonly unit: string;
  readonly min: number;
  readonly max: number;
}
export type FindingDefinition = ChoiceFinding | NumberFinding;
export type FindingDefinitions = { readonly [id: string]: FindingDefinition };

type ValueOf<D> = D extends { type: "choice"; values: readonly (infer V)[] }
  ? V
  : D extends { type: "number" }
    ? number
    : never;
/** A complete record: each finding has a value or one of the two words for not knowing. */
export type FindingsOf<D extends FindingDefinitions> = { [K in keyof D]: ValueOf<D[K]> | Absent };

export const choice = <const V extends readonly string[]>(scope: Scope, ...values: V) =>
  ({ type: "choice", scope, values }) as const;
export const yesNo = (scope: Scope) => choice(scope, "yes", "no");
export const quantity = (scope: Scope, unit: string, min: number, max: number) =>
  ({ type: "number", scope, unit, min, max }) as const;

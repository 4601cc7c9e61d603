import type { Citation } from "../evidence/citation.ts";
import { isAbsent, type Known } from "./known.ts";
import type { Trilean } from "./trilean.ts";

export interface Span {
  readonly from: number;
  readonly under: number;
}
/** Counts its lower limit in and its upper limit out, so `under(x)` and `from(x)` tile: no gap, no overlap. */
export const from = (low: number, under = Number.POSITIVE_INFINITY): Span => ({ from: low, under });
export const under = (high: number): Span => ({ from: Number.NEGATIVE_INFINITY, under: high });

type Cell<T> = [Known<T>] extends [number] ? Span : Known<T> | readonly Known<T>[];
/** Columns are findings or signs; a list in a cell is "or"; there is no "not" (list the other values). */
export type Row<F> = { readonly [K in keyof F]?: Cell<F[K]> };

export interface Rule<F, O> {
  /** Table prefix + number; never reused once retired. */
  readonly id: string;
  readonly when: Row<F>;
  readonly then: O;
  /** One sentence, own words: why these findings lead here. */
  readonly because: string;
  readonly sources: readonly [Citation, ...Citation[]];
  /**
   * The cautious reading: the rule also speaks while this one column is unknown and all others hold, with `say` before its words.
   * It then counts as still possible all the same, so the finding stays asked for.
   */
  readonly assume?: { readonly column: keyof F & string; readonly say: string };
}
/** "one": exactly one row holds, whatever the case. "every": each row that holds speaks. */
export interface Table<F, O> {
  readonly id: string;
  readonly question: string;
  readonly answers: "one" | "every";
  readonly rules: readonly Rule<F, O>[];
}
export const table =
  <F>() =>
  <const O>(t: Table<F, O>): Table<F, O> =>
    t;

/**
 * A named mix of findings that tables then read like a finding: "yes" when any row holds, "no" when none can.
 * A sign may read findings and the signs listed before it.
 */
export interface Sign<F> {
  readonly name: string;
  /** The sign in a clinician's words, for explanations. */
  readonly words: string;
  readonly any: readonly Row<F>[];
  /**
   * Counts as "no" until it is shown to be "yes": for a danger that stands until an answer ends it, never for good news.
   * Only such a sign may go from "no" to "yes" when an answer is added.
   */
  readonly noUntilShown?: true;
}

/** Whether one cell fits one value; "unknown" for a value not known. */
export function fits(cell: unknown, value: string | number | undefined): Trilean {
  if (value === undefined || isAbsent(value)) return "unknown";
  if (typeof value === "number") return value >= (cell as Span).from && value < (cell as Span).under;
  return Array.isArray(cell) ? cell.includes(value) : cell === value;
}

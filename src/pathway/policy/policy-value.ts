import type { Citation } from "../evidence/citation.ts";

/** A value that a site may set, inside published or agreed safe bounds (inclusive). */
export interface PolicyNumber {
  readonly type: "number";
  readonly value: number;
  readonly unit: string;
  readonly min: number;
  readonly max: number;
  /** Key of another number that this one may not exceed (order between thresholds). */
  readonly notAbove?: string;
  readonly sources: readonly [Citation, ...Citation[]];
  readonly note: string;
}
export interface PolicyChoice {
  readonly type: "choice";
  readonly value: string;
  readonly options: readonly string[];
  readonly sources: readonly [Citation, ...Citation[]];
  readonly note: string;
}
export type PolicyValue = PolicyNumber | PolicyChoice;
/** Keys are dotted: module, then the clinical name ("distalPhalanx.displacedMm"). */
export type PolicyDefinitions = { readonly [key: string]: PolicyValue };

/** A checked policy: every key of every definition has a value. Made only by `sitePolicy()`. */
export interface SitePolicy {
  readonly site: string;
  readonly approvedBy: string;
  /** yyyy-MM-dd */
  readonly approvedOn: string;
  readonly values: { readonly [key: string]: number | string };
}
type Widen<V> = V extends { type: "number" }
  ? number
  : V extends { type: "choice"; options: readonly (infer O)[] }
    ? O
    : never;
/** The values of one module's definitions, typed. */
export const policyOf = <D extends PolicyDefinitions>(_definitions: D, policy: SitePolicy) =>
  policy.values as { readonly [K in keyof D]: Widen<D[K]> };

/**
 * A thousand plans as the plugin would file them, from generated findings; every other one signed, the rest saved as drafts. The same on
 * every run (`FAST_CHECK_SEED` looks elsewhere).
 */
import fc from "fast-check";
import type { Bundle } from "fhir/r4";
import { type Act, bundleOf, collectionOf, draftPlan, planDocument } from "../../src/fhir/drafts.ts";
import { AT, anyRecord, inputFor, MALLET, SIGNER, TWO_DIGITS, UNDECIDED, WHITE_TIP } from "../fhir/cases.ts";

/** `INTEROP_PLANS` makes fewer, for a quick look while something is changed. */
export const PLANS = Number(process.env.INTEROP_PLANS ?? 1000);
/** Odd, so that drafts and signed plans both come up. */
const EVERY_WITH_DOCUMENT = 9;
const FIXED = [MALLET, TWO_DIGITS, WHITE_TIP, UNDECIDED];

export interface GeneratedPlan {
  readonly act: Act;
  readonly transaction: Bundle;
  /** For some: the plan as a document, and the collection that it holds. */
  readonly documents: readonly object[];
}

export function* generatedPlans(): Generator<GeneratedPlan> {
  const { seed } = fc.readConfigureGlobal() ?? {};
  const records = [...FIXED, ...fc.sample(anyRecord, { numRuns: PLANS - FIXED.length, ...(seed ? { seed } : {}) })];
  for (const [i, record] of records.entries()) {
    const items = draftPlan(inputFor(record));
    const act: Act = i % 2 === 0 ? "sign" : "draft";
    const acting = { act, signer: SIGNER, at: AT };
    yield {
      act,
      transaction: bundleOf(items, act, acting),
      documents:
        i % EVERY_WITH_DOCUMENT === 0
          ? [
              planDocument(items, acting, { where: new Map(), related: ["CarePlan/7"], replaces: [] }).resource,
              collectionOf(items, acting),
            ]
          : [],
    };
  }
}

/** A thousand plans as the plugin would file them, from generated findings; the same on every run (`FAST_CHECK_SEED` looks elsewhere). */
import fc from "fast-check";
import type { Bundle } from "fhir/r4";
import { type Act, bundleOf, collectionOf, draftPlan, planDocument } from "../../src/fhir/drafts.ts";
import { AT, anyRecord, inputFor, MALLET, SIGNER, TWO_DIGITS, UNDECIDED, WHITE_TIP } from "../fhir/cases.ts";

export const PLANS = 1000;
const EVERY_WITH_DOCUMENT = 10;
const FIXED = [MALLET, TWO_DIGITS, WHITE_TIP, UNDECIDED];

export interface GeneratedPlan {
  /** The transaction for each act. */
  readonly transactions: readonly Bundle[];
  /** For some: the plan as a document, and the collection that it holds. */
  readonly documents: readonly object[];
}

export function* generatedPlans(): Generator<GeneratedPlan> {
  const { seed } = fc.readConfigureGlobal() ?? {};
  const records = [...FIXED, ...fc.sample(anyRecord, { numRuns: PLANS - FIXED.length, ...(seed ? { seed } : {}) })];
  for (const [i, record] of records.entries()) {
    const items = draftPlan(inputFor(record));
    const acts: readonly Act[] = ["draft", "sign"];
    const act = acts[i % 2]!;
    const acting = { act, signer: SIGNER, at: AT };
    yield {
      transactions: acts.map((each) => bundleOf(items, each, { signer: SIGNER, at: AT })),
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

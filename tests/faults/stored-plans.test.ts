import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { STORED_PLANS } from "./flows.ts";
import { emptyTally, matrixOf, printed, type Tally } from "./matrix.ts";
import { openWard, type Ward } from "./ward.ts";

/** One flow in every run of the tests, all of them in the run from a clean checkout. */
const FLOWS = STORED_PLANS.filter(({ name }) => name === (process.env.FAULTS_FLOW ?? name));
/** Of each flow: the release gate asks for 590 in all. */
const AT_LEAST = 300;

let ward: Ward;
beforeAll(async () => {
  ward = await openWard();
});
afterAll(() => ward?.close());

describe("REL-25 GATE-01: every fault at every step of writing over a stored plan", () => {
  let tally: Tally = emptyTally();
  beforeAll(async () => {
    tally = await matrixOf(ward, FLOWS);
    console.log(printed("stored plans", tally));
  }, 600_000);

  it("really strikes", () => {
    expect(FLOWS).not.toEqual([]);
    expect(tally.runs).toBeGreaterThanOrEqual(AT_LEAST * FLOWS.length);
    expect(tally.struck).toBe(tally.runs);
  });
  it("INV-1 loses nothing: whoever goes on as the screen says gets the whole plan", () =>
    expect(tally.lost).toEqual([]));
  it("INV-2 doubles nothing", () => expect(tally.duplicated).toEqual([]));
  it("INV-3 writes nothing of, or to, another patient", () => expect(tally.misfiled).toEqual([]));
  it("INV-4 INV-6 says nothing that the record system does not bear out, and always what to do next", () =>
    expect(tally.falseWords).toEqual([]));
});

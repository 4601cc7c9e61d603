import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { STORED_PLANS } from "./flows.ts";
import { emptyTally, matrixOf, printed, type Tally } from "./matrix.ts";
import { openWard, type Ward } from "./ward.ts";

let ward: Ward;
beforeAll(async () => {
  ward = await openWard();
});
afterAll(() => ward?.close());

describe("REL-25 GATE-01: every fault at every step of writing over a stored plan", () => {
  let tally: Tally = emptyTally();
  beforeAll(async () => {
    tally = await matrixOf(ward, STORED_PLANS);
    console.log(printed("stored plans", tally));
  }, 1_800_000);

  it("really strikes", () => {
    expect(tally.runs).toBeGreaterThanOrEqual(590);
    expect(tally.struck).toBe(tally.runs);
  });
  it("INV-1 loses nothing: whoever goes on as the screen says gets the whole plan", () =>
    expect(tally.lost).toEqual([]));
  it("INV-2 doubles nothing", () => expect(tally.duplicated).toEqual([]));
  it("INV-3 writes nothing of, or to, another patient", () => expect(tally.misfiled).toEqual([]));
  it("INV-4 INV-6 says nothing that the record system does not bear out, and always what to do next", () =>
    expect(tally.falseWords).toEqual([]));
});

import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { ENDED_PLANS } from "./flows.ts";
import { emptyTally, matrixOf, type Tally } from "./matrix.ts";
import { openWard, type Ward } from "./ward.ts";

let ward: Ward;
beforeAll(async () => {
  ward = await openWard();
});
afterAll(() => ward?.close());

describe.each(ENDED_PLANS)("REL-25 REL-38 GATE-01: every fault at every step, $name", (flow) => {
  let tally: Tally = emptyTally();
  beforeAll(async () => {
    tally = await matrixOf(ward, [flow]);
  }, 1_800_000);

  it("really strikes", () => {
    expect(tally.runs).toBeGreaterThanOrEqual(300);
    expect(tally.struck).toBe(tally.runs);
  });
  it("INV-1 loses nothing: one plan is in force in the end, or none where it was taken back", () =>
    expect(tally.lost).toEqual([]));
  it("INV-2 doubles nothing", () => expect(tally.duplicated).toEqual([]));
  it("INV-3 writes nothing of, or to, another patient", () => expect(tally.misfiled).toEqual([]));
  it("INV-4 INV-6 says nothing that the record system does not bear out, and always what to do next", () =>
    expect(tally.falseWords).toEqual([]));
});

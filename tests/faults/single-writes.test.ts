/** Faults where the record system takes one thing at a time: a plan is twenty writes, and any of them may fail. */
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { SINGLE_WRITES } from "./flows.ts";
import { emptyTally, matrixOf, type Tally } from "./matrix.ts";
import { openWard, type Ward } from "./ward.ts";

let ward: Ward;
beforeAll(async () => {
  ward = await openWard();
});
afterAll(() => ward?.close());

describe.each(SINGLE_WRITES)("REL-25 REL-29 REL-32 GATE-01: faults at the steps of $name", (flow) => {
  let tally: Tally = emptyTally();
  beforeAll(async () => {
    tally = await matrixOf(ward, [flow]);
  }, 1_800_000);

  it("every kind of fault really strikes a write and a reading", () => {
    expect(tally.runs).toBeGreaterThanOrEqual(150);
    expect(tally.struck).toBe(tally.runs);
  });
  it("INV-1 INV-5 loses nothing: whoever goes on as the screens say gets the whole of it", () =>
    expect(tally.lost).toEqual([]));
  it("INV-2 doubles nothing", () => expect(tally.duplicated).toEqual([]));
  it("INV-3 writes nothing of, or to, another patient", () => expect(tally.misfiled).toEqual([]));
  it("INV-4 INV-6 says nothing that the record system does not bear out, and always what to do next", () =>
    expect(tally.falseWords).toEqual([]));
});

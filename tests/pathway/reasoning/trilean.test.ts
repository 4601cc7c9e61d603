import { describe, expect, it } from "vitest";
import { and, not, or, type Trilean } from "../../../src/pathway/reasoning/trilean.ts";

// Truth tables of strong three-valued logic (Kleene SC. Introduction to Metamathematics, 1952, section 64).
const TABLE: readonly [Trilean, Trilean, Trilean, Trilean][] = [
  [true, true, true, true],
  [true, false, false, true],
  [true, "unknown", "unknown", true],
  [false, true, false, true],
  [false, false, false, false],
  [false, "unknown", false, "unknown"],
  ["unknown", true, "unknown", true],
  ["unknown", false, false, "unknown"],
  ["unknown", "unknown", "unknown", "unknown"],
];

describe("three-valued logic", () => {
  it.each(TABLE)("%s with %s: both is %s, either is %s", (a, b, both, either) => {
    expect(and([a, b])).toBe(both);
    expect(or([a, b])).toBe(either);
  });
  it("the opposite of unknown is unknown", () => {
    expect(not("unknown")).toBe("unknown");
    expect(not(true)).toBe(false);
    expect(not(false)).toBe(true);
  });
  it("nothing to fulfil is fulfilled, nothing to choose from is not", () => {
    expect(and([])).toBe(true);
    expect(or([])).toBe(false);
  });
});

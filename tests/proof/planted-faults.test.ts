import { describe, expect, it } from "vitest";
import { pathway } from "../pathway/distal-phalanx/records.ts";
import { PLANTED } from "./planted-faults.ts";

describe("a fault planted in the rules is found, with a record that shows it", () => {
  it.each(PLANTED.map((fault) => [fault.kind, fault.what, fault] as const))("%s: %s", (kind, _, fault) => {
    const flaws = fault.found(pathway);
    expect(flaws.length).toBeGreaterThan(0);
    for (const { what, witness } of flaws) {
      expect(what).not.toBe("");
      // A rule that no record makes heard, or an empty span, has no record to show.
      if (kind !== "dead rule") expect(Object.keys(witness).length > 0 || / is never heard$/.test(what)).toBe(true);
    }
  });
  it("covers every kind", () =>
    expect(new Set(PLANTED.map((f) => f.kind))).toEqual(
      new Set([
        "gap",
        "overlap",
        "contradiction",
        "broken monotonicity",
        "swapped thresholds",
        "guard",
        "dead rule",
        "limit on the wrong side",
      ]),
    ));
});

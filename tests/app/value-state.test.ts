import { describe, expect, it } from "vitest";
import { type Proposed, valueState } from "../../src/app/value-state.ts";

const says = (value: string, more: Partial<Proposed> = {}): Proposed => ({
  value,
  from: { label: "Condition", reference: "Condition/1" },
  conflict: false,
  ...more,
});

describe("a value and what the chart says of it", () => {
  it.each([
    ["nothing known is open", undefined, [], "open"],
    ["a chart value without an answer is a proposal", undefined, [says("ring")], "from-chart"],
    ["the same answer confirms it", "ring", [says("ring")], "confirmed"],
    ["another answer changes it", "middle", [says("ring")], "changed"],
    ["two different chart values suggest neither", undefined, [says("ring"), says("middle")], "chart-disagrees"],
    [
      "a value marked as conflicting is not suggested",
      undefined,
      [says("ring", { conflict: true })],
      "chart-disagrees",
    ],
    [
      "an earlier finding that is examined afresh is shown, not suggested",
      undefined,
      [says("pink", { onlyShown: true })],
      "earlier",
    ],
    ["cannot tell is an answer, and differs from the chart", "cannot-tell", [says("ring")], "changed"],
  ])("%s", (_, answer, proposals, is) => {
    expect(valueState(answer, proposals).is).toBe(is);
  });
});

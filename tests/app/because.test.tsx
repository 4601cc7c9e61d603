// @vitest-environment happy-dom
import { cleanup, render, screen } from "@testing-library/react";
import { afterEach, describe, expect, it } from "vitest";
import { Because } from "../../src/app/parts/because.tsx";
import { commonPractice, fromMemory } from "../../src/pathway/evidence/citation.ts";

afterEach(cleanup);

describe("who says so", () => {
  it("names the place for common practice and for what is from memory too, where the rule gives one", () => {
    const sources = [
      { ...commonPractice, at: "ring off before it swells" },
      { ...fromMemory, at: "wire out at 3 to 4 weeks" },
      commonPractice,
    ];
    render(<Because line={{ rule: "X-1", text: "x", because: "y", sources }} />);
    expect(screen.getAllByRole("listitem").map((li) => li.firstChild?.textContent)).toEqual([
      "Common practice, ring off before it swells",
      "Not looked up, wire out at 3 to 4 weeks",
      "Common practice",
    ]);
  });
});

import { describe, expect, it } from "vitest";
import { ASKED } from "../../src/pathway/all-asked.ts";
import { FIRST_ASKED } from "../../src/pathway/asked.ts";
import { MODULES } from "../../src/pathway/index.ts";

describe("the light door", () => {
  it("asks of each injury what its rules were written for, in the same order", () => {
    expect(ASKED.map((asked) => asked.id)).toEqual(MODULES.map((module) => module.id));
    ASKED.forEach((asked, i) => {
      const { findings, questions, groups, title } = MODULES[i]!;
      expect(asked).toEqual({ id: MODULES[i]!.id, title, findings, questions, groups });
    });
  });
  it("begins with the first groups of each injury, the red flags among them, word for word as they stand in the whole", () => {
    expect(FIRST_ASKED.map((first) => first.id)).toEqual(ASKED.map((asked) => asked.id));
    FIRST_ASKED.forEach((first, i) => {
      const { findings, questions, groups } = ASKED[i]!;
      expect(first.groups.map((g) => g.id)).toContain("red-flags");
      expect(first.groups).toEqual(groups.slice(0, first.groups.length));
      const named = first.groups.flatMap((g) => g.findings);
      expect(first.questions.map((q) => q.finding).sort()).toEqual([...named].sort());
      for (const finding of named) {
        expect(first.questions.find((q) => q.finding === finding)).toEqual(
          questions.find((q) => q.finding === finding),
        );
        expect(first.findings[finding]).toEqual(findings[finding]);
      }
    });
  });
});

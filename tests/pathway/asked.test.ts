import { describe, expect, it } from "vitest";
import { ASKED } from "../../src/pathway/asked.ts";
import { MODULES } from "../../src/pathway/index.ts";

describe("the light door", () => {
  it("asks of each injury what its rules were written for, in the same order", () => {
    expect(ASKED.map((asked) => asked.id)).toEqual(MODULES.map((module) => module.id));
    ASKED.forEach((asked, i) => {
      const { findings, questions, groups, title } = MODULES[i]!;
      expect(asked).toEqual({ id: MODULES[i]!.id, title, findings, questions, groups });
    });
  });
});

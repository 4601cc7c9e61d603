import { describe, expect, it } from "vitest";
import { digitOfCode } from "../../src/coding/digit-of-code.ts";
import { fractureCode } from "../../src/coding/fracture-code.ts";

describe("coding a distal phalanx fracture under treatment", () => {
  it("a closed, displaced fracture of the left ring finger", () => {
    expect(fractureCode({ digit: "ring", side: "left", displaced: "yes", open: "no" })).toEqual({
      system: "http://hl7.org/fhir/sid/icd-10-cm",
      version: "2027",
      code: "S62.635A",
      display: "Displaced fracture of distal phalanx of left ring finger, initial encounter for closed fracture",
      defaults: [],
    });
  });
  it("says what was assumed when displacement and openness were not stated", () => {
    const { code, defaults } = fractureCode({ digit: "thumb", side: "right", displaced: "unknown", open: "unknown" });
    expect(code).toBe("S62.521A");
    expect(defaults).toEqual([
      "Displacement not stated: the classification then counts it as displaced.",
      "Open or closed not stated: the classification then counts it as closed.",
    ]);
  });
  it("a named finger of unknown side is an other finger, not an unspecified one", () => {
    expect(fractureCode({ digit: "index", side: "unknown", displaced: "no", open: "yes" }).code).toBe("S62.668B");
  });
});

describe("the digit a chart code names", () => {
  it("is read with its side, with or without the dot", () => {
    expect(digitOfCode("S62.637A")).toEqual({ digit: "little", side: "left", fracture: true, current: true });
    expect(digitOfCode("s62637a")).toEqual({ digit: "little", side: "left", fracture: true, current: true });
  });
  it.each([
    // ICD-10-CM S60, S63, S66, S68, S69: from memory.
    ["S69.92XA", { side: "left" }],
    ["S69.91XA", { side: "right" }],
    ["S69.90XA", {}],
    ["S60.142A", { digit: "ring", side: "left" }],
    ["S60.011A", { digit: "thumb", side: "right" }],
    ["S66.316A", { digit: "little", side: "right" }],
    ["S68.621A", { digit: "index", side: "left" }],
    ["S63.295A", { digit: "ring", side: "left" }],
  ])("%s names what it names and no more", (code, named) => {
    expect(digitOfCode(code)).toEqual({ ...named, fracture: false, current: true });
  });
  it("is not read from a hand injury that is over", () => {
    expect(digitOfCode("S69.92XD")?.current).toBe(false);
  });
  it("is not read from an old injury as today's", () => {
    expect(digitOfCode("S62.637S")?.current).toBe(false);
  });
});

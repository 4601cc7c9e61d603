import { describe, expect, it } from "vitest";
import { codesFound, isExternalCause, whyNotAdded, whyNotBeside } from "../../src/coding/added-code.ts";
import { tableOn } from "../../src/coding/tables.ts";

const table = (await tableOn("2026-11-25"))!;

describe("a code that a coder looks for", () => {
  it("is found by its beginning, with and without the dot, and by words of the official description in any order", () => {
    for (const text of ["S61.31", "s6131"])
      expect(codesFound(text, table).every(({ code }) => code.startsWith("S61.31"))).toBe(true);
    const found = codesFound("nail laceration left ring initial", table);
    expect(found.map(({ code }) => code)).toContain("S61.315A");
    for (const { display } of found) expect(display).toMatch(/ring finger/);
  });
  it("is not looked for by one character, and never is more than twenty at once", () => {
    expect(codesFound("S", table)).toEqual([]);
    expect(codesFound("finger", table)).toHaveLength(20);
  });
});

// ICD-10-CM Tabular List FY2027, notes as in the official slice; I.C.20 of the guidelines for causes.
describe("a code that a coder adds", () => {
  const fracture = [{ code: "S62.630B", digit: 0 }];
  it("is refused when it is not billable in the edition of the day, and the edition's dates are said", () =>
    expect(whyNotAdded({ code: "S62.63", digit: 0 }, [], table)).toMatch(
      /not a billable code of ICD-10-CM.*from 2026-10-01 to 2027-09-30/,
    ));
  it("is refused when it stands there already", () =>
    expect(whyNotAdded({ code: "S62.630B", digit: 0 }, fracture, table)).toBe("S62.630B stands in the list already."));
  it("a wound does not stand beside the open fracture of its finger, whichever came first", () => {
    expect(whyNotAdded({ code: "S61.310A", digit: 0 }, fracture, table)).toContain("Excludes1 at S61");
    expect(whyNotBeside(fracture[0]!, [{ code: "S61.310A", digit: 0 }])).toContain("Excludes1 at S61");
  });
  it("a wound stands beside a closed fracture, and beside the open fracture of another finger", () => {
    expect(whyNotAdded({ code: "S61.310A", digit: 0 }, [{ code: "S62.630A", digit: 0 }], table)).toBeUndefined();
    expect(whyNotAdded({ code: "S61.312A", digit: 1 }, fracture, table)).toBeUndefined();
  });
  it("a fracture does not stand beside the amputation of its finger", () =>
    expect(whyNotAdded({ code: "S68.620A", digit: 0 }, fracture, table)).toContain("Excludes1 at S62"));
  it("a bruise does not stand beside a worse injury of its finger", () =>
    expect(whyNotAdded({ code: "S60.121A", digit: 0 }, fracture, table)).toContain("more severe injury"));
  it("a door does not stand beside a machine as the cause, and no place is given as unspecified", () => {
    expect(whyNotAdded({ code: "W23.0XXA" }, [{ code: "W31.1XXA" }], table)).toContain("Excludes1 at W23");
    expect(whyNotAdded({ code: "Y92.9" }, fracture, table)).toBeDefined();
  });
  it("is a cause when it is of chapter 20", () =>
    expect(["V00.001A", "W23.0XXA", "X58.XXXA", "Y92.59", "S62.630B", "Z23"].map(isExternalCause)).toEqual([
      true,
      true,
      true,
      true,
      false,
      false,
    ]));
});

import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { readNumber } from "../../src/app/parts/number-question.tsx";
import { dayAfter, localTime, sayDay } from "../../src/app/say-date.ts";
import { APP_VERSION } from "../../src/app/version.ts";
import { list } from "../../src/app/words.ts";
import { plainText } from "../../src/fhir/plain-text.ts";

describe("text of a chart on the screen", () => {
  it("SEC-21 loses characters that hide or turn text round", () => {
    expect(plainText("Ada\u202e\u200b Brook\u0000")).toBe("Ada Brook");
  });
  it("SEC-21 is cut with a sign that it was cut", () => {
    expect(plainText("x".repeat(5000), 10)).toBe(`${"x".repeat(9)}…`);
  });
  it("REL-19 keeps accents and other scripts", () => {
    expect(plainText("Łucja Ñuñez 山田")).toBe("Łucja Ñuñez 山田");
  });
});
describe("days of care", () => {
  it("SAF-19 are shown with weekday and month name, whatever the time zone of the machine", () => {
    // A Tuesday: ISO 8601 week date 2026-W11-2.
    expect(sayDay("2026-03-10")).toMatch(/^Tue,? 10 March 2026$/);
    expect(sayDay("2026-03-10T08:05")).toMatch(/10 March 2026, 08:05$/);
  });
  it("show a partial date as it stands", () => {
    expect(sayDay("2026-03")).toBe("2026-03");
    expect(sayDay(undefined)).toBe("");
  });
  it("REL-41 are counted on the calendar over a clock change and a leap day", () => {
    expect(dayAfter("2026-03-28", 2)).toBe("2026-03-30");
    expect(dayAfter("2028-02-28", 1)).toBe("2028-02-29");
    expect(dayAfter("2026-01-01", -1)).toBe("2025-12-31");
  });
  it("are the local day late in the evening, not the day in London", () => {
    expect(localTime(new Date(2026, 2, 10, 23, 59))).toBe("2026-03-10T23:59");
  });
});
describe("numbers and lists", () => {
  it("a decimal comma is read as a point; letters, signs and exponents are no number", () => {
    expect(readNumber("2,5")).toBe(2.5);
    expect(readNumber(" 40 ")).toBe(40);
    for (const bad of ["", "-1", "1e3", "forty", "1.2.3", "0x10"]) expect(readNumber(bad)).toBeUndefined();
  });
  it("are joined as one says them", () => {
    expect(list(["a", "b", "c"])).toBe("a, b and c");
    expect(list(["a"])).toBe("a");
    expect(list([])).toBe("");
  });
  it("SAF-12 the version shown and written is the version of the package", () => {
    expect(APP_VERSION).toBe(JSON.parse(readFileSync("package.json", "utf8")).version);
  });
});

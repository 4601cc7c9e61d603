import { describe, expect, it } from "vitest";
import { digitOfCode } from "../../src/coding/digit-of-code.ts";
import { EDITION, fractureCode, ROWS } from "../../src/coding/fracture-code.ts";

/**
 * Codes against the official table: ICD-10-CM FY2027, CMS/NCHS order file, categories S62.52-, S62.63-, S62.66- (shipped unchanged in
 * src/coding). The words of the official description are compared with the facts that were asked for, so a shifted digit cannot hide.
 */
const DIGITS = {
  thumb: "thumb",
  index: "index finger",
  middle: "middle finger",
  ring: "ring finger",
  little: "little finger",
} as const;
const SIDES = ["left", "right", "unknown"] as const;
const STATES = ["yes", "no", "unknown"] as const;
const every = (Object.keys(DIGITS) as (keyof typeof DIGITS)[]).flatMap((digit) =>
  SIDES.flatMap((side) => STATES.flatMap((displaced) => STATES.map((open) => ({ digit, side, displaced, open })))),
);
const descriptions = new Map(ROWS.map(([code, billable, description]) => [code, { billable, description }]));

describe("the official table", () => {
  it("holds 26 stems with seven encounters each: 182 billable codes of 211 rows", () => {
    expect(ROWS.length).toBe(211);
    expect(ROWS.filter(([, billable]) => billable === 1).length).toBe(182);
    expect(ROWS.filter(([code, billable]) => billable === 0 && code.length === 7).length).toBe(26);
  });
  it("describes each billable code as its stem and one of the seven encounters of S62 (Tabular List, 7th characters)", () => {
    const encounter = {
      A: "initial encounter for closed fracture",
      B: "initial encounter for open fracture",
      D: "subsequent encounter for fracture with routine healing",
      G: "subsequent encounter for fracture with delayed healing",
      K: "subsequent encounter for fracture with nonunion",
      P: "subsequent encounter for fracture with malunion",
      S: "sequela",
    } as Record<string, string>;
    for (const [code, billable, description] of ROWS)
      if (billable === 1)
        expect(description).toBe(`${descriptions.get(code.slice(0, -1))?.description}, ${encounter[code.slice(-1)]}`);
  });
  it("names its edition and the dates it holds for", () => {
    expect(EDITION).toEqual({
      system: "http://hl7.org/fhir/sid/icd-10-cm",
      version: "2027",
      from: "2026-10-01",
      to: "2027-09-30",
    });
  });
});

describe("every code that can be composed", () => {
  it("is billable and carries its official description", () => {
    expect(every.length).toBe(135);
    for (const facts of every) {
      const { code, display } = fractureCode(facts);
      expect(descriptions.get(code)).toEqual({ billable: 1, description: display });
    }
  });
  it.each(every)("$digit, side $side, displaced $displaced, open $open: says so in the official words", (facts) => {
    const { display, defaults } = fractureCode(facts);
    // A named finger of unknown side is "other finger" (Tabular inclusion term: specified finger with unspecified laterality).
    const where =
      facts.side === "unknown"
        ? facts.digit === "thumb"
          ? "unspecified thumb"
          : "other finger"
        : `${facts.side} ${DIGITS[facts.digit]}`;
    // Notes at category S62: not stated displaced or not is displaced; not stated open or closed is closed.
    const kind = facts.displaced === "no" ? "Nondisplaced" : "Displaced";
    expect(display).toBe(
      `${kind} fracture of distal phalanx of ${where}, initial encounter for ${facts.open === "yes" ? "open" : "closed"} fracture`,
    );
    expect(defaults.length).toBe([facts.displaced, facts.open, facts.side].filter((f) => f === "unknown").length);
  });
  it("leads back to the same digit and side when it is read from a chart", () => {
    for (const facts of every.filter((f) => f.side !== "unknown"))
      expect(digitOfCode(fractureCode(facts).code)).toEqual({
        digit: facts.digit,
        side: facts.side,
        fracture: true,
        current: true,
      });
  });
});

describe("worked codes", () => {
  // Looked up by hand in the official table; no published answer key for these facts is known.
  it.each([
    [
      "right index, nothing stated",
      { digit: "index", side: "right", displaced: "unknown", open: "unknown" },
      "S62.630A",
    ],
    ["left ring, closed, not displaced", { digit: "ring", side: "left", displaced: "no", open: "no" }, "S62.665A"],
    ["right middle, open, displaced", { digit: "middle", side: "right", displaced: "yes", open: "yes" }, "S62.632B"],
    ["left thumb, closed, not displaced", { digit: "thumb", side: "left", displaced: "no", open: "no" }, "S62.525A"],
    ["left little, closed, displaced", { digit: "little", side: "left", displaced: "yes", open: "no" }, "S62.637A"],
    ["index, side not recorded", { digit: "index", side: "unknown", displaced: "yes", open: "no" }, "S62.638A"],
  ] as const)("%s", (_, facts, code) => expect(fractureCode(facts).code).toBe(code));
});

describe("codes of other finger injuries in a chart", () => {
  // Official descriptions, ICD-10-CM FY2027 order file.
  it.each([
    [
      "S61.214A",
      "Laceration without foreign body of right ring finger without damage to nail, initial encounter",
      "ring",
      "right",
    ],
    [
      "S61.317A",
      "Laceration without foreign body of left little finger with damage to nail, initial encounter",
      "little",
      "left",
    ],
    [
      "S61.112A",
      "Laceration without foreign body of left thumb with damage to nail, initial encounter",
      "thumb",
      "left",
    ],
    ["S67.02XA", "Crushing injury of left thumb, initial encounter", "thumb", "left"],
    ["S67.193A", "Crushing injury of left middle finger, initial encounter", "middle", "left"],
    [
      "S62.501A",
      "Fracture of unspecified phalanx of right thumb, initial encounter for closed fracture",
      "thumb",
      "right",
    ],
    [
      "S62.606B",
      "Fracture of unspecified phalanx of right little finger, initial encounter for open fracture",
      "little",
      "right",
    ],
  ])("%s: %s", (code, description, digit, side) => {
    expect(description).toContain(side);
    expect(digitOfCode(code)).toMatchObject({ digit, side, current: true });
  });
  it("an old injury (healing or sequela) is not today's", () => {
    expect(digitOfCode("S62.630D")?.current).toBe(false);
    expect(digitOfCode("S62.665S")?.current).toBe(false);
  });
  it("a code of another part of the body, and an unnamed finger, name no digit", () => {
    expect(digitOfCode("S52.501A")).toBeUndefined();
    expect(digitOfCode("E11.9")).toBeUndefined();
    expect(digitOfCode("S62.639A")).toEqual({ fracture: true, current: true });
    expect(digitOfCode("S62.638A")).toEqual({ fracture: true, current: true });
  });
});

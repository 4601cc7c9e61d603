import { describe, expect, it } from "vitest";
import { labelCeilingMg, millilitres, plainLimitMg } from "../../src/pathway/hand/anaesthetic.ts";

const ADULT = 35;

// Lidocaine hydrochloride injection USP, prescribing information, section on maximum recommended dosages:
// plain 4.5 mg/kg and not above 300 mg; with epinephrine 7 mg/kg and not above 500 mg.
describe("US label of lidocaine", () => {
  it.each([
    [20, 90],
    [50, 225],
    [66, 297],
    [70, 300], // 4.5 x 70 = 315: capped
    [120, 300],
  ])("plain, %i kg: %i mg", (kg, mg) => expect(labelCeilingMg(kg, false)).toBe(mg));
  it.each([
    [50, 350],
    [70, 490],
    [71, 497],
    [80, 500], // 7 x 80 = 560: capped
  ])("with epinephrine, %i kg: %i mg", (kg, mg) => expect(labelCeilingMg(kg, true)).toBe(mg));
  // The same section: a child of 5 years and 50 pounds (22.7 kg) not above 75-100 mg of plain lidocaine.
  it("a child of 5 years and 22.7 kg stays within the label's 75-100 mg at every site limit", () => {
    for (const perKg of [2, 3, 3.3, 4, 4.4]) expect(plainLimitMg(22.7, perKg, 5)).toBeLessThanOrEqual(75);
    expect(plainLimitMg(22.7, 3, 5)).toBe(68);
  });
  it("that example is the label's only figure for children: an older child follows the weight, under the adult ceiling", () => {
    expect(plainLimitMg(45, 3, 11)).toBe(135);
    expect(plainLimitMg(40, 3, 5)).toBe(75);
    expect(plainLimitMg(110, 3, 11)).toBe(300);
  });
});

// New South Wales Agency for Clinical Innovation, digital nerve block: 3 mg/kg plain, "about 20 mL of 1 % for 70 kg".
describe("service limit of 3 mg/kg", () => {
  it("70 kg: 210 mg, which is 21 mL of 1 % (about 20 mL) or 10.5 mL of 2 %", () => {
    expect(plainLimitMg(70, 3, ADULT)).toBe(210);
    expect(millilitres(210, 1)).toBe(21);
    expect(millilitres(210, 2)).toBe(10.5);
  });
  it("20 kg: 60 mg, which is 6 mL of 1 %", () => {
    expect(plainLimitMg(20, 3, 5)).toBe(60);
    expect(millilitres(60, 1)).toBe(6);
  });
  it("never rises above the label: 110 kg stays at 300 mg", () => expect(plainLimitMg(110, 3, ADULT)).toBe(300));
});

// American Academy of Pediatrics, sedation guideline, footnote to the table of local anaesthetics: 30 % less under 6 months.
describe("infants", () => {
  it("6 kg at 5 months: 18 mg less 30 % = 12 mg, from 6 months the full 18 mg", () => {
    expect(plainLimitMg(6, 3, 0.45)).toBe(12);
    expect(plainLimitMg(6, 3, 0.5)).toBe(18);
  });
});

// Arithmetic: 1 % holds 10 mg per mL.
describe("volume", () => {
  it.each([
    [300, 1, 30],
    [300, 2, 15],
    [90, 1, 9],
    [97, 1, 9.7],
    [97, 2, 4.8], // 4.85, rounded down
  ])("%i mg of %i %% is %d mL", (mg, percent, ml) => expect(millilitres(mg, percent)).toBe(ml));
});

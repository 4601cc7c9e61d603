import { describe, expect, it } from "vitest";
import { ADULT, CHILD, told } from "../pathway/distal-phalanx/records.ts";

/**
 * Bachoura A, Ferikes AJ, Lubahn JD. Mallet and jersey finger in the athlete. Curr Rev Musculoskelet Med 2017;10(1):1-9, table 1.
 * Doyle: I small or no fragment, closed; IVB 20 to 50 % of the joint surface; IVC more than 50 % with early or late volar subluxation.
 * Wehbé and Schneider: I not subluxed, II subluxed, III epiphyseal; A under a third, B a third to two thirds, C over two thirds.
 * That exactly 20 %, 1/3, 50 % and 2/3 belong to the class the table prints them in is our reading (convention).
 */
const BONY = { ...ADULT, activeExtension: "lag", fractureSite: "base-dorsal" };
const CLOSE = 0.05;

describe("Doyle, by share of the joint surface on a true lateral", () => {
  it.each([
    ["none to see", 0, "DOYLE-I", "DOYLE-IVB-SLIPPED"],
    ["just under 20 %", 20 - CLOSE, "DOYLE-I", "DOYLE-IVB-SLIPPED"],
    ["exactly 20 %", 20, "DOYLE-IVB", "DOYLE-IVB-SLIPPED"],
    ["a third", 100 / 3, "DOYLE-IVB", "DOYLE-IVB-SLIPPED"],
    ["exactly 50 %", 50, "DOYLE-IVB", "DOYLE-IVB-SLIPPED"],
    ["just over 50 %", 50 + CLOSE, "DOYLE-IVC-IF-IT-SLIPS", "DOYLE-IVC"],
    ["two thirds", 200 / 3, "DOYLE-IVC-IF-IT-SLIPS", "DOYLE-IVC"],
    ["over two thirds", 66.7 + CLOSE, "DOYLE-IVC", "DOYLE-IVC"],
    ["all of it", 100, "DOYLE-IVC", "DOYLE-IVC"],
  ])("%s", (_, articularSharePercent, congruent, subluxed) => {
    const doyle = (jointPosition: string) =>
      told({ ...BONY, articularSharePercent, jointPosition }).published.filter((n) => n.startsWith("DOYLE"));
    expect(doyle("congruent")).toEqual([congruent]);
    expect(doyle("volar-subluxed")).toEqual([subluxed]);
  });
  it("I without a fragment, II open with the tendon cut, III with skin and tendon lost, IVA through a child's growth plate", () => {
    expect(told({ ...ADULT, activeExtension: "lag" }).published).toEqual(["DOYLE-I"]);
    const open = { ...ADULT, activeExtension: "lag", openness: "open-skin" };
    expect(told({ ...open, woundOverJoint: "cut" }).published).toEqual(["DOYLE-II"]);
    expect(told({ ...open, woundOverJoint: "skin-and-tendon-lost" }).published).toEqual(["DOYLE-III"]);
    expect(told({ ...CHILD, fractureSite: "base-dorsal", salterHarris: "III" }).published).toContain("DOYLE-IVA");
  });
});

describe("Wehbé and Schneider, by share and by the joint", () => {
  it.each([
    ["under a third", 100 / 3 - CLOSE, "A"],
    ["exactly a third", 100 / 3, "B"],
    ["half", 50, "B"],
    ["exactly two thirds", 200 / 3, "B"],
    ["over two thirds", 66.7 + CLOSE, "C"],
  ])("%s", (_, articularSharePercent, letter) => {
    const wehbe = (jointPosition: string) =>
      told({ ...BONY, articularSharePercent, jointPosition }).published.filter((n) => n.startsWith("WEHBE"));
    expect(wehbe("congruent")).toEqual([`WEHBE-I${letter}`]);
    expect(wehbe("volar-subluxed")).toEqual([`WEHBE-II${letter}`]);
    // both schemes speak of volar subluxation only
    expect(wehbe("dorsal-subluxed")).toEqual([]);
  });
  it("the example of the table: 40 % with volar subluxation is IIB", () =>
    expect(told({ ...BONY, articularSharePercent: 40, jointPosition: "volar-subluxed" }).published).toContain(
      "WEHBE-IIB",
    ));
  it("III at the growth plate", () =>
    expect(told({ ...CHILD, fractureSite: "base-dorsal", salterHarris: "IV" }).published).toContain("WEHBE-III"));
});

describe("Leddy and Packer (radiology reference page, revised 2023)", () => {
  const TORN = { ...ADULT, mechanism: "forced-extension", activeFlexion: "absent" };
  it.each([
    ["I: retracted to the palm, no bone", { tendonEndAt: "palm" }, "LEDDY-I"],
    ["II: at the middle joint", { tendonEndAt: "pip" }, "LEDDY-II"],
    [
      "III: large fragment at A4 or the end joint",
      { fractureSite: "base-volar", volarFragmentAt: "dip-or-a4", tendonEndAt: "dip-or-a4" },
      "LEDDY-III",
    ],
    [
      "IV: large fragment, tendon off it",
      { fractureSite: "base-volar", volarFragmentAt: "dip-or-a4", tendonEndAt: "palm" },
      "LEDDY-IV",
    ],
    [
      "Va: with an extra-articular fracture",
      { fractureSite: "base-volar", restOfPhalanx: "extra-articular-fracture" },
      "LEDDY-VA",
    ],
    [
      "Vb: with an intra-articular fracture",
      { fractureSite: "base-volar", restOfPhalanx: "intra-articular-fracture" },
      "LEDDY-VB",
    ],
  ])("%s", (_, found, name) => expect(told({ ...TORN, ...found }).published).toEqual([name]));
});

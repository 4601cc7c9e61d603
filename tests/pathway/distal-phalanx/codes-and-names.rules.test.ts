import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, distalPhalanx, told } from "./records.ts";

const valuesOf = (finding: string) =>
  (distalPhalanx.findings[finding] as { readonly values: readonly string[] }).values;

/*
 * AO/OTA 2018: 78 . digit . 3 (distal phalanx) . segment and type. For a finger the AO surgery reference puts tuft and shaft into segment 2, A simple,
 * B wedge, C several pieces; ends by share of the joint surface (from memory), so every code is only suggested.
 */
describe("AO/OTA code", () => {
  const PATTERN: { readonly [pattern: string]: string } = { wedge: "B", comminuted: "C" };
  const END: { readonly [site: string]: string } = {
    "base-extra-articular": "1A",
    "base-dorsal": "1B",
    "base-volar": "1B",
    "base-both-sides": "1C",
    "base-central": "1C",
  };
  const codeOf = (digit: string, site: string, pattern: string) => {
    const type = END[site] ?? `${site === "tuft" && digit === "thumb" ? 3 : 2}${PATTERN[pattern] ?? "A"}`;
    return `AO/OTA 78.${valuesOf("digit").indexOf(digit) + 1}.3.${type} (suggested)`;
  };
  for (const fractureSite of ["tuft", "shaft", ...Object.keys(END)])
    it(`${fractureSite}: one code for each digit and pattern`, () => {
      for (const digit of valuesOf("digit"))
        for (const fracturePattern of valuesOf("fracturePattern"))
          expect(told({ ...ADULT, digit, fractureSite, fracturePattern }).ao).toEqual([
            codeOf(digit, fractureSite, fracturePattern),
          ]);
    });
  it("a volar piece with the rest of the phalanx broken takes the whole surface", () =>
    expect(told({ ...ADULT, fractureSite: "base-volar", restOfPhalanx: "extra-articular-fracture" }).ao).toEqual([
      "AO/OTA 78.3.3.1C (suggested)",
    ]));
  it.each<[string, Facts]>([
    ["a child with an open growth plate", { ...CHILD, fractureSite: "shaft" }],
    ["a tuft of a child, in pieces", { ...CHILD, fractureSite: "tuft", fracturePattern: "comminuted" }],
    ["a child's base", { ...CHILD, fractureSite: "base-dorsal" }],
    ["a base without a true lateral", { ...ADULT, fractureSite: "base-dorsal", trueLateral: "not-taken" }],
    ["a shaft without a film", { ...ADULT, fractureSite: "shaft", filmTaken: "no" }],
    ["a thumb tuft without a film", { ...ADULT, digit: "thumb", fractureSite: "tuft", filmTaken: "no" }],
    ["no fracture", ADULT],
  ])("%s has none", (_, facts) => expect(told(facts).ao).toEqual([]));
  it("no finger has a code before a film shows a fracture, none at the base before a true lateral, and none in a child", () => {
    for (const digit of valuesOf("digit"))
      for (const fracturePattern of valuesOf("fracturePattern")) {
        const none = (facts: Facts) => expect(told({ ...facts, digit, fracturePattern }).ao).toEqual([]);
        none({ ...ADULT, fractureSite: "no-fracture-seen" });
        for (const fractureSite of ["tuft", "shaft", ...Object.keys(END)]) {
          none({ ...ADULT, fractureSite, filmTaken: "no" });
          none({ ...CHILD, fractureSite });
        }
        for (const fractureSite of Object.keys(END))
          for (const restOfPhalanx of valuesOf("restOfPhalanx"))
            none({ ...ADULT, fractureSite, restOfPhalanx, trueLateral: "not-taken" });
      }
  });
});

/* Leddy and Packer with the later types, as tabulated by RADREF-LP: level of tendon end and fragment; V by the rest of the phalanx. */
describe("Leddy-Packer type of a torn flexor", () => {
  const torn = { ...ADULT, activeFlexion: "absent", mechanism: "forced-extension", fractureSite: "base-volar" };
  const name = (facts: Facts) => told(facts).published.join(" ");
  it.each([
    ["none", "not-located", "LEDDY-I-OR-II"],
    ["none", "dip-or-a4", "LEDDY-I-OR-II"],
    ["none", "pip", "LEDDY-II"],
    ["none", "palm", "LEDDY-I"],
    ["dip-or-a4", "not-located", "LEDDY-III"],
    ["dip-or-a4", "dip-or-a4", "LEDDY-III"],
    ["dip-or-a4", "pip", "LEDDY-IV"],
    ["dip-or-a4", "palm", "LEDDY-IV"],
    ["pip", "not-located", "LEDDY-II"],
    ["pip", "palm", "LEDDY-II"],
    ["palm", "not-located", "LEDDY-I"],
    ["palm", "pip", "LEDDY-I"],
  ])("fragment %s, tendon end %s: %s", (volarFragmentAt, tendonEndAt, type) => {
    expect(name({ ...torn, volarFragmentAt, tendonEndAt })).toBe(type);
    for (const [restOfPhalanx, five] of [
      ["extra-articular-fracture", "LEDDY-VA"],
      ["intra-articular-fracture", "LEDDY-VB"],
    ] as const)
      expect(name({ ...torn, volarFragmentAt, tendonEndAt, restOfPhalanx })).toBe(five);
  });
});

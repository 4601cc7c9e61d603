import { describe, expect, it } from "vitest";
import { answerGap } from "../../src/coding/answer-gap.ts";
import { deriveForCoding } from "../../src/coding/derive.ts";
import type { EncounterToCode } from "../../src/coding/encounter.ts";
import { DIGIT_FACTS } from "../../src/coding/facts.ts";
import { READINGS, readDigit, SIGNALS } from "../../src/coding/from-findings.ts";
import { GAP_RULES } from "../../src/coding/gap-rules.ts";
import {
  assessCase,
  FINDING_DEFINITIONS,
  MODULES,
  pathwayFor,
  readCase,
  readSitePolicy,
} from "../../src/pathway/index.ts";
import { coded, codesOf, DAY, told } from "./encounters.ts";

const policy = readSitePolicy(undefined);
if (!policy.ok) throw new Error("no default policy");
const pathway = pathwayFor(MODULES[0]!, policy.policy);
type Found = { readonly [finding: string]: string | number };
/** A record as a clinician confirmed it, with what the rules derive from it. */
const seen = (digit: Found, injury: Found = {}, more: Partial<EncounterToCode> = {}): EncounterToCode => {
  const read = readCase({
    assessedAt: `${DAY}T12:00`,
    patient: { ageYears: 34 },
    injury: { presentation: "first", ...injury },
    digits: [{ digit: "ring", side: "left", ...digit }],
  });
  if (!read.ok) throw new Error(JSON.stringify(read.problems));
  return {
    id: "enc-1",
    date: DAY,
    kind: "initial",
    record: read.record,
    derived: deriveForCoding(pathway, read.record),
    ...more,
  };
};
const given = (encounter: EncounterToCode) => codesOf(coded(encounter));
const queries = (encounter: EncounterToCode) =>
  coded(encounter)
    .gaps.filter((g) => g.channel === "query")
    .map((g) => g.id);
const film = { filmTaken: "yes", trueLateral: "seen" } as const;
const tuft = {
  ...film,
  fractureSite: "tuft",
  displacement: "none-seen",
  openness: "closed",
  tissueLoss: "none",
} as const;

describe("confirmed findings become codes", () => {
  it("a closed tuft fracture with blood under the nail: one code, the bruise left out", () => {
    const result = coded(seen({ ...tuft, haematoma: "over-half", nailPlate: "intact-seated" }, { mechanism: "crush" }));
    expect(codesOf(result)).toEqual(["S62.665A"]);
    expect(result.leftOut.map((l) => l.code)).toEqual(["S60.142A"]);
  });
  it("each code names the findings it rests on", () => {
    const [fracture] = coded(seen(tuft)).codes;
    const of = (fact: string) => fracture!.used.find((u) => u.fact === fact);
    expect(of("fracture")).toMatchObject({
      value: "confirmed",
      from: "findings",
      findings: [{ finding: "fractureSite", value: "tuft" }],
    });
    expect(of("displacement")!.findings).toEqual([{ finding: "displacement", value: "none-seen" }]);
    expect(of("openness")!.findings).toContainEqual({ finding: "openness", value: "closed" });
    expect(fracture!.defaults).toEqual([]);
  });
  it("an open fracture through the nail bed takes B, and its wound is left out (Excludes1 at S61)", () => {
    const result = coded(seen({ ...tuft, openness: "open-nail-bed", nailBed: "stellate" }));
    expect(codesOf(result)).toEqual(["S62.665B"]);
    expect(result.leftOut.map((l) => l.code)).toEqual(["S61.315A"]);
  });
  it("a cut that does not reach a closed fracture keeps its own code", () => {
    expect(
      given(seen({ ...tuft, openness: "skin-cut", nailPlate: "intact-seated", nailBed: "intact", haematoma: "none" })),
    ).toEqual(["S62.665A", "S61.215A"]);
  });
  it("a tendinous mallet is a strain of the extensor tendon; a bony one is its fracture alone", () => {
    const mallet = {
      ...film,
      activeExtension: "lag",
      openness: "closed",
      tissueLoss: "none",
      displacement: "seen",
    } as const;
    expect(given(seen({ ...mallet, displacement: "none-seen", fractureSite: "no-fracture-seen" }))).toEqual([
      "S66.315A",
    ]);
    expect(given(seen({ ...mallet, fractureSite: "base-dorsal" }))).toEqual(["S62.635A"]);
  });
  it("a flexor avulsion without bone is a strain of the flexor tendon", () => {
    const digit = {
      ...film,
      fractureSite: "no-fracture-seen",
      activeFlexion: "absent",
      openness: "closed",
      tissueLoss: "none",
    };
    expect(given(seen(digit, { mechanism: "forced-extension" }))).toEqual(["S66.115A"]);
  });
  it("a cut artery is coded after its fracture (I.C.19.b.2)", () => {
    expect(given(seen({ ...tuft, openness: "open-skin", devitalised: "artery-cut" }))).toEqual([
      "S62.665B",
      "S65.515A",
    ]);
  });
  it("a dog bite is its wound and its cause", () => {
    const digit = { ...film, fractureSite: "no-fracture-seen", openness: "skin-cut", tissueLoss: "none" };
    expect(given(seen(digit, { mechanism: "dog-bite", biteBloodDrawn: "yes" }))).toEqual(["S61.255A", "W54.0XXA"]);
  });
  it("a dislocated end joint is coded, and not beside its fracture", () => {
    const digit = {
      ...film,
      fractureSite: "no-fracture-seen",
      jointDislocated: "reduced",
      openness: "closed",
      tissueLoss: "none",
    };
    expect(given(seen(digit))).toEqual(["S63.295A"]);
    expect(given(seen({ ...tuft, jointDislocated: "reduced" }))).toEqual(["S62.665A"]);
  });
  it("a tip amputated through the broken phalanx is coded complete, says so, and asks for the extent (note at S68)", () => {
    const result = coded(seen({ ...tuft, openness: "open-skin", tissueLoss: "amputation-not-replantable" }));
    expect(codesOf(result)).toEqual(["S68.615A"]);
    expect(result.codes[0]!.defaults).toEqual([
      "Partial or complete not stated: the classification then counts it as complete.",
    ]);
    expect(result.gaps.map((g) => g.id)).toContain("Q-AMP");
  });
  it("a fracture that no film has shown is not coded (IV.H); without a film the diagnosis is asked", () => {
    const encounter = seen({ filmTaken: "no", fractureSite: "tuft", openness: "closed" });
    expect(given(encounter)).toEqual([]);
    expect(queries(encounter)).toContain("Q-FX");
  });
  it("a bone lesion holds the fracture code back until its cause is stated", () => {
    const encounter = seen({ ...tuft, boneLesion: "yes" });
    expect(given(encounter)).toEqual([]);
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-CAUSE")!;
    expect(gap.indicators).toEqual([{ finding: "boneLesion", value: "yes" }]);
    expect(given(answerGap(encounter, gap, "benign-tumour"))).toEqual(["M84.542A", "D16.12"]);
    expect(given(answerGap(encounter, gap, "traumatic"))).toEqual(["S62.665A"]);
  });
  it("a return visit records no place and no work status (I.C.20.b, k)", () => {
    const circumstances = { causes: ["W23.2"], place: "Y92.63" };
    const again = seen(tuft, { presentation: "again", workRelated: "yes" }, { stated: { circumstances } });
    expect(given(again)).toEqual(["S62.665A", "W23.2XXA"]);
    const first = seen(tuft, { workRelated: "yes" }, { stated: { circumstances } });
    expect(given(first)).toEqual(["S62.665A", "W23.2XXA", "Y92.63", "Y99.0"]);
  });
  it("what a person stated wins over what findings say", () => {
    expect(given(seen(tuft, {}, { stated: { digits: [{ displacement: "displaced" }] } }))).toEqual(["S62.635A"]);
  });
  it("bulk coding derives the same classes and signs as the assessment of the screen", () => {
    for (const digit of [
      tuft,
      { ...tuft, openness: "open-nail-bed" },
      { ...film, fractureSite: "no-fracture-seen", activeExtension: "lag" },
    ]) {
      const encounter = seen(digit, { mechanism: "crush" });
      const record = encounter.record as Parameters<typeof assessCase>[1];
      const [assessed] = assessCase(pathway, record).digits;
      expect(encounter.derived![0]!.classes.map((c) => c.class).sort()).toEqual(
        assessed!.classes.map((c) => c.class).sort(),
      );
    }
  });
});

describe("the reading of findings", () => {
  it("reads only findings and values that exist, and gives only facts and values that exist", () => {
    for (const { when } of [...READINGS, ...SIGNALS])
      for (const [column, wanted] of Object.entries(when)) {
        if (column.startsWith("class:")) {
          expect(Object.keys(MODULES[0]!.classes)).toContain(column.slice("class:".length));
          continue;
        }
        const definition = FINDING_DEFINITIONS[column]!;
        const allowed: readonly string[] =
          definition.type === "choice" ? [...definition.values, "cannot-tell"] : ["cannot-tell"];
        for (const value of ([] as string[]).concat(wanted)) expect(allowed, column).toContain(value);
      }
    for (const { fact, value } of READINGS) expect(DIGIT_FACTS[fact].values).toContain(value);
  });
  it("states nothing of a digit of which nothing was answered", () => {
    expect(readDigit({ answers: {}, classes: [], signs: {} }, {})).toEqual({ facts: {}, origins: {}, signals: {} });
  });
  it("every value of every choice finding can be read without a fact that does not exist", () => {
    for (const [finding, definition] of Object.entries(FINDING_DEFINITIONS)) {
      if (definition.type !== "choice") continue;
      for (const value of [...definition.values, "cannot-tell", "not-asked"]) {
        const { facts } = readDigit({ answers: { [finding]: value }, classes: [], signs: {} }, {});
        for (const [fact, got] of Object.entries(facts))
          expect(DIGIT_FACTS[fact as keyof typeof DIGIT_FACTS].values, `${finding} ${value}`).toContain(got);
      }
    }
  });
});

describe("queries to the clinician", () => {
  it.each([
    ["reduced feeling without a diagnosis", { ...tuft, sensation: "absent" }, {}, "Q-NERVE"],
    ["a weak flexor without a diagnosis", { ...tuft, activeFlexion: "weak" }, {}, "Q-FLEXOR"],
    ["signs of infection without a diagnosis", { ...tuft, infectionSigns: "local" }, {}, "Q-INFECTION"],
    ["a crush as mechanism alone", tuft, { mechanism: "crush" }, "Q-CRUSH"],
    ["no adequate trauma", tuft, { mechanism: "no-adequate-trauma" }, "Q-CAUSE"],
    ["exposed bone", { ...tuft, tissueLoss: "bone-exposed", openness: "open-skin" }, {}, "Q-AMP"],
    ["something in the wound", { ...tuft, foreignBody: "yes" }, {}, "Q-FB"],
    ["a wound, and nobody sure whether it reaches the bone", { ...tuft, openness: "uncertain" }, {}, "Q-OPEN"],
  ])("%s is asked about", (_, digit, injury, id) => {
    expect(queries(seen(digit, injury))).toContain(id);
  });
  it("a record that says everything leaves nothing to ask", () => {
    expect(queries(seen({ ...tuft, sensation: "normal", activeExtension: "full" }))).toEqual([]);
  });
  it("nobody is asked about a wound where none is recorded: closed is the default of the classification", () => {
    const { openness: _, ...unstated } = tuft;
    expect(queries(seen(unstated))).toEqual([]);
  });
  it("an answer closes its gap and changes the code", () => {
    const encounter = told("initial", [{ digit: "index", side: "right", fracture: "confirmed", openness: "closed" }]);
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-DISP")!;
    const answered = answerGap(encounter, gap, "not-displaced");
    expect(given(answered)).toEqual(["S62.660A"]);
    expect(queries(answered)).toEqual([]);
  });
  it("a clinician who cannot determine it is not asked again, and the default stays", () => {
    const encounter = told("initial", [{ digit: "index", side: "right", fracture: "confirmed", openness: "closed" }]);
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-DISP")!;
    const answered = answerGap(encounter, gap, "undetermined");
    expect(given(answered)).toEqual(["S62.630A"]);
    expect(queries(answered)).toEqual([]);
  });
  it("a late encounter without its present condition is asked for it; the answer comes before the injury (I.B.10)", () => {
    const encounter = told("sequela", [
      { digit: "ring", side: "left", fracture: "confirmed", displacement: "displaced" },
    ]);
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-LATE")!;
    expect(given(answerGap(encounter, gap, "nailDystrophy"))).toEqual(["L60.3", "S62.635S"]);
  });
  it("the purpose of the encounter, once answered, gives the seventh character", () => {
    const encounter = told("not-stated", [
      { digit: "ring", side: "left", fracture: "confirmed", displacement: "displaced" },
    ]);
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-PHASE")!;
    expect(given(answerGap(encounter, gap, "active"))).toEqual(["S62.635A"]);
  });
  it("an answer that the fact cannot have is refused", () => {
    const encounter = told("initial", [{ fracture: "confirmed" }]);
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-SIDE")!;
    expect(() => answerGap(encounter, gap, "both")).toThrow(RangeError);
  });
  it("facts of the accident are asked on the form of the clinic, never as a query", () => {
    const { gaps } = coded(told("initial", [{ fracture: "confirmed" }]));
    expect(gaps.filter((g) => g.channel === "intake").map((g) => g.id)).toEqual([
      "Q-MECH",
      "Q-PLACE",
      "Q-ACT",
      "Q-WORK",
    ]);
  });
  it("a vehicle's door is asked about and not coded before", () => {
    const encounter = told("initial", [{ digit: "ring", side: "left", fracture: "confirmed" }], {
      vehicleDoor: "use-not-stated",
    });
    const gap = coded(encounter).gaps.find((g) => g.id === "Q-VEH")!;
    expect(given(encounter).filter((c) => /^[VW]/.test(c))).toEqual([]);
    expect(given(answerGap(encounter, gap, "W23.2"))).toContain("W23.2XXA");
  });
  // AHIMA/ACDIS, Guidelines for Achieving a Compliant Query Practice (2022 update), principles from memory.
  it("are neutral: no title names an answer, no text speaks of money or quality, and each offers a way out", () => {
    for (const { id, title, text, options } of GAP_RULES) {
      for (const { words } of options) expect(title.toLowerCase(), id).not.toContain(words.toLowerCase());
      expect(`${title} ${text}`, id).not.toMatch(/pay|bill|reimburs|revenue|score|quality|severity/i);
      expect(options.length, id).toBeGreaterThan(1);
    }
    for (const gap of coded(seen({ fractureSite: "cannot-tell" }, {}, { kind: "not-stated" })).gaps)
      if (gap.channel === "query")
        expect(gap.options.at(-1)).toEqual({ value: "undetermined", words: "unable to determine" });
  });
});

import { describe, expect, it } from "vitest";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, told, without } from "./records.ts";

const words = (facts: Facts) => {
  const a = told(facts).assessment;
  return [...a.today, ...a.management, ...a.splints, ...a.advice, ...a.tasks].map((l) => l.text).join(" ");
};
const checks = (facts: Facts) =>
  told(facts)
    .assessment.visits.map((v) => `${v.who}: ${v.check}`)
    .join(" ");
const rulesToday = (facts: Facts) => told(facts).assessment.today.map((l) => l.rule);
const positions = (facts: Facts) => told(facts).assessment.splints.map((l) => l.splint.position);

describe("a wound over the end joint", () => {
  it.each<[string, Facts]>([
    ["tuft, tip straightens fully", { fractureSite: "tuft", openness: "open-skin", woundOverJoint: "cut" }],
    ["no fracture, skin and tendon lost", { openness: "open-skin", woundOverJoint: "skin-and-tendon-lost" }],
    ["no fracture, straightening not testable", { woundOverJoint: "cut", activeExtension: "cannot-test" }],
    ["no fracture, called closed", { woundOverJoint: "cut" }],
  ])("%s: a surgeon sees it today and nobody is told to close it here", (_, found) => {
    const a = told({ ...ADULT, mechanism: "laceration", ...found });
    expect(a.urgency).toBe("D0");
    expect(a.calls).toContain("must-refer");
    expect(a.calls).not.toContain("non-operative");
    expect(a.visits).toContain("surgeon-review 0-1");
  });
  it.each(["laceration", "saw"])("a %s that leaves the tip drooping is an open mallet until explored", (mechanism) => {
    const a = told({ ...ADULT, mechanism, openness: "skin-cut", activeExtension: "lag" });
    expect(a).toMatchObject({ urgency: "D0", calls: ["operative"], published: [] });
    expect(a.assessment.splints.map((l) => l.splint.days)).toEqual([{ from: 0, to: 7 }]);
    // what comes after the operation is counted from it; no splint treatment is booked in its place
    const booked = a.assessment.visits.filter((v) => v.countFrom !== "operation").map((v) => v.purpose);
    expect(booked.join()).not.toMatch(/therapy|splint-review/);
  });
});

describe("a joint out of place is not sent away", () => {
  it("tuft with a slipped joint: hand clinic within a week, discussed", () => {
    const a = told({ ...ADULT, fractureSite: "tuft", jointPosition: "volar-subluxed" });
    expect(a.urgency).toBe("W1");
    expect(a.calls).toContain("discuss");
  });
  it.each<[string, Facts]>([
    ["slipped joint", { jointPosition: "volar-subluxed" }],
    ["blocked when pushed straight", { passiveExtension: "blocked" }],
  ])("no fracture, %s: within a week, and the answers are questioned", (_, found) => {
    const a = told({ ...ADULT, ...found });
    expect(a).toMatchObject({ urgency: "W1", blocked: true });
  });
  it("a slipped joint is never called an uninjured one, and the joint is asked for before that is said", () => {
    expect(told({ ...ADULT, jointPosition: "dorsal-subluxed" }).classes).toEqual([]);
    const open = told(without(ADULT, "jointPosition"));
    expect(open.classes).toEqual([]);
    expect(open.assessment.ask).toContain("jointPosition");
  });
  it("displacement without a fracture stops the plan until one is corrected", () =>
    expect(told({ ...ADULT, displacement: "seen" }).blocked).toBe(true));
  it("a displaced tuft piece that is to be discussed has a clinic to discuss it with", () =>
    expect(told({ ...ADULT, fractureSite: "tuft", displacement: "seen", translationMm: 3 }).urgency).toBe("R2"));
});

describe("a deep flexor in doubt leads", () => {
  it.each<[string, Facts]>([
    ["drooping tip", { activeExtension: "lag" }],
    ["dorsal fragment", { fractureSite: "base-dorsal" }],
    ["tuft in one line", { fractureSite: "tuft" }],
    ["tuft in pieces", { fractureSite: "tuft", fracturePattern: "comminuted" }],
    ["shaft in place", { fractureSite: "shaft" }],
    ["joint surface pushed in", { fractureSite: "base-central" }],
    ["no fracture", {}],
  ])("%s, grip pulled open, flexor weak: one dorsal block splint, nothing straight and no early motion", (_, found) => {
    const facts = { ...ADULT, mechanism: "forced-extension", activeFlexion: "weak", ...found };
    expect(positions(facts)).toEqual(["Slightly bent, must not straighten"]);
    expect(told(facts).calls).not.toContain("non-operative");
    expect(words(facts)).not.toMatch(/Keep the tip straight|Bend and straighten|Extension splint/);
  });
  it("mallet with a lost flexor: no word of keeping it straight", () => {
    const facts = { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40, activeFlexion: "absent" };
    expect(positions(facts)).toEqual(["Slightly bent, must not straighten"]);
    expect(words(facts)).not.toMatch(/Keep the tip straight|lateral on days/);
    expect(checks(facts)).not.toContain("in the splint");
  });
  it("child with a drooping closed growth plate fracture and a lost flexor: no extension splint", () =>
    expect(
      words({ ...CHILD, fractureSite: "physis", salterHarris: "I", activeExtension: "lag", activeFlexion: "absent" }),
    ).not.toMatch(/extension splint/i));
  it("no fracture or no film: the operation is named without asking for the rest of the phalanx", () => {
    const torn = { ...without(ADULT, "restOfPhalanx"), mechanism: "forced-extension", activeFlexion: "absent" };
    expect(told(torn).calls).toEqual(["operative"]);
    expect(told({ ...torn, filmTaken: "no" }).calls).toContain("operative");
    expect(told(torn).visits).toContain("surgeon-review 2-10");
  });
  it("a cut flexor tendon is not offered weeks in a splint", () =>
    expect(words({ ...ADULT, mechanism: "laceration", openness: "skin-cut", activeFlexion: "absent" })).not.toContain(
      "who is not operated",
    ));
  it("a tendon that is not cleared is rested until it is tested again", () =>
    expect(positions({ ...ADULT, activeFlexion: "weak" })).toEqual(["As it lies, not forced"]));
});

describe("nail work on the spot", () => {
  const TORN = { ...ADULT, fractureSite: "tuft", openness: "open-nail-bed", nailPlate: "missing", nailBed: "simple" };
  const HERE = ["SH-9", "NB-1", "NB-3", "NB-4"];
  it.each<[string, Facts]>([
    ["tip without blood", { tipColour: "white", perfusionAfterFirstSteps: "still-poor" }],
    ["high-pressure injection", { mechanism: "high-pressure-injection" }],
    ["flexor sheath infected", { sheathSigns: "yes" }],
    ["mangled hand", { mangled: "yes" }],
    ["finger block forbidden", { localAnaestheticAllergy: "yes" }],
  ])("%s: not told to lift and repair here", (_, found) =>
    expect(rulesToday({ ...TORN, ...found }).filter((r) => HERE.includes(r))).toEqual([]),
  );
  it("without a block somebody else is named to do it", () => {
    expect(rulesToday({ ...TORN, localAnaestheticAllergy: "yes" })).toContain("SH-10");
    const seated = { ...TORN, nailPlate: "intact-seated", localAnaestheticAllergy: "yes" };
    expect(rulesToday(seated)).toContain("NB-7");
  });
  it("blood over a torn bed is neither left nor only drained", () => {
    const seated = { ...TORN, nailPlate: "intact-seated", haematoma: "over-half" };
    for (const haematomaPainful of ["yes", "no"])
      expect(rulesToday({ ...seated, haematomaPainful }).filter((r) => /^SH-[128]$/.test(r))).toEqual([]);
    expect(rulesToday(seated)).toContain("NB-1");
  });
  it("a torn-out nail called closed: no plain cap, the wound is checked and stitches come out", () => {
    const facts = { ...ADULT, fractureSite: "tuft", nailPlate: "avulsed-at-fold" };
    expect(told(facts).calls).toEqual(["options"]);
    expect(told(facts).visits).toEqual(expect.arrayContaining(["wound-check 2-5", "stitches-out 10-14"]));
  });
});

describe("visits fit the plan", () => {
  it.each<[string, Facts]>([
    ["open shaft", { fractureSite: "shaft", openness: "open-skin" }],
    ["star-shaped nail bed tear", { fractureSite: "tuft", openness: "open-nail-bed", nailBed: "stellate" }],
  ])("%s: a surgeon is visited today", (_, found) =>
    expect(told({ ...ADULT, ...found }).visits).toContain("surgeon-review 0-1"),
  );
  it("an open tuft a day late goes to the surgeon on the day it is seen", () =>
    expect(told({ ...ADULT, fractureSite: "tuft", openness: "open-skin", hoursSinceInjury: 30 }).visits).toContain(
      "surgeon-review 1-2",
    ));
  it("a local infection is looked at on day 2 to 3 and filmed on day 10 to 14 and at 6 weeks", () =>
    expect(told({ ...ADULT, fractureSite: "shaft", infectionSigns: "local" }).visits.join()).toMatch(
      /wound-check 2-3.*film 40-44/,
    ));
  it("a wound without a fracture is not sent to the hand clinic that it does not need", () => {
    const facts = { ...ADULT, openness: "open-skin" };
    expect(told(facts).urgency).toBe("none");
    expect(checks(facts)).not.toContain("hand clinic");
  });
  it("a tip that cannot be straightened has no day on which an extension splint comes off", () => {
    const facts = { ...ADULT, activeExtension: "lag", passiveExtension: "blocked" };
    expect(checks(facts)).not.toMatch(/Splint off|never dropped/);
    expect(checks(facts)).toContain("does not straighten");
    expect(words(facts)).not.toContain("Keep the tip straight");
  });
  it("a growth plate operated late is filmed from the operation on", () => {
    const seymour = { ...CHILD, nailPlate: "over-fold", fractureSite: "physis", salterHarris: "I" };
    expect(told({ ...seymour, hoursSinceInjury: 10 * 24 }).visits).toContain("physis-film 94-108");
  });
});

describe("an open tuft that is not repaired here", () => {
  const open = {
    ...ADULT,
    fractureSite: "tuft",
    openness: "open-skin",
    nailBed: "simple",
    nailPlate: "avulsed-at-fold",
  };
  it.each<[string, Facts]>([
    ["an allergy to the local anaesthetic", { localAnaestheticAllergy: "yes" }],
    ["glass left in it", { foreignBody: "yes" }],
    ["a local infection", { infectionSigns: "local" }],
  ])("%s: the plan leaves it to the hand team, and no line says to repair it here", (_, found) => {
    expect(words(open)).toMatch(/repair nail bed and skin loosely/);
    const a = told({ ...open, ...found });
    expect(words({ ...open, ...found })).not.toMatch(/repair it here|Lift or remove the nail here|skin loosely/);
    expect(a.assessment.management.map((l) => l.rule)).not.toContain("TUF-2");
    expect(a.calls).toEqual(["must-refer"]);
  });
});

describe("a referral today has an appointment today", () => {
  const torn = {
    ...CHILD,
    fractureSite: "tuft",
    nailPlate: "avulsed-at-fold",
    nailBed: "stellate",
    openness: "open-nail-bed",
  };
  it("toddler, fold torn, plate not judged, straightening not testable: the surgeon is booked before Seymour is proven", () => {
    const a = told({ ...without(torn, "restingPosition"), physis: "cannot-judge", activeExtension: "cannot-test" });
    expect(a.assessment.possibleClasses.map((c) => c.class)).toContain("SEYMOUR");
    expect(a.visits).toContain("surgeon-review 0-1");
  });
  it("open dislocation not yet reduced: the wash-out by the surgeon is booked", () => {
    const out = { ...ADULT, fractureSite: "tuft", openness: "open-skin", jointDislocated: "yes-not-yet-reduced" };
    expect(told(out).visits).toContain("surgeon-review 0-1");
    expect(told({ ...out, openness: "closed" }).visits).not.toContain("surgeon-review 0-1");
  });
  it("numb half of the tip, back after 4 days for a reason nobody could tell: the next-day visit stays", () => {
    const numb = { ...ADULT, fractureSite: "tuft", sensation: "reduced-radial", hoursSinceInjury: 96 };
    const unknown = told({ ...numb, presentation: "cannot-tell" }).assessment.visits;
    expect(unknown.filter((v) => v.who === "hand clinic, urgent")).toHaveLength(1);
  });
  it("unstable shaft through a bone lesion: next working day, not only the clinic in two weeks", () => {
    const apart = { ...ADULT, fractureSite: "shaft", boneLesion: "yes", displacement: "seen", corticalContact: "none" };
    expect(told(apart).visits).toContain("surgeon-review 0-3");
    expect(told({ ...apart, displacement: "none-seen" }).visits).not.toContain("surgeon-review 0-3");
  });
});

describe("what comes after the decision of a surgeon is said under that condition", () => {
  const slipped = { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 25, jointPosition: "volar-subluxed" };
  it("slipped mallet: no weeks of splint care are booked as if nobody would operate", () => {
    const kinds = (facts: Facts) =>
      told(facts)
        .assessment.visits.filter((v) => ["splint-review", "therapy", "film-true-lateral"].includes(v.purpose))
        .map((v) => v.onlyIf ?? "always");
    expect(new Set(kinds(slipped))).toEqual(new Set(["if not operated", "if a wire was placed"]));
    expect(new Set(kinds({ ...slipped, jointPosition: "congruent" }))).toEqual(new Set(["always"]));
  });
  it("cut flexor explored today: the later slot, with its last day, is only for a tendon not repaired then", () => {
    const cut = {
      ...ADULT,
      mechanism: "laceration",
      openness: "skin-cut",
      activeFlexion: "absent",
      fractureSite: "no-fracture-seen",
    };
    const surgeon = told(cut).assessment.visits.filter((v) => v.purpose === "surgeon-review");
    expect(surgeon.map((v) => v.onlyIf ?? "always")).toEqual(["always", "if not repaired when it is explored"]);
    expect(surgeon[1]).toMatchObject({ dueDay: 10, latest: 10 });
  });
  it("flexor missed for four months: no visits after a tendon repair that is no longer offered", () => {
    const torn = { ...ADULT, activeFlexion: "absent", presentation: "first" };
    const stitches = (hours: number) =>
      told({ ...torn, hoursSinceInjury: hours }).assessment.visits.filter((v) => v.purpose === "stitches-out").length;
    expect([stitches(48), stitches(120 * 24)]).toEqual([1, 0]);
  });
  it("displaced tuft under a torn bed that the surgeon repairs today: no clinic in two weeks for the same question", () => {
    const tented = { ...ADULT, fractureSite: "tuft", displacement: "seen", translationMm: 3 };
    expect(checks(tented)).toMatch(/tent the nail bed/);
    expect(checks({ ...tented, nailBed: "stellate", openness: "open-nail-bed" })).not.toMatch(/tent the nail bed/);
  });
});

describe("a reduced end joint is splinted by the way it went", () => {
  const reduced = { ...ADULT, jointDislocated: "reduced", fractureSite: "no-fracture-seen" };
  it.each<[string, RegExp]>([
    ["dorsal", /^Bent 15 to 30 degrees$/],
    ["volar", /^Tip straight$/],
  ])("%s: one splint, one position", (dislocationDirection, position) => {
    const said = positions({ ...reduced, dislocationDirection });
    expect(said).toHaveLength(1);
    expect(said[0]).toMatch(position);
  });
});

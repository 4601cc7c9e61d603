import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { ADULT, pathwayWith, told, without } from "./records.ts";

const BONY = {
  ...ADULT,
  mechanism: "axial-load",
  activeExtension: "lag",
  fractureSite: "base-dorsal",
  articularSharePercent: 25,
};
/** True laterals of a finger that is not wired. */
const lateral = ({ assessment }: ReturnType<typeof told>) =>
  assessment.visits
    .filter((v) => v.purpose === "film-true-lateral" && !v.onlyIf)
    .map((v) => `${v.purpose} ${v.earliest}-${v.latest}`);

describe("bony mallet", () => {
  it("a quarter of the joint, congruent: splint, therapist within a week, one lateral in the splint", () => {
    const a = told(BONY);
    expect(a.calls).toEqual(["non-operative"]);
    expect(a.urgency).toBe("W1");
    expect(lateral(a)).toEqual(["film-true-lateral 7-10", "film-true-lateral 42-56"]);
    expect(a.assessment.splints[0]!.splint).toMatchObject({ joints: ["DIP"], days: { from: 42, to: 56 } });
    expect(a.assessment.splints[0]!.splint.free).toContain("PIP");
  });
  it("fresh and in place, it asks nothing of splint time, droop, rest, tilt or the film in the splint", () => {
    const plain = without(BONY, "fullSplintTimeDone", "lagDegrees", "restingPosition", "tiltOfTip", "jointInSplint");
    expect(told(plain).assessment).toMatchObject({ ask: [], state: "settled" });
  });
  it("a third to two thirds, congruent: discussed, and filmed on day 7, 14 and 21", () => {
    for (const share of [34, 50, 66]) {
      const a = told({ ...BONY, articularSharePercent: share });
      expect(a.calls).toContain("discuss");
      expect(lateral(a).slice(0, 3)).toEqual([
        "film-true-lateral 6-8",
        "film-true-lateral 13-15",
        "film-true-lateral 20-22",
      ]);
    }
  });
  it("a slipped joint decides, the share does not: referred within a week even at 10 %", () => {
    for (const jointPosition of ["volar-subluxed", "dorsal-subluxed"]) {
      const a = told({ ...BONY, articularSharePercent: 10, jointPosition });
      expect(a.calls).toEqual(["must-refer"]);
      expect(a.urgency).toBe("W1");
      expect(a.visits).toContain("surgeon-review 0-7");
    }
  });
  it("the reason for a slipped joint names the joint, the film and who disagrees, not the share", () => {
    const line = told({ ...BONY, jointPosition: "volar-subluxed" }).assessment.management.find(
      (l) => l.rule === "MAL-2",
    )!;
    expect(line.sources.filter((s) => s.says === "against").map((s) => s.source)).toEqual(
      expect.arrayContaining(["KALAINOV05", "LAMARIS17"]),
    );
  });
  it("more than two thirds is referred, exactly two thirds is discussed", () => {
    expect(told({ ...BONY, articularSharePercent: 67 }).calls).toContain("must-refer");
    expect(told({ ...BONY, articularSharePercent: 66.7 }).calls).toContain("discuss");
  });
  it("a gap over 2 mm is discussed, 2 mm is not", () => {
    expect(told({ ...BONY, displacement: "seen", fragmentGapMm: 2.1 }).calls).toContain("discuss");
    expect(told({ ...BONY, displacement: "seen", fragmentGapMm: 2 }).calls).not.toContain("discuss");
  });
  it("who cannot wear the splint, or needs clean hands, is discussed", () => {
    expect(told({ ...BONY, cannotKeepSplint: "yes" }).calls).toContain("discuss");
    expect(told({ ...BONY, handDependentWork: "yes" }).calls).toContain("discuss");
  });
  it("a wound over the joint makes it open: surgeon today, Doyle II, with skin loss Doyle III", () => {
    const open = { ...BONY, openness: "open-skin", woundOverJoint: "cut" };
    expect(told(open)).toMatchObject({ urgency: "D0", published: ["DOYLE-II", "WEHBE-IA"] });
    expect(told(open).calls).toContain("operative");
    expect(told({ ...open, woundOverJoint: "skin-and-tendon-lost" }).published).toContain("DOYLE-III");
  });
  it("extension-block pinning is offered before 5 weeks and not after", () => {
    const large = { ...BONY, articularSharePercent: 40 };
    const rules = (hours: number) =>
      told({ ...large, hoursSinceInjury: hours }).assessment.management.map((l) => l.rule);
    expect(rules(34 * 24)).toContain("MAL-10");
    expect(rules(35 * 24)).not.toContain("MAL-10");
    expect(rules(35 * 24)).toContain("MAL-11");
  });
  it("after 5 weeks nobody offers closed pinning of a middle share beside the word that it reduces poorly", () => {
    const middle = { ...BONY, articularSharePercent: 40 };
    const said = (hours: number) =>
      told({ ...middle, hoursSinceInjury: hours })
        .assessment.management.map((l) => l.text)
        .join(" ");
    expect(said(34 * 24)).toMatch(/Splint or pinning/);
    expect(said(42 * 24)).not.toMatch(/or pinning|pinning still/);
    expect(said(42 * 24)).toMatch(/Splint or open fixation.*closed pinning reduces poorly/);
  });
  it("the film in the splint decides on a slipped joint: back in place may go on, still out is operated", () => {
    const slipped = { ...BONY, jointPosition: "volar-subluxed" };
    expect(told({ ...slipped, jointInSplint: "goes-back" }).published).toContain("TUBIANA-III");
    expect(told({ ...slipped, jointInSplint: "stays-out" }).published).toContain("TUBIANA-IV");
    const lines = (jointInSplint: string) =>
      told({ ...slipped, jointInSplint }).assessment.management.map((l) => l.rule);
    expect(lines("goes-back")).toContain("MAL-18");
    expect(lines("stays-out")).toContain("MAL-19");
    expect(told(without(BONY, "jointInSplint")).assessment.ask).toEqual([]);
    expect(told(without(slipped, "jointInSplint")).assessment.ask).toEqual(["jointInSplint"]);
  });
  it("a slipped joint wears the splint on trial until the surgeon decides, never a settled 6 to 8 weeks", () => {
    for (const passiveExtension of ["full", "blocked"]) {
      const a = told({ ...BONY, articularSharePercent: 25, jointPosition: "volar-subluxed", passiveExtension });
      expect(a.assessment.splints.map((l) => l.splint.days)).toEqual([{ from: 0, to: 7 }]);
    }
    expect(told(without(BONY, "jointPosition")).assessment.splints[0]!.text).toMatch(/^Joint position not judged/);
  });
  it.each<[number, string, number]>([
    [10, "MAL-21", 0],
    [11, "MAL-22", 1],
    [20, "MAL-22", 1],
    [21, "MAL-23", 0],
  ])(
    "%d degrees of droop after the full splint time: %s, the first course is not simply repeated",
    (lag, rule, splints) => {
      for (const found of [
        { fractureSite: "base-dorsal", articularSharePercent: 10 },
        { fractureSite: "no-fracture-seen" },
      ]) {
        const late = {
          ...BONY,
          ...found,
          hoursSinceInjury: 60 * 24,
          presentation: "again",
          fullSplintTimeDone: "yes",
          lagDegrees: lag,
        };
        const a = told(late).assessment;
        expect(a.management.map((l) => l.rule)).toContain(rule);
        expect(a.management.map((l) => l.effect.call)).not.toContain("non-operative");
        expect(a.splints.map((l) => l.splint.days)).toEqual(splints ? [{ from: 14, to: 28 }] : []);
      }
    },
  );
  it("seen at 6 weeks: asked whether the splint time is over; never splinted before, the splint starts now", () => {
    const late = without(
      { ...BONY, hoursSinceInjury: 43 * 24, presentation: "again" },
      "fullSplintTimeDone",
      "lagDegrees",
    );
    expect(told(late).assessment.ask).toEqual(["fullSplintTimeDone", "lagDegrees"]);
    expect(told({ ...late, fullSplintTimeDone: "no" }).assessment.ask).toEqual([]);
    expect(told({ ...late, fullSplintTimeDone: "no" }).assessment.splints.length).toBe(1);
    expect(told({ ...late, presentation: "first" }).assessment.splints.length).toBe(1);
    expect(told({ ...late, hoursSinceInjury: 2 }).assessment.ask).toEqual([]);
  });
  it.each(["not-asked", "cannot-tell"])(
    "share %s: no name and no verdict on surgery, filmed on day 7, 14 and 21 as if it were the middle third, and a line says so",
    (articularSharePercent) => {
      const a = told({ ...BONY, articularSharePercent });
      expect(a.published).toEqual([]);
      expect(a.calls).toEqual(["discuss"]);
      expect(a.urgency).toBe("W1");
      expect(a.assessment.state).toBe("provisional");
      expect([...a.assessment.ask, ...a.assessment.cannotTell]).toEqual(["articularSharePercent"]);
      expect(lateral(a).slice(0, 3)).toEqual([
        "film-true-lateral 6-8",
        "film-true-lateral 13-15",
        "film-true-lateral 20-22",
      ]);
      expect(a.assessment.management[0]!.text).toMatch(/^Share of the joint not measured.*days 7, 14 and 21/);
      expect(a.assessment.visits.find((v) => v.ideal === 14)!.check).toMatch(/^Share of the joint not measured/);
      expect(a.assessment.stillPossible.map((l) => l.rule)).not.toContain("FUP-8");
    },
  );
  it("once the share is measured, the cautious films of an unmeasured one are gone", () => {
    expect(lateral(told({ ...BONY, articularSharePercent: 25 })).length).toBe(2);
    expect(
      told({ ...BONY, articularSharePercent: 40 })
        .assessment.visits.map((v) => v.check)
        .join(),
    ).not.toContain("not measured");
  });
  it("the repeat laterals follow the share from which this site discusses", () => {
    const site = pathwayWith({ "distalPhalanx.mallet.discussSharePercent": 25 });
    expect(lateral(told({ ...BONY, articularSharePercent: 30 }, site)).length).toBe(4);
    expect(lateral(told({ ...BONY, articularSharePercent: 30 })).length).toBe(2);
  });
  it("40 days old: the splint and its films count from the day it is put on, none lies in the past", () => {
    const a = told({ ...BONY, articularSharePercent: 40, hoursSinceInjury: 40 * 24 });
    expect(lateral(a)).toEqual([
      "film-true-lateral 46-48",
      "film-true-lateral 53-55",
      "film-true-lateral 60-62",
      "film-true-lateral 82-96",
    ]);
    expect(a.visits).toContain("splint-review 45-47");
    expect(a.assessment.visits.filter((v) => v.countFrom !== "operation").every((v) => v.earliest >= 40)).toBe(true);
    expect(a.assessment.splints[0]!.text).toContain("from the day it is put on");
  });
  it("a tip that does not straighten is rested without force; nobody says extension splint, no operation", () => {
    const a = told({ ...BONY, passiveExtension: "blocked" });
    expect(a.calls).toEqual(["discuss"]);
    expect(a.assessment.splints.map((l) => l.splint.position)).toEqual(["As far as it straightens without force"]);
  });
  it("passive straightening not tested: the extension splint stands, with the warning in front", () => {
    const a = told(without(BONY, "passiveExtension"));
    expect(a.assessment.splints[0]!.text).toMatch(/^Passive straightening not tested.*Extension splint/);
    expect(a.assessment.ask).toContain("passiveExtension");
  });
  it("a site that refers from half the joint is obeyed, the published names and the repeat laterals stay", () => {
    const site = pathwayWith({ "distalPhalanx.mallet.referSharePercent": 50 });
    const a = told({ ...BONY, articularSharePercent: 55 }, site);
    expect(a.calls).toContain("must-refer");
    expect(a.published).toEqual(["DOYLE-IVC-IF-IT-SLIPS", "WEHBE-IB"]);
    expect(lateral(a).length).toBe(4);
  });
});

describe("wound over the end joint", () => {
  it("no bone is broken and the fracture is called closed, yet the tip droops under a cut: open mallet, today", () => {
    const cut = { ...ADULT, activeExtension: "lag", openness: "closed", woundOverJoint: "cut" };
    const a = told(cut);
    expect(a).toMatchObject({ urgency: "D0", published: ["DOYLE-II"], calls: ["operative"] });
    expect(a.antibiotic).not.toContain("no");
    expect(a.assessment.tetanus.map((l) => l.text).join()).not.toMatch(/no wound/i);
    expect(told({ ...cut, woundOverJoint: "skin-and-tendon-lost" }).published).toEqual(["DOYLE-III"]);
  });
  it("is asked about whenever the tip droops, also when the injury is called closed", () => {
    const drooping = without({ ...ADULT, activeExtension: "lag", openness: "closed" }, "woundOverJoint");
    expect(told(drooping).assessment.ask).toContain("woundOverJoint");
    expect(told(drooping).calls).toEqual([]);
  });
});

describe("tendinous mallet", () => {
  const TENDON = { ...ADULT, mechanism: "forced-flexion", activeExtension: "lag" };
  it("splint 8 weeks, no operation", () => {
    const a = told(TENDON);
    expect(a).toMatchObject({
      classes: ["TENDINOUS-MALLET"],
      published: ["DOYLE-I"],
      calls: ["non-operative"],
      urgency: "W1",
    });
    expect(a.assessment.splints[0]!.splint.days).toEqual({ from: 56, to: 56 });
  });
  it("shows that the night phase is disputed and that sources differ on the weeks", () => {
    const against = told(TENDON)
      .assessment.splints[0]!.sources.filter((s) => s.says === "against")
      .map((s) => s.source);
    expect(against).toEqual(expect.arrayContaining(["GRUBER14", "FV-MAL"]));
  });
  it("a tip that does not straighten passively warns before it is forced into a splint", () => {
    expect(told({ ...TENDON, passiveExtension: "blocked" }).assessment.warnings.map((w) => w.rule)).toContain("MAL-13");
  });
});

describe("names of the mallet", () => {
  it("slipped dorsal lies outside both schemes, and is said to", () => {
    for (const articularSharePercent of [10, 40, 80])
      expect(told({ ...BONY, articularSharePercent, jointPosition: "dorsal-subluxed" }).published).toEqual([
        "DORSAL-SUBLUXATION",
      ]);
  });
  it("every share has one Doyle and one Wehbé name in a closed bony mallet", () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.constantFrom("congruent", "volar-subluxed"),
        (share, jointPosition) => {
          const { published } = told({ ...BONY, articularSharePercent: share, jointPosition });
          expect(published.filter((n) => n.startsWith("DOYLE")).length).toBe(1);
          expect(published.filter((n) => n.startsWith("WEHBE")).length).toBe(1);
        },
      ),
    );
  });
});

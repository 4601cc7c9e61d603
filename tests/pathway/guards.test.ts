import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { assessDigit, type DigitAssessment, URGENCIES, type Urgency } from "../../src/pathway/index.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import {
  ADULT,
  completeRecord,
  distalPhalanx,
  partialRecord,
  pathway,
  pathwayWith,
  valuesOf,
} from "./distal-phalanx/records.ts";

const RUNS = { numRuns: 500 };
/** Complete and partial records in which the given answers stand. */
const anyRecord = fc.oneof(
  completeRecord,
  partialRecord.map((r) => r.partial),
);
const given = (...fixed: readonly Facts[]): fc.Arbitrary<Facts> =>
  fc.tuple(anyRecord, fc.constantFrom(...fixed)).map(([facts, f]) => ({ ...facts, ...f }));
const never = (records: fc.Arbitrary<Facts>, check: (a: DigitAssessment, facts: Facts) => void) =>
  fc.assert(
    fc.property(records, (facts) => {
      check(assessDigit(pathway, facts), facts);
    }),
    RUNS,
  );
const rank = (u: Urgency) => URGENCIES.indexOf(u);
const atLeast = (a: DigitAssessment, urgency: Urgency) => {
  // No urgency at all is safe: the screen then says that it cannot decide.
  if (a.urgency.level !== undefined) expect(rank(a.urgency.level)).toBeLessThanOrEqual(rank(urgency));
};
/** Decisions that are sure or still possible. */
const decisions = (a: DigitAssessment) =>
  [...a.antibiotic, ...a.stillPossible].flatMap((l) => (l.effect.kind === "antibiotic" ? [l.effect.decision] : []));

describe("what must never happen, whatever else is known or not known", () => {
  it("G1: a child with an open growth plate and the nail over its fold is not called a tuft fracture or a mallet", () =>
    never(
      given(
        { ageYears: 10, physis: "open", nailPlate: "over-fold" },
        { ageYears: 14, physis: "closing", nailPlate: "over-fold" },
      ),
      (a) => {
        const names = [...a.classes, ...a.possibleClasses].map((c) => c.class);
        expect(names.filter((c) => /^TUFT|^MALLET$|^TENDINOUS/.test(c))).toEqual([]);
        atLeast(a, "D0");
      },
    ));
  it("G2: a lost deep flexor is never routine", () =>
    never(given({ activeFlexion: "absent" }), (a) => {
      atLeast(a, "D1");
      expect(a.urgency.sure && rank(a.urgency.sure)).toBeLessThanOrEqual(rank("D1"));
    }));
  it("G3: a bite, a high-pressure injection and a dusky tip leave the ordinary pathway", () =>
    never(
      given(
        ...["human-bite", "cat-bite", "dog-bite", "other-animal-bite", "high-pressure-injection"].map((mechanism) => ({
          mechanism,
        })),
        { tipColour: "dusky", perfusionAfterFirstSteps: "still-poor" },
      ),
      (a) => {
        expect(a.leftPathway).toBe(true);
        expect([a.management, a.splints]).toEqual([[], []]);
        atLeast(a, "D0");
      },
    ));
  it("G3: a dusky tip not yet looked at again is not an ordinary finger either", () =>
    never(given({ tipColour: "dusky", perfusionAfterFirstSteps: "not-asked" }), (a) => atLeast(a, "NOW")));
  it("G4: a mallet with a third to two thirds of the joint always gets its lateral repeated on day 7, 14 and 21", () =>
    never(
      given(
        ...[33.3, 40, 50, 60, 66.7, "not-asked", "cannot-tell"].map((articularSharePercent) => ({
          filmTaken: "yes",
          trueLateral: "seen",
          ageYears: 40,
          fractureSite: "base-dorsal",
          articularSharePercent,
        })),
      ),
      (a, facts) => {
        if (a.leftPathway) return;
        expect(a.classes.map((c) => c.class)).toContain("MALLET");
        const days = a.visits.filter((v) => v.purpose === "film-true-lateral").map((v) => v.ideal);
        // counted from the day the splint is put on
        const late = typeof facts.hoursSinceInjury === "number" ? Math.floor(facts.hoursSinceInjury / 24) : 0;
        expect(days).toEqual(expect.arrayContaining([7 + late, 14 + late, 21 + late]));
      },
    ));
  it("G4: no site value takes the repeat laterals away", () => {
    const keys = ["discussSharePercent", "referSharePercent", "bonyFromDays", "toDays"].map(
      (k) => `distalPhalanx.mallet.${k}`,
    );
    for (const corner of ["min", "max"] as const) {
      const site = pathwayWith(
        Object.fromEntries(keys.map((k) => [k, (distalPhalanx.policy[k] as { min: number; max: number })[corner]])),
      );
      const a = assessDigit(site, {
        filmTaken: "yes",
        trueLateral: "seen",
        ageYears: 40,
        fractureSite: "base-dorsal",
        articularSharePercent: 34,
      });
      expect(a.visits.filter((v) => v.purpose === "film-true-lateral").map((v) => v.ideal)).toEqual(
        expect.arrayContaining([7, 14, 21]),
      );
    }
  });
  it("a tip that nobody saw bend and straighten is never called uninjured, nor sent away without being tested again", () =>
    never(
      given({ activeFlexion: "weak" }, { activeFlexion: "cannot-test" }, { activeExtension: "cannot-test" }),
      (a, facts) => {
        expect([...a.classes, ...a.possibleClasses].map((c) => c.class)).not.toContain("NO-FRACTURE-SEEN");
        // A weak flexor with its bone pulled off is torn, not to be tested: the surgeon has it by the next working day.
        const off = facts.activeFlexion === "weak" && facts.filmTaken === "yes" && facts.fractureSite === "base-volar";
        atLeast(a, off ? "D1" : "W1");
        if (off && facts.activeExtension !== "cannot-test") return;
        expect(a.tasks.map((t) => t.text).join()).toMatch(/Test (the deep flexor|straightening) again/);
      },
    ));
  it("nobody is told to repair it here while a surgeon takes wound or nail over", () =>
    never(completeRecord, (a) => {
      const here = a.today.map((l) => l.rule).filter((rule) => ["SH-9", "NB-1"].includes(rule));
      if (here.length === 0) return;
      expect([...a.today, ...a.management].map((l) => l.text).join()).not.toMatch(/leave the repair/i);
      if (here.includes("SH-9")) expect(a.management.map((l) => l.effect.call)).not.toContain("operative");
    }));
  it("no visit lies before the day on which the patient is seen", () =>
    never(completeRecord, (a, facts) => {
      const today = Math.floor((facts.hoursSinceInjury as number) / 24);
      // What counts from an operation has no day of its own before that is known.
      for (const v of a.visits) if (v.countFrom !== "operation") expect(v.earliest).toBeGreaterThanOrEqual(today);
    }));
  it("G5: epinephrine is never allowed where perfusion is poor or vessels go into spasm", () =>
    never(
      given(
        { tipColour: "pale" },
        { tipColour: "dusky" },
        { tipColour: "white" },
        { capillaryRefill: "slow" },
        { vasospasm: "yes" },
      ),
      (a) => {
        for (const l of a.anaesthetic)
          if ("effect" in l) expect(l.effect).toMatchObject({ kind: "epinephrine", allow: false });
      },
    ));
  it("G6: no ceiling is printed without a weight", () =>
    never(given({ weightKg: "not-asked" }, { weightKg: "cannot-tell" }), (a) =>
      expect(a.anaesthetic.filter((l) => /\d+ mg\b/.test(l.text)).map((l) => l.text)).toEqual([]),
    ));
  it("G6: no ceiling lies above the label: 4.5 mg/kg or 300 mg plain, 7 mg/kg or 500 mg with epinephrine", () =>
    never(
      given(
        { weightKg: 8, ageYears: 2 },
        { weightKg: 20, ageYears: 5 },
        { weightKg: 70, ageYears: 40 },
        { weightKg: 120, ageYears: 40 },
      ),
      (a, facts) => {
        for (const { text } of a.anaesthetic) {
          const ceiling = text.match(/(\d+(?:\.\d+)?) mg = [\d.]+ mL/)?.[1];
          if (ceiling === undefined) continue;
          const kg = facts.weightKg as number;
          const label = /epinephrine/i.test(text) ? Math.min(7 * kg, 500) : Math.min(4.5 * kg, 300);
          expect(Number(ceiling)).toBeLessThanOrEqual(label);
        }
      },
    ));
  it("G7: an open crush fracture is no clean wound: the booster of the dirty wound is due", () =>
    never(
      given({
        openness: "open-skin",
        mechanism: "crush",
        tetanusDoses: "three-or-more",
        tetanusYearsSinceLast: 7,
        ageYears: 40,
        immuneCompromise: "no",
      }),
      (a) => expect(a.tetanus.some((l) => l.effect.kind === "tetanus" && l.effect.vaccine)).toBe(true),
    ));
  it('G8: Seymour, a bite that drew blood and gross contamination are never told "no antibiotic"', () =>
    never(
      given(
        { ageYears: 10, physis: "open", nailPlate: "over-fold", activeExtension: "lag" },
        { mechanism: "human-bite", biteBloodDrawn: "yes" },
        { mechanism: "cat-bite", biteBloodDrawn: "yes" },
        { openness: "open-skin", contamination: "soil-or-manure" },
        { openness: "open-nail-bed", contamination: "heavy-dirt" },
      ),
      (a) => {
        expect(decisions(a)).not.toContain("no");
        expect(decisions(a)).not.toContain("not-routinely");
        expect(decisions(a).some((d) => d === "yes" || d === "treat-infection")).toBe(true);
      },
    ));
  it("G9: an assessment is plain data that orders nothing: it holds no function and no state of an order", () =>
    never(anyRecord, (a) => {
      expect(JSON.parse(JSON.stringify(a))).toEqual(a);
      expect(JSON.stringify(a)).not.toMatch(/"status":|"intent":/);
    }));
});

describe("the guards look at something", () => {
  const openTuft = { ...ADULT, fractureSite: "tuft", openness: "open-skin" };
  it("an adult's tuft and mallet do carry the names that G1 looks for", () => {
    expect(assessDigit(pathway, openTuft).classes.map((c) => c.class)).toContain("TUFT-S");
    expect(assessDigit(pathway, { ...ADULT, fractureSite: "base-dorsal" }).classes.map((c) => c.class)).toContain(
      "MALLET",
    );
  });
  it('a clean open tuft of a healthy adult does hear "not routinely", allows epinephrine and prints ceilings for 70 kg', () => {
    const a = assessDigit(pathway, openTuft);
    expect(decisions(a)).toEqual(["not-routinely"]);
    expect(a.anaesthetic.some((l) => "effect" in l && (l.effect as { allow?: boolean }).allow === true)).toBe(true);
    expect(a.anaesthetic.filter((l) => /(\d+(?:\.\d+)?) mg = [\d.]+ mL/.test(l.text)).length).toBe(3);
  });
  it("a clean cut over a closed fracture, vaccinated 7 years ago, needs no booster, so G7 turns on the open crush", () => {
    const cut = { ...openTuft, openness: "skin-cut", mechanism: "laceration", tetanusYearsSinceLast: 7 };
    expect(assessDigit(pathway, cut).tetanus.some((l) => l.effect.kind === "tetanus" && l.effect.vaccine)).toBe(false);
  });
});

describe("urgency", () => {
  const RED_FLAGS: readonly Facts[] = [
    { tipColour: "white", perfusionAfterFirstSteps: "still-poor" },
    { tissueLoss: "amputation-replantable" },
    { tissueLoss: "bone-exposed" },
    { mechanism: "high-pressure-injection" },
    { mechanism: "human-bite", biteDeepOrDirty: "yes" },
    { jointDislocated: "irreducible" },
    { sheathSigns: "yes" },
    { infectionSigns: "spreading" },
    { infectionSigns: "tense-pulp-or-discharge" },
    { lysisOrPeriostealReaction: "yes" },
    { boneLesion: "yes" },
    { mangled: "yes" },
    { otherSeriousInjury: "yes" },
    { foreignBody: "yes" },
    { sensation: "absent" },
    { openness: "open-skin", contamination: "soil-or-manure" },
    { nailPlaneRotation: "rotated" },
    { activeFlexion: "absent" },
  ];
  it("is never lowered by a red flag that is added", () =>
    fc.assert(
      fc.property(completeRecord, fc.constantFrom(...RED_FLAGS), (facts, flag) => {
        const before = assessDigit(pathway, facts).urgency.level!;
        const after = assessDigit(pathway, { ...facts, ...flag }).urgency.level!;
        // A flag that replaces another (one mechanism, one kind of loss) may only do so if it is as urgent itself.
        const replaced = Object.keys(flag).some(
          (k) =>
            facts[k] !== flag[k] &&
            [
              "mechanism",
              "tissueLoss",
              "jointDislocated",
              "infectionSigns",
              "tipColour",
              "sensation",
              "contamination",
            ].includes(k),
        );
        const healthy = {
          ...facts,
          mechanism: "other",
          tissueLoss: "none",
          jointDislocated: "no",
          infectionSigns: "none",
          tipColour: "pink",
          capillaryRefill: "brisk",
          sensation: "normal",
          contamination: "clean",
        };
        const base = replaced ? assessDigit(pathway, healthy).urgency.level! : before;
        const flagged = replaced ? assessDigit(pathway, { ...healthy, ...flag }).urgency.level! : after;
        expect(rank(flagged)).toBeLessThanOrEqual(rank(base));
      }),
      RUNS,
    ));
  it("SAF-08 stated while something is open is never less urgent than what the answer then brings, and what is sure stays", () =>
    fc.assert(
      fc.property(partialRecord, ({ full, partial }) => {
        // A pale tip not yet looked at again is "now"; looking again may take that back, so here it has been done.
        const rechecked = { perfusionAfterFirstSteps: full.perfusionAfterFirstSteps };
        const open = assessDigit(pathway, { ...partial, ...rechecked }).urgency;
        const closed = assessDigit(pathway, full).urgency.level!;
        if (open.level !== undefined) expect(rank(open.level)).toBeLessThanOrEqual(rank(closed));
        if (open.sure !== undefined) expect(rank(closed)).toBeLessThanOrEqual(rank(open.sure));
      }),
      RUNS,
    ));
});

describe("answering an unknown", () => {
  it("brings no rule that was not sure or possible before, and takes no sure one away", () =>
    fc.assert(
      fc.property(partialRecord, ({ full, partial }) => {
        // A pale tip is an emergency until it has been looked at again: only that answer may take a sure line back.
        const rechecked = { perfusionAfterFirstSteps: full.perfusionAfterFirstSteps };
        const before = pathway.evaluate({ ...partial, ...rechecked }).verdicts;
        pathway.evaluate(full).verdicts.forEach((after, i) => {
          const known = before[i]!;
          expect(after.sure.every((r) => known.sure.includes(r) || known.possible.includes(r))).toBe(true);
          expect(known.sure.every((r) => after.sure.includes(r))).toBe(true);
        });
      }),
      RUNS,
    ));
  it("reads every value that a question may set", () => {
    for (const id of Object.keys(distalPhalanx.findings))
      for (const value of valuesOf(id)) expect(() => pathway.evaluate({ [id]: value })).not.toThrow();
  });
});

import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { commonPractice } from "../../src/pathway/evidence/citation.ts";
import type { Effect } from "../../src/pathway/hand/effects.ts";
import {
  assessCase,
  assessDigit,
  type CaseRecord,
  type InjuryModule,
  moreUrgent,
  pathwayFor,
  URGENCIES,
} from "../../src/pathway/index.ts";
import { firstOpen } from "../../src/pathway/possible.ts";
import { choice, yesNo } from "../../src/pathway/reasoning/finding.ts";
import type { AnyRule, Facts } from "../../src/pathway/reasoning/program.ts";
import { ADULT, completeRecord, defaultPolicy, distalPhalanx, pathway, told } from "./distal-phalanx/records.ts";

/** The smallest injury there is: one red flag, one finding, one contradiction. It shows that a new bone needs no change here. */
const rule = (id: string, when: Facts, ...then: Effect[]): AnyRule => ({
  id,
  when: when as never,
  then,
  because: "For the test of the frame.",
  sources: [commonPractice],
});
const tiny: InjuryModule = {
  id: "tiny",
  title: "Tiny",
  findings: { pale: yesNo("digit"), site: choice("digit", "here", "there"), seen: yesNo("digit") },
  questions: [],
  policy: {},
  classes: {
    HERE: { name: "Here", definition: "x" },
    THERE: { name: "There", definition: "x" },
    "NAME-H": { name: "Published H", definition: "x", scheme: "Scheme" },
  },
  groups: [{ id: "g", title: "G", findings: ["pale", "site"], quick: [] }],
  signs: () => [{ name: "unseen", words: "not seen", any: [{ seen: "no" } as never] }],
  tables: () => [
    {
      id: "flags",
      question: "?",
      answers: "every",
      gate: true,
      rules: [
        rule(
          "F-1",
          { pale: "yes" },
          { kind: "exit", exit: "x", title: "Pale", urgency: "NOW", sendTo: "s", say: "now", leaves: true },
        ),
      ],
    },
    {
      id: "class",
      question: "?",
      answers: "every",
      rules: [
        rule(
          "C-1",
          { site: "here" },
          { kind: "class", class: "HERE" },
          { kind: "class", class: "NAME-H" },
          { kind: "urgency", urgency: "W1", say: "week" },
        ),
        rule(
          "C-2",
          { site: "there" },
          { kind: "class", class: "THERE" },
          { kind: "urgency", urgency: "R2", say: "routine" },
        ),
      ],
    },
    {
      id: "plan",
      question: "?",
      answers: "every",
      ordinary: true,
      rules: [rule("P-1", { site: "here" }, { kind: "manage", call: "non-operative", say: "splint" })],
    },
    {
      id: "check",
      question: "?",
      answers: "every",
      checks: true,
      rules: [rule("K-1", { site: "here", unseen: "yes" }, { kind: "quality", blocks: true, say: "seen?" })],
    },
  ],
  figures: () => ({ anaesthetic: [], needs: [] }),
};
const small = pathwayFor(tiny, defaultPolicy);

describe("one digit", () => {
  it("shows no urgency while a red flag has not been asked about", () => {
    const a = assessDigit(small, { site: "here" });
    expect(a.urgency).toMatchObject({ open: true, sure: "W1" });
    expect(a.urgency.level).toBeUndefined();
    expect(a.state).toBe("cannot-decide");
    expect(a.ask).toEqual(["pale"]);
  });
  it("shows the most urgent level still possible, and says that it is open", () => {
    const a = assessDigit(small, { pale: "no" });
    expect(a.urgency).toMatchObject({ level: "W1", open: true });
    expect(a.urgency.sure).toBeUndefined();
    expect(a.possibleClasses.map((c) => c.class)).toEqual(["HERE", "THERE"]);
  });
  it("settles when nothing can change it any more, with the rule that decided", () => {
    const a = assessDigit(small, { pale: "no", site: "there" });
    expect(a).toMatchObject({ state: "settled", urgency: { level: "R2", sure: "R2", open: false } });
    expect(a.urgency.because.map((l) => l.rule)).toEqual(["C-2"]);
  });
  it("shows an exit at once, even before the rest is asked, and silences what assumes an ordinary fracture", () => {
    const a = assessDigit(small, { pale: "yes", site: "here" });
    expect(a).toMatchObject({ leftPathway: true, management: [], urgency: { level: "NOW" } });
    expect(a.classes.map((c) => c.class)).toContain("HERE");
  });
  it('carries a "cannot tell" red flag as still possible instead of asking for it again', () => {
    const a = assessDigit(small, { pale: "cannot-tell", site: "there" });
    expect(a).toMatchObject({
      ask: [],
      cannotTell: ["pale"],
      urgency: { level: "NOW", sure: "R2", open: true },
      state: "provisional",
    });
  });
  it("a published name stands beside the class but is never the class itself, nor listed as still possible", () => {
    expect(assessDigit(small, { pale: "no", site: "here" }).classes.map((c) => c.name)).toEqual([
      "Here",
      "Published H",
    ]);
    expect(assessDigit(small, { pale: "no" }).possibleClasses.map((c) => c.class)).not.toContain("NAME-H");
  });
  it("asks next for the red flag, then for what is open, also where a module reckons no figures", () => {
    expect([firstOpen(small, {}), firstOpen(small, { pale: "no" })]).toEqual(["pale", "site"]);
  });
  it("a class that is taken for granted until a finding is known is named as it is", () => {
    const guess = {
      ...rule("G-1", { seen: "yes" }, { kind: "class", class: "HERE" }),
      assume: { column: "seen", say: "Until it is seen:" },
    };
    const guessing: InjuryModule = {
      ...tiny,
      tables: (policy) => [...tiny.tables(policy), { id: "guess", question: "?", answers: "every", rules: [guess] }],
    };
    const a = assessDigit(pathwayFor(guessing, defaultPolicy), { pale: "no", site: "there" });
    expect(a.classes.map((c) => c.name)).toContain("There");
    expect(JSON.stringify(a)).not.toContain("Until it is seen");
  });
  it("a check of answers against each other speaks when sure, and asks for nothing", () => {
    expect(assessDigit(small, { pale: "no", site: "here" })).toMatchObject({ ask: [], state: "settled", quality: [] });
    const a = assessDigit(small, { pale: "no", site: "here", seen: "no" });
    expect(a.quality.map((q) => q.rule)).toEqual(["K-1"]);
    expect(a.state).toBe("cannot-decide");
  });
  it("refuses a rule that reads what nobody provides", () => {
    const broken: InjuryModule = {
      ...tiny,
      tables: () => [
        {
          id: "t",
          question: "?",
          answers: "every",
          rules: [rule("T-1", { colour: "red" }, { kind: "warn", say: "x" })],
        },
      ],
    };
    expect(() => pathwayFor(broken, defaultPolicy)).toThrow(/colour/);
  });
});

describe("the most urgent leads", () => {
  it("in the order NOW, D0, D1, W1, R2, none", () => {
    expect(URGENCIES).toEqual(["NOW", "D0", "D1", "W1", "R2", "none"]);
    for (const a of URGENCIES)
      for (const b of URGENCIES)
        expect(moreUrgent(a, b)).toBe(URGENCIES[Math.min(URGENCIES.indexOf(a), URGENCIES.indexOf(b))]);
    expect(moreUrgent(undefined, "R2")).toBe("R2");
  });
});

describe("a whole case", () => {
  const scope = (facts: Facts, s: string) =>
    Object.fromEntries(Object.entries(facts).filter(([id]) => distalPhalanx.findings[id]!.scope === s)) as Record<
      string,
      string | number
    >;
  const record = (...digits: Facts[]): CaseRecord => ({
    assessedAt: "2026-03-02T10:00",
    patient: scope(ADULT, "patient"),
    injury: scope(ADULT, "injury"),
    digits: digits.map((d) => scope(d, "digit")),
  });
  const mallet = { ...ADULT, digit: "ring", fractureSite: "base-dorsal", articularSharePercent: 40 };
  const tuft = { ...ADULT, digit: "index", fractureSite: "tuft" };
  const flexor = { ...ADULT, digit: "little", activeFlexion: "absent" };

  it("of several digits takes the most urgent, and keeps each digit's own", () => {
    const c = assessCase(pathway, record(tuft, mallet, flexor));
    expect(c.digits.map((d) => d.urgency.level)).toEqual(["none", "W1", "D1"]);
    expect(c.urgency.level).toBe("D1");
    expect(c.state).toBe("settled");
  });
  it("shows no urgency of the case while one digit has none, unless another must go now", () => {
    expect(assessCase(pathway, record(mallet, { digit: "little" })).urgency.level).toBeUndefined();
    const white = { ...ADULT, tipColour: "white", perfusionAfterFirstSteps: "still-poor" };
    expect(assessCase(pathway, record(white, { digit: "little" })).urgency.level).toBe("NOW");
  });
  it("joins the early films of two digits, the earlier day wins; each digit keeps the film that ends its treatment", () => {
    const shaft = { ...ADULT, fractureSite: "shaft" };
    const wired = { ...shaft, displacement: "seen", translationMm: 3 };
    const film = assessCase(pathway, record(shaft, wired)).visits.filter((v) => v.purpose === "film");
    expect(film.map((v) => [v.earliest, v.ideal, v.latest])).toEqual([
      [7, 8, 10],
      [28, 30, 35],
      [28, 35, 42],
      [56, 63, 70],
      [56, 63, 70],
    ]);
  });
  it("never moves a visit back when a digit is added", () => {
    fc.assert(
      fc.property(completeRecord, completeRecord, (one, two) => {
        const alone = assessCase(pathway, {
          ...record(one),
          injury: scope(one, "injury"),
          patient: scope(one, "patient"),
        }).visits;
        const both = assessCase(pathway, {
          ...record(one, two),
          injury: scope(one, "injury"),
          patient: scope(one, "patient"),
        }).visits;
        for (const v of alone)
          expect(
            both.some(
              (w) => w.purpose === v.purpose && w.earliest <= v.earliest && w.ideal <= v.ideal && w.latest <= v.latest,
            ),
          ).toBe(true);
      }),
      { numRuns: 200 },
    );
  });
  it("without any digit cannot decide", () => expect(assessCase(pathway, record()).state).toBe("cannot-decide"));
  it("carries the version of the knowledge and the site it was made for", () => {
    const c = assessCase(pathway, record(tuft));
    expect(c.knowledgeVersion).toMatch(/^\d+\.\d+\.\d+$/);
    expect(c.policy.site).toBe(defaultPolicy.site);
  });
});

describe("a standard closed mallet", () => {
  const quick = (group: string, at = 0) => distalPhalanx.groups.find((g) => g.id === group)!.quick[at]!.sets;
  it("needs five quick answers and five single ones; urgency stands before the history is asked", () => {
    const answers: Facts[] = [
      { ageYears: 34, hoursSinceInjury: 4 }, // known to the chart
      { digit: "middle", side: "right" }, // one click on the hand
      quick("red-flags"),
      quick("circulation-and-feeling"),
      { mechanism: "axial-load" },
      quick("skin-and-nail"),
      quick("movement"),
      quick("film"),
      { fractureSite: "base-dorsal" },
      { articularSharePercent: 25 },
    ];
    const facts = Object.assign({}, ...answers) as Facts;
    const a = told(facts);
    expect(a).toMatchObject({
      classes: ["MALLET"],
      published: ["DOYLE-IVB", "WEHBE-IA"],
      urgency: "W1",
      calls: ["non-operative"],
    });
    expect(a.assessment.urgency.open).toBe(false);
    const done = told({ ...facts, ...quick("accident"), ...quick("history") }).assessment;
    expect(done).toMatchObject({ state: "settled", ask: [] });
  });
});

describe("a finger tip bitten by a cat", () => {
  const points = (facts: Facts) => assessDigit(pathway, facts).advice.map(({ effect }) => effect.point);
  it("leaves the ordinary pathway, and the patient still hears of antibiotic and vaccination card", () => {
    const bitten: Facts = { ...ADULT, mechanism: "cat-bite", biteBloodDrawn: "yes" };
    expect(assessDigit(pathway, bitten).leftPathway).toBe(true);
    expect(points(bitten)).toEqual(expect.arrayContaining(["P10", "P11"]));
    expect(points(bitten)).not.toContain("P1");
    expect(points(ADULT)).not.toContain("P11");
  });
});

describe("open or closed not told", () => {
  const once: Facts = { ...ADULT, fractureSite: "tuft", openness: "uncertain", opennessOnSecondLook: "not-asked" };
  it("is never settled as closed: the second look is asked for, and both readings stay possible until it is answered", () => {
    const { assessment: a } = told(once);
    expect(a.state).toBe("provisional");
    expect(a.ask).toContain("opennessOnSecondLook");
    expect(a.antibiotic).toEqual([]);
    expect(a.tetanus).toEqual([]);
    expect(told({ ...once, opennessOnSecondLook: "cannot-tell" }).assessment).toMatchObject({
      state: "provisional",
      cannotTell: ["opennessOnSecondLook"],
    });
  });
  it("is as urgent as an open fracture until the second look says closed", () => {
    const shaft = { ...once, fractureSite: "shaft" };
    const urgency = (facts: Facts) => told(facts).urgency;
    expect(urgency(shaft)).toBe(urgency({ ...shaft, opennessOnSecondLook: "open-skin" }));
    expect(urgency({ ...shaft, opennessOnSecondLook: "closed" })).toBe(urgency({ ...shaft, openness: "closed" }));
  });
  it("reads like the first answer once the second look has settled it", () => {
    for (const openness of ["closed", "open-nail-bed", "open-skin"]) {
      const later = told({ ...once, opennessOnSecondLook: openness });
      const atOnce = told({ ...ADULT, fractureSite: "tuft", openness });
      expect(later.assessment.antibiotic).toEqual(atOnce.assessment.antibiotic);
      expect(later.assessment.tetanus).toEqual(atOnce.assessment.tetanus);
      expect(later.assessment.management).toEqual(atOnce.assessment.management);
    }
  });
});

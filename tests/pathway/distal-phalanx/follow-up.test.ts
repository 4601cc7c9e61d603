import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { assessCase, type CaseRecord } from "../../../src/pathway/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, completeRecord, distalPhalanx, pathway, told } from "./records.ts";

const visitsOf = (facts: Facts) => told(facts).visits;

describe("when it is looked at again", () => {
  it("a closed tuft needs a call on day 7 to 10, no clinic and no film", () => {
    expect(visitsOf({ ...ADULT, fractureSite: "tuft" })).toEqual(["splint-review 7-10", "discharge-check 21-28"]);
    for (const v of told({ ...ADULT, fractureSite: "tuft" }).assessment.visits) expect(v.who).toMatch(/family doctor/);
  });
  it("an open tuft is checked on day 2 to 5 and 7, stitches out on day 10 to 14", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "tuft", openness: "open-skin" })).toEqual(
      expect.arrayContaining(["wound-check 2-5", "wound-check 6-7", "stitches-out 10-14", "film 28-42"]),
    ));
  it("a shaft in place is filmed on day 7 to 10 for slip and on day 28 to 35 for union", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "shaft" })).toEqual([
      "film 7-10",
      "therapy 21-28",
      "film 28-35",
      "discharge-check 42-56",
    ]));
  it("a shaft to be wired has pin site, film and wire-out visits", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "shaft", displacement: "seen", corticalContact: "none" })).toEqual(
      expect.arrayContaining([
        "surgeon-review 0-3",
        "wound-check 5-7",
        "film 7-10",
        "wire-out 21-42",
        "film 56-70",
        "discharge-check 70-84",
      ]),
    ));
  it("a repaired flexor is with the therapist by day 7, its wire out at 6 weeks", () =>
    expect(visitsOf({ ...ADULT, activeFlexion: "absent" })).toEqual(
      expect.arrayContaining(["therapy 3-7", "wire-out 42-45", "discharge-check 84-112"]),
    ));
  it("both sides of the base are filmed on day 7, 14 and 28", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "base-both-sides" })).toEqual(
      expect.arrayContaining(["film 6-8", "film 13-15", "film 27-29"]),
    ));
  it("a closed growth plate fracture is followed for at least half a year", () =>
    expect(visitsOf({ ...CHILD, fractureSite: "physis", salterHarris: "II" })).toEqual([
      "clinic 5-7",
      "film 7-10",
      "film 26-30",
      "discharge-check 180-365",
    ]));
  it("diabetes brings the wound check of an open tuft forward, and no visit back", () => {
    const open = { ...ADULT, fractureSite: "tuft", openness: "open-skin" };
    const plain = told(open).assessment.visits.filter((v) => v.purpose === "wound-check");
    const diabetic = told({ ...open, diabetes: "yes" }).assessment.visits.filter((v) => v.purpose === "wound-check");
    expect(Math.min(...diabetic.map((v) => v.latest))).toBeLessThan(Math.min(...plain.map((v) => v.latest)));
    expect(diabetic.length).toBeGreaterThanOrEqual(plain.length);
  });
  it("says at each visit what to look for", () => {
    for (const v of visitsOf({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }))
      expect(v).toMatch(/ \d+-\d+$/);
    for (const v of told({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }).assessment.visits)
      expect(v.check.length).toBeGreaterThan(8);
  });
  it("an unstable shaft that is not wired has no firm wire or pin visit, and its own film when the splint comes off", () => {
    const visits = told({ ...ADULT, fractureSite: "shaft", displacement: "seen", translationMm: 3 }).assessment.visits;
    const when = (purpose: string) => visits.filter((v) => v.purpose === purpose).map((v) => v.onlyIf);
    expect(when("wire-out")).toEqual(["if a wire was placed"]);
    expect(when("stitches-out")).toEqual(["if it was stitched"]);
    expect(when("wound-check")).toEqual(["if a wire was placed"]);
    expect(when("film")).toEqual([
      undefined,
      "if no wire was placed",
      "if no wire was placed and union is late",
      "if a wire was placed and union is late",
    ]);
  });
  it("an open tuft is desensitised in week 2 to 4, a shaft in place starts to move the end joint in week 3 to 4", () => {
    expect(visitsOf({ ...ADULT, fractureSite: "tuft", openness: "open-skin" })).toContain("therapy 14-28");
    expect(visitsOf({ ...ADULT, fractureSite: "shaft" })).toContain("therapy 21-28");
  });
  it("a splint put on 40 days late is reviewed a week after that day, in the calendar too", () => {
    const scope = (s: string) =>
      Object.fromEntries(
        Object.entries({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }).filter(
          ([id]) => distalPhalanx.findings[id]!.scope === s && id !== "hoursSinceInjury",
        ),
      ) as Record<string, string | number>;
    const { visits } = assessCase(pathway, {
      injuredAt: "2026-01-01T23:50",
      assessedAt: "2026-02-10T08:00",
      patient: scope("patient"),
      injury: scope("injury"),
      digits: [scope("digit")],
    });
    expect(visits.find((v) => v.purpose === "splint-review")!.dates!.ideal).toBe("2026-02-17");
    for (const v of visits.filter((v) => v.countFrom !== "operation"))
      expect(v.dates!.earliest >= "2026-02-10").toBe(true);
  });
  it("stands in the calendar from the day of the injury, also over a clock change", () => {
    const scope = (s: string) =>
      Object.fromEntries(
        Object.entries({ ...ADULT, fractureSite: "shaft" }).filter(
          ([id]) => distalPhalanx.findings[id]!.scope === s && id !== "hoursSinceInjury",
        ),
      ) as Record<string, string | number>;
    const record: CaseRecord = {
      injuredAt: "2026-03-24T22:30",
      assessedAt: "2026-03-25T01:00",
      patient: scope("patient"),
      injury: scope("injury"),
      digits: [scope("digit")],
    };
    expect(assessCase(pathway, record).visits[0]!.dates).toEqual({
      earliest: "2026-03-31",
      ideal: "2026-04-01",
      latest: "2026-04-03",
    });
  });
});

const inScope = (facts: Facts, scope: string) =>
  Object.fromEntries(
    Object.entries(facts).filter(([id]) => distalPhalanx.findings[id]?.scope === scope && id !== "hoursSinceInjury"),
  ) as Record<string, string | number>;
const seen = (dates: Pick<CaseRecord, "injuredAt" | "assessedAt" | "operatedOn">, ...digits: Facts[]): CaseRecord => ({
  ...dates,
  patient: inScope(digits[0]!, "patient"),
  injury: inScope(digits[0]!, "injury"),
  digits: digits.map((d) => inScope(d, "digit")),
});
const TORN_FLEXOR = { ...ADULT, digit: "little", activeFlexion: "absent", mechanism: "axial-load" };
const A_DAY_LATER = { injuredAt: "2026-03-01T10:00", assessedAt: "2026-03-02T12:00" };

describe("what follows an operation", () => {
  const RING = {
    ...ADULT,
    digit: "ring",
    fractureSite: "base-dorsal",
    articularSharePercent: 40,
    activeExtension: "lag",
  };
  const both = (more: object = {}) => assessCase(pathway, seen({ ...A_DAY_LATER, ...more }, RING, TORN_FLEXOR)).visits;
  const wires = (visits: ReturnType<typeof both>) =>
    visits.filter((v) => v.purpose === "wire-out" || v.purpose === "stitches-out");
  it("has no date while the day of the operation is not known: no wire and no stitches come out too early", () => {
    expect(wires(both()).length).toBeGreaterThan(1);
    for (const v of wires(both())) expect(v.dates, v.check).toBeUndefined();
    for (const v of both().filter((v) => v.countFrom === "operation")) expect(v.dates, v.check).toBeUndefined();
  });
  it("stands behind the surgeon who plans the operation", () => {
    const visits = both();
    const last = visits.findLastIndex((v) => v.purpose === "surgeon-review");
    expect(visits.findIndex((v) => v.countFrom === "operation")).toBeGreaterThan(last);
  });
  it("counts from the operation once its day is known: tendon repaired on 8 March, wire across the joint out on 19 April", () => {
    const visits = both({ operatedOn: "2026-03-08" });
    const wire = visits.find((v) => v.onlyIf === "if a wire crosses the end joint")!;
    expect(wire.dates).toEqual({ earliest: "2026-04-19", ideal: "2026-04-19", latest: "2026-04-22" });
    expect(visits.find((v) => v.purpose === "stitches-out")!.dates!.earliest).toBe("2026-03-18");
  });
  it("for any injury no wire and no stitches of an operation to come are dated from today", () => {
    fc.assert(
      fc.property(completeRecord, (facts) => {
        const { visits } = assessCase(pathway, seen(A_DAY_LATER, facts));
        const later = visits.filter((v) => v.purpose === "wire-out" && v.latest > 3 && v.dates);
        // Only a tuft that is repaired here today is wired here today.
        expect(later.filter((v) => v.rule !== "FUP-2").map((v) => v.rule)).toEqual([]);
      }),
      { numRuns: 300 },
    );
  });
  it.each<[string, Facts, RegExp]>([
    [
      "open mallet",
      { woundOverJoint: "cut", activeExtension: "lag", openness: "open-skin", mechanism: "laceration" },
      /wire-out 28-42/,
    ],
    [
      "slipped bony mallet",
      { fractureSite: "base-dorsal", articularSharePercent: 40, jointPosition: "volar-subluxed" },
      /wound-check 5-7.*stitches-out 10-14.*wire-out 28-42.*discharge-check 84-112/,
    ],
    ["very large bony mallet", { fractureSite: "base-dorsal", articularSharePercent: 80 }, /wire-out 28-42/],
    ["bony mallet of 40 %", { fractureSite: "base-dorsal", articularSharePercent: 40 }, /wire-out 28-42/],
    [
      "open tuft a surgeon repairs",
      { fractureSite: "tuft", openness: "open-nail-bed", nailBed: "stellate" },
      /stitches-out 10-14.*wire-out 21-28/,
    ],
    ["open shaft in place", { fractureSite: "shaft", openness: "open-skin" }, /stitches-out 10-14/],
    ["torn flexor", { activeFlexion: "absent" }, /wound-check 3-7.*stitches-out 10-14.*splint-review 42-45/],
  ])("%s: pins, stitches and wires have their visits, counted from the operation", (_, found, expected) => {
    const after = told({ ...ADULT, ...found }).assessment.visits.filter((v) => v.countFrom === "operation");
    expect(after.map((v) => `${v.purpose} ${v.earliest}-${v.latest}`).join(" ")).toMatch(expected);
  });
  it("a child's displaced growth plate that is wired: wire out at 3 to 4 weeks", () =>
    expect(
      visitsOf({ ...CHILD, fractureSite: "physis", salterHarris: "II", displacement: "seen", translationMm: 4 }),
    ).toEqual(expect.arrayContaining(["surgeon-review 0-3", "wire-out 21-28"])));
  it("with a cut flexor over a stable shaft the end joint is not moved by the plan of the shaft", () => {
    const cut = {
      ...ADULT,
      mechanism: "laceration",
      openness: "open-skin",
      fractureSite: "shaft",
      activeFlexion: "absent",
    };
    const { visits } = told(cut).assessment;
    expect(visits.map((v) => v.check).join()).not.toMatch(/Start moving the end joint|splint off/);
    expect(visits.some((v) => v.check.includes("protocol of the surgeon"))).toBe(true);
    expect(visits.some((v) => v.purpose === "surgeon-review" && v.latest === 10)).toBe(true);
  });
  it("one surgeon, one visit: a Seymour fracture is not sent to two reviews on one day, nor its stitches taken out twice", () => {
    const seymour = { ...CHILD, nailPlate: "over-fold", fractureSite: "physis", salterHarris: "I" };
    const pulp = {
      ...ADULT,
      fractureSite: "tuft",
      openness: "skin-burst-or-flap",
      tissueLoss: "pulp-large",
      mechanism: "saw",
    };
    for (const facts of [seymour, pulp])
      for (const purpose of ["surgeon-review", "stitches-out"])
        expect(told(facts).visits.filter((v) => v.startsWith(purpose)).length, purpose).toBeLessThanOrEqual(1);
    const turned = { ...CHILD, epiphysisTurned: "turned-tendon-attached", fractureSite: "physis", salterHarris: "III" };
    const reviews = told(turned).assessment.visits.filter((v) => v.purpose === "surgeon-review");
    expect(reviews.map((v) => v.check)).toEqual(["Open reduction"]);
  });
});

describe("a deadline in days is a date once the day of the injury is known", () => {
  it("torn flexor: operated by day 10, which is 11 March after an injury on 1 March", () => {
    const slot = assessCase(pathway, seen(A_DAY_LATER, TORN_FLEXOR)).visits.find((v) => v.dueDay === 10)!;
    expect(slot.check).toContain("(by Wed 11 March 2026)");
    expect(slot.dates!.latest).toBe("2026-03-11");
  });
  it("large fragment on day 15: still a dated slot, up to day 21", () => {
    const three = { ...TORN_FLEXOR, fractureSite: "base-volar", volarFragmentAt: "dip-or-a4" };
    const { visits } = assessCase(pathway, seen({ ...A_DAY_LATER, assessedAt: "2026-03-16T12:00" }, three));
    expect(visits.find((v) => v.dueDay === 21)!.dates).toMatchObject({ earliest: "2026-03-16", latest: "2026-03-22" });
  });
});

describe("an infection", () => {
  it.each<[string, Facts]>([
    ["local", { infectionSigns: "local" }],
    ["spreading, which leaves the ordinary pathway", { infectionSigns: "spreading" }],
    ["pus in the pulp", { infectionSigns: "tense-pulp-or-discharge" }],
    ["flexor sheath", { sheathSigns: "yes" }],
    ["bone", { lysisOrPeriostealReaction: "yes" }],
  ])("%s: filmed at 10 to 14 days and 6 weeks, and nobody is discharged before the film is quiet", (_, found) => {
    const { visits } = told({
      ...ADULT,
      fractureSite: "tuft",
      openness: "open-nail-bed",
      nailBed: "simple",
      ...found,
    }).assessment;
    expect(visits.map((v) => `${v.purpose} ${v.earliest}-${v.latest}`)).toEqual(
      expect.arrayContaining(["film 10-14", "film 40-44"]),
    );
    for (const v of visits.filter((v) => v.purpose === "discharge-check"))
      expect(v.earliest).toBeGreaterThanOrEqual(44);
    expect(visits.some((v) => v.purpose === "wire-out" && /loose or infected/.test(v.check))).toBe(true);
  });
});

/** Last day, after the day of assessment, on which each urgency is still kept: the next working day may lie behind a weekend. */
const WITHIN = { D0: 1, D1: 3, W1: 7, R2: 14 } as const;
describe("nobody is referred without an appointment", () => {
  const seesHand = /surgeon|hand|therapist|emergency|senior|burns|tumour/;
  it("each urgency from today to two weeks has a firm visit inside its own window", () => {
    const missed = new Map<string, string>();
    fc.assert(
      fc.property(completeRecord, (facts) => {
        const { assessment: a, urgency } = told(facts);
        if (urgency === undefined || urgency === "NOW" || urgency === "none" || a.state === "cannot-decide") return;
        if (a.exits.some((e) => e.effect.sendTo === "emergency department")) return; // reduced here, then assessed anew
        const today = Math.floor((facts.hoursSinceInjury as number) / 24);
        const kept = a.visits.some(
          (v) =>
            v.countFrom !== "operation" &&
            v.onlyIf === undefined &&
            seesHand.test(v.who) &&
            v.latest - today <= WITHIN[urgency],
        );
        if (!kept) missed.set(a.urgency.because.map((l) => l.rule).join("+"), urgency);
      }),
      { numRuns: 1500 },
    );
    expect([...missed]).toEqual([]);
  });
  it("nor with a break through a bone lesion, which leaves the ordinary pathway: what is urgent beside it keeps its day", () => {
    const each: readonly (readonly [string, readonly (string | number)[]])[] = [
      ["articularSharePercent", [20, 40]],
      ["jointPosition", ["congruent", "volar-subluxed"]],
      ["passiveExtension", ["full", "blocked"]],
      ["activeExtension", ["full", "lag"]],
      ["salterHarris", ["none", "I", "III"]],
      ["fragmentGapMm", [0, 3]],
      ["nailPlaneRotation", ["none", "rotated"]],
      ["jointDislocated", ["no", "reduced"]],
      [
        "fractureSite",
        distalPhalanx.findings.fractureSite!.type === "choice" ? distalPhalanx.findings.fractureSite!.values : [],
      ],
    ];
    const found = each.reduce<readonly Facts[]>(
      (all, [finding, answers]) => all.flatMap((f) => answers.map((answer) => ({ ...f, [finding]: answer }))),
      [ADULT, CHILD].map((f) => ({ ...f, boneLesion: "yes", displacement: "seen", fracturePattern: "longitudinal" })),
    );
    const weekly = found.map((f) => told(f)).filter((t) => /^(D0|D1|W1)$/.test(t.urgency ?? "") && !t.blocked);
    const missed = weekly.filter(
      ({ assessment, urgency }) =>
        !assessment.visits.some(
          (v) => v.onlyIf === undefined && seesHand.test(v.who) && v.latest <= WITHIN[urgency as keyof typeof WITHIN],
        ),
    );
    expect(weekly.length).toBeGreaterThan(100);
    expect([...new Set(missed.map((t) => t.assessment.urgency.because.map((l) => l.rule).join("+")))]).toEqual([]);
  });
  it.each<[string, Facts, string]>([
    [
      "displaced growth plate",
      { ...CHILD, fractureSite: "physis", salterHarris: "I", displacement: "seen", translationMm: 4 },
      "surgeon-review 0-3",
    ],
    [
      "closed growth plate fracture with a drooping tip",
      { ...CHILD, fractureSite: "physis", salterHarris: "I", activeExtension: "lag" },
      "clinic 0-0",
    ],
    ["growth plate and joint", { ...CHILD, fractureSite: "base-dorsal", salterHarris: "III" }, "surgeon-review 0-7"],
    ["bony mallet of 40 %", { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }, "surgeon-review 0-7"],
    [
      "longitudinal shaft with a step",
      { ...ADULT, fractureSite: "shaft", fracturePattern: "longitudinal", displacement: "seen", jointStepMm: 1.5 },
      "surgeon-review 0-7",
    ],
    ["twisted tip", { ...ADULT, fractureSite: "tuft", nailPlaneRotation: "rotated" }, "surgeon-review 0-3"],
    [
      "grip pulled open, flexor weak",
      { ...ADULT, mechanism: "forced-extension", activeFlexion: "weak" },
      "surgeon-review 0-3",
    ],
    ["displaced tuft", { ...ADULT, fractureSite: "tuft", displacement: "seen", translationMm: 3 }, "clinic 7-14"],
    [
      "nail to lift and no block possible",
      { ...ADULT, fractureSite: "tuft", nailPlate: "split", localAnaestheticAllergy: "yes" },
      "surgeon-review 0-1",
    ],
  ])("%s", (_, facts, visit) => expect(visitsOf(facts)).toContain(visit));
});

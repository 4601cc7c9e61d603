import { describe, expect, it } from "vitest";
import { commonPractice } from "../../src/pathway/evidence/citation.ts";
import type { Effect, Urgency } from "../../src/pathway/hand/effects.ts";
import { assessCase, assessDigit, explain, pathwayFor } from "../../src/pathway/index.ts";
import type { EffectTable, InjuryModule } from "../../src/pathway/module.ts";
import { choice } from "../../src/pathway/reasoning/finding.ts";
import type { Facts } from "../../src/pathway/reasoning/program.ts";
import { defaultPolicy } from "./distal-phalanx/records.ts";

/*
 * How the program puts together what rules say, on an invented pathway of a few rules, where every answer can be followed by eye. No clinical
 * content: the shipped rules have their own tests.
 */
const rule = (id: string, when: object, then: readonly Effect[], more: object = {}): EffectTable["rules"][number] => ({
  id,
  when,
  then,
  because: `Reason of ${id}.`,
  sources: [commonPractice],
  ...more,
});
const exit = (title: string, urgency: Urgency, sendTo: string, leaves: boolean): Effect => ({
  kind: "exit",
  exit: title,
  title,
  urgency,
  sendTo,
  say: `${title}.`,
  leaves,
});
const urgency = (level: Urgency, means?: string): Effect => ({
  kind: "urgency",
  urgency: level,
  say: `Urgency ${level}.`,
  ...(means === undefined ? {} : { means }),
});
const table = (id: string, rules: EffectTable["rules"], flags: Partial<EffectTable> = {}): EffectTable => ({
  id,
  question: `${id}?`,
  answers: "every",
  rules,
  ...flags,
});
const visit = (purpose: "film" | "clinic" | "surgeon-review", day: number, more: object = {}): Effect => ({
  kind: "visit",
  visit: { purpose, who: "clinic", earliest: day, ideal: day, latest: day, check: `Day ${day}`, ...more },
});
const TABLES: readonly EffectTable[] = [
  table(
    "flags",
    [
      rule("LUMP", { lump: "yes" }, [exit("Lump", "R2", "tumour clinic", false)]),
      rule("BURN", { burn: ["small", "large"] }, [exit("Burn", "D0", "burns service", false)]),
      rule("BIG", { burn: "large" }, [exit("Big burn", "NOW", "burns service", true)]),
    ],
    { gate: true },
  ),
  table(
    "checks",
    [rule("ODD", { site: "none", shift: "yes" }, [{ kind: "quality", say: "A gap without a break.", blocks: true }])],
    { checks: true },
  ),
  table("class", [
    rule("K-1", { site: "tip" }, [{ kind: "class", class: "TIP" }]),
    rule("K-2", { site: "tip", shift: "yes" }, [
      { kind: "class", class: "TIP" },
      { kind: "class", class: "NAMED" },
    ]),
    rule("K-3", { site: "middle" }, [
      { kind: "class", class: "MIDDLE" },
      { kind: "class", class: "UNDESCRIBED" },
    ]),
    rule("K-4", { site: "none" }, [{ kind: "class", class: "NAMED" }]),
  ]),
  table(
    "ordinary",
    [
      rule("O-1", { site: "tip" }, [
        urgency("none"),
        { kind: "manage", call: "non-operative", say: "Leave it." },
        { kind: "today", topic: "dressing", say: "Wrap it." },
        visit("film", 10),
        { kind: "task", say: "Ask again.", dueDay: 3 },
      ]),
      rule("O-2", { site: "middle" }, [
        urgency("W1"),
        { kind: "manage", call: "operative", say: "Repair by day 4.", dueDay: 4 },
        visit("surgeon-review", 2, { countFrom: "treatment" }),
        visit("film", 1, { countFrom: "operation", check: "After the operation" }),
        visit("clinic", 1),
      ]),
      rule("O-3", { shift: "yes" }, [urgency("D0", "A film today decides.")]),
      rule("O-4", { site: "none" }, [urgency("none")]),
      rule("O-5", { shift: "no", site: "tip" }, [{ kind: "warn", say: "It may shift." }], {
        assume: { column: "shift", say: "Until it is known:" },
      }),
    ],
    { ordinary: true },
  ),
  table("always", [
    rule("A-1", {}, [{ kind: "advise", point: "up", say: "Hold it up.", redFlag: false }]),
    rule("A-2", { burn: ["small", "large"] }, [{ kind: "later", find: "Scar", say: "clinic" }]),
  ]),
];
const TOY: InjuryModule = {
  id: "toy",
  title: "Toy",
  findings: {
    lump: choice("digit", "yes", "no"),
    burn: choice("digit", "none", "small", "large"),
    site: choice("digit", "tip", "middle", "none"),
    shift: choice("digit", "yes", "no"),
  },
  questions: [],
  groups: [{ id: "all", title: "All", findings: ["lump", "burn", "site", "shift"], quick: [] }],
  policy: {},
  classes: {
    TIP: { name: "Broken tip", definition: "." },
    MIDDLE: { name: "Broken middle", definition: "." },
    NAMED: { name: "Name III", definition: ".", scheme: "Names" },
  },
  signs: () => [],
  tables: () => TABLES,
  figures: () => ({ anaesthetic: [], needs: [] }),
};
const pathway = pathwayFor(TOY, defaultPolicy);
const assess = (facts: Facts, day?: number) => assessDigit(pathway, facts, day);
const CALM = { lump: "no", burn: "none", shift: "no" } as const;
const ids = (lines: readonly { readonly rule: string }[]) => lines.map((l) => l.rule);

describe("one digit", () => {
  it("that is settled: one class, its urgency, its plan, nothing to ask", () => {
    const a = assess({ ...CALM, site: "tip" });
    expect(a.classes.map((c) => [c.class, c.name])).toEqual([["TIP", "Broken tip"]]);
    expect(a.urgency).toMatchObject({ level: "none", sure: "none", open: false });
    expect(ids(a.urgency.because)).toEqual(["O-1"]);
    expect(a.management.map((m) => m.text)).toEqual(["Leave it."]);
    expect(ids(a.warnings)).toEqual(["O-5"]);
    expect(a).toMatchObject({ state: "settled", ask: [], cannotTell: [], leftPathway: false, mayLeave: false });
    expect(a.stillPossible).toEqual([]);
    expect(a.possibleClasses).toEqual([]);
  });
  it("says a class once, whoever gives it, and an undescribed one by its id; a published name is no class", () => {
    const shifted = assess({ ...CALM, site: "tip", shift: "yes" });
    expect(shifted.classes.map((c) => [c.rule, c.name])).toEqual([
      ["K-1", "Broken tip"],
      ["K-2", "Name III"],
    ]);
    expect(assess({ ...CALM, site: "middle" }).classes.map((c) => c.name)).toEqual(["Broken middle", "UNDESCRIBED"]);
  });
  it("with nothing but a published name has no class and no exit: nothing is decided", () => {
    expect(assess({ ...CALM, site: "none" })).toMatchObject({ state: "cannot-decide", urgency: { level: "none" } });
    expect(assess({ ...CALM, site: "none", lump: "yes" })).toMatchObject({ state: "settled" });
  });
  it("puts the most urgent exit first, whatever the order of the rules", () => {
    const { exits, urgency: u } = assess({ ...CALM, site: "tip", lump: "yes", burn: "small" });
    expect(ids(exits)).toEqual(["BURN", "LUMP"]);
    expect(u).toMatchObject({ level: "D0", sure: "D0", open: false });
    expect(ids(u.because)).toEqual(["BURN"]);
  });
  it("says no urgency while a red flag was not asked about, and names what may still come", () => {
    const a = assess({ burn: "none", site: "tip", shift: "no" });
    expect(a.urgency.level).toBeUndefined();
    expect(a.urgency).toMatchObject({ sure: "none", open: true, because: [] });
    expect(a.ask).toEqual(["lump"]);
    expect(a.state).toBe("cannot-decide");
    expect(ids(a.stillPossible)).toEqual(["LUMP"]);
  });
  it("says the worst that may be when a red flag cannot be told, and calls it open", () => {
    const a = assess({ ...CALM, site: "tip", lump: "cannot-tell" });
    expect(a.urgency).toMatchObject({ level: "R2", sure: "none", open: true });
    expect(ids(a.urgency.because)).toEqual(["LUMP"]);
    expect(a).toMatchObject({ state: "provisional", ask: [], cannotTell: ["lump"], mayLeave: false });
  });
  it("is silent on an ordinary break once an exit leaves the pathway, and says the urgency of the exit at once", () => {
    const a = assess({ burn: "large", site: "tip", shift: "no" });
    expect(a.leftPathway).toBe(true);
    expect(a.urgency).toMatchObject({ level: "NOW", sure: "NOW" });
    expect(a.management).toEqual([]);
    expect(a.visits).toEqual([]);
    expect(ids(a.classes)).toEqual(["K-1"]);
    expect(ids(a.later)).toEqual(["A-2"]);
  });
  it("says its treatment under a condition while a red flag that nobody can judge may leave the pathway", () => {
    const a = assess({ ...CALM, site: "tip", burn: "cannot-tell" });
    expect(a).toMatchObject({ mayLeave: true, leftPathway: false, cannotTell: ["burn"] });
    expect(a.management.map((m) => m.text)).toEqual(["Only once the red flags are cleared: Leave it."]);
    expect(a.today.map((t) => t.effect.say)).toEqual(["Only once the red flags are cleared: Wrap it."]);
    expect(a.visits.map((v) => v.check)).toEqual(["Only once the red flags are cleared: Day 10"]);
    expect(a.tasks.map((t) => t.text)).toEqual(["Ask again."]);
    expect(a.advice.map((l) => l.text)).toEqual(["Hold it up."]);
    expect(a.classes.map((c) => c.name)).toEqual(["Broken tip"]);
    expect(a.urgency).toMatchObject({ level: "NOW", sure: "none", open: true });
  });
  it("reads cautiously while one answer lacks: the line speaks, says so, and counts as still possible", () => {
    const a = assess({ lump: "no", burn: "none", site: "tip" });
    expect(a.warnings.map((w) => w.text)).toEqual(["Until it is known: It may shift."]);
    expect(ids(a.stillPossible)).not.toContain("O-5");
    expect(ids(a.stillPossible)).toContain("O-3");
    expect(a.ask).toEqual(["shift"]);
    expect(a.urgency).toMatchObject({ level: "D0", sure: "none", open: true });
    expect(a.possibleClasses).toEqual([]);
    expect(a.state).toBe("provisional");
  });
  it("lists the classes that may still be, without published names", () => {
    const a = assess({ ...CALM });
    expect(a.possibleClasses.map((c) => c.class)).toEqual(["TIP", "MIDDLE", "UNDESCRIBED"]);
    expect(a.ask).toEqual(["site"]);
  });
  it("never sends anyone away on answers that do not fit together", () => {
    const a = assess({ ...CALM, site: "none", shift: "yes", lump: "yes" });
    expect(ids(a.quality)).toEqual(["ODD"]);
    expect(a.urgency.level).toBe("D0");
    const calm = pathwayFor(
      {
        ...TOY,
        tables: () =>
          TABLES.map((t) => (t.id === "ordinary" ? { ...t, rules: t.rules.filter((r) => r.id !== "O-3") } : t)),
      },
      defaultPolicy,
    );
    const b = assessDigit(calm, { ...CALM, site: "none", shift: "yes" });
    expect(b.urgency.level).toBeUndefined();
    expect(b.urgency.open).toBe(true);
    expect(ids(b.urgency.because)).toEqual(["O-4"]);
    expect(b.state).toBe("cannot-decide");
    // What only holds answers against each other is never a reason to ask.
    expect(assessDigit(calm, { ...CALM, site: "none", shift: "not-asked" }).ask).toEqual([]);
  });
});

describe("visits of one digit", () => {
  const days = (facts: Facts, treatment?: number) =>
    assess(facts, treatment).visits.map((v) => [v.purpose, v.earliest, v.ideal, v.latest, v.countFrom ?? "injury"]);
  const middle = { ...CALM, site: "middle" };
  it("on the day of the injury stand as the rules say, what follows an operation behind the surgeon who plans it", () =>
    expect(days(middle)).toEqual([
      ["clinic", 1, 1, 1, "injury"],
      ["surgeon-review", 2, 2, 2, "treatment"],
      ["film", 1, 1, 1, "operation"],
    ]));
  it("of a patient who comes on day 5: what counts from the treatment moves, and what is already over is counted anew", () =>
    expect(days(middle, 5)).toEqual([
      ["clinic", 6, 6, 6, "treatment"],
      ["surgeon-review", 7, 7, 7, "treatment"],
      ["film", 1, 1, 1, "operation"],
    ]));
  it("of a patient who comes on the last day of a window: the visit is that day, not a window later", () =>
    expect(days(middle, 1)[0]).toEqual(["clinic", 1, 1, 1, "injury"]));
  it("of a patient who comes on day 7: a film of day 10 keeps its day", () =>
    expect(days({ ...CALM, site: "tip" }, 7)).toEqual([["film", 10, 10, 10, "injury"]]));
  it("are counted from the whole days of the hours since the injury when nobody says the day", () => {
    expect(days({ ...middle, hoursSinceInjury: 23 })[0]).toEqual(["clinic", 1, 1, 1, "injury"]);
    expect(days({ ...middle, hoursSinceInjury: 49 })[0]).toEqual(["clinic", 3, 3, 3, "treatment"]);
  });
});

describe("a whole case", () => {
  const record = (digits: readonly Readonly<Record<string, string>>[], dates: object = {}) => ({
    assessedAt: "2026-03-02T10:00",
    patient: {},
    injury: {},
    digits: digits.map((d, i) => ({ digit: i === 0 ? "ring" : "middle", side: "left", ...d })),
    ...dates,
  });
  const onCase = (digits: readonly Readonly<Record<string, string>>[], dates?: object) =>
    assessCase(pathway, record(digits, dates));
  const tip = { ...CALM, site: "tip" };

  it("is led by its most urgent digit, in the words of the line that makes it so urgent", () => {
    const two = onCase([tip, { ...tip, burn: "small", lump: "yes" }]);
    expect(two.urgency).toMatchObject({
      level: "D0",
      sure: "D0",
      open: false,
      words: { title: "Same day", means: "The burns service sees or takes over the patient today." },
    });
    expect(ids(two.urgency.because)).toEqual(["O-1", "BURN"]);
    expect(two.state).toBe("settled");
    expect(two.policy).toEqual({ site: defaultPolicy.site, approvedOn: defaultPolicy.approvedOn });
  });
  it("a line with a sentence of its own speaks before a service that is not the hand's", () =>
    expect(
      onCase([
        { ...tip, shift: "yes" },
        { ...tip, burn: "small" },
      ]).urgency.words!.means,
    ).toBe("A film today decides."));
  it("has no urgency while one digit has none, unless another cannot wait", () => {
    const unasked = { site: "tip", shift: "no", lump: "no" };
    const one = onCase([tip, unasked]);
    expect(one.urgency.level).toBeUndefined();
    expect(one.urgency).toMatchObject({ sure: "none", open: true });
    expect(one.urgency.words).toBeUndefined();
    expect(one.state).toBe("cannot-decide");
    const now = onCase([{ ...tip, burn: "large" }, unasked]);
    expect(now.urgency).toMatchObject({ level: "NOW", sure: "NOW", open: true });
  });
  it("is provisional while one digit is, and undecided without any digit", () => {
    expect(onCase([tip, { ...tip, lump: "cannot-tell" }]).state).toBe("provisional");
    expect(onCase([{ ...tip, lump: "cannot-tell" }, tip]).urgency).toMatchObject({ level: "R2", open: true });
    expect(onCase([]).state).toBe("cannot-decide");
    expect(onCase([]).urgency.level).toBeUndefined();
  });
  it("joins the visits of its digits and gives them dates once the day of the injury is known", () => {
    const two = onCase([tip, tip], { injuredAt: "2026-03-01" });
    expect(two.visits).toHaveLength(1);
    expect(two.visits[0]!.dates).toEqual({ earliest: "2026-03-11", ideal: "2026-03-11", latest: "2026-03-11" });
    expect(two.digits[0]!.visits[0]!.dates!.ideal).toBe("2026-03-11");
    expect(onCase([tip]).visits[0]!.dates).toBeUndefined();
  });
  it("says deadlines as dates, of the plan and of its tasks", () => {
    const a = onCase([tip, { ...CALM, site: "middle" }], { injuredAt: "2026-03-01" });
    expect(a.digits[0]!.tasks.map((t) => t.text)).toEqual(["Ask again (by Wed 4 March 2026)."]);
    expect(a.digits[1]!.management.map((m) => m.text)).toEqual(["Repair by day 4 (by Thu 5 March 2026)."]);
    expect(onCase([tip]).digits[0]!.tasks.map((t) => t.text)).toEqual(["Ask again."]);
  });
  it("dates what follows an operation from the day of the operation", () => {
    const middle = [{ ...CALM, site: "middle" }];
    const film = (dates: object) => onCase(middle, dates).visits.find((v) => v.countFrom === "operation")!;
    expect(film({ injuredAt: "2026-03-01", operatedOn: "2026-03-10" }).dates!.ideal).toBe("2026-03-11");
    expect(film({ injuredAt: "2026-03-01" }).dates).toBeUndefined();
  });
});

describe("why a line stands there", () => {
  it("names its rule, its reason and the findings that made it hold", () =>
    expect(explain(pathway, { ...CALM, site: "tip", shift: "yes" }, "K-2")).toEqual({
      rule: "K-2",
      because: "Reason of K-2.",
      sources: [commonPractice],
      used: [
        { finding: "site", value: "tip" },
        { finding: "shift", value: "yes" },
      ],
    }));
  it("leaves out what was not answered, and refuses a rule that is not there", () => {
    expect(explain(pathway, { site: "tip", shift: "not-asked" }, "K-2").used).toEqual([
      { finding: "site", value: "tip" },
    ]);
    expect(() => explain(pathway, {}, "K-9")).toThrow('no rule "K-9" in toy');
  });
});

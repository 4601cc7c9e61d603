import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Effect } from "../../../src/pathway/hand/effects.ts";
import { MODULE_SIGN_NAMES } from "../../../src/pathway/hand/index.ts";
import { assessDigit } from "../../../src/pathway/index.ts";
import { flawsOfOne } from "../every-case.ts";
import { ADULT, completeRecord, defaultPolicy, distalPhalanx, pathway, pathwayWith, rows } from "./records.ts";

const { findings, questions, groups, classes, policy } = distalPhalanx;
const signNames = pathway.signs.map((s) => s.name);
const RULES = pathway.tables.flatMap((t) => t.rules);
const effects = RULES.flatMap((r) => r.then as readonly Effect[]);
const repeated = (ids: readonly string[]) => ids.filter((id, i) => ids.indexOf(id) !== i);

describe("questions", () => {
  it("ask for each finding once, and for nothing else", () => {
    expect(questions.map((q) => q.finding).sort()).toEqual(Object.keys(findings).sort());
  });
  it("stand in exactly one group each", () => {
    expect(groups.flatMap((g) => g.findings).sort()).toEqual(Object.keys(findings).sort());
  });
  it("go from the emergencies over skin, wound, movement and film to the patient", () => {
    expect(groups.map((g) => g.id)).toEqual([
      "which-digit",
      "red-flags",
      "circulation-and-feeling",
      "accident",
      "skin-and-nail",
      "skin-and-wound",
      "movement",
      "film",
      "growth-plate",
      "tetanus",
      "history",
    ]);
  });
  it("carry the scope of their finding and offer each of its values once, in words", () => {
    for (const q of questions) {
      const finding = findings[q.finding]!;
      expect(q.scope, q.finding).toBe(finding.scope);
      if (finding.type === "choice")
        expect(q.options?.map((o) => o.value).sort(), q.finding).toEqual([...finding.values].sort());
      else expect(q.options, q.finding).toBeUndefined();
      expect(q.options?.some((o) => o.label.trim() === "") ?? false, q.finding).toBe(false);
    }
  });
  it("SAF-02 let no chart propose what must be examined: skin, nail, circulation, feeling, tendons, tissue loss", () => {
    const examined = [
      "tipColour",
      "capillaryRefill",
      "sensation",
      "tissueLoss",
      "openness",
      "bloodAtNailFold",
      "nailPlate",
      "nailBed",
      "haematoma",
      "activeExtension",
      "activeFlexion",
      "passiveExtension",
      "nailPlaneRotation",
      "woundOverJoint",
      "devitalised",
    ];
    expect(questions.filter((q) => q.chartMayPropose && examined.includes(q.finding)).map((q) => q.finding)).toEqual(
      [],
    );
    expect(questions.filter((q) => q.chartMayPropose).map((q) => q.finding)).toContain("fractureSite");
  });
});

describe("quick answers", () => {
  const quick = groups.flatMap((g) => g.quick.map((answer) => ({ group: g.id, ...answer })));
  it("set only values that their findings allow", () => {
    expect(quick.length).toBeGreaterThan(5);
    for (const { label, sets } of quick)
      for (const [finding, value] of Object.entries(sets)) {
        const d = findings[finding]!;
        expect(d.type === "choice" && d.values.includes(value), `${label}: ${finding}`).toBe(true);
      }
  });
  it("set only findings of their own group, so that the eye has been there", () => {
    for (const g of groups)
      for (const { label, sets } of g.quick)
        for (const finding of Object.keys(sets)) expect(g.findings, `${label}: ${finding}`).toContain(finding);
  });
});

describe("rules", () => {
  it("have an id each", () => expect(repeated(RULES.map((r) => r.id))).toEqual([]));
  it("read every finding: none is asked for nothing", () => {
    const read = new Set(rows.flatMap(Object.keys));
    expect(Object.keys(findings).filter((f) => !read.has(f) && f !== "weightKg")).toEqual([]);
  });
  it("use every sign", () => {
    // Some signs are read under another country's tetanus scheme only; "blockForbidden" is read by the dose arithmetic.
    const uk = pathwayWith({ "hand.tetanusScheme": "UK" });
    const read = new Set(
      [...rows, ...uk.signs.flatMap((s) => s.any), ...uk.tables.flatMap((t) => t.rules.map((r) => r.when))].flatMap(
        Object.keys,
      ),
    );
    expect(signNames.filter((s) => !read.has(s) && s !== "blockForbidden")).toEqual([]);
  });
  it("rest on the signs that the shared rules of the hand expect", () => {
    expect(MODULE_SIGN_NAMES.filter((n) => !signNames.includes(n))).toEqual([]);
  });
  it("answer exactly once where a table answers once, whatever the case", () => {
    for (const t of pathway.tables.filter((t) => t.answers === "one"))
      expect(flawsOfOne(t, findings, signNames), t.id).toEqual([]);
  });
  it("describe every class they name, and name every class described", () => {
    const named = new Set(effects.flatMap((e) => (e.kind === "class" ? [e.class] : [])));
    expect([...named].sort()).toEqual(Object.keys(classes).sort());
  });
  it("give visits and splints days in order", () => {
    for (const e of effects) {
      if (e.kind === "visit")
        expect(e.visit.earliest <= e.visit.ideal && e.visit.ideal <= e.visit.latest, e.visit.check).toBe(true);
      if (e.kind === "splint") expect(e.splint.days.from <= e.splint.days.to, e.splint.what).toBe(true);
      if (e.kind === "splint") expect(e.splint.joints.filter((j) => e.splint.free.includes(j))).toEqual([]);
    }
  });
});

describe("site values", () => {
  const numbers = Object.entries(policy).flatMap(([key, v]) =>
    v.type === "number" && key.startsWith("distalPhalanx.") ? [[key, v] as const] : [],
  );
  it("each have a note, a unit, a source and a default inside their bounds", () => {
    expect(numbers.length).toBeGreaterThan(10);
    for (const [key, v] of numbers) {
      expect(v.note.length, key).toBeGreaterThan(10);
      expect(v.value >= v.min && v.value <= v.max, key).toBe(true);
      expect(
        v.sources.some((s) => s.says === "for"),
        key,
      ).toBe(true);
    }
  });
  it("keep their order whatever a site chooses: by their bounds, or because the policy is refused otherwise", () => {
    const pairs = [
      ["mallet.discussSharePercent", "mallet.referSharePercent"],
      ["mallet.bonyFromDays", "mallet.toDays"],
      ["mallet.tendinousFromDays", "mallet.toDays"],
      ["tuft.fromDays", "tuft.toDays"],
      ["tuft.childFromDays", "tuft.childToDays"],
      ["tuft.woundedFromDays", "tuft.toDays"],
      ["shaft.fromDays", "shaft.toDays"],
      ["tuft.motionFromDays", "tuft.motionToDays"],
      ["mallet.wireFromDays", "mallet.wireToDays"],
      ["jersey.repairDays", "jersey.largeFragmentDays"],
    ] as const;
    for (const [low, high] of pairs) {
      const l = policy[`distalPhalanx.${low}`]!;
      const h = policy[`distalPhalanx.${high}`]!;
      const held =
        l.type === "number" && h.type === "number" && (l.max <= h.min || l.notAbove === `distalPhalanx.${high}`);
      expect(held, `${low} <= ${high}`).toBe(true);
    }
  });
  it("compile at every corner, visits and splints still in order", () => {
    for (const corner of ["min", "max"] as const) {
      const at = pathwayWith(Object.fromEntries(numbers.map(([key, v]) => [key, v[corner]])));
      for (const e of at.tables.flatMap((t) => t.rules.flatMap((r) => r.then as readonly Effect[]))) {
        if (e.kind === "visit")
          expect(e.visit.earliest <= e.visit.ideal && e.visit.ideal <= e.visit.latest, e.visit.check).toBe(true);
        if (e.kind === "splint") expect(e.splint.days.from <= e.splint.days.to, e.splint.what).toBe(true);
      }
    }
  });
});

describe("every complete record", () => {
  it("ends in a class, an exit, or a request that says what is wrong, always with an urgency", () => {
    fc.assert(
      fc.property(completeRecord, (facts) => {
        const a = assessDigit(pathway, facts);
        expect(a.urgency.level).toBeDefined();
        expect(a.urgency.open).toBe(false);
        const classed = a.classes.some((c) => !classes[c.class]!.scheme);
        expect(classed || a.exits.length > 0 || a.quality.some((q) => q.effect.blocks)).toBe(true);
      }),
      { numRuns: 1500 },
    );
  });
  it("leaves nothing to ask and nothing open", () => {
    fc.assert(
      fc.property(completeRecord, (facts) => {
        const a = assessDigit(pathway, facts);
        expect(a.ask).toEqual([]);
        expect(a.stillPossible).toEqual([]);
      }),
      { numRuns: 1000 },
    );
  });
  it('never hears "no operation" beside "operate" or "refer", and never wears two splints', () => {
    fc.assert(
      fc.property(completeRecord, (facts) => {
        const a = assessDigit(pathway, facts);
        const calls = a.management.map((m) => m.effect.call);
        if (calls.includes("non-operative")) {
          expect(calls).not.toContain("operative");
          expect(calls).not.toContain("must-refer");
        }
        expect(a.splints.length).toBeLessThanOrEqual(1);
      }),
      { numRuns: 1500 },
    );
  });
});

describe("every rule", () => {
  /** Random records first; then, for the rare rules, records built to fit them. */
  it("speaks in some complete record", () => {
    const reached = new Set<string>();
    const note = (facts: Record<string, string | number | undefined>) => {
      for (const v of pathway.evaluate(facts).verdicts) for (const r of v.sure) reached.add(r.id);
    };
    for (const facts of fc.sample(completeRecord, { numRuns: 4000, seed: 7 })) note(facts);
    const bySign = new Map(pathway.signs.map((s) => [s.name, s]));
    const fill = (row: Record<string, unknown>, into: Record<string, string | number>): void => {
      for (const [column, cell] of Object.entries(row)) {
        const sign = bySign.get(column);
        if (sign) {
          if (cell === "yes") fill(sign.any[0] as Record<string, unknown>, into);
        } else if (typeof cell === "object" && cell !== null && "from" in cell) {
          const { from, under } = cell as { from: number; under: number };
          const { min, max } = findings[column] as { min: number; max: number };
          into[column] = (Math.max(from, min) + Math.min(under, max)) / 2;
        } else into[column] = Array.isArray(cell) ? cell[0] : (cell as string);
      }
    };
    for (const rule of RULES.filter((r) => !reached.has(r.id))) {
      const facts = { ...ADULT } as Record<string, string | number>;
      fill(rule.when as Record<string, unknown>, facts);
      note(facts);
    }
    expect(RULES.map((r) => r.id).filter((id) => !reached.has(id))).toEqual([]);
  });
});

it("stands under the default policy that the site reads", () => {
  expect(Object.keys(policy).filter((key) => !(key in defaultPolicy.values))).toEqual([]);
});

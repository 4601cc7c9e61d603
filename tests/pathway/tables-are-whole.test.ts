import { describe, expect, it } from "vitest";
import { STRENGTH_WORDS } from "../../src/pathway/evidence/citation.ts";
import { SOURCES } from "../../src/pathway/evidence/sources.ts";
import { URGENCIES, VISIT_PURPOSES } from "../../src/pathway/hand/effects.ts";
import { POLICY_DEFINITIONS } from "../../src/pathway/index.ts";
import { readUntilShown } from "../../src/pathway/reasoning/statements.ts";
import { pathwayWith } from "./distal-phalanx/records.ts";

/** The pathway under the default policy, and with each other choice that a site has. */
const everywhere = [
  {},
  ...Object.entries(POLICY_DEFINITIONS).flatMap(([key, d]) =>
    d.type === "choice" ? d.options.filter((o) => o !== d.value).map((option) => ({ [key]: option })) : [],
  ),
].map(pathwayWith);
const CITED = [...Object.keys(SOURCES), "COMMON-PRACTICE", "FROM-MEMORY"];

describe("under every choice of a site", () => {
  it("each table has a name of its own, a question, and says how it answers", () => {
    for (const { tables } of everywhere) {
      expect(new Set(tables.map((t) => t.id)).size).toBe(tables.length);
      for (const t of tables) {
        expect(t.id, t.question).toMatch(/^[a-z0-9-]+$/i);
        expect(t.question, t.id).toMatch(/\S\?$/);
        expect(["one", "every"], t.id).toContain(t.answers);
        expect(t.rules.length, t.id).toBeGreaterThan(0);
      }
    }
  });
  it("each rule has a name, a reason, something to say, and sources that are listed, with their strength and side", () => {
    for (const { tables } of everywhere)
      for (const r of tables.flatMap((t) => t.rules)) {
        expect(r.id).toMatch(/^[A-Za-z0-9-]+$/);
        expect(r.because.length, r.id).toBeGreaterThan(10);
        expect(r.then.length, r.id).toBeGreaterThan(0);
        expect(r.sources.length, r.id).toBeGreaterThan(0);
        for (const c of r.sources) {
          expect(CITED, r.id).toContain(c.source);
          expect(["for", "against"], r.id).toContain(c.says);
          expect(Object.keys(STRENGTH_WORDS), r.id).toContain(c.strength);
        }
        expect(
          r.sources.some((c) => c.says === "for"),
          r.id,
        ).toBe(true);
      }
  });
  it("each effect names an urgency, purpose, joint and first day that exist, and its days are in order", () => {
    for (const { tables } of everywhere)
      for (const r of tables.flatMap((t) => t.rules))
        for (const e of r.then) {
          if (e.kind === "exit" || e.kind === "urgency") expect(URGENCIES, r.id).toContain(e.urgency);
          if (e.kind === "exit") for (const text of [e.exit, e.title, e.sendTo, e.say]) expect(text, r.id).not.toBe("");
          if (e.kind === "visit") {
            const v = e.visit;
            expect(VISIT_PURPOSES, r.id).toContain(v.purpose);
            expect(["injury", "treatment", "operation"], r.id).toContain(v.countFrom ?? "injury");
            expect([v.earliest, v.ideal, v.latest], r.id).toEqual(
              [v.earliest, v.ideal, v.latest].sort((a, b) => a - b),
            );
            expect(v.who, r.id).not.toBe("");
            if (v.onlyIf !== undefined) expect(v.onlyIf, r.id).toMatch(/^if /);
          }
          if (e.kind === "splint") {
            const { joints, free, days } = e.splint;
            for (const joint of [...joints, ...free]) expect(["DIP", "PIP", "MCP", "wrist"], r.id).toContain(joint);
            expect(
              free.filter((j) => joints.includes(j)),
              r.id,
            ).toEqual([]);
            expect(days.from, r.id).toBeLessThanOrEqual(days.to);
          }
        }
  });
  it("each sign has a name and words of its own", () => {
    for (const { signs } of everywhere) {
      expect(new Set(signs.map((s) => s.name)).size).toBe(signs.length);
      for (const s of signs) expect(s.words, s.name).toMatch(/\S/);
    }
  });
});

describe("findings that may stay unanswered for good", () => {
  it("are those that a sign reads which counts as no until it is shown, itself and through other signs", () => {
    const inner = { name: "inner", words: "inner", any: [{ a: "yes" }, { b: "yes", c: "yes" }] };
    const other = { name: "other", words: "other", any: [{ d: "yes" }] };
    const shown = { name: "shown", words: "shown", any: [{ inner: "yes" }, { e: "yes" }], noUntilShown: true } as const;
    const signs = [inner, other, shown] as readonly object[] as Parameters<typeof readUntilShown>[0];
    expect([...readUntilShown(signs)].sort()).toEqual(["a", "b", "c", "e"]);
    expect(readUntilShown(signs)).toBe(readUntilShown(signs));
    expect(readUntilShown([inner, other] as readonly object[] as typeof signs)).toEqual([]);
  });
});

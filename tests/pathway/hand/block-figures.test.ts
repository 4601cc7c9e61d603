import { describe, expect, it } from "vitest";
import { epinephrine, handFigures, labelCeilingMg, plainLimitMg } from "../../../src/pathway/hand/anaesthetic.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { handPolicy } from "./hand-pathway.ts";

/*
 * Figures as the US label of lidocaine prints them: 4.5 mg/kg and 300 mg plain, 7 mg/kg and 500 mg with epinephrine, 75-100 mg for a child of 5
 * years and 50 lb (22.7 kg). The limit of a hand service, the reduction for infants and the age at which the child's rule ends are common
 * practice, no source.
 */
const BLOCK = { blockLikely: "yes", blockForbidden: "no", epinephrineRisk: "no", digit: "ring" };
const lines = (facts: Facts, policy = handPolicy()) => handFigures({ ...BLOCK, ...facts }, policy).anaesthetic;
const said = (facts: Facts, policy = handPolicy()) => lines(facts, policy).map((l) => `${l.rule} ${l.text}`);
const sources = (facts: Facts) =>
  lines(facts).map(
    (l) => `${l.rule} ${l.sources.map((c) => (c.says === "against" ? `not ${c.source}` : c.source)).join(", ")}`,
  );
const USUAL =
  "LA7 Usual block: 2-5 mL of 1-2 % per finger, 0.5-1 mL at each of four points; wait 5 minutes. Count every local anaesthetic given.";
const TWO = "LA8 The two palmar nerves alone cover the tip of this finger.";
const FOUR = "LA8 Block all four nerves of this digit.";

describe("figures for a finger block", () => {
  it("of an adult of 70 kg: service limit or label, and the mixture while nothing speaks against epinephrine", () => {
    const adult = { ageYears: 40, weightKg: 70 };
    const all = said(adult);
    expect(all.map((l) => l.split(" ")[0])).toEqual(expect.arrayContaining(["LA1", "LA2", "LA3", "LA7", "LA8"]));
    expect(all).toContain(
      "LA1 Plain lidocaine, US label: 4.5 mg/kg × 70 kg = 315 mg, never above 300 mg: 300 mg = 30 mL of 1 % or 15 mL of 2 %.",
    );
    expect(all).toContain(
      "LA2 Lidocaine with epinephrine, US label: 7 mg/kg × 70 kg = 490 mg, never above 500 mg: 490 mg = 49 mL of 1 % or 24.5 mL of 2 %.",
    );
    expect(all.slice(-2)).toEqual([USUAL, TWO]);
    expect(sources(adult)).toEqual(
      expect.arrayContaining([
        "LA1 LIDO-LABEL, not ACI-DB",
        "LA2 LIDO-LABEL",
        "LA3 ACI-DB, not LIDO-LABEL",
        "LA7 ACI-DB",
        "LA8 ANESKEY-DB",
      ]),
    );
    for (const risk of ["yes", "not-asked", undefined])
      expect(
        said({ ...adult, epinephrineRisk: risk }).some((l) => l.startsWith("LA2")),
        String(risk),
      ).toBe(false);
    expect(said(adult, handPolicy({ "hand.epinephrineInFinger": "avoid" })).some((l) => l.startsWith("LA2"))).toBe(
      false,
    );
  });
  it("the one that the site goes by comes first", () => {
    const order = (by: string) =>
      said({ ageYears: 40, weightKg: 70 }, handPolicy({ "hand.lidocaineCeiling": by }))
        .map((l) => l.split(" ")[0])
        .slice(0, 2);
    expect(order("service")).toEqual(["LA3", "LA1"]);
    expect(order("label")).toEqual(["LA1", "LA3"]);
  });
  it("the service limit says that it is capped only where the label caps it", () => {
    const limit = (weightKg: number) => said({ ageYears: 40, weightKg }).find((l) => l.startsWith("LA3"))!;
    expect(limit(70)).not.toContain("capped");
    expect(limit(200)).toContain("capped at 300 mg");
  });
  it("of a child of 8 years and 20 kg: by weight alone, no mixture", () => {
    const child = said({ ageYears: 8, weightKg: 20 });
    expect(child).toHaveLength(3);
    expect(child[0]).toMatch(
      /^LA4 Plain lidocaine, under 12 years: [\d.]+ mg\/kg × 20 kg = [\d.]+ mg, at most \d+ mg = /,
    );
    expect(sources({ ageYears: 8, weightKg: 20 })[0]).toBe("LA4 LIDO-LABEL, COMMON-PRACTICE");
  });
  it("of a heavy child: the label's example caps it up to the end of the sixth year, the label itself after it", () => {
    expect(said({ ageYears: 5, weightKg: 60 })[0]).toContain(
      "(the label's example for 5 years caps it at 75 mg), at most 75 mg",
    );
    expect(said({ ageYears: 5.9, weightKg: 60 })[0]).toContain("at most 75 mg");
    expect(said({ ageYears: 6, weightKg: 60 })[0]).not.toContain("example for");
    expect(said({ ageYears: 11, weightKg: 120 })[0]).toContain("(the label caps it at 300 mg), at most 300 mg");
    expect(lines({ ageYears: 5, weightKg: 60 })[0]!.because).toContain(
      "75-100 mg at 5 years and 22.7 kg (3.3-4.4 mg/kg)",
    );
  });
  it("of an infant under six months: the dose falls by 30 %", () => {
    const infant = { ageYears: 0.25, weightKg: 6 };
    expect(said(infant)[0]).toMatch(/^LA5 .* minus 30 %, at most \d+ mg/);
    expect(sources(infant)[0]).toBe("LA5 LIDO-LABEL, AAP-SED, COMMON-PRACTICE");
    expect(said({ ...infant, ageYears: 0.5 })[0]).toMatch(/^LA4 /);
    expect(plainLimitMg(6, 4, 0.25)).toBe(16);
    expect(plainLimitMg(6, 4, 0.5)).toBe(24);
  });
  it("the child's rule ends on the twelfth birthday", () => {
    expect(said({ ageYears: 11.99, weightKg: 40 })[0]).toMatch(/^LA4 /);
    expect(said({ ageYears: 12, weightKg: 40 }).map((l) => l.split(" ")[0])).not.toContain("LA4");
  });
  it("which nerves: two for the middle fingers, four for thumb and little finger, none said for an unknown digit", () => {
    const nerves = (digit: string | undefined) =>
      said({ ageYears: 40, weightKg: 70, digit }).filter((l) => l.startsWith("LA8"));
    for (const digit of ["index", "middle", "ring"]) expect(nerves(digit)).toEqual([TWO]);
    for (const digit of ["thumb", "little"]) {
      expect(nerves(digit)).toEqual([FOUR]);
      expect(
        lines({ ageYears: 40, weightKg: 70, digit })
          .at(-1)!
          .sources.map((c) => c.source),
      ).toEqual(["ANESKEY-DB"]);
    }
    expect(nerves(undefined)).toEqual([]);
  });
  it("without age, weight or the reasons against a block: no ceiling, only what to ask", () => {
    const figures = (facts: Facts) => handFigures({ ...BLOCK, ...facts }, handPolicy());
    expect(figures({ ageYears: 40 })).toMatchObject({ needs: ["weightKg"] });
    expect(figures({ ageYears: 40 }).anaesthetic.map((l) => l.rule)).toEqual(["LA7", "LA8"]);
    expect(figures({ weightKg: 70, ageYears: "cannot-tell" }).needs).toEqual(["ageYears"]);
    expect(figures({ weightKg: 70, ageYears: 40, blockForbidden: undefined })).toMatchObject({ needs: [] });
    expect(figures({ weightKg: 70, ageYears: 40, blockForbidden: undefined }).anaesthetic).toHaveLength(2);
    for (const none of [{ blockForbidden: "yes" }, { blockLikely: "no" }, { blockLikely: undefined }])
      expect(figures({ ageYears: 40, weightKg: 70, ...none })).toEqual({ anaesthetic: [], needs: [] });
  });
  it("the label's ceilings, in whole milligrams rounded down", () => {
    expect(labelCeilingMg(10.3, false)).toBe(46);
    expect(labelCeilingMg(70, true)).toBe(490);
    expect(labelCeilingMg(90, true)).toBe(500);
  });
});

describe("epinephrine in the finger", () => {
  const rules = (by: string) => epinephrine(handPolicy({ "hand.epinephrineInFinger": by })).rules;
  it("is the choice of the site where nothing speaks against it, and is always refused where something does", () => {
    expect(rules("allow").map((r) => r.id)).toEqual(["LA-E1", "LA-E2"]);
    expect(rules("avoid").map((r) => r.id)).toEqual(["LA-E1", "LA-E3"]);
    const dissent = (by: string) => rules(by)[1]!.sources.map((c) => `${c.says} ${c.source}`);
    expect(dissent("allow")).toContain("against DOSREIS16");
    expect(dissent("avoid")).toContain("for DOSREIS16");
    expect(dissent("avoid")).toContain("against EPI-BET");
  });
});

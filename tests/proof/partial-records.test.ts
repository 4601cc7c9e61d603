import { describe, expect, it } from "vitest";
import { askNext, assessDigit } from "../../src/pathway/index.ts";
import { ADULT, CHILD, pathway, valuesOf, without } from "../pathway/distal-phalanx/records.ts";
import { againstCompletions, partialRecords } from "./partial-records.ts";
import { spaceOf } from "./space.ts";

const RECORDS = 800;
const SEED = Number(process.env.FAST_CHECK_SEED ?? 20_261_125);
const space = spaceOf(pathway);

describe("of a partial record", () => {
  it("what is sure, possible, open and urgent is exactly what its completions give, each tried by the shipped evaluator", () => {
    const begun = performance.now();
    let completions = 0;
    const flaws = partialRecords(space, RECORDS, SEED).flatMap((facts) => {
      const compared = againstCompletions(space, facts);
      completions += compared.completions;
      return compared.flaws;
    });
    console.log(
      `${RECORDS} partial records, ${completions} completions tried in ${((performance.now() - begun) / 1000).toFixed(1)} s`,
    );
    expect(flaws.slice(0, 3)).toEqual([]);
    expect(completions).toBeGreaterThan(RECORDS * 10);
  });
  it("a tip that nobody can judge stands as an emergency while looking again is still offered", () => {
    const unseen = {
      ...without(ADULT, "perfusionAfterFirstSteps"),
      tipColour: "cannot-tell",
      capillaryRefill: "cannot-tell",
    };
    const a = assessDigit(pathway, unseen);
    expect(a.urgency.level).toBe("NOW");
    expect(a.ask).toEqual(["perfusionAfterFirstSteps"]);
  });
});

describe("the next question", () => {
  const answered = (from: Readonly<Record<string, unknown>>, known: Readonly<Record<string, string | number>> = {}) => {
    const facts: Record<string, string | number> = { ...known };
    const asked: string[] = [];
    for (let next = askNext(pathway, facts); next !== undefined; next = askNext(pathway, facts)) {
      asked.push(next);
      facts[next] = from[next] as string;
    }
    return { asked, facts };
  };
  it("asks red flags before all else", () => {
    const { asked } = answered(ADULT);
    const flags = new Set(
      pathway.tables.filter((t) => t.gate).flatMap((t) => t.rules.flatMap((r) => Object.keys(r.when))),
    );
    const first = asked.findIndex((f) => !flags.has(f) && !READ_BY_SIGNS.includes(f));
    expect(asked.slice(first).filter((f) => flags.has(f))).toEqual([]);
  });
  const READ_BY_SIGNS = [
    "tipColour",
    "capillaryRefill",
    "perfusionAfterFirstSteps",
    "openness",
    "nailPlate",
    "nailBed",
    "contamination",
  ];
  it.each([
    ["a tuft fracture", { ...ADULT, fractureSite: "tuft" }],
    ["a bony mallet", { ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 25, activeExtension: "lag" }],
    [
      "a child with a nail over its fold",
      { ...CHILD, nailPlate: "over-fold", fractureSite: "physis", salterHarris: "I" },
    ],
  ] as const)("of %s leads to the settled plan that all answers together give, in fewer questions", (_, full) => {
    const { asked, facts } = answered(full);
    expect(asked.length).toBeLessThan(Object.keys(ADULT).length);
    expect(new Set(asked).size).toBe(asked.length);
    const short = assessDigit(pathway, facts);
    expect(short).toMatchObject({ ask: [], state: "settled" });
    expect(short).toEqual(assessDigit(pathway, full));
  });
  it("is one that some answer changes the rest with: no answer leaves everything as it was", () => {
    const facts: Record<string, string | number> = {};
    for (let next = askNext(pathway, facts); next !== undefined; next = askNext(pathway, facts)) {
      const finding = next;
      const outcomes = new Set(
        valuesOf(finding).map((value) =>
          JSON.stringify({ ...assessDigit(pathway, { ...facts, [finding]: value }), ask: [] }),
        ),
      );
      expect([finding, outcomes.size]).not.toEqual([finding, 1]);
      facts[finding] = ADULT[finding]!;
    }
  });
});

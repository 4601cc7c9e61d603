import { beforeAll, describe, expect, it } from "vitest";
import { URGENCIES } from "../../src/pathway/index.ts";
import { ALWAYS } from "../../src/pathway/reasoning/statements.ts";
import { distalPhalanx, pathwayWith } from "../pathway/distal-phalanx/records.ts";
import { contradictions } from "./contradictions.ts";
import { spaceOf, witnessOf } from "./space.ts";
import {
  dosesAboveLabel,
  everyRecordPlaced,
  exactlyOne,
  guards,
  nothingRoutineIsOperated,
  redFlagsNeverCalm,
  silentRules,
  urgenciesReached,
} from "./whole-space.ts";

type Values = Readonly<Record<string, number | string>>;
/** Every number that a site may set, at one end of what it may set. */
const corner = (end: "min" | "max"): Values =>
  Object.fromEntries(
    Object.entries(distalPhalanx.policy).flatMap(([key, d]) => (d.type === "number" ? [[key, d[end]]] : [])),
  );
const SITES: readonly (readonly [string, Values])[] = [
  ["the default policy", {}],
  ["a site in the United Kingdom", { "hand.tetanusScheme": "UK", "hand.openShaftAntibiotic": "singleDose" }],
  ["a site in Australia", { "hand.tetanusScheme": "AU", "hand.openShaftAntibiotic": "upTo72h" }],
  ["a site with every number at its lowest", corner("min")],
  ["a site with every number at its highest", corner("max")],
];

describe.each(SITES)("over every complete record, under %s", (_, values) => {
  const pathway = pathwayWith(values);
  const space = spaceOf(pathway);
  let begun: number;
  beforeAll(() => {
    begun = performance.now();
  });
  it("tables that answer with one row have exactly one", () => expect(exactlyOne(space)).toEqual([]));
  it("there is an urgency, and a class, an exit or a word on why not yet", () => {
    expect(everyRecordPlaced(space)).toEqual([]);
    expect(urgenciesReached(space)).toEqual(URGENCIES);
  });
  it("no two lines contradict each other, no drug is chosen against an allergy", () =>
    expect(contradictions(space)).toEqual([]));
  it("nobody is operated or referred and routine at once", () => expect(nothingRoutineIsOperated(space)).toEqual([]));
  it("the guards hold", () => expect(guards(space)).toEqual([]));
  it("no ceiling of a local anaesthetic lies above the label or stands without a weight", () =>
    expect(dosesAboveLabel(pathway.policy)).toEqual([]));
  it("no red flag lowers the urgency, or takes an exit away unless a more urgent one takes its place", () =>
    expect(redFlagsNeverCalm(space)).toEqual([]));
  it("every rule is heard for some record, and the record shows it to the shipped evaluator too", () => {
    expect(silentRules(space)).toEqual([]);
    const { diagrams } = space.statements;
    const unheard = space.rules.filter(({ rule, heard }) => {
      const facts = witnessOf(space, diagrams.and(heard, space.complete))!;
      return !pathway.evaluate(facts).verdicts.some((v) => v.sure.includes(rule));
    });
    expect(unheard.map((r) => r.rule.id)).toEqual([]);
    console.log(
      `${space.records.toExponential(1)} records, ${space.rules.length} rules proven in ${((performance.now() - begun) / 1000).toFixed(1)} s`,
    );
    expect(space.complete).not.toBe(ALWAYS);
  });
});

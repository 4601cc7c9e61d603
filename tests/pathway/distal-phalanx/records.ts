import fc from "fast-check";
import { MODULES, type Pathway, pathwayFor, readSitePolicy } from "../../../src/pathway/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { cutPoints } from "../every-case.ts";

export const distalPhalanx = MODULES.find((m) => m.id === "distal-phalanx")!;
const read = readSitePolicy(undefined);
if (!read.ok) throw new Error("the default policy is refused");
export const defaultPolicy = read.policy;
/** The pathway under the default policy, or with some site values changed. */
export const pathwayWith = (values: Readonly<Record<string, number | string>> = {}): Pathway =>
  pathwayFor(distalPhalanx, { ...defaultPolicy, values: { ...defaultPolicy.values, ...values } });
export const pathway = pathwayWith();

export const rows = [
  ...pathway.signs.flatMap((s) => s.any),
  ...pathway.tables.flatMap((t) => t.rules.map((r) => r.when)),
] as Readonly<Record<string, unknown>>[];

/** Every value of one finding that some rule can tell apart, within the bounds that input is checked against. */
export const valuesOf = (finding: string): readonly (string | number)[] => {
  const d = distalPhalanx.findings[finding]!;
  if (d.type === "choice") return d.values;
  const points = cutPoints(rows, finding).filter((v) => v >= d.min && v <= d.max);
  return points.length > 0 ? points : [d.min, d.max];
};

/** What an ordinary injury answers; any record may still differ from it anywhere. */
export const HEALTHY: Facts = {
  otherSeriousInjury: "no",
  mangled: "no",
  tissueLoss: "none",
  jointDislocated: "no",
  infectionSigns: "none",
  sheathSigns: "no",
  foreignBody: "no",
  boneLesion: "no",
  lysisOrPeriostealReaction: "no",
  tipColour: "pink",
  capillaryRefill: "brisk",
  sensation: "normal",
  coldPointPainBlueSpot: "no",
  safeguardingConcern: "no",
};

const GROWN = 40;
const finding = (id: string): fc.Arbitrary<string | number> => {
  const any = fc.constantFrom(...valuesOf(id));
  // Most limits on age are a child's; without this nearly every record would be one.
  if (id === "ageYears") return fc.oneof(any, fc.constant(GROWN));
  const healthy = HEALTHY[id];
  return healthy === undefined
    ? any
    : fc.oneof({ weight: 12, arbitrary: fc.constant(healthy) }, { weight: 1, arbitrary: any });
};
const ids = Object.keys(distalPhalanx.findings);
/** Complete records; red flags are rare in them, so that what comes after the exits is seen too. */
export const completeRecord: fc.Arbitrary<Facts> = fc.record(Object.fromEntries(ids.map((id) => [id, finding(id)])));
/** A complete record with some answers taken away: "cannot-tell" or not asked. */
export const partialRecord: fc.Arbitrary<{ full: Facts; partial: Facts }> = fc
  .tuple(
    completeRecord,
    fc.array(fc.constantFrom("kept", "kept", "not-asked", "cannot-tell"), {
      minLength: ids.length,
      maxLength: ids.length,
    }),
  )
  .map(([full, fate]) => ({
    full,
    partial: Object.fromEntries(ids.map((id, i) => [id, fate[i] === "kept" ? full[id] : fate[i]])) as Facts,
  }));

import fc from "fast-check";
import { assessDigit, MODULES, type Pathway, pathwayFor, readSitePolicy } from "../../../src/pathway/index.ts";
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
const ids = Object.keys(distalPhalanx.findings);
const values = ids.map(valuesOf);
/** One answer from one number: red flags are rare, so that what comes after the exits is seen too, and half the patients are grown up. */
const answerFrom = (n: number, i: number): string | number => {
  const healthy = HEALTHY[ids[i]!];
  if (healthy !== undefined && n % 13 !== 12) return healthy;
  if (ids[i] === "ageYears" && n % 2 === 1) return GROWN;
  return values[i]![Math.floor(n / 13) % values[i]!.length]!;
};
const numbers = fc.uint16Array({ minLength: ids.length, maxLength: ids.length });
const recordFrom = (from: Uint16Array): Facts => Object.fromEntries(ids.map((id, i) => [id, answerFrom(from[i]!, i)]));
/** Complete records: every finding has one of the values that some rule can tell apart. */
export const completeRecord: fc.Arbitrary<Facts> = numbers.map(recordFrom);
const FATES = ["kept", "kept", "not-asked", "cannot-tell"] as const;
/** A complete record, and the same with about half of its answers taken away. */
export const partialRecord: fc.Arbitrary<{ full: Facts; partial: Facts }> = fc
  .tuple(numbers, numbers)
  .map(([from, fates]) => {
    const full = recordFrom(from);
    const fate = (i: number) => FATES[fates[i]! % FATES.length]!;
    return { full, partial: Object.fromEntries(ids.map((id, i) => [id, fate(i) === "kept" ? full[id] : fate(i)])) };
  });

/** A healthy adult, seen two hours after a closed injury with good films: every finding answered, no fracture yet. */
export const ADULT: Facts = {
  ...HEALTHY,
  ageYears: 40,
  weightKg: 70,
  pregnant: "no",
  diabetes: "no",
  immuneCompromise: "no",
  arterialDisease: "no",
  vasospasm: "no",
  bleedingTendency: "no",
  smoker: "no",
  cannotKeepSplint: "no",
  liverOrHeartDisease: "no",
  penicillinAllergy: "none",
  otherAntibioticAllergy: "no",
  localAnaestheticAllergy: "no",
  latexOrAdhesiveAllergy: "no",
  metalAllergy: "no",
  dominantHand: "right",
  handDependentWork: "no",
  tetanusDoses: "three-or-more",
  tetanusYearsSinceLast: 2,
  tetanusPreschoolBooster: "yes",
  mechanism: "crush",
  biteBloodDrawn: "no",
  biteDeepOrDirty: "no",
  hoursSinceInjury: 2,
  presentation: "first",
  workRelated: "no",
  contamination: "clean",
  ringsOnHand: "no",
  dislocationDirection: "dorsal",
  digit: "middle",
  side: "right",
  perfusionAfterFirstSteps: "restored",
  openness: "closed",
  bloodAtNailFold: "no",
  devitalised: "no",
  washoutPossible: "done-well",
  nailPlate: "intact-seated",
  haematoma: "none",
  haematomaPainful: "no",
  nailBed: "not-seen",
  acrylicNail: "no",
  activeExtension: "full",
  passiveExtension: "full",
  activeFlexion: "present",
  restingPosition: "in-line",
  tendonEndAt: "not-located",
  fullSplintTimeDone: "no",
  lagDegrees: 0,
  woundOverJoint: "no",
  nailPlaneRotation: "none",
  filmTaken: "yes",
  trueLateral: "seen",
  fractureSite: "no-fracture-seen",
  fracturePattern: "simple",
  displacement: "none-seen",
  translationMm: 0,
  corticalContact: "yes",
  angulationDegrees: 0,
  tiltOfTip: "to-palm",
  nailBedInGap: "no",
  articularSharePercent: 0,
  jointPosition: "congruent",
  jointInSplint: "not-filmed",
  fragmentGapMm: 0,
  jointStepMm: 0,
  physis: "closed",
  salterHarris: "none",
  dorsalPhysealWidening: "no",
  physisTender: "no",
  epiphysisTurned: "no",
  volarFragmentAt: "none",
  restOfPhalanx: "intact",
};
/** The same injury in a child with an open growth plate. */
export const CHILD: Facts = { ...ADULT, ageYears: 10, weightKg: 32, physis: "open" };
export const without = (facts: Facts, ...ids: readonly string[]): Facts =>
  Object.fromEntries(Object.entries(facts).filter(([id]) => !ids.includes(id)));

/** What the assessment of one digit says, in ids: enough for most stories. */
export function told(facts: Facts, on: Pathway = pathway) {
  const a = assessDigit(on, facts);
  const scheme = (id: string) => distalPhalanx.classes[id]?.scheme;
  return {
    assessment: a,
    classes: a.classes.map((c) => c.class).filter((c) => !scheme(c)),
    published: a.classes.map((c) => c.class).filter((c) => scheme(c) && !c.startsWith("AO-")),
    ao: a.classes.filter((c) => c.class.startsWith("AO-")).map((c) => c.name),
    possible: a.possibleClasses.map((c) => c.class),
    exits: a.exits.map((e) => e.rule),
    urgency: a.urgency.level,
    calls: a.management.map((m) => m.effect.call),
    blocked: a.quality.some((q) => q.effect.blocks),
    antibiotic: a.antibiotic.flatMap((l) => (l.effect.kind === "antibiotic" ? [l.effect.decision] : [])),
    visits: a.visits.map((v) => `${v.purpose} ${v.earliest}-${v.latest}`),
  };
}

import fc from "fast-check";
import type { Effect, EffectKind } from "../../../src/pathway/hand/effects.ts";
import {
  HAND_FINDINGS,
  HAND_POLICY,
  HAND_SIGN_NAMES,
  handSigns,
  handSignsAfterModule,
  handTables,
  LATE_HAND_SIGN_NAMES,
  MODULE_SIGN_NAMES,
} from "../../../src/pathway/hand/index.ts";
import type { SitePolicy } from "../../../src/pathway/policy/policy-value.ts";
import { checkSitePolicy } from "../../../src/pathway/policy/site-policy.ts";
import type { FindingDefinition, FindingDefinitions } from "../../../src/pathway/reasoning/finding.ts";
import type { Facts, Trace } from "../../../src/pathway/reasoning/program.ts";
import { evaluateAll } from "../every-case.ts";

/** A site's policy with some values of its own. */
export function handPolicy(values: SitePolicy["values"] = {}): SitePolicy {
  const read = checkSitePolicy(HAND_POLICY, {
    site: "Test site",
    approvedBy: "Dr Test",
    approvedOn: "2026-01-01",
    values,
  });
  if (!read.ok) throw new Error(JSON.stringify(read.problems));
  return read.policy;
}

/** Signs that stand as columns of the shared tables. */
export const SIGN_NAMES: readonly string[] = [...HAND_SIGN_NAMES, ...MODULE_SIGN_NAMES, ...LATE_HAND_SIGN_NAMES];

/** Hand findings, and the module's signs as if they were findings: the shared rules are tested without any bone. */
export const FINDINGS: FindingDefinitions = {
  ...HAND_FINDINGS,
  ...Object.fromEntries(
    MODULE_SIGN_NAMES.map((n): [string, FindingDefinition] => [
      n,
      { type: "choice", scope: "digit", values: ["yes", "no"] },
    ]),
  ),
};

/** Evaluates the shared rules under one policy. */
export const handRules = (policy: SitePolicy = handPolicy()): ((facts: Facts) => Trace) =>
  evaluateAll(FINDINGS, [...handSigns(policy), ...handSignsAfterModule(policy)], handTables(policy));

export const sureRules = (trace: Trace): string[] => trace.verdicts.flatMap((v) => v.sure.map((r) => r.id));
export const possibleRules = (trace: Trace): string[] => trace.verdicts.flatMap((v) => v.possible.map((r) => r.id));
export const sureEffects = <K extends EffectKind>(trace: Trace, kind: K): Extract<Effect, { kind: K }>[] =>
  trace.verdicts
    .flatMap((v) => v.sure.flatMap((r) => r.then as readonly Effect[]))
    .filter((e): e is Extract<Effect, { kind: K }> => e.kind === kind);
export const possibleEffects = <K extends EffectKind>(trace: Trace, kind: K): Extract<Effect, { kind: K }>[] =>
  trace.verdicts
    .flatMap((v) => v.possible.flatMap((r) => r.then as readonly Effect[]))
    .filter((e): e is Extract<Effect, { kind: K }> => e.kind === kind);

/** A healthy adult with a closed, stable, well-perfused injury an hour ago: every finding is answered. */
export const HEALTHY_CLOSED: Facts = {
  ageYears: 35,
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
  mechanism: "axial-load",
  biteBloodDrawn: "no",
  biteDeepOrDirty: "no",
  hoursSinceInjury: 1,
  presentation: "first",
  workRelated: "no",
  contamination: "clean",
  otherSeriousInjury: "no",
  safeguardingConcern: "no",
  ringsOnHand: "no",
  digit: "middle",
  side: "left",
  tipColour: "pink",
  capillaryRefill: "brisk",
  perfusionAfterFirstSteps: "restored",
  sensation: "normal",
  tissueLoss: "none",
  mangled: "no",
  jointDislocated: "no",
  dislocationDirection: "dorsal",
  sheathSigns: "no",
  infectionSigns: "none",
  openness: "closed",
  bloodAtNailFold: "no",
  devitalised: "no",
  washoutPossible: "done-well",
  foreignBody: "no",
  boneLesion: "no",
  lysisOrPeriostealReaction: "no",
  coldPointPainBlueSpot: "no",
  boneBroken: "yes",
  isolatedTuft: "no",
  surgeonTakesOver: "no",
  openPhysealFracture: "no",
  openPhysealSuspected: "no",
  openPhysealNotExcluded: "no",
  haematomaDrained: "no",
  physisOpen: "no",
  fdpLoss: "no",
  unstableFracture: "no",
  malletInjury: "no",
  malletEquivalentCorD: "no",
  blockLikely: "no",
};
/** The same person with an open, clean, well-washed fracture. */
export const CLEAN_OPEN: Facts = {
  ...HEALTHY_CLOSED,
  openness: "open-skin",
  mechanism: "crush",
  isolatedTuft: "yes",
  blockLikely: "yes",
};

const LIMITS: { readonly [finding: string]: readonly number[] } = {
  ageYears: [0.05, 0.2, 3, 5, 7, 10, 11, 12, 17, 18, 40, 80],
  weightKg: [3, 10, 20, 50, 70, 120],
  tetanusYearsSinceLast: [0, 4, 5, 9, 10, 10.1, 11, 40],
  hoursSinceInjury: [0, 5, 6, 11, 12, 23, 24, 48, 240, 672, 2000],
};
const valuesOf = ([id, d]: [string, FindingDefinition]): readonly (string | number)[] =>
  d.type === "choice" ? d.values : LIMITS[id]!;

/** Any complete record: every finding and every module sign known. */
export const anyCompleteCase: fc.Arbitrary<Facts> = fc
  .record(Object.fromEntries(Object.entries(FINDINGS).map((entry) => [entry[0], fc.constantFrom(...valuesOf(entry))])))
  // What is not excluded is suspected.
  .map((facts) => (facts.openPhysealNotExcluded === "yes" ? { ...facts, openPhysealSuspected: "yes" } : facts));
/** Any record, with findings missing or not to be told. */
export const anyCase: fc.Arbitrary<Facts> = fc.record(
  Object.fromEntries(
    Object.entries(FINDINGS).map((entry) => [
      entry[0],
      fc.constantFrom(...valuesOf(entry), "not-asked", "cannot-tell"),
    ]),
  ),
);

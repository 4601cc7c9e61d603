import { ADULT_YEARS, BONE_KEPT, daysInHours, type HandRecord, type ModuleSigns } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { Absent } from "../reasoning/known.ts";
import { from, type Row, type Sign, under } from "../reasoning/table.ts";
import type { DistalPhalanxFindings } from "./findings.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";

type SignName =
  | "onLateral"
  | "nailFoldInjured"
  | "physealLine"
  | "seymour"
  | "seymourSuspect"
  | "seymourPatternClosed"
  | "physealClosed"
  | "malletEquivalentB"
  | "malletEquivalentCorD"
  | "possiblePhyseal"
  | "physealInjury"
  | "jersey"
  | "volarChip"
  | "combinedBase"
  | "pilonBase"
  | "jointDisplaced"
  | "malletBony"
  | "tendinousMallet"
  | "openMallet"
  | "splintTimeOver"
  | "operationElsewhere"
  | "malletSlipped"
  | "malletLarge"
  | "malletMiddle"
  | "malletSmall"
  | "displaced"
  | "displacementDoubtful"
  | "shaft"
  | "baseExtra"
  | "stableShaft"
  | "shaftApart"
  | "tuft"
  | "boneBroken"
  | "noFracture"
  | "tendonUncleared"
  | "reducedDislocation"
  | "jerseySuspected"
  | "flexorInDoubt"
  | "jerseyAlone"
  | "jerseyFresh"
  | "jerseyBaseToHold"
  | "physisDisplaced"
  | "surgeonTakesOver"
  | "baseDisplaced"
  | "nailToExplore"
  | "nailBedTorn"
  | "nailMayFall"
  | "nailBedComplex"
  | "lesionAlone"
  | "lateralMissing";
/** Everything a row of this module may read. */
export type DistalPhalanxFacts = DistalPhalanxFindings &
  HandRecord & { readonly [S in SignName]: "yes" | "no" | Absent };

const TORN_BED = ["simple", "stellate", "crushed-or-avulsed", "germinal-matrix"] as const;
const TORN_PLATE = ["avulsed-at-fold", "over-fold", "missing", "split"] as const;
const WOUND_OVER_JOINT = ["cut", "skin-and-tendon-lost"] as const;
/** Open, whatever was answered to "open or closed": a torn nail bed, a wound over the joint, and "not sure" under a torn nail. */
export const ALSO_OPEN: readonly Row<DistalPhalanxFindings>[] = [
  { openness: "uncertain", nailPlate: TORN_PLATE },
  { nailBed: TORN_BED },
  { woundOverJoint: WOUND_OVER_JOINT },
];
/** A wound that does not open the fracture by itself. */
export const ALSO_WOUND: readonly Row<DistalPhalanxFindings>[] = [{ nailPlate: TORN_PLATE }];

/** Ways to pull a tendon off; a cut or a bite is a wound of its own. */
const NOT_CUT = [
  "crush",
  "axial-load",
  "forced-flexion",
  "forced-extension",
  "high-pressure-injection",
  "fall",
  "burn-or-frostbite",
  "no-adequate-trauma",
  "other",
] as const;

/** A deep flexor missed this long is no longer simply put back, nor splinted (DRBABA, common practice). */
export const MISSED_DAYS = 90;

/** Limits "more than x": a span counts its lower end in, so it starts just above x (finer than any film is read). */
export const moreThan = (x: number, under?: number) => from(x + 1e-6, under);

const sign = (
  name: SignName | keyof ModuleSigns,
  words: string,
  ...any: readonly Row<DistalPhalanxFacts>[]
): Sign<DistalPhalanxFacts> => ({ name, words, any });

/** Signs of the distal phalanx, each reading findings and signs before it. Order of the classes: growth plate, joint, shaft, tuft. */
export function distalPhalanxSigns(policy: SitePolicy): readonly Sign<DistalPhalanxFacts>[] {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const discuss = p["distalPhalanx.mallet.discussSharePercent"];
  const refer = p["distalPhalanx.mallet.referSharePercent"];
  const child = { ageYears: under(ADULT_YEARS) };
  const slipped = ["volar-subluxed", "dorsal-subluxed"] as const;
  /** No growth plate fracture can be seen. */
  const hidden = {
    physisOpen: "yes",
    physealLine: "no",
    seymour: "no",
    malletEquivalentB: "no",
    malletEquivalentCorD: "no",
  } as const;
  const droopHidden = { physisOpen: "yes", nailFoldInjured: "yes", activeExtension: "cannot-test" } as const;
  const lesionOnly = {
    boneLesion: "yes",
    otherSeriousInjury: "no",
    mangled: "no",
    perfusionInDoubt: "no",
    tissueLoss: BONE_KEPT,
    jointDislocated: ["no", "reduced"],
    sheathSigns: "no",
    infectionSigns: ["none", "local"],
    lysisOrPeriostealReaction: "no",
    // A lesion often breaks without adequate trauma; its clinic looks for a glomus tumour as well.
    mechanism: [
      "crush",
      "axial-load",
      "forced-flexion",
      "forced-extension",
      "laceration",
      "saw",
      "fall",
      "no-adequate-trauma",
      "other",
    ],
  } as const;
  const unbroken = { onLateral: "yes", fractureSite: "no-fracture-seen", physealInjury: "no" } as const;
  /** Fresh, painful blood under a seated nail without a tear or a displaced bone. */
  const bloodToDrain = {
    haematoma: ["under-quarter", "quarter-to-half", "over-half"],
    haematomaPainful: "yes",
    nailPlate: ["intact-seated", "loose-distally"],
    bloodAtNailFold: "no",
    nailBedTorn: "no",
    displaced: "no",
    hoursSinceInjury: under(moreThan(p["distalPhalanx.trephineHours"]).from),
  } as const;
  return [
    sign(
      "physisOpen",
      "growth plate open or not judged",
      { ...child, physis: ["open", "closing", "cannot-judge"] },
      { ...child, filmTaken: "no" },
    ),
    sign("onLateral", "true lateral film seen", { filmTaken: "yes", trueLateral: "seen" }),
    sign(
      "displaced",
      "fracture displaced",
      { filmTaken: "yes", displacement: "seen", translationMm: from(p["distalPhalanx.displacedMm"]) },
      { filmTaken: "yes", displacement: "seen", corticalContact: "none" },
      { filmTaken: "yes", displacement: "seen", angulationDegrees: from(p["distalPhalanx.displacedDegrees"]) },
      { nailPlaneRotation: "rotated" },
    ),
    sign(
      "displacementDoubtful",
      "displacement answered against its own measurements",
      { filmTaken: "yes", displacement: "none-seen", translationMm: from(p["distalPhalanx.displacedMm"]) },
      { filmTaken: "yes", displacement: "none-seen", corticalContact: "none" },
      { filmTaken: "yes", displacement: "none-seen", angulationDegrees: from(p["distalPhalanx.displacedDegrees"]) },
    ),
    // A tilt close to the plate grows straight, a twist does not.
    sign(
      "physisDisplaced",
      "growth plate fracture displaced",
      { filmTaken: "yes", displacement: "seen", translationMm: moreThan(p["distalPhalanx.physis.displacedMm"]) },
      { filmTaken: "yes", displacement: "seen", corticalContact: "none" },
      { filmTaken: "yes", displacement: "seen", angulationDegrees: from(p["distalPhalanx.displacedDegrees"]) },
      { nailPlaneRotation: "rotated" },
    ),
    sign(
      "jointDisplaced",
      "joint fracture displaced",
      { displaced: "yes" },
      { filmTaken: "yes", displacement: "seen", jointStepMm: from(p["distalPhalanx.shaft.jointStepMm"]) },
      { jointPosition: slipped },
    ),
    // nail
    sign("nailBedTorn", "nail bed torn", { nailBed: TORN_BED }, { openThroughNailBed: "yes" }),
    sign(
      "nailBedComplex",
      "nail bed tear for a hand surgeon",
      { nailBed: ["stellate", "crushed-or-avulsed", "germinal-matrix"] },
      { nailBedTorn: "yes", displaced: "yes" },
    ),
    sign(
      "nailMayFall",
      "nail that may fall off",
      { nailBedTorn: "yes" },
      { haematoma: ["under-quarter", "quarter-to-half", "over-half"] },
    ),
    sign(
      "nailToExplore",
      "nail torn, lifted or split at its margin",
      { nailPlate: TORN_PLATE },
      { bloodAtNailFold: "yes" },
    ),
    // growth plate
    sign(
      "nailFoldInjured",
      "nail root, fold or bed injured",
      { nailPlate: ["avulsed-at-fold", "over-fold", "missing"] },
      { bloodAtNailFold: "yes" },
      { nailBedTorn: "yes" },
    ),
    sign(
      "physealLine",
      "fracture at an open growth plate",
      { physisOpen: "yes", salterHarris: ["I", "II", "juxta-epiphyseal"] },
      { physisOpen: "yes", dorsalPhysealWidening: "yes" },
      { physisOpen: "yes", filmTaken: "yes", fractureSite: ["physis", "base-extra-articular"], salterHarris: "none" },
    ),
    sign(
      "seymour",
      "open fracture at the growth plate",
      { physisOpen: "yes", nailFoldInjured: "yes", physealLine: "yes" },
      { physisOpen: "yes", nailFoldInjured: "yes", activeExtension: "lag" },
      { physisOpen: "yes", nailFoldInjured: "yes", activeExtension: "cannot-test", restingPosition: "droops" },
      { physealLine: "yes", openFracture: "yes" },
    ),
    sign(
      "seymourSuspect",
      "Seymour fracture, a child's nail lying over its fold, or an injured fold without proof that the tip does not droop",
      { physisOpen: "yes", nailPlate: "over-fold" },
      { seymour: "yes" },
      // A droop that pain hides is no proof of a whole plate: a judged plate on a true lateral and a tip that lies in line are.
      { ...droopHidden, physis: "cannot-judge" },
      { ...droopHidden, filmTaken: "no" },
      { ...droopHidden, filmTaken: "yes", trueLateral: "not-taken" },
    ),
    sign("malletEquivalentCorD", "epiphysis turned or pushed out", {
      physisOpen: "yes",
      epiphysisTurned: ["turned-tendon-attached", "separated-tendon-avulsed"],
    }),
    sign(
      "malletEquivalentB",
      "dorsal fracture of the epiphysis into the joint",
      {
        physisOpen: "yes",
        onLateral: "yes",
        epiphysisTurned: "no",
        salterHarris: ["III", "IV"],
        fractureSite: [
          "tuft",
          "shaft",
          "base-extra-articular",
          "base-dorsal",
          "base-central",
          "physis",
          "no-fracture-seen",
        ],
      },
      {
        physisOpen: "yes",
        onLateral: "yes",
        epiphysisTurned: "no",
        fractureSite: "base-dorsal",
        salterHarris: ["none", "V"],
      },
    ),
    sign("seymourPatternClosed", "closed physeal fracture with a drooping tip", {
      physealLine: "yes",
      seymourSuspect: "no",
      malletEquivalentB: "no",
      malletEquivalentCorD: "no",
      activeExtension: "lag",
    }),
    sign("physealClosed", "closed physeal fracture", {
      physealLine: "yes",
      seymourSuspect: "no",
      malletEquivalentB: "no",
      malletEquivalentCorD: "no",
      activeExtension: ["full", "cannot-test"],
    }),
    sign(
      "openPhysealFracture",
      "open growth plate fracture",
      { seymour: "yes" },
      { malletEquivalentB: "yes", nailFoldInjured: "yes" },
      { malletEquivalentB: "yes", openFracture: "yes" },
      { malletEquivalentCorD: "yes", nailFoldInjured: "yes" },
      { malletEquivalentCorD: "yes", openFracture: "yes" },
    ),
    sign(
      "possiblePhyseal",
      "growth plate injury not visible on the film",
      { ...hidden, filmTaken: "yes", fractureSite: "no-fracture-seen", physisTender: "yes", mechanism: "crush" },
      { ...hidden, filmTaken: "yes", fractureSite: "no-fracture-seen", physisTender: "yes", activeExtension: "lag" },
      {
        ...hidden,
        filmTaken: "yes",
        fractureSite: ["physis", "base-extra-articular", "no-fracture-seen"],
        salterHarris: "V",
      },
      { ...hidden, seymourSuspect: "yes" },
    ),
    sign(
      "physealInjury",
      "growth plate hurt",
      { physealLine: "yes" },
      { seymourSuspect: "yes" },
      { malletEquivalentB: "yes" },
      { malletEquivalentCorD: "yes" },
      { possiblePhyseal: "yes" },
    ),
    sign("openPhysealSuspected", "child's nail root or fold injured over a growth plate", { seymourSuspect: "yes" }),
    // The plate has to be seen from the side and judged before a film speaks against the fracture.
    sign(
      "openPhysealNotExcluded",
      "open growth-plate fracture not excluded by a true lateral",
      { seymourSuspect: "yes", filmTaken: "no" },
      { seymourSuspect: "yes", filmTaken: "yes", trueLateral: "not-taken" },
      { seymourSuspect: "yes", physis: "cannot-judge" },
    ),
    sign(
      "haematomaDrained",
      "blood under the nail that is drained through it",
      { ...bloodToDrain, physisOpen: "no" },
      { ...bloodToDrain, physisOpen: "yes", onLateral: "yes", physealInjury: "no" },
    ),
    sign(
      "boneBroken",
      "bone broken, or a break not excluded by a film",
      {
        filmTaken: "yes",
        fractureSite: [
          "tuft",
          "shaft",
          "base-extra-articular",
          "base-dorsal",
          "base-volar",
          "base-both-sides",
          "base-central",
          "physis",
        ],
      },
      { filmTaken: "no" },
      { filmTaken: "yes", trueLateral: "not-taken" },
      { physealInjury: "yes" },
    ),
    // flexor tendon
    sign(
      "fdpLoss",
      "deep flexor does not move the tip, or its bony insertion is pulled off",
      { activeFlexion: "absent" },
      { filmTaken: "yes", fractureSite: "base-volar", activeFlexion: ["weak", "cannot-test"] },
    ),
    sign(
      "jersey",
      "avulsion of the deep flexor tendon",
      { activeFlexion: "absent", mechanism: NOT_CUT },
      { filmTaken: "yes", fractureSite: "base-volar", activeFlexion: ["weak", "cannot-test"] },
    ),
    sign(
      "jerseySuspected",
      "deep flexor weak or not testable after the grip was pulled open, in a finger that lies too straight, or with both sides of the base broken",
      // The volar piece may or may not carry the tendon: a weak flexor is no proof.
      { filmTaken: "yes", fractureSite: "base-both-sides", activeFlexion: ["weak", "cannot-test"] },
      { mechanism: "forced-extension", activeFlexion: ["weak", "cannot-test"], fdpLoss: "no" },
      {
        mechanism: NOT_CUT,
        activeFlexion: ["weak", "cannot-test"],
        restingPosition: "too-straight",
        fdpLoss: "no",
        jointDislocated: ["no", "reduced"],
      },
    ),
    sign(
      "jerseyAlone",
      "avulsion of the deep flexor, rest of the phalanx whole or not filmed",
      { jersey: "yes", restOfPhalanx: "intact" },
      { jersey: "yes", filmTaken: "no" },
      { jersey: "yes", filmTaken: "yes", fractureSite: "no-fracture-seen" },
    ),
    sign("jerseyFresh", "avulsion of the deep flexor under 3 months old, rest of the phalanx whole or not filmed", {
      jerseyAlone: "yes",
      hoursSinceInjury: under(daysInHours(MISSED_DAYS)),
    }),
    sign("jerseyBaseToHold", "avulsion of the deep flexor with a displaced base, under 3 months old", {
      jersey: "yes",
      jerseyAlone: "no",
      jointDisplaced: "yes",
      hoursSinceInjury: under(daysInHours(MISSED_DAYS)),
    }),
    sign("flexorInDoubt", "deep flexor torn or suspected to be", { fdpLoss: "yes" }, { jerseySuspected: "yes" }),
    // joint surface
    sign("volarChip", "volar chip with a working flexor", {
      onLateral: "yes",
      fractureSite: "base-volar",
      activeFlexion: "present",
      restOfPhalanx: "intact",
    }),
    sign(
      "combinedBase",
      "both sides of the base broken",
      { onLateral: "yes", fractureSite: "base-both-sides" },
      {
        onLateral: "yes",
        fractureSite: "base-volar",
        restOfPhalanx: ["extra-articular-fracture", "intra-articular-fracture"],
      },
    ),
    sign("pilonBase", "joint surface impacted or split", { onLateral: "yes", fractureSite: "base-central" }),
    // shaft
    sign("shaft", "shaft fracture", { filmTaken: "yes", fractureSite: "shaft", seymourSuspect: "no" }),
    sign("baseExtra", "fracture of the base outside the joint", {
      onLateral: "yes",
      fractureSite: "base-extra-articular",
      physisOpen: "no",
    }),
    sign(
      "unstableFracture",
      "unstable fracture",
      { shaft: "yes", displaced: "yes" },
      { shaft: "yes", openFracture: "yes", nailBedInGap: "yes" },
      { baseExtra: "yes" },
    ),
    sign(
      "shaftApart",
      "longitudinal shaft fracture with a step in the joint or a wide gap",
      {
        shaft: "yes",
        fracturePattern: "longitudinal",
        displacement: "seen",
        jointStepMm: from(p["distalPhalanx.shaft.jointStepMm"]),
      },
      {
        shaft: "yes",
        fracturePattern: "longitudinal",
        displacement: "seen",
        fragmentGapMm: moreThan(p["distalPhalanx.shaft.gapMm"]),
      },
    ),
    sign("stableShaft", "stable shaft fracture", { shaft: "yes", unstableFracture: "no", physealInjury: "no" }),
    // extensor
    sign("malletBony", "bony mallet", { onLateral: "yes", fractureSite: "base-dorsal", physisOpen: "no" }),
    sign(
      "tendinousMallet",
      "mallet without a fragment",
      { onLateral: "yes", activeExtension: "lag", fractureSite: ["no-fracture-seen", "tuft"], physealInjury: "no" },
      { onLateral: "yes", activeExtension: "lag", stableShaft: "yes" },
    ),
    sign("malletInjury", "mallet injury", { malletBony: "yes" }, { tendinousMallet: "yes" }),
    sign("splintTimeOver", "mallet whose full time in the splint is over", {
      malletInjury: "yes",
      presentation: ["again", "again-worse"],
      fullSplintTimeDone: "yes",
      hoursSinceInjury: from(daysInHours(p["distalPhalanx.mallet.bonyFromDays"])),
    }),
    sign(
      "openMallet",
      "open mallet",
      { activeExtension: "lag", woundOverJoint: WOUND_OVER_JOINT },
      { malletBony: "yes", woundOverJoint: WOUND_OVER_JOINT },
      // A cut that leaves the tip drooping has cut the tendon until somebody has looked.
      {
        activeExtension: "lag",
        mechanism: ["laceration", "saw"],
        openness: ["skin-cut", "skin-burst-or-flap", "open-skin"],
      },
      {
        activeExtension: "lag",
        mechanism: ["laceration", "saw"],
        openness: "uncertain",
        opennessOnSecondLook: "open-skin",
      },
    ),
    // tuft
    sign("tuft", "tuft fracture", { filmTaken: "yes", fractureSite: "tuft", seymourSuspect: "no" }),
    sign("isolatedTuft", "tuft fracture alone", {
      tuft: "yes",
      fdpLoss: "no",
      malletInjury: "no",
      openMallet: "no",
      physealInjury: "no",
    }),
    // One voice: from here on nobody is told to repair it on the spot.
    sign(
      "surgeonTakesOver",
      "wound or nail that a surgeon takes over today",
      { nailBedComplex: "yes" },
      { seymourSuspect: "yes" },
      { openPhysealFracture: "yes" },
      { malletEquivalentCorD: "yes" },
      { openMallet: "yes" },
      { woundOverJoint: WOUND_OVER_JOINT },
      { openFracture: "yes", boneBroken: "yes", isolatedTuft: "no" },
      { openFracture: "yes", grossContamination: "yes" },
      { openFracture: "yes", jointDislocated: ["yes-not-yet-reduced", "reduced"] },
      { woundLate: "yes" },
      { tissueLoss: "pulp-large" },
    ),
    sign(
      "baseDisplaced",
      "displaced fracture of the joint surface",
      { combinedBase: "yes", jointDisplaced: "yes" },
      { pilonBase: "yes", jointDisplaced: "yes" },
    ),
    sign(
      "operationElsewhere",
      "another injury of this tip that is operated or referred",
      { flexorInDoubt: "yes" },
      { surgeonTakesOver: "yes" },
      { unstableFracture: "yes" },
      { baseDisplaced: "yes" },
    ),
    sign("malletSlipped", "bony mallet with a slipped joint", { malletBony: "yes", jointPosition: slipped }),
    sign("malletLarge", "bony mallet with a large share", {
      malletBony: "yes",
      articularSharePercent: moreThan(refer),
    }),
    sign("malletMiddle", "bony mallet with a middle share", {
      malletBony: "yes",
      jointPosition: "congruent",
      articularSharePercent: from(discuss, moreThan(refer).from),
    }),
    sign("malletSmall", "bony mallet with a small share, joint congruent", {
      malletBony: "yes",
      jointPosition: "congruent",
      articularSharePercent: under(discuss),
    }),
    // no fracture
    sign("noFracture", "no fracture on good films, joint in place, both tendons tested and working", {
      ...unbroken,
      activeExtension: "full",
      activeFlexion: "present",
      jointDislocated: "no",
      jointPosition: "congruent",
    }),
    sign(
      "tendonUncleared",
      "no fracture on good films, but a tendon is weak or could not be tested",
      { ...unbroken, activeExtension: ["full", "cannot-test"], activeFlexion: ["weak", "cannot-test"] },
      { ...unbroken, activeExtension: "cannot-test", activeFlexion: "present" },
    ),
    sign(
      "reducedDislocation",
      "end joint was dislocated, no fracture beyond the tuft",
      { isolatedTuft: "yes", jointDislocated: "reduced" },
      { ...unbroken, jointDislocated: "reduced", activeExtension: ["full", "cannot-test"], fdpLoss: "no" },
    ),
    sign(
      "lesionAlone",
      "break through a bone lesion, and nothing else that takes the finger off the ordinary pathway",
      { ...lesionOnly, openFracture: "no" },
      { ...lesionOnly, openFracture: "yes", grossContamination: "no" },
    ),
    sign(
      "lateralMissing",
      "a true lateral is needed before a class",
      {
        filmTaken: "yes",
        trueLateral: "not-taken",
        fractureSite: [
          "base-extra-articular",
          "base-dorsal",
          "base-volar",
          "base-both-sides",
          "base-central",
          "physis",
          "no-fracture-seen",
        ],
      },
      { filmTaken: "yes", trueLateral: "not-taken", activeExtension: "lag" },
      { filmTaken: "yes", trueLateral: "not-taken", physisOpen: "yes", nailPlate: "over-fold" },
      {
        filmTaken: "yes",
        trueLateral: "not-taken",
        physisOpen: "yes",
        salterHarris: ["I", "II", "III", "IV", "V", "juxta-epiphyseal"],
      },
    ),
    sign(
      "blockLikely",
      "a digital block is likely",
      { unstableFracture: "yes" },
      { nailToExplore: "yes" },
      { nailBedTorn: "yes" },
      { openFracture: "yes" },
      { openPhysealFracture: "yes" },
      { jointDislocated: "yes-not-yet-reduced" },
      { physealClosed: "yes", physisDisplaced: "yes" },
      { seymourPatternClosed: "yes", physisDisplaced: "yes" },
    ),
  ];
}

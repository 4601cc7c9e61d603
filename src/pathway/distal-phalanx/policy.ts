import { against, type Citation, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { PolicyNumber } from "../policy/policy-value.ts";

type Sources = readonly [Citation, ...Citation[]];
const number = (unit: string, value: number, min: number, max: number, note: string, ...sources: Sources): PolicyNumber => ({
  type: "number", value, unit, min, max, sources, note,
});
const days = (value: number, min: number, max: number, note: string, ...sources: Sources) =>
  number("days", value, min, max, note, ...sources);

/**
 * Values a site may set for the distal phalanx. Bounds of a pair never cross, so "from" stays below "to" and the smaller
 * share below the larger whatever a site chooses.
 */
export const DISTAL_PHALANX_POLICY = {
  "distalPhalanx.displacedMm": number("mm", 2, 1, 3, "Step that counts as displaced; no agreed value for this bone.", commonPractice),
  "distalPhalanx.displacedDegrees": number(
    "degrees", 10, 5, 15, "Angulation that counts as displaced; borrowed from the other phalanges.", commonPractice, cite("AAFP22", "C", "middle and proximal phalanx"),
  ),
  "distalPhalanx.physis.displacedMm": number("mm", 2, 1, 2, "Displacement of a closed physeal fracture that goes to surgery.", commonPractice, cite("YEH09", "C")),
  "distalPhalanx.shaft.jointStepMm": number("mm", 1, 1, 2, "Step in the joint at which fixation is discussed.", commonPractice),
  "distalPhalanx.mallet.discussSharePercent": number(
    "%", 33.3, 25, 33.3, "Share of the joint from which a mallet fracture is discussed and filmed again in the splint.", cite("SAVAGE21", "B"), cite("LAMARIS17", "B"), against("BJAS", "C", "30 %"), against("TEXT-THUMB", "C", "thumb: 30 to 40 %"),
  ),
  "distalPhalanx.mallet.referSharePercent": number(
    "%", 66.7, 50, 66.7, "Share of the joint above which a mallet fracture is referred.", cite("BACH17", "C", "table 1"), against("SCHN88", "C", "dorsal fracture without operation"), against("LAMARIS17", "B", "advantage of surgery not proven"),
  ),
  "distalPhalanx.mallet.gapMm": number("mm", 2, 1, 3, "Gap above which a mallet fracture is discussed.", cite("RADREF-M", "C"), cite("TEXT-THUMB", "C", "2 to 3 mm")),
  "distalPhalanx.mallet.bonyFromDays": days(42, 42, 49, "Bony mallet: shortest time in the splint.", cite("FV-MAL", "C"), cite("MKUH", "C"), against("AAFP22", "C", "8 weeks")),
  "distalPhalanx.mallet.tendinousFromDays": days(56, 42, 56, "Tendinous mallet: shortest time in the splint.", cite("AAFP22", "C"), cite("MKUH", "C"), against("SALAZAR16", "C", "6 to 8 weeks")),
  "distalPhalanx.mallet.toDays": days(56, 56, 70, "Mallet: splint full time until.", cite("AAFP22", "C"), cite("SALAZAR16", "C")),
  "distalPhalanx.mallet.nightDays": days(14, 0, 28, "Night splint after that; no benefit in the one trial.", cite("FV-MAL", "CP"), cite("MKUH", "CP"), against("GRUBER14", "A")),
  "distalPhalanx.tuft.fromDays": days(14, 10, 21, "Simple tuft: cap off from, when it no longer hurts.", commonPractice, against("EATON", "C", "motion from week 1"), against("ORTHONET", "C", "3 to 4 weeks, comfort only")),
  "distalPhalanx.tuft.toDays": days(28, 21, 42, "Tuft: cap off by.", cite("ORTHONET", "C"), against("AAFP22", "C", "4 to 6 weeks")),
  "distalPhalanx.tuft.woundedFromDays": days(21, 14, 21, "Comminuted or open tuft: cap off from.", cite("ORTHONET", "C")),
  "distalPhalanx.shaft.fromDays": days(21, 21, 28, "Stable shaft: splint off from.", cite("ORTHONET", "C"), cite("AO-T", "C")),
  "distalPhalanx.shaft.toDays": days(42, 28, 42, "Stable shaft: splint off by.", cite("AAFP22", "C")),
  "distalPhalanx.wireOutDays": days(28, 21, 42, "Wire out after fixation.", commonPractice, fromMemory),
  "distalPhalanx.seymour.wireOutDays": days(28, 21, 28, "Wire and splint off after a Seymour fracture.", cite("CHINSEY", "C")),
  "distalPhalanx.jersey.repairDays": days(10, 7, 10, "Flexor tendon repaired within, types I, II, IV and unknown.", cite("RADREF-LP", "C"), cite("QA-JERSEY", "C"), cite("CH35", "C"), against("RADREF-LP", "C", "type II: several weeks")),
  "distalPhalanx.jersey.largeFragmentDays": days(21, 10, 21, "Type III repaired within.", commonPractice, against("CH35", "C", "8 to 12 weeks")),
  "distalPhalanx.trephineHours": number("hours", 48, 24, 48, "After that the blood under the nail has clotted.", cite("MEEK98", "C")),
} as const;

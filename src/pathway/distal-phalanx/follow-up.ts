import { cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Table, table, under } from "../reasoning/table.ts";
import { visit } from "./effects-in-short.ts";
import { SHARE } from "./mallet.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

const CLINIC = "hand clinic";
const THERAPIST = "hand therapist";
const SURGEON = "hand surgeon";
const GP = "family doctor";
const STITCHES = visit("stitches-out", GP, [10, 12, 14], "Stitches out; none to take if absorbable or glue");
const MALLET_END = "Clinical and film union, lag, skin";
const IN_SPLINT = "True lateral in the splint: is the joint still congruent? Slipped: refer within 48 hours";
const INFECTION = "Redness, pus, rising pain, smell";

/**
 * When to look again and for what. Days count from the injury, or from the operation once there was one. Only "within one
 * week" after an open fracture (HS2), the checks of the trials (STEV03) and the repeat laterals (SAVAGE21) are sourced.
 */
export const followUpTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const wire = p["distalPhalanx.wireOutDays"];
  const seymourWire = p["distalPhalanx.seymour.wireOutDays"];
  const bonyFrom = p["distalPhalanx.mallet.bonyFromDays"];
  const tendinousFrom = p["distalPhalanx.mallet.tendinousFromDays"];
  const malletTo = p["distalPhalanx.mallet.toDays"];
  const repair = p["distalPhalanx.jersey.repairDays"];
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "follow-up",
    question: "When is it looked at again, and for what?",
    answers: "every",
    rules: [
      {
        id: "FUP-1",
        when: { isolatedTuft: "yes", openFracture: "no" },
        then: [visit("discharge-check", GP, [21, 25, 28], "Still tender? Film only if it hurts at 6 to 8 weeks")],
        because: "A closed tuft needs no routine clinic.",
        sources: [commonPractice, cite("EATON", "C", "home exercises from day 7")],
      },
      {
        id: "FUP-2",
        when: { isolatedTuft: "yes", openFracture: "yes" },
        then: [
          visit("wound-check", "wound clinic", [2, 4, 5], INFECTION),
          visit("wound-check", "wound clinic", [6, 7, 7], INFECTION),
          STITCHES,
          visit("film", CLINIC, [28, 35, 42], "Only if displaced or painful: position, union", "wound-check"),
          visit("discharge-check", GP, [42, 49, 56], "Touch pain: desensitise. Nail at 4 to 6 months"),
        ],
        because: "An open tuft is checked for infection as in the trials.",
        sources: [
          cite("STEV03", "A", "day 4 to 5"),
          cite("HS2", "G", "within one week"),
          cite("AO-D", "C", "nail stitch 10 days"),
          commonPractice,
        ],
      },
      {
        id: "FUP-3",
        when: {
          haematoma: ["under-quarter", "quarter-to-half", "over-half"],
          haematomaPainful: "yes",
          immuneCompromise: "yes",
        },
        then: [visit("wound-check", GP, [2, 3, 7], INFECTION)],
        because: "A drained haematoma is checked only if infection is likelier.",
        sources: [commonPractice],
      },
      {
        id: "FUP-4",
        when: { stableShaft: "yes" },
        then: [
          visit("film", CLINIC, [7, 8, 10], "Lost position?"),
          visit("film", CLINIC, [28, 30, 35], "Union; splint off"),
          visit("discharge-check", CLINIC, [42, 49, 56], "Motion, tender spots"),
        ],
        because: "A shaft may tilt in the first ten days.",
        sources: [commonPractice, cite("ACR19", "G", "film again in 10 to 14 days if in doubt")],
      },
      {
        id: "FUP-5",
        when: { unstableFracture: "yes" },
        then: [
          visit("surgeon-review", SURGEON, [0, 1, 3], "Fixation within 3 to 7 days"),
          visit("wound-check", CLINIC, [5, 6, 7], "Pin site"),
          visit("film", CLINIC, [7, 8, 10], "Position after fixation"),
          STITCHES,
          visit("wire-out", CLINIC, [21, wire, 42], "Film, then wire out; splint 1 to 2 weeks more", "film"),
          visit("therapy", THERAPIST, [21, wire, 42], "Start moving the end joint", "wire-out"),
          visit("discharge-check", CLINIC, [70, 77, 84], "Union, motion, nail"),
        ],
        because: "A wired shaft is watched for slip and pin infection.",
        sources: [commonPractice, cite("KWIRE07", "C", "pins in children: 7.9 % infected"), cite("NEEDLE20", "B")],
      },
      {
        id: "FUP-6",
        when: { malletInjury: "yes" },
        then: [
          visit("splint-review", THERAPIST, [5, 7, 7], "Skin, fit, tip never dropped"),
          visit(
            "discharge-check",
            CLINIC,
            [77, 84, 91],
            "Lag: up to 10 degrees accept; 10 to 20 more splint; above, or swan-neck, clinic",
          ),
        ],
        because: "Skin and fit decide whether the splint is kept.",
        sources: [cite("MKUH", "C"), cite("GRUBER14", "A", "a third keep 20 degrees or more"), commonPractice],
      },
      {
        id: "FUP-7",
        when: { malletBony: "yes", articularSharePercent: under(SHARE.third) },
        then: [visit("film-true-lateral", CLINIC, [7, 8, 10], IN_SPLINT)],
        because: "A small fragment is filmed once in the splint.",
        sources: [commonPractice],
      },
      {
        id: "FUP-8",
        when: { malletBony: "yes", articularSharePercent: from(SHARE.third) },
        then: [7, 14, 21].map((day) => visit("film-true-lateral", CLINIC, [day - 1, day, day + 1], IN_SPLINT)),
        because: "13 of 35 (37 %) joints with a third to two thirds on the fragment slipped in the splint.",
        sources: [cite("SAVAGE21", "B"), cite("COS12", "C", "pinning still good before 5 weeks")],
      },
      {
        id: "FUP-9",
        when: { malletBony: "yes" },
        then: [visit("film-true-lateral", CLINIC, [bonyFrom, bonyFrom, malletTo], MALLET_END, "splint-review")],
        because: "The splint comes off only when the bone has joined.",
        sources: [commonPractice, cite("MKUH", "C"), cite("AAFP22", "C", "8 weeks")],
      },
      {
        id: "FUP-10",
        when: { tendinousMallet: "yes" },
        then: [
          visit(
            "therapy",
            THERAPIST,
            [tendinousFrom, tendinousFrom, malletTo],
            "Splint off, lag measured, motion begins",
            "splint-review",
          ),
        ],
        because: "The tendon is tested when the splint comes off.",
        sources: [commonPractice, cite("AAFP22", "C")],
      },
      {
        id: "FUP-11",
        when: { malletBony: "yes", jointPosition: ["volar-subluxed", "dorsal-subluxed"] },
        then: [visit("surgeon-review", SURGEON, [0, 5, 7], "Slipped joint: pin or splint")],
        because: "A slipped joint is a surgeon's decision.",
        sources: [cite("SAVAGE21", "B"), commonPractice],
      },
      {
        id: "FUP-12",
        when: { malletLarge: "yes" },
        then: [visit("surgeon-review", SURGEON, [0, 5, 7], "Large fragment: pin or splint")],
        because: "A very large fragment is a surgeon's decision.",
        sources: [commonPractice],
      },
      {
        id: "FUP-13",
        when: { openMallet: "yes" },
        then: [
          visit("surgeon-review", SURGEON, [0, 0, 1], "Open mallet: wash-out and repair"),
          visit("wound-check", CLINIC, [2, 4, 7], INFECTION),
          STITCHES,
        ],
        because: "An open joint is washed out at once.",
        sources: [cite("HS2", "G", "within one week"), commonPractice],
      },
      {
        id: "FUP-14",
        when: { fdpLoss: "yes" },
        then: [visit("surgeon-review", SURGEON, [0, 1, 1], "Level of the tendon, operation")],
        because: "The tendon retracts day by day.",
        sources: [cite("TRUMBLE92", "C"), cite("QA-JERSEY", "C")],
      },
      {
        id: "FUP-15",
        when: { jersey: "yes", restOfPhalanx: "intact" },
        then: [
          visit("surgeon-review", SURGEON, [2, 7, repair], "Last day of the window for the repair"),
          visit("therapy", THERAPIST, [3, 5, 7], "After the operation: surgeon's protocol"),
          STITCHES,
          visit("wire-out", CLINIC, [42, 42, 45], "Film if bone was fixed; wire across the joint out"),
          visit("discharge-check", CLINIC, [84, 98, 112], "Grip, bending, rupture"),
        ],
        because: "A repaired tendon is moved early and protected for 12 weeks.",
        sources: [cite("RADREF-LP", "C"), cite("BEDI", "C", "wire 6 weeks"), commonPractice],
      },
      {
        id: "FUP-16",
        when: { combinedBase: "yes" },
        then: [
          visit("clinic", CLINIC, [6, 7, 7], "Skin, splint, flexor test"),
          ...[7, 14, 28].map((day) => visit("film", CLINIC, [day - 1, day, day + 1], "Still in place?")),
          visit("therapy", THERAPIST, [28, 30, 42], "Motion begins"),
          visit("discharge-check", CLINIC, [77, 84, 91], "Motion, pain"),
        ],
        because: "Without operation it is filmed until it holds.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "FUP-17",
        when: { pilonBase: "yes" },
        then: [
          ...[7, 14, 28].map((day) => visit("film", CLINIC, [day - 1, day, day + 1], "Still in place?")),
          visit("discharge-check", CLINIC, [77, 84, 91], "Motion, pain"),
        ],
        because: "It may sink in while it heals.",
        sources: [commonPractice],
      },
      {
        id: "FUP-18",
        when: { volarChip: "yes" },
        then: [visit("clinic", CLINIC, [7, 10, 14], "Flexor test again; joint in place")],
        because: "A chip may hide a tendon that is coming off.",
        sources: [commonPractice],
      },
      {
        id: "FUP-19",
        when: { openPhysealFracture: "yes" },
        then: [
          visit("surgeon-review", SURGEON, [0, 0, 1], "Wash-out and reduction"),
          visit("wound-check", CLINIC, [2, 3, 3], INFECTION),
          visit("wound-check", CLINIC, [6, 7, 7], INFECTION),
          visit("film", CLINIC, [7, 8, 10], "Position"),
          visit("wire-out", CLINIC, [21, seymourWire, 28], "Film, then wire and splint off", "film"),
          visit("physis-film", CLINIC, [84, 91, 98], "Growth plate"),
          visit("physis-film", CLINIC, [180, 270, 365], "Growth plate, length, nail; then discharge"),
        ],
        because: "Infection comes early, growth arrest late.",
        sources: [
          cite("CHINSEY", "C"),
          cite("KRUSCHE13", "C", "5 of 24 minor growth change"),
          cite("REYES17", "B"),
          commonPractice,
        ],
      },
      {
        id: "FUP-20",
        when: { physealClosed: "yes" },
        then: [
          visit("film", CLINIC, [7, 8, 10], "Lost position?"),
          visit("film", CLINIC, [26, 28, 30], "Union; splint off"),
          visit("discharge-check", CLINIC, [180, 200, 365], "Length, tilt, nail"),
        ],
        because: "It may slip early and grow askew late.",
        sources: [commonPractice, cite("YEH09", "C")],
      },
      {
        id: "FUP-21",
        when: { seymourPatternClosed: "yes" },
        then: [
          visit("film", CLINIC, [7, 8, 10], "Lost position? Nail fold still closed?"),
          visit("film", CLINIC, [26, 28, 30], "Union; splint off"),
          visit("physis-film", CLINIC, [180, 270, 365], "Growth plate, length, nail"),
        ],
        because: "It may slip early and grow askew late.",
        sources: [commonPractice, cite("YEH09", "C")],
      },
      {
        id: "FUP-22",
        when: { malletEquivalentB: "yes" },
        then: [
          ...[7, 14].map((day) => visit("film-true-lateral", CLINIC, [day - 1, day, day + 1], IN_SPLINT)),
          visit("film", CLINIC, [26, 28, 30], "Union"),
          visit("physis-film", CLINIC, [180, 270, 365], "Growth plate and joint"),
        ],
        because: "The line crosses joint and plate.",
        sources: [commonPractice, cite("EPIDISL05", "C")],
      },
      {
        id: "FUP-23",
        when: { malletEquivalentCorD: "yes" },
        then: [
          visit("surgeon-review", SURGEON, [0, 0, 1], "Open reduction"),
          visit("film", CLINIC, [7, 8, 10], "Position"),
          visit("physis-film", CLINIC, [180, 270, 365], "Growth plate"),
        ],
        because: "A turned epiphysis may stop growing.",
        sources: [cite("EPIDISL05", "C"), commonPractice],
      },
      {
        id: "FUP-24",
        when: { possiblePhyseal: "yes" },
        then: [
          visit("film", CLINIC, [10, 12, 14], "New bone at the plate?"),
          visit("physis-film", CLINIC, [180, 270, 365], "Growth, if a fracture showed"),
        ],
        because: "A hidden fracture shows after ten days.",
        sources: [cite("ACR19", "G"), commonPractice],
      },
      {
        id: "FUP-25",
        when: { noFracture: "yes" },
        then: [visit("film", GP, [10, 12, 14], "Only if it still hurts")],
        because: "A fracture may show only later.",
        sources: [cite("ACR19", "G")],
      },
      {
        id: "FUP-26",
        when: { nailBedTorn: "yes" },
        then: [visit("wound-check", "wound clinic", [5, 7, 7], INFECTION)],
        because: "The trial looked at about day 7, and at the nail from 4 months.",
        sources: [cite("NINJA23", "A")],
      },
      {
        id: "FUP-27",
        when: { openFracture: "yes", isolatedTuft: "no" },
        then: [visit("wound-check", CLINIC, [3, 5, 7], INFECTION)],
        because: "An open hand fracture is reviewed within one week.",
        sources: [cite("HS2", "G", "draft, item 12"), cite("STEV03", "A", "day 4 to 5")],
      },
    ],
  });
};

import { against, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Table, table } from "../reasoning/table.ts";
import { urgent } from "./effects-in-short.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, moreThan } from "./signs.ts";

/** When the hand team sees this injury; the most urgent line leads. Not `ordinary`: an exit may add urgency, never take it away. */
export const urgencyTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const FILM_FIRST: readonly Effect[] = [
    {
      kind: "urgency",
      urgency: "D0",
      say: "The film decides: take it today.",
      means: "A film today decides who sees the finger.",
    },
  ];
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "distal-phalanx-urgency",
    question: "When does the hand team see it?",
    answers: "every",
    rules: [
      {
        id: "DPU-1",
        when: {
          activeFlexion: "absent",
          mechanism: ["laceration", "saw", "human-bite", "cat-bite", "dog-bite", "other-animal-bite"],
        },
        then: [
          {
            kind: "exit",
            exit: "tendon",
            title: "Cut flexor tendon",
            urgency: "D1",
            sendTo: "hand surgery",
            leaves: false,
            say: "Hand surgeon today or next working day: explore and repair.",
          },
        ],
        because: "A wound with a deep flexor that does not work is a cut tendon.",
        sources: [commonPractice],
      },
      {
        id: "DPU-2",
        when: { seymourSuspect: "yes" },
        then: [urgent("D0", "Injured nail root or fold over a growth plate: hand surgeon today.")],
        because: "In a child an injured fold is a Seymour fracture until plate and tip are cleared.",
        sources: [cite("OBSEY", "C"), cite("HSS147", "C")],
      },
      {
        id: "DPU-3",
        when: { seymourPatternClosed: "yes" },
        then: [urgent("D0", "A senior looks at the whole nail fold today.")],
        because: "A small break in the fold makes this fracture open.",
        sources: [cite("OBSEY", "C"), commonPractice],
      },
      {
        id: "DPU-4",
        when: { malletEquivalentCorD: "yes" },
        then: [urgent("D0", "Turned epiphysis: surgery the same day.")],
        because: "A turned epiphysis does not go back by itself.",
        sources: [cite("EPIDISL05", "C")],
      },
      {
        id: "DPU-5",
        when: { openMallet: "yes" },
        then: [urgent("D0", "Open mallet: hand surgeon today.")],
        because: "The cut leads to tendon and joint.",
        sources: [cite("HS2", "G", "draft"), cite("BACH17", "C", "table 1")],
      },
      {
        id: "DPU-6",
        when: { nailBedComplex: "yes" },
        then: [urgent("D0", "Complex nail bed tear: hand or plastic surgeon today.")],
        because: "Root, star-shaped, crushed or displaced tears need a surgeon's repair.",
        sources: [cite("RCH-FT", "C"), cite("HS2", "G", "draft")],
      },
      {
        id: "DPU-7",
        when: { fdpLoss: "yes" },
        then: [urgent("D1", "Deep flexor lost: hand surgeon today or next working day.")],
        because: "The tendon end retracts, and the film does not show how far.",
        sources: [
          cite("TRUMBLE92", "C"),
          cite("QA-JERSEY", "C"),
          cite("AAFP22", "C"),
          // A missed one is not put back in days, but nobody calls a lost flexor routine.
          against("DRBABA", "C", "missed over 3 months: left, fused or grafted, which no day decides"),
        ],
      },
      {
        id: "DPU-8",
        when: { mechanism: "forced-extension", activeFlexion: ["weak", "cannot-test"] },
        then: [urgent("D1", "Grip pulled open, flexor weak or not testable: torn or half torn until excluded.")],
        because: "This is how the deep flexor tears off.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "DPU-42",
        when: {
          restingPosition: "too-straight",
          activeFlexion: ["weak", "cannot-test"],
          fdpLoss: "no",
          jointDislocated: ["no", "reduced"],
        },
        then: [urgent("D1", "Tip lies too straight, flexor weak or not testable: torn until excluded.")],
        because: "At rest a whole deep flexor keeps the tip curled like its neighbours.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "DPU-43",
        when: { filmTaken: "yes", fractureSite: "base-both-sides", activeFlexion: ["weak", "cannot-test"] },
        then: [urgent("D1", "Both sides of the base, flexor weak or not testable: torn off until excluded.")],
        because: "The volar piece may carry the deep flexor.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "DPU-9",
        when: { unstableFracture: "yes" },
        then: [
          urgent(
            "D1",
            "Unstable fracture: hand team next working day; an operation, if it needs one, within 3 to 7 days.",
          ),
        ],
        because: "It will not hold in a splint.",
        sources: [cite("AO-T", "C"), commonPractice, cite("MELB", "C", "48 to 72 hours if the nail bed is torn")],
      },
      {
        id: "DPU-10",
        when: { combinedBase: "yes", jointDisplaced: "yes" },
        then: [urgent("D1", "Displaced base fracture: hand team next working day.")],
        because: "The joint must be rebuilt before it heals askew.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "DPU-11",
        when: { pilonBase: "yes", jointDisplaced: "yes" },
        then: [urgent("D1", "Displaced joint fracture: hand team next working day.")],
        because: "The joint must be rebuilt before it heals askew.",
        sources: [commonPractice],
      },
      {
        id: "DPU-12",
        when: { nailPlaneRotation: "rotated" },
        then: [urgent("D1", "Twisted tip: hand team next working day.")],
        because: "Rotation does not correct itself, not even in a child.",
        sources: [commonPractice],
      },
      {
        id: "DPU-13",
        when: {
          physealClosed: "yes",
          physisDisplaced: "yes",
        },
        then: [urgent("D1", "Displaced growth plate: hand team next working day.")],
        because: "It is reduced while it is fresh.",
        sources: [cite("YEH09", "C"), commonPractice],
      },
      {
        id: "DPU-14",
        when: { malletSlipped: "yes" },
        then: [urgent("W1", "Slipped joint: hand clinic within a week, splint today.")],
        because: "Pinning no longer reduces well after 5 weeks.",
        sources: [cite("SAVAGE21", "B"), cite("COS12", "C"), commonPractice],
      },
      {
        id: "DPU-15",
        when: { malletBony: "yes", articularSharePercent: from(p["distalPhalanx.mallet.discussSharePercent"]) },
        then: [urgent("W1", "Large fragment: hand clinic within a week, splint today.")],
        because: "13 of 35 such joints slipped in the splint.",
        sources: [cite("SAVAGE21", "B"), cite("AAFP-older", "C"), commonPractice],
      },
      {
        id: "DPU-16",
        when: { malletInjury: "yes" },
        then: [urgent("W1", "Splint today; hand therapist within a week, hand clinic if the tip does not straighten.")],
        because: "Skin and fit of the splint need an early look.",
        sources: [cite("AAFP22", "C"), commonPractice],
      },
      {
        id: "DPU-17",
        when: { malletEquivalentB: "yes" },
        then: [urgent("W1", "Growth plate and joint: hand clinic within a week.")],
        because: "The line crosses plate and joint.",
        sources: [cite("EPIDISL05", "C"), commonPractice],
      },
      {
        id: "DPU-18",
        when: { physealClosed: "yes" },
        then: [urgent("W1", "Growth plate fracture: film and clinic within a week.")],
        because: "It may slip in the first week.",
        sources: [
          cite("YEH09", "C"),
          commonPractice,
          against("HARTLEY19", "B", "27 to 78 % of children are referred without need"),
        ],
      },
      {
        id: "DPU-19",
        when: { combinedBase: "yes", jointDisplaced: "no" },
        then: [urgent("W1", "Both sides of the base: hand clinic within a week.")],
        because: "It may slip while it is treated without operation.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "DPU-20",
        when: { pilonBase: "yes", jointDisplaced: "no" },
        then: [urgent("W1", "Joint fracture: hand clinic within a week.")],
        because: "It may slip while it is treated without operation.",
        sources: [commonPractice],
      },
      {
        id: "DPU-21",
        when: {
          shaft: "yes",
          fracturePattern: "longitudinal",
          displacement: "seen",
          jointStepMm: from(p["distalPhalanx.shaft.jointStepMm"]),
        },
        then: [urgent("W1", "Step in the joint: hand clinic within a week.")],
        because: "A longitudinal line may open the joint.",
        sources: [cite("AO-D", "C"), commonPractice],
      },
      {
        id: "DPU-23",
        when: { malletBony: "yes", displacement: "seen", fragmentGapMm: moreThan(p["distalPhalanx.mallet.gapMm"]) },
        then: [urgent("W1", "Gap at the fragment: hand clinic within a week, splint today.")],
        because: "A wide gap is a reason to discuss surgery.",
        sources: [cite("RADREF-M", "C"), commonPractice],
      },
      {
        id: "DPU-24",
        // Through a bone lesion the clinic that treats the lesion leads.
        when: { stableShaft: "yes", boneLesion: "no" },
        then: [urgent("R2", "Hand clinic in 7 to 14 days, film on day 7 to 10.")],
        because: "A stable shaft heals in a splint if it stays in place.",
        sources: [cite("AO-T", "C"), commonPractice],
      },
      {
        id: "DPU-25",
        when: { volarChip: "yes" },
        then: [urgent("R2", "Hand clinic in 7 to 14 days.")],
        because: "A chip with a working tendon needs early motion, not surgery.",
        sources: [commonPractice],
      },
      {
        id: "DPU-26",
        when: { possiblePhyseal: "yes" },
        then: [urgent("R2", "Film again in 10 to 14 days.")],
        because: "A hidden growth plate fracture shows later.",
        sources: [cite("ACR19", "G")],
      },
      {
        id: "DPU-27",
        when: { isolatedTuft: "yes" },
        then: [urgent("none", "No hand clinic; wound check or family doctor.")],
        because: "An isolated tuft fracture heals with care of the soft tissue.",
        sources: [cite("HS2", "G", "draft excludes the isolated tuft"), commonPractice],
      },
      {
        id: "DPU-28",
        when: { noFracture: "yes" },
        then: [urgent("none", "No hand clinic; come back if it still hurts.")],
        because: "Good films show no fracture and the tendons work.",
        sources: [cite("ACR19", "G"), commonPractice],
      },
      {
        id: "DPU-29",
        when: { lateralMissing: "yes" },
        then: FILM_FIRST,
        because: "What a true lateral would show is not ruled out.",
        sources: [commonPractice],
      },
      {
        id: "DPU-30",
        when: { filmTaken: "no" },
        then: FILM_FIRST,
        because: "What a film would show is not ruled out.",
        sources: [commonPractice],
      },
      {
        id: "DPU-31",
        when: { filmTaken: "yes", fractureSite: "physis", physisOpen: "no" },
        then: [
          {
            kind: "urgency",
            urgency: "D0",
            say: "The answers contradict each other: clear this today.",
            means: "The answers are cleared today; they decide who sees the finger.",
          },
        ],
        because: "Until it is cleared a growth plate fracture is not ruled out.",
        sources: [commonPractice],
      },
      {
        id: "DPU-33",
        when: { activeFlexion: ["weak", "cannot-test"], fdpLoss: "no" },
        then: [urgent("W1", "Deep flexor weak or not tested: tested again on day 3 to 5, not sent off for good.")],
        because: "A tendon that nobody saw working is not cleared.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "DPU-34",
        when: { activeExtension: "cannot-test" },
        then: [urgent("W1", "Straightening not tested: tested again on day 3 to 5, not sent off for good.")],
        because: "A tendon that nobody saw working is not cleared.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "DPU-35",
        when: { reducedDislocation: "yes" },
        then: [urgent("R2", "Reduced dislocation: hand clinic in 7 to 14 days, splint today.")],
        because: "The joint may slip again, and tendons are tested once more.",
        sources: [cite("AAFP22", "C"), commonPractice],
      },
      {
        id: "DPU-36",
        when: { jointDislocated: "reduced", jointPosition: ["volar-subluxed", "dorsal-subluxed"] },
        then: [urgent("D1", "Joint not congruent after the reduction: hand team next working day.")],
        because: "Something lies in the joint or it is not stable.",
        sources: [commonPractice],
      },
      {
        id: "DPU-37",
        when: {
          shaft: "yes",
          fracturePattern: "longitudinal",
          displacement: "seen",
          fragmentGapMm: moreThan(p["distalPhalanx.shaft.gapMm"]),
        },
        then: [urgent("W1", "Wide gap along the shaft: hand clinic within a week.")],
        because: "A wide gap is a reason to discuss fixation.",
        sources: [cite("AO-D", "C"), commonPractice],
      },
      {
        id: "DPU-38",
        when: { woundOverJoint: ["cut", "skin-and-tendon-lost"] },
        then: [urgent("D0", "Wound over the end joint: hand surgeon today, open joint or cut tendon until explored.")],
        because: "A tip that straightens does not prove that joint and tendon are whole.",
        sources: [cite("HS2", "G", "draft"), commonPractice],
      },
      {
        id: "DPU-39",
        // A bony mallet has its own line; a joint that is still out is not judged before it is back.
        when: {
          onLateral: "yes",
          malletBony: "no",
          jointDislocated: ["no", "reduced"],
          jointPosition: ["volar-subluxed", "dorsal-subluxed"],
        },
        then: [urgent("W1", "Slipped joint: hand clinic within a week.")],
        because: "A joint that is not in place is not stable, with or without a fracture.",
        sources: [cite("SAVAGE21", "B"), commonPractice],
      },
      {
        id: "DPU-41",
        when: { isolatedTuft: "yes", displaced: "yes" },
        then: [urgent("R2", "Displaced tuft piece: discuss it; hand clinic in 7 to 14 days.")],
        because: "A piece under the nail bed deforms the nail.",
        sources: [cite("SCHN88", "C"), commonPractice],
      },
      {
        id: "DPU-40",
        when: { passiveExtension: "blocked" },
        then: [urgent("W1", "Tip cannot be straightened: hand clinic within a week.")],
        because: "A blocked tip means a slipped joint, a fragment in the way or an old injury.",
        sources: [cite("BACH17", "C")],
      },
    ],
  });
};

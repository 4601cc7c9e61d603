import { type Citation, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { Effect, Visit, VisitPurpose } from "../hand/effects.ts";
import { daysInHours } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Row, type Rule, type Table, table, under } from "../reasoning/table.ts";
import { visit } from "./effects-in-short.ts";
import { besideLesion } from "./lesion.ts";
import { NOT_STRAIGHTENED } from "./mallet.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, MISSED_DAYS, moreThan } from "./signs.ts";

const CLINIC = "hand clinic";
const THERAPIST = "hand therapist";
const SURGEON = "hand surgeon";
const GP = "family doctor";
const GP_BY_PHONE = "family doctor, by phone";
/** A visit whose days start with the treatment of today: the splint put on, the wound repaired here. */
const treated = (
  purpose: VisitPurpose,
  who: string,
  days: readonly [number, number, number],
  check: string,
  more: Pick<Visit, "after" | "onlyIf"> = {},
): Effect => visit(purpose, who, days, check, { ...more, countFrom: "treatment" });
/** A visit whose days start with an operation that is still to come: it has no date before that has one. */
const operated = (
  purpose: VisitPurpose,
  who: string,
  days: readonly [number, number, number],
  check: string,
  more: Pick<Visit, "after" | "onlyIf"> = {},
): Effect => visit(purpose, who, days, check, { ...more, countFrom: "operation" });
const WIRED = { onlyIf: "if a wire was placed" } as const;
const BONE_FIXED = { onlyIf: "if bone was fixed" } as const;
const NOT_WIRED = { onlyIf: "if no wire was placed" } as const;
const OPERATED = { onlyIf: "if operated" } as const;
const NOT_OPERATED = { onlyIf: "if not operated" } as const;
const STITCHES_WORDS = "out with the stitches; none to take if absorbable or glue";
const IF_STITCHED = { onlyIf: "if it was stitched" } as const;
const STITCHES = treated("stitches-out", GP, [10, 12, 14], STITCHES_WORDS, IF_STITCHED);
const OPERATION_STITCHES = operated("stitches-out", GP, [10, 12, 14], STITCHES_WORDS, IF_STITCHED);
const PIN_SITE = "pin site: redness, pus, loose? Infected or loose: wire out";
const SURGEON_TODAY: readonly Effect[] = [treated("surgeon-review", SURGEON, [0, 0, 1], "Exploration and repair")];
const PINNED_SITE = operated("wound-check", CLINIC, [5, 6, 7], PIN_SITE, WIRED);
/** "Discuss", "refer" and every urgency within a week mean an appointment with the surgeon within that week. */
const reviewThisWeek = (check: string): Effect => treated("surgeon-review", SURGEON, [0, 5, 7], check);
/** The next working day may lie behind a weekend. */
const reviewNextDay = (check: string): Effect => treated("surgeon-review", SURGEON, [0, 1, 3], check);
const MALLET_END = "Clinical and film union, lag, skin";
const IN_SPLINT = "True lateral in the splint: is the joint still congruent? Slipped: refer within 48 hours";
const SLIP = "Lost position, or over 2 mm more displaced? Refer within 48 hours";
const CONGRUENT = "True lateral: is the joint still congruent? Slipped: refer within 48 hours";
const INFECTION = "Redness, pus, rising pain, smell";

/** One late visit, counted from the operation if a wire was placed and from the treatment if none was. */
const fixedOrNot = (
  purpose: VisitPurpose,
  days: readonly [number, number, number],
  check: string,
  also = "",
): readonly Effect[] => [
  operated(purpose, CLINIC, days, check, { onlyIf: `${WIRED.onlyIf} ${also}`.trim() }),
  treated(purpose, CLINIC, days, check, { onlyIf: `${NOT_WIRED.onlyIf} ${also}`.trim() }),
];

/** Base fractures that are not operated. */
const inSplint = (more: Pick<Visit, "onlyIf"> = {}): readonly Effect[] => [
  treated("clinic", CLINIC, [6, 7, 7], "Skin, splint, flexor test", more),
  ...[7, 14, 28].map((day) => treated("film", CLINIC, [day - 1, day, day + 1], "Still in place?", more)),
  treated("therapy", THERAPIST, [28, 30, 42], "Motion begins", more),
  treated("discharge-check", CLINIC, [77, 84, 91], "Motion, pain", more),
];
const openTuft = (woundClinic: string, last: string, after: typeof treated, stitches: Effect): readonly Effect[] => [
  treated("wound-check", woundClinic, [2, 4, 5], INFECTION),
  treated("wound-check", woundClinic, [6, 7, 7], INFECTION),
  stitches,
  after("therapy", THERAPIST, [14, 21, 28], "Desensitise the tip"),
  after("wire-out", CLINIC, [21, 24, 28], "wire out", WIRED),
  visit("film", CLINIC, [28, 35, 42], "position, union", { after: "wound-check", onlyIf: "if displaced or painful" }),
  visit("discharge-check", last, [42, 49, 56], "Touch pain: more desensitising. Nail at 4 to 6 months"),
];
/** A wire across a growth plate comes out at 3 to 4 weeks. */
const plateWire: readonly Effect[] = [
  PINNED_SITE,
  operated("wire-out", CLINIC, [21, 28, 28], "film, then wire out", { ...WIRED, after: "film" }),
];
const SHARE_UNKNOWN = "Share of the joint not measured, taken as a third to two thirds until it is.";
const DISPLACEMENT_UNKNOWN = "Displacement not judged, taken as displaced until it is.";

/**
 * When to look again and for what. Days count from the injury, or from the treatment where that starts something. Only "within one
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
  const share = p["distalPhalanx.mallet.discussSharePercent"];
  const acceptLag = p["distalPhalanx.mallet.acceptLagDegrees"];
  const clinicLag = p["distalPhalanx.mallet.clinicLagDegrees"];
  const largeRepair = p["distalPhalanx.jersey.largeFragmentDays"];
  const malletWire = [p["distalPhalanx.mallet.wireFromDays"], p["distalPhalanx.mallet.wireToDays"]] as const;
  const pinOut = operated(
    "wire-out",
    CLINIC,
    [malletWire[0], Math.round((malletWire[0] + malletWire[1]) / 2), malletWire[1]],
    "true lateral, then wire out; motion begins, splint 2 weeks more, then at night",
    { ...WIRED, after: "film" },
  );
  /** What follows a pinned mallet; one that is only discussed keeps the visits of the splint beside it. */
  const pinned: readonly Effect[] = [
    PINNED_SITE,
    operated("film", CLINIC, [7, 8, 10], "true lateral: joint and fragment in place?", WIRED),
    OPERATION_STITCHES,
    pinOut,
    operated("therapy", THERAPIST, [malletWire[0], malletWire[1], malletWire[1]], "motion", {
      ...WIRED,
      after: "wire-out",
    }),
    operated("discharge-check", CLINIC, [84, 98, 112], "union, lag, motion", WIRED),
  ];
  /** What a splinted mallet needs; a slipped one only if the surgeon goes on with the splint. */
  const splinted = (more: Pick<Visit, "onlyIf"> = {}): readonly Effect[] => [
    treated("splint-review", THERAPIST, [5, 7, 7], "Skin, fit, tip never dropped", more),
    treated(
      "discharge-check",
      CLINIC,
      [77, 84, 91],
      `Lag: up to ${acceptLag} degrees accept; ${acceptLag} to ${clinicLag} more splint; above, or swan-neck, clinic`,
      more,
    ),
  ];
  const joined = (more: Pick<Visit, "onlyIf"> = {}): readonly Effect[] => [
    treated("film-true-lateral", CLINIC, [bonyFrom, bonyFrom, malletTo], MALLET_END, {
      ...more,
      after: "splint-review",
    }),
    treated("therapy", THERAPIST, [bonyFrom, bonyFrom, malletTo], "Once joined: splint off, motion begins", {
      ...more,
      after: "film-true-lateral",
    }),
  ];
  const pinnedSources = [
    commonPractice,
    cite("COS12", "C", "united at a mean of 38 days"),
    cite("AGARWAL12", "C", "wires 6 weeks"),
    cite("SUZUKI21", "C", "position lost in 13 of 132"),
  ] as const;
  const rule = (
    id: string,
    when: Row<DistalPhalanxFacts>,
    then: readonly Effect[],
    because: string,
    ...sources: readonly [Citation, ...Citation[]]
  ): Rule<DistalPhalanxFacts, readonly Effect[]> => ({ id, when, then, because, sources });
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "follow-up",
    question: "When is it looked at again, and for what?",
    answers: "every",
    rules: [
      {
        id: "FUP-1",
        when: { isolatedTuft: "yes", openFracture: "no", surgeonTakesOver: "no" },
        then: [
          visit("splint-review", GP_BY_PHONE, [7, 8, 10], "Pain, cap, end joint moving? Worse: to be seen"),
          visit("discharge-check", GP, [21, 25, 28], "Still tender? Film only if it hurts at 6 to 8 weeks"),
        ],
        because: "A closed tuft needs no routine clinic.",
        sources: [commonPractice, cite("EATON", "C", "home exercises from day 7")],
      },
      {
        id: "FUP-2",
        when: { isolatedTuft: "yes", openFracture: "yes", surgeonTakesOver: "no" },
        then: openTuft("wound clinic", GP, treated, STITCHES),
        because: "An open tuft is checked for infection as in the trials.",
        sources: [
          cite("STEV03", "A", "day 4 to 5"),
          cite("HS2", "G", "within one week"),
          cite("AO-D", "C", "nail stitch 10 days"),
          commonPractice,
          { ...fromMemory, at: "wire out at 3 to 4 weeks" },
        ],
      },
      {
        id: "FUP-30",
        when: { isolatedTuft: "yes", surgeonTakesOver: "yes" },
        then: openTuft(CLINIC, CLINIC, operated, OPERATION_STITCHES),
        because: "Who repairs the tip looks at it again.",
        sources: [cite("STEV03", "A", "day 4 to 5"), cite("HS2", "G", "within one week"), commonPractice],
      },
      {
        id: "FUP-33",
        when: { openness: ["skin-cut", "skin-burst-or-flap"], closureWaits: "no" },
        then: [treated("wound-check", "wound clinic", [2, 4, 5], INFECTION), STITCHES],
        because: "A skin wound over a closed fracture is looked at like any repaired wound.",
        sources: [commonPractice],
      },
      {
        id: "FUP-73",
        when: { openness: ["skin-cut", "skin-burst-or-flap"], surgeonTakesOver: "no", closureWaits: "yes" },
        then: [treated("wound-check", "wound clinic", [2, 4, 5], INFECTION), OPERATION_STITCHES],
        because: "Stitches count from the day on which the hand team closes the wound.",
        sources: [commonPractice],
      },
      {
        id: "FUP-39",
        when: { nailToExplore: "yes", openFracture: "no", surgeonTakesOver: "no" },
        then: [treated("wound-check", "wound clinic", [2, 4, 5], INFECTION), STITCHES],
        because: "A lifted nail is looked at like any repaired wound.",
        sources: [commonPractice],
      },
      {
        id: "FUP-37",
        // These have a line of their own that says what is operated.
        when: { surgeonTakesOver: "yes", openMallet: "no", openPhysealFracture: "no", malletEquivalentCorD: "no" },
        then: SURGEON_TODAY,
        because: "What a surgeon takes over today needs a surgeon today.",
        sources: [cite("HS2", "G", "draft"), commonPractice],
      },
      rule(
        "FUP-44",
        { surgeonTakesOver: "yes", openPhysealFracture: "no" },
        [treated("wound-check", CLINIC, [3, 5, 7], INFECTION), OPERATION_STITCHES],
        "A wound that the surgeon closed is looked at by the hand clinic.",
        cite("HS2", "G", "within one week"),
        commonPractice,
      ),
      {
        id: "FUP-3",
        when: {
          haematoma: ["under-quarter", "quarter-to-half", "over-half"],
          haematomaPainful: "yes",
          immuneCompromise: "yes",
        },
        then: [treated("wound-check", GP, [2, 3, 7], INFECTION)],
        because: "A drained haematoma is checked only if infection is likelier.",
        sources: [commonPractice],
      },
      {
        id: "FUP-4",
        when: { stableShaft: "yes", fdpLoss: "no" },
        then: [
          visit("film", CLINIC, [7, 8, 10], SLIP),
          visit("therapy", THERAPIST, [21, 24, 28], "Start moving the end joint; the others move since week 1"),
          visit("film", CLINIC, [28, 30, 35], "Union; splint off"),
          visit("discharge-check", CLINIC, [42, 49, 56], "Motion, tender spots"),
        ],
        because: "A shaft may tilt in the first ten days.",
        sources: [
          commonPractice,
          cite("EATON", "C", "early motion"),
          cite("ACR19", "G", "film again in 10 to 14 days if in doubt"),
        ],
      },
      {
        id: "FUP-5",
        when: { unstableFracture: "yes" },
        then: [
          reviewNextDay("Fixation? If so, within 3 to 7 days"),
          PINNED_SITE,
          treated("film", CLINIC, [7, 8, 10], `With or without fixation. ${SLIP}`),
          OPERATION_STITCHES,
          operated("wire-out", CLINIC, [21, wire, 42], "film, then wire out; splint 1 to 2 weeks more", {
            ...WIRED,
            after: "film",
          }),
          operated("therapy", THERAPIST, [21, wire, 42], "start moving the end joint", { ...WIRED, after: "wire-out" }),
          treated("film", CLINIC, [28, 35, 42], "union; splint off, motion begins", NOT_WIRED),
          // Day 0 is the operation where there is one, so what comes late stands once for each way.
          ...fixedOrNot("film", [56, 63, 70], "film again", "and union is late"),
          ...fixedOrNot("discharge-check", [70, 77, 84], "union, motion, nail"),
        ],
        because: "A wired shaft is watched for slip and pin infection.",
        sources: [commonPractice, cite("KWIRE07", "B", "pins in children: 7.9 % infected"), cite("NEEDLE20", "B")],
      },
      {
        id: "FUP-6",
        when: {
          malletInjury: "yes",
          flexorInDoubt: "no",
          openMallet: "no",
          passiveExtension: "full",
          splintTimeOver: "no",
          malletSlipped: "no",
        },
        assume: NOT_STRAIGHTENED,
        then: splinted(),
        because: "Skin and fit decide whether the splint is kept.",
        sources: [cite("MKUH", "C"), cite("GRUBER14", "A", "a third keep 20 degrees or more"), commonPractice],
      },
      {
        id: "FUP-7",
        when: {
          malletBony: "yes",
          articularSharePercent: under(share),
          flexorInDoubt: "no",
          openMallet: "no",
          malletSlipped: "no",
        },
        then: [treated("film-true-lateral", CLINIC, [7, 8, 10], IN_SPLINT)],
        because: "A small fragment is filmed once in the splint.",
        sources: [commonPractice],
      },
      {
        id: "FUP-8",
        when: { malletBony: "yes", articularSharePercent: from(share) },
        assume: { column: "articularSharePercent", say: SHARE_UNKNOWN },
        then: [7, 14, 21].map((day) => treated("film-true-lateral", CLINIC, [day - 1, day, day + 1], CONGRUENT)),
        because: "13 of 35 (37 %) joints with a third to two thirds on the fragment slipped in the splint.",
        sources: [cite("SAVAGE21", "B"), cite("COS12", "C", "pinning still good before 5 weeks")],
      },
      {
        id: "FUP-40",
        when: { malletInjury: "yes", passiveExtension: "blocked", openMallet: "no", fdpLoss: "no" },
        then: [treated("clinic", CLINIC, [3, 5, 7], "Tip that does not straighten: splint or operation?")],
        because: "A splint cannot hold what cannot be straightened.",
        sources: [cite("BACH17", "C", "Burton stages"), commonPractice],
      },
      {
        id: "FUP-9",
        when: {
          malletBony: "yes",
          flexorInDoubt: "no",
          openMallet: "no",
          passiveExtension: "full",
          splintTimeOver: "no",
          malletSlipped: "no",
        },
        assume: NOT_STRAIGHTENED,
        then: joined(),
        because: "The splint comes off only when the bone has joined.",
        sources: [commonPractice, cite("MKUH", "C"), cite("AAFP22", "C", "8 weeks")],
      },
      {
        id: "FUP-10",
        when: {
          tendinousMallet: "yes",
          flexorInDoubt: "no",
          openMallet: "no",
          passiveExtension: "full",
          splintTimeOver: "no",
        },
        assume: NOT_STRAIGHTENED,
        then: [
          treated(
            "therapy",
            THERAPIST,
            [tendinousFrom, tendinousFrom, malletTo],
            "Splint off, lag measured, motion begins",
            { after: "splint-review" },
          ),
        ],
        because: "The tendon is tested when the splint comes off.",
        sources: [commonPractice, cite("AAFP22", "C")],
      },
      {
        id: "FUP-11",
        when: { malletBony: "yes", jointPosition: ["volar-subluxed", "dorsal-subluxed"] },
        then: [reviewThisWeek("Slipped joint: pin or splint")],
        because: "A slipped joint is a surgeon's decision.",
        sources: [cite("SAVAGE21", "B"), commonPractice],
      },
      {
        id: "FUP-12",
        when: { malletLarge: "yes" },
        then: [reviewThisWeek("Large fragment: pin or splint")],
        because: "A very large fragment is a surgeon's decision.",
        sources: [commonPractice],
      },
      {
        id: "FUP-13",
        when: { openMallet: "yes" },
        then: [
          treated("surgeon-review", SURGEON, [0, 0, 1], "Open mallet: wash-out and repair"),
          treated("wound-check", CLINIC, [2, 4, 7], INFECTION),
          ...pinned,
          operated("splint-review", CLINIC, [bonyFrom, bonyFrom, malletTo], "splint off if it holds; lag", NOT_WIRED),
          operated("discharge-check", CLINIC, [84, 98, 112], "lag, motion", NOT_WIRED),
        ],
        because: "An open joint is washed out at once, and a repaired extensor is held as long as a torn one.",
        sources: [cite("HS2", "G", "within one week"), ...pinnedSources],
      },
      {
        id: "FUP-14",
        when: { fdpLoss: "yes" },
        then: [treated("surgeon-review", SURGEON, [0, 1, 1], "Level of the tendon, operation")],
        because: "The tendon retracts day by day.",
        sources: [cite("TRUMBLE92", "C"), cite("QA-JERSEY", "C")],
      },
      {
        id: "FUP-15",
        when: { jerseyAlone: "yes", hoursSinceInjury: under(daysInHours(MISSED_DAYS)) },
        assume: { column: "hoursSinceInjury", say: "Day of the injury not known, counted as today." },
        then: [
          operated("wound-check", CLINIC, [3, 5, 7], INFECTION, OPERATED),
          operated("therapy", THERAPIST, [3, 5, 7], "protocol of the surgeon", OPERATED),
          operated("film", CLINIC, [0, 5, 7], "fragment in place?", BONE_FIXED),
          OPERATION_STITCHES,
          operated("film", CLINIC, [28, 35, 42], "union", BONE_FIXED),
          operated("wire-out", CLINIC, [42, 42, 45], "film if bone was fixed, wire out", {
            onlyIf: "if a wire crosses the end joint",
          }),
          operated("splint-review", THERAPIST, [42, 42, 45], "block splint off", OPERATED),
          operated("discharge-check", CLINIC, [84, 98, 112], "Grip, bending, rupture"),
        ],
        because: "A repaired tendon is moved early and protected for 12 weeks.",
        sources: [cite("RADREF-LP", "C"), cite("BEDI", "C", "wire 6 weeks"), commonPractice],
      },
      {
        id: "FUP-28",
        when: { jerseyAlone: "yes", hoursSinceInjury: under(daysInHours(repair)) },
        assume: { column: "hoursSinceInjury", say: "Day of the injury not known, counted as today." },
        then: [
          visit("surgeon-review", SURGEON, [2, 7, repair], `Operation; the window closes on day ${repair}`, {
            dueDay: repair,
          }),
        ],
        because: "The tendon is put back before it has shortened.",
        sources: [cite("RADREF-LP", "C"), cite("QA-JERSEY", "C"), cite("CH35", "C")],
      },
      {
        id: "FUP-16",
        when: { combinedBase: "yes", jointDisplaced: "no", fdpLoss: "no" },
        then: inSplint(),
        because: "Without operation it is filmed until it holds.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "FUP-34",
        when: { combinedBase: "yes", jointDisplaced: "no", fdpLoss: "yes" },
        then: inSplint(NOT_OPERATED),
        because: "With the flexor off the bone the surgeon decides first whether to operate.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "FUP-17",
        when: { pilonBase: "yes", jointDisplaced: "no" },
        then: [
          treated("clinic", CLINIC, [5, 7, 7], "Splint and films, or fixation?"),
          ...[7, 14, 28].map((day) => treated("film", CLINIC, [day - 1, day, day + 1], "Still in place?")),
          treated("discharge-check", CLINIC, [77, 84, 91], "Motion, pain"),
        ],
        because: "It may sink in while it heals.",
        sources: [commonPractice],
      },
      {
        id: "FUP-31",
        when: { combinedBase: "yes", jointDisplaced: "yes" },
        assume: { column: "jointDisplaced", say: DISPLACEMENT_UNKNOWN },
        then: [treated("surgeon-review", SURGEON, [0, 1, 1], "Displaced base fracture: fixation?")],
        because: "A displaced base fracture is a surgeon's decision.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "FUP-32",
        when: { pilonBase: "yes", jointDisplaced: "yes" },
        assume: { column: "jointDisplaced", say: DISPLACEMENT_UNKNOWN },
        then: [treated("surgeon-review", SURGEON, [0, 1, 1], "Displaced joint fracture: fixation?")],
        because: "A displaced joint fracture is a surgeon's decision.",
        sources: [commonPractice],
      },
      {
        id: "FUP-35",
        when: { baseDisplaced: "yes" },
        then: [
          operated("wound-check", CLINIC, [5, 6, 7], `wound, ${PIN_SITE}`, OPERATED),
          treated("film", CLINIC, [7, 8, 10], `With or without fixation. ${SLIP}`),
          OPERATION_STITCHES,
          operated("wire-out", CLINIC, [28, 28, 42], "film, then wire out", { ...WIRED, after: "film" }),
          // These two windows are right whether it is operated at once, a week later or not at all.
          treated("therapy", THERAPIST, [35, 37, 42], "Motion begins, as the surgeon says"),
          treated("discharge-check", CLINIC, [84, 86, 91], "Motion, pain"),
        ],
        because: "What follows depends on the operation.",
        sources: [cite("VIENNA24", "B"), commonPractice],
      },
      {
        id: "FUP-18",
        when: { volarChip: "yes" },
        then: [treated("clinic", CLINIC, [7, 10, 14], "Flexor test again; joint in place")],
        because: "A chip may hide a tendon that is coming off.",
        sources: [commonPractice],
      },
      {
        id: "FUP-19",
        when: { openPhysealFracture: "yes" },
        then: [
          treated("surgeon-review", SURGEON, [0, 0, 1], "Wash-out and reduction"),
          treated("wound-check", CLINIC, [2, 3, 3], INFECTION),
          treated("wound-check", CLINIC, [6, 7, 7], INFECTION),
          treated("film", CLINIC, [7, 8, 10], "Position"),
          operated("wire-out", CLINIC, [21, seymourWire, 28], "film, then wire out", { ...WIRED, after: "film" }),
          operated("splint-review", CLINIC, [28, 28, 30], "Film; splint off if it does not hurt"),
          treated("physis-film", CLINIC, [84, 91, 98], "Growth plate"),
          treated("physis-film", CLINIC, [180, 270, 365], "Growth plate, length, nail; then discharge"),
        ],
        because: "Infection comes early, growth arrest late.",
        sources: [
          cite("CHINSEY", "C"),
          cite("KRUSCHE13", "C", "10 years on: 23 of 24 full motion, 5 minor growth change, 6 nail dystrophy"),
          cite("REYES17", "C"),
          { ...fromMemory, at: "infected: 0 treated in full at once, about 15 % in part, about 45 % late" },
          commonPractice,
        ],
      },
      {
        id: "FUP-20",
        when: { physealClosed: "yes" },
        then: [
          // Seen within a week, filmed from day 7: on day 7 both are one way to the clinic.
          visit("clinic", CLINIC, [5, 7, 7], "Skin, splint, tilt, nail fold"),
          visit("film", CLINIC, [7, 7, 10], SLIP),
          visit("film", CLINIC, [26, 28, 30], "Union; splint off"),
          visit("discharge-check", CLINIC, [180, 200, 365], "Length, tilt, nail"),
        ],
        because: "It may slip early and grow askew late.",
        sources: [commonPractice, cite("YEH09", "C")],
      },
      {
        id: "FUP-78",
        when: { physealClosed: "yes", salterHarris: ["III", "IV", "V"] },
        then: [visit("physis-film", CLINIC, [180, 270, 365], "Growth plate and joint")],
        because: "A line into the joint or a crushed plate grows askew late.",
        sources: [commonPractice],
      },
      {
        id: "FUP-21",
        when: { seymourPatternClosed: "yes" },
        then: [
          treated("clinic", "senior doctor on duty", [0, 0, 0], "Whole nail fold, nail lifted if in doubt"),
          visit("film", CLINIC, [7, 8, 10], `Nail fold still closed? ${SLIP}`),
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
          reviewThisWeek("Growth plate and joint: splint, or small wires?"),
          ...[7, 14].map((day) => treated("film-true-lateral", CLINIC, [day - 1, day, day + 1], CONGRUENT)),
          ...plateWire,
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
          treated("surgeon-review", SURGEON, [0, 0, 1], "Open reduction"),
          treated("wound-check", CLINIC, [5, 6, 7], INFECTION),
          treated("film", CLINIC, [7, 8, 10], "Position"),
          ...plateWire,
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
        then: [visit("film", GP, [10, 12, 14], "film again", { onlyIf: "if it still hurts" })],
        because: "A fracture may show only later.",
        sources: [cite("ACR19", "G")],
      },
      {
        id: "FUP-26",
        when: { nailBedTorn: "yes", surgeonTakesOver: "no" },
        then: [treated("wound-check", "wound clinic", [5, 7, 7], INFECTION)],
        because: "The trial looked at about day 7, and at the nail from 4 months.",
        sources: [cite("NINJA23", "A")],
      },
      {
        id: "FUP-27",
        when: { openFracture: "yes", isolatedTuft: "no", noFracture: "no" },
        then: [treated("wound-check", CLINIC, [3, 5, 7], INFECTION)],
        because: "An open hand fracture is reviewed within one week.",
        sources: [cite("HS2", "G", "draft, item 12"), cite("STEV03", "A", "day 4 to 5")],
      },
      {
        id: "FUP-42",
        when: { openFracture: "yes", noFracture: "yes" },
        then: [treated("wound-check", "wound clinic", [3, 5, 7], INFECTION)],
        because: "A wound without a fracture is checked like one with it, but needs no hand clinic.",
        sources: [commonPractice],
      },
      {
        id: "FUP-29",
        when: { reducedDislocation: "yes" },
        then: [
          treated("film-true-lateral", CLINIC, [7, 10, 14], "Joint still in place? Flexor and extensor tested again"),
          treated("therapy", THERAPIST, [14, 18, 21], "Splint off, motion begins"),
          treated("discharge-check", CLINIC, [42, 49, 56], "Motion, swelling, stable joint"),
        ],
        because: "A reduced joint may slip again while it is splinted for 2 to 3 weeks.",
        sources: [cite("AAFP22", "C", "splint 2 to 3 weeks"), commonPractice],
      },
      {
        id: "FUP-36",
        when: { tendonUncleared: "yes" },
        then: [visit("film", CLINIC, [10, 12, 14], "film again", { onlyIf: "if it still hurts" })],
        because: "A fracture may show only later.",
        sources: [cite("ACR19", "G")],
      },
      rule(
        "FUP-45",
        { openFracture: "yes", noFracture: "yes", surgeonTakesOver: "no" },
        [STITCHES],
        "A wound repaired here has its stitches taken out.",
        commonPractice,
        cite("AO-D", "C", "nail stitch 10 days"),
      ),
      rule(
        "FUP-46",
        { stableShaft: "yes", fdpLoss: "yes" },
        [visit("film", CLINIC, [7, 8, 10], SLIP), visit("film", CLINIC, [28, 30, 35], "Union")],
        "With the flexor repaired the therapist of the tendon says when the end joint moves.",
        commonPractice,
      ),
      rule(
        "FUP-47",
        { fdpLoss: "yes", jersey: "no" },
        [
          operated("therapy", THERAPIST, [3, 5, 7], "protocol of the surgeon", OPERATED),
          OPERATION_STITCHES,
          operated("discharge-check", CLINIC, [84, 98, 112], "Grip, bending, rupture", OPERATED),
        ],
        "A repaired tendon is moved early and protected for 12 weeks.",
        commonPractice,
      ),
      {
        ...rule(
          "FUP-48",
          { fdpLoss: "yes", jersey: "no", hoursSinceInjury: under(daysInHours(repair)) },
          [
            visit("surgeon-review", SURGEON, [2, 7, repair], `repair at the latest by day ${repair}`, {
              dueDay: repair,
              onlyIf: "if not repaired when it is explored",
            }),
          ],
          "A cut tendon is repaired before its ends have drawn apart; no limit of its own was found, the one of an avulsion is taken.",
          commonPractice,
          cite("RADREF-LP", "C", "avulsion"),
        ),
        assume: { column: "hoursSinceInjury", say: "Day of the injury not known, counted as today." },
      },
      rule(
        "FUP-49",
        {
          jerseyAlone: "yes",
          volarFragmentAt: "dip-or-a4",
          hoursSinceInjury: from(daysInHours(repair), daysInHours(largeRepair)),
        },
        [
          visit(
            "surgeon-review",
            SURGEON,
            [repair, repair, largeRepair],
            `Operation; day ${largeRepair} is the cautious limit for a large fragment`,
            { dueDay: largeRepair },
          ),
        ],
        "A fragment held at the joint keeps the tendon long for a while.",
        commonPractice,
        cite("RADREF-LP", "C", "several weeks"),
      ),
      rule(
        "FUP-43",
        { malletSlipped: "yes", openMallet: "no", fdpLoss: "no" },
        pinned,
        "A slipped joint is mostly pinned.",
        ...pinnedSources,
      ),
      rule(
        "FUP-50",
        { malletLarge: "yes", jointPosition: "congruent", openMallet: "no", fdpLoss: "no" },
        pinned,
        "A very large fragment is mostly pinned.",
        ...pinnedSources,
      ),
      rule(
        "FUP-51",
        { malletMiddle: "yes", openMallet: "no", fdpLoss: "no" },
        [reviewThisWeek("Third to two thirds of the joint: splint or pin?"), ...pinned],
        "Splint and pinning end alike, and the surgeon decides early which it is.",
        ...pinnedSources,
        cite("EBP17", "B"),
      ),
      rule(
        "FUP-53",
        { malletBony: "yes", displacement: "seen", fragmentGapMm: moreThan(p["distalPhalanx.mallet.gapMm"]) },
        [reviewThisWeek("Gap at the fragment: splint or pin?")],
        "A wide gap is a reason to discuss surgery.",
        cite("RADREF-M", "C"),
        commonPractice,
      ),
      rule(
        "FUP-54",
        { malletInjury: "yes", cannotKeepSplint: "yes" },
        [reviewThisWeek("Splint cannot be kept on: wire, or a carer's help?")],
        "A mallet splint works only if it is never off.",
        commonPractice,
      ),
      rule(
        "FUP-55",
        { malletInjury: "yes", handDependentWork: "yes" },
        [reviewThisWeek("Work without a splint: wire?")],
        "Some work cannot be done in a splint.",
        commonPractice,
      ),
      rule(
        "FUP-70",
        { splintTimeOver: "yes", flexorInDoubt: "no" },
        [treated("clinic", CLINIC, [0, 5, 7], "Lag after the full splint time, skin, swan-neck; film if it was bony")],
        "What the splint has done is measured when its time is over.",
        commonPractice,
        cite("GRUBER14", "A", "a third keep 20 degrees or more"),
      ),
      rule(
        "FUP-56",
        {
          onLateral: "yes",
          malletBony: "no",
          jointDislocated: "no",
          jointPosition: ["volar-subluxed", "dorsal-subluxed"],
        },
        [reviewThisWeek("Slipped joint: why, and what holds it?")],
        "A joint that is not in place is not stable, with or without a fracture.",
        commonPractice,
      ),
      rule(
        "FUP-57",
        { jointDislocated: "reduced", jointPosition: ["volar-subluxed", "dorsal-subluxed"] },
        [reviewNextDay("Joint not congruent after the reduction")],
        "Something lies in the joint or it is not stable.",
        commonPractice,
      ),
      rule(
        "FUP-58",
        { physealClosed: "yes", physisDisplaced: "yes" },
        [reviewNextDay("Displaced growth plate: reduction, wire if it does not stay"), ...plateWire],
        "It is reduced while it is fresh.",
        cite("YEH09", "C"),
        commonPractice,
      ),
      rule(
        "FUP-59",
        { seymourPatternClosed: "yes", physisDisplaced: "yes" },
        [reviewNextDay("Tilted growth plate: reduction, wire if it does not stay"), ...plateWire],
        "It is reduced while it is fresh.",
        cite("YEH09", "C"),
        commonPractice,
      ),
      rule(
        "FUP-62",
        { nailPlaneRotation: "rotated" },
        [reviewNextDay("Twisted tip: turn it back?")],
        "Rotation does not correct itself, not even in a child.",
        commonPractice,
      ),
      rule(
        "FUP-63",
        { isolatedTuft: "yes", displaced: "yes", surgeonTakesOver: "no" },
        [treated("clinic", CLINIC, [7, 10, 14], "Displaced piece: does it tent the nail bed?")],
        "A piece under the nail bed deforms the nail.",
        cite("SCHN88", "C"),
        commonPractice,
      ),
      rule(
        "FUP-64",
        { shaftApart: "yes" },
        [reviewThisWeek("Step in the joint or wide gap: fixation?")],
        "A longitudinal line may open the joint.",
        cite("AO-D", "C"),
        commonPractice,
      ),
      rule(
        "FUP-66",
        { jerseySuspected: "yes" },
        [reviewNextDay("Deep flexor: ultrasound, tested again")],
        "Torn or half torn until excluded.",
        cite("BACH17", "C"),
        commonPractice,
      ),
      rule(
        "FUP-67",
        { passiveExtension: "blocked", malletInjury: "no" },
        [treated("clinic", CLINIC, [3, 5, 7], "Tip that does not straighten: why?")],
        "A blocked tip means a slipped joint, a fragment in the way or an old injury.",
        cite("BACH17", "C"),
        commonPractice,
      ),
      rule(
        "FUP-74",
        { seymourSuspect: "yes" },
        [treated("surgeon-review", SURGEON, [0, 0, 1], "Nail root, fold and bed")],
        "An injured fold over a growth plate has its appointment today, whether or not the fracture is proven yet.",
        cite("OBSEY", "C"),
        commonPractice,
      ),
      rule(
        "FUP-75",
        { malletSlipped: "yes", openMallet: "no", flexorInDoubt: "no", passiveExtension: "full" },
        [...splinted(NOT_OPERATED), ...joined(NOT_OPERATED)],
        "What a splint needs is booked only if the surgeon goes on with it.",
        cite("SALAZAR16", "C"),
        cite("MKUH", "C"),
        cite("AAFP22", "C", "8 weeks"),
        commonPractice,
      ),
      rule(
        "FUP-76",
        { malletSlipped: "yes", openMallet: "no", flexorInDoubt: "no", articularSharePercent: under(share) },
        [
          treated("film-true-lateral", CLINIC, [7, 8, 10], "true lateral in the splint: is the joint back in place?", {
            ...NOT_OPERATED,
          }),
        ],
        "A slipped joint is splinted only film by film.",
        cite("SALAZAR16", "C"),
        commonPractice,
      ),
      rule(
        "FUP-68",
        { nailToExplore: "yes", operationElsewhere: "no", blockForbidden: "yes" },
        [treated("surgeon-review", SURGEON, [0, 0, 1], "Nail lifted and repaired without a finger block here")],
        "A nail is not lifted without anaesthesia.",
        commonPractice,
      ),
      rule(
        "FUP-69",
        { nailBedTorn: "yes", surgeonTakesOver: "no", nailToExplore: "no", blockForbidden: "yes" },
        [treated("surgeon-review", SURGEON, [0, 0, 1], "Nail bed repaired without a finger block here")],
        "A nail bed is not repaired without anaesthesia.",
        commonPractice,
      ),
    ],
  });
};

/**
 * Visits of a mallet, a growth plate or a joint that stay right when the break runs through a bone lesion. A tuft or a shaft in place is
 * seen by the clinic of the lesion alone. Nothing that an operation brings: the surgeon and that clinic decide on it.
 */
const BESIDE_LESION: readonly string[] = [
  ...["FUP-6", "FUP-7", "FUP-8", "FUP-9", "FUP-10", "FUP-11", "FUP-12", "FUP-40", "FUP-51"],
  ...["FUP-53", "FUP-54", "FUP-55", "FUP-70", "FUP-75", "FUP-76"],
  ...["FUP-20", "FUP-21", "FUP-22", "FUP-24", "FUP-58", "FUP-59"],
  ...["FUP-16", "FUP-17", "FUP-56", "FUP-57", "FUP-62", "FUP-64", "FUP-67"],
];
const ofOperation = (effect: Effect) => effect.kind === "visit" && effect.visit.countFrom === "operation";

/** What is looked at again even when an exit has left the ordinary pathway: a treated infection, and a wound beside a slow exit. */
export const followUpAnywayTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "follow-up-anyway",
    question: "What is looked at again whatever became of the fracture?",
    answers: "every",
    rules: [
      {
        id: "FUP-41",
        when: { infected: "yes" },
        then: [
          treated("wire-out", SURGEON, [0, 1, 1], "wire out", { onlyIf: "if a wire is in and loose or infected" }),
          treated("wound-check", CLINIC, [2, 3, 3], INFECTION),
          treated("film", CLINIC, [10, 12, 14], "Lysis? It lags behind"),
          treated("film", CLINIC, [40, 42, 44], "Film quiet? Only then discharge"),
        ],
        because: "Bone infection shows on the film days to weeks later.",
        sources: [commonPractice],
      },
      {
        id: "FUP-77",
        when: { operationElsewhere: "yes", surgeonTakesOver: "no", boneLesion: "yes" },
        then: [reviewNextDay("Fracture through a bone lesion that is out of place, or a flexor in doubt")],
        because: "A clinic in two weeks for the bone does not hold a fracture or find a tendon tomorrow.",
        sources: [commonPractice],
      },
      {
        id: "FUP-71",
        when: { surgeonTakesOver: "yes", boneLesion: "yes" },
        then: SURGEON_TODAY,
        because: "A clinic in two weeks for the bone does not close a wound today.",
        sources: [cite("HS2", "G", "draft"), commonPractice],
      },
      {
        id: "FUP-72",
        when: { surgeonTakesOver: "yes", mechanism: "no-adequate-trauma", coldPointPainBlueSpot: "yes" },
        then: SURGEON_TODAY,
        because: "A clinic in two weeks for the pain does not close a wound today.",
        sources: [cite("HS2", "G", "draft"), commonPractice],
      },
      ...besideLesion(followUpTable(policy), BESIDE_LESION, (then) => then.filter((effect) => !ofOperation(effect))),
    ],
  });

import { against, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { daysInHours } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Table, table, under } from "../reasoning/table.ts";
import { manage, named, today, warn } from "./effects-in-short.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, moreThan } from "./signs.ts";

/**
 * Shares of the joint surface that the published names turn on (BACH17 table 1), in percent. A boundary belongs to the
 * larger class where the tables say "20 to 50" and "one third to two thirds"; "more than" starts above it. No site moves them.
 */
export const SHARE = { small: 20, third: 33.3, half: 50, twoThirds: 66.7 } as const;

const doyle = (letter: string, definition: string) => ({ name: `Doyle ${letter}`, definition, scheme: "Doyle" });
const wehbe = (letter: string, definition: string) => ({
  name: `Wehbé and Schneider ${letter}`,
  definition,
  scheme: "Wehbé and Schneider",
});
/** Published names, each with what it stands for (BACH17 table 1, own words). */
export const MALLET_NAMES = {
  "DOYLE-I": doyle("I", "Closed, without a fragment or with a small one"),
  "DOYLE-II": doyle("II", "Open, extensor tendon cut"),
  "DOYLE-III": doyle("III", "Open, with loss of skin and tendon substance"),
  "DOYLE-IVA": doyle("IVA", "Fracture through the growth plate of a child"),
  "DOYLE-IVB": doyle("IVB", "Fragment with 20 to 50 % of the joint surface, from hyperflexion"),
  "DOYLE-IVB-SLIPPED": doyle("IVB, subluxed", "Fragment with up to 50 % of the joint surface, joint slipped volar"),
  "DOYLE-IVC": doyle("IVC", "Fragment with more than 50 % of the joint surface, early or late volar subluxation"),
  "DOYLE-IVC-IF-IT-SLIPS": doyle(
    "IVC if it subluxes (at risk)",
    "Fragment with more than 50 % of the joint surface, joint still in place",
  ),
  "WEHBE-IA": wehbe("IA", "Joint in place, fragment with less than a third of the joint surface"),
  "WEHBE-IB": wehbe("IB", "Joint in place, fragment with a third to two thirds of the joint surface"),
  "WEHBE-IC": wehbe("IC", "Joint in place, fragment with more than two thirds of the joint surface"),
  "WEHBE-IIA": wehbe("IIA", "Joint subluxed, fragment with less than a third of the joint surface"),
  "WEHBE-IIB": wehbe("IIB", "Joint subluxed, fragment with a third to two thirds of the joint surface"),
  "WEHBE-IIC": wehbe("IIC", "Joint subluxed, fragment with more than two thirds of the joint surface"),
  "TUBIANA-III": {
    name: "Tubiana III (extension proposed for slipped fractures)",
    definition: "Slipped joint that a splint puts back",
    scheme: "Tubiana",
  },
  "TUBIANA-IV": {
    name: "Tubiana IV (extension proposed for slipped fractures)",
    definition: "Slipped joint that stays slipped in the splint",
    scheme: "Tubiana",
  },
  "EQUIVALENT-A": {
    name: "Mallet-equivalent, type A",
    definition: "Salter-Harris I or II of the end bone with a drooping tip, usually open",
    scheme: "Mallet-equivalent injuries, A to D",
  },
  "WEHBE-III": wehbe("III", "Injury of the epiphysis or the growth plate"),
  "DORSAL-SUBLUXATION": {
    name: "Dorsal subluxation, outside Doyle and Wehbé-Schneider",
    definition: "Joint slipped dorsal: both schemes describe volar subluxation only",
    scheme: "Doyle; Wehbé and Schneider",
  },
} as const;
const is = (name: keyof typeof MALLET_NAMES) => [named(name)];

const BY_TABLE = [cite("BACH17", "C", "table 1")] as const;
const DOYLE_20 = [
  ...BY_TABLE,
  against("SALAZAR16", "C", "share does not tell the mechanism"),
  against("QA-MALLET", "C", "cuts at 25 or 30 %"),
] as const;
const seated = { malletBony: "yes", openMallet: "no", jointPosition: "congruent" } as const;
const slippedVolar = { malletBony: "yes", jointPosition: "volar-subluxed" } as const;
const slipped = { ...slippedVolar, openMallet: "no" } as const;
const congruent = { malletBony: "yes", jointPosition: "congruent" } as const;
const A = under(SHARE.third);
const B = from(SHARE.third, moreThan(SHARE.twoThirds).from);
const C = moreThan(SHARE.twoThirds);

/** Published names of a mallet injury. Descriptors only: what to do is decided in `malletTable`. */
export const malletNameTable = (): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "mallet-names",
    question: "What do Doyle, Wehbé and Schneider call this mallet?",
    answers: "every",
    rules: [
      {
        id: "MNM-1",
        when: { ...seated, articularSharePercent: under(SHARE.small) },
        then: is("DOYLE-I"),
        because: "Closed, fragment under 20 % of the joint.",
        sources: DOYLE_20,
      },
      {
        id: "MNM-2",
        when: { tendinousMallet: "yes", openMallet: "no" },
        then: is("DOYLE-I"),
        because: "Closed, no fragment.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-3",
        when: { openMallet: "yes", woundOverJoint: "cut" },
        then: is("DOYLE-II"),
        because: "Open, tendon cut.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-4",
        when: { openMallet: "yes", woundOverJoint: "skin-and-tendon-lost" },
        then: is("DOYLE-III"),
        because: "Open, with loss of skin and tendon.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-5",
        when: { ...seated, articularSharePercent: from(SHARE.small, moreThan(SHARE.half).from) },
        then: is("DOYLE-IVB"),
        because: "Fragment of 20 to 50 % of the joint.",
        sources: DOYLE_20,
      },
      {
        id: "MNM-6",
        when: { ...slipped, articularSharePercent: under(moreThan(SHARE.half).from) },
        then: is("DOYLE-IVB-SLIPPED"),
        because: "Slipped joint with a fragment of up to 50 %.",
        sources: [...BY_TABLE, commonPractice],
      },
      {
        id: "MNM-7",
        when: { ...seated, articularSharePercent: moreThan(SHARE.half, moreThan(SHARE.twoThirds).from) },
        then: is("DOYLE-IVC-IF-IT-SLIPS"),
        because:
          "More than half the joint, not slipped yet; joints slip from about 43 to 48 % on films and in cadavers (from memory).",
        sources: [
          ...BY_TABLE,
          cite("EATON", "C", "half or more may be unstable, not always"),
          fromMemory,
          against("QA-MALLET", "C", "stable up to 40 % if not displaced"),
        ],
      },
      {
        id: "MNM-8",
        when: { ...slipped, articularSharePercent: moreThan(SHARE.half) },
        then: is("DOYLE-IVC"),
        because: "More than half the joint, and slipped.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-9",
        when: { ...seated, articularSharePercent: C },
        then: is("DOYLE-IVC"),
        because: "More than two thirds of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-10",
        when: { malletEquivalentB: "yes" },
        then: [named("DOYLE-IVA"), named("WEHBE-III")],
        because: "The line runs through the growth plate of a child.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-11",
        when: { malletEquivalentCorD: "yes" },
        then: [named("DOYLE-IVA"), named("WEHBE-III")],
        because: "The line runs through the growth plate of a child.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-12",
        when: { seymourPatternClosed: "yes" },
        then: [named("DOYLE-IVA"), named("WEHBE-III")],
        because: "The line runs through the growth plate of a child.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-13",
        when: { ...congruent, articularSharePercent: A },
        then: is("WEHBE-IA"),
        because: "Not slipped, under a third of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-14",
        when: { ...congruent, articularSharePercent: B },
        then: is("WEHBE-IB"),
        because: "Not slipped, a third to two thirds of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-15",
        when: { ...congruent, articularSharePercent: C },
        then: is("WEHBE-IC"),
        because: "Not slipped, more than two thirds of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-16",
        when: { ...slippedVolar, articularSharePercent: A },
        then: is("WEHBE-IIA"),
        because: "Slipped, under a third of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-17",
        when: { ...slippedVolar, articularSharePercent: B },
        then: is("WEHBE-IIB"),
        because: "Slipped, a third to two thirds of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-18",
        when: { ...slippedVolar, articularSharePercent: C },
        then: is("WEHBE-IIC"),
        because: "Slipped, more than two thirds of the joint.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-19",
        when: { malletBony: "yes", jointPosition: "dorsal-subluxed" },
        then: is("DORSAL-SUBLUXATION"),
        because: "Both tables name volar subluxation only.",
        sources: BY_TABLE,
      },
      {
        id: "MNM-20",
        when: { malletSlipped: "yes", jointInSplint: "goes-back" },
        then: is("TUBIANA-III"),
        because: "The film in the splint shows the joint back in place.",
        sources: [cite("SALAZAR16", "C", "proposed")],
      },
      {
        id: "MNM-21",
        when: { malletSlipped: "yes", jointInSplint: "stays-out" },
        then: is("TUBIANA-IV"),
        because: "The film in the splint shows the joint still slipped.",
        sources: [cite("SALAZAR16", "C", "proposed")],
      },
      {
        id: "MNM-22",
        when: { seymour: "yes", salterHarris: ["I", "II"] },
        then: is("EQUIVALENT-A"),
        because: "The extensor holds the epiphysis while the rest of the bone drops away.",
        sources: [cite("EPIDISL05", "C")],
      },
      {
        id: "MNM-23",
        when: { seymourPatternClosed: "yes", salterHarris: ["I", "II"] },
        then: is("EQUIVALENT-A"),
        because: "The extensor holds the epiphysis while the rest of the bone drops away.",
        sources: [cite("EPIDISL05", "C", "usually open")],
      },
    ],
  });

/** Extension-block pinning reduces poorly after this (COS12); a mallet older than `chronic` is an old one (BACH17, memory). */
const PINNING_DAYS = 35;
const CHRONIC_DAYS = 90;
const SURGERY_DOUBT = [
  against("LAMARIS17", "B", "advantage of surgery not proven"),
  against("MA21", "A", "13 studies: similar lag and motion either way"),
] as const;

/** Said where an extension splint is planned and nobody has straightened the tip yet. */
export const NOT_STRAIGHTENED = {
  column: "passiveExtension",
  say: "Passive straightening not tested: if it is blocked, do not force it.",
} as const;
/** Mallet: a slipped joint, an open wound or a very large share is referred; the middle is discussed; the rest is splinted. */
export const malletTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const share = p["distalPhalanx.mallet.discussSharePercent"];
  const wireFrom = p["distalPhalanx.mallet.wireFromDays"];
  const wireTo = p["distalPhalanx.mallet.wireToDays"];
  const accept = p["distalPhalanx.mallet.acceptLagDegrees"];
  const clinic = p["distalPhalanx.mallet.clinicLagDegrees"];
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "mallet",
    question: "How is this mallet treated?",
    answers: "every",
    rules: [
      {
        id: "MAL-1",
        when: { openMallet: "yes" },
        then: [manage("operative", "Open mallet: surgeon washes out the joint and repairs the tendon.")],
        because: "The wound reaches tendon and joint.",
        sources: [cite("HS2", "G", "draft"), cite("BACH17", "C")],
      },
      {
        id: "MAL-2",
        when: { malletSlipped: "yes" },
        then: [
          manage("must-refer", "Slipped joint: refer; surgery in most texts."),
          today("imaging", "Film again in the splint: does the joint go back?"),
        ],
        because: "With a splint alone a slipped joint missed minimum success five times as often.",
        sources: [
          cite("SAVAGE21", "B"),
          cite("SALAZAR16", "C", "splint that reduces the joint"),
          against("KALAINOV05", "C", "slipped or not, patients were satisfied at 24.5 months"),
          ...SURGERY_DOUBT,
        ],
      },
      {
        id: "MAL-18",
        when: { malletSlipped: "yes", jointInSplint: "goes-back" },
        then: [manage("options", "The splint puts the joint back: the surgeon may go on with it, film by film.")],
        because: "Joint back in place, the splint may hold it; it may slip again.",
        sources: [cite("SALAZAR16", "C"), cite("KALAINOV05", "C"), against("SAVAGE21", "B", "splint alone did worse")],
      },
      {
        id: "MAL-19",
        when: { malletSlipped: "yes", jointInSplint: "stays-out" },
        then: [manage("must-refer", "The splint does not put the joint back: surgery in most texts, no more waiting.")],
        because: "A joint that stays slipped heals slipped.",
        sources: [cite("SALAZAR16", "C"), cite("SAVAGE21", "B"), cite("COS12", "C", "pinning before 5 weeks")],
      },
      {
        id: "MAL-3",
        when: { malletLarge: "yes" },
        then: [manage("must-refer", "Very large fragment: refer.")],
        because: "Most of the joint surface is on the fragment.",
        sources: [cite("SAVAGE21", "B"), against("SCHN88", "C", "dorsal fracture without operation"), ...SURGERY_DOUBT],
      },
      {
        id: "MAL-4",
        when: {
          malletMiddle: "yes",
          flexorInDoubt: "no",
          openMallet: "no",
          hoursSinceInjury: under(daysInHours(PINNING_DAYS)),
        },
        assume: { column: "hoursSinceInjury", say: "Day of the injury not known, counted as today." },
        then: [manage("discuss", "Splint or pinning: discuss with the hand surgeon.")],
        because: "Pinning and splint ended alike, but 13 of 35 joints slipped in the splint.",
        sources: [
          cite("SAVAGE21", "B"),
          cite("EBP17", "B", "26 against 23, all united by 3 months"),
          cite("KALAINOV05", "C"),
          against("COS12", "C", "operate above one third"),
          against("QA-MALLET", "C", "stable up to 40 % if not displaced"),
        ],
      },
      {
        id: "MAL-20",
        when: {
          malletMiddle: "yes",
          flexorInDoubt: "no",
          openMallet: "no",
          hoursSinceInjury: from(daysInHours(PINNING_DAYS)),
        },
        then: [manage("discuss", "Splint or open fixation: discuss with the hand surgeon.")],
        because: "Late, closed pinning no longer reduces it well.",
        sources: [cite("COS12", "C"), cite("YILD", "C"), cite("JOSR19", "C"), cite("BACH17", "C", "late splint")],
      },
      {
        id: "MAL-5",
        when: { malletBony: "yes", displacement: "seen", fragmentGapMm: moreThan(p["distalPhalanx.mallet.gapMm"]) },
        then: [manage("discuss", "Wide gap: discuss with the hand surgeon.")],
        because: "Some texts operate on a gap, none has shown the limit.",
        sources: [cite("RADREF-M", "C"), cite("TEXT-THUMB", "C"), commonPractice],
      },
      {
        id: "MAL-6",
        when: { malletInjury: "yes", cannotKeepSplint: "yes" },
        then: [manage("discuss", "Splint cannot be kept on: discuss a wire or a carer's help.")],
        because: "A mallet splint works only if it is never off.",
        sources: [commonPractice],
      },
      {
        id: "MAL-7",
        when: { malletInjury: "yes", handDependentWork: "yes" },
        then: [manage("discuss", "Work needs the hand free or clean: discuss a wire instead of the splint.")],
        because: "Some work cannot be done in a splint.",
        sources: [commonPractice],
      },
      {
        id: "MAL-8",
        when: {
          malletSmall: "yes",
          splintTimeOver: "no",
          surgeonTakesOver: "no",
          flexorInDoubt: "no",
          passiveExtension: "full",
        },
        assume: NOT_STRAIGHTENED,
        then: [manage("non-operative", "Extension splint day and night; no operation.")],
        because: "A small fragment in a seated joint heals in a splint.",
        sources: [
          cite("BACH17", "C"),
          cite("AAFP22", "C"),
          cite("MA21", "A"),
          against("BJAS", "C", "operate above 30 %"),
        ],
      },
      {
        id: "MAL-9",
        when: {
          tendinousMallet: "yes",
          splintTimeOver: "no",
          surgeonTakesOver: "no",
          flexorInDoubt: "no",
          passiveExtension: "full",
        },
        assume: NOT_STRAIGHTENED,
        then: [
          manage(
            "non-operative",
            "Extension splint day and night; no operation. Late start still works up to 3 to 4 months.",
          ),
        ],
        because: "The tendon heals if the tip never drops.",
        sources: [
          cite("HANDOLL04", "A", "4 trials, 278 people"),
          cite("MA21", "A", "13 studies"),
          cite("BACH17", "C", "late start"),
        ],
      },
      {
        id: "MAL-10",
        when: {
          malletBony: "yes",
          articularSharePercent: from(share),
          hoursSinceInjury: under(daysInHours(PINNING_DAYS)),
        },
        then: [
          manage(
            "options",
            `If operated: extension-block pinning still reduces (under 5 weeks); wires out at ${wireFrom} to ${wireTo} days.`,
          ),
        ],
        because: "The fragment can still be moved closed.",
        sources: [cite("COS12", "C"), cite("AGARWAL12", "C", "2 weeks old, wires 6 weeks")],
      },
      {
        id: "MAL-11",
        when: { malletBony: "yes", hoursSinceInjury: from(daysInHours(PINNING_DAYS)) },
        then: [
          manage("options", "Over 5 weeks old: closed pinning reduces poorly; open fixation still gave good results."),
        ],
        because: "Late open fixation healed in both series.",
        sources: [
          cite("COS12", "C"),
          cite("YILD", "C", "15 of 19 excellent or good"),
          cite("JOSR19", "C", "17 cases united, at 7.6 weeks (5 to 13)"),
        ],
      },
      {
        id: "MAL-12",
        when: { malletInjury: "yes", hoursSinceInjury: from(daysInHours(CHRONIC_DAYS)) },
        then: [
          manage(
            "options",
            "Old mallet: supple (Burton I), try a splint or tendon surgery; fixed by tight lateral bands (II) or a scarred joint (III), or worn: fusion is discussed.",
          ),
        ],
        because: "What can be done depends on how stiff the joint is.",
        sources: [cite("BACH17", "C", "Burton stages"), fromMemory],
      },
      {
        id: "MAL-13",
        when: { malletInjury: "yes", passiveExtension: "blocked" },
        then: [
          warn(
            "Tip does not straighten passively: slipped joint, fragment in the way, or old contracture. Do not force it into a splint.",
          ),
          manage("discuss", "Tip does not straighten: hand clinic decides before an extension splint."),
        ],
        because: "A splint cannot hold what cannot be straightened.",
        sources: [cite("BACH17", "C", "Burton stages")],
      },
      {
        id: "MAL-14",
        when: { malletInjury: "yes", digit: "thumb" },
        then: [warn("Thumb mallet is rare and often high energy; one text operates above 30 to 40 % or 2 to 3 mm.")],
        because: "Thumb data are thin; finger rules are borrowed.",
        sources: [cite("TEXT-THUMB", "C")],
      },
      {
        id: "MAL-15",
        when: { malletBony: "yes", articularSharePercent: from(share) },
        then: [warn("If pinned: position lost in 13 and wire inaccurate in 4 of 132, yet all united.")],
        because: "The surgeon weighs failures of pinning against slipping in the splint.",
        sources: [cite("SUZUKI21", "C")],
      },
      {
        id: "MAL-16",
        when: { malletBony: "yes", articularSharePercent: from(share), flexorInDoubt: "no", openMallet: "no" },
        assume: {
          column: "articularSharePercent",
          say: "Share of the joint not measured, taken as a third to two thirds until it is.",
        },
        then: [manage("discuss", "True lateral on days 7, 14 and 21 in the splint: a slip changes the plan.")],
        because: "13 of 35 joints with such a fragment slipped in the splint.",
        sources: [cite("SAVAGE21", "B")],
      },
      {
        id: "MAL-17",
        when: { activeExtension: "cannot-test", restingPosition: "droops" },
        then: [warn("Tip droops at rest: extensor torn until it has been tested; keep it straight until then.")],
        because: "A tip that hangs is not held by its tendon.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "MAL-21",
        when: { splintTimeOver: "yes", lagDegrees: under(moreThan(accept).from) },
        then: [manage("options", `Droop of up to ${accept} degrees after the splint: accept it.`)],
        because: "A slight droop seldom troubles the finger.",
        sources: [commonPractice, cite("MKUH", "C")],
      },
      {
        id: "MAL-22",
        when: { splintTimeOver: "yes", lagDegrees: moreThan(accept, moreThan(clinic).from) },
        then: [manage("options", `Droop of ${accept} to ${clinic} degrees after the splint: 2 to 4 weeks more of it.`)],
        because: "The scar may still shorten.",
        sources: [commonPractice],
      },
      {
        id: "MAL-23",
        when: { splintTimeOver: "yes", lagDegrees: moreThan(clinic) },
        then: [manage("discuss", "The splint has failed: discuss another round or surgery with the hand clinic.")],
        because: "A full course that leaves a marked droop is not simply repeated.",
        sources: [commonPractice, cite("GRUBER14", "A", "a third keep 20 degrees or more")],
      },
    ],
  });
};

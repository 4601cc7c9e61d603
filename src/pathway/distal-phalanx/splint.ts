import { against, type Citation, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect, Joint } from "../hand/effects.ts";
import { DISLOCATION_SPLINT, daysInHours } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { type Row, type Rule, type Table, table, under } from "../reasoning/table.ts";
import { splint } from "./effects-in-short.ts";
import { besideLesion } from "./lesion.ts";
import { NOT_STRAIGHTENED } from "./mallet.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, MISSED_DAYS, moreThan } from "./signs.ts";

const DIP: readonly Joint[] = ["DIP"];
const PIP: readonly Joint[] = ["PIP", "MCP", "wrist"];
/** Heard in the trade, found in no source. */
const TRADE_NOTE: Citation = { source: "COMMON-PRACTICE", at: "10 to 14 days", says: "against", strength: "CP" };
const DAY_AND_NIGHT = "Day and night; the tip never drops, not even when washing";
const ALWAYS = "Day and night";
const STRAIGHT = "Tip straight";
/** For the way to the surgeon, who decides what follows within a week. */
const TRANSPORT = [0, 7] as const;
const DISPLACEMENT_UNKNOWN = {
  column: "jointDisplaced",
  say: "Displacement not judged, taken as displaced until it is.",
} as const;

/** Splints of a mallet, a closed growth plate fracture or a joint fracture in place, which hold it through a bone lesion as well. */
const BESIDE_LESION: readonly string[] = [
  ...["SPL-2", "SPL-3", "SPL-23", "SPL-24", "SPL-33", "SPL-34"],
  ...["SPL-5", "SPL-6", "SPL-7", "SPL-8", "SPL-9", "SPL-10"],
];
/** The splint that a break through a bone lesion needs although the ordinary pathway is left. */
export const splintBesideLesionTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "splint-beside-lesion",
    question: "Which splint does a mallet, a growth plate or a joint need when the break runs through a bone lesion?",
    answers: "every",
    rules: besideLesion(splintTable(policy), BESIDE_LESION),
  });

/** What is splinted, how and how long. One splint for one finger: what lies nearer to the joint leads. */
export const splintTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const bony = p["distalPhalanx.mallet.bonyFromDays"];
  const tendinous = p["distalPhalanx.mallet.tendinousFromDays"];
  const malletTo = p["distalPhalanx.mallet.toDays"];
  const night = p["distalPhalanx.mallet.nightDays"];
  const afterwards = night > 0 ? ` Then ${night} nights, optional.` : "";
  const restart = " If the tip drops, the clock starts again.";
  const accept = p["distalPhalanx.mallet.acceptLagDegrees"];
  const clinic = p["distalPhalanx.mallet.clinicLagDegrees"];
  const moreSplint = ` Still a lag of ${accept} to ${clinic} degrees: 2 to 4 weeks more.`;
  const tuftTo = p["distalPhalanx.tuft.toDays"];
  const rule = (
    id: string,
    when: Row<DistalPhalanxFacts>,
    effect: Effect,
    because: string,
    ...sources: readonly [Citation, ...Citation[]]
  ): Rule<DistalPhalanxFacts, readonly Effect[]> => ({ id, when, then: [effect], because, sources });
  const transport = (id: string, when: Row<DistalPhalanxFacts>): Rule<DistalPhalanxFacts, readonly Effect[]> =>
    rule(
      id,
      when,
      splint(
        "Splint of the end joint for the way",
        DIP,
        PIP,
        "As it lies, not forced",
        TRANSPORT,
        ALWAYS,
        "Splint for the way until the surgeon decides; not a treatment by itself.",
      ),
      "What is displaced moves until it is held.",
      commonPractice,
    );
  const stiff = (id: string, when: Row<DistalPhalanxFacts>): Rule<DistalPhalanxFacts, readonly Effect[]> =>
    rule(
      id,
      when,
      splint(
        "Resting splint of the end joint",
        DIP,
        PIP,
        "As far as it straightens without force",
        TRANSPORT,
        ALWAYS,
        "Resting splint until the hand clinic decides; do not force the tip straight.",
      ),
      "A splint cannot hold what cannot be straightened.",
      cite("BACH17", "C", "Burton stages"),
      commonPractice,
    );
  const malletSources = [
    cite("HANDOLL04", "A", "4 trials, 278 people: no type better; padded aluminium kinder to skin"),
    cite("KALAINOV05", "C", "skin sore in 2 of 22, for a while"),
    cite("STEES", "C", "never bend"),
    against("GRUBER14", "A", "night phase gave nothing"),
    commonPractice,
  ] as const;
  const clear = { flexorInDoubt: "no", malletInjury: "no", physealInjury: "no" } as const;
  const capped = { ...clear, reducedDislocation: "no", lateralMissing: "no" } as const;
  const grown = { ...capped, child: "no" } as const;
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "splint",
    question: "Which splint, for how long?",
    answers: "every",
    rules: [
      {
        assume: {
          column: "jerseyFresh",
          say: "Rest of the phalanx not judged, or day of the injury not known, counted as fresh.",
        },
        ...rule(
          "SPL-1",
          { jersey: "yes", jerseyFresh: "yes" },
          splint(
            "Dorsal block splint",
            ["DIP", "PIP", "MCP", "wrist"],
            [],
            "Slightly bent, must not straighten",
            [42, 42],
            ALWAYS,
            "Dorsal block splint for the way to the surgeon, and 6 weeks from the repair; without a repair as the surgeon says.",
          ),
          "Straightening pulls the tendon end further away.",
          cite("DRBABA", "C", "over 3 months"),
          cite("AAFP22", "C"),
          commonPractice,
        ),
      },
      {
        assume: { column: "hoursSinceInjury", say: "Day of the injury not known, counted as today." },
        ...rule(
          "SPL-30",
          {
            jersey: "yes",
            jerseyAlone: "no",
            jointDisplaced: "no",
            hoursSinceInjury: under(daysInHours(MISSED_DAYS)),
          },
          splint(
            "Block splint of the end joint",
            DIP,
            PIP,
            "Slightly bent, must not straighten",
            [28, 42],
            ALWAYS,
            "Block splint of the end joint; who is not operated keeps it 4 to 6 weeks, with films.",
          ),
          "Hardly displaced, it was treated so with good result.",
          cite("VIENNA24", "B", "31 of 44"),
        ),
      },
      {
        assume: {
          column: "jerseyBaseToHold",
          say: "Displacement or day of the injury not known, taken as displaced and fresh.",
        },
        ...rule(
          "SPL-31",
          { jersey: "yes", jerseyAlone: "no", jerseyBaseToHold: "yes" },
          splint(
            "Dorsal block splint",
            ["DIP", "PIP", "MCP", "wrist"],
            [],
            "Slightly bent, must not straighten",
            TRANSPORT,
            ALWAYS,
            "Dorsal block splint for the way to the surgeon.",
          ),
          "Straightening pulls tendon and bone further away.",
          cite("AAFP22", "C"),
          commonPractice,
        ),
      },
      {
        assume: NOT_STRAIGHTENED,
        ...rule(
          "SPL-2",
          {
            malletBony: "yes",
            jointPosition: "congruent",
            splintTimeOver: "no",
            flexorInDoubt: "no",
            openMallet: "no",
            passiveExtension: "full",
          },
          splint(
            "Extension splint",
            DIP,
            PIP,
            "Tip straight, not beyond",
            [bony, malletTo],
            DAY_AND_NIGHT,
            `Extension splint ${bony} to ${malletTo} days from the day it is put on, off only when painless and joined on the film.${afterwards}${restart}${moreSplint}`,
          ),
          "Bone joins sooner than tendon; sources differ by two weeks.",
          cite("FV-MAL", "C", "6 weeks"),
          cite("MKUH", "C", "bony 6, tendinous 8 weeks"),
          cite("SALAZAR16", "C", "6 to 8 weeks"),
          against("AAFP22", "C", "8 weeks"),
          ...malletSources,
        ),
      },
      {
        assume: NOT_STRAIGHTENED,
        ...rule(
          "SPL-3",
          {
            tendinousMallet: "yes",
            splintTimeOver: "no",
            flexorInDoubt: "no",
            openMallet: "no",
            passiveExtension: "full",
          },
          splint(
            "Extension splint",
            DIP,
            PIP,
            "Tip straight or slightly beyond",
            [tendinous, malletTo],
            DAY_AND_NIGHT,
            `Extension splint ${tendinous === malletTo ? malletTo : `${tendinous} to ${malletTo}`} days from the day it is put on.${afterwards}${restart}${moreSplint}`,
          ),
          "Tendon takes longer than bone.",
          cite("AAFP22", "C", "8 weeks"),
          cite("MKUH", "C", "tendinous 8 weeks"),
          against("FV-MAL", "C", "6 weeks"),
          ...malletSources,
        ),
      },
      rule(
        "SPL-4",
        { seymour: "yes", flexorInDoubt: "no" },
        splint(
          "Extension splint over the dressing",
          DIP,
          PIP,
          STRAIGHT,
          [28, 28],
          ALWAYS,
          "Extension splint 4 weeks; full cast under 5 years.",
        ),
        "Union takes 1 to 2 months in a child.",
        cite("CHINSEY", "C"),
        commonPractice,
      ),
      rule(
        "SPL-5",
        { seymourPatternClosed: "yes", flexorInDoubt: "no" },
        splint("Extension splint", DIP, PIP, STRAIGHT, [21, 28], ALWAYS, "Extension splint 3 to 4 weeks."),
        "A child's plate is solid at 3 to 4 weeks.",
        cite("YEH09", "C"),
        commonPractice,
      ),
      rule(
        "SPL-6",
        { physealClosed: "yes", flexorInDoubt: "no" },
        splint("Extension splint", DIP, PIP, STRAIGHT, [21, 28], ALWAYS, "Extension splint 3 to 4 weeks."),
        "A child's plate is solid at 3 to 4 weeks.",
        cite("YEH09", "C"),
        commonPractice,
      ),
      rule(
        "SPL-7",
        { malletEquivalentB: "yes", seymour: "no", flexorInDoubt: "no" },
        splint(
          "Extension splint",
          DIP,
          PIP,
          STRAIGHT,
          [28, 42],
          DAY_AND_NIGHT,
          "Extension splint 4 to 6 weeks if the joint is congruent.",
        ),
        "The piece carries the extensor.",
        cite("EPIDISL05", "C"),
        cite("SHIII22", "C"),
      ),
      rule(
        "SPL-8",
        { possiblePhyseal: "yes", flexorInDoubt: "no" },
        splint("Extension splint", DIP, PIP, STRAIGHT, [10, 14], ALWAYS, "Splint until the second film."),
        "It is treated as broken until the second film.",
        cite("ACR19", "G"),
        commonPractice,
      ),
      rule(
        "SPL-9",
        { combinedBase: "yes", jointDisplaced: "no", flexorInDoubt: "no", physealInjury: "no" },
        splint(
          "Block splint of the end joint",
          DIP,
          PIP,
          "As reduced on the film",
          [28, 42],
          ALWAYS,
          "Splint 4 to 6 weeks with films.",
        ),
        "Hardly displaced, it was treated so with good result.",
        cite("VIENNA24", "B"),
      ),
      rule(
        "SPL-10",
        { pilonBase: "yes", jointDisplaced: "no", flexorInDoubt: "no", physealInjury: "no" },
        splint(
          "Splint of the end joint",
          DIP,
          PIP,
          STRAIGHT,
          [28, 42],
          ALWAYS,
          "Splint 4 to 6 weeks if the clinic agrees.",
        ),
        "The joint must not be loaded.",
        commonPractice,
      ),
      rule(
        "SPL-11",
        { volarChip: "yes", physealInjury: "no" },
        splint(
          "Splint of the end joint",
          DIP,
          PIP,
          "Bent 15 to 30 degrees",
          [14, 21],
          ALWAYS,
          "Splint 2 to 3 weeks, then motion.",
        ),
        "The volar plate is treated as after a dorsal dislocation.",
        commonPractice,
        cite("AAFP22", "C", "dorsal dislocation"),
      ),
      {
        assume: { column: "fracturePattern", say: "Pattern not judged." },
        ...rule(
          "SPL-12",
          { stableShaft: "yes", fracturePattern: ["simple", "transverse", "oblique", "wedge", "comminuted"], ...clear },
          splint(
            "Dorsal or palmar splint",
            DIP,
            PIP,
            STRAIGHT,
            [p["distalPhalanx.shaft.fromDays"], p["distalPhalanx.shaft.toDays"]],
            ALWAYS,
            "Splint of the end joint, middle joint free; dorsal leaves the pinch free.",
          ),
          "Clinical union decides; the line on the film lags.",
          cite("AO-T", "C"),
          cite("ORTHONET", "C", "3 to 4 weeks"),
          against("AAFP22", "C", "up to 6 weeks"),
        ),
      },
      rule(
        "SPL-32",
        { stableShaft: "yes", fracturePattern: "longitudinal", ...clear },
        splint(
          "Dorsal or palmar splint",
          DIP,
          PIP,
          STRAIGHT,
          [p["distalPhalanx.shaft.fromDays"], p["distalPhalanx.shaft.longitudinalToDays"]],
          ALWAYS,
          "Splint of the end joint, middle joint free; dorsal leaves the pinch free.",
        ),
        "Clinical union decides; the line on the film lags.",
        cite("AO-D", "C"),
        commonPractice,
      ),
      rule(
        "SPL-13",
        { unstableFracture: "yes", ...clear },
        splint(
          "Splint of the end joint",
          DIP,
          PIP,
          STRAIGHT,
          [28, 42],
          ALWAYS,
          "Splint until the surgeon sees it; 4 to 6 weeks, with or without wire.",
        ),
        "Until union it cannot hold itself.",
        cite("AO-T", "C"),
        commonPractice,
      ),
      rule(
        "SPL-14",
        {
          tuft: "yes",
          openFracture: "no",
          fracturePattern: ["simple", "transverse", "oblique", "longitudinal"],
          ...grown,
        },
        splint(
          "Cap or hairpin splint",
          [],
          ["DIP", ...PIP],
          "Over the tip only",
          [p["distalPhalanx.tuft.fromDays"], tuftTo],
          "Until the tip is no longer tender",
          `Cap, hairpin or aluminium strip (dorsal or volar) over the tip, for comfort. Middle joint free from day 0, end joint moving from day ${p["distalPhalanx.tuft.motionFromDays"]} to ${p["distalPhalanx.tuft.motionToDays"]}.`,
        ),
        "It protects a tender tip; the nail already holds the bone.",
        cite("EATON", "C", "must not cross the joint; motion from week 1"),
        cite("ORTHONET", "C", "3 to 4 weeks, for pain"),
        cite("ANESKEY", "C", "never the middle joint"),
        against("AAFP22", "C", "4 to 6 weeks, joint splinted"),
        TRADE_NOTE,
      ),
      rule(
        "SPL-15",
        { tuft: "yes", openFracture: "no", fracturePattern: ["comminuted", "wedge"], ...grown },
        splint(
          "Cap or hairpin splint",
          [],
          ["DIP", ...PIP],
          "Over the tip only",
          [p["distalPhalanx.tuft.woundedFromDays"], tuftTo],
          "Until the tip is no longer tender",
          "Cap for comfort, middle joint free.",
        ),
        "Several pieces stay tender longer.",
        cite("ORTHONET", "C", "3 to 4 weeks"),
        cite("EATON", "C"),
        against("AAFP22", "C", "4 to 6 weeks, joint splinted"),
      ),
      rule(
        "SPL-16",
        { tuft: "yes", openFracture: "yes", ...grown },
        splint(
          "Cap over the dressing",
          [],
          ["DIP", ...PIP],
          "Over the tip only",
          [p["distalPhalanx.tuft.woundedFromDays"], tuftTo],
          "Until the tip is no longer tender",
          "Cap over the dressing, loose, middle joint free.",
        ),
        "The wound must heal under it.",
        cite("ANESKEY", "C"),
        cite("ORTHONET", "C", "3 to 4 weeks"),
        against("AAFP22", "C", "4 to 6 weeks"),
      ),
      rule(
        "SPL-17",
        { tuft: "yes", child: "yes", ...capped },
        splint(
          "Cap or hairpin splint",
          [],
          ["DIP", ...PIP],
          "Over the tip only",
          [p["distalPhalanx.tuft.childFromDays"], p["distalPhalanx.tuft.childToDays"]],
          "Until the tip is no longer tender",
          "Cap for comfort 2 to 3 weeks, over a dressing if there is a wound; middle joint free.",
        ),
        "A child's tip heals faster.",
        commonPractice,
      ),
      {
        ...rule(
          "SPL-18",
          { reducedDislocation: "yes", flexorInDoubt: "no", dislocationDirection: "dorsal" },
          splint(
            "Splint of the end joint",
            DIP,
            PIP,
            `Bent ${DISLOCATION_SPLINT.degrees.from} to ${DISLOCATION_SPLINT.degrees.to} degrees`,
            [14, 21],
            ALWAYS,
            "Splint 2 to 3 weeks after the reduction, end joint bent; then motion.",
          ),
          "The torn volar plate heals while the joint is a little bent.",
          cite("AAFP22", "C"),
        ),
        assume: { column: "dislocationDirection", say: "Direction not known. If the tip went to the back:" },
      },
      {
        ...rule(
          "SPL-37",
          { reducedDislocation: "yes", flexorInDoubt: "no", dislocationDirection: "volar" },
          splint(
            "Splint of the end joint",
            DIP,
            PIP,
            STRAIGHT,
            [14, 21],
            ALWAYS,
            "Splint 2 to 3 weeks after the reduction, end joint straight; then motion.",
          ),
          "The torn extensor heals while the joint is straight.",
          cite("AAFP22", "C"),
        ),
        assume: { column: "dislocationDirection", say: "Direction not known. If the tip went to the palm:" },
      },
      rule(
        "SPL-19",
        { jerseySuspected: "yes" },
        splint(
          "Dorsal block splint",
          ["DIP", "PIP", "MCP", "wrist"],
          [],
          "Slightly bent, must not straighten",
          TRANSPORT,
          ALWAYS,
          "Dorsal block splint until the flexor tendon is cleared.",
        ),
        "Straightening may pull a half-torn tendon off.",
        cite("AAFP22", "C"),
        commonPractice,
      ),
      {
        assume: DISPLACEMENT_UNKNOWN,
        ...transport("SPL-20", {
          combinedBase: "yes",
          jointDisplaced: "yes",
          flexorInDoubt: "no",
          physealInjury: "no",
        }),
      },
      {
        assume: DISPLACEMENT_UNKNOWN,
        ...transport("SPL-21", { pilonBase: "yes", jointDisplaced: "yes", flexorInDoubt: "no", physealInjury: "no" }),
      },
      transport("SPL-22", { malletEquivalentCorD: "yes", seymour: "no", flexorInDoubt: "no" }),
      transport("SPL-27", { openMallet: "yes", malletInjury: "yes", flexorInDoubt: "no" }),
      rule(
        "SPL-28",
        { tendonUncleared: "yes", flexorInDoubt: "no", reducedDislocation: "no" },
        splint(
          "Splint of the end joint for rest",
          DIP,
          PIP,
          "As it lies, not forced",
          TRANSPORT,
          ALWAYS,
          "Splint until the tendon has been tested again.",
        ),
        "A half-torn tendon may tear when it is used.",
        commonPractice,
      ),
      rule(
        "SPL-29",
        { fdpLoss: "yes", jersey: "no" },
        splint(
          "Dorsal block splint",
          ["DIP", "PIP", "MCP", "wrist"],
          [],
          "Slightly bent, must not straighten",
          TRANSPORT,
          ALWAYS,
          "Dorsal block splint for the way to the surgeon, who repairs the cut tendon.",
        ),
        "Straightening pulls the tendon ends apart.",
        commonPractice,
      ),
      stiff("SPL-23", {
        malletBony: "yes",
        jointPosition: "congruent",
        flexorInDoubt: "no",
        openMallet: "no",
        passiveExtension: "blocked",
      }),
      {
        assume: { column: "jointPosition", say: "Joint position not judged, taken as slipped until it is." },
        ...rule(
          "SPL-33",
          {
            malletBony: "yes",
            jointPosition: ["volar-subluxed", "dorsal-subluxed"],
            flexorInDoubt: "no",
            openMallet: "no",
          },
          splint(
            "Extension splint, on trial",
            DIP,
            PIP,
            "As far as it straightens without force",
            TRANSPORT,
            DAY_AND_NIGHT,
            "Extension splint until the surgeon decides, straight only as far as it goes without force; true lateral in it.",
          ),
          "The film in the splint shows whether a splint can treat a slipped joint at all.",
          cite("SALAZAR16", "C"),
          cite("SAVAGE21", "B"),
          commonPractice,
        ),
      },
      rule(
        "SPL-34",
        {
          malletInjury: "yes",
          splintTimeOver: "yes",
          jointPosition: "congruent",
          flexorInDoubt: "no",
          openMallet: "no",
          passiveExtension: "full",
          lagDegrees: moreThan(accept, moreThan(clinic).from),
        },
        splint(
          "Extension splint",
          DIP,
          PIP,
          STRAIGHT,
          [14, 28],
          DAY_AND_NIGHT,
          "Extension splint for 2 to 4 weeks more.",
        ),
        "The scar may still shorten.",
        commonPractice,
      ),
      rule(
        "SPL-35",
        {
          lateralMissing: "yes",
          shaft: "no",
          physealInjury: "no",
          flexorInDoubt: "no",
          reducedDislocation: "no",
        },
        splint(
          "Splint of the end joint until the film",
          DIP,
          PIP,
          "As straight as it goes without force",
          TRANSPORT,
          DAY_AND_NIGHT,
          "Splint of the end joint until a true lateral tells what it is; not a treatment by itself.",
        ),
        "What a film has not excluded is protected until it has.",
        commonPractice,
      ),
      rule(
        "SPL-36",
        { filmTaken: "no", activeExtension: "lag", physealInjury: "no", flexorInDoubt: "no" },
        splint(
          "Splint of the end joint until the film",
          DIP,
          PIP,
          "As straight as it goes without force",
          TRANSPORT,
          DAY_AND_NIGHT,
          "Splint of the end joint until the film tells what it is; not a treatment by itself.",
        ),
        "A tip that droops is protected until a film tells why.",
        cite("BACH17", "C"),
        commonPractice,
      ),
      stiff("SPL-24", { tendinousMallet: "yes", flexorInDoubt: "no", openMallet: "no", passiveExtension: "blocked" }),
    ],
  });
};

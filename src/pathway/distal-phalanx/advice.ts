import { type Citation, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { ADULT_YEARS, daysInHours } from "../hand/index.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { from, type Row, type Rule, type Table, table, under } from "../reasoning/table.ts";
import { advise, redFlag } from "./effects-in-short.ts";
import { NOT_STRAIGHTENED } from "./mallet.ts";
import { type DistalPhalanxFacts, MISSED_DAYS } from "./signs.ts";

const rule = (
  id: string,
  when: Row<DistalPhalanxFacts>,
  then: readonly Effect[],
  because: string,
  ...sources: readonly [Citation, ...Citation[]]
): Rule<DistalPhalanxFacts, readonly Effect[]> => ({ id, when, then, because, sources });
const adult = { ageYears: from(ADULT_YEARS) } as const;
const child = { ageYears: under(ADULT_YEARS) } as const;
const workSport = (say: string): readonly Effect[] => [advise("work-sport", say)];
const WIRE: readonly Effect[] = [
  advise(
    "wire",
    "If you get a wire: keep it dry and capped. No swimming, no rings, no work with food, dirt or turning machines until it is out. Sport without contact two weeks after that.",
  ),
  redFlag("wire-trouble", "The wire is loose, sticks out more, or has come out."),
];
const GERMS = "A wire is a way in for germs.";
const TUFT_SPORT =
  "Running and the like: after 1 to 3 weeks, with the cap. Ball sports: after 3 to 6 weeks, protected.";
const SHAFT_SPORT = "Sport without contact: after 4 weeks. Ball sports: after 6 to 8 weeks, in a splint.";
const MALLET_SPORT = "Sport: in the splint, taped for ball games; it takes 8 to 12 weeks to heal.";

/** What the patient is told about this very injury, at a reading age of about 11. The shared points stand in the hand's own table. */
export const adviceTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "distal-phalanx-advice",
    question: "What is the patient told about this injury?",
    answers: "every",
    rules: [
      {
        id: "ADV-1",
        when: { malletInjury: "yes", flexorInDoubt: "no", openMallet: "no", passiveExtension: "full" },
        assume: NOT_STRAIGHTENED,
        then: [
          advise(
            "mallet-splint",
            "Keep the tip straight at all times. When you take the splint off to wash, lay the finger flat on a table. If the tip drops, even once, tell us: you may have to start again.",
          ),
          advise("mallet-skin", "Wash and dry the skin under the splint twice a week. Look for sore spots."),
          advise("mallet-result", "A small bump or a slight droop is common later. It mostly does not matter."),
        ],
        because: "The splint works only if the tip never bends.",
        sources: [cite("STEES", "C"), cite("FV-MAL", "C"), cite("MKUH", "C"), cite("BACH17", "C")],
      },
      {
        id: "ADV-2",
        when: { nailMayFall: "yes" },
        then: [
          advise("nail-growth", "The nail may fall off. A new one takes 4 months or more and may be ridged at first."),
        ],
        because: "A nail grows back slowly.",
        sources: [
          cite("SEABERG91", "B", "mean 4 months, SD 2.6"),
          cite("HORWITZ", "C", "9 months"),
          cite("MEEK98", "C", "after draining 85 % very good or better, 67 % without a trace, 5 of 94 infected"),
        ],
      },
      {
        id: "ADV-3",
        when: { tuft: "yes" },
        then: [advise("film-line", "The line on the X-ray may stay. It does not matter if it does not hurt.")],
        because: "More than 7 in 10 still have some trouble with the tip at 6 months.",
        sources: [
          cite("CLINADV", "C"),
          cite("HORWITZ", "C"),
          cite("EATON", "C"),
          cite("DACRUZ88", "M", "few fully recovered at 6 weeks"),
          commonPractice,
        ],
      },
      {
        id: "ADV-9",
        when: { isolatedTuft: "yes", jerseySuspected: "no" },
        then: [advise("exercises", "Bend and straighten the end joint from the second week, gently.")],
        because: "A joint that need not rest gets stiff.",
        sources: [cite("EATON", "C"), commonPractice],
      },
      {
        id: "ADV-10",
        when: { stableShaft: "yes", flexorInDoubt: "no" },
        then: [advise("exercises", "Move the middle and big joints now. The end joint waits 3 to 4 weeks.")],
        because: "Joints that need not rest get stiff.",
        sources: [commonPractice, cite("EATON", "C")],
      },
      rule(
        "ADV-4",
        { stableShaft: "yes", fdpLoss: "no", ...adult },
        workSport(`Desk work: after some days. Hand work: after 4 to 8 weeks. ${SHAFT_SPORT}`),
        "Bone carries load only when it has joined.",
        commonPractice,
      ),
      rule(
        "ADV-5",
        { unstableFracture: "yes", ...adult },
        workSport(
          "Desk work: after some days. Hand work: not before the wire is out. Ball sports: after 6 to 8 weeks.",
        ),
        "Bone carries load only when it has joined.",
        commonPractice,
      ),
      rule("ADV-11", { wirePossible: "yes" }, WIRE, GERMS, commonPractice),
      rule("ADV-12", { malletSlipped: "yes", wirePossible: "no" }, WIRE, GERMS, commonPractice),
      rule(
        "ADV-13",
        { malletLarge: "yes", jointPosition: "congruent", wirePossible: "no" },
        WIRE,
        GERMS,
        commonPractice,
      ),
      rule("ADV-14", { malletMiddle: "yes", wirePossible: "no" }, WIRE, GERMS, commonPractice),
      rule("ADV-15", { baseDisplaced: "yes", wirePossible: "no" }, WIRE, GERMS, commonPractice),
      rule(
        "ADV-16",
        { openMallet: "yes", malletBony: "no", baseDisplaced: "no", wirePossible: "no" },
        WIRE,
        GERMS,
        commonPractice,
      ),
      rule(
        "ADV-17",
        { physealInjury: "yes", physisDisplaced: "yes", openMallet: "no", wirePossible: "no" },
        WIRE,
        GERMS,
        commonPractice,
      ),
      rule(
        "ADV-24",
        { malletEquivalentCorD: "yes", physisDisplaced: "no", openMallet: "no", wirePossible: "no" },
        WIRE,
        GERMS,
        commonPractice,
      ),
      rule(
        "ADV-18",
        { malletInjury: "yes", flexorInDoubt: "no", openMallet: "no", ...adult },
        workSport(`Desk work: after some days. Ask at work whether a splint is allowed. ${MALLET_SPORT}`),
        "It holds only in the splint.",
        cite("BACH17", "C"),
        commonPractice,
      ),
      rule(
        "ADV-19",
        { malletInjury: "yes", flexorInDoubt: "no", openMallet: "no", ...child },
        workSport(`School: after some days. ${MALLET_SPORT}`),
        "It holds only in the splint.",
        cite("BACH17", "C"),
        commonPractice,
      ),
      rule(
        "ADV-20",
        { tuft: "yes", ...adult },
        workSport(`Desk work: after some days. Hand work: after 2 to 4 weeks, with gloves. ${TUFT_SPORT}`),
        "A tender tip protects itself badly.",
        commonPractice,
      ),
      rule(
        "ADV-21",
        { tuft: "yes", ...child },
        workSport(`School: after some days. ${TUFT_SPORT}`),
        "A tender tip protects itself badly.",
        commonPractice,
      ),
      rule(
        "ADV-22",
        { stableShaft: "yes", fdpLoss: "no", ...child },
        workSport(`School: after some days. ${SHAFT_SPORT}`),
        "Bone carries load only when it has joined.",
        commonPractice,
      ),
      {
        id: "ADV-6",
        when: { jersey: "yes", hoursSinceInjury: under(daysInHours(MISSED_DAYS)) },
        assume: { column: "hoursSinceInjury", say: "If it happened less than 3 months ago:" },
        then: [
          advise(
            "jersey",
            "The tendon that bends your tip has come off. Do not try to bend or stretch it. Time counts: go to the hand surgeon in time.",
          ),
        ],
        because: "A late repair often fails.",
        sources: [cite("BACH17", "C"), cite("DRBABA", "C", "over 3 months"), commonPractice],
      },
      {
        id: "ADV-26",
        when: { jersey: "yes", hoursSinceInjury: from(daysInHours(MISSED_DAYS)) },
        then: [
          advise(
            "jersey",
            "The tendon that bends your tip came off months ago. It can be left as it is, the joint can be made stiff, or the tendon can be replaced. Choose with the hand surgeon.",
          ),
        ],
        because: "So long after the injury there is a choice and no race.",
        sources: [cite("DRBABA", "C"), commonPractice],
      },
      rule(
        "ADV-23",
        { jersey: "yes", ...adult },
        workSport(
          "After the operation: desk work after 1 to 2 weeks, sport without contact after 10 to 12, hand work after 12, contact sport after 12 to 16 weeks.",
        ),
        "A repaired tendon is weak for 12 weeks.",
        cite("BACH17", "C", "8 to 12 weeks out of contact sport"),
        commonPractice,
      ),
      rule(
        "ADV-25",
        { jersey: "yes", ...child },
        workSport(
          "After the operation: school after 1 to 2 weeks, sport without contact after 10 to 12, contact sport after 12 to 16 weeks.",
        ),
        "A repaired tendon is weak for 12 weeks.",
        cite("BACH17", "C", "8 to 12 weeks out of contact sport"),
        commonPractice,
      ),
      {
        id: "ADV-7",
        when: { openPhysealFracture: "yes" },
        then: [
          advise(
            "child-school",
            "School at once. No sport, sand or water until the wire is out; other sport after 6 weeks, ball sports after 6 to 8.",
          ),
          advise("child-growth", "The finger is checked for up to a year, to see that bone and nail grow well."),
        ],
        because: "Growth shows only with time.",
        sources: [cite("KRUSCHE13", "C"), commonPractice],
      },
      {
        id: "ADV-8",
        when: { combinedBase: "yes" },
        then: [
          advise("joint-stiff", "The end joint may stay stiff or sore. Exercises start when the splint comes off."),
        ],
        because: "The joint surface itself was broken.",
        sources: [cite("VIENNA24", "B")],
      },
    ],
  });

import { cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { type Table, table } from "../reasoning/table.ts";
import { advise, redFlag } from "./effects-in-short.ts";
import { NOT_STRAIGHTENED } from "./mallet.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

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
          advise(
            "work-sport",
            "Desk work: after some days. Sport: in the splint; it takes 8 to 12 weeks to heal. Ask at work whether a splint is allowed.",
          ),
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
        sources: [cite("SEABERG91", "B"), cite("HORWITZ", "C", "9 months"), cite("MEEK98", "C")],
      },
      {
        id: "ADV-3",
        when: { tuft: "yes" },
        then: [
          advise("film-line", "The line on the X-ray may stay. It does not matter if it does not hurt."),
          advise(
            "work-sport",
            "Desk work: after some days. Hand work: after 2 to 4 weeks, with gloves. Ball sports: after 3 to 6 weeks, protected.",
          ),
        ],
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
      {
        id: "ADV-4",
        when: { stableShaft: "yes" },
        then: [
          advise(
            "work-sport",
            "Desk work: after some days. Hand work: after 4 to 8 weeks. Ball sports: after 6 to 8 weeks, in a splint.",
          ),
        ],
        because: "Bone carries load only when it has joined.",
        sources: [commonPractice],
      },
      {
        id: "ADV-5",
        when: { unstableFracture: "yes" },
        then: [
          advise(
            "wire",
            "If you get a wire: keep it dry and capped. No swimming, no rings, no work with food, dirt or turning machines until it is out.",
          ),
          advise("work-sport", "Ball sports: after 6 to 8 weeks."),
          redFlag("wire-trouble", "The wire is loose, sticks out more, or has come out."),
        ],
        because: "A wire is a way in for germs.",
        sources: [commonPractice],
      },
      {
        id: "ADV-6",
        when: { jersey: "yes" },
        then: [
          advise(
            "jersey",
            "The tendon that bends your tip has come off. Do not try to bend or stretch it. Time counts: go to the hand surgeon in time.",
          ),
          advise(
            "work-sport",
            "After the operation: desk work after 1 to 2 weeks, hand work after 12 weeks, contact sport after 12 to 16 weeks.",
          ),
        ],
        because: "A late repair often fails.",
        sources: [cite("BACH17", "C", "8 to 12 weeks out of contact sport"), commonPractice],
      },
      {
        id: "ADV-7",
        when: { openPhysealFracture: "yes" },
        then: [
          advise(
            "child-school",
            "School at once. No sport, sand or water until the wire is out; ball sports after 6 to 8 weeks.",
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

import { cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { HandTable } from "./hand-table.ts";
import { HAND_POLICY } from "./policy.ts";

/** What is done in the first minutes, whatever the fracture turns out to be. */
export const firstMinutes = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  return {
    id: "EM",
    question: "What is done in the first minutes?",
    answers: "every",
    rules: [
      {
        id: "EM1",
        when: { ringsOnHand: "yes" },
        then: [
          {
            kind: "today",
            topic: "first-minutes",
            say: "Take every ring off the injured hand now: soap, a thread, or the ring cutter if the finger swells.",
          },
        ],
        because: "A ring on a swelling finger strangles it.",
        sources: [commonPractice],
      },
      {
        id: "EM2",
        when: {},
        then: [
          {
            kind: "today",
            topic: "first-minutes",
            say: "Hand above the heart, pain relief by mouth, loosen tight wraps.",
          },
        ],
        because: "Swelling and pain are least when treated at once.",
        sources: [cite("AO-T", "C"), cite("ANESKEY", "C")],
      },
      {
        id: "EM2b",
        when: { coolingHarms: "no" },
        then: [{ kind: "today", topic: "first-minutes", say: "Cool through a cloth." }],
        because:
          "Cold eases swelling and pain, but narrows the vessels of a pale tip, in Raynaud or in arterial disease.",
        sources: [cite("AO-T", "C"), cite("ANESKEY", "C"), cite("RAYN22", "C", "abstract")],
      },
      {
        id: "EM3",
        when: { perfusionInDoubt: "yes" },
        then: [
          {
            kind: "today",
            topic: "perfusion",
            say: `Take off rings and dressing, straighten a gross deformity with gentle traction, warm the hand, look again after ${p["hand.perfusionRecheckMinutes"]} minutes. Still poor: phone the hand surgeon now.`,
          },
        ],
        because:
          "Most pale tips recover once nothing bends or squeezes the finger; those that do not are an emergency.",
        sources: [cite("HS2", "G", "draft, item 5a: vascular compromise goes at once"), commonPractice],
      },
      {
        id: "EM4",
        when: { blockLikely: "yes", blockForbidden: "no" },
        then: [
          {
            kind: "today",
            topic: "examination",
            say: "Before any block: record feeling on each side of the tip, active bending and active straightening.",
          },
        ],
        because: "After the block neither nerve nor pain-free movement can be told from its effect.",
        sources: [cite("ANESKEY-DB", "C")],
      },
      {
        id: "EM5",
        when: { blockLikely: "yes", blockForbidden: "no" },
        then: [
          {
            kind: "today",
            topic: "dressing",
            say: `If a finger tourniquet is used: write down the times on and off, aim for under ${p["hand.tourniquetMinutes"]} minutes, and check that it is off before the dressing goes on.`,
          },
        ],
        because: "A forgotten finger tourniquet costs the finger.",
        sources: [commonPractice, fromMemory],
      },
      {
        id: "EM6",
        when: {},
        then: [
          {
            kind: "today",
            topic: "dressing",
            say: "Dressing that does not stick, not tight all round, with the tip in view.",
          },
        ],
        because: "The tip must be seen to judge its circulation, and swelling must have room.",
        sources: [cite("ANESKEY", "C"), commonPractice],
      },
    ],
  };
};

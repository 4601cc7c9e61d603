import { cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import type { HandTable } from "./hand-table.ts";
import { LARGE_PULP_LOSS_CM2 } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";

/** The wash-out clock of an open fracture, and wounds of the pulp. */
export const wound = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const hours = p["hand.washoutHours"];
  return {
    id: "OW",
    question: "When and by whom is the wound washed out?",
    answers: "every",
    rules: [
      {
        id: "OW1",
        when: { openFracture: "yes", grossContamination: "yes" },
        then: [
          {
            kind: "exit",
            exit: "gross-contamination",
            title: "Open injury with gross contamination",
            urgency: "NOW",
            sendTo: "hand surgeon on call",
            leaves: true,
            say: "Heavy dirt, soil or manure in an open fracture, joint or nail bed: phone the hand surgeon now.",
          },
          {
            kind: "today",
            topic: "wash-out",
            say: "Remove what can be washed away now, cover with a moist dressing; formal wash-out by the hand surgeon.",
          },
        ],
        because:
          "Gross contamination of an open hand fracture is referred at once. No source draws the line: heavy dirt, soil and manure count, a little dirt that washes out does not.",
        sources: [cite("HS2", "G", "draft, item 5c"), commonPractice],
      },
      {
        id: "OW2a",
        when: { openFracture: "yes", ischaemia: "yes" },
        then: [
          { kind: "urgency", urgency: "NOW", say: "Open fracture with poor circulation: phone the hand surgeon now." },
        ],
        because: "An open fracture with a threatened blood supply is referred at once.",
        sources: [cite("HS2", "G", "draft, item 5a")],
      },
      {
        id: "OW2b",
        when: { openFracture: "yes", jointDislocated: "irreducible" },
        then: [
          {
            kind: "urgency",
            urgency: "NOW",
            say: "Open fracture with a joint that cannot be reduced: phone the hand surgeon now.",
          },
        ],
        because: "An open fracture with an irreducible joint is referred at once.",
        sources: [cite("HS2", "G", "draft, item 5b")],
      },
      {
        id: "OW3",
        when: {
          openFracture: "yes",
          boneBroken: "yes",
          isolatedTuft: "no",
          highPressureInjection: "no",
          // A part that may be replanted goes now.
          tissueLoss: ["none", "pulp-small", "pulp-large", "bone-exposed", "amputation-not-replantable"],
          woundLate: "no", // later the clock has run out, and the rows on lateness speak
        },
        assume: { column: "woundLate", say: "Time of the injury not known." },
        then: [
          {
            kind: "urgency",
            urgency: "D0",
            say: `Open fracture beyond the tuft: hand team within ${hours} hours of the injury.`,
          },
        ],
        because:
          "National draft standard for open hand fractures; an earlier limit of six hours showed no benefit (4.2 against 3.6 % infected).",
        sources: [
          cite("HS2", "G", "draft, items 6 and 7"),
          cite("JOHN22", "B", "audit: this standard is in use"),
          cite("KET17", "B", "4.6 % of all open hand fractures infected; no clear link with 6 h versus 12 h"),
          cite("BOAST17", "G", "general open-fracture standard leaves the digits out"),
        ],
      },
      {
        id: "OW3b",
        // Who is phoned at once is not given hours.
        when: { openFracture: "yes", boneBroken: "yes", isolatedTuft: "no", washoutClockRuns: "yes" },
        assume: { column: "washoutClockRuns", say: "Time of the injury, or whether it goes at once, not known." },
        then: [
          {
            kind: "today",
            topic: "wash-out",
            say: `Wash-out and debridement within ${hours} hours of the injury, by the hand team.`,
          },
        ],
        because: "National draft standard for open hand fractures; what goes at once has no hours to wait.",
        sources: [cite("HS2", "G", "draft, items 5 to 7"), cite("JOHN22", "B", "audit: this standard is in use")],
      },
      {
        id: "OW5",
        when: { openPhysealFracture: "yes" },
        then: [
          { kind: "urgency", urgency: "D0", say: "Open growth-plate fracture: hand surgery today." },
          { kind: "today", topic: "wash-out", say: "Antibiotic and formal wash-out as soon as possible, today." },
        ],
        because:
          "Debridement within 48 hours cut infection (relative risk 0.28, 95 % interval 0.12-0.64) and malunion (0.25).",
        sources: [cite("KIELY22", "B", "abstract; not randomised")],
      },
      {
        id: "OW6",
        when: { woundLate: "yes" },
        then: [
          {
            kind: "today",
            topic: "wash-out",
            say: "Late wound: debride all the same, look for infection, take a culture.",
          },
        ],
        because: "Lateness is no reason to leave a wound unwashed.",
        sources: [cite("KIELY22", "B", "abstract; median delay 8.5 days")],
      },
      {
        id: "OW9",
        when: { woundLate: "yes", openPhysealFracture: "yes" },
        then: [
          {
            kind: "warn",
            say: "Open growth-plate fracture seen late: over a third of such fractures were infected.",
          },
        ],
        because: "The later it is seen, the likelier the bone is infected already.",
        sources: [cite("KIELY22", "B", "abstract; median delay 8.5 days")],
      },
      {
        id: "OW7",
        when: { tissueLoss: "pulp-large" },
        then: [
          {
            kind: "urgency",
            urgency: "D0",
            say: `Pulp loss of ${LARGE_PULP_LOSS_CM2} cm² or more: hand team today for cover.`,
          },
        ],
        because: "A large pulp defect heals badly by itself.",
        sources: [cite("RCH-FT", "C"), commonPractice, fromMemory],
      },
      {
        id: "OW8a",
        when: { woundPresent: "yes", devitalised: "artery-cut", poorPerfusion: "no" },
        then: [
          {
            kind: "urgency",
            urgency: "D1",
            say: "Digital artery cut, tip well supplied: tell the hand surgeon today; seen by the next working day.",
          },
        ],
        because: "The other artery feeds the tip for now; the nerve runs beside the cut one and is judged with it.",
        sources: [commonPractice],
      },
      {
        id: "OW8b",
        when: { woundPresent: "yes", devitalised: "artery-cut", poorPerfusion: "yes" },
        then: [
          {
            kind: "urgency",
            urgency: "NOW",
            say: "Digital artery cut and the tip was poorly supplied: phone the hand surgeon now, even if it has recovered.",
          },
        ],
        because: "A tip that depends on one artery and has been pale may be lost.",
        sources: [cite("HS2", "G", "draft, item 5a: vascular compromise goes at once"), commonPractice],
      },
    ],
  };
};

/** Open tuft fractures that need no theatre. Silent once the ordinary pathway is left. */
export const tuftWound = (_policy: SitePolicy): HandTable => ({
  id: "OW4",
  question: "Can this open fracture be treated outside theatre?",
  answers: "every",
  ordinary: true,
  rules: [
    {
      id: "OW4a",
      when: {
        openFracture: "yes",
        isolatedTuft: "yes",
        woundLate: "no",
        closureWaits: "no",
        perfusionInDoubt: "no",
        blockForbidden: "no",
      },
      then: [
        { kind: "today", topic: "wash-out", say: "Wash out, debride, repair and splint here; no theatre needed." },
      ],
      because:
        "The draft standard for open hand fractures leaves isolated tuft fractures out, and textbooks treat them in the emergency department.",
      sources: [cite("HS2", "G", "draft, exclusion"), cite("ANESKEY", "C")],
    },
    {
      id: "OW4c",
      when: { woundPresent: "yes", openFracture: "no" },
      then: [
        {
          kind: "today",
          topic: "wash-out",
          say: "Wash the wound out and see that it does not reach bone, joint, tendon or nerve.",
        },
      ],
      because: "A wound beside a closed fracture is treated as a wound, and only looking shows how deep it goes.",
      sources: [commonPractice],
    },
    {
      id: "OW4f",
      when: { woundPresent: "yes", openFracture: "no", closureWaits: "no", tissueLoss: "none" },
      then: [{ kind: "today", topic: "wash-out", say: "If it is clean and shallow, close it loosely." }],
      because: "A clean wound with nothing left in it and nobody waiting to explore it heals faster closed.",
      sources: [commonPractice],
    },
    {
      id: "OW4g",
      when: { woundPresent: "yes", openFracture: "no", closureWaits: "yes" },
      then: [{ kind: "today", topic: "wash-out", say: "Do not close it here: moist dressing; the hand team decides." }],
      because: "A wound that is still to be explored, or holds something or germs, is not shut over it.",
      sources: [commonPractice],
    },
    {
      id: "OW4h",
      when: { openFracture: "yes", isolatedTuft: "yes", surgeonTakesOver: "no", closureWaits: "yes" },
      then: [
        {
          kind: "today",
          topic: "wash-out",
          say: "Take off loose dirt and leave it open under a moist dressing: the hand team explores and closes it.",
        },
      ],
      because: "What is still to be explored, or holds something or germs, is not shut over it.",
      sources: [commonPractice],
    },
    {
      id: "OW4i",
      when: {
        openFracture: "yes",
        isolatedTuft: "yes",
        surgeonTakesOver: "no",
        closureWaits: "no",
        perfusionInDoubt: "no",
        blockForbidden: "yes",
      },
      then: [
        {
          kind: "today",
          topic: "wash-out",
          say: "Wash out what can be washed without a block and cover it moist: the hand team numbs, washes out and repairs.",
        },
      ],
      because: "A thorough wash-out and a repair need a numb finger.",
      sources: [commonPractice],
    },
    {
      id: "OW4d",
      when: { openFracture: "yes", boneBroken: "no", grossContamination: "no", surgeonTakesOver: "no" },
      then: [
        {
          kind: "today",
          topic: "wash-out",
          say: "Open injury without a fracture: wash it out, look for injured tendon, joint and nail bed.",
        },
      ],
      because: "The clock of open fractures is not meant for a wound without one.",
      sources: [cite("HS2", "G", "draft, about open fractures"), commonPractice],
    },
    {
      id: "OW4e",
      when: { openFracture: "yes", boneBroken: "no", surgeonTakesOver: "yes" },
      then: [
        {
          kind: "today",
          topic: "wash-out",
          say: "Open injury without a fracture: take off loose dirt and cover it moist; the surgeon explores it and washes it out.",
        },
      ],
      because:
        "One wash-out by the one who also repairs it; the clock of open fractures is not meant for a wound without one.",
      sources: [commonPractice],
    },
    {
      id: "OW4b",
      when: { tissueLoss: "pulp-small" },
      then: [{ kind: "today", topic: "dressing", say: "Small pulp loss: moist dressing, let it heal by itself." }],
      because: "Small pulp defects without bone fill in under a dressing.",
      sources: [cite("RCH-FT", "C"), commonPractice],
    },
  ],
});

import { cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from } from "../reasoning/table.ts";
import type { Effect, Visit } from "./effects.ts";
import type { HandTable } from "./hand-table.ts";
import { DISLOCATION_SPLINT, LATE_PAIN_DAYS, WEEKEND_DAYS } from "./limits.ts";
import { HAND_POLICY } from "./policy.ts";
import { daysInHours } from "./signs.ts";

/**
 * Safety exits: injuries that look like an ordinary fracture and are not. No urgency is shown until each is ruled in or
 * out. An exit that leaves silences everything that assumes an ordinary fracture; nerve trouble and foreign bodies do not.
 */
export const exits = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const handSurgeon = "hand surgeon on call";
  return {
    id: "EX",
    question: "Does this injury have to leave the ordinary pathway?",
    answers: "every",
    gate: true,
    rules: [
      {
        id: "EX1",
        when: { ischaemia: "yes", ischaemiaInQuestion: "yes" },
        then: [
          {
            kind: "exit",
            exit: "ischaemia",
            title: "The finger tip has no good blood supply",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "Circulation is still poor after straightening, warming and removing anything tight: phone the hand surgeon now, the patient stays.",
          },
        ],
        because: "A tip that stays pale or dusky after the first steps may be lost without an operation.",
        sources: [cite("HS2", "G", "draft, item 5a")],
      },
      {
        id: "EX1b",
        when: { poorPerfusion: "yes", perfusionRechecked: "no" },
        then: [
          {
            kind: "exit",
            exit: "ischaemia",
            title: "Poor blood supply of the finger tip, not yet rechecked",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: `Straighten, warm and free the finger, and look again after ${p["hand.perfusionRecheckMinutes"]} minutes. Until it is rechecked this counts as now, and the fracture waits.`,
            means: "Until the circulation is rechecked the patient does not leave. Still poor: phone the hand surgeon.",
            untilRechecked: true,
          },
        ],
        because: "Whether the tip recovers decides everything else; until somebody has looked again it is in danger.",
        sources: [cite("HS2", "G", "draft, item 5a"), commonPractice],
      },
      {
        id: "EX2a",
        when: { tissueLoss: "amputation-replantable" },
        then: [
          {
            kind: "exit",
            exit: "amputation",
            title: "Amputation that might be replanted",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "Phone the hand surgeon now. Wrap the part in moist gauze, in a bag, on ice water; no ice directly on the part.",
          },
        ],
        because: "A part that may be replanted loses its chance with time.",
        sources: [cite("FTAMP", "C"), cite("RCH-FT", "C"), commonPractice, fromMemory],
      },
      {
        id: "EX2b",
        when: { tissueLoss: ["amputation-not-replantable", "bone-exposed"] },
        then: [
          {
            kind: "exit",
            exit: "amputation",
            title: "Tip loss with bone involved",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: true,
            say: "Part of the tip is missing and bone is exposed or lost: hand surgery the same day for cover or terminalisation.",
          },
        ],
        because: "Exposed bone needs cover, and that decides the treatment more than the fracture does.",
        sources: [cite("FTAMP", "C"), cite("RCH-FT", "C")],
      },
      {
        id: "EX3",
        when: { highPressureInjection: "yes" },
        then: [
          {
            kind: "exit",
            exit: "high-pressure-injection",
            title: "High-pressure injection",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "Phone the hand surgeon now, even if the wound is a painless pinhole. Film for injected material. No finger block.",
          },
        ],
        because:
          "Injected material spreads along the finger; 30-48 % of such fingers are amputated, oil paint and solvent doing worst.",
        sources: [cite("HPI-KEY", "C"), cite("HPI-PEARL", "C")],
      },
      {
        id: "EX4a",
        when: { bite: "yes" },
        then: [
          {
            kind: "exit",
            exit: "bite",
            title: "Bite over a bone or joint",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: true,
            say: "A bite over a bone or joint, broken or not: hand surgery the same day, wash-out, antibiotic as below.",
          },
        ],
        because: "Mouth bacteria driven into bone or joint cause infections that a splint and a dressing miss.",
        sources: [cite("NG184", "G")],
      },
      {
        id: "EX4b",
        when: { bite: "yes", biteDeepOrDirty: "yes" },
        then: [
          {
            kind: "exit",
            exit: "bite",
            title: "Deep or dirty bite",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "The bite reaches bone, joint or tendon, or is deep or dirty: phone the hand surgeon now.",
          },
        ],
        because: "A bite that reaches the joint or bone needs a formal wash-out before infection sets in.",
        sources: [cite("NG184", "G")],
      },
      {
        id: "EX5a",
        when: { jointDislocated: "irreducible" },
        then: [
          {
            kind: "exit",
            exit: "dislocation",
            title: "End joint cannot be reduced",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "The end joint cannot be put back: phone the hand surgeon now.",
          },
        ],
        because: "Tendon or volar plate caught in the joint has to be lifted out by operation.",
        sources: [cite("HS2", "G", "draft, item 5b"), cite("AAFP22", "G", "abstract")],
      },
      {
        id: "EX5b",
        when: { jointDislocated: "yes-not-yet-reduced" },
        then: [
          {
            kind: "exit",
            exit: "dislocation",
            title: "End joint dislocated",
            urgency: "D0",
            sendTo: "emergency department",
            leaves: true,
            say: `Reduce under anaesthesia (a finger block only if nothing speaks against it), film again, then assess the fracture anew; splint for ${DISLOCATION_SPLINT.weeks.from}-${DISLOCATION_SPLINT.weeks.to} weeks.`,
          },
        ],
        because: "Fragments and joint can only be judged once the joint is back in place.",
        sources: [cite("AAFP22", "G", "abstract"), cite("HS2", "G", "draft, item 10: film after reduction")],
      },
      {
        id: "EX5c",
        when: { openFracture: "yes", jointDislocated: ["yes-not-yet-reduced", "reduced"] },
        then: [
          {
            kind: "exit",
            exit: "dislocation",
            title: "Open dislocation",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: false,
            say: "The joint was open as well as dislocated: wash-out by the hand surgeon the same day.",
          },
        ],
        because: "An opened joint has to be washed out formally.",
        sources: [cite("AAFP22", "G", "abstract"), cite("HS2", "G", "draft")],
      },
      {
        id: "EX6a",
        when: { sheathSigns: "yes" },
        then: [
          {
            kind: "exit",
            exit: "infection",
            title: "Infection of the flexor sheath suspected",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "Phone the hand surgeon now; film, bloods, culture before antibiotics where this costs no time.",
          },
        ],
        because:
          "Swelling along the finger, held bent, tender sheath and pain on straightening mean pus in the sheath until shown otherwise.",
        sources: [cite("ALA-ACEP", "C"), fromMemory],
      },
      {
        id: "EX6b",
        when: { infectionSigns: "spreading" },
        then: [
          {
            kind: "exit",
            exit: "infection",
            title: "Spreading infection",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "Phone the hand surgeon now; film, bloods, culture.",
          },
        ],
        because: "Infection that spreads from a fractured tip needs drainage and treatment at once.",
        sources: [cite("HS2", "G", "draft"), cite("REYES17", "C")],
      },
      {
        id: "EX6c",
        when: { infectionSigns: "tense-pulp-or-discharge" },
        then: [
          {
            kind: "exit",
            exit: "infection",
            title: "Pulp infection or discharge from the fracture",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: true,
            say: `Tense pulp or discharge, after day ${LATE_PAIN_DAYS} with new pain above all: hand surgery the same day; film, bloods, culture.`,
          },
        ],
        because: "A tense pulp or a discharging wound over a fracture may already be infection of the bone.",
        sources: [cite("REYES17", "C"), cite("ALA-ACEP", "C")],
      },
      {
        id: "EX6d",
        when: { lysisOrPeriostealReaction: "yes" },
        then: [
          {
            kind: "exit",
            exit: "infection",
            title: "Bone infection suspected on the film",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: true,
            say: "Lysis or periosteal reaction: hand surgery the same day; bloods, culture.",
          },
        ],
        because: "Bone that dissolves or lays down new layers after an open injury is infected until shown otherwise.",
        sources: [cite("REYES17", "C"), cite("ALA-ACEP", "C")],
      },
      {
        id: "EX6e",
        when: { infectionSigns: "local" },
        then: [
          {
            kind: "exit",
            exit: "infection",
            title: "Local infection of a broken finger tip",
            urgency: "D1",
            sendTo: "hand surgery",
            leaves: false,
            say: "Local infection over a fracture: hand surgery today or the next working day; culture, film, look at it again within 24-48 hours.",
          },
        ],
        because: "Skin infection over a fracture can reach the bone, and is treated, not prevented.",
        sources: [cite("SAMADE21", "B", "abstract"), cite("REYES17", "C"), commonPractice],
      },
      {
        id: "EX8",
        when: { boneLesion: "yes" },
        then: [
          {
            kind: "exit",
            exit: "pathological-fracture",
            title: "Fracture through a bone lesion",
            urgency: "R2",
            sendTo: "hand or tumour clinic",
            leaves: true,
            say: `Splint as its class asks, or for comfort; hand or tumour clinic in ${p["hand.routineFromDays"]}-${p["hand.routineToDays"]} days; MRI if in doubt.`,
          },
        ],
        because:
          "A lucent lesion with a thin cortex gave way; the lesion decides what follows. Enchondroma is the usual one and often shows itself by fracture.",
        sources: [
          cite(
            "RAMOS18",
            "C",
            "abstract: 9 of 11 of the distal phalanx came by fracture; a splint alone and curettage were both reported",
          ),
        ],
      },
      {
        id: "EX9",
        when: { mechanism: "no-adequate-trauma", coldPointPainBlueSpot: "yes" },
        then: [
          {
            kind: "exit",
            exit: "glomus",
            title: "Pain without an injury: glomus tumour possible",
            urgency: "R2",
            sendTo: "hand clinic",
            leaves: true,
            say: "Cold pain, point pain or a blue spot without injury: hand clinic, MRI.",
          },
        ],
        because: "Pain in the cold and at one point without an accident does not come from a fracture.",
        sources: [fromMemory],
      },
      {
        id: "EX10a",
        when: { sensation: ["reduced-radial", "reduced-ulnar", "absent"] },
        then: [
          {
            kind: "exit",
            exit: "nerve",
            title: "Feeling lost in part of the tip",
            urgency: "D1",
            sendTo: "hand clinic, urgent",
            leaves: false,
            say: "Feeling is reduced or absent: hand team the same or next day to judge the digital nerve.",
          },
        ],
        because: "A numb half of the tip may be a cut digital nerve, which is repaired early.",
        sources: [commonPractice],
      },
      {
        id: "EX10b",
        when: { foreignBody: "yes" },
        then: [
          {
            kind: "exit",
            exit: "foreign-body",
            title: "Foreign body left in the finger",
            urgency: "D1",
            sendTo: "hand clinic, urgent",
            leaves: false,
            say: "Foreign body or gas on the film: explore the same or next day.",
          },
        ],
        because: "Retained material keeps a wound infected.",
        sources: [commonPractice],
      },
      {
        id: "EX11",
        when: { mangled: "yes" },
        then: [
          {
            kind: "exit",
            exit: "mangled",
            title: "Mangled hand: two or more rays",
            urgency: "NOW",
            sendTo: handSurgeon,
            leaves: true,
            say: "Saw or crush with loss across two or more rays: phone the hand surgeon now.",
          },
        ],
        because: "Several damaged rays are planned together, by a surgeon.",
        sources: [commonPractice],
      },
      {
        id: "EX12",
        when: { mechanism: "burn-or-frostbite" },
        then: [
          {
            kind: "exit",
            exit: "burn-or-frostbite",
            title: "Burn or frostbite",
            urgency: "D0",
            sendTo: "burns service",
            leaves: true,
            say: "Follow the burn or frostbite pathway; this one does not cover it.",
          },
        ],
        because: "Burnt or frozen tissue decides the treatment, not the fracture.",
        sources: [commonPractice],
      },
      {
        id: "EX13",
        when: { otherSeriousInjury: "yes" },
        then: [
          {
            kind: "exit",
            exit: "serious-illness",
            title: "Serious illness or other injuries first",
            urgency: "NOW",
            sendTo: "team treating the patient",
            leaves: true,
            say: "Treat the serious illness or injury first; come back to the finger afterwards.",
          },
        ],
        because: "Life comes before a finger tip.",
        sources: [commonPractice],
      },
    ],
  };
};

/** Late presentation: speeds things up without leaving the pathway, so it does not hold back an urgency either. */
export const latePresentation = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const lateNail: readonly Effect[] = [
    {
      kind: "exit",
      exit: "late",
      title: "Child's nail injury seen late",
      urgency: "D0",
      sendTo: "hand surgery",
      leaves: false,
      say: `A child's nail injury ${p["hand.childNailLateHours"]} hours old or older: hand team the same day, at the latest the next.`,
    },
  ];
  const inClinic = (check: string): Effect => visit("clinic", "hand clinic", [0, p["hand.clinicWithinDays"]], check);
  return {
    id: "EX7",
    question: "Was the injury seen late?",
    answers: "every",
    rules: [
      {
        id: "EX7a",
        when: { woundLate: "yes" },
        then: [
          {
            kind: "exit",
            exit: "late",
            title: "Wound seen late",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: false,
            say: `The wound is ${p["hand.washoutHours"]} hours old or older: hand team the same day, at the latest the next.`,
          },
        ],
        because: "Late open fractures of the finger tip are often infected already and are debrided all the same.",
        sources: [cite("KIELY22", "B", "abstract"), cite("SAMADE21", "B", "abstract")],
      },
      {
        id: "EX7b",
        // Once it is a late wound EX7a says the same.
        when: {
          child: "yes",
          nailFoldOpen: "yes",
          woundLate: "no",
          hoursSinceInjury: from(p["hand.childNailLateHours"]),
        },
        then: lateNail,
        because: "Over a third of late-treated open growth-plate fractures were infected.",
        sources: [cite("KIELY22", "B", "abstract"), cite("SAMADE21", "B", "abstract")],
      },
      {
        id: "EX7h",
        when: { presentation: "again-worse", hoursSinceInjury: from(daysInHours(LATE_PAIN_DAYS)) },
        then: [
          {
            kind: "exit",
            exit: "infection",
            title: "Back because it got worse",
            urgency: "D0",
            sendTo: "hand surgery",
            leaves: false,
            say: `New pain, swelling or discharge after day ${LATE_PAIN_DAYS}: infection until shown otherwise; hand surgery the same day, film, bloods, culture.`,
          },
        ],
        because: "Pain that comes back days after an injury of the tip may be infection of the bone.",
        sources: [cite("REYES17", "C"), cite("ALA-ACEP", "C")],
      },
      {
        id: "EX7c",
        when: { fdpLoss: "yes", hoursSinceInjury: from(daysInHours(p["hand.tendonLateDays"])) },
        then: [
          {
            kind: "exit",
            exit: "late",
            title: "Deep flexor avulsion seen late",
            urgency: "D1",
            sendTo: "hand clinic, urgent",
            leaves: false,
            say: `${p["hand.tendonLateDays"]} days or more since the tendon came off: urgent clinic, direct repair may no longer be possible.`,
          },
        ],
        because: "A retracted tendon shortens; after about ten days it may not reach the bone any more.",
        sources: [cite("RADREF-LP", "C"), cite("QA-JERSEY", "C"), cite("CH35", "C")],
      },
      {
        id: "EX7d",
        when: { malletInjury: "yes", hoursSinceInjury: from(daysInHours(p["hand.malletLateDays"])) },
        then: [
          {
            kind: "exit",
            exit: "late",
            title: "Mallet injury seen late",
            urgency: "W1",
            sendTo: "hand clinic",
            leaves: false,
            say: `${p["hand.malletLateDays"]} days or more since the injury: hand clinic within ${p["hand.clinicWithinDays"]} days. A splint can still work up to 3-4 months; wiring of a bony one through the skin is poor after 5 weeks.`,
          },
          inClinic("Late mallet: splint or operation?"),
        ],
        because: "Late mallet fingers can still be splinted, but the window for closed wiring closes.",
        sources: [cite("BACH17", "C"), cite("COS12", "C"), commonPractice],
      },
      {
        id: "EX7e",
        when: { malletEquivalentCorD: "yes", hoursSinceInjury: from(daysInHours(p["hand.malletLateDays"])) },
        then: [
          {
            kind: "exit",
            exit: "late",
            title: "Turned piece of the growth plate seen late",
            urgency: "W1",
            sendTo: "hand clinic",
            leaves: false,
            say: `${p["hand.malletLateDays"]} days or more since the injury, and the growth plate piece is out of place: say so to the hand surgeon.`,
          },
        ],
        because:
          "The piece that carries the extensor tendon grows fast in a wrong place; late cases need a plan of their own.",
        sources: [commonPractice],
      },
      {
        id: "EX7f",
        when: {
          jointDislocated: ["yes-not-yet-reduced", "irreducible"],
          hoursSinceInjury: from(daysInHours(p["hand.malletLateDays"])),
        },
        then: [
          {
            kind: "exit",
            exit: "late",
            title: "Dislocation seen late",
            urgency: "D1",
            sendTo: "hand clinic, urgent",
            leaves: false,
            say: `Out of place for ${p["hand.malletLateDays"]} days or more: tell the hand surgeon so before anybody pulls on it again; it may need an operation.`,
          },
        ],
        because: "A missed dislocation scars in its place and may not go back by pulling.",
        sources: [commonPractice],
      },
    ],
  };
};

/** Days after the day of assessment: earliest and best day, latest. */
const visit = (purpose: Visit["purpose"], who: string, days: readonly [number, number], check: string): Effect => ({
  kind: "visit",
  visit: { purpose, who, earliest: days[0], ideal: days[0], latest: days[1], check, countFrom: "treatment" },
});

/**
 * The appointment behind an exit, so that nobody is sent away without a day: said even when the ordinary pathway is left, whose
 * own visits are then silent. None for NOW: that patient does not leave.
 */
export const exitVisits = (policy: SitePolicy): HandTable => {
  const p = policyOf(HAND_POLICY, policy);
  const sameDay = [0, 1] as const; // within 24 hours of the injury may be the next calendar day
  const routine = [p["hand.routineFromDays"], p["hand.routineToDays"]] as const;
  return {
    id: "EXV",
    question: "Who sees the finger after an exit, and by when?",
    answers: "every",
    rules: [
      {
        id: "EXV-1",
        when: { surgeonToday: "yes" },
        then: [visit("surgeon-review", "hand surgeon", sameDay, "Explore, wash out, repair or cover as found")],
        because: "What hand surgery takes over the same day has an appointment the same day.",
        sources: [cite("HS2", "G", "draft"), commonPractice],
      },
      {
        id: "EXV-2",
        when: { surgeonNextDay: "yes", surgeonToday: "no", surgeonTakesOver: "no" },
        assume: { column: "surgeonToday", say: "Unless something makes it today." },
        then: [
          visit(
            "clinic",
            "hand clinic, urgent",
            [0, p["hand.nextDayWithinDays"] + WEEKEND_DAYS],
            "Next working day at the latest: feeling, circulation, infection, foreign body",
          ),
        ],
        because:
          "What the hand team sees by the next working day has an appointment by then, a weekend between them or not.",
        sources: [commonPractice],
      },
      {
        id: "EXV-3",
        when: { boneLesion: "yes" },
        then: [visit("clinic", "hand or tumour clinic", routine, "Bone lesion: what it is, MRI if in doubt; splint")],
        because: "A fracture through a lesion is lost from sight once the pain is gone.",
        sources: [cite("RAMOS18", "C", "abstract"), commonPractice],
      },
      {
        id: "EXV-4",
        when: { mechanism: "no-adequate-trauma", coldPointPainBlueSpot: "yes" },
        then: [visit("clinic", "hand clinic", routine, "Glomus tumour? MRI")],
        because: "A glomus tumour goes undiagnosed for years unless somebody looks for it.",
        sources: [fromMemory],
      },
      {
        id: "EXV-5",
        when: { mechanism: "burn-or-frostbite" },
        then: [visit("clinic", "burns service", sameDay, "Depth of the burn or frostbite, dressing, cover")],
        because: "The burns service takes over the same day.",
        sources: [commonPractice],
      },
    ],
  };
};

/** Position after a dislocation is put back. Apart from the exits: it holds back no urgency. */
export const afterReduction = (_policy: SitePolicy): HandTable => {
  const { degrees } = DISLOCATION_SPLINT;
  const how = (position: string): readonly Effect[] => [
    {
      kind: "today",
      topic: "reduction",
      say: `Once reduced and filmed again: splint with ${position}.`,
    },
  ];
  return {
    id: "EX5",
    question: "In which position is the joint held once it is reduced?",
    answers: "every",
    rules: [
      {
        id: "EX5e",
        when: { jointDislocated: "yes-not-yet-reduced", dislocationDirection: "dorsal" },
        then: how(`the end joint bent ${degrees.from}-${degrees.to}°`),
        because: "After a dorsal dislocation the torn volar plate heals while the joint is a little bent.",
        sources: [cite("AAFP22", "G", "abstract")],
      },
      {
        id: "EX5f",
        when: { jointDislocated: "yes-not-yet-reduced", dislocationDirection: "volar" },
        then: how("the end joint straight"),
        because: "After a volar dislocation the torn extensor heals while the joint is straight.",
        sources: [cite("AAFP22", "G", "abstract")],
      },
    ],
  };
};

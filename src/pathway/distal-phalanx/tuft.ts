import { against, cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { DISLOCATION_SPLINT } from "../hand/index.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { type Table, table } from "../reasoning/table.ts";
import { manage, task, today, warn } from "./effects-in-short.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

const { degrees, weeks } = DISLOCATION_SPLINT;
/** A joint that is back in place and left to a splint. */
const held = { reducedDislocation: "yes", surgeonTakesOver: "no", jerseySuspected: "no" } as const;

const NOT_HERE: readonly Effect[] = [
  manage("must-refer", "Not repaired here: cap over the moist dressing; the hand team washes out and repairs."),
];

/** Tuft, and the finger whose film shows no fracture: the soft tissue leads. */
export const tuftTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "tuft",
    question: "How is this tuft treated?",
    answers: "every",
    rules: [
      {
        id: "TUF-1",
        when: {
          isolatedTuft: "yes",
          openFracture: "no",
          nailToExplore: "no",
          surgeonTakesOver: "no",
          jointDislocated: "no",
          jerseySuspected: "no",
        },
        then: [manage("non-operative", "Cap for comfort; no operation.")],
        because: "Nail and pulp septa splint the tuft.",
        sources: [cite("SCHN88", "C"), cite("EATON", "C"), cite("AAFP22", "C")],
      },
      {
        id: "TUF-11",
        when: {
          isolatedTuft: "yes",
          openFracture: "no",
          nailToExplore: "yes",
          surgeonTakesOver: "no",
          jointDislocated: "no",
          jerseySuspected: "no",
        },
        then: [manage("options", "Nail to lift: a torn bed under it makes this an open fracture; repair, then cap.")],
        because: "A torn-out or bleeding nail margin hides the bed.",
        sources: [cite("RCH-FT", "C"), commonPractice],
      },
      {
        id: "TUF-2",
        when: {
          isolatedTuft: "yes",
          openFracture: "yes",
          closureWaits: "no",
          blockForbidden: "no",
          jerseySuspected: "no",
        },
        then: [
          manage(
            "non-operative",
            "Wash, repair nail bed and skin loosely, cap; wire only if still unstable after repair, out at 3 to 4 weeks.",
          ),
        ],
        because: "Repaired soft tissue holds the pieces.",
        sources: [cite("AO-D", "C"), cite("ANESKEY", "C"), { ...fromMemory, at: "wire 3 to 4 weeks" }],
      },
      {
        id: "TUF-14",
        when: {
          isolatedTuft: "yes",
          openFracture: "yes",
          surgeonTakesOver: "no",
          closureWaits: "yes",
          jerseySuspected: "no",
        },
        then: NOT_HERE,
        because: "A wound that is still to be explored, or holds something or germs, is not closed over it.",
        sources: [commonPractice],
      },
      {
        id: "TUF-15",
        when: {
          isolatedTuft: "yes",
          openFracture: "yes",
          closureWaits: "no",
          blockForbidden: "yes",
          jerseySuspected: "no",
        },
        then: NOT_HERE,
        because: "A thorough wash-out and a repair need a numb finger.",
        sources: [commonPractice],
      },
      {
        id: "TUF-3",
        when: { tuft: "yes", displaced: "yes" },
        then: [manage("discuss", "Large displaced piece: does it tent the nail bed? Then reduce and repair.")],
        because: "A piece under the nail bed deforms the nail.",
        sources: [cite("SCHN88", "C"), commonPractice],
      },
      {
        id: "TUF-4",
        when: { tuft: "yes", fracturePattern: "comminuted" },
        then: [
          warn(
            "A tuft often unites by scar only (19 of 143 not united at a year, none needed surgery): leave it if painless.",
          ),
        ],
        because: "The line on the film says little about the tip.",
        sources: [cite("NONUN23", "B"), cite("CLINADV", "C"), cite("ELCERR", "C", "graft only if painful")],
      },
      {
        id: "TUF-5",
        when: { noFracture: "yes", surgeonTakesOver: "no" },
        then: [
          manage("non-operative", "Treat the soft tissue; protect for comfort."),
          task("Film again (or MRI or CT) in 10 to 14 days if suspicion stays."),
        ],
        because: "A fracture may show only later.",
        sources: [cite("ACR19", "G"), against("AAFP22", "C", "three views at the start")],
      },
      {
        id: "TUF-6",
        when: { reducedDislocation: "yes" },
        then: [
          today("imaging", "Film after the reduction, true lateral too: is the joint congruent, is anything broken?"),
        ],
        because: "Fragments and joint can only be judged once the joint is back in place.",
        sources: [cite("HS2", "G", "draft, item 10"), cite("AAFP22", "C")],
      },
      {
        id: "TUF-12",
        when: { ...held, dislocationDirection: "dorsal" },
        assume: { column: "dislocationDirection", say: "Direction not known. If the tip went to the back:" },
        then: [
          manage(
            "non-operative",
            `Splint ${weeks.from} to ${weeks.to} weeks, end joint bent ${degrees.from} to ${degrees.to} degrees; then motion.`,
          ),
        ],
        because: "The torn volar plate heals while the joint is a little bent.",
        sources: [cite("AAFP22", "C")],
      },
      {
        id: "TUF-13",
        when: { ...held, dislocationDirection: "volar" },
        assume: { column: "dislocationDirection", say: "Direction not known. If the tip went to the palm:" },
        then: [manage("non-operative", `Splint ${weeks.from} to ${weeks.to} weeks, end joint straight; then motion.`)],
        because: "The torn extensor heals while the joint is straight.",
        sources: [cite("AAFP22", "C")],
      },
      {
        id: "TUF-8",
        when: { tendonUncleared: "yes", surgeonTakesOver: "no" },
        then: [
          manage(
            "discuss",
            "No fracture seen, but a tendon is not cleared: protect the finger until it is tested again.",
          ),
        ],
        because: "A torn tendon needs no fracture.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "TUF-10",
        when: {
          onLateral: "yes",
          fractureSite: ["tuft", "no-fracture-seen"],
          jointPosition: ["volar-subluxed", "dorsal-subluxed"],
        },
        then: [manage("discuss", "Slipped joint: discuss with the hand surgeon.")],
        because: "A slipped joint needs a reason and a plan of its own.",
        sources: [commonPractice],
      },
      {
        id: "TUF-9",
        when: {
          surgeonTakesOver: "yes",
          seymourSuspect: "no",
          openPhysealFracture: "no",
          malletEquivalentCorD: "no",
          openMallet: "no",
        },
        then: [
          manage(
            "must-refer",
            "Wound or nail for the surgeon: cover it moist, splint, leave the repair to the hand team.",
          ),
        ],
        because: "What a surgeon takes over today is not repaired twice.",
        sources: [cite("HS2", "G", "draft"), cite("RCH-FT", "C"), commonPractice],
      },
    ],
  });

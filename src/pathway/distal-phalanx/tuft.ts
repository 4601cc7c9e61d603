import { against, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { type Table, table } from "../reasoning/table.ts";
import { manage, task, warn } from "./effects-in-short.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

/** Tuft, and the finger whose film shows no fracture: the soft tissue leads. */
export const tuftTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "tuft",
    question: "How is this tuft treated?",
    answers: "every",
    rules: [
      {
        id: "TUF-1",
        when: { isolatedTuft: "yes", openFracture: "no" },
        then: [manage("non-operative", "Cap for comfort; no operation.")],
        because: "Nail and pulp septa splint the tuft.",
        sources: [cite("SCHN88", "C"), cite("EATON", "C"), cite("AAFP22", "C")],
      },
      {
        id: "TUF-2",
        when: { isolatedTuft: "yes", openFracture: "yes" },
        then: [
          manage(
            "non-operative",
            "Wash, repair nail bed and skin loosely, cap; wire only if still unstable after repair.",
          ),
        ],
        because: "Repaired soft tissue holds the pieces.",
        sources: [cite("AO-D", "C"), cite("ANESKEY", "C")],
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
        when: { noFracture: "yes" },
        then: [
          manage("non-operative", "Treat the soft tissue; protect for comfort."),
          task("Film again (or MRI or CT) in 10 to 14 days if suspicion stays."),
        ],
        because: "A fracture may show only later.",
        sources: [cite("ACR19", "G"), against("AAFP22", "C", "three views at the start")],
      },
    ],
  });

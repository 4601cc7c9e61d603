import { against, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { type Table, table } from "../reasoning/table.ts";
import { manage } from "./effects-in-short.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

/** Base broken on both sides, in its centre, or with a volar chip. "Always fixed" is not supported. */
export const combinedBaseTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "combined-base",
    question: "How is this base fracture treated?",
    answers: "every",
    rules: [
      {
        id: "CMB-1",
        // With a type V avulsion the flexor's own line says it.
        when: { combinedBase: "yes", jointDisplaced: "yes", jersey: "no" },
        then: [manage("operative", "Fixation (plate, screw or wire) by a hand surgeon; warn of a poor result.")],
        because: "Displaced, it leaves a stiff and uneven joint; 5 of 6 operated ended poorly all the same.",
        sources: [cite("VIENNA24", "B")],
      },
      {
        id: "CMB-6",
        when: { combinedBase: "yes", jointDisplaced: "yes", jerseyAlone: "yes" },
        then: [
          manage("operative", "Joint first (plate, screw or wire), then the flexor tendon; warn of a poor result."),
        ],
        because: "A tendon cannot be fixed to a base that moves.",
        sources: [cite("VIENNA24", "B"), cite("CH35", "C")],
      },
      {
        id: "CMB-2",
        when: {
          combinedBase: "yes",
          jointDisplaced: "no",
          jersey: "no",
          jerseySuspected: "no",
          surgeonTakesOver: "no",
          physealInjury: "no",
        },
        then: [manage("non-operative", "Splint 4 to 6 weeks with films; no need to fix every one.")],
        because: "31 of 44 hardly displaced injuries did well without an operation.",
        sources: [cite("VIENNA24", "B"), against("CH35", "C", "fix the joint first")],
      },
      {
        id: "CMB-3",
        when: { pilonBase: "yes", jointDisplaced: "yes" },
        then: [manage("must-refer", "Impacted or split joint, out of place: hand surgeon decides on fixation.")],
        because: "A step in the joint stays.",
        sources: [commonPractice],
      },
      {
        id: "CMB-4",
        when: { pilonBase: "yes", jointDisplaced: "no" },
        then: [manage("discuss", "Joint fracture in place: splint and films, discussed with the hand clinic.")],
        because: "It may sink in while it heals.",
        sources: [commonPractice],
      },
      {
        id: "CMB-5",
        when: { volarChip: "yes", surgeonTakesOver: "no", physealInjury: "no" },
        then: [
          manage(
            "non-operative",
            "Volar chip: splint slightly bent, then motion. Test the flexor again at each visit.",
          ),
        ],
        because: "The tendon works, so the chip came from the volar plate.",
        sources: [commonPractice],
      },
    ],
  });

import { cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { ADULT_YEARS } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { type Table, table, under } from "../reasoning/table.ts";
import { task, today, visit } from "./effects-in-short.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

const quality = (blocks: boolean, say: string): Effect => ({ kind: "quality", say, blocks });
const NOT_TESTED_VISIT = [3, 4, 5] as const;
const FROM_NOW = { countFrom: "treatment" } as const;

/** What is missing, not judged or contradictory, and what follows from that. */
export const dataQualityTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const oblique = policyOf(DISTAL_PHALANX_POLICY, policy)["distalPhalanx.obliqueView"] === "ask";
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "data-quality",
    question: "Is what is known good enough to decide?",
    answers: "every",
    rules: [
      {
        id: "DPQ-1",
        when: { ageYears: under(ADULT_YEARS), physis: "cannot-judge" },
        then: [quality(false, "Growth plate not judged: treated as open.")],
        because: "Under 18 a growth plate that cannot be judged counts as open.",
        sources: [commonPractice],
      },
      {
        id: "DPQ-2",
        when: { activeFlexion: "cannot-test" },
        then: [
          quality(false, "Bending of the tip is not tested; that is not normal."),
          task(
            "Test the deep flexor again: once the pain is numbed (feeling first; block only if nothing speaks against it) or on day 3 to 5.",
          ),
          visit(
            "clinic",
            "emergency or hand clinic",
            NOT_TESTED_VISIT,
            "Deep flexor test that pain prevented",
            FROM_NOW,
          ),
        ],
        because: "A flexor that could not be tested may be torn.",
        sources: [cite("BACH17", "C"), cite("ANESKEY-DB", "C", "examine before the block"), commonPractice],
      },
      {
        id: "DPQ-3",
        when: { activeExtension: "cannot-test" },
        then: [
          quality(false, "Straightening of the tip is not tested; that is not normal."),
          task(
            "Test straightening again: once the pain is numbed (feeling first; block only if nothing speaks against it) or on day 3 to 5.",
          ),
          visit("clinic", "emergency or hand clinic", NOT_TESTED_VISIT, "Extension test that pain prevented", FROM_NOW),
        ],
        because: "An extensor that could not be tested may be torn.",
        sources: [cite("BACH17", "C"), commonPractice],
      },
      {
        id: "DPQ-9",
        // A piece of bone that the tendon pulled off leaves nothing to test again.
        when: { activeFlexion: "weak", fdpLoss: "no" },
        assume: { column: "fdpLoss", say: "Unless a film shows that the tendon pulled its bone off:" },
        then: [
          quality(false, "Bending of the tip is weak or painful; that is not normal."),
          task(
            "Test the deep flexor again: once the pain is numbed (feeling first; block only if nothing speaks against it) or on day 3 to 5; ultrasound if still weak.",
          ),
          visit("clinic", "emergency or hand clinic", NOT_TESTED_VISIT, "Deep flexor test that was weak", FROM_NOW),
        ],
        because: "A weak flexor may be partly torn.",
        sources: [cite("BACH17", "C", "ultrasound"), commonPractice],
      },
      {
        id: "DPQ-13",
        when: { haematoma: ["under-quarter", "quarter-to-half", "over-half"], nailPlate: "split" },
        assume: { column: "nailPlate", say: "Nail margin not judged, cannot decide whether to drain or to lift." },
        then: [quality(false, "The margin of the nail decides, not the size of the blood.")],
        because: "Under a torn margin the bed is inspected, under a whole one the blood is only drained.",
        sources: [cite("ROSER99", "B"), cite("SEABERG91", "B"), cite("RCH-FT", "C")],
      },
      {
        id: "DPQ-4",
        when: { lateralMissing: "yes" },
        then: [quality(true, "Stop: no class without a true lateral.")],
        because: "Share, slip and the growth plate can only be judged on a true lateral.",
        sources: [cite("AO-T", "C"), cite("HSS147", "C", "posterior-anterior view can look normal")],
      },
      {
        id: "DPQ-5",
        when: { filmTaken: "yes", trueLateral: "not-taken" },
        then: [
          quality(false, "The true lateral is missing."),
          today("imaging", "Ask for a true lateral of this digit alone, other fingers out of the way."),
        ],
        because: "Each finger fracture needs two planes.",
        sources: [cite("AAFP22", "C"), cite("AO-T", "C")],
      },
      {
        id: "DPQ-6",
        when: { filmTaken: "no" },
        then: [
          quality(true, "No film yet: no class."),
          today("imaging", `Film of this digit: posterior-anterior and true lateral${oblique ? ", oblique too" : ""}.`),
        ],
        because: "A film of the hurt part is the first imaging.",
        sources: [cite("ACR19", "G"), cite("AAFP22", "C")],
      },
    ],
  });
};

/** Answers that cannot both be true. */
export const contradictionTable = (): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "contradiction",
    question: "Do the answers fit together?",
    answers: "every",
    rules: [
      {
        id: "DPQ-7",
        when: { displacementDoubtful: "yes" },
        then: [quality(true, '"No displacement" does not fit the measurements: correct one of them.')],
        because: "A measured step, tilt or lost contact is a displacement.",
        sources: [commonPractice],
      },
      {
        id: "DPQ-8",
        when: { filmTaken: "yes", fractureSite: "physis", physisOpen: "no" },
        then: [
          quality(true, "Growth plate fracture with a closed growth plate or an adult: correct age, plate or site."),
        ],
        because: "A closed growth plate cannot break.",
        sources: [commonPractice],
      },
      {
        id: "DPQ-10",
        when: { activeExtension: "full", passiveExtension: "blocked" },
        then: [quality(true, "The tip straightens by itself but not when pushed: correct one of them.")],
        because: "What the patient straightens can be straightened.",
        sources: [commonPractice],
      },
      {
        id: "DPQ-11",
        when: { onLateral: "yes", fractureSite: "no-fracture-seen", physealInjury: "no", displacement: "seen" },
        then: [quality(true, '"No fracture" does not fit a displacement: correct one of them.')],
        because: "Only a fracture is displaced.",
        sources: [commonPractice],
      },
      {
        id: "DPQ-12",
        when: {
          onLateral: "yes",
          fractureSite: "no-fracture-seen",
          physealInjury: "no",
          jointDislocated: "no",
          activeExtension: ["full", "cannot-test"],
          jointPosition: ["volar-subluxed", "dorsal-subluxed"],
        },
        then: [
          quality(
            true,
            "Slipped joint without fracture, dislocation or droop: look at film and finger again, then correct.",
          ),
        ],
        because: "A joint slips only when bone, tendon or ligament gives way.",
        sources: [commonPractice],
      },
    ],
  });

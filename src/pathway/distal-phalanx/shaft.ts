import { against, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Table, table } from "../reasoning/table.ts";
import { manage, today, warn } from "./effects-in-short.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, moreThan } from "./signs.ts";

/** Shaft and base outside the joint: what is in place is splinted, what is not is reduced and held. */
export const shaftTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const wire = p["distalPhalanx.wireOutDays"];
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "shaft",
    question: "How is this shaft or base fracture treated?",
    answers: "every",
    rules: [
      {
        id: "SHA-1",
        when: { stableShaft: "yes", shaftApart: "no", operationElsewhere: "no" },
        then: [manage("non-operative", "Splint; no fixation.")],
        because: "In place, nail and pulp hold the shaft.",
        sources: [cite("AO-T", "C"), cite("AAFP22", "C"), cite("ORTHONET", "C")],
      },
      {
        id: "SHA-2",
        when: { unstableFracture: "yes" },
        then: [
          manage(
            "must-refer",
            `Hand surgeon: held with one or two wires or crossed 23 G needles if it does not stay in place, out at about ${wire} days.`,
          ),
        ],
        because: "Without contact, or with nail bed in the gap, it does not hold or unite.",
        sources: [
          cite("AO-T", "C"),
          cite("AO-D", "C"),
          cite("NEEDLE20", "B", "60 patients; needles: union within 40 days, 60 against 40 degrees at 6 months"),
          commonPractice,
        ],
      },
      {
        id: "SHA-7",
        when: { unstableFracture: "yes", displaced: "yes" },
        then: [
          today(
            "reduction",
            "If you reduce it: under anaesthesia (finger block only if nothing speaks against it), film again afterwards.",
          ),
        ],
        because: "What is out of place is reduced while it is fresh.",
        sources: [cite("AO-T", "C"), cite("HS2", "G", "film after reduction")],
      },
      {
        id: "SHA-8",
        when: { unstableFracture: "yes", openFracture: "yes" },
        then: [
          manage("must-refer", "Open: wash-out, nail bed out of the gap and repaired; the nail plate is the splint."),
        ],
        because: "Nail bed folded into the gap keeps the bone apart.",
        sources: [cite("AO-D", "C"), cite("AO-T", "C")],
      },
      {
        id: "SHA-9",
        when: {
          unstableFracture: "yes",
          displacement: "seen",
          angulationDegrees: from(p["distalPhalanx.displacedDegrees"]),
          tiltOfTip: "to-palm",
        },
        then: [warn("Tip tilted to the palm, as usual: it is lifted to reduce it, and the splint keeps it straight.")],
        because: "The distal piece typically tilts to the palm.",
        sources: [cite("AO-T", "C"), commonPractice],
      },
      {
        id: "SHA-10",
        when: {
          unstableFracture: "yes",
          displacement: "seen",
          angulationDegrees: from(p["distalPhalanx.displacedDegrees"]),
          tiltOfTip: "to-back",
        },
        then: [warn("Tip tilted to the back, which is unusual: read the lateral again and test both tendons.")],
        because: "The distal piece typically tilts to the palm.",
        sources: [cite("AO-T", "C"), commonPractice],
      },
      {
        id: "SHA-3",
        when: {
          shaft: "yes",
          fracturePattern: "longitudinal",
          displacement: "seen",
          jointStepMm: from(p["distalPhalanx.shaft.jointStepMm"]),
        },
        then: [manage("discuss", "Step in the joint: discuss fixation.")],
        because: "The line enters the joint.",
        sources: [cite("AO-D", "C"), commonPractice],
      },
      {
        id: "SHA-6",
        when: {
          shaft: "yes",
          fracturePattern: "longitudinal",
          displacement: "seen",
          fragmentGapMm: moreThan(p["distalPhalanx.shaft.gapMm"]),
        },
        then: [manage("discuss", "Wide gap along the shaft: discuss screws or wires.")],
        because: "Wide apart, the halves do not join.",
        sources: [cite("AO-D", "C"), commonPractice],
      },
      {
        id: "SHA-4",
        when: { shaft: "yes", fracturePattern: "longitudinal" },
        then: [
          warn(
            "Look at the joint: a longitudinal line may enter it. Long-term outlook is the best of these fractures.",
          ),
        ],
        because: "The step decides, not the line.",
        sources: [
          cite("AO-D", "C"),
          cite("CLINADV", "C", "outlook, from older series"),
          against("CLINADV", "C", "faster healing not shown"),
        ],
      },
      {
        id: "SHA-5",
        when: { baseExtra: "yes" },
        then: [warn("Adult base fracture: test the deep flexor; with a volar fragment it is a type V avulsion.")],
        because: "Extensor and flexor pull the two parts apart.",
        sources: [cite("EORTHO", "C"), cite("VIENNA24", "B")],
      },
    ],
  });
};

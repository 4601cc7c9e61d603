import { against, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Table, table, under } from "../reasoning/table.ts";
import { manage, today, warn } from "./effects-in-short.ts";
import { SHARE } from "./mallet.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

/** Under this age a small splint slips off, and bone too young to show may hide an epiphysis (common practice; EPIDISL05). */
const SMALL_CHILD_YEARS = 5;

/** Injuries at an open growth plate. */
export const seymourTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "growth-plate",
    question: "How is this growth plate injury treated?",
    answers: "every",
    rules: [
      {
        id: "SEY-1",
        when: { seymour: "yes" },
        then: [
          manage(
            "operative",
            "Open reduction: plate off, fold lifted, nail root out of the gap, nail bed repaired with fine absorbable thread; plate back under the fold as a splint, or left off.",
          ),
          today("nail", "Do not just push the nail back: the root of the nail bed sits in the fracture."),
        ],
        because: "Tissue in the gap blocks reduction and keeps the bone open.",
        sources: [
          cite("JBJSEST25", "C"),
          cite("CHINSEY", "C"),
          cite("ANNPLAST22", "C", "plate under the fold as a splint"),
          cite("KRUSCHE13", "C"),
        ],
      },
      {
        id: "SEY-2",
        when: { seymour: "yes" },
        then: [manage("options", `Wire only if unstable; out at ${p["distalPhalanx.seymour.wireOutDays"]} days.`)],
        because: "Some hold without a wire, and a wire may harm the plate; what does not hold is wired.",
        sources: [
          cite("SFNOPIN", "C", "12 over a day old held without a wire, 1 superficial infection"),
          cite("CHINSEY", "C", "wire out at 4 weeks"),
          commonPractice,
          against(
            "HOULDEN22",
            "B",
            "abstract, 8 weak studies: with a wire fewer infections, slips and bent tips, but more growth plate trouble",
          ),
        ],
      },
      {
        id: "SEY-3",
        when: { seymourSuspect: "yes", seymour: "no" },
        then: [manage("must-refer", "Injured nail root or fold: surgeon inspects the fold and nail bed today.")],
        because: "In a child an injured fold is a Seymour fracture until plate and tip are cleared.",
        sources: [cite("OBSEY", "C"), cite("HSS147", "C")],
      },
      {
        id: "SEY-4",
        when: { seymourPatternClosed: "yes" },
        then: [today("examination", "A senior inspects the whole nail fold, with the nail lifted if in doubt.")],
        because: "The closed pattern and the open one look alike from outside.",
        sources: [cite("OBSEY", "C"), commonPractice],
      },
      {
        id: "SEY-16",
        when: { seymourPatternClosed: "yes", flexorInDoubt: "no" },
        then: [manage("discuss", "If truly closed: reduce if tilted, extension splint, film again.")],
        because: "A tilted plate is reduced while it is fresh.",
        sources: [cite("YEH09", "C"), commonPractice],
      },
      {
        id: "SEY-5",
        when: { physealClosed: "yes", operationElsewhere: "no", displacement: "none-seen", physisDisplaced: "no" },
        then: [manage("non-operative", "Extension splint, film again.")],
        because: "In place it heals within 3 to 4 weeks.",
        sources: [cite("YEH09", "C"), commonPractice],
      },
      {
        id: "SEY-6",
        when: { physealClosed: "yes", operationElsewhere: "no", displacement: "seen", physisDisplaced: "no" },
        then: [manage("non-operative", "Extension splint, film again.")],
        because: "Slight tilt near the plate grows straight.",
        sources: [cite("YEH09", "C"), commonPractice],
      },
      {
        id: "SEY-7",
        when: { physealClosed: "yes", physisDisplaced: "yes" },
        then: [
          manage("must-refer", "Displaced: reduction, and a wire if it does not stay."),
          today(
            "reduction",
            "If you reduce it: under anaesthesia (finger block only if nothing speaks against it), film again afterwards.",
          ),
        ],
        because: "More than a growth plate corrects: a step, lost contact, a marked tilt, or any twist.",
        sources: [cite("YEH09", "C"), cite("HS2", "G", "film after reduction"), commonPractice],
      },
      {
        id: "SEY-15",
        when: { physealClosed: "yes", activeExtension: "cannot-test" },
        then: [today("examination", "Drooping cannot be excluded: a senior looks at the whole nail fold today.")],
        because: "With a drooping tip this would be the pattern of an open growth plate fracture.",
        sources: [cite("OBSEY", "C"), commonPractice],
      },
      {
        id: "SEY-8",
        when: {
          malletEquivalentB: "yes",
          openPhysealFracture: "no",
          operationElsewhere: "no",
          jointPosition: "congruent",
          jointDisplaced: "no",
          articularSharePercent: under(SHARE.third),
        },
        then: [manage("non-operative", "Extension splint 4 to 6 weeks, film again.")],
        because: "Congruent joint, small gap.",
        sources: [cite("EPIDISL05", "C"), cite("SHIII22", "C")],
      },
      {
        id: "SEY-9",
        when: { malletEquivalentB: "yes", jointDisplaced: "yes" },
        then: [manage("must-refer", "Displaced or slipped: hand surgeon, small wires clear of the plate.")],
        because: "A step in joint and plate stays.",
        sources: [cite("EPIDISL05", "C"), cite("SHIII22", "C")],
      },
      {
        id: "SEY-10",
        when: { malletEquivalentB: "yes", articularSharePercent: from(SHARE.third) },
        then: [manage("must-refer", "A third of the joint or more: hand surgeon.")],
        because: "A large piece of the epiphysis leaves the joint unstable.",
        sources: [cite("EPIDISL05", "C")],
      },
      {
        id: "SEY-11",
        when: { malletEquivalentB: "yes", openPhysealFracture: "yes" },
        then: [manage("operative", "Open: wash-out and fixation by the hand surgeon today.")],
        because: "The wound reaches plate and joint.",
        sources: [cite("KIELY22", "B"), cite("EPIDISL05", "C")],
      },
      {
        id: "SEY-12",
        when: { malletEquivalentCorD: "yes" },
        then: [manage("operative", "Turned epiphysis: open reduction the same day.")],
        because: "It cannot be turned back closed.",
        sources: [cite("EPIDISL05", "C")],
      },
      {
        id: "SEY-13",
        when: { possiblePhyseal: "yes", operationElsewhere: "no" },
        then: [manage("non-operative", "Splint now, film again in 10 to 14 days, growth check later.")],
        because: "A hidden or crushed plate shows itself only with time.",
        sources: [cite("ACR19", "G")],
      },
      {
        id: "SEY-14",
        when: { physisOpen: "yes", ageYears: under(SMALL_CHILD_YEARS) },
        then: [
          warn(
            "Small child: glove or mitten cast, knuckles bent and fingers straight, short splints come off; the epiphysis may not show on film yet.",
          ),
        ],
        because: "Toddlers lose splints and have cartilage where the film shows nothing.",
        sources: [cite("EPIDISL05", "C"), commonPractice],
      },
    ],
  });
};

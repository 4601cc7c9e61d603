import { against, type Citation, cite, commonPractice } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import { ADULT_YEARS } from "../hand/index.ts";
import { policyOf, type SitePolicy } from "../policy/policy-value.ts";
import { from, type Row, type Rule, type Table, table, under } from "../reasoning/table.ts";
import { today } from "./effects-in-short.ts";
import { DISTAL_PHALANX_POLICY } from "./policy.ts";
import { type DistalPhalanxFacts, moreThan } from "./signs.ts";

const BLOOD = ["under-quarter", "quarter-to-half", "over-half"] as const;
/** Heard in the trade; two small studies saw no infection without it. */
const SHORT_COURSE: Citation = {
  source: "COMMON-PRACTICE",
  at: "short antibiotic course after draining",
  says: "against",
  strength: "CP",
};
/** Heard in the trade; published are 18 to 20 G. */
const THIN_NEEDLE: Citation = {
  source: "COMMON-PRACTICE",
  at: "24 or 29 G needle: in no text read",
  says: "against",
  strength: "CP",
};
const SEATED = ["intact-seated", "loose-distally"] as const;
const blood = { haematoma: BLOOD, nailPlate: SEATED, bloodAtNailFold: "no" } as const;
/** A torn bed is repaired, its blood neither drained nor left. */
const drained = { ...blood, nailBedTorn: "no" } as const;

/** Blood under the nail, nail plate and nail bed, whoever treats them. The nail margin decides, not the size of the haematoma. */
export const nailTable = (policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const p = policyOf(DISTAL_PHALANX_POLICY, policy);
  const hours = p["distalPhalanx.trephineHours"];
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "nail",
    question: "What is done with the nail today?",
    answers: "every",
    rules: [
      {
        id: "SH-3",
        when: { ...blood, haematomaPainful: "yes", hoursSinceInjury: moreThan(hours) },
        then: [today("haematoma", `Over ${hours} hours old: clotted, draining seldom helps.`)],
        because: "Clotted blood does not run out.",
        sources: [cite("MEEK98", "C"), commonPractice],
      },
      {
        id: "SH-4",
        when: { nailToExplore: "yes", seymourSuspect: "no" },
        then: [
          today("nail", "Nail torn, lifted or split at its margin: not only drained, it is lifted to inspect the bed."),
        ],
        because: "A broken margin means a torn bed that must be seen.",
        sources: [cite("RCH-FT", "C"), cite("ORTHONET", "C"), cite("AO-T", "C")],
      },
      {
        id: "SH-5",
        when: { ...blood, displaced: "yes" },
        then: [today("haematoma", "Displaced fracture under the nail: do not only drain, consider exploring.")],
        because: "The bed is torn over a displaced fracture.",
        sources: [cite("AO-T", "C")],
      },
      {
        id: "SH-6",
        when: { ...blood, physisOpen: "yes", onLateral: "no" },
        then: [today("haematoma", "Open growth plate: do not only drain, look at the true lateral first.")],
        because: "Blood under a child's nail may come from the plate.",
        sources: [cite("REYES17", "C")],
      },
      {
        id: "SH-11",
        when: { ...blood, physealInjury: "yes", onLateral: "yes" },
        then: [today("haematoma", "Growth plate hurt: do not only drain, inspect the nail fold, consider exploring.")],
        because: "Blood under a child's nail may come from the plate.",
        sources: [cite("REYES17", "C")],
      },
      {
        id: "NB-2",
        when: { nailBedComplex: "yes" },
        then: [today("nail", "Complex nail bed tear: leave the repair to the hand or plastic surgeon today.")],
        because: "Root, star-shaped and crushed tears deform the nail for good.",
        sources: [cite("RCH-FT", "C"), cite("HS2", "G", "draft")],
      },
      {
        id: "NB-5",
        when: { nailBedTorn: "yes", unstableFracture: "yes" },
        then: [
          today("nail", "After the surgeon's repair the nail plate goes back under the fold: it splints the fracture."),
        ],
        because: "The plate helps to hold the reduction.",
        sources: [cite("AO-D", "C"), cite("AO-T", "C"), against("NINJA23", "A", "not needed for the nail itself")],
      },
      {
        id: "NB-6",
        // A torn bed under it is seen only with the plate off.
        when: { nailPlate: "loose-distally", bloodAtNailFold: "no", nailBedTorn: "no" },
        then: [today("nail", "Nail loose at the tip only: leave it in place.")],
        because: "The fold still holds it.",
        sources: [cite("PEM-TXT", "C")],
      },
    ],
  });
};

/** What is done with the nail on the spot; silent once an exit leaves the ordinary pathway, and without a way to numb the finger. */
export const nailHereTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  /** By which tool is told apart by `immuneCompromise` and `acrylicNail`. */
  const drain = (
    id: string,
    when: Row<DistalPhalanxFacts>,
    say: string,
    because: string,
    sources: readonly [Citation, ...Citation[]],
  ): Rule<DistalPhalanxFacts, readonly Effect[]> => ({
    id,
    when: { haematomaDrained: "yes", ...when },
    then: [today("haematoma", say)],
    because,
    sources,
  });
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "nail-here",
    question: "What is done with the nail here?",
    answers: "every",
    rules: [
      drain(
        "SH-1",
        { immuneCompromise: "no", acrylicNail: "no" },
        "Clean the nail, no alcohol where there is a flame. Drain through it, whatever the size: needle twist 18 to 20 G, cautery or hot wire; one or two holes, big enough to stay open. Mostly without anaesthetic. No antibiotic for that.",
        "With an intact margin draining ends as well as lifting the nail, fracture or not, in children too.",
        [
          cite("SEABERG91", "B"),
          cite("ROSER99", "B", "children; nail removal cost four times as much"),
          cite("MEEK98", "C"),
          cite("AO-T", "C", "hot wire"),
          cite("OBGYN-NT", "C", "needle twist; alcohol burns"),
          cite("BB603", "C", "no infection in either study"),
          cite("STEV03", "A", "trial with drained blood over a fracture: antibiotic gained nothing"),
          SHORT_COURSE,
          THIN_NEEDLE,
          against(
            "EJPS22",
            "B",
            "no consensus; older teaching lifts the nail above 25 or 50 %, torn beds in up to 94 %",
          ),
        ],
      ),
      {
        id: "SH-2",
        when: { ...drained, haematomaPainful: "no", displaced: "no" },
        then: [today("haematoma", "Painless blood under the nail: leave it.")],
        because: "Those only watched ended the same.",
        sources: [cite("ROSER99", "B")],
      },
      drain(
        "SH-7",
        { immuneCompromise: "yes" },
        "Weak defence: drain through the nail with a sterile needle only, no flame or cautery.",
        "Burnt tissue and a weak defence invite infection.",
        [cite("OBGYN-NT", "C")],
      ),
      drain(
        "SH-8",
        { immuneCompromise: "no", acrylicNail: "yes" },
        "Artificial nail: drain through it with a sterile needle only, it catches fire. No antibiotic for that.",
        "Acrylic burns.",
        [cite("OBGYN-NT", "C")],
      ),
      {
        id: "SH-9",
        when: { nailToExplore: "yes", operationElsewhere: "no", closureWaits: "no", blockForbidden: "no" },
        then: [today("nail", "Lift or remove the nail here, wash, and repair what is torn.")],
        because: "Without a displaced bone or a complex tear this needs no surgeon.",
        sources: [cite("RCH-FT", "C"), cite("ORTHONET", "C")],
      },
      {
        id: "NB-1",
        when: { nailBed: "simple", closureWaits: "no", blockForbidden: "no" },
        then: [today("nail", "Simple nail bed cut: repair it here with 6-0 or 7-0 absorbable thread or tissue glue.")],
        because: "Glue and thread gave the same nail.",
        sources: [cite("NAIL-EMD", "A"), cite("PEM-TXT", "C")],
      },
      {
        id: "NB-3",
        when: { nailBedTorn: "yes", closureWaits: "no", blockForbidden: "no", ageYears: under(ADULT_YEARS) },
        then: [today("nail", "After the repair the nail plate may be thrown away.")],
        because: "Same infection and same looks in 451 children, and cheaper.",
        sources: [cite("NINJA23", "A")],
      },
      {
        id: "NB-4",
        when: { nailBedTorn: "yes", closureWaits: "no", blockForbidden: "no", ageYears: from(ADULT_YEARS) },
        then: [today("nail", "Nail plate: put back or not, it makes no difference.")],
        because: "Severity decided the result in 64 injuries, not the plate.",
        sources: [cite("OSH90", "C")],
      },
      {
        id: "SH-10",
        when: { nailToExplore: "yes", operationElsewhere: "no", blockForbidden: "yes" },
        then: [today("nail", "No finger block here: the hand team decides today how the nail is lifted and repaired.")],
        because: "A nail is not lifted without anaesthesia.",
        sources: [commonPractice],
      },
      {
        id: "NB-7",
        when: { nailBedTorn: "yes", surgeonTakesOver: "no", nailToExplore: "no", blockForbidden: "yes" },
        then: [today("nail", "No finger block here: the hand team decides today how the nail bed is repaired.")],
        because: "A nail bed is not repaired without anaesthesia.",
        sources: [commonPractice],
      },
    ],
  });
};

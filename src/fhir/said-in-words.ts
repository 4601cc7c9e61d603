import { type ConceptShape, conceptWords } from "./shapes.ts";

/**
 * Words of an entry that touch a finding. They never answer it, neither yes nor no: they only keep it from being waved through with a quick
 * answer, so a match too many costs one press and a match too few costs a question. Substance and disease names: from memory.
 */
export interface BearingWords {
  readonly [finding: string]: RegExp;
}
const ANTICOAGULANTS = [
  "warfarin|coumadin|acenocoumarol|phenprocoumon|phenindione|fluindione",
  "apixaban|rivaroxaban|edoxaban|betrixaban|dabigatran|argatroban|bivalirudin",
  "heparin|enoxaparin|dalteparin|tinzaparin|nadroparin|certoparin|fondaparinux|danaparoid",
  "anti-?coagula",
];
const ANTIPLATELETS = [
  "clopidogrel|prasugrel|ticagrelor|ticlopidine|cangrelor|dipyridamole|cilostazol|vorapaxar",
  "aspirin|acetylsalicylic|anti-?platelet",
];
const IMMUNOSUPPRESSANTS = [
  "prednisolone|prednisone|methylprednisolone|dexamethasone|betamethasone|hydrocortisone|cortisone|deflazacort|budesonide",
  "methotrexate|azathioprine|mercaptopurine|mycophenol|leflunomide|teriflunomide|c[iy]closporin|tacrolimus|sirolimus|everolimus",
  "cyclophosphamide|hydroxyurea|hydroxycarbamide|capecitabine|chemotherapy|immunosuppress",
  "adalimumab|infliximab|etanercept|certolizumab|golimumab|rituximab|ocrelizumab|tocilizumab|sarilumab|abatacept|anakinra",
  "ustekinumab|secukinumab|ixekizumab|vedolizumab|natalizumab|alemtuzumab|belimumab|basiliximab|belatacept",
  "tofacitinib|baricitinib|upadacitinib|filgotinib|ruxolitinib|fingolimod|siponimod",
];
const any = (...names: readonly string[]): RegExp => new RegExp(names.join("|"), "i");

export const MEDICINE_WORDS: BearingWords = {
  bleedingTendency: any(...ANTICOAGULANTS, ...ANTIPLATELETS),
  immuneCompromise: any(...IMMUNOSUPPRESSANTS),
};
export const CONDITION_WORDS: BearingWords = {
  diabetes: any("diabet"),
  bleedingTendency: any(
    ...ANTICOAGULANTS,
    "h(a)?emophili|von willebrand|thrombocytop|coagulopath|bleeding (disorder|tendency)|atrial fibrillation",
    "(mechanical|prosthetic|artificial) (heart )?valve|pulmonary embol|deep vein thromb|thrombophili",
  ),
  immuneCompromise: any(
    "immun(e|o)[ -]?(deficien|compromis|suppress)|\\bhiv\\b|\\baids\\b|transplant|leuk(a)?emia|lymphoma|myeloma|asplen|splenectomy",
    "neutropeni|chemotherapy|long[- ]term steroid",
  ),
  arterialDisease: any("peripheral (arterial|artery|vascular)|claudication|\\bpad\\b|buerger|thromboangiitis"),
  vasospasm: any("raynaud|scleroderma|systemic sclerosis|vasospas"),
  pregnant: any("pregnan"),
  smoker: any("smok|tobacco|nicotine"),
  liverOrHeartDisease: any(
    "cirrhosis|liver (disease|failure)|hepatic|heart (failure|block)|cardiac failure|arrhythmia",
  ),
};

/** Findings that the words of a concept touch: its text and every display, whatever the code system. */
export function bearingOf(concept: ConceptShape | undefined, words: BearingWords, more = ""): string[] {
  const said = [conceptWords(concept), ...(concept?.coding ?? []).map((c) => c.display), more]
    .filter(Boolean)
    .join(" ");
  return Object.entries(words).flatMap(([finding, pattern]) => (pattern.test(said) ? [finding] : []));
}

/**
 * What a diagnosis code turns on, in the words of the classification. Each fact is one of a few values; "not-stated" goes back as a question,
 * "undetermined" is the answer of a clinician who cannot say: it is coded like "not-stated" and is not asked again.
 */
const fact = <const V extends readonly string[]>(words: string, ...values: V) => ({
  words,
  values: [...values, "not-stated", "undetermined"] as readonly (V[number] | "not-stated" | "undetermined")[],
});
const yesNo = (words: string) => fact(words, "yes", "no");
const HURT_TENDON = ["strain", "laceration", "other", "unspecified", "none"] as const;

/** Facts of one injured digit. */
export const DIGIT_FACTS = {
  digit: fact("digit", "thumb", "index", "middle", "ring", "little"),
  side: fact("side", "right", "left"),
  fracture: fact("fracture of the distal phalanx", "confirmed", "not-confirmed", "none"),
  /** "in-question": a finding speaks against an ordinary injury and nobody has said what broke the bone. */
  fractureCause: fact(
    "cause of the fracture",
    "traumatic",
    "osteoporosis-age-related",
    "osteoporosis-other",
    "benign-tumour",
    "other-disease",
    "stress",
    "in-question",
  ),
  displacement: fact("position of the fragments", "displaced", "not-displaced"),
  openness: fact("open or closed", "open", "closed"),
  healing: fact("healing", "routine", "delayed", "nonunion", "malunion"),
  wound: fact(
    "skin wound",
    "laceration",
    "laceration-foreign-body",
    "puncture",
    "puncture-foreign-body",
    "bite",
    "unspecified",
    "none",
  ),
  nail: fact("nail", "damaged", "intact"),
  contusion: yesNo("contusion"),
  crush: fact("crushing injury", "diagnosed", "none"),
  amputation: fact("amputation", "complete", "partial", "extent-not-stated", "none"),
  amputationLevel: fact("level of the amputation", "through-phalanx", "knuckle"),
  extensorTendon: fact("extensor tendon", ...HURT_TENDON),
  flexorTendon: fact("flexor tendon", ...HURT_TENDON),
  nerve: fact("digital nerve", "injured", "none"),
  vessel: fact("digital vessel", "laceration", "other", "unspecified", "none"),
  dislocation: fact("dislocation of the end joint", "dislocated", "none"),
  infection: fact("infection", "cellulitis", "osteomyelitis", "none"),
  wireInfection: yesNo("infection of a wire"),
  retained: fact(
    "material that remains",
    "metal",
    "magnetic-metal",
    "nonmagnetic-metal",
    "plastic",
    "wood",
    "glass",
    "none",
  ),
  oldMallet: yesNo("old or fixed mallet deformity"),
  nailDystrophy: yesNo("nail dystrophy"),
  otherNailDisorder: yesNo("other nail disorder"),
  stiffness: yesNo("stiffness"),
  physealArrest: yesNo("arrest of the growth plate"),
  /** The clinician's own word on which injury weighs most. */
  mostSerious: yesNo("most serious injury"),
} as const;

/** Facts of the encounter, the same for every digit. `phase` "active": active treatment, whoever gives it and however late. */
export const ENCOUNTER_FACTS = {
  phase: fact("phase of treatment", "active", "healing", "sequela"),
  first: yesNo("first encounter for this injury"),
  reason: fact("reason for the encounter", "injury", "infection"),
  immunised: yesNo("vaccine given at this encounter"),
} as const;

type ValuesOf<D extends { readonly [f: string]: { readonly values: readonly string[] } }> = {
  readonly [F in keyof D]: D[F]["values"][number];
};
export type DigitFacts = ValuesOf<typeof DIGIT_FACTS>;
export type EncounterFacts = ValuesOf<typeof ENCOUNTER_FACTS>;
/** What a rule of one digit reads. */
export type Facts = DigitFacts & EncounterFacts;
export type FactName = keyof Facts;
export const FACTS = { ...DIGIT_FACTS, ...ENCOUNTER_FACTS } as const;

/** Every fact not stated: where a record says nothing. */
export const NOTHING_STATED = Object.fromEntries(
  Object.keys(FACTS).map((name) => [name, "not-stated"]),
) as unknown as Facts;

/** How an accident happened, as stems of chapter 20 of the edition: "W23.2", "Y92.59", "Y93.67", "Y99.0". Absent: not recorded. */
export interface Circumstances {
  readonly causes?: readonly string[];
  readonly place?: string;
  readonly activity?: string;
  readonly status?: string;
  /** A vehicle's door, and nobody has said whether the vehicle was in use for transport: no cause is coded. */
  readonly vehicleDoor?: "use-not-stated";
}

/**
 * Several objects as one; of a name that several have, the last one's value stands. For what is made anew for each record of a population: in V8
 * (Node 20) an object spread that goes on with further names gives each object a hidden class of its own, in the old generation, where only a
 * full collection frees it. That was most of the memory that an export took.
 */
export function merged<T extends object>(...parts: readonly object[]): T {
  return Object.assign({}, ...parts);
}

/** A fact is coded as if not stated when nobody can determine it. */
export function asCoded(facts: Facts): Facts {
  const names = Object.keys(facts) as FactName[];
  const unsure = names.filter((name) => facts[name] === "undetermined");
  if (unsure.length === 0) return facts;
  return merged<Facts>(facts, Object.fromEntries(unsure.map((name) => [name, "not-stated"])));
}

/** A row holds when each of its facts has one of the row's values. */
export type FactRow = { readonly [F in FactName]?: Facts[F] | readonly Facts[F][] };
type Cells = readonly (readonly [FactName, readonly string[]])[];
/** Rows are read for every record of a population: their cells are sorted out once. */
const cellsOfRows = new WeakMap<FactRow, Cells>();
const cellsOf = (row: FactRow): Cells => {
  let cells = cellsOfRows.get(row);
  if (!cells) {
    cells = Object.entries(row).map(([name, wanted]) => [name as FactName, ([] as string[]).concat(wanted)]);
    cellsOfRows.set(row, cells);
  }
  return cells;
};
export const holds = (row: FactRow, facts: Facts): boolean =>
  cellsOf(row).every(([name, wanted]) => wanted.includes(facts[name]));

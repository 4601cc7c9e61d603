import { type Answers, type CaseRecord, isAbsent, type Facts as Signs, type UsedFinding } from "../pathway/index.ts";
import { type Circumstances, type DigitFacts, type EncounterFacts, merged } from "./facts.ts";

/** One injured digit as the clinician confirmed it, with what the rules derived: its classes and signs. */
export interface ConfirmedDigit {
  readonly answers: Answers;
  readonly classes: readonly { readonly class: string; readonly name: string }[];
  readonly signs: Signs;
}
/** Where a fact comes from. */
export interface Origin {
  readonly used: readonly UsedFinding[];
  /** Said where the fact was not answered as such but follows from other answers. */
  readonly because?: string;
}
/** What stands in the record and asks for a diagnosis nobody has stated; each is a reason for a query. */
export type Signal =
  | "wound"
  | "crushMechanism"
  | "tissueLoss"
  | "extensorLoss"
  | "flexorLoss"
  | "feelingLost"
  | "boneDisease"
  | "noForce"
  | "foreignBody"
  | "infection"
  | "oldOrNew";
export interface ReadDigit {
  readonly facts: { readonly [F in keyof DigitFacts]?: DigitFacts[F] };
  readonly origins: { readonly [F in keyof DigitFacts]?: Origin };
  readonly signals: { readonly [S in Signal]?: readonly UsedFinding[] };
}

const known = (value: unknown): boolean => value !== undefined && !isAbsent(value);
const MEASURED = ["translationMm", "angulationDegrees", "fragmentGapMm", "jointStepMm"] as const;
const SLIPPED = ["volar-subluxed", "dorsal-subluxed"] as const;

/** Displaced when seen or measured apart; not displaced when looked for and not seen, or every measured distance is zero; else not stated. No threshold: a coder's word, not a treatment rule. */
export function displacedOf(digit: Answers): "yes" | "no" | "unknown" {
  const measured = MEASURED.flatMap((f) => (typeof digit[f] === "number" ? [digit[f]] : []));
  if (
    digit.displacement === "seen" ||
    measured.some((n) => n > 0) ||
    digit.corticalContact === "none" ||
    (SLIPPED as readonly unknown[]).includes(digit.jointPosition)
  )
    return "yes";
  return measured.length > 0 || digit.displacement === "none-seen" ? "no" : "unknown";
}
/** Answers that say the fracture is closed, with or without a wound that does not reach it. */
const CLOSED = ["closed", "skin-cut", "skin-burst-or-flap"];
/** Classes that are open injuries by their definition (Seymour 1966; Doyle 1993). */
const OPEN_CLASSES = ["SEYMOUR", "DOYLE-II", "DOYLE-III"];
export const COUNTED_OPEN = "Counted as open";
/**
 * Open when the clinician says so, when the class is an open injury by definition, or when the rules find an opening in other answers (blood
 * at the nail fold, an avulsed nail). Closed only when answered closed and nothing speaks against it.
 */
export function openOf(
  digit: Answers,
  classes: ConfirmedDigit["classes"] = [],
  signs: Signs = {},
): { readonly open: "yes" | "no" | "unknown"; readonly why?: string } {
  if (digit.openness === "open-nail-bed" || digit.openness === "open-skin") return { open: "yes" };
  const open = classes.find((c) => OPEN_CLASSES.includes(c.class));
  if (open) return { open: "yes", why: `${COUNTED_OPEN}: the class ${open.name} is an open injury.` };
  if (signs.openFracture === "yes") return { open: "yes", why: `${COUNTED_OPEN}: other answers show an opening.` };
  const settled = digit.openness === "uncertain" ? digit.opennessOnSecondLook : digit.openness;
  return { open: CLOSED.includes(String(settled)) ? "no" : "unknown" };
}
/** A fracture the clinician saw on a film: uncertain ones are never coded (ICD-10-CM guideline IV.H on uncertain diagnosis). */
export const fractureSeen = (digit: Answers): boolean =>
  known(digit.fractureSite) && digit.fractureSite !== "no-fracture-seen" && digit.filmTaken !== "no";

/** Columns are findings of digit and injury, "class:NAME" and "sign:name" (each "yes"); a list in a cell is "or". */
type FindingRow = { readonly [column: string]: string | readonly string[] };
interface Reading<F extends keyof DigitFacts = keyof DigitFacts> {
  readonly fact: F;
  readonly value: DigitFacts[F];
  readonly when: FindingRow;
  readonly because?: string;
}
const reads = <F extends keyof DigitFacts>(
  fact: F,
  value: DigitFacts[F],
  when: FindingRow,
  because?: string,
): Reading => ({ fact, value, when, ...(because ? { because } : {}) }) as Reading;

const OFF = ["amputation-replantable", "amputation-not-replantable"];
const BITES = ["human-bite", "cat-bite", "dog-bite", "other-animal-bite"];
const TORN_BED = ["simple", "stellate", "crushed-or-avulsed", "germinal-matrix"];
const SEEN_BED = ["not-seen", "intact"];
const TORN_PLATE = ["avulsed-at-fold", "missing", "over-fold", "split"];
const BLOOD = ["under-quarter", "quarter-to-half", "over-half"];
const SKIN_OPEN = ["skin-cut", "skin-burst-or-flap", "open-skin"];
const BROKEN = [
  "tuft",
  "shaft",
  "base-extra-articular",
  "base-dorsal",
  "base-volar",
  "base-both-sides",
  "base-central",
  "physis",
];
const ORDINARY_FORCE = [
  "crush",
  "axial-load",
  "forced-flexion",
  "forced-extension",
  "laceration",
  "saw",
  ...BITES,
  "high-pressure-injection",
  "fall",
];

/** How confirmed findings become facts of the classification: per fact the first row that holds; none: not stated. */
export const READINGS: readonly Reading[] = [
  ...(["thumb", "index", "middle", "ring", "little"] as const).map((d) => reads("digit", d, { digit: d })),
  ...(["right", "left"] as const).map((s) => reads("side", s, { side: s })),
  reads("fracture", "not-confirmed", { filmTaken: "no" }, "No film was taken."),
  reads("fracture", "confirmed", { fractureSite: BROKEN }),
  reads("fracture", "none", { fractureSite: "no-fracture-seen" }),
  reads("fracture", "not-confirmed", { fractureSite: "cannot-tell" }, "The film could not be judged."),
  reads(
    "fractureCause",
    "in-question",
    { boneLesion: "yes" },
    "The bone looks diseased: nobody has said what broke it.",
  ),
  reads("fractureCause", "traumatic", { mechanism: ORDINARY_FORCE }),
  reads("displacement", "undetermined", { displacement: "cannot-tell" }),
  reads("openness", "undetermined", { openness: "uncertain", opennessOnSecondLook: "cannot-tell" }),
  reads("wound", "bite", { mechanism: BITES, biteBloodDrawn: "yes" }),
  reads("wound", "laceration-foreign-body", { openness: "skin-cut", foreignBody: "yes" }),
  reads("wound", "laceration", { openness: "skin-cut" }),
  reads("wound", "laceration", { openness: "open-skin", mechanism: ["laceration", "saw"] }),
  reads("wound", "laceration", { nailBed: ["simple", "stellate"] }, "A cut nail bed is a laceration."),
  reads("wound", "unspecified", { openness: ["skin-burst-or-flap", "open-skin", "open-nail-bed"] }),
  reads("wound", "unspecified", { nailBed: ["crushed-or-avulsed", "germinal-matrix"] }),
  reads("wound", "unspecified", { tissueLoss: ["pulp-small", "pulp-large", "bone-exposed"] }),
  reads("wound", "none", { openness: "closed" }),
  reads("nail", "damaged", { nailBed: TORN_BED }),
  reads("nail", "damaged", { nailPlate: TORN_PLATE }),
  reads("nail", "damaged", { haematoma: BLOOD }),
  reads("nail", "damaged", { openness: "open-nail-bed" }),
  reads("nail", "intact", { nailPlate: "intact-seated", nailBed: SEEN_BED, haematoma: "none" }),
  reads("contusion", "yes", { haematoma: BLOOD }),
  reads("amputation", "extent-not-stated", { tissueLoss: OFF }),
  reads("amputation", "none", { tissueLoss: ["none", "pulp-small", "pulp-large"] }),
  reads(
    "amputationLevel",
    "through-phalanx",
    { tissueLoss: OFF, fractureSite: BROKEN },
    "The distal phalanx itself is broken.",
  ),
  reads("extensorTendon", "laceration", { "class:DOYLE-II": "yes", "class:TENDINOUS-MALLET": "yes" }),
  reads("extensorTendon", "laceration", { "class:DOYLE-III": "yes", "class:TENDINOUS-MALLET": "yes" }),
  reads("extensorTendon", "strain", { "class:TENDINOUS-MALLET": "yes" }, "A tendinous mallet is a rupture."),
  reads("extensorTendon", "none", { activeExtension: "full" }),
  reads("flexorTendon", "strain", { "class:LEDDY-IV": "yes" }, "The tendon is off its fragment: a rupture."),
  reads(
    "flexorTendon",
    "strain",
    {
      "class:JERSEY": "yes",
      fractureSite: ["no-fracture-seen", "tuft", "shaft", "base-extra-articular", "base-dorsal"],
    },
    "An avulsion without its piece of bone is a rupture.",
  ),
  reads("flexorTendon", "none", { activeFlexion: "present" }),
  reads("nerve", "none", { sensation: "normal" }),
  reads("vessel", "laceration", { devitalised: "artery-cut" }),
  reads("vessel", "none", { devitalised: "no" }),
  reads("dislocation", "dislocated", { jointDislocated: ["yes-not-yet-reduced", "reduced", "irreducible"] }),
  reads("dislocation", "none", { jointDislocated: "no" }),
  reads("infection", "none", { infectionSigns: "none" }),
  reads("retained", "none", { foreignBody: "no" }),
];
/** What a record shows and no diagnosis names; a query quotes these findings. */
export const SIGNALS: readonly { readonly signal: Signal; readonly when: FindingRow }[] = [
  { signal: "wound", when: { openness: [...SKIN_OPEN, "open-nail-bed", "uncertain"] } },
  { signal: "wound", when: { nailBed: TORN_BED } },
  { signal: "wound", when: { nailPlate: TORN_PLATE } },
  { signal: "wound", when: { bloodAtNailFold: "yes" } },
  { signal: "wound", when: { woundOverJoint: ["cut", "skin-and-tendon-lost"] } },
  { signal: "crushMechanism", when: { mechanism: "crush" } },
  { signal: "tissueLoss", when: { tissueLoss: ["bone-exposed", ...OFF] } },
  {
    signal: "extensorLoss",
    when: { activeExtension: "lag", fractureSite: BROKEN.filter((s) => !/dorsal|both|physis/.test(s)) },
  },
  { signal: "extensorLoss", when: { activeExtension: "lag", fractureSite: "no-fracture-seen" } },
  { signal: "extensorLoss", when: { woundOverJoint: "skin-and-tendon-lost" } },
  { signal: "flexorLoss", when: { activeFlexion: ["absent", "weak"] } },
  { signal: "feelingLost", when: { sensation: ["reduced-radial", "reduced-ulnar", "absent"] } },
  { signal: "boneDisease", when: { boneLesion: "yes" } },
  { signal: "boneDisease", when: { lysisOrPeriostealReaction: "yes" } },
  { signal: "noForce", when: { mechanism: "no-adequate-trauma" } },
  { signal: "foreignBody", when: { foreignBody: "yes" } },
  { signal: "infection", when: { infectionSigns: ["local", "spreading", "tense-pulp-or-discharge"] } },
  { signal: "infection", when: { sheathSigns: "yes" } },
  { signal: "oldOrNew", when: { activeExtension: "lag", hoursSinceInjury: "cannot-tell" } },
];

const fits = (when: FindingRow, record: Signs): boolean =>
  Object.entries(when).every(([column, wanted]) => ([] as unknown[]).concat(wanted).includes(record[column]));
const usedIn = (when: FindingRow, record: Signs): UsedFinding[] =>
  Object.keys(when).map((finding) => ({ finding, value: record[finding]! }));
const answered = (digit: Answers, ...findings: readonly string[]): UsedFinding[] =>
  findings.flatMap((finding) => (known(digit[finding]) ? [{ finding, value: digit[finding]! }] : []));

const DISPLACEMENT = { yes: "displaced", no: "not-displaced" } as const;
const OPENNESS = { yes: "open", no: "closed" } as const;
const SHOWS_OPENING = [
  "openness",
  "opennessOnSecondLook",
  "bloodAtNailFold",
  "nailPlate",
  "nailBed",
  "woundOverJoint",
  "tissueLoss",
];

/** Facts of one digit from its confirmed findings, each with the findings it rests on; what is not answered stays away. */
export function readDigit(digit: ConfirmedDigit, injury: Answers): ReadDigit {
  const { answers, classes, signs } = digit;
  const record = merged<Signs>(injury, answers, Object.fromEntries(classes.map((c) => [`class:${c.class}`, "yes"])));
  const facts: { [fact: string]: string } = {};
  const origins: { [fact: string]: Origin } = {};
  const set = (fact: string, value: string, used: readonly UsedFinding[], because?: string) => {
    facts[fact] = value;
    origins[fact] = { used, ...(because ? { because } : {}) };
  };
  const displaced = displacedOf(answers);
  if (displaced !== "unknown")
    set(
      "displacement",
      DISPLACEMENT[displaced],
      answered(answers, "displacement", ...MEASURED, "corticalContact", "jointPosition"),
    );
  const { open, why } = openOf(answers, classes, signs);
  if (open !== "unknown") set("openness", OPENNESS[open], answered(answers, ...SHOWS_OPENING), why);
  for (const { fact, value, when, because } of READINGS)
    if (facts[fact] === undefined && fits(when, record)) set(fact, value, usedIn(when, record), because);
  const signals: { [S in Signal]?: UsedFinding[] } = {};
  for (const { signal, when } of SIGNALS) {
    if (!fits(when, record)) continue;
    const before = signals[signal] ?? [];
    const more = usedIn(when, record).filter((u) => !before.some((b) => b.finding === u.finding));
    signals[signal] = [...before, ...more];
  }
  return { facts, origins, signals };
}

/** A human bite is left out: the finding also means a fist on teeth, and the intent is not recorded. */
const CAUSE_OF: { readonly [mechanism: string]: string } = { "dog-bite": "W54.0", "cat-bite": "W55.01" };
const PAID_WORK = "Y99.0";
/** What findings say of the accident: only bites and paid work are told finely enough for a code of chapter 20. */
export function readAccident({ injury }: Pick<CaseRecord, "injury">): {
  readonly first?: EncounterFacts["first"];
  readonly circumstances: Circumstances;
  readonly used: { readonly [part: string]: readonly UsedFinding[] };
} {
  const cause = CAUSE_OF[String(injury.mechanism)];
  const work = injury.workRelated === "yes";
  const first = { first: "yes", again: "no", "again-worse": "no" }[String(injury.presentation)] as
    | "yes"
    | "no"
    | undefined;
  return {
    ...(first ? { first } : {}),
    circumstances: { ...(cause ? { causes: [cause] } : {}), ...(work ? { status: PAID_WORK } : {}) },
    used: {
      ...(cause ? { causes: answered(injury, "mechanism") } : {}),
      ...(work ? { status: answered(injury, "workRelated") } : {}),
      ...(first ? { first: answered(injury, "presentation") } : {}),
    },
  };
}

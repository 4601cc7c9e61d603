import { cite, commonPractice, fromMemory } from "../evidence/citation.ts";
import type { Effect } from "../hand/effects.ts";
import type { ClassDescription } from "../module.ts";
import type { SitePolicy } from "../policy/policy-value.ts";
import { type Row, type Rule, type Table, table } from "../reasoning/table.ts";
import { JERSEY_NAMES } from "./jersey.ts";
import { MALLET_NAMES } from "./mallet.ts";
import type { DistalPhalanxFacts } from "./signs.ts";

const ONE_LINE = ["simple", "transverse", "oblique", "longitudinal"] as const;
const DIGITS = ["thumb", "index", "middle", "ring", "little"] as const;

interface AoType {
  readonly type: string;
  readonly when: readonly Row<DistalPhalanxFacts>[];
  /** Numbers of the digits it is said for, thumb 1 to little finger 5. */
  readonly digits: readonly number[];
  readonly sources: Rule<unknown, unknown>["sources"];
  readonly because?: string;
}
const THUMB = [1];
const FINGERS = [2, 3, 4, 5];
const EVERY_DIGIT = [...THUMB, ...FINGERS];
const READ = [cite("AO-D", "C")] as const;
const REMEMBERED = [fromMemory, cite("DIFFIND", "C", "older scheme, do not mix")] as const;
/** Of fingers, shaft and tuft are one place. */
const shaftOrTuft = { filmTaken: "yes", fractureSite: ["tuft", "shaft"] } as const;
const shaftOnly = { filmTaken: "yes", fractureSite: "shaft" } as const;
const tuftOnly = { filmTaken: "yes", fractureSite: "tuft" } as const;
const PATTERNS = { A: ONE_LINE, B: "wedge", C: "comminuted" } as const;
const AO_TYPES: readonly AoType[] = [
  { type: "1A", digits: EVERY_DIGIT, when: [{ baseExtra: "yes" }], sources: REMEMBERED },
  {
    type: "1B",
    digits: EVERY_DIGIT,
    when: [{ malletBony: "yes" }, { onLateral: "yes", fractureSite: "base-volar", restOfPhalanx: "intact" }],
    sources: REMEMBERED,
    because: "Suggested from digit, place and pattern; some code an avulsion 1A (from memory).",
  },
  { type: "1C", digits: EVERY_DIGIT, when: [{ pilonBase: "yes" }, { combinedBase: "yes" }], sources: REMEMBERED },
  ...(["A", "B", "C"] as const).flatMap((letter): AoType[] => {
    const fracturePattern = PATTERNS[letter];
    return [
      { type: `2${letter}`, digits: FINGERS, when: [{ ...shaftOrTuft, fracturePattern }], sources: READ },
      { type: `2${letter}`, digits: THUMB, when: [{ ...shaftOnly, fracturePattern }], sources: REMEMBERED },
      { type: `3${letter}`, digits: THUMB, when: [{ ...tuftOnly, fracturePattern }], sources: REMEMBERED },
    ];
  }),
];
const aoCode = (digit: number, type: string) => `78.${digit}.3.${type}`;
const aoClass = (digit: number, type: string) => `AO-${aoCode(digit, type)}`;

const shaft = { shaft: "yes" } as const;
const SHORT = ["simple", "transverse", "oblique"] as const;

/** What the injury is called. Each label that holds is given: a tuft fracture with a torn nail bed carries both. */
export const classTable = (_policy: SitePolicy): Table<DistalPhalanxFacts, readonly Effect[]> => {
  const is = (
    id: string,
    name: string,
    when: Row<DistalPhalanxFacts>,
    because: string,
    ...sources: Rule<unknown, unknown>["sources"]
  ): Rule<DistalPhalanxFacts, readonly Effect[]> => ({
    id,
    when,
    then: [{ kind: "class", class: name }],
    because,
    sources,
  });
  return table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "class",
    question: "What is this injury called?",
    answers: "every",
    rules: [
      is(
        "CLS-1",
        "SEYMOUR",
        { seymour: "yes" },
        "Open growth plate, injured nail root or skin, and a physeal line or a drooping tip make a Seymour fracture.",
        cite("OBSEY", "C"),
        cite("REYES17", "C"),
        cite("KRUSCHE13", "C"),
      ),
      is(
        "CLS-2",
        "SEYMOUR-PATTERN-CLOSED",
        { seymourPatternClosed: "yes" },
        "The tip droops over a physeal line and the nail fold looks closed.",
        cite("OBSEY", "C"),
      ),
      is(
        "CLS-3",
        "PHYSEAL-CLOSED",
        { physealClosed: "yes", activeExtension: "full" },
        "A physeal line with a closed nail fold and no droop.",
        cite("AO-T", "C"),
        cite("UWRAD", "C"),
        cite("FRCEM", "C"),
      ),
      is(
        "CLS-22",
        "PHYSEAL-CLOSED",
        { physealClosed: "yes", activeExtension: "cannot-test" },
        "A physeal line with a closed nail fold; pain kept a droop from being looked for.",
        cite("AO-T", "C"),
        cite("UWRAD", "C"),
      ),
      ...(["I", "II", "III", "IV", "V"] as const).map((salterHarris, n) =>
        is(
          `CLS-SH-${n + 1}`,
          `SALTER-HARRIS-${salterHarris}`,
          { physisOpen: "yes", filmTaken: "yes", salterHarris },
          "Read on the film.",
          cite("UWRAD", "C"),
          cite("FRCEM", "C"),
          cite("AO-T", "C", "II: a tiny dorsal metaphyseal triangle"),
        ),
      ),
      is(
        "CLS-4",
        "MALLET-EQUIVALENT-B",
        { malletEquivalentB: "yes" },
        "The extensor pulled off a piece of the epiphysis.",
        cite("EPIDISL05", "C"),
        cite("SHIII22", "C"),
      ),
      is(
        "CLS-5",
        "MALLET-EQUIVALENT-C",
        { physisOpen: "yes", epiphysisTurned: "turned-tendon-attached" },
        "The whole epiphysis turned out with the tendon on it.",
        cite("EPIDISL05", "C"),
      ),
      is(
        "CLS-6",
        "MALLET-EQUIVALENT-D",
        { physisOpen: "yes", epiphysisTurned: "separated-tendon-avulsed" },
        "The epiphysis came off and the tendon tore from it.",
        cite("EPIDISL05", "C"),
      ),
      is(
        "CLS-7",
        "POSSIBLE-PHYSEAL",
        { possiblePhyseal: "yes" },
        "A growth plate can be hurt although the film shows nothing.",
        cite("ACR19", "G", "repeat films"),
        cite("UWRAD", "C"),
      ),
      is(
        "CLS-8",
        "JERSEY",
        { jersey: "yes" },
        "A lost or weak deep flexor after a pull or blow is a tendon avulsion, however benign the film looks.",
        cite("TRUMBLE92", "C"),
        cite("BACH17", "C"),
      ),
      is(
        "CLS-9",
        "VOLAR-CHIP",
        { volarChip: "yes" },
        "A volar flake with a working flexor is a chip of the volar plate.",
        commonPractice,
      ),
      is(
        "CLS-10",
        "COMBINED-BASE",
        { combinedBase: "yes" },
        "Both sides of the base are broken, or the phalanx beside a volar avulsion.",
        cite("VIENNA24", "B"),
      ),
      is(
        "CLS-11",
        "PILON-BASE",
        { pilonBase: "yes" },
        "The centre of the joint surface is impacted or split.",
        commonPractice,
      ),
      is(
        "CLS-12",
        "MALLET",
        { malletBony: "yes" },
        "A dorsal lip fragment on a true lateral.",
        cite("BACH17", "C", "table 1"),
      ),
      is(
        "CLS-13",
        "TENDINOUS-MALLET",
        { tendinousMallet: "yes" },
        "The tip droops and no fragment explains it.",
        cite("BACH17", "C", "table 1"),
      ),
      is(
        "CLS-14",
        "SHAFT-T0",
        { ...shaft, fracturePattern: SHORT, unstableFracture: "no" },
        "A transverse or short oblique line, hardly displaced.",
        cite("AO-T", "C"),
      ),
      is(
        "CLS-15",
        "SHAFT-T1",
        { ...shaft, fracturePattern: SHORT, unstableFracture: "yes" },
        "Displaced, out of contact, or nail bed in the gap.",
        cite("AO-D", "C"),
        cite("AO-T", "C"),
      ),
      is(
        "CLS-16",
        "SHAFT-L",
        { ...shaft, fracturePattern: "longitudinal" },
        "The line runs along the shaft and may reach the joint.",
        cite("AO-D", "C"),
      ),
      is(
        "CLS-17",
        "SHAFT-C",
        { ...shaft, fracturePattern: ["wedge", "comminuted"] },
        "A wedge or several pieces of the shaft.",
        cite("AO-T", "C"),
        cite("ORTHONET", "C", "older scheme: longitudinal, transverse, comminuted"),
      ),
      is(
        "CLS-18",
        "BASE-X",
        { baseExtra: "yes" },
        "The base is broken without reaching the joint.",
        cite("EORTHO", "C"),
        cite("VIENNA24", "B"),
      ),
      is(
        "CLS-19",
        "TUFT-S",
        { tuft: "yes", fracturePattern: ONE_LINE },
        "One line through the tuft.",
        cite("AO-D", "C"),
        cite("EATON", "C"),
      ),
      is(
        "CLS-20",
        "TUFT-C",
        { tuft: "yes", fracturePattern: ["comminuted", "wedge"] },
        "Three or more pieces of the tuft; the soft tissue leads.",
        cite("AO-D", "C"),
        cite("AO-T", "C"),
      ),
      is(
        "CLS-21",
        "NO-FRACTURE-SEEN",
        { noFracture: "yes" },
        "A true lateral shows no fracture, the joint is in place, and both tendons were tested and work.",
        cite("ACR19", "G"),
      ),
      is(
        "CLS-23",
        "TENDON-NOT-CLEARED",
        { tendonUncleared: "yes" },
        "The film shows no fracture, but a tendon is weak or could not be tested.",
        cite("BACH17", "C"),
        commonPractice,
      ),
      is(
        "CLS-24",
        "DISLOCATION-REDUCED",
        { reducedDislocation: "yes" },
        "The end joint was out and is back; beyond the tuft nothing is broken.",
        cite("AAFP22", "C"),
      ),
    ],
  });
};

/** Suggested AO/OTA codes; none in children, where the scheme does not cover the hand. */
export const aoTable = (): Table<DistalPhalanxFacts, readonly Effect[]> =>
  table<DistalPhalanxFacts>()<readonly Effect[]>({
    id: "ao-code",
    question: "Which AO/OTA code fits?",
    answers: "every",
    rules: AO_TYPES.flatMap(({ type, when, digits, sources, because }) =>
      digits.flatMap((digit) =>
        when.map(
          (row, n): Rule<DistalPhalanxFacts, readonly Effect[]> => ({
            id: `AO-${type}${n ? "B" : ""}-${digit}`,
            when: { digit: DIGITS[digit - 1]!, physisOpen: "no", ...row },
            then: [{ kind: "class", class: aoClass(digit, type) }],
            because: because ?? "Suggested from digit, place and pattern.",
            sources,
          }),
        ),
      ),
    ),
  });

/** What a letter of the AO/OTA scheme stands for; end segment types from memory. */
const AO_MEANING: { readonly [type: string]: string } = {
  "1A": "Proximal end, outside the joint",
  "1B": "Proximal end, part of the joint surface",
  "1C": "Proximal end, whole joint surface",
  "2A": "Shaft (of a finger also the tuft), simple",
  "2B": "Shaft (of a finger also the tuft), wedge",
  "2C": "Shaft (of a finger also the tuft), several pieces",
  "3A": "Tuft, simple",
  "3B": "Tuft, wedge",
  "3C": "Tuft, several pieces",
};
/** Salter-Harris types (UWRAD, FRCEM; own words), with what they look like in the end bone (AO-T). */
const SALTER_HARRIS = {
  I: "Through the growth plate only",
  II: "Through the growth plate and out through the metaphysis, here a tiny dorsal triangle",
  III: "Through the growth plate and out through the epiphysis into the joint",
  IV: "Through metaphysis, growth plate and epiphysis",
  V: "Growth plate crushed, suspected",
} as const;
const d = (name: string, definition: string): ClassDescription => ({ name, definition });

/** Names and definitions of the classes; those with a `scheme` are published names given beside a class. */
export const CLASSES: { readonly [id: string]: ClassDescription } = {
  SEYMOUR: d("Seymour fracture", "Open fracture at the growth plate with an injured nail bed, root or skin"),
  "SEYMOUR-PATTERN-CLOSED": d("Seymour pattern, closed", "Drooping physeal fracture under a closed nail fold"),
  "PHYSEAL-CLOSED": d("Closed physeal fracture", "Salter-Harris I, II or juxta-epiphyseal, skin and nail fold closed"),
  "MALLET-EQUIVALENT-B": d("Mallet-equivalent, type B", "Dorsal Salter-Harris III or IV of the epiphysis"),
  "MALLET-EQUIVALENT-C": d("Mallet-equivalent, type C", "Epiphysis turned out, tendon attached"),
  "MALLET-EQUIVALENT-D": d("Mallet-equivalent, type D", "Epiphysis separated, tendon torn off"),
  "POSSIBLE-PHYSEAL": d(
    "Possible growth plate injury",
    "Open plate and injury signs, but no line on the film; or Salter-Harris V suspected",
  ),
  JERSEY: d("Flexor tendon avulsion (jersey finger)", "Deep flexor torn from the distal phalanx, with or without bone"),
  "VOLAR-CHIP": d("Volar chip", "Volar flake of the base with a working deep flexor"),
  "COMBINED-BASE": d("Combined base fracture", "Dorsal and volar base, or volar avulsion with a broken phalanx"),
  "PILON-BASE": d("Pilon fracture of the base", "Central impaction or split of the joint surface"),
  MALLET: d("Bony mallet", "Dorsal lip fracture of the base"),
  "TENDINOUS-MALLET": d("Tendinous mallet", "Extensor lag without a fragment"),
  "SHAFT-T0": d("Shaft, transverse, stable", "Transverse or short oblique, not or hardly displaced"),
  "SHAFT-T1": d(
    "Shaft, transverse, unstable",
    "Displaced, angulated, without contact, or open with nail bed in the gap",
  ),
  "SHAFT-L": d("Shaft, longitudinal", "Line along the shaft, may enter the joint"),
  "SHAFT-C": d("Shaft, multifragment", "Wedge or several pieces"),
  "BASE-X": d("Base, extra-articular", "Transverse base outside the joint, growth plate closed"),
  "TUFT-S": d("Tuft, simple", "One line through the tuft"),
  "TUFT-C": d("Tuft, comminuted", "Three or more pieces"),
  "NO-FRACTURE-SEEN": d(
    "No fracture seen",
    "True lateral without fracture, joint in place, both tendons tested and working",
  ),
  "TENDON-NOT-CLEARED": d(
    "No fracture seen, tendon not cleared",
    "True lateral without fracture; flexor or extensor weak or not testable",
  ),
  "DISLOCATION-REDUCED": d("Dislocation of the end joint, reduced", "Joint back in place, no fracture beyond the tuft"),
  ...Object.fromEntries(
    Object.entries(SALTER_HARRIS).map(([type, definition]) => [
      `SALTER-HARRIS-${type}`,
      { name: `Salter-Harris ${type}`, definition, scheme: "Salter and Harris" },
    ]),
  ),
  ...MALLET_NAMES,
  ...JERSEY_NAMES,
  ...Object.fromEntries(
    AO_TYPES.flatMap(({ type, digits }) =>
      digits.map((n) => [
        aoClass(n, type),
        { name: `AO/OTA ${aoCode(n, type)} (suggested)`, definition: AO_MEANING[type]!, scheme: "AO/OTA 2018" },
      ]),
    ),
  ),
};

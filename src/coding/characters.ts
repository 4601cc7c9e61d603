import type { FactName, Facts } from "./facts.ts";
import type { GuidelineId } from "./guideline.ts";

/** One place of a code: which facts decide its character, and what the classification assumes of those that are not stated. */
export interface Characters {
  readonly reads: readonly FactName[];
  /** Undefined: the facts do not allow this place to be filled. */
  readonly of: (facts: Facts) => string | undefined;
  readonly assumes?: { readonly [F in FactName]?: string };
  readonly guideline?: { readonly [F in FactName]?: GuidelineId };
}

type Chosen<F extends FactName> = { readonly [V in Exclude<Facts[F], "undetermined">]?: string };
const by = <F extends FactName>(
  name: F,
  characters: Chosen<F>,
  more: Partial<Pick<Characters, "assumes" | "guideline">> = {},
): Characters => ({
  reads: [name],
  of: (facts) => (characters as { readonly [value: string]: string | undefined })[facts[name]],
  ...more,
});

const FINGERS = ["index", "middle", "ring", "little"] as const;
export const NO_SIDE = "Side not stated.";
const NO_DIGIT = "Digit not stated.";
const SIDED = { assumes: { side: NO_SIDE }, guideline: { side: "SIDE" } } as const;
const NO_EXTENT = "Partial or complete not stated: the classification then counts it as complete.";
const NO_LEVEL = "Level of the amputation not stated: the classification then counts it at the knuckle.";
export const NO_DISPLACEMENT = "Displacement not stated: the classification then counts it as displaced.";
export const NO_OPENNESS = "Open or closed not stated: the classification then counts it as closed.";
const NO_NAIL = "Damage to the nail not stated: counted as none.";
const NO_HEALING = "Healing not stated: counted as routine.";

/** Fingers and sides: right index 0, left index 1, up to left little 7; 8 a named finger of unknown side; 9 no finger named. */
const fingerOf = ({ digit, side }: Facts): string | undefined => {
  const at = (FINGERS as readonly string[]).indexOf(digit);
  if (at < 0) return digit === "not-stated" ? "9" : undefined;
  return side === "not-stated" ? "8" : String(2 * at + (side === "left" ? 1 : 0));
};
const FRACTURE_HEALS = { routine: "D", delayed: "G", nonunion: "K", malunion: "P", "not-stated": "D" } as const;
const healed = ({ healing }: Facts) => FRACTURE_HEALS[healing as keyof typeof FRACTURE_HEALS];

/**
 * The places of ICD-10-CM codes of the finger, by name. Tabular List FY2027: characters of S60 to S68, M20, M80, M84; their meaning is
 * proven word for word against the official descriptions.
 */
export const CHARACTERS = {
  finger: {
    reads: ["digit", "side"],
    of: fingerOf,
    assumes: { side: NO_SIDE, digit: NO_DIGIT },
    guideline: { side: "SPECIFIED_FINGER" },
  },
  /** 1 right, 2 left, 9 not stated: thumbs, and codes that know the side alone. */
  side9: by("side", { right: "1", left: "2", "not-stated": "9" }, SIDED),
  /** 1 right, 2 left, 0 not stated. */
  side0: by("side", { right: "1", left: "2", "not-stated": "0" }, SIDED),
  /** Fingers without their names: 4 right, 5 left, 6 not stated. */
  side456: by("side", { right: "4", left: "5", "not-stated": "6" }, SIDED),
  thumbFracture: {
    reads: ["displacement", "side"],
    of: ({ displacement, side }) =>
      (displacement === "not-displaced"
        ? { right: "4", left: "5", "not-stated": "6" }
        : { right: "1", left: "2", "not-stated": "3" })[side as "right"],
    assumes: { side: NO_SIDE, displacement: NO_DISPLACEMENT },
    guideline: { side: "SIDE", displacement: "DISPLACED" },
  },
  moved: by(
    "displacement",
    { displaced: "3", "not-displaced": "6", "not-stated": "3" },
    { assumes: { displacement: NO_DISPLACEMENT }, guideline: { displacement: "DISPLACED" } },
  ),
  /** Digit of a bruise, thumb 1 to little finger 5. */
  bruised: by("digit", { thumb: "1", index: "2", middle: "3", ring: "4", little: "5" }),
  bruisedNail: by("nail", { damaged: "1", intact: "0", "not-stated": "0" }, { assumes: { nail: NO_NAIL } }),
  thumbNail: by("nail", { damaged: "1", intact: "0", "not-stated": "0" }, { assumes: { nail: NO_NAIL } }),
  fingerNail: by("nail", { damaged: "3", intact: "2", "not-stated": "2" }, { assumes: { nail: NO_NAIL } }),
  wound: by("wound", {
    unspecified: "0",
    laceration: "1",
    "laceration-foreign-body": "2",
    puncture: "3",
    "puncture-foreign-body": "4",
    bite: "5",
  }),
  extensor: by("extensorTendon", { unspecified: "0", strain: "1", laceration: "2", other: "9" }),
  flexor: by("flexorTendon", { unspecified: "0", strain: "1", laceration: "2", other: "9" }),
  vessel: by("vessel", { unspecified: "0", laceration: "1", other: "9" }),
  thumbLevel: by(
    "amputationLevel",
    { "through-phalanx": "5", knuckle: "0", "not-stated": "0" },
    { assumes: { amputationLevel: NO_LEVEL }, guideline: { amputationLevel: "AMPUTATION_LEVEL" } },
  ),
  fingerLevel: by(
    "amputationLevel",
    { "through-phalanx": "6", knuckle: "1", "not-stated": "1" },
    { assumes: { amputationLevel: NO_LEVEL }, guideline: { amputationLevel: "AMPUTATION_LEVEL" } },
  ),
  extent: by(
    "amputation",
    { complete: "1", partial: "2", "extent-not-stated": "1" },
    { guideline: { amputation: "AMPUTATION" } },
  ),
  retained: by("retained", {
    metal: "10",
    "magnetic-metal": "11",
    "nonmagnetic-metal": "12",
    plastic: "2",
    wood: "33",
    glass: "81",
  }),
  /** S62: A closed and B open while treated, D, G, K, P as it heals, S late. */
  fracture7: {
    reads: ["phase", "openness", "healing"],
    of: (facts) => {
      if (facts.phase === "active") return facts.openness === "open" ? "B" : "A";
      return facts.phase === "healing" ? healed(facts) : facts.phase === "sequela" ? "S" : undefined;
    },
    assumes: { openness: NO_OPENNESS, healing: NO_HEALING },
    guideline: { openness: "OPEN" },
  },
  /** M80 and M84: A while treated, D, G, K, P as it heals, S late; no letter for open. */
  bone7: {
    reads: ["phase", "healing"],
    of: (facts) => {
      if (facts.phase === "active") return "A";
      return facts.phase === "healing" ? healed(facts) : facts.phase === "sequela" ? "S" : undefined;
    },
    assumes: { healing: NO_HEALING },
  },
  /** Every other injury, and causes: A while treated, D as it heals, S late. */
  injury7: by("phase", { active: "A", healing: "D", sequela: "S" }),
} as const satisfies { readonly [name: string]: Characters };

/** The extent of an amputation has its own word for "not stated", so its default is said from there. */
export const assumedExtent = (facts: Facts): readonly string[] =>
  facts.amputation === "extent-not-stated" ? [NO_EXTENT] : [];

const PLACE = /\{(\w+)\}/;
/** A pattern taken apart once: text, place, text, place ... */
const patterns = new Map<string, readonly (string | Characters)[]>();
const partsOf = (pattern: string): readonly (string | Characters)[] => {
  let parts = patterns.get(pattern);
  if (!parts) {
    parts = pattern.split(PLACE).map((part, i) => (i % 2 ? CHARACTERS[part as keyof typeof CHARACTERS] : part));
    patterns.set(pattern, parts);
  }
  return parts;
};
/** The places of a pattern such as "S62.6{moved}{finger}{fracture7}". */
export const placesOf = (pattern: string): readonly Characters[] =>
  partsOf(pattern).filter((part): part is Characters => typeof part !== "string");

/** Whether a fact plays a part in a place as the others stand: openness none once a fracture heals, healing none before. */
const plays = (place: Characters, name: FactName, facts: Facts): boolean =>
  name === "openness" && place.reads.includes("phase")
    ? facts.phase === "active"
    : name === "healing"
      ? facts.phase === "healing"
      : !(name === "side" && place.reads.includes("digit") && facts.digit === "not-stated");

export interface Composed {
  readonly code: string;
  readonly defaults: readonly string[];
  readonly guidelines: readonly GuidelineId[];
}
/** The code of a pattern under these facts, with what was assumed; undefined when a place cannot be filled. */
export function compose(pattern: string, facts: Facts): Composed | undefined {
  let code = "";
  for (const part of partsOf(pattern)) {
    const text = typeof part === "string" ? part : part.of(facts);
    if (text === undefined) return undefined;
    code += text;
  }
  const places = placesOf(pattern);
  const read = places.flatMap((place) => place.reads.filter((r) => plays(place, r, facts)).map((r) => ({ place, r })));
  return {
    code,
    defaults: [
      ...new Set(
        read.flatMap(({ place, r }) => (facts[r] === "not-stated" && place.assumes?.[r] ? [place.assumes[r]] : [])),
      ),
      ...(pattern.includes("{extent}") ? assumedExtent(facts) : []),
    ],
    guidelines: [...new Set(read.flatMap(({ place, r }) => deciding(place, r, facts)))],
  };
}
const PHASES = { active: "ACTIVE", healing: "HEALING", sequela: "SEQUELA" } as const;
/** A note on what is not stated decides only then; the phase decides always. */
function deciding(place: Characters, name: FactName, facts: Facts): readonly GuidelineId[] {
  if (name === "phase") return [PHASES[facts.phase as keyof typeof PHASES]];
  const said = place.guideline?.[name];
  return said && /not-stated$/.test(facts[name]) ? [said] : [];
}

import type { Circumstances, EncounterFacts } from "./facts.ts";
import type { GuidelineId } from "./guideline.ts";
import type { CodeTable } from "./tables.ts";

export interface Offered {
  /** Stem of the official table, without seventh character. */
  readonly stem: string;
  /** What a person would say happened; the official description stands beside it. */
  readonly words: string;
}
const o = (stem: string, words: string): Offered => ({ stem, words });

/** Causes that hurt finger tips most, in plain words; any other cause of the table may be named by its stem. */
export const COMMON_CAUSES: readonly Offered[] = [
  o("W23.2", "Caught between something moving and something still: door and frame, drawer, gate and post"),
  o("W23.0", "Caught between two moving things"),
  o("W23.1", "Caught between two things that stood still"),
  o("W20.8", "Something fell on it or was thrown at it: box, brick, tool"),
  o("W21.01", "Football"),
  o("W21.02", "Soccer ball"),
  o("W21.03", "Baseball"),
  o("W21.04", "Golf ball"),
  o("W21.05", "Basketball"),
  o("W21.06", "Volleyball"),
  o("W21.07", "Softball"),
  o("W21.09", "Another ball"),
  o("W22.8", "Struck by or against another object"),
  o("W22.09", "Struck against something that stood still"),
  o("W25", "Sharp glass"),
  o("W26.0", "Knife"),
  o("W27.0", "Workbench tool without power: axe, chisel, handsaw, screwdriver"),
  o("W27.1", "Garden tool without power"),
  o("W27.8", "Another hand tool without power"),
  o("W28", "Powered lawn mower"),
  o("W29.0", "Powered kitchen appliance"),
  o("W29.2", "Another powered household machine"),
  o("W29.3", "Powered garden tool"),
  o("W29.4", "Nail gun"),
  o("W29.8", "Another powered hand tool"),
  o("W30.89", "Farm machine"),
  o("W31.1", "Metalworking machine: press, lathe"),
  o("W31.2", "Woodworking machine: band saw, bench saw, circular saw"),
  o("W31.82", "Commercial machine"),
  o("W31.83", "Construction vehicle, parked"),
  o("W31.89", "Another machine"),
  o("W31.9", "A machine that nobody named"),
  o("W45.3", "Fishing hook"),
  o("W50.0", "Hit by a person, not on purpose"),
  o("W50.3", "Bitten by a person, not on purpose"),
  o("W54.0", "Bitten by a dog"),
  o("W55.01", "Bitten by a cat"),
  o("X58", "The cause is known and fits none of these"),
];
/** "Unspecified" stems are never given for a fact that is missing (I.C.20.b, c, k). */
export const NEVER_GIVEN: readonly string[] = ["Y92.9", "Y93.9", "Y99.9"];

/** Causes that the Tabular List does not let stand beside others: W23 beside its Excludes1 causes, and the like. */
export interface CauseExclusion {
  readonly leavesOut: string;
  readonly beside: readonly string[];
  readonly printed: { readonly at: string; readonly text: string };
}
const yields = (leavesOut: string, at: string, text: string, ...beside: readonly string[]): CauseExclusion => ({
  leavesOut,
  beside,
  printed: { at, text },
});
export const CAUSE_EXCLUSIONS: readonly CauseExclusion[] = [
  yields("W23", "W23", "injury caused by cutting or piercing instruments (W25-W27)", "W25", "W26", "W27"),
  yields("W23", "W23", "injury caused by lifting and transmission devices (W24.-)", "W24"),
  yields("W23", "W23", "injury caused by machinery (W28-W31)", "W28", "W29", "W30", "W31"),
  yields("W23", "W23", "injury caused by struck by thrown, projected or falling object (W20.-)", "W20"),
  yields("W20", "W20", "falling object in machinery accident (W24, W28-W31)", "W24", "W28", "W29", "W30", "W31"),
  yields("W20", "W20", "struck by thrown sports equipment (W21.-)", "W21"),
  yields("W22.0", "W22.0", "striking against stationary sports equipment (W21.8)", "W21.8"),
  yields("W22.8", "W22.8", "struck by thrown, projected or falling object (W20.-)", "W20"),
  yields("W26.0", "W26.0", "contact with electric knife (W29.1)", "W29.1"),
  yields("W29", "W29", "contact with commercial machinery (W31.82)", "W31.82"),
  yields("W29", "W29", "contact with nonpowered hand tool (W27.-)", "W27"),
  yields("W29.3", "W29.3", "contact with powered lawn mower (W28)", "W28"),
  yields("W31", "W31", "contact with agricultural machinery (W30.-)", "W30"),
  yields("W28", "W28", "contact with nonpowered lawn mower (W27.1)", "W27.1"),
  yields("W31.82", "W31.82", "contact with household machinery (W29.-)", "W29"),
  yields("W31.82", "W31.82", "contact with powered lawn mower (W28)", "W28"),
  yields("W31.2", "W31.2", "nonpowered woodworking tools (W27.0)", "W27.0"),
];

export interface Cause {
  readonly id: "CAUSE" | "PLACE" | "ACTIVITY" | "STATUS";
  readonly stem: string;
  readonly code: string;
  readonly because: string;
  readonly guidelines: readonly GuidelineId[];
  readonly defaults: readonly string[];
}
export interface CausesLeftOut {
  readonly stem: string;
  readonly beside: string;
  readonly printed: CauseExclusion["printed"];
}
const LETTER = { active: "A", healing: "D", sequela: "S" } as const;
const CODE_LENGTH = 7;
/** A cause with its seventh character: placeholders X fill up to it (W23.2 is W23.2XXA, W28 is W28.XXXA). */
export function causeCode(stem: string, letter: string): string {
  const [category, rest = ""] = stem.split(".");
  return `${category}.${rest.padEnd(CODE_LENGTH - 1 - category!.length, "X")}${letter}`;
}
/** The stem of a cause's code: "W23.2XXA" is of W23.2, "W28.XXXA" of W28. */
const stemOf = (code: string): string => code.slice(0, CODE_LENGTH).replace(/\.?X*$/, "");
/** What may be recorded of an accident in this edition: stems of causes; whole codes of places, activities and statuses, none of them "unspecified". */
export function recordable(table: CodeTable): {
  readonly causes: readonly string[];
  readonly places: readonly string[];
  readonly activities: readonly string[];
  readonly statuses: readonly string[];
} {
  const given = (start: string) => table.beginning(start).filter((code) => !NEVER_GIVEN.includes(code));
  const initial = [...table.beginning("W"), ...table.beginning("X")].filter((code) => code.endsWith("A"));
  return {
    causes: initial.map(stemOf),
    places: given("Y92"),
    activities: given("Y93"),
    statuses: given("Y99"),
  };
}
const NO_FIRST = "First encounter not stated: counted as the first.";

/**
 * Codes of chapter 20 in their order: causes, then place, activity and status. Causes are given at every encounter in the phase of the injury;
 * the other three once, at the first encounter under active treatment, the status only beside a cause.
 */
export function externalCauses(
  { causes = [], place, activity, status }: Circumstances,
  { phase, first }: EncounterFacts,
): { readonly given: readonly Cause[]; readonly leftOut: readonly CausesLeftOut[] } {
  const leftOut: CausesLeftOut[] = [];
  for (const stem of causes) {
    // Two that exclude each other: what is already left out keeps nothing else away.
    const present = causes.filter((c) => !leftOut.some((l) => l.stem === c));
    for (const { leavesOut, beside, printed } of CAUSE_EXCLUSIONS) {
      const other = stem.startsWith(leavesOut) && present.find((c) => beside.some((b) => c.startsWith(b)));
      if (!other) continue;
      leftOut.push({ stem, beside: other, printed });
      break;
    }
  }
  const letter = LETTER[phase as keyof typeof LETTER];
  if (!letter) return { given: [], leftOut };
  const made = (
    id: Cause["id"],
    stem: string,
    code: string,
    because: string,
    guideline: GuidelineId,
    defaults: readonly string[] = [],
  ): Cause => ({ id, stem, code, because, guidelines: [guideline], defaults });
  const kept = causes.filter((stem) => !leftOut.some((l) => l.stem === stem));
  const given = kept.map((stem) =>
    made("CAUSE", stem, causeCode(stem, letter), "How it happened, in the phase of the injury.", "CAUSE"),
  );
  if (phase !== "active" || first === "no") return { given, leftOut };
  const assumed = first === "yes" ? [] : [NO_FIRST];
  const recorded = (stem: string | undefined): stem is string => stem !== undefined && !NEVER_GIVEN.includes(stem);
  if (recorded(place)) given.push(made("PLACE", place, place, "Where it happened.", "PLACE", assumed));
  if (recorded(activity))
    given.push(made("ACTIVITY", activity, activity, "What the person was doing.", "ACTIVITY", assumed));
  if (recorded(status) && given.length > 0)
    given.push(made("STATUS", status, status, "In which capacity the person was doing it.", "STATUS", assumed));
  return { given, leftOut };
}

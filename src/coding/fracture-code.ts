import { compose } from "./characters.ts";
import { type Facts, NOTHING_STATED } from "./facts.ts";
import { CODE_RULES } from "./injury-rules.ts";
import { FRACTURE_ROWS, FRACTURE_TABLE } from "./tables.ts";

/** What is known of the fracture; "unknown" is a value, and what the classification then assumes is said in `defaults`. */
export interface FractureFacts {
  readonly digit: "thumb" | "index" | "middle" | "ring" | "little";
  readonly side: "left" | "right" | "unknown";
  readonly displaced: "yes" | "no" | "unknown";
  readonly open: "yes" | "no" | "unknown";
}
export interface FractureCode {
  readonly system: string;
  /** Edition year of ICD-10-CM, for Coding.version. */
  readonly version: string;
  readonly code: string;
  /** The official description, unchanged. */
  readonly display: string;
  /** Each thing the classification assumed because it was not stated, in words to show. */
  readonly defaults: readonly string[];
}

/** Rows of the official table: code, billable (1/0), description. */
export const ROWS = FRACTURE_ROWS;
const { system, version, from, to } = FRACTURE_TABLE.edition;
export const EDITION = { system, version, from, to };

const DISPLACEMENT = { yes: "displaced", no: "not-displaced", unknown: "not-stated" } as const;
const OPENNESS = { yes: "open", no: "closed", unknown: "not-stated" } as const;
const patternFor = (rule: "FX-T" | "FX-F") => CODE_RULES.find(({ id }) => id === rule)!.code;

/**
 * The ICD-10-CM code of a confirmed distal phalanx fracture while it is actively treated (seventh character A or B).
 * Not stated open or closed is coded closed, and not stated displaced or not is coded displaced
 * (notes at category S62 of the ICD-10-CM Tabular List).
 *
 * @throws Error when the table of this edition does not hold the composed code: a defect of the table, never of the case.
 */
export function fractureCode({ digit, side, displaced, open }: FractureFacts): FractureCode {
  const facts: Facts = {
    ...NOTHING_STATED,
    digit,
    side: side === "unknown" ? "not-stated" : side,
    displacement: DISPLACEMENT[displaced],
    openness: OPENNESS[open],
    phase: "active",
  };
  const composed = compose(patternFor(digit === "thumb" ? "FX-T" : "FX-F"), facts);
  const display = composed && FRACTURE_TABLE.describe(composed.code);
  if (!composed || !display) throw new Error(`${composed?.code} is not a billable code of ICD-10-CM ${version}`);
  // Said in one order wherever the places of the code stand.
  return { system, version, code: composed.code, display, defaults: [...composed.defaults].sort(byImportance) };
}
const ORDER = ["Displacement", "Open", "Side"];
const byImportance = (a: string, b: string) =>
  ORDER.findIndex((word) => a.startsWith(word)) - ORDER.findIndex((word) => b.startsWith(word));

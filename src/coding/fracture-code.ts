import edition from "./icd10cm-2027-distal-phalanx.json" with { type: "json" };

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
export const ROWS = edition.rows as unknown as readonly (readonly [
  code: string,
  billable: number,
  description: string,
])[];
export const EDITION = {
  system: edition.system,
  version: edition.edition,
  from: edition.effectiveFrom,
  to: edition.effectiveTo,
};

// Sixth character of S62.52-: displaced right, left, side unknown; then the same three nondisplaced.
const THUMB = { yes: { right: "1", left: "2", unknown: "3" }, no: { right: "4", left: "5", unknown: "6" } } as const;
// Sixth character of S62.63- (displaced) and S62.66- (nondisplaced): right, left. A named finger of unknown side is "other finger", 8.
const FINGER = { index: ["0", "1"], middle: ["2", "3"], ring: ["4", "5"], little: ["6", "7"] } as const;
const OTHER_FINGER = "8";

/**
 * The ICD-10-CM code of a confirmed distal phalanx fracture while it is actively treated (seventh character A or B).
 * Not stated open or closed is coded closed, and not stated displaced or not is coded displaced
 * (notes at category S62 of the ICD-10-CM Tabular List).
 *
 * @throws Error when the table of this edition does not hold the composed code: a defect of the table, never of the case.
 */
export function fractureCode({ digit, side, displaced, open }: FractureFacts): FractureCode {
  const moved = displaced === "unknown" ? "yes" : displaced;
  const stem =
    digit === "thumb"
      ? `S62.52${THUMB[moved][side]}`
      : `S62.6${moved === "yes" ? "3" : "6"}${side === "unknown" ? OTHER_FINGER : FINGER[digit][side === "right" ? 0 : 1]}`;
  const code = stem + (open === "yes" ? "B" : "A");
  const row = ROWS.find(([c, billable]) => c === code && billable === 1);
  if (!row) throw new Error(`${code} is not a billable code of ICD-10-CM ${EDITION.version}`);
  const defaults = [
    ...(displaced === "unknown" ? ["Displacement not stated: the classification then counts it as displaced."] : []),
    ...(open === "unknown" ? ["Open or closed not stated: the classification then counts it as closed."] : []),
    ...(side === "unknown" ? ["Side not stated."] : []),
  ];
  return { system: EDITION.system, version: EDITION.version, code, display: row[2], defaults };
}

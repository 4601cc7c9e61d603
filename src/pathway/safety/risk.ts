/** How bad the harm would be, 1 to 5. */
export const SEVERITIES = [
  "minor: nuisance, no lasting effect",
  "significant: short harm, an extra visit or an unneeded treatment",
  "considerable: longer treatment, infection or stiffness that can be mended",
  "major: lasting loss of function or of part of a finger",
  "catastrophic: danger to life, or loss of several fingers or the hand",
] as const;
/** How likely it is that the hazard leads to the harm, 1 to 5. */
export const LIKELIHOODS = ["very low", "low", "medium", "high", "very high"] as const;
export type Level = 1 | 2 | 3 | 4 | 5;

/** Risk by likelihood (row, from very low) and severity (column, from minor), after the matrix in use with DCB0129; from memory. */
const MATRIX: readonly (readonly Level[])[] = [
  [1, 1, 2, 2, 3],
  [1, 2, 2, 3, 4],
  [2, 2, 3, 3, 4],
  [2, 3, 3, 4, 5],
  [3, 4, 4, 5, 5],
];
export const riskOf = (severity: Level, likelihood: Level): Level => MATRIX[likelihood - 1]![severity - 1]!;

/** From here on nothing is released. */
export const NOT_RELEASED: Level = 4;
/** From here on a warning alone is not enough: something in the design must hold. */
export const NEEDS_DESIGN: Level = 3;
export const RISK_WORDS: { readonly [L in Level]: string } = {
  1: "acceptable",
  2: "acceptable",
  3: "acceptable only when no further reduction is practical",
  4: "not released until reduced",
  5: "not released",
};

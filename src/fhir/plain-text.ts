const LONGEST = 120;
// Control, zero-width and direction-changing characters, and letters without a shape: they can make one name look like another.
const HIDDEN = /[\p{Cc}\p{Cf}\u115f\u1160\u2028\u2029\u2800\u3164\uffa0]/gu;
/** Half of a pair of code units, from the chart or left by the cut: no letter, and some programs fail on it. */
const HALF = /\p{Cs}/gu;

/** Text from a chart as it may be shown: without hidden characters, and cut with "…" after `longest` characters. */
export function plainText(text: string, longest = LONGEST): string {
  // A text of megabytes is not searched to its end: only its beginning can be shown.
  const looked = text.slice(0, 9 * longest);
  const seen = looked.replace(HIDDEN, " ").replace(/\s+/g, " ").trim();
  const cut = seen.length > longest || looked !== text;
  return (cut ? `${seen.slice(0, longest - 1).replace(/\p{Cs}$/u, "")}…` : seen).replace(HALF, "\ufffd");
}

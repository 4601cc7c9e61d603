const LONGEST = 120;
// Control, zero-width and direction-changing characters: they can make one name look like another.
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are exactly the characters to take out
const HIDDEN = /[\u0000-\u001f\u007f-\u009f\u00ad\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]/g;

/** Text from a chart as it may be shown: without hidden characters, and cut with "…" after `longest` characters. */
export function plainText(text: string, longest = LONGEST): string {
  const seen = text.replace(HIDDEN, " ").replace(/\s+/g, " ").trim();
  return seen.length > longest ? `${seen.slice(0, longest - 1)}…` : seen;
}

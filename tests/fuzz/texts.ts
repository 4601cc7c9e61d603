/** Words that a record system may hold and that no program likes: long, empty, turned round, half a character, markup, keys of objects. */
export const ODD_WORDS: readonly string[] = [
  "",
  " ",
  "Ó",
  "X Æ A-12",
  "李小龍",
  "محمد‎ بن علی",
  "Zoë Ünal-O’Brien",
  "e\u0301".repeat(40),
  "\u202eevil\u202c name",
  "a\u200bb\u200dc\ufeff",
  "👩‍👩‍👧‍👦 Family",
  "\ud83d",
  "half \udc4d left",
  "x".repeat(5000),
  "👍".repeat(2500),
  "\u0000\u0007\u001b[31m",
  "line\nbreak\ttab",
  '<img src=x onerror="window.__xss=1">',
  "javascript:window.__xss=1",
  "=cmd|' /C calc'!A0",
  // biome-ignore lint/suspicious/noTemplateCurlyInString: a payload, not a template
  "${7*7} {{7*7}} %s %n",
  "../../Patient/2?_count=0#",
  "__proto__",
  "constructor",
  "hasOwnProperty",
  "toString",
  "null",
  "0",
];
/** Keys and codes that are found in every object without having been put there. */
export const INHERITED = ["__proto__", "constructor", "prototype", "toString", "hasOwnProperty", "valueOf"] as const;
/** Dates in every state that servers send. */
export const ODD_DATES: readonly string[] = [
  "2026",
  "2026-11",
  "2026-11-20",
  "2026-11-20T10:00:00Z",
  "2026-11-20T23:59:59.999+14:00",
  "2024-02-29",
  "2025-02-29",
  "2026-13-45",
  "2026-99-99T99:99:99Z",
  "0001-01-01T00:00:00Z",
  "9999-12-31",
  "0000-00-00",
  "20.11.2026",
  "yesterday",
  "",
  "-2026-11-20",
  "2026-11-20T24:00:00Z",
  "2026-11-20T10:00:00+99:99",
];

/** Nested lists, so deep that a reader that calls itself for each level falls over. */
export const deepJson = (levels: number): string => `${"[".repeat(levels)}${"]".repeat(levels)}`;

import type { CodedEncounter, CodeLine } from "./encounter.ts";

/** Delimiters of HL7 v2 in text, and how they are written there (HL7 v2.5.1, chapter 2, use of escape sequences). */
const ESCAPES: { readonly [character: string]: string } = {
  "\\": "\\E\\",
  "|": "\\F\\",
  "~": "\\R\\",
  "^": "\\S\\",
  "&": "\\T\\",
};
// biome-ignore lint/suspicious/noControlCharactersInRegex: control characters would end a segment or a message
const TO_ESCAPE = /[\\|~^&\u0000-\u001f\u007f]/g;
/** Text for one component; a line break or another control character becomes its hexadecimal sequence. */
export const escapeHl7 = (text: string): string =>
  text.replace(TO_ESCAPE, (c) => ESCAPES[c] ?? `\\X${c.charCodeAt(0).toString(16).toUpperCase().padStart(2, "0")}\\`);
/** The text again. A sequence that is not one of ours stays as it stands. */
export const unescapeHl7 = (text: string): string =>
  text.replace(/\\([EFRST]|X[0-9A-F]{2})\\/g, (_, sequence: string) =>
    sequence.startsWith("X")
      ? String.fromCharCode(Number.parseInt(sequence.slice(1), 16))
      : (Object.keys(ESCAPES).find((c) => ESCAPES[c] === `\\${sequence}\\`) ?? ""),
  );

const INSTANT = /^(\d{4})-(\d{2})-(\d{2})(?:T(\d{2}):(\d{2})(?::(\d{2}))?(?:\.\d+)?(Z|[+-]\d{2}:\d{2})?)?/;
/** A day or an instant of ISO 8601 as HL7 time stamp, with its own offset; "" for anything else. */
export function hl7Time(iso: string): string {
  const [, year, month, day, hour, minute, second = "", offset] = INSTANT.exec(iso) ?? [];
  if (!year) return "";
  const zone = offset === "Z" ? "+0000" : (offset ?? "").replace(":", "");
  return `${year}${month}${day}${hour ? `${hour}${minute}${second}${zone}` : ""}`;
}

type Fields = readonly (string | undefined)[];
/** A segment ends with CR; empty fields at its end are left away. */
const segment = (name: string, fields: Fields): string =>
  `${[name, ...fields.map((f) => f ?? "")].join("|").replace(/\|+$/, "")}\r`;
/** Fields by their number, from 1. */
const numbered = (fields: { readonly [number: number]: string | undefined }): Fields =>
  Array.from({ length: Math.max(...Object.keys(fields).map(Number)) }, (_, i) => fields[i + 1]);

/** HL7 table 0396: ICD-10-CM. */
const ICD10CM = "I10C";
const PROGRAM = "FINGERPOST";
/** HL7 table 0359: 1 the primary diagnosis, 2 and up ranked secondary ones, 0 not ranked. */
const NOT_RANKED = "0";

/**
 * One DG1 segment for a code (HL7 v2.5.1): final when the encounter is signed, else working. Present on admission stays empty: it belongs
 * to inpatient claims.
 */
export function dg1Segment(line: CodeLine, { encounter }: CodedEncounter): string {
  return segment(
    "DG1",
    numbered({
      1: String(line.sequence),
      3: [escapeHl7(line.code), escapeHl7(line.display), ICD10CM].join("^"),
      5: hl7Time(encounter.date),
      6: encounter.signedAt ? "F" : "W",
      15: line.role === "external-cause" ? NOT_RANKED : String(line.sequence),
      16: encounter.signedBy ? escapeHl7(encounter.signedBy) : undefined,
      17: line.role === "external-cause" ? "O" : "D",
      19: encounter.signedAt ? hl7Time(encounter.signedAt) : undefined,
      20: `${escapeHl7(`${encounter.id}:${line.key}`)}^${PROGRAM}`,
      21: "A",
    }),
  );
}

/** A BAR^P12 message with the codes of one encounter. The name is not carried: type U, unspecified (table 0200). */
export function dg1Message(coded: CodedEncounter, { appVersion }: { readonly appVersion: string }): string {
  const { encounter } = coded;
  const at = hl7Time(encounter.signedAt ?? encounter.date);
  return [
    segment(
      "MSH",
      numbered({
        1: "^~\\&",
        2: PROGRAM,
        6: at,
        8: "BAR^P12^BAR_P12",
        9: escapeHl7(encounter.id),
        10: "P",
        11: "2.5.1",
        17: "UNICODE UTF-8",
      }),
    ),
    segment("SFT", [PROGRAM, escapeHl7(appVersion), PROGRAM, escapeHl7(appVersion)]),
    segment("EVN", numbered({ 2: at })),
    segment("PID", numbered({ 3: escapeHl7(encounter.patient ?? ""), 5: "^^^^^^U" })),
    segment("PV1", numbered({ 2: "U", 19: escapeHl7(encounter.id) })),
    ...coded.codes.map((line) => dg1Segment(line, coded)),
  ].join("");
}

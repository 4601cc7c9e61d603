import Papa from "papaparse";
import { dg1Message } from "./dg1.ts";
import type { CodedEncounter, CodeLine } from "./encounter.ts";

/** A file as it is written piece by piece: head, one piece for each encounter, tail. Nothing is kept between pieces but counts. */
export interface ExportFormat {
  readonly extension: string;
  readonly mediaType: string;
  readonly head: string;
  /** @param before encounters already written */
  each(coded: CodedEncounter, before: number): string;
  tail(counts: ExportCounts): string;
}
export interface ExportCounts {
  readonly encounters: number;
  readonly codes: number;
  readonly notCoded: number;
}
export interface ExportMeta {
  readonly appVersion: string;
}

/** One row for each code; an encounter without a code has one row that says why. */
export const CSV_COLUMNS = [
  "encounterId",
  "patientId",
  "serviceDate",
  "state",
  "seq",
  "role",
  "system",
  "version",
  "code",
  "display",
  "digit",
  "side",
  "rule",
  "guidelines",
  "facts",
  "defaultsUsed",
  "gaps",
  "problems",
  "signedBy",
  "signedAt",
  "programVersion",
] as const;
type CsvRow = { readonly [C in (typeof CSV_COLUMNS)[number]]: string };
const JOIN = "; ";
/** What a spreadsheet would take as a formula (OWASP: CSV injection), also in its full-width forms; such a cell gets an apostrophe before it. */
export const FORMULA = /^[=+\-@\t\r\n\uFF1D\uFF0B\uFF0D\uFF20]/;

/**
 * All cells of a row stand in one literal. A row that begins with a spread of what its encounter's rows share gets a hidden class of its own
 * from V8, in the old generation where only a full collection frees it: at 100,000 records that was most of the memory taken.
 */
function csvRows(coded: CodedEncounter, { appVersion }: ExportMeta): CsvRow[] {
  const { encounter, codes } = coded;
  const gaps = coded.gaps.map((gap) => gap.key).join(JOIN);
  const problems = coded.problems.join(JOIN);
  const row = (line?: CodeLine): CsvRow => {
    const named = (fact: string) => line?.used.find((u) => u.fact === fact && u.from !== "not stated")?.value ?? "";
    return {
      encounterId: encounter.id,
      patientId: encounter.patient ?? "",
      serviceDate: encounter.date,
      state: coded.state,
      seq: line ? String(line.sequence) : "",
      role: line?.role ?? "",
      system: line?.system ?? "",
      version: line?.version ?? "",
      code: line?.code ?? "",
      display: line?.display ?? "",
      digit: named("digit"),
      side: named("side"),
      rule: line?.rule ?? "",
      guidelines: line?.guidelines.map((g) => g.section).join(JOIN) ?? "",
      facts: line?.used.map((u) => `${u.fact}=${u.value}`).join(JOIN) ?? "",
      defaultsUsed: line?.defaults.join(JOIN) ?? "",
      gaps,
      problems,
      signedBy: encounter.signedBy ?? "",
      signedAt: encounter.signedAt ?? "",
      programVersion: appVersion,
    };
  };
  return codes.length ? codes.map((line) => row(line)) : [row()];
}
const CRLF = "\r\n";
const csvLines = (rows: readonly CsvRow[]): string =>
  Papa.unparse(
    rows.map((row) => CSV_COLUMNS.map((column) => row[column])),
    { newline: CRLF, escapeFormulae: FORMULA },
  ) + CRLF;

/** CSV as RFC 4180 has it: header row, CRLF, quotes doubled; UTF-8. A cell that could be a formula begins with an apostrophe. */
export const csvExport = (meta: ExportMeta): ExportFormat => ({
  extension: "csv",
  mediaType: "text/csv; charset=utf-8; header=present",
  head: CSV_COLUMNS.join(",") + CRLF,
  each: (coded) => csvLines(csvRows(coded, meta)),
  tail: () => "",
});

/**
 * HL7 v2.5.1: one BAR^P12 message (update diagnosis) for each encounter with a code, in one batch whose trailer counts the messages. An
 * encounter without a code has no message; the trailer says how many there are.
 */
export const dg1Export = (meta: ExportMeta): ExportFormat => ({
  extension: "hl7",
  mediaType: "x-application/hl7-v2+er7; charset=utf-8",
  head: "FHS|^~\\&|FINGERPOST\rBHS|^~\\&|FINGERPOST\r",
  each: (coded) => (coded.codes.length ? dg1Message(coded, meta) : ""),
  tail: ({ encounters, notCoded }) =>
    `BTS|${encounters - notCoded}|${notCoded ? `${notCoded} encounters without a code` : ""}\rFTS|1\r`,
});

/** Encounters between two reports of progress. */
const REPORT_EVERY = 1000;
/**
 * Writes coded encounters piece by piece, in memory that does not grow with their number.
 *
 * @param onProgress called every 1000 encounters and at the end
 */
export async function* exported(
  format: ExportFormat,
  encounters: AsyncIterable<CodedEncounter> | Iterable<CodedEncounter>,
  onProgress: (counts: ExportCounts) => void = () => {},
): AsyncGenerator<string, ExportCounts> {
  const counts = { encounters: 0, codes: 0, notCoded: 0 };
  yield format.head;
  for await (const coded of encounters) {
    const piece = format.each(coded, counts.encounters);
    counts.encounters++;
    counts.codes += coded.codes.length;
    if (coded.codes.length === 0) counts.notCoded++;
    if (piece) yield piece;
    if (counts.encounters % REPORT_EVERY === 0) onProgress({ ...counts });
  }
  yield format.tail(counts);
  onProgress({ ...counts });
  return counts;
}

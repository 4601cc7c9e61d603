import { readFileSync } from "node:fs";

/** Rows of the official table (fixtures/official/icd10cm-2027.tsv, see the README there): code, billable, description. */
export type OfficialRow = readonly [code: string, billable: number, description: string];
export const OFFICIAL_ROWS: readonly OfficialRow[] = readFileSync("fixtures/official/icd10cm-2027.tsv", "utf8")
  .trimEnd()
  .split("\n")
  .slice(1)
  .map((line) => {
    const [code = "", billable, description = ""] = line.split("\t");
    return [code, Number(billable), description];
  });
export const OFFICIAL: ReadonlyMap<string, OfficialRow> = new Map(OFFICIAL_ROWS.map((row) => [row[0], row]));

/** Notes printed in the Tabular List, as data. */
export interface TabularNote {
  readonly at: string;
  readonly type: string;
  readonly text: string;
}
export const NOTES: readonly TabularNote[] = readFileSync("fixtures/official/icd10cm-tabular-notes.tsv", "utf8")
  .trimEnd()
  .split("\n")
  .slice(1)
  .map((line) => {
    const [at = "", type = "", text = ""] = line.split("\t");
    return { at, type, text };
  });

/** Rows that the browser gets: fractures with their headings, which the chart's codes are read against, and what goes with them, billable only. */
const FRACTURES = /^S62\.(?:52|63|66)/;
const COMPANIONS =
  /^(?:S60\.[01]|S61\.[0-3]|S63\.(?:12|29)|S64\.[34]|S65\.[45]|S66\.[0-3]|S67\.[01]|S68\.[0156]|M20\.01|M25\.64|M80\.[08]4|M84\.[345]4|M86\.14|M89\.18|D16\.1|L03\.01|L60\.[38]|T84\.69|Z18|Z23|W|X58|Y9[239])/;
export const FRACTURE_ROWS = OFFICIAL_ROWS.filter(([code]) => FRACTURES.test(code));
export const COMPANION_ROWS = OFFICIAL_ROWS.filter(([code, billable]) => billable === 1 && COMPANIONS.test(code));

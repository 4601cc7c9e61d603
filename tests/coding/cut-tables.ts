/**
 * `npm run -s tables`: cuts the rows that ship out of the official table. Run it after the official table was renewed (each October and April);
 * `tests/coding/tables.test.ts` fails when what ships and the official table differ.
 */
import { readFileSync, writeFileSync } from "node:fs";
import { COMPANION_ROWS, FRACTURE_ROWS, type OfficialRow } from "./official-table.ts";

const write = (file: string, head: object, rows: readonly OfficialRow[]) => {
  const lines = Object.entries(head).map(([key, value]) => `  ${JSON.stringify(key)}: ${JSON.stringify(value)},`);
  const body = rows.map((row) => `    ${JSON.stringify(row)}`).join(",\n");
  writeFileSync(file, `{\n${lines.join("\n")}\n  "rows": [\n${body}\n  ]\n}\n`);
  console.log(`${file}: ${rows.length} rows`);
};
const FRACTURES = "src/coding/tables/icd10cm-2027-fractures.json";
const { rows: _, ...head } = JSON.parse(readFileSync(FRACTURES, "utf8"));
write(FRACTURES, head, FRACTURE_ROWS);
write(
  "src/coding/tables/icd10cm-2027-companions.json",
  {
    ...head,
    origin:
      "Official CMS/NCHS order file FY2022 (icd10cm-order-2022.txt), brought to FY2027 with the yearly change lists; see fixtures/official/README.md for what was held against other listings. Billable rows only.",
  },
  COMPANION_ROWS,
);

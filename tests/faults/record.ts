/** What came of each flow when every pair of fault and request was last tried: too long for every run, so it is kept. */
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import * as z from "zod";

const RECORD = join(import.meta.dirname, "every-pair.json");
const rowShape = z.object({
  faults: z.number(),
  requests: z.number(),
  combinations: z.number(),
  /** Combinations in which the fault really struck. */
  struck: z.number(),
  lost: z.number(),
  duplicated: z.number(),
  misfiled: z.number(),
  falseWords: z.number(),
});
export type RecordRow = z.infer<typeof rowShape>;

/** By name of the flow. @throws Error when the file is not what `keepRecord` writes */
export function readRecord(): Record<string, RecordRow> {
  return existsSync(RECORD) ? z.record(z.string(), rowShape).parse(JSON.parse(readFileSync(RECORD, "utf8"))) : {};
}
export function keepRecord(flow: string, row: RecordRow): void {
  const rows = Object.entries({ ...readRecord(), [flow]: row }).sort(([a], [b]) => (a < b ? -1 : 1));
  writeFileSync(RECORD, `${JSON.stringify(Object.fromEntries(rows), null, 2)}\n`);
}

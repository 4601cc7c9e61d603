import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";

/** Where each test file leaves what it heard until all have run. */
export const HEARD = "node_modules/.cache/spoken-rules";
const KEPT = "tests/pathway/spoken-rules/by-file.jsonl";

/** Joins what the files heard into one list, a file a line, sorted, so that a change shows as a small difference. */
export default function setup() {
  rmSync(HEARD, { recursive: true, force: true });
  return () => {
    const heard = existsSync(HEARD) ? readdirSync(HEARD).sort() : [];
    const lines = heard.map((name) => {
      const rules = readFileSync(join(HEARD, name), "utf8");
      return `[${JSON.stringify(decodeURIComponent(name.replace(/\.json$/, "")))},${rules}]\n`;
    });
    writeFileSync(KEPT, lines.join(""));
    rmSync(HEARD, { recursive: true, force: true });
  };
}

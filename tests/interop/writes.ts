/** Where what the plugin has written in tests is kept for the validator: one resource a line. */
import { appendFileSync, mkdirSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";

/** What the journeys wrote into the stock server. */
export const JOURNEY_WRITES = join(import.meta.dirname, "../../.cache/written/stock-server");
/** What earlier test runs wrote into the practice EHR; set by `npm test -- --long`. */
export const PRACTICE_WRITES = process.env.FINGERPOST_WRITES;

/** Ours carry identifiers or tags under this name, records of who did what included. */
const OURS = "https://fingerpost.example/";

const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g;
const MOMENT = /\d{4}-\d{2}-\d{2}(T[\d:.]+(Z|[+-]\d{2}:\d{2})?)?/g;
/**
 * Equal for two writings that differ only in when they were made, for whom, under which names, and in numbers: where one is right, so is the
 * other. The narrative repeats in words what the elements say.
 */
const shapeOf = (json: string) =>
  json
    .replace(/"(id|versionId|lastUpdated|source|data|div)":"(?:[^"\\]|\\.)*"/g, "")
    .replace(/"reference":"([A-Za-z]+)\/[^"]*"/g, "$1")
    .replace(UUID, "u")
    .replace(MOMENT, "t")
    .replace(/[0-9]+/g, "n");

/** Keeps each resource of ours in a file, once of those that have the same shape. */
export function keeper(folder: string, name: string): (resource: object) => void {
  mkdirSync(folder, { recursive: true });
  const seen = new Set<string>();
  return (resource) => {
    const json = JSON.stringify(resource);
    if (!json.includes(OURS)) return;
    const shape = shapeOf(json);
    if (seen.has(shape)) return;
    seen.add(shape);
    appendFileSync(join(folder, `${name}.ndjson`), `${json}\n`);
  };
}
/** All that was kept in a folder, once of those that have the same shape. */
export function kept(folder: string): object[] {
  const byShape = new Map<string, object>();
  for (const file of readdirSync(folder))
    for (const line of readFileSync(join(folder, file), "utf8").split("\n"))
      if (line) byShape.set(shapeOf(line), JSON.parse(line) as object);
  return [...byShape.values()];
}

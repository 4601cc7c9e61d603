/** Before each journey: the stock server emptied and filled with the invented charts. After it: what the plugin wrote is kept. */
import { rmSync } from "node:fs";
import { basename, join } from "node:path";
import { afterAll, beforeAll, expect } from "vitest";
import { fill, writtenOn } from "./charts.ts";
import { JOURNEYS } from "./journeys.ts";
import { JOURNEY_WRITES, keeper } from "./writes.ts";

const base = process.env.FINGERPOST_FHIR!;
const file = basename(expect.getState().testPath ?? "");
const journey = JOURNEYS.find((each) => each.file === file);
const LONG = 8 * 60_000;

if (journey) {
  beforeAll(async () => {
    rmSync(join(JOURNEY_WRITES, `${file}.ndjson`), { force: true });
    await fill(base, journey);
  }, LONG);
  afterAll(async () => {
    const keep = keeper(JOURNEY_WRITES, file);
    for await (const resource of writtenOn(base)) keep(resource);
  }, LONG);
}

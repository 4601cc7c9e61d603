/** Before each journey: the stock server emptied and filled with the invented charts. After it: what the plugin wrote is kept. */
import { rmSync } from "node:fs";
import { basename, join } from "node:path";
import { afterAll, beforeAll, expect } from "vitest";
import { readCharts } from "../../launch/ehr/seed.ts";
import { JOURNEYS } from "./journeys.ts";
import { JOURNEY_WRITES, keeper } from "./writes.ts";

const base = process.env.FINGERPOST_FHIR!;
const file = basename(expect.getState().testPath ?? "");
const journey = JOURNEYS.find((each) => each.file === file);
const LONG = 8 * 60_000;

async function ask<T>(path: string, body?: object): Promise<T> {
  const answer = await fetch(path.startsWith("http") ? path : `${base}${path}`, {
    headers: { "content-type": "application/fhir+json", "cache-control": "no-cache" },
    ...(body ? { method: "POST", body: JSON.stringify(body) } : {}),
  });
  const text = await answer.text();
  if (!answer.ok) throw new Error(`the stock server answered ${answer.status} to ${path}: ${text.slice(0, 2000)}`);
  return JSON.parse(text) as T;
}

/** HAPI's own operation: everything goes, its history too, so that a journey finds first versions. */
const empty = () =>
  ask("/$expunge", {
    resourceType: "Parameters",
    parameter: [{ name: "expungeEverything", valueBoolean: true }],
  });

/** One transaction a chart; people and places first, since the others point to them. */
async function fill(heavy: boolean): Promise<void> {
  const isPlaces = ({ name }: { name: string }) => name === "staff-and-places";
  const charts = readCharts(new Date()).filter(({ name }) => heavy || name !== "heavy-chart");
  for (const { resources } of [...charts.filter(isPlaces), ...charts.filter((chart) => !isPlaces(chart))]) {
    const entry = resources.map((resource) => ({
      resource,
      request: { method: "PUT", url: `${resource.resourceType}/${resource.id}` },
    }));
    await ask("", { resourceType: "Bundle", type: "transaction", entry });
  }
}

interface History {
  entry?: { resource?: object }[];
  link?: { relation: string; url: string }[];
}
async function keepWrites(): Promise<void> {
  const keep = keeper(JOURNEY_WRITES, file);
  for (let page: string | undefined = "/_history?_count=200"; page; ) {
    const { entry = [], link = [] }: History = await ask<History>(page);
    for (const { resource } of entry) if (resource) keep(resource);
    page = link.find(({ relation }) => relation === "next")?.url;
  }
}

if (journey) {
  beforeAll(async () => {
    rmSync(join(JOURNEY_WRITES, `${file}.ndjson`), { force: true });
    await empty();
    await fill(journey.heavy === true);
  }, LONG);
  afterAll(keepWrites, LONG);
}

/** The invented charts on a stock FHIR server: filled in before a journey, put back between its tests. */
import { seedClinics } from "../../launch/ehr/clinics/seed-clinics.ts";
import type { Resource } from "../../launch/ehr/fhir/exchange.ts";
import { Store } from "../../launch/ehr/fhir/store.ts";
import { readCharts } from "../../launch/ehr/seed.ts";
import type { Journey } from "./journeys.ts";

const PAGE = 200;
/** Entries of one transaction: a stock server holds all of them in memory. */
const AT_ONCE = 400;
/** What others point to comes first; within a transaction the order does not matter. */
const FIRST = ["Organization", "Location", "Practitioner", "PractitionerRole", "HealthcareService", "Schedule", "Slot"];

interface History {
  readonly entry?: readonly { readonly fullUrl?: string; readonly resource?: Resource }[];
  readonly link?: readonly { readonly relation: string; readonly url: string }[];
}
/** What was filled in, by "Type/id", and the instant after which a change is none of ours. */
let filled = new Map<string, Resource>();
let since = "";

async function ask<T>(base: string, path: string, body?: object): Promise<T> {
  const answer = await fetch(path.startsWith("http") ? path : `${base}${path}`, {
    headers: { "content-type": "application/fhir+json", "cache-control": "no-cache" },
    ...(body ? { method: "POST", body: JSON.stringify(body) } : {}),
  });
  const text = await answer.text();
  if (!answer.ok) throw new Error(`the stock server answered ${answer.status} to ${path}: ${text.slice(0, 2000)}`);
  return JSON.parse(text) as T;
}
const keyOf = ({ resourceType, id }: Resource) => `${resourceType}/${id}`;
const transaction = (base: string, entry: readonly object[]) =>
  ask(base, "", { resourceType: "Bundle", type: "transaction", entry });
const put = (resource: Resource) => ({ resource, request: { method: "PUT", url: keyOf(resource) } });

/** All that changed since an instant, or ever, the newest version first. */
async function* history(base: string, from?: string): AsyncGenerator<{ fullUrl?: string; resource?: Resource }> {
  const start = `/_history?_count=${PAGE}${from ? `&_since=${encodeURIComponent(from)}` : ""}`;
  for (let page: string | undefined = start; page; ) {
    const { entry = [], link = [] }: History = await ask<History>(base, page);
    yield* entry;
    page = link.find(({ relation }) => relation === "next")?.url;
  }
}

/** Every version of every resource that was not deleted since. */
export async function* writtenOn(base: string): AsyncGenerator<Resource> {
  for await (const { resource } of history(base)) if (resource) yield resource;
}

/** HAPI's own operation: everything goes, its history too, so that a journey finds first versions. */
const empty = (base: string) =>
  ask(base, "/$expunge", {
    resourceType: "Parameters",
    parameter: [{ name: "expungeEverything", valueBoolean: true }],
  });

/** @throws Error with the words of a server that refuses a chart */
export async function fill(base: string, { heavy, clinics }: Journey): Promise<void> {
  await empty(base);
  const now = new Date();
  const isPlaces = ({ name }: { name: string }) => name === "staff-and-places";
  const charts = readCharts(now).filter(({ name }) => heavy || name !== "heavy-chart");
  const groups = [...charts.filter(isPlaces), ...charts.filter((chart) => !isPlaces(chart))].map((c) => c.resources);
  if (clinics) groups.push(...clinicGroups(now));
  for (const group of groups) await transaction(base, group.map(put));
  filled = new Map(groups.flat().map((resource) => [keyOf(resource), resource]));
  since = new Date().toISOString();
}

function clinicGroups(now: Date): Resource[][] {
  const store = new Store({ base: "http://localhost/fhir" });
  seedClinics(store, now);
  const all = store.allVersions().flatMap(({ resource }) => resource ?? []);
  const first = FIRST.flatMap((type) => all.filter(({ resourceType }) => resourceType === type));
  const charts = all.filter(({ resourceType }) => !FIRST.includes(resourceType));
  const parts = Array.from({ length: Math.ceil(first.length / AT_ONCE) }, (_, n) =>
    first.slice(n * AT_ONCE, (n + 1) * AT_ONCE),
  );
  return [...parts, charts];
}

/** What was changed gets the content it had, and what was added goes. @throws Error with the words of a server that refuses */
export async function putBack(base: string): Promise<void> {
  const changed = new Map<string, Resource | undefined>();
  for await (const { fullUrl = "", resource } of history(base, since)) {
    const key = resource ? keyOf(resource) : fullUrl.replace(/^.*\/([A-Z]\w+\/[^/]+)(?:\/_history.*)?$/, "$1");
    if (!changed.has(key)) changed.set(key, resource);
  }
  const [own, added] = [
    [...changed.keys()].filter((key) => filled.has(key)),
    [...changed].filter(([key]) => !filled.has(key)),
  ];
  if (own.length > 0)
    await transaction(
      base,
      own.map((key) => put(filled.get(key)!)),
    );
  const gone = added.filter(([, resource]) => resource !== undefined);
  if (gone.length > 0)
    await transaction(
      base,
      gone.map(([url]) => ({ request: { method: "DELETE", url } })),
    );
  since = new Date().toISOString();
}

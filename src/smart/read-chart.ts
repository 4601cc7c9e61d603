/** Reads what the chart knows in one wave of parallel requests; each part has its own fate and is told as it arrives. */
import { PLAN_ITEM } from "../fhir/codings.ts";
import { joinResults, type PartResult, type PartState } from "../fhir/part-result.ts";
import { CHART_PARTS, type ChartPartName, type ChartSearch, chartSearches } from "../fhir/searches.ts";
import type { PatientContext, Session } from "./session.ts";
import type { FhirProblem, FhirResource, SearchResult } from "./transport.ts";

export interface ReadOptions {
  /** yyyy-MM-dd; default: today by this computer's calendar. */
  readonly today?: string;
  readonly signal?: AbortSignal;
  /** Only these parts, for another try. */
  readonly only?: readonly ChartPartName[];
  /** Past every cache, and without counting as seen: for comparing with what was seen. */
  readonly fresh?: boolean;
}

export type Parts = { readonly [part in ChartPartName]?: PartResult };
type Reading = Pick<Session, "context" | "can" | "fhir"> & Partial<Pick<Session, "opened" | "clock">>;
/** One search's result; the server's remarks are kept apart, since they are no finding. */
interface Answer {
  readonly result: PartResult;
  readonly remarks: readonly FhirResource[];
}

/** What the clinician could see when the chart was read: what a write must not silently differ from. */
export interface Seen {
  patient?: FhirResource;
  /** Stored plan items by "planId:key", each in the version that was read. */
  readonly items: Map<string, { readonly reference: string; readonly version?: string }>;
  /** What this page itself has stored, by "planId:key"; newer than anything that was read. */
  readonly own: Map<string, string | undefined>;
}
const SEEN = new WeakMap<PatientContext, Seen>();

/** What was read for this session so far. */
export function seenIn(context: PatientContext): Seen {
  const seen = SEEN.get(context) ?? { items: new Map(), own: new Map() };
  SEEN.set(context, seen);
  return seen;
}

/** "planId:key" of a stored plan item. */
export function planItemOf(resource: FhirResource): string | undefined {
  const tags = (resource.meta as { tag?: { system?: unknown; code?: unknown }[] } | undefined)?.tag;
  const code = Array.isArray(tags) ? tags.find((tag) => tag?.system === PLAN_ITEM)?.code : undefined;
  return typeof code === "string" ? code : undefined;
}

/** Version of a stored resource, when the server counts versions. */
export function versionOf(resource: FhirResource): { version?: string } {
  const version = (resource.meta as { versionId?: unknown } | undefined)?.versionId;
  return typeof version === "string" ? { version } : {};
}

/** The clinician was shown this resource in this version. */
export function keepInMind(context: PatientContext, resource: FhirResource): void {
  const seen = seenIn(context);
  if (resource.resourceType === "Patient") seen.patient = resource;
  const item = planItemOf(resource);
  if (item && resource.id) {
    seen.items.set(item, { reference: `${resource.resourceType}/${resource.id}`, ...versionOf(resource) });
  }
}

const STATE_OF: Partial<Record<FhirProblem["kind"], PartState>> = { refused: "refused", unsupported: "unsupported" };

function notRead(problem: FhirProblem): Answer {
  const note = problem.status === undefined ? problem.title : `${problem.title} (HTTP ${problem.status})`;
  return { result: { state: STATE_OF[problem.kind] ?? "failed", resources: [], more: false, note }, remarks: [] };
}

const STOPPED: Record<string, string> = {
  total: "The record system counts more entries than it sent; the rest was not read.",
  limit: "There is more in the chart than was read.",
  loop: "The record system's pages led round in a circle; the rest was not read.",
  "foreign-link": "The record system's next page lay on another server and was not followed; the rest was not read.",
};

function found({ matches, remarks, unreadable, more, stoppedBy }: SearchResult): Answer {
  const notes = [
    ...(stoppedBy ? [STOPPED[stoppedBy] ?? "A later page could not be read; the rest is missing."] : []),
    ...(unreadable ? [`${unreadable} ${unreadable === 1 ? "entry" : "entries"} could not be read.`] : []),
  ];
  // An empty list that is not the whole answer says nothing about the chart.
  const state = matches.length > 0 ? "found" : more || unreadable ? "failed" : "empty";
  return { result: { state, resources: matches, more, ...(notes.length ? { note: notes.join(" ") } : {}) }, remarks };
}

async function ask(
  { context, can, fhir }: Reading,
  search: ChartSearch,
  { signal, fresh }: ReadOptions,
): Promise<Answer> {
  const keep = (resource: FhirResource) => fresh || keepInMind(context, resource);
  const reads = !search.query.includes("?");
  if (!can(search.type, reads ? "r" : "s")) {
    const note = `The record system did not grant reading of ${search.type}.`;
    return { result: { state: "not-allowed", resources: [], more: false, note }, remarks: [] };
  }
  const options = { signal, mayBeKept: !fresh };
  if (!reads) {
    const answer = await fhir.search(search.query, { limit: search.limit, ...options });
    if (!answer.ok) return notRead(answer.problem);
    answer.value.matches.forEach(keep);
    return found(answer.value);
  }
  const answer = await fhir.read(search.query, options);
  if (!answer.ok) return notRead(answer.problem);
  if (search.type === "Patient" && answer.value.id !== context.patientId) {
    const note = "The record system answered with another patient's record; it was not used.";
    return { result: { state: "failed", resources: [], more: false, note }, remarks: [] };
  }
  keep(answer.value);
  return { result: { state: "found", resources: [answer.value], more: false }, remarks: [] };
}

const localToday = (now: Date): string => {
  const two = (value: number) => String(value).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
};

/**
 * Reads the chart. No request waits for another; a part that fails does not touch the others.
 * Resources are handed on as they came: `chartFrom` leaves out those of another patient and says so.
 */
export async function readChart(
  session: Reading,
  onPart: (part: ChartPartName, result: PartResult) => void,
  options: ReadOptions = {},
): Promise<Parts> {
  const { patientId, encounterId } = session.context;
  const { opened = [], clock } = session;
  const searches = chartSearches(patientId, {
    opened,
    today: options.today ?? localToday(clock?.now() ?? new Date()),
    ...(encounterId === undefined ? {} : { encounterId }),
  });
  const parts: Partial<Record<ChartPartName, PartResult>> = {};
  await Promise.all(
    CHART_PARTS.filter((part) => options.only?.includes(part) ?? true).map(async (part) => {
      const own = searches.filter((search) => search.part === part);
      const answers = await Promise.all(own.map((search) => ask(session, search, options)));
      const first = answers[0]?.result;
      const joined = answers.length === 1 && first ? first : joinResults(answers.map((answer) => answer.result));
      const result = { ...joined, resources: [...joined.resources, ...answers.flatMap((answer) => answer.remarks)] };
      parts[part] = result;
      onPart(part, result);
    }),
  );
  return parts;
}

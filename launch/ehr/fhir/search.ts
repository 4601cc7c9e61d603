/** R4 search on the store: filters, chains, includes, sorting and pages (R4 search.html). */
import type { SearchParameter } from "@medplum/fhirtypes";
import { belongsToPatient, isPatientData } from "./compartment.ts";
import { isStoredType, loadDefinitions, searchParameter, searchParametersOf } from "./definitions.ts";
import {
  type Bundle,
  type BundleEntry,
  localReference,
  outcome,
  type Resource,
  refuse,
  type StoredResource,
} from "./exchange.ts";
import { compareRanges, dateRange, numberRange, plain, splitPrefix, type Values, valuesOf } from "./search-values.ts";
import type { Store, Version } from "./store.ts";

export interface SearchContext {
  store: Store;
  base: string;
  /** Entries per page when the client names no `_count`. */
  pageSize: number;
  patientOnly?: string | undefined;
  /** `Prefer: handling=strict`: unknown parameters are refused instead of ignored. */
  strict?: boolean;
  /** Versions that a search must not see yet (a server with a late index). */
  hidden?: (version: Version) => boolean;
}
export const LARGEST_PAGE = 1000;

interface Filter {
  readonly holds: (version: Version) => boolean;
  /** Versions that can match, when an index knows. */
  readonly candidates?: () => Version[];
}
interface Query {
  readonly filters: Filter[];
  readonly used: [string, string][];
  readonly ignored: string[];
}

/** Answers `GET [base]/Type?…`. Throws FhirError for a query that cannot be understood. */
export function searchBundle(type: string, params: URLSearchParams, context: SearchContext): Bundle {
  const query = readQuery(type, params, context);
  const found = sortVersions(type, findVersions(type, query, context), params, query);
  const count = readCount(params, context.pageSize);
  const from = startOfPage(found, params.get("_after"));
  const summary = params.get("_summary") ?? undefined;
  const countOnly = summary === "count" || count === 0;
  const page = countOnly ? [] : found.slice(from, from + count).map(({ version }) => version);
  const shape = shaper(params, summary);
  const entry: BundleEntry[] = page.map(({ resource }) =>
    entryOf(shape(resource as StoredResource), "match", context.base),
  );
  for (const resource of included(page, params, query, context))
    entry.push(entryOf(shape(resource), "include", context.base));
  if (query.ignored.length > 0) {
    entry.push({
      resource: outcome({
        severity: "warning",
        code: "not-supported",
        diagnostics: `Ignored, because not supported here: ${query.ignored.join(", ")}.`,
      }),
      search: { mode: "outcome" },
    });
  }
  const address = (start: number) => {
    const before = start > 0 ? found[start - 1] : undefined;
    const kept = [
      ...query.used.filter(([name]) => name !== "_after"),
      ...(before ? [["_after", placeOf(before)] as [string, string]] : []),
    ];
    const text = new URLSearchParams(kept).toString();
    return `${context.base}/${type}${text ? `?${text}` : ""}`;
  };
  const link = [{ relation: "self", url: address(from) }];
  if (!countOnly && from + count < found.length) link.push({ relation: "next", url: address(from + count) });
  if (!countOnly && from > 0) link.push({ relation: "previous", url: address(Math.max(0, from - count)) });
  return {
    resourceType: "Bundle",
    type: "searchset",
    total: found.length,
    link,
    ...(entry.length > 0 ? { entry } : {}),
  };
}

/** What charts are searched by most; worked out ahead of the first search, as a server does when it stores. */
const OFTEN_SEARCHED: Record<string, readonly string[]> = {
  Condition: ["clinical-status", "encounter", "patient", "onset-date"],
  ImagingStudy: ["started", "modality", "patient", "status"],
  Appointment: ["status", "identifier", "based-on", "patient", "date"],
  ServiceRequest: ["status", "intent", "identifier", "occurrence", "subject"],
  Slot: ["status", "start", "schedule"],
};
/** Prepares the common searches bit by bit; each step is a few milliseconds. */
export function* prepareSearches(store: Store): Generator<void> {
  const BIT = 40;
  for (const [type, codes] of Object.entries(OFTEN_SEARCHED)) {
    const params = codes.flatMap((code) => searchParameter(type, code) ?? []);
    let n = 0;
    for (const version of store.all(type)) {
      for (const param of params) valuesOf(version, param);
      if (++n % BIT === 0) yield;
    }
  }
}

/** All current resources that a query matches, unsorted: for conditional create and update. */
export function searchAll(type: string, params: URLSearchParams, context: SearchContext): StoredResource[] {
  const query = readQuery(type, params, { ...context, strict: true });
  return findVersions(type, query, context).map(({ resource }) => resource as StoredResource);
}

/** Whether one resource would be found by a query: for scopes such as `patient/Observation.rs?category=…`. */
export function matchesQuery(resource: Resource, params: URLSearchParams, context: SearchContext): boolean {
  const type = resource.resourceType;
  const version: Version = {
    type,
    id: resource.id ?? "new",
    versionId: "0",
    at: new Date().toISOString(),
    method: "PUT",
    resource: resource as StoredResource,
    values: new Map(),
  };
  return readQuery(type, params, { ...context, strict: true }).filters.every(({ holds }) => holds(version));
}

function findVersions(type: string, { filters }: Query, { store, patientOnly, hidden }: SearchContext): Version[] {
  const indexed = filters.flatMap(({ candidates }) => (candidates ? [candidates()] : []));
  if (patientOnly && isPatientData(type) && type !== "Provenance" && type !== "Patient")
    indexed.push(store.mentioning(type, `Patient/${patientOnly}`));
  const smallest = indexed.sort((a, b) => a.length - b.length)[0] ?? [...store.all(type)];
  return smallest.filter(
    (version) =>
      !hidden?.(version) &&
      filters.every(({ holds }) => holds(version)) &&
      (!patientOnly ||
        !isPatientData(type) ||
        belongsToPatient(version.resource as StoredResource, patientOnly, store)),
  );
}

const RESULT_PARAMETERS = new Set([
  "_count",
  "_after",
  "_sort",
  "_include",
  "_include:iterate",
  "_revinclude",
  "_revinclude:iterate",
  "_elements",
  "_summary",
  "_total",
  "_format",
  "_pretty",
]);

function readQuery(type: string, params: URLSearchParams, context: SearchContext): Query {
  loadDefinitions();
  const filters: Filter[] = [];
  const used: [string, string][] = [];
  const ignored: string[] = [];
  for (const [name, value] of params) {
    if (RESULT_PARAMETERS.has(name)) {
      used.push([name, value]);
      continue;
    }
    if (value === "") continue; // an empty parameter is as if it were not given
    const filter = readFilter(type, name, value, context);
    if (filter) {
      filters.push(filter);
      used.push([name, value]);
    } else {
      ignored.push(name);
    }
  }
  if (context.strict && ignored.length > 0) {
    throw refuse(
      400,
      "not-supported",
      `Unknown search parameter for ${type}: ${ignored.join(", ")}. Known: ${searchParametersOf(type)
        .map(({ code }) => code)
        .sort()
        .join(", ")}.`,
    );
  }
  return { filters, used, ignored };
}

function readFilter(type: string, name: string, value: string, context: SearchContext): Filter | undefined {
  if (name.startsWith("_has:")) return readHas(name, value, context);
  const [head = "", ...chain] = name.split(".");
  const [code = "", modifier] = head.split(":");
  const param = searchParameter(type, code);
  if (!param || param.type === "composite" || param.type === "special") return undefined;
  if (chain.length > 0)
    return param.type === "reference" ? readChain(type, param, modifier, chain.join("."), value, context) : undefined;
  if (modifier === "missing") {
    if (value !== "true" && value !== "false")
      throw refuse(400, "invalid", `${name}: allowed are true and false, not “${value}”.`);
    return { holds: (version) => valuesOf(version, param).present === (value === "false") };
  }
  const wanted = splitEscaped(value, ",");
  const tests = wanted.map((one) => testOf(param, modifier, one, name));
  if (tests.includes(undefined)) return undefined;
  const anyHolds = (version: Version) => tests.some((test) => test?.(valuesOf(version, param), version));
  const filter: Filter = { holds: modifier === "not" ? (version) => !anyHolds(version) : anyHolds };
  const candidates = modifier === "not" ? undefined : indexFor(type, param, modifier, wanted, context.store);
  return candidates ? { ...filter, candidates } : filter;
}

/** Uses the store's indexes for ids, identifiers and references. */
function indexFor(
  type: string,
  param: SearchParameter,
  modifier: string | undefined,
  wanted: string[],
  store: Store,
): (() => Version[]) | undefined {
  const unique = (versions: Version[]) => [...new Set(versions)];
  if (param.code === "_id")
    return () =>
      unique(wanted.flatMap((id) => (store.current(type, id)?.resource ? [store.current(type, id) as Version] : [])));
  if (param.code === "identifier") {
    const pairs = wanted.map((one) => splitEscaped(one, "|").map(unescaped));
    if (pairs.every(([system, value, ...more]) => system && value && more.length === 0)) {
      return () => unique(pairs.flatMap(([system = "", value = ""]) => store.identifiedBy(type, system, value)));
    }
  }
  if (param.type === "reference" && modifier !== "identifier") {
    const local = wanted.map((one) => expandReference(one, param, modifier));
    if (local.every((list) => list.every((reference) => localReference(reference)))) {
      return () => unique(local.flat().flatMap((reference) => store.mentioning(type, reference)));
    }
  }
  return undefined;
}

type Test = (values: Values, version: Version) => boolean;
function testOf(param: SearchParameter, modifier: string | undefined, wanted: string, name: string): Test | undefined {
  const bad = (what: string) => refuse(400, "invalid", `${name}=${wanted}: ${what}`);
  switch (param.type) {
    case "token": {
      if (modifier === "text") return ({ texts }) => texts.some((text) => text.includes(plain(wanted)));
      if (modifier !== undefined && modifier !== "not") return undefined;
      const parts = splitEscaped(wanted, "|");
      const code = unescaped(parts.at(-1) ?? "").toLowerCase();
      const system = parts.length > 1 ? parts.slice(0, -1).join("|") : undefined;
      return ({ tokens }) =>
        tokens.some(
          (token) =>
            (code === "" || token.code === code) &&
            (system === undefined ||
              (system === "" ? token.system === undefined : token.system === system || token.impliedSystem)),
        );
    }
    case "reference": {
      if (modifier === "identifier") {
        const [system = "", value = ""] = splitEscaped(wanted, "|").map(unescaped);
        return ({ references }) =>
          references.some(({ identifier }) => identifier?.system === system && identifier.value === value);
      }
      if (modifier !== undefined && !/^[A-Z]/.test(modifier)) return undefined;
      const accepted = new Set(expandReference(wanted, param, modifier));
      return ({ references }) =>
        references.some(
          ({ reference }) => reference !== undefined && [...shortForms(reference)].some((form) => accepted.has(form)),
        );
    }
    case "date": {
      const [prefix, text] = splitPrefix(wanted);
      const asked = dateRange(text);
      if (!asked)
        throw bad(
          "a date looks like 2026, 2026-11, 2026-11-25 or 2026-11-25T10:30:00Z, with an optional prefix such as ge.",
        );
      return ({ ranges }) => ranges.some((held) => compareRanges(prefix, held, asked));
    }
    case "number": {
      const [prefix, text] = splitPrefix(wanted);
      const asked = numberRange(text);
      if (!asked) throw bad("a number is needed.");
      return ({ numbers }) => numbers.some((held) => compareRanges(prefix, held, asked));
    }
    case "quantity": {
      const [amount = "", system, code] = splitEscaped(wanted, "|");
      const [prefix, text] = splitPrefix(amount);
      const asked = numberRange(text);
      if (!asked) throw bad("a quantity looks like 5.4 or 5.4|http://unitsofmeasure.org|kg.");
      return ({ quantities }) =>
        quantities.some(
          (held) =>
            held.value !== undefined &&
            compareRanges(prefix, { from: held.value, to: held.value }, asked) &&
            (!system || held.system === system) &&
            (!code || held.code === code || (!system && held.unit === code)),
        );
    }
    case "string": {
      const sought = plain(unescaped(wanted));
      if (modifier === "contains") return ({ texts }) => texts.some((text) => text.includes(sought));
      if (modifier === "exact") return ({ texts }) => texts.some((text) => text === sought);
      return modifier === undefined ? ({ texts }) => texts.some((text) => text.startsWith(sought)) : undefined;
    }
    case "uri":
      if (modifier === "below") return ({ uris }) => uris.some((uri) => uri.startsWith(wanted));
      return modifier === undefined ? ({ uris }) => uris.includes(wanted) : undefined;
    default:
      return undefined;
  }
}

/** A bare id may be of any type that the parameter points to; fhirclient and many apps send it so. */
function expandReference(wanted: string, param: SearchParameter, modifier: string | undefined): string[] {
  const text = unescaped(wanted);
  if (/^[A-Za-z0-9\-.]{1,64}$/.test(text)) {
    const targets = modifier ? [modifier] : ((param.target as string[] | undefined) ?? []);
    return targets.map((type) => `${type}/${text}`);
  }
  return [...shortForms(text)];
}
/** The reference as written, and the "Type/id" within it when it has one. */
function* shortForms(reference: string): Generator<string> {
  yield reference;
  if (!reference.includes("://") && !reference.includes("/_history/")) return; // the usual short form: nothing to cut
  const withoutVersion = reference.replace(/\/_history\/[^/]+$/, "");
  if (withoutVersion !== reference) yield withoutVersion;
  const match = /\/([A-Z][A-Za-z]+\/[A-Za-z0-9\-.]{1,64})$/.exec(withoutVersion);
  if (match?.[1]) yield match[1];
}

function readChain(
  type: string,
  param: SearchParameter,
  modifier: string | undefined,
  rest: string,
  value: string,
  context: SearchContext,
): Filter | undefined {
  const targets = (modifier ? [modifier] : ((param.target as string[] | undefined) ?? [])).filter(isStoredType);
  const found = new Set<string>();
  let understood = false;
  for (const target of targets) {
    const filter = readFilter(target, rest, value, context);
    if (!filter) continue;
    understood = true;
    for (const version of context.store.all(target)) if (filter.holds(version)) found.add(`${target}/${version.id}`);
  }
  if (!understood) return undefined;
  return {
    holds: (version) =>
      valuesOf(version, param).references.some(
        ({ reference }) => reference !== undefined && [...shortForms(reference)].some((form) => found.has(form)),
      ),
    candidates: () => [...new Set([...found].flatMap((reference) => context.store.mentioning(type, reference)))],
  };
}

/** `_has:Observation:patient:code=…`: resources that another one of that kind points to. */
function readHas(name: string, value: string, context: SearchContext): Filter | undefined {
  const [, other = "", link = "", ...rest] = name.split(":");
  const param = isStoredType(other) ? searchParameter(other, link) : undefined;
  const filter = param ? readFilter(other, rest.join(":"), value, context) : undefined;
  if (!param || !filter) return undefined;
  const pointedTo = new Set<string>();
  for (const version of context.store.all(other)) {
    if (!filter.holds(version)) continue;
    for (const { reference } of valuesOf(version, param).references)
      for (const form of reference ? shortForms(reference) : []) pointedTo.add(form);
  }
  return { holds: ({ type, id }) => pointedTo.has(`${type}/${id}`) };
}

type SortKey = string | number | undefined;
/** A match with the values that it is sorted by. */
interface Sorted {
  readonly version: Version;
  readonly keys: readonly SortKey[];
}
type InOrder = readonly Sorted[] & { readonly compare?: (a: Sorted, b: Sorted) => number };

/** Where a page ends: the values of its last entry, not a count, so that what leaves the list meanwhile makes no entry be skipped. */
const placeOf = ({ version, keys }: Sorted): string =>
  Buffer.from(JSON.stringify([...keys.map((key) => key ?? null), version.id])).toString("base64url");

function startOfPage(found: InOrder, after: string | null): number {
  if (after === null) return 0;
  const fault = () => refuse(400, "invalid", "This page link is not one that the server gave.");
  let read: unknown;
  try {
    read = JSON.parse(Buffer.from(after, "base64url").toString("utf8"));
  } catch {
    throw fault();
  }
  const isKey = (one: unknown) => one === null || typeof one === "string" || typeof one === "number";
  if (!Array.isArray(read) || !read.every(isKey) || typeof read.at(-1) !== "string") throw fault();
  const place = {
    version: { id: read.at(-1) } as Version,
    keys: read.slice(0, -1).map((key) => (key as string | number | null) ?? undefined),
  };
  if (found[0] && place.keys.length !== found[0].keys.length) throw fault();
  let [low, high] = [0, found.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((found.compare?.(found[middle] as Sorted, place) ?? 0) <= 0) low = middle + 1;
    else high = middle;
  }
  return low;
}

function sortVersions(type: string, versions: Version[], params: URLSearchParams, query: Query): InOrder {
  const keys = (params.get("_sort") ?? "")
    .split(",")
    .filter(Boolean)
    .flatMap((part) => {
      const down = part.startsWith("-");
      const param = searchParameter(type, down ? part.slice(1) : part);
      if (!param) query.ignored.push(`_sort=${part}`);
      return param ? [{ param, down }] : [];
    });
  const unsorted = keys.length === 0; // then the newest first
  const directions = unsorted ? [true] : keys.map(({ down }) => down);
  const found = versions.map((version) => ({
    version,
    keys: unsorted ? [version.at] : keys.map(({ param, down }) => sortKey(valuesOf(version, param), down)),
  }));
  const compare = (a: Sorted, b: Sorted): number => {
    for (const [i, down] of directions.entries()) {
      const [x, y] = [a.keys[i], b.keys[i]];
      if (x === y) continue;
      if (x === undefined) return 1; // what has no value comes last, either way
      if (y === undefined) return -1;
      return (x < y ? -1 : 1) * (down ? -1 : 1);
    }
    return compareText(a.version.id, b.version.id);
  };
  return Object.assign(found.sort(compare), { compare });
}
const compareText = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);
function sortKey({ ranges, tokens, texts, references, numbers, quantities, uris }: Values, down: boolean): SortKey {
  const span = ranges.length > 0 ? ranges : numbers;
  if (span.length > 0) return down ? Math.max(...span.map(({ to }) => to)) : Math.min(...span.map(({ from }) => from));
  return quantities[0]?.value ?? tokens[0]?.code ?? texts[0] ?? references[0]?.reference ?? uris[0];
}

/** `_include` and `_revinclude`, with `:iterate` followed until nothing new is found. */
function included(
  page: readonly Version[],
  params: URLSearchParams,
  query: Query,
  context: SearchContext,
): StoredResource[] {
  const { store } = context;
  const keyOf = (version: Version) => `${version.type}/${version.id}`;
  const seen = new Set(page.map(keyOf));
  const found: Version[] = [];
  const add = (version: Version | undefined) => {
    if (!version?.resource || seen.has(keyOf(version))) return;
    seen.add(keyOf(version));
    found.push(version);
  };
  const follow = (from: readonly Version[], iterate: boolean) => {
    for (const directive of params.getAll(iterate ? "_include:iterate" : "_include")) {
      const [source = "", code = "", target] = directive.split(":");
      for (const version of from) {
        const all = directive === "*" || (code === "*" && source === version.type);
        if (!all && source !== version.type) continue;
        const codes = all
          ? searchParametersOf(version.type)
              .filter(({ type }) => type === "reference")
              .map(({ code: c }) => c)
          : [code];
        for (const each of codes) {
          const param = searchParameter(version.type, each);
          if (!param) continue;
          for (const { reference } of valuesOf(version, param).references) {
            const local = reference ? localReference(reference, context.base) : undefined;
            if (local && (!target || target === local.type)) add(store.current(local.type, local.id));
          }
        }
      }
    }
    for (const directive of params.getAll(iterate ? "_revinclude:iterate" : "_revinclude")) {
      const [source = "", code = ""] = directive.split(":");
      const param = isStoredType(source) ? searchParameter(source, code) : undefined;
      if (!param) {
        if (!query.ignored.includes(`_revinclude=${directive}`)) query.ignored.push(`_revinclude=${directive}`);
        continue;
      }
      for (const { type, id } of from) {
        for (const version of store.mentioning(source, `${type}/${id}`)) {
          if (
            valuesOf(version, param).references.some(
              ({ reference }) => reference && [...shortForms(reference)].includes(`${type}/${id}`),
            )
          )
            add(version);
        }
      }
    }
  };
  follow(page, false);
  for (let done = -1, round: readonly Version[] = [...page, ...found]; found.length !== done; ) {
    done = found.length;
    follow(round, true);
    round = found.slice(done);
  }
  return found
    .map(({ resource }) => resource as StoredResource)
    .filter(
      (resource) =>
        !context.patientOnly ||
        !isPatientData(resource.resourceType) ||
        belongsToPatient(resource, context.patientOnly, store),
    );
}

function readCount(params: URLSearchParams, pageSize: number): number {
  const text = params.get("_count");
  if (text === null) return pageSize;
  if (!/^\d+$/.test(text))
    throw refuse(400, "invalid", `_count=${text}: a whole number from 0 to ${LARGEST_PAGE} is allowed.`);
  return Math.min(Number(text), LARGEST_PAGE);
}

/** `_elements` and `_summary`: what is cut carries the SUBSETTED tag, mandatory elements stay (R4 search.html#elements). */
function shaper(params: URLSearchParams, summary: string | undefined): (resource: StoredResource) => Resource {
  const elements = params
    .get("_elements")
    ?.split(",")
    .map((one) => one.trim())
    .filter(Boolean);
  if (!elements && (summary === undefined || summary === "false" || summary === "count")) return (resource) => resource;
  if (summary !== undefined && !["true", "text", "data"].includes(summary)) {
    throw refuse(400, "invalid", `_summary=${summary}: allowed are true, text, data, count, false.`);
  }
  return (resource) => {
    const root = loadDefinitions().structures.find(
      ({ type, kind }) => kind === "resource" && type === resource.resourceType,
    );
    const top = (root?.snapshot?.element ?? []).flatMap(({ path = "", min = 0, isSummary }) => {
      const [, name, deeper] = path.split(".");
      return name && !deeper
        ? [{ name: name.replace("[x]", ""), mandatory: min > 0, summary: isSummary === true }]
        : [];
    });
    const belongs = (key: string, name: string) =>
      key === name || key === `_${name}` || (key.startsWith(name) && /^[A-Z]/.test(key.slice(name.length)));
    const keep = (key: string) => {
      if (key === "resourceType" || key === "id" || key === "meta") return true;
      const element = top.find(({ name }) => belongs(key, name));
      if (element?.mandatory) return true;
      if (elements) return elements.some((name) => belongs(key, name));
      if (summary === "text") return key === "text";
      if (summary === "data") return key !== "text";
      return element?.summary === true;
    };
    const cut = Object.fromEntries(Object.entries(resource).filter(([key]) => keep(key))) as StoredResource;
    const tag = { system: "http://terminology.hl7.org/CodeSystem/v3-ObservationValue", code: "SUBSETTED" };
    return { ...cut, meta: { ...cut.meta, tag: [...(cut.meta.tag ?? []), tag] } };
  };
}

const entryOf = (resource: Resource, mode: "match" | "include", base: string): BundleEntry => ({
  fullUrl: `${base}/${resource.resourceType}/${resource.id}`,
  resource,
  search: { mode },
});

/** Splits at a separator that is not escaped by a backslash (R4 search.html#escaping). */
export function splitEscaped(text: string, separator: "," | "|" | "$"): string[] {
  const parts: string[] = [""];
  for (let i = 0; i < text.length; i++) {
    const char = text[i] as string;
    if (char === "\\" && i + 1 < text.length) {
      const next = text[++i] as string;
      // other escapes stay for the next split
      parts[parts.length - 1] += next === separator ? next : `\\${next}`;
    } else if (char === separator) parts.push("");
    else parts[parts.length - 1] += char;
  }
  return parts;
}
const unescaped = (text: string) => text.replace(/\\([,|$\\])/g, "$1");

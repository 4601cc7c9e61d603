/** The R4 interactions on one resource (R4 http.html). Each throws FhirError for a refusal. */
import { applyPatch, type Operation } from "rfc6902";
import * as z from "zod/mini";
import type { LedgerEntry, StoreBehaviour } from "./behaviour.ts";
import {
  etag,
  FhirError,
  type FhirRequest,
  type FhirResponse,
  ID,
  localReference,
  outcome,
  type Resource,
  refuse,
  type StoredResource,
  versionOf,
} from "./exchange.ts";
import { type SearchContext, searchAll } from "./search.ts";
import { notFound, readOrRefuse, referencesIn, type Store, type Version } from "./store.ts";
import { problemsOf } from "./validate.ts";

export interface Desk {
  readonly store: Store;
  readonly base: string;
  readonly behaviour: StoreBehaviour;
  readonly onWrite: (entry: Omit<LedgerEntry, "n">) => void;
}
/** What a bundle adds to a request: an id that its other entries already point to, and checks left to the end. */
export interface Within {
  readonly kind: LedgerEntry["within"];
  /** Id that the bundle has given to this creation. */
  readonly id?: string;
  /** What the bundle's conditional create found before anything was written. */
  readonly existing?: StoredResource;
  readonly checkReferencesLater?: boolean;
}
export const ALONE: Within = { kind: "single" };

export const searchContext = ({ store, base, behaviour }: Desk, request: FhirRequest): SearchContext => ({
  store,
  base,
  pageSize: behaviour.pageSize,
  patientOnly: request.patientOnly,
  strict: /handling=strict/.test(request.headers.prefer ?? ""),
  ...(behaviour.staleSearchMs > 0 && !/no-cache/.test(request.headers["cache-control"] ?? "")
    ? { hidden: ({ at }: Version) => Date.now() - Date.parse(at) < behaviour.staleSearchMs }
    : {}),
});

export function create(desk: Desk, request: FhirRequest, type: string, within: Within): FhirResponse {
  const resource = validResource(request.body, type);
  const condition = request.headers["if-none-exist"];
  if (within.existing) return answer(desk, request, within.existing, 200);
  if (condition && !within.id && !desk.behaviour.ignoreIfNoneExist) {
    const existing = findForCondition(desk, type, condition, "If-None-Exist");
    if (existing) return answer(desk, request, existing, 200);
  }
  return write(desk, request, resource, within.id ?? desk.store.newId(), "POST", within);
}

/** The one resource that a condition finds, undefined for none; several are refused with 412 (R4 http.html#ccreate). */
export function findForCondition(
  desk: Desk,
  type: string,
  condition: string,
  name: string,
): StoredResource | undefined {
  const params = new URLSearchParams(condition.replace(/^[^?=]*\?/, ""));
  if ([...params].length === 0)
    throw refuse(400, "invalid", `${name} is empty; it should look like identifier=system|value.`);
  const found = searchAll(type, params, { store: desk.store, base: desk.base, pageSize: desk.behaviour.pageSize });
  if (found.length > 1)
    throw refuse(412, "multiple-matches", `${name}: ${found.length} ${type} resources match; at most one may.`);
  return found[0];
}

export function read(desk: Desk, request: FhirRequest, type: string, id: string): FhirResponse {
  const resource = readOrRefuse(desk.store, type, id);
  const { "if-none-match": noneMatch, "if-modified-since": since } = request.headers;
  const unchanged =
    noneMatch?.split(",").some((one) => versionOf(one) === resource.meta.versionId) ||
    (noneMatch === undefined &&
      since !== undefined &&
      Math.floor(Date.parse(resource.meta.lastUpdated) / 1000) * 1000 <= Date.parse(since));
  if (unchanged) return { status: 304, headers: versionHeaders(resource) };
  return { status: 200, headers: versionHeaders(resource), body: resource };
}
export function vread(desk: Desk, type: string, id: string, versionId: string): FhirResponse {
  const version = desk.store.versions(type, id).find((each) => each.versionId === versionId);
  if (!version) throw refuse(404, "not-found", `${type}/${id} has no version ${versionId}.`);
  if (!version.resource) throw refuse(410, "deleted", `Version ${versionId} of ${type}/${id} is its deletion.`);
  return { status: 200, headers: versionHeaders(version.resource), body: version.resource };
}

export function update(desk: Desk, request: FhirRequest, type: string, id: string, within: Within): FhirResponse {
  if (!ID.test(id))
    throw refuse(400, "invalid", `“${id.slice(0, 70)}” is not an id: letters, digits, - and ., at most 64.`);
  const resource = validResource(request.body, type);
  if (resource.id !== id) throw refuse(400, "invalid", `The resource must carry the id of its address, ${id}.`);
  checkIfMatch(desk, request, type, id);
  return write(desk, request, resource, id, "PUT", within);
}
export function conditionalUpdate(desk: Desk, request: FhirRequest, type: string, within: Within): FhirResponse {
  const existing = findForCondition(desk, type, request.query.toString(), "The condition in the address");
  const resource = validResource(request.body, type);
  if (existing && resource.id !== undefined && resource.id !== existing.id)
    throw refuse(400, "invalid", `The resource carries another id than the one that matches, ${existing.id}.`);
  const id = existing?.id ?? resource.id ?? within.id ?? desk.store.newId();
  checkIfMatch(desk, request, type, id);
  return write(desk, request, { ...resource, id }, id, existing ? "PUT" : "POST", within);
}

const patchSchema = z.array(
  z.looseObject({ op: z.enum(["add", "remove", "replace", "move", "copy", "test"]), path: z.string() }),
);
export function patch(desk: Desk, request: FhirRequest, type: string, id: string, within: Within): FhirResponse {
  const before = readOrRefuse(desk.store, type, id);
  checkIfMatch(desk, request, type, id);
  const operations = patchSchema.safeParse(request.body);
  if (!operations.success)
    throw refuse(400, "invalid", "A JSON Patch (RFC 6902) is a list of operations with op and path.");
  const after = structuredClone(before) as Resource;
  const failed = applyPatch(after, operations.data as unknown as Operation[]).find((error) => error !== null);
  if (failed) throw refuse(422, "processing", `The patch does not apply: ${failed.name} ${failed.message}`);
  if (after.id !== id || after.resourceType !== type)
    throw refuse(422, "business-rule", "A patch may not change the id or the type.");
  return write(desk, request, validResource(after, type), id, "PATCH", within);
}

export function remove(desk: Desk, request: FhirRequest, type: string, id: string, within: Within): FhirResponse {
  const version = desk.store.current(type, id);
  if (!version) throw notFound(type, id);
  checkIfMatch(desk, request, type, id);
  if (!version.resource) return { status: 204, headers: { etag: etag(version.versionId) } };
  const gone = desk.store.remove(type, id);
  const entry = {
    at: gone.at,
    method: "DELETE",
    reference: `${type}/${id}`,
    versionId: gone.versionId,
    identifiers: identifiersOf(version.resource),
    within: within.kind,
    by: request.by ?? "",
  } as const;
  desk.store.whenKept(() => desk.onWrite(entry));
  return { status: 204, headers: { etag: etag(gone.versionId) } };
}

/** `$validate`: always 200, the finding is in the outcome (R4 resource-operation-validate). */
export function validateOperation(request: FhirRequest, type: string): FhirResponse {
  const sent = request.body as
    | { resourceType?: string; parameter?: { name?: string; resource?: Resource }[] }
    | undefined;
  const resource =
    sent?.resourceType === "Parameters"
      ? sent.parameter?.find(({ name }) => name === "resource")?.resource
      : (sent as Resource | undefined);
  const problems = problemsOf(resource);
  if (resource?.resourceType !== type)
    problems.push({
      severity: "error",
      code: "invalid",
      diagnostics: `A ${type} was announced, a ${String(resource?.resourceType)} came.`,
    });
  const body =
    problems.length > 0
      ? outcome(...problems)
      : outcome({ severity: "information", code: "informational", diagnostics: "Valid." });
  return { status: 200, headers: {}, body };
}

function write(
  desk: Desk,
  request: FhirRequest,
  resource: Resource,
  id: string,
  method: "POST" | "PUT" | "PATCH",
  within: Within,
): FhirResponse {
  const isNew = !desk.store.exists(resource.resourceType, id);
  const { identifier: _dropped, ...withoutIdentifier } = resource;
  const stored = desk.store.atomically(() => {
    const kept = desk.store.put(desk.behaviour.dropIdentifier ? (withoutIdentifier as Resource) : resource, id, method);
    if (!within.checkReferencesLater) checkReferences(desk, kept);
    return kept;
  });
  const entry = {
    at: stored.meta.lastUpdated,
    method,
    reference: `${stored.resourceType}/${id}`,
    versionId: stored.meta.versionId,
    identifiers: identifiersOf(stored),
    within: within.kind,
    by: request.by ?? "",
  };
  desk.store.whenKept(() => desk.onWrite(entry));
  return answer(desk, request, stored, isNew ? 201 : 200);
}

/** References to this server must lead somewhere; others are not followed. */
export function checkReferences({ store, base }: Desk, resource: StoredResource): void {
  for (const reference of referencesIn(resource)) {
    if (reference.startsWith("urn:uuid:"))
      throw refuse(422, "not-found", `${reference} is not the fullUrl of any entry.`);
    const local = localReference(reference, base);
    if (local && !store.exists(local.type, local.id))
      throw refuse(
        422,
        "not-found",
        `${resource.resourceType}: the reference ${reference} leads nowhere on this server.`,
      );
  }
}

function validResource(body: unknown, type: string): Resource {
  if (body === null || typeof body !== "object" || Array.isArray(body))
    throw refuse(400, "structure", `A ${type} as JSON is expected in the body.`);
  const resource = body as Resource;
  if (resource.resourceType !== type)
    throw refuse(400, "invalid", `The address says ${type}, the body is a ${String(resource.resourceType)}.`);
  const problems = problemsOf(resource);
  if (problems.length > 0) throw new FhirError(422, problems);
  return resource;
}

function checkIfMatch({ store }: Desk, { headers }: FhirRequest, type: string, id: string): void {
  const wanted = headers["if-match"];
  if (wanted === undefined) return;
  const version = store.current(type, id);
  const now = version?.resource ? version.versionId : undefined;
  if (now !== versionOf(wanted)) {
    throw refuse(
      412,
      "conflict",
      now
        ? `${type}/${id} is at version ${now}, not ${versionOf(wanted)}. Read it again before changing it.`
        : `${type}/${id} is not there, so it cannot be at version ${versionOf(wanted)}.`,
    );
  }
}

export const versionHeaders = ({ meta }: StoredResource): Record<string, string> => ({
  etag: etag(meta.versionId),
  "last-modified": new Date(meta.lastUpdated).toUTCString(),
});
function answer({ base }: Desk, request: FhirRequest, resource: StoredResource, status: number): FhirResponse {
  const headers = {
    ...versionHeaders(resource),
    location: `${base}/${resource.resourceType}/${resource.id}/_history/${resource.meta.versionId}`,
  };
  const prefer = /return=(\w+)/.exec(request.headers.prefer ?? "")?.[1];
  if (prefer === "minimal") return { status, headers };
  if (prefer === "OperationOutcome")
    return {
      status,
      headers,
      body: outcome({ severity: "information", code: "informational", diagnostics: "Stored." }),
    };
  return { status, headers, body: resource };
}
function identifiersOf(resource: Resource): string[] {
  const list = Array.isArray(resource.identifier)
    ? resource.identifier
    : resource.identifier
      ? [resource.identifier]
      : [];
  return (list as { system?: string; value?: string }[]).map(({ system = "", value = "" }) => `${system}|${value}`);
}

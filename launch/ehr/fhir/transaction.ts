/** Transactions (all or nothing) and batches (each for itself): R4 http.html#transaction. */
import {
  type Bundle,
  type BundleEntry,
  FhirError,
  type FhirRequest,
  type FhirResponse,
  isBundle,
  localReference,
  type Resource,
  refuse,
} from "./exchange.ts";
import { checkReferences, type Desk, findForCondition, type Within } from "./interactions.ts";

type Run = (request: FhirRequest, within: Within) => FhirResponse;

export function bundleInteraction(desk: Desk, request: FhirRequest, run: Run): FhirResponse {
  const bundle = request.body as Resource | undefined;
  if (!isBundle(bundle) || (bundle.type !== "transaction" && bundle.type !== "batch")) {
    throw refuse(400, "invalid", "Only a Bundle of type transaction or batch may be posted to the base.");
  }
  const entries = bundle.entry ?? [];
  for (const [i, { request: asked }] of entries.entries()) {
    if (!asked || !METHOD_ORDER.includes(asked.method) || typeof asked.url !== "string") {
      throw refuse(
        400,
        "required",
        `Bundle.entry[${i}].request needs a method (${METHOD_ORDER.join(", ")}) and a url.`,
      );
    }
  }
  const entry =
    bundle.type === "batch" ? runBatch(desk, request, entries, run) : runTransaction(desk, request, entries, run);
  return {
    status: 200,
    headers: {},
    body: { resourceType: "Bundle", type: `${bundle.type}-response`, entry } as Bundle,
  };
}

function runBatch(desk: Desk, request: FhirRequest, entries: BundleEntry[], run: Run): BundleEntry[] {
  return entries.map((entry) => {
    try {
      return responseEntry(run(requestFor(desk, request, entry, entry.resource), { kind: "batch" }));
    } catch (error) {
      if (!(error instanceof FhirError)) throw error;
      return responseEntry(error.toResponse());
    }
  });
}

const METHOD_ORDER = ["DELETE", "POST", "PUT", "PATCH", "GET", "HEAD"];

function runTransaction(desk: Desk, request: FhirRequest, entries: BundleEntry[], run: Run): BundleEntry[] {
  const plans = entries.map((entry, i) => inEntry(i, () => planEntry(desk, entry)));
  const newReference = new Map<string, string>();
  const touched = new Set<string>();
  for (const [i, { fullUrl }] of entries.entries()) {
    const { reference, method, isSearch } = plans[i] as Plan;
    if (fullUrl && reference) {
      if (newReference.has(fullUrl))
        throw refuse(400, "duplicate", `Bundle.entry[${i}]: fullUrl ${fullUrl} occurs twice.`);
      newReference.set(fullUrl, reference);
    }
    if (method === "GET" || method === "HEAD" || isSearch || !reference) continue;
    if (touched.has(reference))
      throw refuse(400, "duplicate", `Bundle.entry[${i}]: ${reference} is changed twice in one transaction.`);
    touched.add(reference);
  }
  const order = entries
    .map((_, i) => i)
    .sort(
      (a, b) =>
        METHOD_ORDER.indexOf((plans[a] as Plan).method) - METHOD_ORDER.indexOf((plans[b] as Plan).method) || a - b,
    );
  const responses: BundleEntry[] = [];
  desk.store.atomically(() => {
    for (const i of order) {
      const entry = entries[i] as BundleEntry;
      const plan = plans[i] as Plan;
      inEntry(i, () => {
        const resource =
          entry.resource &&
          (rewrite(entry.resource, (text) => newReference.get(text) ?? resolveCondition(desk, text)) as Resource);
        responses[i] = responseEntry(
          run(requestFor(desk, request, entry, resource), {
            kind: "transaction",
            checkReferencesLater: true,
            ...plan.within,
          }),
        );
      });
    }
    for (const [i, plan] of plans.entries()) {
      const [type = "", id = ""] = (plan.reference ?? "").split("/");
      const stored = plan.method === "GET" || plan.isSearch ? undefined : desk.store.current(type, id)?.resource;
      if (stored) inEntry(i, () => checkReferences(desk, stored));
    }
  });
  return responses;
}

interface Plan {
  readonly method: string;
  /** "Type/id" that this entry creates, changes or reads. */
  readonly reference: string | undefined;
  readonly isSearch: boolean;
  readonly within: Omit<Within, "kind">;
}
/** Decides before anything is written which id each entry will have, so that entries may point to one another. */
function planEntry(desk: Desk, { request, resource }: BundleEntry): Plan {
  const { method, url, ifNoneExist } = request as NonNullable<BundleEntry["request"]>;
  const [path = "", query] = url.replace(`${desk.base}/`, "").replace(/^\//, "").split("?");
  const [type = "", id] = path.split("/");
  const isSearch = path.endsWith("_search") || path.includes("$");
  const plan = (givenId: string | undefined, within: Omit<Within, "kind"> = {}): Plan => ({
    method,
    isSearch,
    within,
    reference: givenId === undefined ? undefined : `${type}/${givenId}`,
  });
  if (method === "POST" && !isSearch) {
    if (!resource) throw refuse(400, "required", "A POST entry needs a resource.");
    const existing =
      ifNoneExist && !desk.behaviour.ignoreIfNoneExist
        ? findForCondition(desk, type, ifNoneExist, "ifNoneExist")
        : undefined;
    const newId = existing?.id ?? desk.store.newId();
    return plan(newId, existing ? { existing } : { id: newId });
  }
  if (method === "PUT" && query !== undefined) {
    const newId =
      findForCondition(desk, type, query, "The condition in the url")?.id ?? resource?.id ?? desk.store.newId();
    return plan(newId, { id: newId });
  }
  return plan(id);
}

export function requestFor(
  { base }: { base: string },
  outer: FhirRequest,
  { request }: BundleEntry,
  resource: Resource | undefined,
): FhirRequest {
  const { method, url, ifMatch, ifNoneExist, ifNoneMatch, ifModifiedSince } = request as NonNullable<
    BundleEntry["request"]
  >;
  const [path = "", query = ""] = url.replace(`${base}/`, "").replace(/^\//, "").split("?");
  const isPatch = method === "PATCH" && resource?.resourceType === "Binary";
  return {
    method,
    path,
    query: new URLSearchParams(query),
    headers: {
      prefer: outer.headers.prefer,
      "cache-control": outer.headers["cache-control"],
      "if-match": ifMatch,
      "if-none-exist": ifNoneExist,
      "if-none-match": ifNoneMatch,
      "if-modified-since": ifModifiedSince,
    },
    body: isPatch ? patchIn(resource) : resource,
    ...(outer.patientOnly ? { patientOnly: outer.patientOnly } : {}),
    ...(outer.by ? { by: outer.by } : {}),
  };
}
/** In a bundle a JSON Patch travels as a Binary (R4 http.html#patch). */
function patchIn(binary: Resource): unknown {
  try {
    return JSON.parse(Buffer.from(String(binary.data ?? ""), "base64").toString("utf8"));
  } catch {
    throw refuse(400, "structure", "The Binary of a PATCH entry must hold a JSON Patch.");
  }
}

/** A reference such as `Practitioner?identifier=…` stands for the one that matches. */
function resolveCondition(desk: Desk, text: string): string | undefined {
  const match = /^([A-Z][A-Za-z]+)\?(.+=.*)$/.exec(text);
  if (!match?.[1] || !match[2]) return undefined;
  const found = findForCondition(desk, match[1], match[2], `The conditional reference ${text}`);
  if (!found) throw refuse(412, "not-found", `The conditional reference ${text} matches nothing.`);
  return `${found.resourceType}/${found.id}`;
}

/** Replaces references, and uris that equal a fullUrl, everywhere in a resource. */
function rewrite(node: unknown, replace: (text: string) => string | undefined, key = ""): unknown {
  if (typeof node === "string")
    return (key === "reference" || node.startsWith("urn:uuid:") ? replace(node) : undefined) ?? node;
  if (Array.isArray(node)) return node.map((item) => rewrite(item, replace, key));
  if (node === null || typeof node !== "object") return node;
  return Object.fromEntries(Object.entries(node).map(([name, value]) => [name, rewrite(value, replace, name)]));
}

export function responseEntry({ status, headers, body }: FhirResponse): BundleEntry {
  const isOutcome = body?.resourceType === "OperationOutcome";
  return {
    ...(body && !isOutcome ? { resource: body } : {}),
    response: {
      status: `${status} ${REASONS[status] ?? ""}`.trim(),
      ...(headers.location ? { location: headers.location } : {}),
      ...(headers.etag ? { etag: headers.etag } : {}),
      ...(body?.meta?.lastUpdated && localReference(`${body.resourceType}/${body.id}`)
        ? { lastModified: body.meta.lastUpdated }
        : {}),
      ...(isOutcome ? { outcome: body } : {}),
    },
  };
}
const REASONS: Record<number, string> = {
  200: "OK",
  201: "Created",
  204: "No Content",
  304: "Not Modified",
  400: "Bad Request",
  401: "Unauthorized",
  403: "Forbidden",
  404: "Not Found",
  405: "Method Not Allowed",
  410: "Gone",
  412: "Precondition Failed",
  422: "Unprocessable Entity",
};

/** Names the entry in a refusal: "Bundle.entry[2]: …". */
function inEntry<T>(i: number, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (!(error instanceof FhirError)) throw error;
    throw new FhirError(
      error.status,
      error.issues.map((issue) => ({ ...issue, diagnostics: `Bundle.entry[${i}]: ${issue.diagnostics}` })),
      error.headers,
    );
  }
}

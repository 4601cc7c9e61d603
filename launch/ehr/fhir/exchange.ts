/** What goes in and out of a FHIR server, free of HTTP plumbing, so that guard, store and proxy speak the same words. */

export interface Meta {
  versionId?: string;
  lastUpdated?: string;
  tag?: { system?: string; code?: string; display?: string }[];
  [key: string]: unknown;
}
/** Any R4 resource as JSON. The store never needs more of its type than this. */
export interface Resource {
  resourceType: string;
  id?: string;
  meta?: Meta;
  [element: string]: unknown;
}
export interface StoredResource extends Resource {
  id: string;
  meta: Meta & { versionId: string; lastUpdated: string };
}
export interface BundleEntry {
  fullUrl?: string;
  resource?: Resource;
  request?: {
    method: string;
    url: string;
    ifNoneExist?: string;
    ifMatch?: string;
    ifNoneMatch?: string;
    ifModifiedSince?: string;
  };
  response?: { status: string; location?: string; etag?: string; lastModified?: string; outcome?: Resource };
  search?: { mode: "match" | "include" | "outcome" };
}
export interface Bundle extends Resource {
  resourceType: "Bundle";
  type: string;
  total?: number;
  link?: { relation: string; url: string }[];
  entry?: BundleEntry[];
}
export const isBundle = (resource: Resource | undefined): resource is Bundle => resource?.resourceType === "Bundle";

export interface FhirRequest {
  method: string;
  /** Below the base, without a leading slash: "Condition/1/_history/2". Empty for the base itself. */
  path: string;
  query: URLSearchParams;
  /** Lower-case names. */
  headers: Readonly<Record<string, string | undefined>>;
  body?: unknown;
  /** Set by the guard: searches find only what belongs to this patient. */
  patientOnly?: string;
  /** Set by the guard, for the ledger. */
  by?: string;
}
export interface FhirResponse {
  status: number;
  headers: Record<string, string>;
  body?: Resource;
}
/** The practice store or a proxy in front of another server. */
export interface FhirService {
  handle(request: FhirRequest): FhirResponse | Promise<FhirResponse>;
  /** Which type a further page of a search holds, when its address is the base with this query; undefined if never given out. */
  pageType?(query: URLSearchParams): string | undefined;
}

export interface Issue {
  severity: "fatal" | "error" | "warning" | "information";
  /** From the R4 issue-type value set. */
  code: string;
  diagnostics: string;
  expression?: string[];
}
export const outcome = (...issue: Issue[]): Resource => ({ resourceType: "OperationOutcome", issue });

/** A refusal with its HTTP status; becomes an OperationOutcome. */
export class FhirError extends Error {
  readonly status: number;
  readonly issues: Issue[];
  readonly headers: Record<string, string>;
  constructor(status: number, issues: Issue[] | Issue, headers: Record<string, string> = {}) {
    const list = Array.isArray(issues) ? issues : [issues];
    super(list.map(({ diagnostics }) => diagnostics).join("; "));
    this.status = status;
    this.issues = list;
    this.headers = headers;
  }
  toResponse(): FhirResponse {
    return { status: this.status, headers: this.headers, body: outcome(...this.issues) };
  }
}
export const refuse = (status: number, code: string, diagnostics: string) =>
  new FhirError(status, { severity: "error", code, diagnostics });

export const ID = /^[A-Za-z0-9\-.]{1,64}$/;
export const etag = (versionId: string) => `W/"${versionId}"`;
/** Version named by If-Match / If-None-Match; weak and strong forms are taken alike. */
export const versionOf = (header: string) =>
  header
    .trim()
    .replace(/^W\//, "")
    .replace(/^"(.*)"$/, "$1");
/** Splits "Type/id" out of a relative or absolute reference; undefined for urn:, #contained and canonical addresses. */
export function localReference(
  reference: string,
  base?: string,
): { type: string; id: string; version?: string } | undefined {
  const relative = base && reference.startsWith(`${base}/`) ? reference.slice(base.length + 1) : reference;
  const match = /^([A-Z][A-Za-z]+)\/([A-Za-z0-9\-.]{1,64})(?:\/_history\/([A-Za-z0-9\-.]{1,64}))?$/.exec(relative);
  return match?.[1] && match[2]
    ? { type: match[1], id: match[2], ...(match[3] ? { version: match[3] } : {}) }
    : undefined;
}

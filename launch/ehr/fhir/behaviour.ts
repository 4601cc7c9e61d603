/** What a server that supports only part leaves out. */
export interface Offered {
  readonly transaction: boolean;
  readonly conditionalCreate: boolean;
  /** Nothing can be created, changed or deleted. */
  readonly readOnly: boolean;
  /** Types of which nothing can be created. */
  readonly noCreate: readonly string[];
  /** Types of which nothing can be changed. */
  readonly noUpdate: readonly string[];
  /** False: the CapabilityStatement claims all of it nevertheless. */
  readonly stated: boolean;
  /** HTTP status of a refusal. */
  readonly refuseWith: number;
}
export const EVERYTHING: Offered = {
  transaction: true,
  conditionalCreate: true,
  readOnly: false,
  noCreate: [],
  noUpdate: [],
  stated: true,
  refuseWith: 405,
};

/** How the store misbehaves on demand, so that a client can be tried against servers that are not ideal. All off by default. */
export interface StoreBehaviour {
  /** Entries per page when the client names no `_count`. */
  pageSize: number;
  /** The server forgets `identifier` on everything it stores. */
  dropIdentifier: boolean;
  /** Conditional creates always create. */
  ignoreIfNoneExist: boolean;
  /** Searches find what was written only after this many milliseconds, unless asked with Cache-Control: no-cache. */
  staleSearchMs: number;
  capabilities: Offered;
}
export const WELL_BEHAVED: StoreBehaviour = {
  pageSize: 50,
  dropIdentifier: false,
  ignoreIfNoneExist: false,
  staleSearchMs: 0,
  capabilities: EVERYTHING,
};

/** One accepted write, for checks that count what really reached the store. */
export interface LedgerEntry {
  n: number;
  at: string;
  method: "POST" | "PUT" | "PATCH" | "DELETE";
  reference: string;
  versionId: string;
  identifiers: string[];
  within: "single" | "transaction" | "batch";
  by: string;
}

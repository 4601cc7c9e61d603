/**
 * The practice EHR on its worst days, on demand: faults, withheld scopes, refused types, a forgetful or slow server.
 * `POST /practice/control` sets, `GET` shows; `/practice/ledger`, `/practice/requests` and `/practice/sign-ins` tell what happened.
 */
import * as z from "zod/mini";
import { type LedgerEntry, type StoreBehaviour, WELL_BEHAVED } from "./fhir/behaviour.ts";
import { type SignInStep, type SmartBehaviour, WELL_SET } from "./smart/authorization-server.ts";

const count = z.int().check(z.gte(0));
const faultSchema = z.strictObject({
  /** Which requests: method, and a regular expression over path and query. */
  method: z.optional(z.enum(["GET", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"])),
  path: z.optional(z.string()),
  /** How many of the matching requests are hit; 1 unless given. */
  times: z._default(z.int().check(z.gte(1)), 1),
  /** How many matching requests pass before the first is hit. */
  skip: z._default(count, 0),
  kind: z.enum(["status", "delay", "cut-before", "cut-after", "html", "truncated", "empty", "garbage"]),
  status: z.optional(z.int().check(z.gte(200), z.lte(599))),
  delayMs: z.optional(count),
  retryAfter: z.optional(z.string()),
  /** "status" and "html": do the work first, then answer so. */
  afterCommit: z._default(z.boolean(), false),
});
export type Fault = z.infer<typeof faultSchema>;

export const controlSchema = z.strictObject({
  /** Back to good behaviour; logs and stored data stay. */
  reset: z.optional(z.literal(true)),
  /** Empties ledger, request log and sign-in record. */
  clearLogs: z.optional(z.literal(true)),
  /** Puts the invented charts back as they were at the start. */
  reseed: z.optional(z.literal(true)),
  faults: z.optional(z.array(faultSchema)),
  latencyMs: z.optional(count),
  refuseTypes: z.optional(z.array(z.string())),
  pageSize: z.optional(z.int().check(z.gte(1), z.lte(1000))),
  dropIdentifier: z.optional(z.boolean()),
  ignoreIfNoneExist: z.optional(z.boolean()),
  staleSearchMs: z.optional(count),
  tokenSeconds: z.optional(z.int().check(z.gte(1), z.lte(3600))),
  denyScopes: z.optional(z.array(z.string())),
  patientOnRefresh: z.optional(z.nullable(z.string())),
  omitPatient: z.optional(z.boolean()),
  callbackIss: z.optional(z.enum(["none", "right", "wrong"])),
  needPatientBanner: z.optional(z.boolean()),
  expiresInAsText: z.optional(z.boolean()),
  idToken: z.optional(z.enum(["good", "wrong-nonce", "wrong-audience", "expired"])),
  /** Resources that a colleague enters meanwhile; with an id that exists it is the next version. Not checked. */
  enter: z.optional(z.array(z.looseObject({ resourceType: z.string(), id: z.optional(z.string()) }))),
  /** More registered apps, for tests that bring their own page. */
  clients: z.optional(
    z.array(
      z.strictObject({
        clientId: z.string(),
        name: z.string(),
        redirectUris: z.array(z.url()),
        launchUrl: z.optional(z.url()),
      }),
    ),
  ),
  /** A server that supports only part; what is not named is supported. Its CapabilityStatement says so unless `stated` is false. */
  capabilities: z.optional(
    z.strictObject({
      transaction: z._default(z.boolean(), true),
      conditionalCreate: z._default(z.boolean(), true),
      readOnly: z._default(z.boolean(), false),
      noCreate: z._default(z.array(z.string()), []),
      noUpdate: z._default(z.array(z.string()), []),
      stated: z._default(z.boolean(), true),
      refuseWith: z._default(z.int().check(z.gte(400), z.lte(599)), 405),
    }),
  ),
});
export type Control = z.infer<typeof controlSchema>;

/** One request to the practice EHR, for counting and for measuring round trips. Times in ms since the start of the process. */
export interface RequestRecord {
  n: number;
  method: string;
  /** Path and query below the EHR's origin. */
  path: string;
  origin: string | null;
  startedAt: number;
  answeredAt: number;
  /** 0 when the connection was cut on purpose. */
  status: number;
  bytes: number;
}

export class PracticeControl {
  readonly store: StoreBehaviour = { ...WELL_BEHAVED };
  readonly smart: SmartBehaviour;
  refuseTypes: string[] = [];
  latencyMs: number;
  readonly ledger: LedgerEntry[] = [];
  readonly requests: RequestRecord[] = [];
  readonly signIns: SignInStep[] = [];
  private faults: { fault: Fault; left: number; skip: number; pattern: RegExp | undefined }[] = [];
  private readonly firstSettings: { tokenSeconds: number; latencyMs: number };

  constructor({
    tokenSeconds = WELL_SET.tokenSeconds,
    latencyMs = 0,
  }: { tokenSeconds?: number; latencyMs?: number } = {}) {
    this.firstSettings = { tokenSeconds, latencyMs };
    this.smart = { ...WELL_SET, tokenSeconds };
    this.latencyMs = latencyMs;
  }

  /** Applies a checked control message, apart from `reseed` and `clients`, which the EHR does itself. */
  apply(control: Control): void {
    if (control.reset) this.reset();
    if (control.clearLogs) for (const log of [this.ledger, this.requests, this.signIns]) log.length = 0;
    if (control.faults) {
      this.faults.push(
        ...control.faults.map((fault) => ({
          fault,
          left: fault.times,
          skip: fault.skip,
          pattern: fault.path === undefined ? undefined : new RegExp(fault.path),
        })),
      );
    }
    if (control.latencyMs !== undefined) this.latencyMs = control.latencyMs;
    if (control.refuseTypes) this.refuseTypes = control.refuseTypes;
    for (const name of Object.keys(this.store) as (keyof StoreBehaviour)[])
      if (control[name] !== undefined) Object.assign(this.store, { [name]: control[name] });
    for (const name of Object.keys(this.smart) as (keyof SmartBehaviour)[])
      if (control[name] !== undefined) Object.assign(this.smart, { [name]: control[name] });
  }
  private reset(): void {
    Object.assign(this.store, WELL_BEHAVED);
    Object.assign(this.smart, WELL_SET, { tokenSeconds: this.firstSettings.tokenSeconds });
    this.refuseTypes = [];
    this.latencyMs = this.firstSettings.latencyMs;
    this.faults = [];
  }
  shown() {
    const { store, smart, refuseTypes, latencyMs } = this;
    return {
      ...store,
      ...smart,
      refuseTypes,
      latencyMs,
      faults: this.faults.map(({ fault, left }) => ({ ...fault, left })),
    };
  }

  /** The fault that hits this request, if one is set; each is used up by its count. */
  takeFault(method: string, path: string): Fault | undefined {
    for (const waiting of this.faults) {
      if (waiting.fault.method ? waiting.fault.method !== method : method === "OPTIONS") continue;
      if (waiting.pattern && !waiting.pattern.test(path)) continue;
      if (waiting.skip > 0) {
        waiting.skip--;
        continue;
      }
      waiting.left--;
      if (waiting.left <= 0) this.faults = this.faults.filter((each) => each !== waiting);
      return waiting.fault;
    }
    return undefined;
  }
}

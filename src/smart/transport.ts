/**
 * The one way to the record system: every FHIR read and write goes through here, so that the token, the time-outs,
 * the checks of what comes back and the words for what goes wrong are in one place.
 */
import * as z from "zod/mini";
import { isPlainJson } from "../fhir/plain-json.ts";
import { addressUnder } from "./fhir-address.ts";
import { type Problem, shortened } from "./problem.ts";
import type { ServerClock } from "./server-clock.ts";
import type { TokenSource } from "./token.ts";

export type FhirProblemKind =
  | "refused"
  | "unsupported"
  | "not-found"
  | "invalid"
  | "conflict"
  | "busy"
  | "server"
  | "offline"
  | "timeout"
  | "stopped"
  | "not-fhir"
  | "too-large"
  | "foreign-url"
  | "ended"
  | "locked";

/** One issue of an OperationOutcome. `text` is the server's and may hold chart data: labelled box only, never a log. */
export interface OutcomeIssue {
  readonly severity: string;
  readonly code: string;
  readonly text: string;
  readonly at: readonly string[];
}

/** `title`, `what` and `next` never hold patient data, addresses or the server's words. */
export interface FhirProblem extends Problem<FhirProblemKind> {
  readonly status?: number;
  readonly outcome?: readonly OutcomeIssue[];
  readonly retryAfterSeconds?: number;
}

export interface FhirResource {
  readonly resourceType: string;
  readonly id?: string | undefined;
  readonly [element: string]: unknown;
}

export type FhirAnswer<T> =
  | { readonly ok: true; readonly value: T; readonly status: number; readonly location?: string }
  | { readonly ok: false; readonly problem: FhirProblem };

export interface SearchResult {
  readonly matches: readonly FhirResource[];
  readonly included: readonly FhirResource[];
  /** OperationOutcomes among the entries: what the server remarked on the search itself. */
  readonly remarks: readonly FhirResource[];
  /** Entries that hold no readable resource. */
  readonly unreadable: number;
  /** True when the server has more than was read. */
  readonly more: boolean;
  /** Address of the next page, where reading stopped at the limit: it can be searched as it is. */
  readonly next?: string;
  /** How many there are, as the server says. */
  readonly total?: number;
  /** Why reading stopped before the end. */
  readonly stoppedBy?: "limit" | "loop" | "foreign-link" | "total" | FhirProblemKind;
}

export interface ReadingOptions {
  readonly signal?: AbortSignal | undefined;
  /**
   * The first reading of a chart, whose answers are only proposals: it may use what the record system itself allows to be
   * kept. Any other mode makes the browser ask for permission (a CORS preflight) anew before every single request. What a
   * write rests on is always read afresh.
   */
  readonly mayBeKept?: boolean | undefined;
}

export interface WritingOptions {
  readonly method?: "PUT";
  readonly headers?: Readonly<Record<string, string>>;
  readonly signal?: AbortSignal;
}

export interface Transport {
  readonly base: string;
  /** Reads one resource, `Patient/12`, or the server's own statement, `metadata`. */
  read(reference: string, options?: ReadingOptions): Promise<FhirAnswer<FhirResource>>;
  /** Searches, `Condition?patient=12&_count=50`, following pages until `limit` matches are there. */
  search(query: string, options: ReadingOptions & { limit: number }): Promise<FhirAnswer<SearchResult>>;
  /** Sends a transaction Bundle, once: what to do when its fate is unknown is not for the transport to decide. */
  transaction(json: string, options?: { signal?: AbortSignal }): Promise<FhirAnswer<FhirResource | undefined>>;
  /** Sends one write, once, to a type (`Condition`, POST) or a resource (`Condition/12`, PUT), with its condition as a header. */
  write(path: string, json: string, options?: WritingOptions): Promise<FhirAnswer<FhirResource | undefined>>;
}

/** Time-outs in milliseconds and caps. [common practice, no source] */
export interface TransportLimits {
  readonly read: number;
  readonly page: number;
  readonly write: number;
  readonly bytes: number;
  readonly pages: number;
}
const LIMITS: TransportLimits = { read: 20_000, page: 30_000, write: 30_000, bytes: 20_000_000, pages: 200 };

const TRIES = 3;
const LONGEST_WAIT_SECONDS = 60;
/** Worth another try of a read; never of a write. */
const PASSING = [429, 502, 503, 504];

const resource = z
  .looseObject({
    resourceType: z.string().check(z.regex(/^[A-Z][A-Za-z]+$/)),
    id: z.optional(z.string()),
  })
  .check(z.refine((read) => isPlainJson(read)));
const bundle = z.looseObject({
  resourceType: z.literal("Bundle"),
  total: z.catch(z.optional(z.number()), undefined),
  link: z.catch(z.optional(z.array(z.object({ relation: z.string(), url: z.string() }))), undefined),
  entry: z.optional(z.array(z.unknown())),
});
const searchEntry = z.object({
  resource,
  search: z.catch(z.optional(z.object({ mode: z.optional(z.string()) })), undefined),
});
const outcomeIssue = z.object({
  severity: z.catch(z.string(), "error"),
  code: z.catch(z.string(), "unknown"),
  details: z.catch(z.optional(z.object({ text: z.optional(z.string()) })), undefined),
  diagnostics: z.catch(z.optional(z.string()), undefined),
  expression: z.catch(z.array(z.string()), []),
});
const operationOutcome = z.object({
  resourceType: z.literal("OperationOutcome"),
  issue: z.catch(z.array(z.unknown()), []),
});

/** The issues of an OperationOutcome, or undefined when `json` is none. */
export function outcomeIn(json: unknown): OutcomeIssue[] | undefined {
  const answer = operationOutcome.safeParse(json);
  if (!answer.success) return undefined;
  return answer.data.issue.flatMap((one) => {
    const issue = outcomeIssue.safeParse(one);
    if (!issue.success) return [];
    const { severity, code, details, diagnostics, expression } = issue.data;
    return [{ severity, code, text: shortened(details?.text ?? diagnostics ?? ""), at: expression }];
  });
}

const TRY_AGAIN = "Try again.";
const WORDS: Record<FhirProblemKind, readonly [title: string, what: string, next: string]> = {
  refused: [
    "The record system does not allow this.",
    "It refused the request; nothing was changed.",
    "Go on without it, or ask for the right to it.",
  ],
  unsupported: [
    "The record system cannot do this.",
    "It does not offer what was asked; nothing was changed.",
    "Go on without it.",
  ],
  "not-found": ["The record system does not have this.", "Nothing was read.", "Go on without it."],
  invalid: [
    "The record system did not accept this.",
    "It found a mistake in what was sent; nothing was changed.",
    "See what it says, correct it, and try again.",
  ],
  conflict: [
    "Someone else changed this in the meantime.",
    "Nothing was overwritten.",
    "Read the chart again and compare before you go on.",
  ],
  busy: ["The record system is too busy.", "It asked to be left alone for a while; nothing was changed.", TRY_AGAIN],
  server: ["The record system has a fault.", "It could not answer.", TRY_AGAIN],
  offline: ["The record system could not be reached.", "The connection failed or was cut.", TRY_AGAIN],
  timeout: ["The record system did not answer in time.", "Waiting was given up.", TRY_AGAIN],
  stopped: ["This was stopped.", "The request was ended from this page.", TRY_AGAIN],
  "not-fhir": [
    "The answer could not be understood.",
    "Something other than a FHIR record came back; it was not used.",
    "Try again. A sign-in page of the network can be the cause.",
  ],
  "too-large": ["The answer is too large.", "It was not read to the end and not used.", "Go on without it."],
  "foreign-url": [
    "The record system pointed to another address.",
    "It was not followed, and nothing was sent there.",
    "Go on without it.",
  ],
  ended: [
    "Your sign-in to the record system has ended.",
    "The request was not sent. What you entered is still here.",
    "Open Fingerpost from the patient's chart again, then continue.",
  ],
  locked: [
    "The record system switched to another patient.",
    "The request was not sent.",
    "Close this page and open Fingerpost again from the chart you want to work in.",
  ],
};

/** A problem in the words of its kind, with what the server said kept apart. */
export function fhirProblem(
  kind: FhirProblemKind,
  more: { status?: number; outcome?: readonly OutcomeIssue[]; retryAfterSeconds?: number } = {},
): FhirProblem {
  const [title, what, next] = WORDS[kind];
  const said = more.outcome?.map((issue) => issue.text).filter(Boolean);
  return { kind, title, what, next, ...more, ...(said?.length ? { serverSaid: shortened(said.join(" ")) } : {}) };
}

function kindOf(status: number, wholeType: boolean): FhirProblemKind {
  if (status === 401) return "ended";
  if (status === 403) return "refused";
  if (status === 404 || status === 410) return wholeType ? "unsupported" : "not-found";
  if (status === 405 || status === 501) return "unsupported";
  if (status === 409 || status === 412) return "conflict";
  if (status === 429) return "busy";
  return status >= 500 ? "server" : "invalid";
}

/** `Retry-After` in seconds, from a number or an HTTP date; undefined when absent or senseless. */
export function retryAfter(header: string | null, now: number): number | undefined {
  if (header === null) return undefined;
  const seconds = /^\d+$/.test(header.trim()) ? Number(header) : (Date.parse(header) - now) / 1000;
  return Number.isFinite(seconds) ? Math.max(0, Math.ceil(seconds)) : undefined;
}

interface Request {
  readonly url: URL;
  readonly body?: string;
  /** Of a request with a body; POST unless given. */
  readonly method?: "PUT";
  readonly headers?: Readonly<Record<string, string>>;
  readonly timeout: number;
  /** A search or a transaction: 404 then means the whole type, not one resource. */
  readonly wholeType: boolean;
  readonly signal?: AbortSignal | undefined;
  readonly mayBeKept?: boolean | undefined;
}

/** The transport of one session. Its answers are values: it throws nothing. */
export function fhirTransport(options: {
  base: string;
  token: TokenSource;
  /** Hears the date of every answer. */
  clock?: ServerClock;
  limits?: Partial<TransportLimits>;
  /** Waits so many milliseconds, or until the signal ends it. */
  wait?: (ms: number, signal?: AbortSignal) => Promise<void>;
}): Transport {
  const { base, token } = options;
  const limits = { ...LIMITS, ...options.limits };
  const wait = options.wait ?? pause;

  const no = (problem: FhirProblem) => ({ ok: false as const, problem });

  function over(): FhirProblem {
    const state = token.state();
    // A token that could not be renewed just now is a passing fault, not the end of the session.
    return fhirProblem(state.kind === "open" ? "offline" : state.kind);
  }

  /** One request and its body. The token goes to addresses under the base only; see `addressUnder`. */
  async function once(request: Request, access: string): Promise<FhirAnswer<unknown>> {
    const late = AbortSignal.timeout(request.timeout);
    try {
      const response = await fetch(request.url, {
        ...(request.body === undefined ? {} : { method: request.method ?? "POST", body: request.body }),
        headers: {
          accept: "application/fhir+json",
          authorization: `Bearer ${access}`,
          ...(request.body === undefined ? {} : { "content-type": "application/fhir+json" }),
          ...request.headers,
        },
        // Keeps the chart out of the browser's cache, and asks servers with a search cache for a fresh look.
        cache: request.mayBeKept ? "default" : "no-store",
        credentials: "omit",
        redirect: "error",
        referrerPolicy: "no-referrer",
        signal: request.signal ? AbortSignal.any([request.signal, late]) : late,
      });
      options.clock?.hear(response.headers.get("date"), request.mayBeKept);
      const { status } = response;
      const text = await bodyText(response, limits.bytes);
      const json = text && /\bjson\b/i.test(response.headers.get("content-type") ?? "") ? parsed(text) : undefined;
      if (!response.ok) {
        const outcome = outcomeIn(json);
        const seconds = retryAfter(response.headers.get("retry-after"), Date.now());
        return no(
          fhirProblem(kindOf(status, request.wholeType), {
            status,
            ...(outcome ? { outcome } : {}),
            ...(seconds === undefined ? {} : { retryAfterSeconds: seconds }),
          }),
        );
      }
      if (text === undefined) return no(fhirProblem("too-large", { status }));
      if (text !== "" && json === undefined) return no(fhirProblem("not-fhir", { status }));
      const location = response.headers.get("location");
      return { ok: true, value: json, status, ...(location ? { location } : {}) };
    } catch (error) {
      if (request.signal?.aborted) return no(fhirProblem("stopped"));
      if (late.aborted) return no(fhirProblem("timeout"));
      return no(fhirProblem(error instanceof UnreadableText ? "not-fhir" : "offline"));
    }
  }

  /** A read: one repeat after a 401 with a renewed token, and few, slower and slower, after a passing fault. */
  async function get(request: Request): Promise<FhirAnswer<unknown>> {
    let renewed = false;
    for (let attempt = 1; ; attempt++) {
      const access = await token.current();
      if (access === undefined) return no(over());
      const answer = await once(request, access);
      if (answer.ok) return answer;
      const { kind, status, retryAfterSeconds } = answer.problem;
      if (status === 401) {
        // Even a fresh token is not accepted: another one would not help.
        if (renewed) return no(fhirProblem("refused", { status }));
        if (!(await token.renewAfter(access))) return no(over());
        renewed = true;
        continue;
      }
      const passing = kind === "offline" || (status !== undefined && PASSING.includes(status));
      if (!passing || attempt >= TRIES || (retryAfterSeconds ?? 0) > LONGEST_WAIT_SECONDS) return answer;
      // Exponential with full jitter, unless the server names a time.
      const ms = retryAfterSeconds === undefined ? Math.random() * 500 * 4 ** attempt : retryAfterSeconds * 1000;
      await wait(Math.min(ms, LONGEST_WAIT_SECONDS * 1000), request.signal);
    }
  }

  /** A write goes out once: what to do when its fate is unknown is not for the transport to decide. */
  async function write(
    path: string,
    body: string,
    options: WritingOptions = {},
  ): Promise<FhirAnswer<FhirResource | undefined>> {
    const url = path ? addressUnder(base, path) : new URL(base);
    if (!url) return no(fhirProblem("foreign-url"));
    const access = await token.current();
    if (access === undefined) return no(over());
    const answer = await once({ ...options, url, body, timeout: limits.write, wholeType: !options.method }, access);
    if (!answer.ok) {
      if (answer.problem.status === 401) await token.renewAfter(access);
      return answer;
    }
    if (answer.value === undefined) return { ...answer, value: undefined };
    const found = resource.safeParse(answer.value);
    return found.success ? { ...answer, value: found.data } : no(fhirProblem("not-fhir", { status: answer.status }));
  }

  return {
    base,

    async read(reference, { signal, mayBeKept } = {}) {
      const url = addressUnder(base, reference);
      if (!url) return no(fhirProblem("foreign-url"));
      const answer = await get({ url, timeout: limits.read, wholeType: false, signal, mayBeKept });
      if (!answer.ok) return answer;
      const found = resource.safeParse(answer.value);
      const wanted = reference === "metadata" ? "CapabilityStatement" : reference.split(/[/?]/, 1)[0];
      if (!found.success || found.data.resourceType !== wanted) {
        return no(fhirProblem("not-fhir", { status: answer.status }));
      }
      return { ok: true, value: found.data, status: answer.status };
    },

    async search(query, { limit, signal, mayBeKept }) {
      const type = query.split("?", 1)[0]!.split("/").at(-1);
      const matches = new Map<string, FhirResource>();
      const included = new Map<string, FhirResource>();
      const remarks: FhirResource[] = [];
      let unreadable = 0;
      let counted = 0;
      let total: number | undefined;
      const done = (status: number, stoppedBy?: SearchResult["stoppedBy"], next?: string) => ({
        ok: true as const,
        status,
        value: {
          matches: [...matches.values()],
          included: [...included.values()],
          remarks,
          unreadable,
          more: stoppedBy !== undefined,
          ...(next ? { next } : {}),
          ...(total === undefined ? {} : { total }),
          ...(stoppedBy ? { stoppedBy } : {}),
        },
      });

      const seen = new Set<string>();
      let url = addressUnder(base, query);
      if (!url) return no(fhirProblem("foreign-url"));
      for (let page = 1; ; page++) {
        seen.add(url.href);
        const timeout = page === 1 ? limits.read : limits.page;
        const answer = await get({ url, timeout, wholeType: true, signal, mayBeKept });
        const found = answer.ok ? bundle.safeParse(answer.value) : undefined;
        const problem = !answer.ok ? answer.problem : found?.success ? undefined : fhirProblem("not-fhir");
        // What earlier pages gave is kept and called incomplete.
        if (problem) return page === 1 ? no(problem) : done(200, problem.kind);
        const { entry = [], link } = found?.data ?? {};
        total = found?.data?.total;
        for (const one of entry) {
          const read = searchEntry.safeParse(one);
          if (!read.success) {
            unreadable++;
            counted++;
            continue;
          }
          const item = read.data.resource;
          const mode = read.data.search?.mode;
          const isMatch = mode === undefined ? item.resourceType === type : mode === "match";
          if (item.resourceType === "OperationOutcome") remarks.push(item);
          else {
            if (isMatch) counted++;
            // One without an id is still an entry of its own, to be told as unreadable.
            const key = `${item.resourceType}/${item.id || `#${counted}`}`;
            (isMatch ? matches : included).set(key, item);
          }
        }
        const next: string | undefined = link?.find((one) => one.relation === "next")?.url;
        if (next === undefined) return done(200, total! > counted ? "total" : undefined);
        if (matches.size >= limit || page >= limits.pages) return done(200, "limit", next);
        const following = addressUnder(base, next);
        if (!following) return done(200, "foreign-link");
        if (seen.has(following.href)) return done(200, "loop");
        url = following;
      }
    },

    transaction: (json, options) => write("", json, options),
    write,
  };
}

class UnreadableText extends Error {}

/** The body as text; undefined when it is larger than `cap` bytes. Reading stops there, before anything is parsed. */
async function bodyText(response: Response, cap: number): Promise<string | undefined> {
  if (!response.body) return "";
  // Broken bytes would become other letters in a name or a dose: such an answer is refused as a whole.
  const decoder = new TextDecoder("utf-8", { fatal: true });
  const reader = response.body.getReader();
  let bytes = 0;
  let text = "";
  for (;;) {
    const { done, value } = await reader.read();
    bytes += value?.byteLength ?? 0;
    if (bytes > cap) {
      reader.cancel().catch(() => undefined);
      return undefined;
    }
    try {
      text += done ? decoder.decode() : decoder.decode(value, { stream: true });
    } catch {
      throw new UnreadableText();
    }
    if (done) return text;
  }
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

function pause(ms: number, signal?: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(resolve, ms);
    signal?.addEventListener("abort", () => {
      clearTimeout(timer);
      resolve();
    });
  });
}

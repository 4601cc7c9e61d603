/** The access token: checked on arrival, kept in memory, renewed once for all who wait, and gone when it ends. */
import * as z from "zod/mini";
import { RESOURCE_ID } from "./fhir-address.ts";
import { failed, type SessionProblem } from "./problem.ts";

/** Seconds; some servers send a text. What is not a sensible number counts as not said. */
const seconds = z.catch(
  z.optional(
    z.pipe(
      z.transform((value) => (typeof value === "string" && value.trim() !== "" ? Number(value) : value)),
      z.number().check(z.gte(0), z.lte(100_000_000)),
    ),
  ),
  undefined,
);

const word = z.string().check(z.minLength(1));

/** SMART App Launch 2.2 token response, as far as we use it. Ids must be R4 ids, since addresses are made of them. */
export const tokenResponse = z.object({
  access_token: word,
  token_type: z.optional(z.string()),
  expires_in: seconds,
  scope: z.optional(z.string()),
  refresh_token: z.catch(z.optional(word), undefined),
  id_token: z.catch(z.optional(word), undefined),
  patient: z.optional(z.string().check(z.regex(RESOURCE_ID))),
  encounter: z.catch(z.optional(z.string().check(z.regex(RESOURCE_ID))), undefined),
  need_patient_banner: z.catch(z.optional(z.boolean()), undefined),
  /** An item may name something else than a reference; such items are left aside. */
  fhirContext: z.catch(z.optional(z.array(z.object({ reference: z.optional(z.string()) }))), undefined),
});
export type TokenResponse = z.output<typeof tokenResponse>;

export type TokenState =
  /** `last`: it cannot be renewed. */
  | { readonly kind: "open"; readonly secondsLeft?: number; readonly last?: true }
  | { readonly kind: "ended" | "locked"; readonly problem: SessionProblem };

/** What the transport needs to know of the session, and no more. */
export interface TokenSource {
  /** The token for the next request, renewed when it is about to run out; undefined when the session is over. */
  current(): Promise<string | undefined>;
  /** The server refused `used` with 401: true when there is another token to try. */
  renewAfter(used: string): Promise<boolean>;
  state(): TokenState;
}

export interface TokenKeeper extends TokenSource {
  /** True when the token lives at least so many seconds more, renewing it if that is possible. */
  lastsFor(seconds: number): Promise<boolean>;
  onChange(listener: () => void): () => void;
  end(problem?: SessionProblem): void;
}

interface Keeping {
  readonly token: TokenResponse;
  /** Seconds the token still lives; undefined when the server did not say. */
  readonly secondsLeft: number | undefined;
  readonly tokenUri: string;
  readonly clientId: string;
  /** Undefined for clinic staff, who are not bound to a patient. */
  readonly patientId: string | undefined;
  /** Called with every renewed answer, so that a reload finds the new tokens. */
  readonly renewed: (token: TokenResponse) => void;
  readonly ended: () => void;
  /** One renewal at a time for every page that holds this session. */
  readonly lockName: string;
}

/** Renew this long before the end, so that no request starts with a token that dies on the way. */
const MARGIN_SECONDS = 10;
const TRIES = 3;

const SESSION_OVER = failed(
  "ended",
  "Your sign-in to the record system has ended.",
  "Nothing more can be read or written. What you entered on this page is still here.",
  "Open Fingerpost from the patient's chart again, then continue.",
).problem as SessionProblem;

const OTHER_PATIENT = failed(
  "locked",
  "The record system switched to another patient.",
  "This page is locked so that nothing is written to the wrong chart.",
  "Close it and open Fingerpost again from the chart you want to work in.",
).problem as SessionProblem;

/**
 * Keeps the tokens of one session. It never throws: when the session is over, `current` gives undefined and `state`
 * says why.
 */
export function keepToken(keeping: Keeping): TokenKeeper {
  let access: string | undefined = keeping.token.access_token;
  let refresh = keeping.token.refresh_token;
  let over: SessionProblem | undefined;
  // A monotonic clock: a wrong or corrected clock of the computer neither ends nor prolongs a session.
  let deadline = keeping.secondsLeft === undefined ? undefined : performance.now() + keeping.secondsLeft * 1000;
  let renewing: Promise<boolean> | undefined;
  const listeners = new Set<() => void>();

  const left = () => (deadline === undefined ? Number.POSITIVE_INFINITY : (deadline - performance.now()) / 1000);

  function finish(problem: SessionProblem): void {
    if (over) return;
    over = problem;
    access = undefined;
    refresh = undefined;
    keeping.ended();
    for (const listener of listeners) listener();
  }

  function renew(): Promise<boolean> {
    renewing ??= inTurn(keeping.lockName, renewOnce).finally(() => {
      renewing = undefined;
    });
    return renewing;
  }

  /** The refresh token is kept until the server says `invalid_grant`: a cut connection is no reason to sign out. */
  async function renewOnce(): Promise<boolean> {
    for (let attempt = 1; refresh !== undefined && attempt <= TRIES; attempt++) {
      const answer = await askForToken(keeping.tokenUri, {
        grant_type: "refresh_token",
        refresh_token: refresh,
        client_id: keeping.clientId,
      });
      if (answer.kind === "refused") {
        finish(SESSION_OVER);
        return false;
      }
      if (answer.kind === "token") {
        const { patient } = answer.token;
        if (keeping.patientId !== undefined && patient !== undefined && patient !== keeping.patientId) {
          finish(OTHER_PATIENT);
          return false;
        }
        access = answer.token.access_token;
        refresh = answer.token.refresh_token ?? refresh;
        deadline =
          answer.token.expires_in === undefined ? undefined : performance.now() + answer.token.expires_in * 1000;
        keeping.renewed({ ...answer.token, refresh_token: refresh });
        for (const listener of listeners) listener();
        return true;
      }
    }
    return false;
  }

  return {
    async current() {
      if (over) return undefined;
      if (left() < MARGIN_SECONDS && refresh !== undefined) await renew();
      if (!over && left() <= 0 && refresh === undefined) finish(SESSION_OVER);
      return over ? undefined : access;
    },
    async renewAfter(used) {
      if (over) return false;
      if (access !== used) return true;
      if (refresh !== undefined) return renew();
      finish(SESSION_OVER);
      return false;
    },
    async lastsFor(wanted) {
      if (over) return false;
      if (left() < wanted && refresh !== undefined) await renew();
      return !over && left() >= wanted;
    },
    state() {
      if (!over && left() <= 0 && refresh === undefined) finish(SESSION_OVER);
      if (over) return { kind: over.kind, problem: over };
      if (deadline === undefined) return { kind: "open" };
      const secondsLeft = Math.max(0, Math.round(left()));
      return refresh === undefined ? { kind: "open", secondsLeft, last: true } : { kind: "open", secondsLeft };
    },
    onChange(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    end(problem = SESSION_OVER) {
      finish(problem);
    },
  };
}

/** Runs `task` alone among all pages of this origin that use the same lock name. */
function inTurn<T>(name: string, task: () => Promise<T>): Promise<T> {
  return navigator.locks ? (navigator.locks.request(name, task) as Promise<T>) : task();
}

type TokenAnswer =
  | { readonly kind: "token"; readonly token: TokenResponse }
  | { readonly kind: "refused" }
  | { readonly kind: "unreachable" };

async function askForToken(tokenUri: string, form: Record<string, string>): Promise<TokenAnswer> {
  try {
    const response = await fetch(tokenUri, {
      method: "POST",
      body: new URLSearchParams(form),
      headers: { accept: "application/json" },
      credentials: "omit",
      redirect: "error",
      cache: "no-store",
      signal: AbortSignal.timeout(15_000),
    });
    if (response.status >= 500 || response.status === 429) return { kind: "unreachable" };
    const json: unknown = await response.json();
    if (!response.ok) {
      const error = z.object({ error: z.string() }).safeParse(json);
      return error.success && error.data.error !== "temporarily_unavailable"
        ? { kind: "refused" }
        : { kind: "unreachable" };
    }
    const answer = tokenResponse.safeParse(json);
    return answer.success ? { kind: "token", token: answer.data } : { kind: "unreachable" };
  } catch {
    return { kind: "unreachable" };
  }
}

/** From the address the sign-in came back to, to a session with one patient on one server, for good. */
import { ready } from "fhirclient/lib/smart.js";
import * as z from "zod/mini";
import { type ClaimedUser, claimedUser } from "./claimed-user.ts";
import { type ConfigAnswer, type Issuer, issuerFor, type PluginConfig } from "./config.ts";
import { fhirBase, hostIn } from "./fhir-address.ts";
import { covers, type ScopeLetter } from "./granted.ts";
import {
  browserAt,
  CURRENT_LAUNCH,
  discover,
  forgetLaunch,
  type LaunchRecord,
  rememberedLaunch,
  rememberLaunch,
  storageWorks,
  tabStorage,
} from "./handshake.ts";
import type { Signer } from "./identity.ts";
import { AGAIN_FROM_CHART, failed, type LaunchProblem, shortened } from "./problem.ts";
import { ServerClock } from "./server-clock.ts";
import { keepToken, type TokenResponse, type TokenState, tokenResponse } from "./token.ts";
import { fhirTransport, type Transport } from "./transport.ts";

/** The patient and the server of this launch. Everything read, drafted or written carries it. */
export interface PatientContext {
  readonly base: string;
  readonly patientId: string;
  readonly encounterId?: string;
  /** Names this launch in our own records; holds nothing of the patient. */
  readonly launchId: string;
}

/** What a launch of clinic staff or of a coder opens: no patient in context, scopes over those of their lists. */
export interface ClinicSession extends Omit<Session, "context" | "needPatientBanner" | "opened"> {
  readonly context: { readonly base: string; readonly launchId: string };
}

export interface Session {
  readonly context: PatientContext;
  readonly issuer: { readonly label: string; readonly host: string };
  readonly config: PluginConfig;
  /** False only when the record system shows the patient itself and said so. */
  readonly needPatientBanner: boolean;
  /** What else was open in the chart at launch, such as a film: "ImagingStudy/12". */
  readonly opened: readonly string[];
  readonly granted: readonly string[];
  can(resource: string, letter: ScopeLetter): boolean;
  /** As claimed, unverified: for display only. */
  readonly user: ClaimedUser;
  /** Verifies who is signed in; only this may be written as the signer. */
  signer(): Promise<Signer>;
  state(): TokenState;
  /** True when requests may still be sent for so many seconds. */
  lastsFor(seconds: number): Promise<boolean>;
  onChange(listener: () => void): () => void;
  readonly fhir: Transport;
  /** The time of day that due days and signatures go by. */
  readonly clock: ServerClock;
  /** Forgets every token, in memory and in the tab. */
  end(): void;
}

export type SessionAnswer =
  | { readonly ok: true; readonly session: Session }
  /** `clinic`, `coder`: no chart was opened because they came in; `problem` is for a page that has nothing for them. */
  | {
      readonly ok: false;
      readonly problem: LaunchProblem;
      readonly clinic?: ClinicSession;
      readonly coder?: ClinicSession;
    };

let opening: Promise<SessionAnswer> | undefined;

/**
 * Opens the session of this page. Call it once, outside React and before anything is drawn: it cleans the address bar
 * at once. Later calls get the same promise, since a code may be exchanged only once.
 */
export function openSession(config: ConfigAnswer | Promise<ConfigAnswer>): Promise<SessionAnswer> {
  opening ??= open(takeArrival(), config);
  return opening;
}

type Arrival = Readonly<Record<"code" | "state" | "error" | "error_description" | "iss", string | null>>;

/** Reads the sign-in's answer from the address bar and takes it out of the bar and of the history. */
function takeArrival(): Arrival {
  const asked = new URL(location.href).searchParams;
  const arrival = {
    code: asked.get("code"),
    state: asked.get("state"),
    error: asked.get("error"),
    error_description: asked.get("error_description"),
    iss: asked.get("iss"),
  };
  if (asked.size > 0) history.replaceState(history.state, "", location.pathname);
  return arrival;
}

/** fhirclient's own record of a launch, as far as we rely on it. */
const launchState = z.looseObject({
  serverUrl: z.string(),
  clientId: z.string(),
  tokenUri: z.string(),
  scope: z.string(),
  expiresAt: z.catch(z.optional(z.number()), undefined),
  tokenResponse: z.looseObject({ access_token: z.optional(z.string()), patient: z.optional(z.unknown()) }),
});
type LaunchState = z.output<typeof launchState>;

/** A sign-in that takes longer than this is not finished with the old launch. [common practice, no source] */
const SIGN_IN_MINUTES = 10;
const TOKEN_TIMEOUT = 15_000;

const NOT_OPENED = "The chart was not opened, and nothing was read or written.";

async function open(arrival: Arrival, configuring: ConfigAnswer | Promise<ConfigAnswer>): Promise<SessionAnswer> {
  if (!storageWorks()) {
    return failed(
      "storage-blocked",
      "The browser lets this page remember nothing.",
      `It is shown inside another page, where the browser blocks storage. ${NOT_OPENED}`,
      "Open Fingerpost in its own window.",
    );
  }
  const found = findLaunch(arrival);
  if (!("launch" in found)) return found;
  const { launch, record } = found;
  const [config, alone] = await Promise.all([configuring, holdTab(record.launchId)]);
  if (!config.ok) return config;
  if (!alone) {
    return failed(
      "open-elsewhere",
      "This chart is already open in another window.",
      "Two windows with one sign-in could sign twice. This one was not opened.",
      "Go on in the other window, or open Fingerpost from the chart again.",
    );
  }
  const issuer = issuerFor(config.config, launch.serverUrl);
  const base = fhirBase(launch.serverUrl);
  if (!issuer || !base) {
    forgetLaunch(record.state);
    return failed(
      "unknown-issuer",
      "This record system is not known here.",
      `The sign-in came from ${hostIn(launch.serverUrl)}. ${NOT_OPENED}`,
      "Open Fingerpost from your own record system.",
      { host: hostIn(launch.serverUrl) },
    );
  }
  if (arrival.iss !== null && !(await answeredBy(arrival.iss, base, launch))) {
    forgetLaunch(record.state);
    return failed(
      "other-server",
      "The sign-in was answered by another server.",
      `The answer names ${hostIn(arrival.iss)}. No code was sent anywhere. ${NOT_OPENED}`,
      AGAIN_FROM_CHART,
      { host: hostIn(arrival.iss) },
    );
  }
  const reopened = launch.tokenResponse.access_token !== undefined;
  const exchanged = reopened ? { ok: true as const, launch } : await exchange(arrival, record.state, issuer, base);
  if (!exchanged.ok) {
    forgetLaunch(record.state);
    return exchanged;
  }
  return start(exchanged.launch, record, issuer, base, config.config, reopened);
}

type FoundLaunch =
  | { readonly launch: LaunchState; readonly record: LaunchRecord }
  | { readonly ok: false; readonly problem: LaunchProblem };

/** The launch of this tab to which the answer in the address bar belongs, or which a reload resumes. */
function findLaunch(arrival: Arrival): FoundLaunch {
  const record = rememberedLaunch();
  const current = tabStorage.get(CURRENT_LAUNCH);
  if (arrival.error !== null) {
    if (record && arrival.state === record.state) forgetLaunch(record.state);
    const said = shortened([arrival.error, arrival.error_description].filter(Boolean).join(": "));
    return failed(
      "denied",
      arrival.error === "access_denied" ? "Access was not granted." : "The record system ended the sign-in.",
      NOT_OPENED,
      AGAIN_FROM_CHART,
      { serverSaid: said },
    );
  }
  const stored = record ? launchState.safeParse(tabStorage.get(record.state)) : undefined;
  if (arrival.code === null && arrival.state === null) {
    const elsewhere = z.object({ launchId: z.string() }).safeParse(history.state);
    if (elsewhere.success && record && elsewhere.data.launchId !== record.launchId) {
      return failed(
        "replaced",
        "Another chart was opened in this window.",
        "This page belonged to an earlier one and was closed. Nothing was read or written.",
      );
    }
    if (record && record.state === current && stored?.success && stored.data.tokenResponse.access_token) {
      return { launch: stored.data, record };
    }
    return failed(
      "no-launch",
      "Fingerpost was not opened from a chart.",
      "It works on one patient at a time and gets that patient from the record system. Nothing was read.",
      "Open the patient's chart in the record system and start Fingerpost there.",
    );
  }
  const belongs = arrival.state !== null && record?.state === arrival.state && current === arrival.state;
  if (arrival.code === null || !belongs || !stored?.success) {
    return failed(
      "state",
      "This sign-in does not belong to a launch from this window.",
      `The answer of the record system carries no launch that was begun here, or one already finished. ${NOT_OPENED}`,
    );
  }
  if (!stored.data.tokenResponse.access_token && Date.now() - record.startedAt > SIGN_IN_MINUTES * 60_000) {
    forgetLaunch(record.state);
    return failed("state", "The sign-in took too long.", `It has to be finished within 10 minutes. ${NOT_OPENED}`);
  }
  return { launch: stored.data, record };
}

/** RFC 9207: a callback that names its issuer must name the one this launch began with. */
async function answeredBy(iss: string, base: string, launch: LaunchState): Promise<boolean> {
  const server = await discover(base);
  if (server?.issuer) return server.issuer === iss;
  return URL.canParse(iss) && new URL(iss).origin === new URL(launch.tokenUri).origin;
}

type Exchanged =
  | { readonly ok: true; readonly launch: LaunchState }
  | { readonly ok: false; readonly problem: LaunchProblem };

/** Code for token, once. */
async function exchange(arrival: Arrival, state: string, issuer: Issuer, base: string): Promise<Exchanged> {
  const address = new URL(location.pathname, location.href);
  address.searchParams.set("state", state);
  // fhirclient puts the code into the form body as it is, where "+" and "&" would change their meaning.
  address.searchParams.set("code", encodeURIComponent(arrival.code ?? ""));
  const exchanging = ready(browserAt(address));
  let timer: ReturnType<typeof setTimeout> | undefined;
  try {
    const late = new Promise<never>((_, reject) => {
      timer = setTimeout(() => reject(new Error("late")), TOKEN_TIMEOUT);
    });
    const client = await Promise.race([exchanging, late]);
    const answer = launchState.safeParse(client.state);
    if (answer.success && answer.data.tokenResponse.access_token) return { ok: true, launch: answer.data };
    return badToken(issuer);
  } catch (error) {
    const status = error instanceof Error && "status" in error ? Number(error.status) : undefined;
    if (status !== undefined && status >= 400 && status < 500) {
      return failed(
        "code-refused",
        "The sign-in has expired or was already used.",
        `${issuer.label} gave no access. ${NOT_OPENED}`,
      );
    }
    // An answer that comes too late must not leave its tokens in the tab.
    exchanging.then(
      () => forgetLaunch(state),
      () => undefined,
    );
    if (status === undefined && error instanceof SyntaxError) return badToken(issuer);
    return failed(
      "server-unreachable",
      `${issuer.label} did not finish the sign-in.`,
      `It could not be reached or did not answer properly. ${NOT_OPENED}`,
      `Check the connection. ${AGAIN_FROM_CHART}`,
      { host: hostIn(base) },
    );
  } finally {
    clearTimeout(timer);
  }
}

function badToken(issuer: Issuer) {
  return failed(
    "bad-token",
    "The answer to the sign-in could not be used.",
    `${issuer.label} did not send what a SMART launch needs. ${NOT_OPENED}`,
    `${AGAIN_FROM_CHART} If it happens again, tell the person who looks after the record system.`,
  );
}

function start(
  launch: LaunchState,
  remembered: LaunchRecord,
  issuer: Issuer,
  base: string,
  config: PluginConfig,
  reopened: boolean,
): SessionAnswer {
  const answer = tokenResponse.safeParse(launch.tokenResponse);
  const patientId = answer.success ? answer.data.patient : undefined;
  const staff = remembered.clinic ? "clinic" : remembered.coder ? "coder" : undefined;
  if (!answer.success || (patientId === undefined && !staff)) {
    forgetLaunch(remembered.state);
    const saidNoPatient = launch.tokenResponse.patient === undefined;
    return saidNoPatient
      ? failed(
          "no-patient",
          "No patient was chosen.",
          `${issuer.label} signed you in but named no patient. Nothing was read or written.`,
          "Open the patient's chart first, then start Fingerpost from it.",
        )
      : badToken(issuer);
  }
  const token = answer.data;
  const record = reopened ? remembered : { ...remembered, signedInAt: Date.now() };
  const secondsLeft = lifeLeft(launch, token, reopened);
  const granted = { scopes: wordsOf(token.scope ?? launch.scope) };

  function remember(now: TokenResponse): void {
    const { codeVerifier: _spent, codeChallenge: _spentToo, ...rest } = launch;
    if (tabStorage.get(CURRENT_LAUNCH) !== record.state) return;
    const expiresAt = now.expires_in === undefined ? undefined : Math.floor(Date.now() / 1000) + now.expires_in;
    tabStorage.set(record.state, { ...rest, expiresAt, tokenResponse: now });
  }
  if (!reopened) {
    remember(token);
    rememberLaunch(record);
  }
  history.replaceState({ launchId: record.launchId }, "", location.pathname + location.hash);

  const context = Object.freeze({
    base,
    launchId: record.launchId,
    ...(staff ? {} : { patientId, ...(token.encounter ? { encounterId: token.encounter } : {}) }),
  }) as PatientContext;
  const keeper = keepToken({
    token,
    secondsLeft,
    tokenUri: launch.tokenUri,
    clientId: launch.clientId,
    patientId: context.patientId as string | undefined,
    lockName: `fingerpost-renewal ${record.launchId}`,
    renewed(now) {
      if (now.scope !== undefined) granted.scopes = wordsOf(now.scope);
      // The launch context stays what it was: only the tokens are new.
      remember({ ...token, ...now, patient: patientId, id_token: token.id_token });
    },
    ended: () => forgetLaunch(record.state),
  });
  const clock = new ServerClock();
  let verified: Promise<Signer & { final: boolean }> | undefined;

  const session: Session = {
    context,
    issuer: { label: issuer.label, host: hostIn(base) },
    config,
    needPatientBanner: token.need_patient_banner !== false,
    opened: (token.fhirContext ?? []).flatMap(({ reference }) => reference?.replace(`${base}/`, "") ?? []),
    get granted() {
      return granted.scopes;
    },
    can: (resource, letter) => covers(granted.scopes, resource, letter),
    user: claimedUser(token.id_token, base),
    async signer() {
      verified ??= import("./identity.ts").then(({ verifiedSigner }) =>
        verifiedSigner(token.id_token, {
          base,
          clientId: launch.clientId,
          nonce: record.nonce,
          // The token was made by the server's clock.
          arrivedAt: (record.signedInAt ?? Date.now()) + clock.off,
        }),
      );
      const { final, ...signer } = await verified;
      if (!final) verified = undefined;
      return signer;
    },
    state: keeper.state,
    lastsFor: keeper.lastsFor,
    onChange: keeper.onChange,
    fhir: fhirTransport({ base, token: keeper, clock }),
    clock,
    end: () => keeper.end(),
  };
  if (!staff) return { ok: true, session };
  return {
    ...failed(
      "no-patient",
      "This was opened without a chart.",
      "No chart was opened, and nothing was read or written.",
      "Open Fingerpost from the patient's chart instead.",
    ),
    [staff]: session,
  };
}

const wordsOf = (scope: string): string[] => scope.split(/\s+/).filter(Boolean);

/** Seconds the token still lives. After a reload only the wall clock can tell, within what the server promised. */
function lifeLeft(launch: LaunchState, token: TokenResponse, reopened: boolean): number | undefined {
  if (token.expires_in === undefined) return undefined;
  if (!reopened || launch.expiresAt === undefined) return token.expires_in;
  return Math.min(token.expires_in, Math.max(0, launch.expiresAt - Date.now() / 1000));
}

/**
 * Holds this launch for this page as long as it lives; false when another page has it (a duplicated tab gets a copy of
 * the tokens, and both would spend the same refresh token). A page that is just being reloaded lets go in time.
 */
function holdTab(launchId: string): Promise<boolean> {
  if (!navigator.locks) return Promise.resolve(true);
  return new Promise((resolve) => {
    navigator.locks
      .request(`fingerpost-page ${launchId}`, { signal: AbortSignal.timeout(3000) }, () => {
        resolve(true);
        return new Promise<never>(() => {});
      })
      .catch(() => resolve(false));
  });
}

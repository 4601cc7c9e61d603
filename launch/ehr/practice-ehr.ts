/** The practice EHR as one web server: sign-in, FHIR, chart pages, practice switches. Loopback only, invented people only. */
import type { IncomingMessage, ServerResponse } from "node:http";
import { setTimeout as wait } from "node:timers/promises";
import { promisify } from "node:util";
import { gzip } from "node:zlib";
import { CLINIC_TAG, seedClinics } from "./clinics/seed-clinics.ts";
import { Desk, type DeskSettings } from "./desk/desk.ts";
import * as pages from "./desk/pages.ts";
import {
  FhirError,
  type FhirRequest,
  type FhirResponse,
  type FhirService,
  isBundle,
  outcome,
  type Resource,
  refuse,
} from "./fhir/exchange.ts";
import { RemoteServer } from "./fhir/remote.ts";
import { prepareSearches } from "./fhir/search.ts";
import { PracticeServer } from "./fhir/server.ts";
import { Store } from "./fhir/store.ts";
import { controlSchema, type Fault, PracticeControl } from "./practice-control.ts";
import { seedStore } from "./seed.ts";
import type { AuthorizationServer } from "./smart/authorization-server.ts";
import { type AuthorizePages, authorize, finishChoice } from "./smart/authorize.ts";
import { Clients } from "./smart/clients.ts";
import { openidConfiguration, type SmartAddresses, smartConfiguration } from "./smart/discovery.ts";
import { Grants } from "./smart/grants.ts";
import { Guard } from "./smart/guard.ts";
import type { Signer } from "./smart/keys.ts";
import { LaunchRecorder } from "./smart/launch-checks.ts";
import { PEOPLE, personById } from "./smart/people.ts";
import { accessTokenClaims, bearer, introspect, revoke, token } from "./smart/token.ts";
import { flatHeaders, formOf, json, readBody, type WebAnswer, type WebRequest } from "./web.ts";

export interface PracticeEhrOptions {
  /** Own origin, e.g. http://localhost:8460 */
  ehrUrl: string;
  /** Origin of the app */
  pluginUrl: string;
  signer: Signer;
  /** Base of another FHIR server to stand in front of, instead of the own store. */
  fhir?: string | undefined;
  tokenSeconds?: number | undefined;
  latencyMs?: number | undefined;
  /** Also two clinics with 40 patients; a number: with at least so many visits to arrange. Another server is not filled. */
  clinics?: boolean | number | undefined;
}

const compress = promisify(gzip);
const COMPRESS_FROM_BYTES = 1400; // about one network packet: smaller answers gain nothing
const DISCOVERY_CACHE = "public, max-age=600";
const PREFLIGHT_SECONDS = "600";

export class PracticeEhr {
  readonly control: PracticeControl;
  readonly clients = new Clients();
  readonly fhirBase: string;
  private readonly auth: AuthorizationServer;
  private readonly launches: LaunchRecorder;
  private readonly addresses: SmartAddresses;
  private readonly desk: Desk;
  private service!: FhirService;
  private guard!: Guard;
  private since = new Date().toISOString();
  private readonly options: PracticeEhrOptions;
  private practitioners = new Map<string, string>();
  /** Visits to arrange in the clinics, at least; undefined without clinics. */
  private clinicVisits: number | undefined;

  constructor(options: PracticeEhrOptions) {
    this.options = options;
    const { clinics = false } = options;
    if (clinics !== false) this.clinicVisits = clinics === true ? 0 : clinics;
    const { ehrUrl, pluginUrl, signer, tokenSeconds, latencyMs } = options;
    this.fhirBase = `${ehrUrl}/fhir`;
    this.control = new PracticeControl({
      ...(tokenSeconds ? { tokenSeconds } : {}),
      ...(latencyMs ? { latencyMs } : {}),
    });
    this.clients.register({
      clientId: "fingerpost",
      name: "Fingerpost",
      redirectUris: [`${pluginUrl}/`, `${pluginUrl}/index.html`],
      launchUrl: `${pluginUrl}/launch.html`,
    });
    this.clients.register({
      clientId: "fingerpost-clinic",
      name: "Fingerpost for the clinic",
      redirectUris: [`${pluginUrl}/`, `${pluginUrl}/index.html`],
      launchUrl: `${pluginUrl}/launch.html?for=clinic`,
    });
    this.clients.register({
      clientId: "fingerpost-coder",
      name: "Fingerpost for coders",
      redirectUris: [`${pluginUrl}/`, `${pluginUrl}/index.html`],
      launchUrl: `${pluginUrl}/launch.html?for=coder`,
    });
    this.addresses = {
      fhirBase: this.fhirBase,
      issuer: `${ehrUrl}/auth`,
      authorize: `${ehrUrl}/auth/authorize`,
      token: `${ehrUrl}/auth/token`,
      introspect: `${ehrUrl}/auth/introspect`,
      revoke: `${ehrUrl}/auth/revoke`,
      jwks: `${ehrUrl}/auth/jwks`,
    };
    this.launches = new LaunchRecorder(this.fhirBase);
    const grants = new Grants();
    this.auth = {
      addresses: this.addresses,
      clients: this.clients,
      grants,
      signer,
      behaviour: this.control.smart,
      record: (step) => {
        this.control.signIns.push({ at: new Date().toISOString(), ...step });
        this.launches.see(step);
      },
      fhirUser: (id) => `${this.fhirBase}/Practitioner/${this.practitioners.get(id) ?? id}`,
    };
    this.open();
    const late: FhirService = { handle: (request) => this.service.handle(request) };
    this.desk = new Desk(late, grants, () => this.pageSettings());
  }

  /** Sets up the FHIR side; also used to put the charts back. */
  private open(): void {
    const { fhir } = this.options;
    if (fhir) this.service = new RemoteServer(fhir, this.fhirBase);
    else {
      const store = new Store({ base: this.fhirBase });
      seedStore(store);
      if (this.clinicVisits !== undefined) seedClinics(store, new Date(), this.clinicVisits);
      const addresses = { base: this.fhirBase, ...this.addresses };
      this.service = new PracticeServer({
        addresses,
        behaviour: this.control.store,
        store,
        onWrite: (entry) => this.control.ledger.push({ n: this.control.ledger.length + 1, ...entry }),
      });
      this.since = new Date().toISOString();
      // thousands of visits are looked for at once: their indexes are there before the first search
      if (this.clinicVisits) for (const _step of prepareSearches(store));
      else inIdleTime(prepareSearches(store));
    }
    this.guard = new Guard(this.service, { base: this.fhirBase, refusedTypes: () => this.control.refuseTypes });
  }

  /**
   * In front of another server: who of our people is a practitioner there stays who he is; for the others stands one of its
   * practitioners, so that `fhirUser` leads somewhere.
   */
  async adoptPractitioners(): Promise<void> {
    if (!this.options.fhir) return;
    const ids = PEOPLE.map((person) => person.practitionerId);
    const ask = async (query: Record<string, string>) => {
      const request = { method: "GET", path: "Practitioner", query: new URLSearchParams(query), headers: {} };
      return resourcesIn((await this.service.handle(request)).body).flatMap(({ id }) => id ?? []);
    };
    const [known, others] = await Promise.all([ask({ _id: ids.join(",") }), ask({ _count: String(ids.length) })]);
    for (const [i, id] of ids.entries()) {
      const adopted = known.includes(id) ? id : (others[i] ?? others[0]);
      if (adopted) this.practitioners.set(id, adopted);
    }
  }

  /** Resources in the store, for checks from inside the same process; empty in front of another server. */
  stored(type: string): Resource[] {
    return this.service instanceof PracticeServer
      ? [...this.service.store.all(type)].map(({ resource }) => resource as Resource)
      : [];
  }

  /** The same, also in front of another server, page by page. @throws FhirError when that does not answer */
  private async storedAnywhere(type: string): Promise<Resource[]> {
    const found = this.stored(type);
    if (this.service instanceof PracticeServer) return found;
    let path = type;
    let query: URLSearchParams | undefined = new URLSearchParams({ _count: "200" });
    while (query) {
      const { body } = await this.service.handle({
        method: "GET",
        path,
        query,
        headers: { "cache-control": "no-cache" },
      });
      found.push(...resourcesIn(body));
      const next = isBundle(body) ? body.link?.find(({ relation }) => relation === "next")?.url : undefined;
      const address = next ? new URL(next) : undefined;
      path = address?.pathname.replace(/^\/fhir\/?/, "") ?? "";
      query = address?.searchParams;
    }
    return found;
  }

  /** As if a colleague had entered it at another screen: new resources, or the next versions of some. */
  private async enter(resources: readonly Resource[]): Promise<void> {
    if (this.service instanceof PracticeServer) {
      const { store } = this.service;
      for (const resource of resources)
        store.put(resource, resource.id ?? store.newId(), resource.id === undefined ? "POST" : "PUT");
      return;
    }
    if (resources.length === 0) return;
    const entry = resources.map((resource) => ({
      resource,
      request: resource.id
        ? { method: "PUT", url: `${resource.resourceType}/${resource.id}` }
        : { method: "POST", url: resource.resourceType },
    }));
    const body = { resourceType: "Bundle", type: "transaction", entry };
    const answer = await this.service.handle({
      method: "POST",
      path: "",
      query: new URLSearchParams(),
      headers: {},
      body,
    });
    if (answer.status >= 300)
      throw new Error(`The other server refused what was entered: ${JSON.stringify(answer.body)}`);
  }

  private pageSettings(): DeskSettings {
    const client = this.clients.find("fingerpost");
    return {
      appOrigin: this.options.pluginUrl,
      formTargets: this.clients.redirectOrigins(),
      fhirBase: this.fhirBase,
      launchUrl: client?.launchUrl ?? `${this.options.pluginUrl}/launch.html`,
      clinicTag: this.clinicVisits === undefined ? undefined : CLINIC_TAG,
      clinicLaunchUrl: this.clients.find("fingerpost-clinic")?.launchUrl,
      coderLaunchUrl: this.clients.find("fingerpost-coder")?.launchUrl,
      since: this.since,
    };
  }

  /** Answers one HTTP request, with the set latency and faults, and keeps the record of it. */
  async serve(message: IncomingMessage, response: ServerResponse): Promise<void> {
    const startedAt = performance.now();
    const headers = flatHeaders(message.headers);
    const url = new URL(message.url ?? "/", this.options.ehrUrl);
    const method = message.method ?? "GET";
    const isProtocol = url.pathname.startsWith("/fhir") || url.pathname.startsWith("/auth");
    const record = {
      n: this.control.requests.length + 1,
      method,
      path: url.pathname + url.search,
      origin: headers.origin ?? null,
      startedAt,
      answeredAt: startedAt,
      status: 0,
      bytes: 0,
    };
    if (!url.pathname.startsWith("/practice")) this.control.requests.push(record);
    const latency = isProtocol ? this.control.latencyMs : 0;
    const fault = isProtocol ? this.control.takeFault(method, url.pathname + url.search) : undefined;
    const cors = this.corsHeaders(headers.origin, url);
    let answer: WebAnswer;
    try {
      const body = await readBody(message);
      if (fault?.kind === "cut-before") return void message.socket.destroy();
      const faulty = fault && !fault.afterCommit ? instead(fault) : undefined;
      answer = faulty ?? (await this.answer({ method, url, headers, body }));
      if (fault?.kind === "cut-after") return void message.socket.destroy();
      if (fault) answer = faulty ?? (fault.afterCommit ? (instead(fault) ?? answer) : spoil(fault, answer));
      if (fault?.kind === "delay") await wait(fault.delayMs ?? 1000, undefined, { ref: false });
    } catch (error) {
      answer =
        error instanceof Error && error.message === "too-large"
          ? fhirAnswer(refuse(413, "too-long", "The body is larger than 20 MB.").toResponse())
          : internalFault();
    }
    const sent = await this.finish(answer, cors, headers["accept-encoding"] ?? "", method);
    const left = latency - (performance.now() - startedAt);
    if (left > 0) await wait(left, undefined, { ref: false });
    response.writeHead(sent.status, sent.headers);
    response.end(method === "HEAD" ? undefined : sent.body);
    record.answeredAt = performance.now();
    record.status = sent.status;
    record.bytes = sent.body?.length ?? 0;
  }

  private async finish(
    answer: WebAnswer,
    cors: Record<string, string>,
    accepts: string,
    method: string,
  ): Promise<WebAnswer> {
    const headers: Record<string, string> = { "x-content-type-options": "nosniff", ...answer.headers, ...cors };
    let body = answer.body === undefined ? undefined : Buffer.from(answer.body as string);
    if (body && body.length >= COMPRESS_FROM_BYTES && /\bgzip\b/.test(accepts)) {
      body = await compress(body, { level: 4 });
      headers["content-encoding"] = "gzip";
      headers.vary = [headers.vary, "accept-encoding"].filter(Boolean).join(", ");
    }
    if (body || (answer.status !== 204 && answer.status !== 304)) headers["content-length"] = String(body?.length ?? 0);
    void method;
    return { status: answer.status, headers, ...(body ? { body } : {}) };
  }

  /** Only origins of registered apps may call from a browser; on every answer, errors included. */
  private corsHeaders(origin: string | undefined, { pathname }: URL): Record<string, string> {
    const isOpen =
      pathname.startsWith("/fhir") ||
      ["/auth/token", "/auth/introspect", "/auth/revoke", "/auth/jwks", "/smart-style.json"].includes(pathname) ||
      pathname.startsWith("/auth/.well-known");
    if (!isOpen) return {};
    if (!this.clients.isKnownOrigin(origin)) return { vary: "origin" };
    return {
      "access-control-allow-origin": origin as string,
      vary: "origin",
      "access-control-expose-headers":
        "ETag, Location, Content-Location, Last-Modified, WWW-Authenticate, Retry-After, Date",
    };
  }

  private async answer(request: WebRequest): Promise<WebAnswer> {
    const { method, url, headers } = request;
    const host = (headers.host ?? "").replace(/:\d+$/, "");
    // a page elsewhere that points its own name at this machine must not reach the practice data
    if (host !== "localhost" && host !== "127.0.0.1")
      return json(421, { error: "This practice server answers to localhost only." });
    if (method === "OPTIONS") return preflight();
    const { pathname } = url;
    if (pathname === "/fhir" || pathname.startsWith("/fhir/")) return this.fhir(request);
    if (pathname.startsWith("/auth/")) return this.authorization(request);
    if (pathname.startsWith("/practice/")) return this.practice(request);
    if (pathname === "/smart-style.json") return json(200, SMART_STYLE, { "cache-control": DISCOVERY_CACHE });
    if (method !== "GET" && method !== "HEAD")
      return { ...pages.faultPage(this.pageSettings(), "This page can only be read.", 405) };
    return (await this.desk.answer(url)) ?? pages.faultPage(this.pageSettings(), "There is no such page.", 404);
  }

  private async authorization(request: WebRequest): Promise<WebAnswer> {
    const { method, url } = request;
    const authorizePages: AuthorizePages = {
      fault: (message) => pages.faultPage(this.pageSettings(), message),
      choice: async ({ choice, client, scopes, wantsPatient }) =>
        pages.choicePage(this.pageSettings(), {
          choice,
          appName: client.name,
          scopes,
          patients: wantsPatient ? await this.desk.patients() : undefined,
        }),
    };
    switch (url.pathname) {
      case "/auth/authorize": {
        const params = method === "POST" ? formOf(request) : method === "GET" ? url.searchParams : undefined;
        return params
          ? authorize(this.auth, params, authorizePages)
          : authorizePages.fault("The authorization address takes GET, or POST of a form.");
      }
      case "/auth/choose": {
        const form = formOf(request);
        if (method !== "POST" || !form) return authorizePages.fault("Start again from the app.");
        const person = form.get("answer") === "allow" ? personById(form.get("as") ?? "") : undefined;
        const patient = form.get("patient") ?? undefined;
        const context = person && {
          person,
          patient,
          ...(patient ? await this.desk.contextFor(patient) : { encounter: undefined, fhirContext: [] }),
        };
        return finishChoice(this.auth, form.get("choice") ?? "", context, authorizePages);
      }
      case "/auth/token":
        return token(this.auth, request);
      case "/auth/introspect":
        return introspect(this.auth, request);
      case "/auth/revoke":
        return revoke(this.auth, request);
      case "/auth/jwks":
        return json(200, this.auth.signer.jwks, { "cache-control": DISCOVERY_CACHE });
      case "/auth/.well-known/openid-configuration":
        return json(200, openidConfiguration(this.addresses), { "cache-control": DISCOVERY_CACHE });
      default:
        return authorizePages.fault("There is no such page.");
    }
  }

  private async fhir(request: WebRequest): Promise<WebAnswer> {
    const { method, url, headers } = request;
    const path = url.pathname.replace(/^\/fhir\/?/, "").replace(/\/$/, "");
    if (path === ".well-known/smart-configuration")
      return json(200, smartConfiguration(this.addresses), { "cache-control": DISCOVERY_CACHE });
    try {
      checkFormat(url.searchParams.get("_format") ?? headers.accept);
      const fhirRequest: FhirRequest = {
        method,
        path: decodePath(path),
        query: url.searchParams,
        headers,
        ...readFhirBody(request),
      };
      if (path === "metadata") return { ...fhirAnswer(await this.service.handle(fhirRequest), DISCOVERY_CACHE) };
      const claims = await accessTokenClaims(this.auth, bearer(request));
      this.launches.bearer(bearer(request) !== undefined);
      if (!claims) return unauthorized(headers.authorization !== undefined);
      const access = {
        scopes: String(claims.scope ?? "").split(" "),
        patient: claims.patient as string | undefined,
        person: String(claims.sub),
      };
      return fhirAnswer(await this.guard.handle(fhirRequest, access));
    } catch (error) {
      if (error instanceof FhirError) return fhirAnswer(error.toResponse());
      throw error;
    }
  }

  private async practice({ method, url, headers, body }: WebRequest): Promise<WebAnswer> {
    const { control } = this;
    if (url.pathname === "/practice/control" && method === "POST") {
      // a form or a foreign page cannot send this type without a preflight, which is never granted here
      if (!(headers["content-type"] ?? "").startsWith("application/json"))
        return json(415, { error: "Send application/json." });
      let sent: unknown;
      try {
        sent = JSON.parse(body.toString("utf8"));
      } catch {
        return json(400, { error: "The body is not JSON." });
      }
      const read = controlSchema.safeParse(sent);
      if (!read.success)
        return json(400, {
          error: read.error.issues.map(({ path, message }) => `${path.join(".") || "body"}: ${message}`).join("; "),
        });
      control.apply(read.data);
      for (const client of read.data.clients ?? []) this.clients.register(client as Parameters<Clients["register"]>[0]);
      if (read.data.reseed) this.open();
      await this.enter((read.data.enter ?? []) as Resource[]);
      return json(200, control.shown());
    }
    if (method !== "GET") return json(405, { error: "GET only." });
    const [, , room, type] = url.pathname.split("/");
    switch (room) {
      case "control":
        return json(200, control.shown());
      case "ledger":
        return json(200, control.ledger);
      case "requests":
        return json(200, control.requests);
      case "sign-ins":
        return json(200, control.signIns);
      case "launch-checks":
        return json(200, this.launches.shown());
      case "resources":
        return type ? json(200, await this.storedAnywhere(type)) : json(404, { error: "Name a resource type." });
      default:
        return json(404, { error: "Known: control, ledger, requests, sign-ins, launch-checks, resources/<Type>." });
    }
  }
}

/** Runs the steps one by one between requests; never keeps the process alive. */
function inIdleTime(steps: Generator<void>): void {
  setImmediate(() => {
    if (!steps.next().done) inIdleTime(steps);
  }).unref();
}

const SMART_STYLE = {
  color_background: "#f5f3ee",
  color_error: "#9e2d2d",
  color_highlight: "#0b5a74",
  color_modal_backdrop: "",
  color_success: "#134023",
  color_text: "#1d2733",
  dim_border_radius: "6px",
  dim_font_size: "16px",
  dim_spacing_size: "16px",
  font_family_body: "system-ui, sans-serif",
  font_family_heading: "system-ui, sans-serif",
};

function fhirAnswer({ status, headers, body }: FhirResponse, cache = "no-store"): WebAnswer {
  const all: Record<string, string> = { ...headers, "cache-control": status < 400 ? cache : "no-store" };
  if (body === undefined) return { status, headers: all };
  return {
    status,
    headers: { ...all, "content-type": "application/fhir+json; charset=utf-8" },
    body: JSON.stringify(body),
  };
}
function unauthorized(presented: boolean): WebAnswer {
  const body = outcome({
    severity: "error",
    code: "login",
    diagnostics: presented
      ? "The access token is not valid here, has ended or was revoked."
      : "An access token is needed.",
  });
  const challenge = presented
    ? `Bearer realm="practice", error="invalid_token", error_description="not valid, ended or revoked"`
    : `Bearer realm="practice"`;
  return fhirAnswer({ status: 401, headers: { "www-authenticate": challenge }, body });
}
const internalFault = (): WebAnswer =>
  fhirAnswer({
    status: 500,
    headers: {},
    body: outcome({ severity: "fatal", code: "exception", diagnostics: "The practice server failed on this request." }),
  });

const preflight = (): WebAnswer => ({
  status: 204,
  headers: {
    "access-control-allow-methods": "GET, HEAD, POST, PUT, PATCH, DELETE, OPTIONS",
    "access-control-allow-headers":
      "Authorization, Content-Type, Accept, Prefer, If-Match, If-None-Match, If-None-Exist, If-Modified-Since, Cache-Control, X-Request-Id",
    "access-control-max-age": PREFLIGHT_SECONDS,
  },
});

const resourcesIn = (body: Resource | undefined): Resource[] =>
  isBundle(body) ? (body.entry ?? []).flatMap(({ resource }) => resource ?? []) : [];

/** JSON is the only format (R4 http.html#mime-type). */
function checkFormat(accept: string | undefined): void {
  if (accept === undefined || accept === "" || /json|\*\/\*|application\/\*/i.test(accept)) return;
  throw refuse(406, "not-supported", "Only application/fhir+json is given.");
}
function decodePath(path: string): string {
  try {
    return decodeURIComponent(path);
  } catch {
    throw refuse(400, "invalid", "The address is not well encoded.");
  }
}
function readFhirBody(request: WebRequest): { body?: unknown } {
  if (request.body.length === 0 || request.method === "GET" || request.method === "HEAD" || request.method === "DELETE")
    return {};
  const form = formOf(request);
  if (form) {
    if (request.url.pathname.endsWith("/_search")) return { body: form };
    throw refuse(415, "not-supported", "A form is only understood at _search.");
  }
  const type = request.headers["content-type"] ?? "";
  const wanted = request.method === "PATCH" ? /^application\/json-patch\+json/i : /^application\/(fhir\+)?json/i;
  if (!wanted.test(type)) {
    throw refuse(
      415,
      "not-supported",
      request.method === "PATCH" ? "A patch is application/json-patch+json." : "Send application/fhir+json.",
    );
  }
  try {
    return { body: JSON.parse(request.body.toString("utf8")) };
  } catch {
    throw refuse(400, "structure", "The body is not well-formed JSON.");
  }
}

/** An answer that takes the place of the true one; undefined for faults that change it only in part. */
function instead(fault: Fault): WebAnswer | undefined {
  const retry: Record<string, string> = fault.retryAfter ? { "retry-after": fault.retryAfter } : {};
  const status = fault.status ?? (fault.kind === "html" ? 200 : 500);
  if (fault.kind === "html")
    return {
      status,
      headers: { ...retry, "content-type": "text/html" },
      body: "<!doctype html><title>Network sign-in</title><p>Please sign in to the network.",
    };
  if (fault.kind !== "status") return undefined;
  if (status === 204 || status === 304) return { status, headers: retry };
  return fhirAnswer({
    status,
    headers: retry,
    body: outcome({
      severity: "error",
      code: "transient",
      diagnostics: `Practice fault: answered ${status} on request.`,
    }),
  });
}
function spoil(fault: Fault, answer: WebAnswer): WebAnswer {
  const text = answer.body?.toString() ?? "";
  switch (fault.kind) {
    case "truncated":
      return { ...answer, body: text.slice(0, Math.floor(text.length / 2)) };
    case "garbage":
      return { ...answer, body: "{]" };
    case "empty":
      return {
        status: answer.status,
        headers: Object.fromEntries(Object.entries(answer.headers).filter(([name]) => name !== "content-type")),
      };
    default:
      return answer;
  }
}

/** Another FHIR server behind the practice sign-in: requests are passed on, its addresses are replaced by ours. */
import { isPatientData } from "./compartment.ts";
import { searchParametersOf } from "./definitions.ts";
import {
  type Bundle,
  FhirError,
  type FhirRequest,
  type FhirResponse,
  type FhirService,
  isBundle,
  type Resource,
  refuse,
} from "./exchange.ts";

const ANSWER_WITHIN_MS = 30_000;
const PASSED_ON = [
  "accept",
  "content-type",
  "if-match",
  "if-none-match",
  "if-modified-since",
  "if-none-exist",
  "prefer",
  "cache-control",
];
const PAGES_REMEMBERED = 1000;
/** As long as our own answer may be kept by a browser. */
const STATEMENT_KEPT_MS = 600_000;
const PASSED_BACK = ["etag", "last-modified", "location", "content-location", "retry-after"];

export class RemoteServer implements FhirService {
  private readonly remote: string;
  private readonly base: string;
  /** Type of a search, by the query of its further pages: some servers give these out at the base itself. */
  private readonly pages = new Map<string, string>();
  private statement: { readonly answer: FhirResponse; readonly at: number } | undefined;
  /** @param remote base of the other server, without a trailing slash; @param base our own FHIR base */
  constructor(remote: string, base: string) {
    this.remote = remote.replace(/\/$/, "");
    this.base = base;
  }

  pageType(query: URLSearchParams): string | undefined {
    return this.pages.get(query.toString());
  }

  async handle(request: FhirRequest): Promise<FhirResponse> {
    if (request.path !== "metadata" || request.method !== "GET") return this.passOn(request);
    // A stock server takes seconds to write its statement, of a megabyte and more, and says the same each time.
    const stated = this.statement;
    if (stated && performance.now() - stated.at < STATEMENT_KEPT_MS) return stated.answer;
    const answer = await this.passOn(request);
    if (answer.status === 200) this.statement = { answer, at: performance.now() };
    return answer;
  }

  private async passOn(request: FhirRequest): Promise<FhirResponse> {
    const headers: Record<string, string> = { accept: "application/fhir+json" };
    for (const name of PASSED_ON) {
      const value = request.headers[name];
      if (value !== undefined) headers[name] = value.replaceAll(this.base, this.remote);
    }
    const isForm = request.body instanceof URLSearchParams;
    if (request.body !== undefined && !isForm)
      headers["content-type"] = request.method === "PATCH" ? "application/json-patch+json" : "application/fhir+json";
    const body =
      request.body === undefined
        ? {}
        : {
            body: isForm
              ? (request.body as URLSearchParams)
              : JSON.stringify(this.narrowedBody(request)).replaceAll(this.base, this.remote),
          };
    let answer: Response;
    try {
      answer = await fetch(`${this.remote}${this.pathFor(request)}`, {
        method: request.method,
        headers,
        ...body,
        redirect: "error",
        signal: AbortSignal.timeout(ANSWER_WITHIN_MS),
      });
    } catch {
      throw new FhirError(502, {
        severity: "fatal",
        code: "transient",
        diagnostics: "The FHIR server behind this practice sign-in does not answer.",
      });
    }
    const back: Record<string, string> = {};
    for (const name of PASSED_BACK) {
      const value = answer.headers.get(name);
      if (value !== null) back[name] = value.replaceAll(this.remote, this.base);
    }
    const text = (await answer.text()).replaceAll(this.remote, this.base);
    const read = text ? parsed(text) : undefined;
    if (isBundle(read)) this.rememberPages(request, read);
    return { status: answer.status, headers: back, ...(read ? { body: read } : {}) };
  }

  private rememberPages(request: FhirRequest, { link = [] }: Bundle): void {
    const type = request.path === "" ? this.pageType(request.query) : searchedType(request.path);
    if (!type) return;
    for (const { url } of link) {
      if (!url.startsWith(`${this.base}?`)) continue;
      this.pages.set(new URL(url).searchParams.toString(), type);
      const [oldest] = this.pages.keys();
      if (this.pages.size > PAGES_REMEMBERED && oldest !== undefined) this.pages.delete(oldest);
    }
  }

  /**
   * A search on one patient names the patient once more, since stock servers offer no compartment search. Where that cannot be
   * said, the guard alone filters the answer.
   */
  private pathFor({ method, path, query, patientOnly }: FhirRequest): string {
    const [type = "", rest] = path.split("/");
    const isSearch = rest === "_search" || (rest === undefined && method === "GET");
    const asked = new URLSearchParams(query);
    if (isSearch && patientOnly && canNarrow(type)) asked.append("patient", patientOnly);
    return `${path ? `/${path}` : ""}${asked.size > 0 ? `?${asked}` : ""}`;
  }

  /**
   * The same for searches inside a transaction.
   * @throws FhirError for one whose answer only the guard could filter, which sees no answers inside a transaction
   */
  private narrowedBody({ body, patientOnly }: FhirRequest): unknown {
    if (!patientOnly || !isBundle(body as Resource | undefined)) return body;
    const bundle = body as Bundle;
    const entry = bundle.entry?.map((each) => {
      const { method, url = "" } = each.request ?? {};
      const type = /^\/?([A-Z][A-Za-z]+)(?:$|\?)/.exec(url)?.[1];
      if (method !== "GET" || !type || !isPatientData(type)) return each;
      if (!canNarrow(type)) throw refuse(403, "forbidden", `Search ${type} on its own, not inside a transaction.`);
      return { ...each, request: { method, url: `${url}${url.includes("?") ? "&" : "?"}patient=${patientOnly}` } };
    });
    return { ...bundle, ...(entry ? { entry } : {}) };
  }
}

/** The `patient` of a Provenance is a target of its own, not whose targets they are. */
const canNarrow = (type: string) =>
  type !== "Provenance" && isPatientData(type) && searchParametersOf(type).some(({ code }) => code === "patient");
/** Type that a search address finds: "Condition", "Condition/_search", "Patient/1/Condition". */
function searchedType(path: string): string | undefined {
  const [type, rest, third] = path.split("/");
  return type === "Patient" && third ? third : rest === undefined || rest === "_search" ? type : undefined;
}

function parsed(text: string): Resource {
  try {
    return JSON.parse(text) as Resource;
  } catch {
    throw new FhirError(502, {
      severity: "fatal",
      code: "structure",
      diagnostics: "The FHIR server behind this practice sign-in answered with something that is not JSON.",
    });
  }
}

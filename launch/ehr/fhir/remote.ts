/** Another FHIR server behind the practice sign-in: requests are passed on, its addresses are replaced by ours. */
import { isPatientData } from "./compartment.ts";
import { FhirError, type FhirRequest, type FhirResponse, type FhirService, type Resource } from "./exchange.ts";

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
const PASSED_BACK = ["etag", "last-modified", "location", "content-location", "retry-after"];

export class RemoteServer implements FhirService {
  private readonly remote: string;
  private readonly base: string;
  /** @param remote base of the other server, without a trailing slash; @param base our own FHIR base */
  constructor(remote: string, base: string) {
    this.remote = remote.replace(/\/$/, "");
    this.base = base;
  }

  async handle(request: FhirRequest): Promise<FhirResponse> {
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
              : JSON.stringify(request.body).replaceAll(this.base, this.remote),
          };
    let answer: Response;
    try {
      answer = await fetch(`${this.remote}/${this.pathFor(request)}`, {
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
    return { status: answer.status, headers: back, ...(text ? { body: parsed(text) } : {}) };
  }

  /** A search on one patient becomes a compartment search; for Provenance the guard filters the answer instead. */
  private pathFor({ method, path, query, patientOnly }: FhirRequest): string {
    const [type = "", rest] = path.split("/");
    const narrow =
      patientOnly &&
      (rest === "_search" || (rest === undefined && method === "GET")) &&
      type !== "" &&
      type !== "Patient" &&
      type !== "Provenance" &&
      isPatientData(type);
    const asked = query.size > 0 ? `?${query}` : "";
    return `${narrow ? `Patient/${patientOnly}/` : ""}${path}${asked}`;
  }
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

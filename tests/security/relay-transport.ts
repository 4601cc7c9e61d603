import type {
  FhirAnswer,
  FhirProblem,
  FhirResource,
  SearchResult,
  Transport,
  WritingOptions,
} from "../../src/smart/transport.ts";
import { fhirProblem } from "../../src/smart/transport.ts";

/**
 * Another way to the record system: a server of the clinic's own, on the plugin's origin, keeps the tokens and passes requests on, so that
 * no script of the page ever holds one. It is small and for the tests only: it shows that nothing but the interface is needed.
 */
export class RelayTransport implements Transport {
  constructor(
    readonly base: string,
    /** Where the clinic's server passes requests on, such as "/relay/". */
    private readonly relay: string,
  ) {}

  private async ask(path: string, init: RequestInit = {}): Promise<FhirAnswer<FhirResource>> {
    try {
      // The session is a cookie that scripts cannot read; there is no token to send.
      const response = await fetch(`${this.relay}${path}`, { credentials: "same-origin", ...init });
      if (!response.ok) return { ok: false, problem: fhirProblem("refused", { status: response.status }) };
      return { ok: true, value: (await response.json()) as FhirResource, status: response.status };
    } catch {
      return { ok: false, problem: fhirProblem("offline") satisfies FhirProblem };
    }
  }
  private send(method: "POST" | "PUT", path: string, body: string, headers: Record<string, string> = {}) {
    return this.ask(path, { method, body, headers: { "content-type": "application/fhir+json", ...headers } });
  }

  read(reference: string): Promise<FhirAnswer<FhirResource>> {
    return this.ask(reference);
  }
  async search(query: string): Promise<FhirAnswer<SearchResult>> {
    const answer = await this.ask(query);
    if (!answer.ok) return answer;
    const entries = (answer.value.entry ?? []) as readonly { resource: FhirResource }[];
    const value = { matches: entries.map((e) => e.resource), included: [], remarks: [], unreadable: 0, more: false };
    return { ok: true, status: answer.status, value };
  }
  transaction(json: string): Promise<FhirAnswer<FhirResource | undefined>> {
    return this.send("POST", "", json);
  }
  write(path: string, json: string, { method, headers }: WritingOptions = {}) {
    return this.send(method ?? "POST", path, json, { ...headers });
  }
}

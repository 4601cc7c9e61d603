/** A record system without a network, which takes one thing at a time: the transport itself is replaced, so that each test takes a moment. */
import type { FhirAnswer, FhirResource, SearchResult, Transport, WritingOptions } from "../../src/smart/transport.ts";
import { type FhirProblemKind, fhirProblem } from "../../src/smart/transport.ts";
import { BASE } from "./record-system.ts";

export interface Call {
  readonly how: "read" | "search" | "write" | "transaction";
  /** "Condition", "Condition/n1", or a query. */
  readonly at: string;
  readonly method?: "POST" | "PUT";
  readonly headers?: Readonly<Record<string, string>>;
  readonly resource?: FhirResource & Record<string, unknown>;
}
type Answer = FhirAnswer<FhirResource | undefined>;

/** An answer that says no. */
export const no = (
  kind: FhirProblemKind,
  more: Parameters<typeof fhirProblem>[1] = {},
): { readonly ok: false; readonly problem: ReturnType<typeof fhirProblem> } => ({
  ok: false,
  problem: fhirProblem(kind, more),
});
export const yes = <T>(value: T, status = 200, location?: string): FhirAnswer<T> => ({
  ok: true,
  value,
  status,
  ...(location ? { location } : {}),
});
export const listOf = (matches: readonly FhirResource[], more: Partial<SearchResult> = {}): FhirAnswer<SearchResult> =>
  yes({ matches, included: [], remarks: [], unreadable: 0, more: false, ...more });

/** With conditional create and version check. Tests bend single calls of it. */
export class RecordInMemory implements Transport {
  readonly base = BASE;
  readonly held = new Map<string, FhirResource>();
  readonly calls: Call[] = [];
  private next = 1;
  /** Answers in place of the store, or lets it answer by `go`. */
  bend: (call: Call, go: () => Answer, nth: number) => Answer = (_call, go) => go();
  /** Likewise for a search. */
  bendSearch: (call: Call, go: () => FhirAnswer<SearchResult>) => FhirAnswer<SearchResult> = (_call, go) => go();
  /** Changes a resource on its way into the store. */
  alter: (resource: FhirResource) => FhirResource = (resource) => resource;

  put(resource: FhirResource, id = `n${this.next++}`, version = "1"): FhirResource {
    const meta = { ...(resource.meta as object), versionId: version };
    const stored = this.alter({ ...resource, id, meta });
    this.held.set(`${resource.resourceType}/${id}`, stored);
    return stored;
  }
  of(type: string): FhirResource[] {
    return [...this.held.values()].filter((one) => one.resourceType === type);
  }
  /** "POST Condition", "PUT Condition/n1", in order. */
  get writes(): string[] {
    return this.calls.filter(({ how }) => how === "write").map(({ method, at }) => `${method} ${at}`);
  }
  private hear(call: Call): number {
    this.calls.push(call);
    return this.calls.filter(({ how }) => how === call.how).length;
  }

  async read(at: string): Promise<FhirAnswer<FhirResource>> {
    const call = { how: "read", at } as const;
    const nth = this.hear(call);
    const go = () => {
      const found = this.held.get(at);
      return found ? yes(found) : no("not-found", { status: 404 });
    };
    return this.bend(call, go, nth) as FhirAnswer<FhirResource>;
  }
  async search(at: string): Promise<FhirAnswer<SearchResult>> {
    const call = { how: "search", at } as const;
    this.hear(call);
    return this.bendSearch(call, () => {
      const [type = "", query = ""] = at.split("?");
      const asked = new URLSearchParams(query);
      const wanted = (asked.get("identifier") ?? asked.get("_tag") ?? "").split("|")[1] ?? "";
      return listOf(this.of(type).filter((one) => JSON.stringify(one).includes(`"${wanted}`)));
    });
  }
  async write(at: string, json: string, { method, headers }: WritingOptions = {}): Promise<Answer> {
    const resource = JSON.parse(json) as FhirResource & Record<string, unknown>;
    const call: Call = { how: "write", at, method: method ?? "POST", headers: headers ?? {}, resource };
    return this.bend(call, () => this.store(call), this.hear(call));
  }
  async transaction(json: string): Promise<Answer> {
    const call: Call = { how: "transaction", at: "", resource: JSON.parse(json) };
    return this.bend(call, () => no("unsupported", { status: 404 }), this.hear(call));
  }

  private store({ at, method, headers = {}, resource }: Call): Answer {
    if (method === "PUT") {
      const version = (this.held.get(at)?.meta as { versionId?: string } | undefined)?.versionId ?? "0";
      if (headers["if-match"] && headers["if-match"] !== `W/"${version}"`) return no("conflict", { status: 412 });
      this.put(resource!, at.split("/")[1], String(Number(version) + 1));
      return yes(undefined, 200);
    }
    const wanted = headers["if-none-exist"]?.split("|")[1];
    const there = wanted && this.of(at).find((one) => JSON.stringify(one).includes(`"${wanted}"`));
    if (there) return yes(undefined, 200, `${BASE}/${at}/${there.id}/_history/1`);
    const made = this.put(resource!);
    return yes(undefined, 201, `${BASE}/${at}/${made.id}/_history/1`);
  }
}

/** Tab storage that remembers, for tests outside a browser: `vi.stubGlobal("sessionStorage", tabStorage(map))`. */
export const storageOver = (held: Map<string, string>) => ({
  getItem: (key: string) => held.get(key) ?? null,
  setItem: (key: string, value: string) => void held.set(key, value),
  removeItem: (key: string) => void held.delete(key),
});

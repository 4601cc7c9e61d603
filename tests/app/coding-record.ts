/** A record system in memory with three signed records, for the coder's screens; tests bend single answers of it. */
import type { Condition, Provenance, QuestionnaireResponse, Task } from "fhir/r4";
import type { ClinicSession } from "../../src/smart/session.ts";
import { type FhirAnswer, type FhirResource, fhirProblem, type Transport } from "../../src/smart/transport.ts";
import { signedRecords } from "../browser/signed-records.ts";
import { sessionFor } from "./chart-parts.ts";

interface Entry {
  readonly fullUrl?: string;
  readonly resource: FhirResource;
  readonly request: { readonly method: string; readonly url: string; readonly ifMatch?: string };
}
type Fault = ReturnType<typeof fhirProblem> | undefined;

export class CodingRecord implements Transport {
  readonly base = "https://ehr.example/fhir";
  private readonly held = new Map<string, FhirResource>();
  private made = 0;
  /** Refuses what it returns a problem for: "search Task", "read QuestionnaireResponse", "write Task", "transaction". */
  refuse: (what: string) => Fault = () => undefined;
  /** Matches that a search of signed records says there are, where that is not what it holds. */
  counted: number | undefined;
  /** Called before the answer to a search is given. */
  beforeAnswer: (query: string) => Promise<void> | void = () => undefined;

  constructor() {
    for (const resource of signedRecords()) this.put(resource as unknown as FhirResource);
  }
  /** Stores it as a newer version. */
  put(resource: FhirResource): FhirResource {
    const id = resource.id ?? `made-${++this.made}`;
    const key = `${resource.resourceType}/${id}`;
    const version = Number((this.held.get(key)?.meta as { versionId?: string } | undefined)?.versionId ?? 0) + 1;
    const stored = { ...resource, id, meta: { ...(resource.meta as object), versionId: String(version) } };
    this.held.set(key, stored);
    return stored;
  }
  drop(...types: readonly string[]): void {
    for (const key of this.held.keys()) if (types.some((type) => key.startsWith(`${type}/`))) this.held.delete(key);
  }
  of<T>(type: string): T[] {
    return [...this.held.values()].filter((one) => one.resourceType === type) as unknown as T[];
  }
  tasks = () => this.of<Task>("Task");
  records = () => this.of<QuestionnaireResponse>("QuestionnaireResponse");
  signings = () => this.of<Provenance>("Provenance").filter((p) => JSON.stringify(p.activity ?? {}).includes("signed"));
  /** ICD-10-CM codes of the diagnoses of one patient that stand. */
  codesOf = (patient: string) =>
    this.of<Condition>("Condition")
      .filter((c) => c.subject.reference === `Patient/${patient}`)
      .filter((c) => c.verificationStatus?.coding?.[0]?.code !== "entered-in-error")
      .flatMap((c) => c.code?.coding?.find((x) => x.system?.includes("icd-10-cm"))?.code ?? [])
      .sort();

  async read(reference: string): Promise<FhirAnswer<FhirResource>> {
    const value = this.held.get(reference);
    const fault = this.refuse(`read ${reference.split("/")[0]}`);
    if (fault || !value) return { ok: false, problem: fault ?? fhirProblem("not-found", { status: 404 }) };
    return { ok: true, value, status: 200 };
  }
  async search(query: string, { signal }: { signal?: AbortSignal | undefined }) {
    const [type = "", parameters] = query.split("?");
    await this.beforeAnswer(query);
    const fault = signal?.aborted ? fhirProblem("stopped") : this.refuse(`search ${type}`);
    if (fault) return { ok: false as const, problem: fault };
    const asked = new URLSearchParams(parameters);
    const state = asked.get("_has:Task:focus:status")?.split(",");
    const days = asked.getAll("authored");
    const within = (day: string) =>
      days.every((limit) => (limit.startsWith("ge") ? day >= limit.slice(2) : day <= limit.slice(2)));
    const all = this.of<FhirResource>(type).filter(
      (one) =>
        within(String(one.authored ?? "").slice(0, 10)) &&
        (!state ||
          this.tasks().some((t) => t.focus?.reference === `${type}/${one.id}` && state.includes(t.status as string))),
    );
    const [start, size] = [Number(asked.get("_start") ?? 0), Number(asked.get("_count") ?? 500)];
    const more = start + size < all.length;
    if (more) asked.set("_start", String(start + size));
    return {
      ok: true as const,
      status: 200,
      value: {
        matches: all.slice(start, start + size),
        included: [],
        remarks: [],
        unreadable: 0,
        more,
        total: (type === "QuestionnaireResponse" ? this.counted : undefined) ?? all.length,
        ...(more ? { next: `${type}?${asked}` } : {}),
      },
    };
  }
  async write(
    path: string,
    json: string,
    { headers = {} }: { headers?: Readonly<Record<string, string>> } = {},
  ): Promise<FhirAnswer<FhirResource>> {
    const fault = this.refuse(`write ${path.split("/")[0]}`) ?? this.conflictAt(path, headers["if-match"]);
    if (fault) return { ok: false, problem: fault };
    return { ok: true, status: 200, value: this.put(JSON.parse(json) as FhirResource) };
  }
  async transaction(json: string): Promise<FhirAnswer<FhirResource>> {
    const { entry } = JSON.parse(json) as { entry: Entry[] };
    const fault =
      this.refuse("transaction") ??
      entry.map(({ request }) => this.conflictAt(request.url, request.ifMatch)).find((one) => one !== undefined);
    if (fault) return { ok: false, problem: fault };
    const said = entry.map(({ resource }) => {
      const stored = this.put(resource);
      return { response: { status: "201", location: `${resource.resourceType}/${stored.id}` } };
    });
    return { ok: true, status: 200, value: { resourceType: "Bundle", entry: said } };
  }
  private conflictAt(path: string, match: string | undefined): Fault {
    const version = (this.held.get(path)?.meta as { versionId?: string } | undefined)?.versionId;
    return match !== undefined && match !== `W/"${version}"` ? fhirProblem("conflict", { status: 412 }) : undefined;
  }
}

/** A coder signed in on it. */
export const coderOn = (record: CodingRecord, changes: Partial<ClinicSession> = {}): ClinicSession =>
  sessionFor({
    context: { base: record.base, launchId: "l1" } as never,
    fhir: record,
    granted: ["user/*.cruds"],
    user: { reference: "Practitioner/solveig", name: "Solveig Marchbanks" },
    signer: () => Promise.resolve({ ok: true, reference: "Practitioner/solveig", name: "Solveig Marchbanks" }),
    ...(changes as object),
  }) as unknown as ClinicSession;

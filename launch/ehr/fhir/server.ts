/** The practice FHIR R4 server: which interaction an address means (R4 http.html). Takes and gives plain values, no sockets. */
import type { LedgerEntry, StoreBehaviour } from "./behaviour.ts";
import { type Addresses, capabilityStatement } from "./capability.ts";
import { isPatientData } from "./compartment.ts";
import { isStoredType, loadDefinitions } from "./definitions.ts";
import {
  type Bundle,
  type BundleEntry,
  etag,
  FhirError,
  type FhirRequest,
  type FhirResponse,
  type FhirService,
  ID,
  type Resource,
  refuse,
  type StoredResource,
} from "./exchange.ts";
import * as interaction from "./interactions.ts";
import { searchBundle } from "./search.ts";
import { readOrRefuse, Store, type Version } from "./store.ts";
import { bundleInteraction } from "./transaction.ts";

export interface PracticeServerOptions {
  addresses: Addresses;
  behaviour: StoreBehaviour;
  onWrite?: (entry: Omit<LedgerEntry, "n">) => void;
  store?: Store;
}

export class PracticeServer implements FhirService {
  readonly store: Store;
  private readonly desk: interaction.Desk;
  private readonly addresses: Addresses;
  private readonly startedAt = new Date().toISOString();

  constructor({ addresses, behaviour, onWrite = () => {}, store }: PracticeServerOptions) {
    loadDefinitions();
    this.store = store ?? new Store({ base: addresses.base });
    this.desk = { store: this.store, base: addresses.base, behaviour, onWrite };
    this.addresses = addresses;
  }

  /** Answers every request; a refusal comes back as an OperationOutcome, never as an exception. */
  handle(request: FhirRequest): FhirResponse {
    try {
      if (request.path === "" && request.method === "POST") {
        const { transaction, refuseWith } = this.desk.behaviour.capabilities;
        if (!transaction && (request.body as Resource | undefined)?.type === "transaction")
          throw refuse(refuseWith, "not-supported", "This server takes no transactions.");
        return bundleInteraction(this.desk, request, (inner, within) => this.interact(inner, within));
      }
      return this.interact(request, interaction.ALONE);
    } catch (error) {
      if (error instanceof FhirError) return error.toResponse();
      throw error;
    }
  }

  private interact(request: FhirRequest, within: interaction.Within): FhirResponse {
    const method = request.method === "HEAD" ? "GET" : request.method;
    const [type = "", id, action, versionId, ...more] = request.path.split("/");
    if (more.length > 0) throw unknownAddress(request);
    if (type === "metadata" && id === undefined)
      return (
        allow(method, "GET") ?? {
          status: 200,
          headers: {},
          body: capabilityStatement(this.addresses, this.startedAt, this.desk.behaviour.capabilities),
        }
      );
    if (type === "_history" && id === undefined)
      return allow(method, "GET") ?? this.history(request, undefined, undefined);
    if (!isStoredType(type)) {
      throw type === ""
        ? refuse(400, "not-supported", "Searching over all types is not supported; name one.")
        : refuse(404, "not-supported", `“${type.slice(0, 60)}” is not a resource type that this server stores.`);
    }
    if (id === undefined) {
      if (method !== "GET") this.mustOffer(method, type, request);
      return this.onType(method, type, request, within);
    }
    if (id === "_search") return allow(method, "POST") ?? this.search(type, withForm(request));
    if (id === "_history" && action === undefined)
      return allow(method, "GET") ?? this.history(request, type, undefined);
    if (id === "$validate") return allow(method, "POST") ?? interaction.validateOperation(request, type);
    if (!ID.test(id)) throw refuse(404, "not-found", "An id has letters, digits, - and ., at most 64.");
    if (action === undefined) {
      if (method !== "GET") this.mustOffer(method, type, request);
      return this.onInstance(method, type, id, request, within);
    }
    if (action === "_history") {
      return (
        allow(method, "GET") ??
        (versionId === undefined ? this.history(request, type, id) : interaction.vread(this.desk, type, id, versionId))
      );
    }
    if (action === "$validate" && versionId === undefined)
      return allow(method, "POST") ?? interaction.validateOperation(request, type);
    if (type === "Patient" && action === "$everything")
      return allow(method, "GET", "POST") ?? this.everything(id, request);
    if (
      type === "Patient" &&
      isStoredType(action) &&
      isPatientData(action) &&
      (versionId === undefined || versionId === "_search")
    ) {
      readOrRefuse(this.store, type, id);
      return (
        allow(method, versionId ? "POST" : "GET") ??
        this.search(action, { ...(versionId ? withForm(request) : request), patientOnly: id })
      );
    }
    throw unknownAddress(request);
  }

  /** Refuses for real what the practice switches say is not supported. */
  private mustOffer(method: string, type: string, { headers }: FhirRequest): void {
    const { readOnly, noCreate, noUpdate, conditionalCreate, refuseWith } = this.desk.behaviour.capabilities;
    const refused =
      readOnly ||
      (method === "POST" && noCreate.includes(type)) ||
      (["PUT", "PATCH"].includes(method) && noUpdate.includes(type));
    if (refused) throw refuse(refuseWith, "not-supported", `${method} of ${type} is not supported by this server.`);
    // R4 http.html#ccreate: a server without it must not create as if the condition were not there.
    if (method === "POST" && !conditionalCreate && headers["if-none-exist"])
      throw refuse(412, "not-supported", "This server does not support conditional create.");
  }

  private onType(method: string, type: string, request: FhirRequest, within: interaction.Within): FhirResponse {
    switch (method) {
      case "GET":
        return this.search(type, request);
      case "POST":
        return interaction.create(this.desk, request, type, within);
      case "PUT":
        if ([...request.query].length === 0)
          throw refuse(405, "not-supported", "An update needs an id or a condition in its address.");
        return interaction.conditionalUpdate(this.desk, request, type, within);
      case "DELETE": {
        if ([...request.query].length === 0)
          throw refuse(405, "not-supported", "A deletion needs an id or a condition in its address.");
        const found = interaction.findForCondition(
          this.desk,
          type,
          request.query.toString(),
          "The condition in the address",
        );
        return found ? interaction.remove(this.desk, request, type, found.id, within) : { status: 204, headers: {} };
      }
      default:
        throw notAllowed(method, "GET", "POST", "PUT", "DELETE");
    }
  }

  private onInstance(
    method: string,
    type: string,
    id: string,
    request: FhirRequest,
    within: interaction.Within,
  ): FhirResponse {
    switch (method) {
      case "GET":
        return interaction.read(this.desk, request, type, id);
      case "PUT":
        return interaction.update(this.desk, request, type, id, within);
      case "PATCH":
        return interaction.patch(this.desk, request, type, id, within);
      case "DELETE":
        return interaction.remove(this.desk, request, type, id, within);
      default:
        throw notAllowed(method, "GET", "PUT", "PATCH", "DELETE");
    }
  }

  private search(type: string, request: FhirRequest): FhirResponse {
    return {
      status: 200,
      headers: {},
      body: searchBundle(type, request.query, interaction.searchContext(this.desk, request)),
    };
  }

  /** Newest first; `_since` and `_count` are honoured (R4 http.html#history). */
  private history(request: FhirRequest, type: string | undefined, id: string | undefined): FhirResponse {
    const { base } = this.desk;
    const versions = (type && id ? [...this.store.versions(type, id)] : this.store.allVersions(type)).filter(
      ({ at }) => !request.query.get("_since") || Date.parse(at) >= Date.parse(request.query.get("_since") ?? ""),
    );
    if (type && id && this.store.versions(type, id).length === 0)
      throw refuse(404, "not-found", `${type}/${id} does not exist on this server.`);
    const newestFirst = versions
      .reverse()
      .sort((a, b) => Date.parse(b.at) - Date.parse(a.at) || Number(b.versionId) - Number(a.versionId));
    const count = Number(request.query.get("_count") ?? newestFirst.length);
    const entry = newestFirst
      .slice(0, Number.isInteger(count) && count >= 0 ? count : newestFirst.length)
      .map((version) => historyEntry(version, base));
    const url = `${base}/${request.path}${request.query.size > 0 ? `?${request.query}` : ""}`;
    return {
      status: 200,
      headers: {},
      body: {
        resourceType: "Bundle",
        type: "history",
        total: newestFirst.length,
        link: [{ relation: "self", url }],
        entry,
      } as Bundle,
    };
  }

  /** Patient/$everything: the patient, all in the compartment, and what these point to. */
  private everything(id: string, request: FhirRequest): FhirResponse {
    const patient = readOrRefuse(this.store, "Patient", id);
    const params = new URLSearchParams({ _count: "1000", _include: "*" });
    const entry: BundleEntry[] = [
      { fullUrl: `${this.desk.base}/Patient/${id}`, resource: patient, search: { mode: "match" } },
    ];
    const seen = new Set([`Patient/${id}`]);
    for (const type of loadDefinitions()
      .structures.filter(({ kind }) => kind === "resource")
      .map((sd) => sd.type)) {
      if (!isStoredType(type) || type === "Patient" || !isPatientData(type)) continue;
      const found = searchBundle(type, params, interaction.searchContext(this.desk, { ...request, patientOnly: id }));
      for (const each of found.entry ?? []) {
        const key = `${each.resource?.resourceType}/${each.resource?.id}`;
        if (each.search?.mode === "outcome" || seen.has(key)) continue;
        seen.add(key);
        entry.push(each);
      }
    }
    return {
      status: 200,
      headers: {},
      body: { resourceType: "Bundle", type: "searchset", total: entry.length, entry } as Bundle,
    };
  }
}

function historyEntry({ type, id, versionId, at, method, resource }: Version, base: string): BundleEntry {
  const isFirst = versionId === "1";
  return {
    fullUrl: `${base}/${type}/${id}`,
    ...(resource ? { resource: resource as StoredResource } : {}),
    request: {
      method: method === "PATCH" ? "PATCH" : isFirst && method === "POST" ? "POST" : method,
      url: isFirst && method === "POST" ? type : `${type}/${id}`,
    },
    response: {
      status: method === "DELETE" ? "204" : isFirst ? "201" : "200",
      etag: etag(versionId),
      lastModified: at,
    },
  };
}

const withForm = (request: FhirRequest): FhirRequest =>
  request.body instanceof URLSearchParams
    ? { ...request, query: new URLSearchParams([...request.query, ...request.body]) }
    : request;
const unknownAddress = ({ path }: FhirRequest) =>
  refuse(404, "not-found", `There is nothing at this address: ${path.slice(0, 120)}`);
const notAllowed = (method: string, ...allowed: string[]) =>
  new FhirError(
    405,
    {
      severity: "error",
      code: "not-supported",
      diagnostics: `${method} is not possible here; allowed: ${allowed.join(", ")}.`,
    },
    { allow: allowed.join(", ") },
  );
/** Undefined when the method is right, so that it reads `allow(…) ?? answer`. */
function allow(method: string, ...allowed: string[]): undefined {
  if (!allowed.includes(method)) throw notAllowed(method, ...allowed);
  return undefined;
}

/**
 * Stands before the FHIR server and lets through what the token allows (SMART App Launch 2.2, "Scopes for requesting FHIR
 * resources" and "Batches and Transactions"): each interaction, each entry of a bundle, and the patient in context.
 */
import { isPatientData, patientsOf, targetsOf } from "../fhir/compartment.ts";
import {
  type Bundle,
  type BundleEntry,
  FhirError,
  type FhirRequest,
  type FhirResponse,
  type FhirService,
  isBundle,
  type Resource,
} from "../fhir/exchange.ts";
import { matchesQuery } from "../fhir/search.ts";
import { Store } from "../fhir/store.ts";
import { requestFor, responseEntry } from "../fhir/transaction.ts";
import { type Permission, permissionFor } from "./scopes.ts";

export interface Access {
  readonly scopes: readonly string[];
  readonly patient: string | undefined;
  readonly person: string;
}
export interface GuardSettings {
  readonly base: string;
  /** Types that are refused to everybody: a practice switch. */
  readonly refusedTypes: () => readonly string[];
}
type Letter = "c" | "r" | "u" | "d" | "s";
const LETTER_WORDS: Record<Letter, string> = { c: "create", r: "read", u: "update", d: "delete", s: "search" };

export class Guard {
  private readonly service: FhirService;
  private readonly settings: GuardSettings;
  constructor(service: FhirService, settings: GuardSettings) {
    this.service = service;
    this.settings = settings;
  }

  /** Answers a request under a token that was already found valid. */
  async handle(request: FhirRequest, access: Access): Promise<FhirResponse> {
    try {
      return await this.guarded({ ...request, by: access.person }, access);
    } catch (error) {
      if (error instanceof FhirError) return error.toResponse();
      throw error;
    }
  }

  private async guarded(request: FhirRequest, access: Access): Promise<FhirResponse> {
    if (request.path === "metadata") return this.service.handle(request);
    if (request.path === "" && request.method === "POST" && isBundle(request.body as Resource | undefined)) {
      const bundle = request.body as Bundle;
      if (bundle.type === "batch") return this.batch(request, bundle, access);
      if (bundle.type === "transaction") return this.transaction(request, bundle, access);
    }
    return this.single(request, access);
  }

  /** Each entry stands for itself: a refused one is answered with 403 in its place, the others go on. */
  private async batch(request: FhirRequest, bundle: Bundle, access: Access): Promise<FhirResponse> {
    const entry: BundleEntry[] = [];
    for (const each of bundle.entry ?? []) {
      if (!each.request?.method || typeof each.request.url !== "string") {
        entry.push(
          responseEntry(
            new FhirError(400, {
              severity: "error",
              code: "required",
              diagnostics: "request.method and request.url are needed.",
            }).toResponse(),
          ),
        );
        continue;
      }
      const inner = requestFor(this.settings, request, each, each.resource);
      entry.push(responseEntry(await this.handle(inner, access)));
    }
    return { status: 200, headers: {}, body: { resourceType: "Bundle", type: "batch-response", entry } as Bundle };
  }

  /** One entry that is not covered refuses the whole. */
  private async transaction(request: FhirRequest, bundle: Bundle, access: Access): Promise<FhirResponse> {
    let patientOnly: string | undefined;
    for (const [i, each] of (bundle.entry ?? []).entries()) {
      if (!each.request?.method || typeof each.request.url !== "string") continue; // the server names the fault
      const inner = requestFor(this.settings, request, each, each.resource);
      try {
        const allowed = await this.check(inner, access);
        if (inner.method === "GET" && !isSearch(inner))
          await this.checkBelongs((await this.service.handle(inner)).body, allowed, access);
        patientOnly ??= allowed.patientOnly;
      } catch (error) {
        if (!(error instanceof FhirError)) throw error;
        throw new FhirError(
          error.status,
          error.issues.map((issue) => ({ ...issue, diagnostics: `Bundle.entry[${i}]: ${issue.diagnostics}` })),
        );
      }
    }
    return this.service.handle(patientOnly ? { ...request, patientOnly } : request);
  }

  private async single(request: FhirRequest, access: Access): Promise<FhirResponse> {
    const allowed = await this.check(request, access);
    const response = await this.service.handle(
      allowed.patientOnly ? { ...request, patientOnly: allowed.patientOnly } : request,
    );
    if (response.status >= 300 || !response.body) return response;
    if (!isBundle(response.body)) {
      if (allowed.letter === "r") await this.checkBelongs(response.body, allowed, access);
      return response;
    }
    return { ...response, body: await this.filterBundle(response.body, allowed, access) };
  }

  /** Refuses with 403 what the scopes do not cover; says how far what they cover reaches. */
  private async check(request: FhirRequest, access: Access): Promise<Allowed> {
    const page = request.path === "" && request.method === "GET" ? this.service.pageType?.(request.query) : undefined;
    const [first = "", second, third] = (page ?? request.path).split("/");
    const compartment = first === "Patient" && third !== undefined && /^[A-Z]/.test(third);
    const type = compartment ? third : first;
    const id = compartment || isSearch(request) || second === "_history" ? undefined : second;
    if (this.settings.refusedTypes().includes(type)) throw forbidden(`${type} is not given out on this server.`);
    if (first === "_history" || first === "")
      throw forbidden("This needs a scope over the whole system, which no app gets here.");
    const letter = letterOf(request, id);
    const permission = permissionFor(access.scopes, type, letter);
    if (!permission) throw forbidden(`No granted scope lets this app ${LETTER_WORDS[letter]} ${type}.`);
    for (const name of request.query.keys()) {
      const other = /^_has:([A-Z][A-Za-z]+):/.exec(name)?.[1];
      if (other && !permissionFor(access.scopes, other, "s"))
        throw forbidden(`No granted scope lets this app search ${other}.`);
    }
    const own = permission.reach === "patient" && isPatientData(type);
    if (own && !access.patient) throw forbidden("This token has no patient in context.");
    const allowed: Allowed = { letter, type, permission, patientOnly: own ? access.patient : undefined };
    if (own) await this.checkPatient(request, allowed, access, id);
    if (
      (letter === "c" || letter === "u") &&
      permission.queries.length > 0 &&
      !this.meets(request.body as Resource, permission)
    ) {
      throw forbidden(`The granted scope for ${type} has a condition that this resource does not meet.`);
    }
    return allowed;
  }

  private async checkPatient(
    request: FhirRequest,
    { letter, type }: Allowed,
    access: Access,
    id: string | undefined,
  ): Promise<void> {
    const patient = access.patient as string;
    if (request.path.startsWith("Patient/") && request.path.split("/")[1] !== patient)
      throw forbidden("Another patient than the one in context.");
    if (request.path === `${type}/_history`) throw forbidden(`The history of all ${type} needs a user/ scope.`);
    if (letter === "c" || (letter === "u" && request.method === "PUT")) {
      const body = request.body as Resource | undefined;
      if (body && typeof body === "object" && !(await this.isOwn(body, patient, true)))
        throw forbidden(`This ${type} is not about the patient in context.`);
    }
    if (letter === "c" || letter === "r" || letter === "s" || id === undefined) return;
    // update, patch, delete: what is there now must be the patient's too
    const before = await this.service.handle({
      method: "GET",
      path: `${type}/${id}`,
      query: new URLSearchParams(),
      headers: {},
    });
    if (before.status === 404) {
      if (!permissionFor(access.scopes, type, "c")) throw forbidden(`No granted scope lets this app create ${type}.`);
      return;
    }
    if (before.body && before.status === 200 && !(await this.isOwn(before.body, patient)))
      throw forbidden(`${type}/${id} is not about the patient in context.`);
    const paths = Array.isArray(request.body)
      ? (request.body as { path?: unknown }[]).map(({ path }) => String(path))
      : [];
    if (paths.some((path) => /^\/?(subject|patient|beneficiary|for|target)(\/|$)|^$/.test(path.replace(/^\//, ""))))
      throw forbidden("A patch may not move a resource to another patient.");
  }

  private async checkBelongs(
    resource: Resource | undefined,
    { type, permission, patientOnly }: Allowed,
    access: Access,
  ): Promise<void> {
    if (!resource || resource.resourceType === "OperationOutcome") return;
    if (patientOnly && !isBundle(resource) && !(await this.isOwn(resource, access.patient as string)))
      throw forbidden(`This ${type} is not about the patient in context.`);
    if (!isBundle(resource) && !this.meets(resource, permission))
      throw forbidden(`The granted scope for ${type} has a condition that this resource does not meet.`);
  }

  /** Drops from a search, history or $everything what the scopes do not cover. */
  private async filterBundle(bundle: Bundle, allowed: Allowed, access: Access): Promise<Bundle> {
    const entry: BundleEntry[] = [];
    let dropped = 0;
    for (const each of bundle.entry ?? []) {
      const { resource } = each;
      if (!resource || each.search?.mode === "outcome") {
        entry.push(each);
        continue;
      }
      const isMatch = resource.resourceType === allowed.type && each.search?.mode !== "include";
      const permission = isMatch
        ? allowed.permission
        : (permissionFor(access.scopes, resource.resourceType, "r") ??
          permissionFor(access.scopes, resource.resourceType, "s"));
      const own = permission?.reach === "patient" && isPatientData(resource.resourceType);
      const visible =
        permission &&
        !this.settings.refusedTypes().includes(resource.resourceType) &&
        this.meets(resource, permission) &&
        (!own || (await this.isOwn(resource, access.patient ?? "")));
      if (visible) entry.push(each);
      else if (isMatch) dropped++;
    }
    const { entry: _before, ...rest } = bundle;
    return {
      ...rest,
      ...(bundle.total !== undefined ? { total: bundle.total - dropped } : {}),
      ...(entry.length > 0 ? { entry } : {}),
    } as Bundle;
  }

  private meets(resource: Resource, { queries }: Permission): boolean {
    const context = { store: new Store(), base: this.settings.base, pageSize: 1 };
    return queries.length === 0 || queries.some((query) => matchesQuery(resource, new URLSearchParams(query), context));
  }

  /**
   * Whether a resource is the patient's. A Provenance is, when all it is about is; entries of the same bundle
   * (urn:uuid) are checked where they stand.
   */
  private async isOwn(resource: Resource, patient: string, isNew = false): Promise<boolean> {
    const patients = patientsOf(resource);
    if (resource.resourceType !== "Provenance") return patients.has(patient) && patients.size === 1;
    const targets = targetsOf(resource);
    if (targets.length === 0)
      return (
        isNew &&
        (resource.target as { reference?: string }[] | undefined)?.some(({ reference }) =>
          reference?.startsWith("urn:uuid:"),
        ) === true
      );
    for (const { type, id } of targets) {
      if (type === "Patient" ? id !== patient : !(await this.targetIsOwn(type, id, patient))) return false;
    }
    return true;
  }
  private async targetIsOwn(type: string, id: string, patient: string): Promise<boolean> {
    if (!isPatientData(type) || type === "Provenance") return true;
    const { body, status } = await this.service.handle({
      method: "GET",
      path: `${type}/${id}`,
      query: new URLSearchParams(),
      headers: {},
    });
    return status !== 200 || !body || patientsOf(body).has(patient); // a deleted target is nobody's secret
  }
}

interface Allowed {
  readonly letter: Letter;
  readonly type: string;
  readonly permission: Permission;
  readonly patientOnly: string | undefined;
}

const forbidden = (diagnostics: string) => new FhirError(403, { severity: "error", code: "forbidden", diagnostics });

function isSearch({ method, path }: FhirRequest): boolean {
  const parts = path.split("/");
  if (parts.at(-1) === "_search") return true;
  if (method !== "GET" && method !== "HEAD") return false;
  return parts.length === 1 || (parts.length === 3 && parts[0] === "Patient" && /^[A-Z]/.test(parts[2] ?? ""));
}
function letterOf(request: FhirRequest, id: string | undefined): Letter {
  if (isSearch(request) || request.path.includes("$everything")) return "s";
  if (request.path.includes("$validate")) return "c";
  switch (request.method) {
    case "GET":
    case "HEAD":
      return id === undefined ? "s" : "r";
    case "POST":
      return "c";
    case "DELETE":
      return "d";
    default:
      return "u";
  }
}

/** Versions of resources in memory, with the indexes that make a search on one patient cheap. Knows no HTTP and no rules. */
import { randomUUID } from "node:crypto";
import { type FhirError, localReference, type Resource, refuse, type StoredResource } from "./exchange.ts";

export interface Version {
  readonly type: string;
  readonly id: string;
  readonly versionId: string;
  /** ISO instant */
  readonly at: string;
  readonly method: "POST" | "PUT" | "PATCH" | "DELETE";
  /** undefined when this version is a deletion */
  readonly resource: StoredResource | undefined;
  /** Search values computed so far, by search parameter. */
  readonly values: Map<string, unknown>;
}
export interface StoreOptions {
  /** The FHIR base: absolute references below it count as local. */
  base?: string;
  now?: () => Date;
}

export class Store {
  private readonly types = new Map<string, Map<string, Version[]>>();
  /** "Type Other/id" -> ids of current resources of Type that mention Other/id anywhere: a cheap over-estimate that search then narrows. */
  private readonly mentions = new Map<string, Set<string>>();
  /** "Type system|value" of a top-level identifier -> ids of current resources of Type. */
  private readonly identifiers = new Map<string, Set<string>>();
  private undo: (() => void)[] | undefined;
  private afterwards: (() => void)[] = [];
  private readonly base: string | undefined;
  private readonly now: () => Date;

  constructor({ base, now = () => new Date() }: StoreOptions = {}) {
    this.base = base;
    this.now = now;
  }

  /** The current version, also when that is a deletion; undefined if the id was never used. */
  current(type: string, id: string): Version | undefined {
    return this.types.get(type)?.get(id)?.at(-1);
  }
  /** Oldest first. */
  versions(type: string, id: string): readonly Version[] {
    return this.types.get(type)?.get(id) ?? [];
  }
  /** Every version of a type (or of all types), oldest first. */
  allVersions(type?: string): Version[] {
    const maps = type ? [this.types.get(type) ?? new Map<string, Version[]>()] : [...this.types.values()];
    return maps.flatMap((map) => [...map.values()].flat());
  }
  exists(type: string, id: string): boolean {
    return this.current(type, id)?.resource !== undefined;
  }
  /** Current, not deleted versions of a type. */
  *all(type: string): Generator<Version> {
    for (const versions of this.types.get(type)?.values() ?? []) {
      const last = versions.at(-1);
      if (last?.resource) yield last;
    }
  }
  count(type: string): number {
    let n = 0;
    for (const _ of this.all(type)) n++;
    return n;
  }
  /** Current versions of a type that mention "Type/id" anywhere. */
  mentioning(type: string, reference: string): Version[] {
    return this.lookUp(type, this.mentions.get(`${type} ${reference}`));
  }
  /** Current versions of a type with this top-level identifier. */
  identifiedBy(type: string, system: string, value: string): Version[] {
    return this.lookUp(type, this.identifiers.get(`${type} ${system}|${value}`));
  }
  private lookUp(type: string, ids: ReadonlySet<string> | undefined): Version[] {
    return [...(ids ?? [])]
      .flatMap((id) => this.current(type, id) ?? [])
      .filter(({ resource }) => resource !== undefined);
  }

  newId = (): string => randomUUID();

  /** Stores the next version. `id` is kept outside the resource, so that a resource is validated as the client sent it. */
  put(resource: Resource, id: string, method: "POST" | "PUT" | "PATCH"): StoredResource {
    const { type, versionId, at } = this.nextVersion(resource.resourceType, id);
    const { resourceType, id: _id, meta, ...rest } = resource;
    const kept: StoredResource = { resourceType, id, meta: { ...meta, versionId, lastUpdated: at }, ...rest };
    this.append({ type, id, versionId, at, method, resource: kept, values: new Map() });
    return kept;
  }
  remove(type: string, id: string): Version {
    const { versionId, at } = this.nextVersion(type, id);
    const version: Version = { type, id, versionId, at, method: "DELETE", resource: undefined, values: new Map() };
    this.append(version);
    return version;
  }

  /** Runs all or nothing: when `work` throws, every write in it is taken back, indexes included. */
  atomically<T>(work: () => T): T {
    if (this.undo) return work();
    this.undo = [];
    this.afterwards = [];
    try {
      const result = work();
      for (const action of this.afterwards) action();
      return result;
    } catch (error) {
      for (const step of this.undo.reverse()) step();
      throw error;
    } finally {
      this.undo = undefined;
    }
  }
  /** Runs once the write is sure to stay: at once, or at the end of the surrounding transaction. */
  whenKept(action: () => void): void {
    if (this.undo) this.afterwards.push(action);
    else action();
  }

  private nextVersion(type: string, id: string) {
    const before = this.versions(type, id);
    return { type, versionId: String(before.length + 1), at: this.now().toISOString() };
  }
  private append(version: Version): void {
    const { type, id } = version;
    let byId = this.types.get(type);
    if (!byId) {
      byId = new Map();
      this.types.set(type, byId);
    }
    const versions = byId.get(id) ?? [];
    const before = versions.at(-1);
    if (before) this.index(before, "remove");
    versions.push(version);
    byId.set(id, versions);
    this.index(version, "add");
    this.undo?.push(() => {
      this.index(version, "remove");
      versions.pop();
      if (versions.length === 0) byId.delete(id);
      if (before) this.index(before, "add");
    });
  }

  private index({ type, id, resource }: Version, act: "add" | "remove"): void {
    if (!resource) return;
    const change = (map: Map<string, Set<string>>, at: string) => {
      const key = `${type} ${at}`;
      const ids = map.get(key) ?? new Set<string>();
      ids[act === "add" ? "add" : "delete"](id);
      if (ids.size > 0) map.set(key, ids);
      else map.delete(key);
    };
    for (const reference of referencesIn(resource)) {
      const local = localReference(reference, this.base);
      if (local) change(this.mentions, `${local.type}/${local.id}`);
    }
    const identifiers = Array.isArray(resource.identifier)
      ? resource.identifier
      : resource.identifier
        ? [resource.identifier]
        : [];
    for (const { system = "", value = "" } of identifiers as { system?: string; value?: string }[]) {
      change(this.identifiers, `${system}|${value}`);
    }
  }
}

/** Every `reference` string in a resource, at any depth. */
export function referencesIn(node: unknown, found: Set<string> = new Set()): Set<string> {
  if (Array.isArray(node)) {
    for (const item of node) referencesIn(item, found);
  } else if (node !== null && typeof node === "object") {
    for (const [key, value] of Object.entries(node)) {
      if (key === "reference" && typeof value === "string") found.add(value);
      else if (typeof value === "object") referencesIn(value, found);
    }
  }
  return found;
}

/** The current resource, or the refusal that R4 http asks for: 404 when never there, 410 when deleted. */
export function readOrRefuse(store: Store, type: string, id: string): StoredResource | never {
  const version = store.current(type, id);
  if (!version) throw notFound(type, id);
  if (!version.resource) throw refuse(410, "deleted", `${type}/${id} was deleted. Its history can still be read.`);
  return version.resource;
}
export const notFound = (type: string, id: string): FhirError =>
  refuse(404, "not-found", `${type}/${id} does not exist on this server.`);

/** A small plan as drafts, and a FHIR store that takes a transaction, for tests of what becomes of a write. */
import { metaOf, planItem } from "../../src/fhir/codings.ts";
import type { DraftItem, DraftResource } from "../../src/fhir/drafts.ts";
import type { FhirResource } from "../../src/smart/transport.ts";
import { BASE, bundleOf, fhirJson, outcome } from "./record-system.ts";

export const PLAN_ID = "6f1c2a10-0000-4000-8000-000000000001";

function item(key: string, kind: DraftItem["kind"], resource: DraftResource): DraftItem {
  const meta = metaOf(PLAN_ID, key, "1.0.0", "0.1.0");
  const urn = `urn:uuid:${PLAN_ID.slice(0, 24)}${key.padEnd(12, "0").replace(/[^0-9a-f]/g, "a")}`;
  return { key, kind, title: key, words: [], resource: { ...resource, meta }, urn, edits: [], changes: [] };
}

const subject = { reference: "Patient/p1" };

/** Diagnosis, order, plan and record of who did what, pointing at one another. */
export function drafts(note = "Splint day and night."): DraftItem[] {
  const condition = item("condition", "condition", {
    resourceType: "Condition",
    identifier: [planItem(PLAN_ID, "condition")],
    subject,
    code: { text: "Broken finger tip" },
  });
  const request = item("request", "request", {
    resourceType: "ServiceRequest",
    identifier: [planItem(PLAN_ID, "request")],
    status: "draft",
    intent: "order",
    subject,
    reasonReference: [{ reference: condition.urn }],
  });
  const plan = item("plan", "plan", {
    resourceType: "CarePlan",
    identifier: [planItem(PLAN_ID, "plan")],
    status: "draft",
    intent: "plan",
    subject,
    addresses: [{ reference: condition.urn }],
    activity: [{ reference: { reference: request.urn } }],
    note: [{ text: note }],
  });
  const provenance = item("provenance", "provenance", {
    resourceType: "Provenance",
    target: [],
    recorded: "",
    agent: [{ who: { display: "Fingerpost" } }],
  });
  return [condition, request, plan, provenance];
}

interface Entry {
  readonly fullUrl?: string;
  readonly resource: FhirResource & { identifier?: { value: string }[] };
  readonly request: { method: string; url: string; ifNoneExist?: string; ifMatch?: string };
}

/** Atomic, with conditional create and version check. Tests bend single steps of it. */
export class Store {
  readonly held = new Map<string, FhirResource>();
  private next = 1;
  /** Searches that still find nothing new, as behind a slow index. */
  blindFor = 0;
  /** Changes a resource on its way into the store. */
  alter: (resource: FhirResource) => FhirResource = (resource) => resource;
  readonly patient: Record<string, unknown> = {
    resourceType: "Patient",
    id: "p1",
    active: true,
    birthDate: "1990-02-03",
    name: [{ text: "Ann Example" }],
  };

  put(resource: FhirResource, id = `n${this.next++}`, version = "1"): FhirResource {
    const meta = { ...(resource.meta as object), versionId: version };
    const stored = this.alter({ ...resource, id, meta });
    this.held.set(`${resource.resourceType}/${id}`, stored);
    return stored;
  }

  of(type: string): FhirResource[] {
    return [...this.held.values()].filter((one) => one.resourceType === type);
  }

  answer(request: Request, body: string): Response {
    const url = new URL(request.url);
    const path = url.href.slice(BASE.length + 1).split("?")[0] ?? "";
    if (request.method === "POST") return this.transaction(body);
    if (path === "Patient/p1") return fhirJson(this.patient);
    if (!url.search) {
      const found = this.held.get(path);
      return found ? fhirJson(found) : fhirJson(outcome("not there"), { status: 404 });
    }
    if (this.blindFor > 0) {
      this.blindFor--;
      return fhirJson(bundleOf([]));
    }
    const wanted = (url.searchParams.get("identifier") ?? url.searchParams.get("_tag") ?? "").split("|")[1];
    return fhirJson(bundleOf(this.of(path).filter((one) => JSON.stringify(one).includes(`"${wanted}"`))));
  }

  transaction(body: string): Response {
    const { entry } = JSON.parse(body) as { entry: Entry[] };
    const matching = (one: Entry) =>
      this.of(one.resource.resourceType).filter((held) =>
        JSON.stringify(held).includes(`"${one.request.ifNoneExist?.split("|")[1]}"`),
      );
    for (const one of entry) {
      if (one.request.method === "PUT") {
        const version = (this.held.get(one.request.url)?.meta as { versionId?: string } | undefined)?.versionId;
        if (one.request.ifMatch && one.request.ifMatch !== `W/"${version}"`)
          return fhirJson(outcome("version"), { status: 412 });
      } else if (matching(one).length > 1) return fhirJson(outcome("several match"), { status: 412 });
    }
    const ids = new Map<string, string>();
    const places = entry.map((one) => {
      const there = one.request.method === "PUT" ? one.request.url : keyOf(matching(one)[0]);
      const place = there ?? `${one.resource.resourceType}/n${this.next++}`;
      if (one.fullUrl) ids.set(one.fullUrl, place);
      return { one, place, isNew: there === undefined };
    });
    const response = places.map(({ one, place, isNew }) => {
      const before = this.held.get(place)?.meta as { versionId?: string } | undefined;
      if (!isNew && one.request.method === "POST") return { response: { status: "200 OK", location: place } };
      const version = String(Number(before?.versionId ?? "0") + 1);
      const linked = [...ids].reduce(
        (json, [urn, to]) => json.replaceAll(`"${urn}"`, `"${to}"`),
        JSON.stringify(one.resource),
      );
      this.put(JSON.parse(linked), place.split("/")[1], version);
      return { response: { status: isNew ? "201 Created" : "200 OK", location: `${place}/_history/${version}` } };
    });
    return fhirJson({ resourceType: "Bundle", type: "transaction-response", entry: response });
  }
}
const keyOf = (resource: FhirResource | undefined) => resource && `${resource.resourceType}/${resource.id}`;

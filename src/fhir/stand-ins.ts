/** What stands in for a resource that the record system does not take. */
import type { Appointment, CodeableConcept, Condition, ServiceRequest } from "fhir/r4";
import { visitWriter } from "./appointment.ts";
import { BASE, coding, PLAN_ITEM, planItem } from "./codings.ts";
import type { DraftItem } from "./draft-item.ts";
import { requestWriter } from "./service-request.ts";

/**
 * A visit as an order with its window, for record systems whose book nobody else may write in. Within the order that it belongs to
 * it is the order of one single occurrence (R4 request-intent: instance-order). It keeps its key, so it is found again as the same item.
 */
export function visitAsOrder(item: DraftItem, items: readonly DraftItem[]): DraftItem {
  const visit = item.resource as Appointment;
  const within = items.find((other) => !other.removed && visit.basedOn?.some((b) => b.reference === other.urn));
  const order = within?.resource.resourceType === "ServiceRequest" ? within.resource : undefined;
  const value = visit.identifier?.find((i) => i.system === PLAN_ITEM)?.value ?? "";
  const planId = value.slice(0, value.lastIndexOf(":"));
  const [period] = visit.requestedPeriod ?? [];
  const [service] = visit.serviceType ?? [];
  // The first line names the visit and the last says that the clinic books it: an order says both by itself.
  const notes = visitWriter.words(visit).slice(1, -1);
  const resource: ServiceRequest = {
    resourceType: "ServiceRequest",
    ...(visit.meta ? { meta: visit.meta } : {}),
    ...(visit.extension ? { extension: visit.extension } : {}),
    ...(visit.identifier ? { identifier: visit.identifier } : {}),
    ...(order?.instantiatesCanonical ? { instantiatesCanonical: order.instantiatesCanonical } : {}),
    ...(order ? { basedOn: visit.basedOn! } : {}),
    requisition: planItem(planId, "requisition"),
    status: "draft",
    intent: order ? "instance-order" : "order",
    category: [{ coding: [coding(`${BASE}/CodeSystem/request-kind`, "visit")] }],
    priority: order?.priority ?? "routine",
    code: {
      ...(service?.coding ? { coding: service.coding } : {}),
      text: visit.description ?? service?.text ?? "Follow-up visit",
    },
    subject: visit.participant[0]?.actor ?? { display: "not stated" },
    ...(order?.encounter ? { encounter: order.encounter } : {}),
    ...(period ? { occurrencePeriod: period } : {}),
    performerType: order?.performerType ?? { text: visit.description ?? "clinic" },
    ...(visit.reasonReference ? { reasonReference: visit.reasonReference } : {}),
    ...(notes.length > 0 ? { note: notes.map((text) => ({ text })) } : {}),
  };
  return { ...item, kind: "request", resource, words: requestWriter.words(resource) };
}

/** Orders and visits name in code and words a diagnosis that is not filed as an entry of its own, since nothing can point to it. */
export function reasonInWords(item: DraftItem, notFiled: readonly DraftItem[]): DraftItem {
  const { resource } = item;
  if (resource.resourceType !== "ServiceRequest" && resource.resourceType !== "Appointment") return item;
  const codes = (resource.reasonReference ?? []).flatMap(({ reference }): CodeableConcept[] => {
    const code = (notFiled.find((other) => other.urn === reference)?.resource as Condition | undefined)?.code;
    return code ? [code] : [];
  });
  return codes.length === 0
    ? item
    : { ...item, resource: { ...resource, reasonCode: [...(resource.reasonCode ?? []), ...codes] } };
}

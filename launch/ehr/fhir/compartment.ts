/** Which resources are a patient's own (R4 CompartmentDefinition/patient). */
import { evalFhirPathTyped, getSearchParameterDetails, toTypedValue } from "@medplum/core";
import { compartmentParameters, searchParameter } from "./definitions.ts";
import { localReference, type Resource } from "./exchange.ts";
import type { Store } from "./store.ts";

/** True for types that are some patient's data; false for those shared by all, such as Practitioner. */
export const isPatientData = (type: string): boolean => type === "Patient" || compartmentParameters(type).length > 0;

const known = new WeakMap<Resource, ReadonlySet<string>>(); // stored versions never change

/** Ids of the patients whose compartment a resource is in, by its own references only. */
export function patientsOf(resource: Resource): ReadonlySet<string> {
  const before = known.get(resource);
  if (before) return before;
  const ids = new Set<string>();
  known.set(resource, ids);
  if (resource.resourceType === "Patient" && resource.id) ids.add(resource.id);
  for (const code of compartmentParameters(resource.resourceType)) {
    const param = searchParameter(resource.resourceType, code);
    if (!param) continue;
    const typed = evalFhirPathTyped(getSearchParameterDetails(resource.resourceType, param).parsedExpression, [
      toTypedValue(resource),
    ]);
    for (const { value } of typed) {
      const reference =
        typeof value?.reference === "string"
          ? value.reference.replace(/^https?:\/\/.*\/(?=[A-Z][A-Za-z]+\/[^/]+$)/, "")
          : "";
      const local = localReference(reference);
      if (local?.type === "Patient") ids.add(local.id);
    }
  }
  return ids;
}

/**
 * Whether a resource belongs to this patient. A Provenance belongs to the patient of what it is about,
 * since its targets are seldom the Patient itself.
 */
export function belongsToPatient(resource: Resource, patientId: string, store: Store): boolean {
  if (patientsOf(resource).has(patientId)) return true;
  if (resource.resourceType !== "Provenance") return false;
  return targetsOf(resource).some(({ type, id }) => {
    const target = store.current(type, id)?.resource;
    return target !== undefined && target.resourceType !== "Provenance" && patientsOf(target).has(patientId);
  });
}

/** What a Provenance is about, as far as it is on this server. */
export function targetsOf(resource: Resource): { type: string; id: string }[] {
  const targets = Array.isArray(resource.target) ? (resource.target as { reference?: string }[]) : [];
  return targets.flatMap(({ reference = "" }) => {
    const local = localReference(reference.replace(/^https?:\/\/.*?\/(?=[A-Z][A-Za-z]+\/)/, ""));
    return local ? [local] : [];
  });
}

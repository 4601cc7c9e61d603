/** A record system in memory, and the chart as it is read from it afterwards: for stories that run over several visits. */
import type { Bundle, FhirResource } from "fhir/r4";
import { type Chart, chartFrom, type EarlierPlan } from "../../src/fhir/chart.ts";
import { bundleJson, bundleOf, type DraftItem } from "../../src/fhir/drafts.ts";
import type { StoredChange } from "../../src/fhir/stored-change.ts";
import { Store } from "../smart/stored-plan.ts";
import { AT, SIGNER } from "./cases.ts";

export class Visits {
  readonly store = new Store();

  /** One act, as the plugin sends it. */
  write(
    items: readonly DraftItem[],
    act: "draft" | "sign",
    {
      changes = [],
      at = AT,
      signer = SIGNER,
    }: { changes?: readonly StoredChange[]; at?: string; signer?: typeof SIGNER } = {},
  ): Bundle {
    const stored = this.chart().earlierPlans.find((p) =>
      items[0]?.resource.meta?.tag?.some((t) => t.code === p.planId),
    );
    const existing = Object.fromEntries(
      (stored?.items ?? []).map(({ key, reference, version, resource }) => [
        key,
        { reference, resource, ...(version ? { version } : {}) },
      ]),
    );
    const bundle = bundleOf(items, act, { signer, at, existing, changes });
    const answer = this.store.transaction(bundleJson(bundle));
    if (answer.status !== 200) throw new Error(`refused: ${answer.status}`);
    return bundle;
  }
  /** What somebody does to one resource with another program. */
  elsewhere(reference: string, change: (resource: Record<string, unknown>) => void): void {
    const resource = structuredClone(this.store.held.get(reference)) as unknown as Record<string, unknown>;
    change(resource);
    const meta = resource.meta as { versionId: string };
    this.store.put(resource as never, reference.split("/")[1], String(Number(meta.versionId) + 1));
  }
  file(resource: object, id: string): void {
    this.store.put({ ...resource, id } as never, id);
  }
  chart(user = "Practitioner/dr-okafor", encounterId = "e1"): Chart {
    const part = (...types: string[]) => {
      const resources = types.flatMap((type) => this.store.of(type));
      return { state: "found" as const, resources, more: false };
    };
    return chartFrom(
      {
        earlier: part("CarePlan", "ServiceRequest", "Appointment", "QuestionnaireResponse"),
        conditions: part("Condition"),
      },
      { patientId: "p1", today: "2026-11-25", zone: "Europe/Berlin", user, encounterId },
    );
  }
  plan(planId: string): EarlierPlan {
    const plan = this.chart().earlierPlans.find((p) => p.planId === planId);
    if (!plan) throw new Error(`no plan ${planId} in the record`);
    return plan;
  }
  all<T extends FhirResource>(type: T["resourceType"]): T[] {
    return this.store.of(type) as unknown as T[];
  }
}

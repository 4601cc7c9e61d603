/** An act of a clinician on the small plan, over a record system in memory. */
import type { Act } from "../../src/fhir/codings.ts";
import type { DraftItem } from "../../src/fhir/drafts.ts";
import type { Capabilities, TypeOffer } from "../../src/smart/capabilities.ts";
import { filingOf } from "../../src/smart/filing.ts";
import type { SingleJob } from "../../src/smart/single-writes.ts";
import type { Job, WriteContext } from "../../src/smart/write-report.ts";
import type { RecordInMemory } from "./record-in-memory.ts";
import { BASE } from "./record-system.ts";
import { drafts } from "./stored-plan.ts";

export const AT = "2026-06-01T10:00:00+02:00";
export const SIGNER = { reference: "Practitioner/dr-1", display: "Dr Example" };
export const ALL: TypeOffer = { create: true, update: true, search: true, conditionalCreate: true };
/** A record system that takes all kinds of entries, one at a time. */
export const ONE_BY_ONE: Capabilities = { known: true, transaction: false, offers: () => ALL, refusals: [] };

export interface Acted {
  readonly items?: readonly DraftItem[];
  readonly act?: Act;
  readonly context?: Partial<WriteContext>;
}
/** Each is a session of its own: nothing that was read or learned before is known to it. */
export const jobOver = (fhir: RecordInMemory, { items = drafts(), act = "sign", context = {} }: Acted = {}): Job => ({
  session: {
    context: Object.freeze({ base: BASE, patientId: "p1", launchId: "l1" }),
    config: { issuers: [], frameAncestors: [] },
    can: () => true,
    signer: async () => ({ ok: true as const, reference: SIGNER.reference, name: SIGNER.display }),
    state: () => ({ kind: "open" as const }),
    lastsFor: async () => true,
    fhir,
  },
  items,
  act,
  context: { at: AT, ...context },
});
export function singleJobOver(fhir: RecordInMemory, acted: Acted = {}, capabilities = ONE_BY_ONE): SingleJob {
  const job = jobOver(fhir, acted);
  return { ...job, signer: SIGNER, filing: filingOf(job.items, capabilities, () => true) };
}

import * as z from "zod/mini";
import type { EarlierPlan } from "../../../fhir/chart.ts";
import { plainText } from "../../../fhir/plain-text.ts";
import { OUTSIDE_DAYS } from "../../../fhir/visit-marks.ts";
import { sayDay } from "../../say-date.ts";
import { STATUS_WORDS } from "./words.ts";

const period = z.object({ start: z.optional(z.string()), end: z.optional(z.string()) });
const coding = z.object({
  system: z.optional(z.string()),
  code: z.optional(z.string()),
  display: z.optional(z.string()),
});
const concept = z.object({ text: z.optional(z.string()), coding: z.optional(z.array(coding)) });
const stored = z.object({
  resourceType: z.optional(z.string()),
  id: z.optional(z.string()),
  description: z.optional(z.string()),
  start: z.optional(z.string()),
  end: z.optional(z.string()),
  extension: z.optional(z.array(z.object({ url: z.string(), valueString: z.optional(z.string()) }))),
  requestedPeriod: z.optional(z.array(period)),
  occurrencePeriod: z.optional(period),
  code: z.optional(concept),
  serviceType: z.optional(z.array(concept)),
  reasonCode: z.optional(z.array(concept)),
});
export interface StoredLine {
  readonly key: string;
  readonly kind: "request" | "visit";
  readonly what: string;
  readonly when: string;
  readonly status: string;
}
/** The clinic's reason for a time outside the days of the plan: the doctor who opens the chart is told. */
function outsideWords(extension: readonly { readonly url: string; readonly valueString?: string | undefined }[] = []) {
  const because = extension.find(({ url }) => url === OUTSIDE_DAYS)?.valueString;
  return because === undefined ? "" : `, outside the days of this plan: ${plainText(because, 200)}`;
}
/** Requests and visits of a stored plan in words, each by date. Parts that cannot be read are named, not guessed. */
export function storedLines(plan: EarlierPlan): StoredLine[] {
  return plan.items
    .filter((i) => i.type === "ServiceRequest" || i.type === "Appointment")
    .map((item) => {
      const read = stored.safeParse(item.resource);
      const r = read.success ? read.data : {};
      const window = r.requestedPeriod?.[0] ?? r.occurrencePeriod;
      const when = r.start
        ? `booked for ${sayDay(r.start)}${outsideWords(r.extension)}`
        : window?.start || window?.end
          ? `between ${sayDay(window.start)} and ${sayDay(window.end)}`
          : "no date";
      const what =
        r.description ??
        r.code?.text ??
        r.code?.coding?.[0]?.display ??
        r.serviceType?.[0]?.text ??
        `${item.type} that cannot be read`;
      return {
        key: item.reference,
        // A visit that the record system took as an order is still the visit, and stands beside the order that it belongs to.
        kind: /^visit-/.test(item.key) ? ("visit" as const) : ("request" as const),
        what: plainText(what, 200),
        when,
        status: STATUS_WORDS[item.status] ?? item.status,
        sortBy: r.start ?? window?.start ?? "9",
      };
    })
    .sort((a, b) => a.sortBy.localeCompare(b.sortBy))
    .map(({ sortBy: _, ...line }) => line);
}

const SYSTEM_WORDS: readonly (readonly [part: string, words: string])[] = [
  ["icd-10-cm", "ICD-10-CM"],
  ["icd-10", "ICD-10"],
  ["snomed", "SNOMED CT"],
];
/** Codes of the stored resource with this reference, each with its system's name and its words. */
export function codesOf(resources: readonly unknown[], reference: string): string[] {
  const [type, id] = reference.split("/");
  const read = resources
    .map((r) => stored.safeParse(r))
    .find((r) => r.success && r.data.id === id && r.data.resourceType === type);
  return (read?.data?.code?.coding ?? []).map((c) => {
    const system = SYSTEM_WORDS.find(([part]) => c.system?.includes(part))?.[1] ?? c.system ?? "no system";
    return plainText(`${c.code ?? "no code"} ${c.display ?? ""} (${system})`, 200);
  });
}

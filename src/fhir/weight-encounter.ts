import * as z from "zod/mini";
import { originOf, type Reading, type Suggestions } from "./chart-resource.ts";
import { LOINC } from "./codings.ts";
import { dateWords, isFhirDate, localOf } from "./dates.ts";
import { BODY_WEIGHT } from "./searches.ts";
import { conceptShape, hasCode, lookUp, periodShape, quantityShape, referenceShape } from "./shapes.ts";

const weightShape = z.object({
  status: z.string(),
  code: conceptShape,
  subject: z.optional(referenceShape),
  effectiveDateTime: z.optional(z.string()),
  effectivePeriod: z.optional(periodShape),
  valueQuantity: z.optional(quantityShape),
});
const KG_PER: Record<string, number> = { kg: 1, g: 0.001, "[lb_av]": 0.453_592_37 }; // the pound is defined as 0.45359237 kg

/** The newest body weight in kg, with the day it was measured: weights grow old, above all in children. */
export function readWeight(resources: readonly unknown[], reading: Reading): Suggestions {
  const weights = reading
    .each(resources, "Observation", weightShape, (o) => o.subject?.reference)
    .flatMap((found) => {
      const { data } = found;
      const not = (why: "entered-in-error" | "over" | "not-asked" | "no-value") => {
        reading.leftOut(why, "Observation");
        return [];
      };
      if (data.status === "entered-in-error") return not("entered-in-error");
      if (!["final", "amended", "corrected"].includes(data.status)) return not("over");
      if (!hasCode(data.code, LOINC, BODY_WEIGHT)) return not("not-asked");
      const { value, code, comparator } = data.valueQuantity ?? {};
      const factor = lookUp(KG_PER, code);
      const date = data.effectiveDateTime ?? data.effectivePeriod?.start;
      if (value === undefined || factor === undefined || comparator !== undefined || !date || !isFhirDate(date))
        return not("no-value");
      const from = originOf(found, "Observation: body weight", date);
      return [{ value: Math.round(value * factor * 100) / 100, date, from }];
    });
  const newest = weights.sort((a, b) => b.date.localeCompare(a.date))[0];
  return {
    proposals: newest
      ? [
          {
            finding: "weightKg",
            scope: "patient",
            value: newest.value,
            from: newest.from,
            note: `measured ${dateWords(newest.date.slice(0, 10))}`,
          },
        ]
      : [],
    dates: [],
  };
}

const encounterShape = z.object({
  status: z.string(),
  subject: z.optional(referenceShape),
  period: z.optional(periodShape),
});

/** The day of arrival: the injury was then or earlier, so it is only a proposal for the injury date, and a labelled one. */
export function readEncounter(
  resources: readonly unknown[],
  reading: Reading,
): { dates: Suggestions["dates"]; encounterId?: string } {
  const [found, ...others] = reading
    .each(resources, "Encounter", encounterShape, (e) => e.subject?.reference)
    .filter(({ data }) => {
      const wrong = data.status === "entered-in-error";
      if (wrong) reading.leftOut("entered-in-error", "Encounter");
      return !wrong;
    });
  for (const _ of others) reading.leftOut("not-asked", "Encounter");
  if (!found) return { dates: [] };
  const encounterId = found.reference.slice("Encounter/".length);
  const start = found.data.period?.start;
  if (!start || !isFhirDate(start)) return { dates: [], encounterId };
  const from = originOf(found, "Encounter: arrival", start);
  return {
    dates: [
      {
        field: "injuredAt",
        value: localOf(start, reading.zone).slice(0, 10),
        from,
        note: "day of arrival; the injury may be earlier",
      },
    ],
    encounterId,
  };
}

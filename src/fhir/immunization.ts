import * as z from "zod/mini";
import { type Origin, originOf, type Reading, type Suggestions } from "./chart-resource.ts";
import { CVX } from "./codings.ts";
import { dateWords, isFhirDate } from "./dates.ts";
import { TETANUS_CVX } from "./searches.ts";
import { conceptShape, conceptWords, hasCode, referenceShape } from "./shapes.ts";

const shape = z.object({
  status: z.string(),
  vaccineCode: conceptShape,
  patient: referenceShape,
  occurrenceDateTime: z.optional(z.string()),
  occurrenceString: z.optional(z.string()),
  isSubpotent: z.optional(z.boolean()),
});
const FULL_COURSE = 3;

/**
 * Documented tetanus doses: how many, and the day of the last one. A chart that shows few doses may be incomplete, and one that shows
 * none proves nothing: then nothing is proposed.
 */
export function readImmunizations(resources: readonly unknown[], reading: Reading): Suggestions {
  const doses: { date: string; from: Origin }[] = [];
  for (const found of reading.each(resources, "Immunization", shape, (i) => i.patient.reference)) {
    const { data, reference } = found;
    // "not-done" is the opposite of a dose; a subpotent one does not count as a dose (R4 Immunization.isSubpotent).
    const why =
      data.status === "entered-in-error"
        ? "entered-in-error"
        : data.status !== "completed" || data.isSubpotent === true
          ? "over"
          : hasCode(data.vaccineCode, CVX, TETANUS_CVX)
            ? undefined
            : "not-asked";
    if (why) {
      reading.leftOut(why, "Immunization");
      continue;
    }
    const date = data.occurrenceDateTime;
    if (!date || !isFhirDate(date)) {
      reading.problem({
        kind: "date",
        say: `A tetanus vaccine is recorded without a usable date (${reference}); ask when it was given.`,
        at: reference,
        entries: 1,
        blocksSigning: false,
      });
      continue;
    }
    const label = `Vaccine: ${conceptWords(data.vaccineCode) ?? "tetanus"}`;
    doses.push({ date: date.slice(0, 10), from: originOf(found, label, date) });
  }
  const dated = doses.sort((a, b) => b.date.localeCompare(a.date));
  const last = dated[0];
  if (!last) return { proposals: [], dates: [] };
  const count = new Set(dated.map((d) => d.date)).size;
  const value = count >= FULL_COURSE ? "three-or-more" : "one-or-two";
  return {
    proposals: [
      {
        finding: "tetanusDoses",
        scope: "patient",
        value,
        from: last.from,
        note: `${count} documented in this chart${count >= FULL_COURSE ? "" : "; it may be incomplete"}`,
      },
    ],
    dates: [{ field: "lastTetanusDoseOn", value: last.date, from: last.from, note: dateWords(last.date) }],
  };
}

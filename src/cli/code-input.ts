import * as z from "zod";
import { deriveForCoding } from "../coding/derive.ts";
import { ENCOUNTER_KINDS, type EncounterToCode } from "../coding/encounter.ts";
import { recordable } from "../coding/external-cause.ts";
import { DIGIT_FACTS, ENCOUNTER_FACTS } from "../coding/facts.ts";
import type { CodeTable } from "../coding/tables.ts";
import { type CaseRecord, caseSchema, type Pathway } from "../pathway/index.ts";

const SHOWN = 8;
const some = (values: readonly string[]) =>
  values.length > SHOWN ? `${values.slice(0, SHOWN).join(", ")} and ${values.length - SHOWN} more` : values.join(", ");

const DAY = /^\d{4}-\d{2}-\d{2}$/;
const factsSchema = (facts: { readonly [name: string]: { readonly values: readonly string[] } }) =>
  z.strictObject(
    Object.fromEntries(Object.entries(facts).map(([name, { values }]) => [name, z.enum(values).optional()])),
  );
const oneOf = (values: readonly string[], what: string) =>
  z.string().refine((text) => values.includes(text), {
    error: `is no ${what} of the tables here (for example ${some(values)})`,
  });

/** The form of one encounter. What was recorded of the accident must stand in the official tables. */
export function encounterSchema(tables: readonly CodeTable[]) {
  const all = tables.map(recordable);
  const from = (part: keyof ReturnType<typeof recordable>) => all.flatMap((r) => r[part]);
  return z.strictObject({
    id: z.string().min(1),
    patient: z.string().optional(),
    date: z.string().regex(DAY, { error: "is not a day: yyyy-MM-dd" }),
    kind: z.enum(ENCOUNTER_KINDS),
    /** Checked by itself, as a case record. */
    record: z.looseObject({}),
    stated: z
      .strictObject({
        encounter: factsSchema(ENCOUNTER_FACTS).optional(),
        digits: z.array(factsSchema(DIGIT_FACTS)).optional(),
        circumstances: z
          .strictObject({
            causes: z.array(oneOf(from("causes"), "cause")).optional(),
            place: oneOf(from("places"), "place").optional(),
            activity: oneOf(from("activities"), "activity").optional(),
            status: oneOf(from("statuses"), "status").optional(),
            vehicleDoor: z.literal("use-not-stated").optional(),
          })
          .optional(),
      })
      .optional(),
    signedBy: z.string().optional(),
    signedAt: z.iso.datetime({ offset: true }).optional(),
  });
}

export type EncounterReading =
  | { readonly ok: true; readonly encounter: EncounterToCode }
  | { readonly ok: false; readonly problems: readonly string[] };
const problemsOf = (error: z.ZodError | z.core.$ZodError, under: string): string[] =>
  error.issues.map((issue) => {
    const path = [...(under ? [under] : []), ...issue.path.map(String)].join(".");
    const more = issue.code === "unrecognized_keys" ? `: ${issue.keys.join(", ")}` : "";
    return `${path || "the encounter"}: ${issue.message}${more}`;
  });

/**
 * Reads one encounter that came from outside: its form, the form of its findings, and what the rules derive from them. A digit need not
 * be named here: that it is not is one of the gaps.
 */
export function encounterReader(tables: readonly CodeTable[], pathway: Pathway): (json: unknown) => EncounterReading {
  const schema = encounterSchema(tables);
  return (json) => {
    const read = schema.safeParse(json);
    if (!read.success) return { ok: false, problems: problemsOf(read.error, "") };
    const { data } = read;
    // The moment of the assessment gives ages and hours; for coding alone the day of service is as good.
    const record = caseSchema.safeParse({ assessedAt: `${data.date}T12:00`, patient: {}, injury: {}, ...data.record });
    if (!record.success) return { ok: false, problems: problemsOf(record.error, "record") };
    if ((data.stated?.digits?.length ?? 0) > record.data.digits.length)
      return {
        ok: false,
        problems: [
          `stated.digits: names ${data.stated!.digits!.length} digits, the record ${record.data.digits.length}; allowed: one entry for each digit of the record`,
        ],
      };
    const found = record.data as CaseRecord;
    return {
      ok: true,
      encounter: { ...(data as unknown as EncounterToCode), record: found, derived: deriveForCoding(pathway, found) },
    };
  };
}

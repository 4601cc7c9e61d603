import * as z from "zod/mini";
import { type DateProposal, originOf, type Reading, typeOf } from "./chart-resource.ts";
import { DATA_ABSENT } from "./codings.ts";
import { ageWords, dateWords, isFhirDate } from "./dates.ts";
import { conceptWords, identifierShape, lookUp, primitiveShape, referenceShape, referenceWords } from "./shapes.ts";

export interface PatientSummary {
  readonly id: string;
  readonly reference: string;
  readonly version?: string | undefined;
  readonly name: string;
  /** yyyy, yyyy-MM or yyyy-MM-dd */
  readonly birthDate?: string | undefined;
  /** Why there is no usable birth date, in words. */
  readonly birthDateNote?: string | undefined;
  /** Age in words; both ages when the birth date is partial; "not known" when there is none. */
  readonly age: string;
  readonly sex: string;
  readonly identifiers: readonly { readonly label: string; readonly value: string }[];
  readonly deceased: boolean;
  readonly deceasedOn?: string | undefined;
  readonly active: boolean;
  readonly replacedBy?: string | undefined;
  /** Why nothing may be written for this patient; absent when writing is fine. */
  readonly stop?: string | undefined;
}

const nameShape = z.object({
  use: z.optional(z.string()),
  text: z.optional(z.string()),
  family: z.optional(z.string()),
  given: z.optional(z.array(z.nullable(z.string()))),
  prefix: z.optional(z.array(z.string())),
  suffix: z.optional(z.array(z.string())),
});
const shape = z.object({
  id: z.string(),
  active: z.optional(z.boolean()),
  name: z.optional(z.array(nameShape)),
  gender: z.optional(z.string()),
  birthDate: z.optional(z.string()),
  _birthDate: z.optional(primitiveShape),
  deceasedBoolean: z.optional(z.boolean()),
  deceasedDateTime: z.optional(z.string()),
  identifier: z.optional(z.array(identifierShape)),
  link: z.optional(z.array(z.object({ type: z.optional(z.string()), other: z.optional(referenceShape) }))),
});
const SEX: Record<string, string> = { male: "male", female: "female", other: "other", unknown: "recorded as unknown" };

/** The patient of the launch context; undefined when it has not come, cannot be read, or is somebody else. */
export function readPatient(
  resources: readonly unknown[],
  reading: Reading,
): { summary?: PatientSummary; dates: Omit<DateProposal, "conflict">[] } {
  for (const r of resources)
    if (typeOf(r) === "Patient" && (r as { id?: unknown }).id !== reading.patientId)
      reading.leftOut("other-patient", "Patient");
  const [found] = reading.each(
    resources.filter((r) => (r as { id?: unknown } | null)?.id === reading.patientId),
    "Patient",
    shape,
    (p) => `Patient/${p.id}`,
  );
  if (!found) return { dates: [] };
  const { data, reference, version } = found;
  const born =
    data.birthDate !== undefined &&
    isFhirDate(data.birthDate) &&
    ageWords(data.birthDate, reading.today) !== "not known"
      ? data.birthDate
      : undefined;
  const absent = data._birthDate?.extension?.find((e) => e.url === DATA_ABSENT)?.valueCode;
  const birthDateNote = born
    ? born.length < 10
      ? "only part of the birth date is recorded"
      : undefined
    : data.birthDate
      ? `recorded birth date ${data.birthDate} cannot be right`
      : absent
        ? `no birth date in the chart (${absent})`
        : "no birth date in the chart";
  const deceased = data.deceasedBoolean === true || data.deceasedDateTime !== undefined;
  const replacement = data.link?.find((l) => l.type === "replaced-by");
  const replacedBy = replacement ? (referenceWords(replacement.other) ?? "another record") : undefined;
  const stop = deceased
    ? "The chart records this patient as deceased. Nothing can be ordered or booked."
    : replacedBy
      ? "This record has been merged into another one. Open the surviving record in the EHR and launch again."
      : data.active === false
        ? "This record is marked as not in use. Open the record in use and launch again."
        : undefined;
  const summary: PatientSummary = {
    id: data.id,
    reference,
    version,
    name: nameWords(data.name ?? []),
    birthDate: born,
    birthDateNote,
    age: ageWords(born, reading.today),
    sex: lookUp(SEX, data.gender) ?? "not recorded",
    identifiers: (data.identifier ?? []).flatMap((i) =>
      i.value && i.use !== "old" ? [{ label: conceptWords(i.type) ?? "Identifier", value: i.value }] : [],
    ),
    deceased,
    deceasedOn: data.deceasedDateTime,
    active: data.active !== false,
    replacedBy,
    stop,
  };
  const from = originOf(found, "Patient: birth date");
  return { summary, dates: born ? [{ field: "birthDate", value: born, from, note: dateWords(born) }] : [] };
}

/** The usual name first, then the official one; a former name only when there is no other. */
function nameWords(names: readonly z.infer<typeof nameShape>[]): string {
  const order = ["usual", "official", undefined, "nickname", "temp", "anonymous", "maiden", "old"];
  const ranked = [...names].sort((a, b) => rank(a.use) - rank(b.use));
  function rank(use: string | undefined) {
    const at = order.indexOf(use);
    return at < 0 ? order.length : at;
  }
  for (const name of ranked) {
    const words =
      name.text?.trim() ||
      [...(name.prefix ?? []), ...(name.given ?? []), name.family, ...(name.suffix ?? [])]
        .filter(Boolean)
        .join(" ")
        .trim();
    if (words) return words;
  }
  return "Name not recorded";
}

import type { EncounterToCode, Stated } from "./encounter.ts";
import { type Circumstances, DIGIT_FACTS, ENCOUNTER_FACTS } from "./facts.ts";
import { type Gap, LATE_EFFECT } from "./gaps.ts";

/**
 * The encounter with one gap answered: coding it again updates the codes. "undetermined" is kept as the clinician's answer, so the gap is
 * closed and the default of the classification stays.
 *
 * @throws RangeError when the value is none that the fact can have; an answer in words is for the coder to read, not for this function
 */
export function answerGap(encounter: EncounterToCode, gap: Gap, value: string): EncounterToCode {
  const { scope, name } = gap.answersTo;
  const { stated = {} } = encounter;
  if (scope === "circumstances")
    return withStated(encounter, { circumstances: { ...stated.circumstances, ...circumstance(name, value) } });
  const fact = name === LATE_EFFECT && value !== "undetermined" ? value : name === LATE_EFFECT ? "oldMallet" : name;
  const said = name === LATE_EFFECT && value !== "undetermined" ? "yes" : value;
  const allowed: { readonly [f: string]: { readonly values: readonly string[] } } =
    scope === "digit" ? DIGIT_FACTS : ENCOUNTER_FACTS;
  if (!allowed[fact]?.values.includes(said))
    throw new RangeError(`${gap.key}: "${value}" is no answer; allowed: ${gap.options.map((o) => o.value).join(", ")}`);
  if (scope === "encounter") return withStated(encounter, { encounter: { ...stated.encounter, [fact]: said } });
  const digits = encounter.record.digits.map((_, at) => ({
    ...stated.digits?.[at],
    ...(at === gap.digit ? { [fact]: said } : {}),
  }));
  return withStated(encounter, { digits });
}
const withStated = (encounter: EncounterToCode, stated: Stated): EncounterToCode => ({
  ...encounter,
  stated: { ...encounter.stated, ...stated },
});
/** A cause that is known ends the question about the vehicle. */
const circumstance = (name: string, value: string): Circumstances =>
  name === "causes" ? { causes: [value], ...({ vehicleDoor: undefined } as object) } : { [name]: value };

import { codeEncounter } from "../../src/coding/code-encounter.ts";
import type { CodedEncounter, EncounterToCode, Stated } from "../../src/coding/encounter.ts";
import type { Circumstances, DigitFacts } from "../../src/coding/facts.ts";
import { tableOn } from "../../src/coding/tables.ts";

/** A day inside the edition that ships. */
export const DAY = "2026-11-26";
export type StatedDigit = { readonly [F in keyof DigitFacts]?: DigitFacts[F] };
/** An encounter told in facts of the classification; the record itself names digits only. */
export const told = (
  kind: EncounterToCode["kind"],
  digits: readonly StatedDigit[],
  circumstances: Circumstances = {},
  more: Partial<Omit<EncounterToCode, "stated">> & { readonly visit?: Stated["encounter"] } = {},
): EncounterToCode => {
  const { visit, ...rest } = more;
  return {
    id: "enc-1",
    date: DAY,
    kind,
    record: { injury: {}, digits: digits.map(() => ({})) },
    stated: { digits, circumstances, ...(visit ? { encounter: visit } : {}) },
    ...rest,
  };
};
const table = await tableOn(DAY);
export const coded = (encounter: EncounterToCode, options?: Parameters<typeof codeEncounter>[2]): CodedEncounter =>
  codeEncounter(encounter, table, options);
export const codesOf = (result: CodedEncounter): readonly string[] => result.codes.map((line) => line.code);

import type { CaseRecord } from "../pathway/index.ts";
import { codeEncounter } from "./code-encounter.ts";
import { digitCases } from "./digit-case.ts";
import type { CodeLine, EncounterToCode } from "./encounter.ts";
import { type CodePolicy, type OtherCode, otherCodes } from "./other-systems.ts";
import type { CodeTable } from "./tables.ts";

/** Gaps whose answer changes which diagnosis is coded, not how specific it is: until then the code is the coder's to choose. */
const THE_CODERS: readonly string[] = ["Q-FX", "Q-DIGIT"];
/** An amputation of unknown extent is coded as complete by default: too much to write unasked. */
const isAmputation = (line: CodeLine | undefined): boolean => line?.code.startsWith("S68") ?? false;

export interface SignedCodes {
  /** The first ICD-10-CM line that coders are proposed for this digit; absent: none, or it is theirs to choose. */
  readonly first?: CodeLine;
  /** The same diagnosis in the other classifications of the site. */
  readonly others: readonly OtherCode[];
}
/**
 * The codes that each digit's diagnosis gets when its clinician signs: what the coder's desk proposes first for it, and none where a
 * question has to be answered before. A diagnosis of one digit is coded by itself, so WHO "multiple fractures" stands in the coder's
 * list alone.
 *
 * @param day of service, yyyy-MM-dd
 * @param table of that day (`tableOn`); without it no ICD-10-CM code is given
 */
export function codesAtSignOff(
  record: Pick<CaseRecord, "injury" | "digits">,
  derived: NonNullable<EncounterToCode["derived"]>,
  { day, table, policy }: { readonly day: string; readonly table: CodeTable | undefined; readonly policy: CodePolicy },
): readonly SignedCodes[] {
  const encounter: EncounterToCode = { id: "", date: day, kind: "initial", record, derived };
  const { codes, gaps } = codeEncounter(encounter, table, { policy, changes: false });
  const digits = digitCases(encounter);
  return digits.map((digit) => {
    const first = codes.find((line) => line.digit === digit.at && line.role !== "external-cause");
    const open = gaps.filter((gap) => gap.digit === digit.at).map((gap) => gap.id);
    if (open.some((id) => THE_CODERS.includes(id)) || (isAmputation(first) && open.includes("Q-AMP")))
      return { others: [] };
    return { ...(first ? { first } : {}), others: otherCodes([digit], derived, policy) };
  });
}

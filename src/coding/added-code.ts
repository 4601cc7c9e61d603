import { CAUSE_EXCLUSIONS, NEVER_GIVEN } from "./external-cause.ts";
import { EXCLUSIONS } from "./injury-rules.ts";
import type { CodeTable } from "./tables.ts";

/** One code of a list, with the place of its digit in the record; absent: of the encounter. */
export interface ListedCode {
  readonly code: string;
  readonly digit?: number | undefined;
}
/** Chapter 20: how it happened. Such a code never stands first (I.C.20.a.6). */
export const isExternalCause = (code: string): boolean => /^[V-Y]/.test(code);

const FOUND = 20;
/** Codes of the table by their beginning ("s61.3", "S613") or by words of their official description, at most twenty. */
export function codesFound(
  text: string,
  table: CodeTable,
): readonly { readonly code: string; readonly display: string }[] {
  const start = text.trim().toUpperCase().replaceAll(".", "");
  const words = text.toLowerCase().split(/\s+/).filter(Boolean);
  if (start.length < 2) return [];
  return table
    .beginning("")
    .flatMap((code) => {
      const display = table.describe(code) ?? "";
      const said = display.toLowerCase();
      return code.replace(".", "").startsWith(start) || words.every((word) => said.includes(word))
        ? [{ code, display }]
        : [];
    })
    .slice(0, FOUND);
}

/** Two codes that do not stand together: of one digit as `EXCLUSIONS` has it, or two causes of one accident. */
function excluded(one: ListedCode, other: ListedCode): string | undefined {
  const rule =
    one.digit === other.digit
      ? EXCLUSIONS.find(
          ({ leavesOut, beside, when }) =>
            one.code.startsWith(leavesOut) &&
            beside.some((start) => other.code.startsWith(start)) &&
            // Excludes1 at S61 names the open fracture alone: its seventh character is B.
            (when === undefined || other.code.endsWith("B")),
        )
      : undefined;
  if (rule)
    return rule.printed ? `Excludes1 at ${rule.printed.at}: ${rule.printed.text}. ${rule.because}` : rule.because;
  const cause = CAUSE_EXCLUSIONS.find(
    ({ leavesOut, beside }) => one.code.startsWith(leavesOut) && beside.some((start) => other.code.startsWith(start)),
  );
  return cause && `Excludes1 at ${cause.printed.at}: ${cause.printed.text}.`;
}

/**
 * Why a coder cannot add this code beside the others, in a sentence; undefined when it can be added.
 *
 * @param table of the edition that holds on the day of service: a code that is not billable in it is refused
 */
export function whyNotAdded(added: ListedCode, others: readonly ListedCode[], table: CodeTable): string | undefined {
  const { name, from, to } = table.edition;
  if (table.describe(added.code) === undefined)
    return `"${added.code}" is not a billable code of ${name} here, which holds from ${from} to ${to}.`;
  if (NEVER_GIVEN.includes(added.code))
    return `${added.code} is not given for a fact that is missing (I.C.20): leave it out.`;
  const same = others.find(({ code }) => code === added.code);
  if (same) return `${added.code} stands in the list already.`;
  return whyNotBeside(added, others);
}
/** Why a code does not stand beside the others (Excludes1, or a rule of the classification), in a sentence; undefined when it does. */
export function whyNotBeside(one: ListedCode, others: readonly ListedCode[]): string | undefined {
  for (const other of others) {
    const because = excluded(one, other) ?? excluded(other, one);
    if (because) return `${one.code} does not stand beside ${other.code}. ${because}`;
  }
  return undefined;
}

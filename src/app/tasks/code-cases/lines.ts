import type { CodedEncounter } from "../../../coding/code-encounter.ts";
import type { CodeTable } from "../../../coding/tables.ts";
import { type KeptLine, linesOf, type Named, type Signing } from "../../../fhir/coding-signing.ts";

/** What the coder did to a line: another code, or none; always with a reason. */
export interface LineEdit {
  /** Absent: the line is left out. */
  readonly kept?: Named | undefined;
  readonly reason: string;
}
export type LineEdits = { readonly [key: string]: LineEdit | undefined };

/** What was decided on the same proposals when the record was last signed; a proposal that is new stands as proposed. */
export function editsFrom(signing: Signing | undefined): LineEdits {
  const changed = (signing?.lines ?? []).filter((line) => line.kept?.code !== line.proposed.code);
  return Object.fromEntries(
    changed.map((line) => [editKey(line), { kept: line.kept, reason: line.reason ?? "" } satisfies LineEdit]),
  );
}
/** An edit belongs to a proposal, not to a place: when facts change the code, the coder is asked anew. */
export const editKey = ({ key, proposed }: Pick<KeptLine, "key" | "proposed">): string => `${key} ${proposed.code}`;

/** The lines as they would be signed. */
export const editedLines = (coded: CodedEncounter, edits: LineEdits): KeptLine[] =>
  linesOf(coded.codes).map((line) => {
    const edit = edits[editKey(line)];
    return edit ? { ...line, kept: edit.kept, reason: edit.reason } : line;
  });

/** A typed code as the table writes it ("s62634a" is S62.634A), or undefined when it is no billable code there. */
export function codeTyped(text: string, table: CodeTable): Named | undefined {
  const plain = text.trim().toUpperCase().replaceAll(".", "");
  const code = plain.length > 3 ? `${plain.slice(0, 3)}.${plain.slice(3)}` : plain;
  const display = table.describe(code);
  return display === undefined ? undefined : { code, display };
}

/** "A: initial encounter for closed fracture", from the official words; undefined for a code without a seventh character. */
export function seventhOf({ code, display }: Named): string | undefined {
  const seventh = code.replace(".", "").slice(6);
  const words = display.slice(display.lastIndexOf(", ") + 2);
  return seventh ? `${seventh}: ${words}` : undefined;
}

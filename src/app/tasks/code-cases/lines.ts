import type { CodedEncounter } from "../../../coding/encounter.ts";
import type { CodeTable } from "../../../coding/tables.ts";
import { isChanged, type KeptLine, linesOf, type Named, type Signing } from "../../../fhir/coding-signing.ts";

/** What the coder did to a line: another code, or none; always with a reason. */
export interface LineEdit {
  /** Absent: the line is left out. */
  readonly kept?: Named | undefined;
  readonly reason: string;
}
/** All that the coder did to a list of proposals. */
export interface Edits {
  readonly lines: { readonly [key: string]: LineEdit | undefined };
  readonly added: readonly KeptLine[];
  /** Keys of lines in the coder's order; empty: as proposed. */
  readonly order: readonly string[];
}

/** What was decided on the same proposals when the record was last signed; a proposal that is new stands as proposed. */
export function editsFrom(signing: Signing | undefined): Edits {
  const all = signing?.lines ?? [];
  return {
    lines: Object.fromEntries(
      all
        .filter((line) => line.proposed && isChanged(line))
        .map((line) => [editKey(line), { kept: line.kept, reason: line.reason ?? "" } satisfies LineEdit]),
    ),
    added: all.filter((line) => !line.proposed),
    order: all.map(editKey),
  };
}
/** An edit belongs to a proposal, not to a place: when facts change the code, the coder is asked anew. */
export const editKey = ({ key, proposed }: Pick<KeptLine, "key" | "proposed">): string =>
  `${key} ${proposed?.code ?? "added"}`;

/** The lines as they would be signed: the coder's order, causes last, the first diagnosis that is kept leading. */
export function editedLines(coded: CodedEncounter, { lines, added, order }: Edits): KeptLine[] {
  const all = [
    ...linesOf(coded.codes).map((line) => {
      const edit = lines[editKey(line)];
      return edit ? { ...line, kept: edit.kept, reason: edit.reason } : line;
    }),
    ...added,
  ];
  // A line that the order does not name stands behind its neighbour of the proposal.
  const place = (line: KeptLine, at: number): number => {
    const found = order.indexOf(editKey(line));
    return found >= 0 || order.length === 0 ? (found < 0 ? at : found) : order.length + at;
  };
  const places = new Map(all.map((line, at) => [line, place(line, at)]));
  const sorted = [...all].sort((a, b) => places.get(a)! - places.get(b)!);
  const diagnoses = sorted.filter((line) => line.role !== "external-cause");
  const first = diagnoses.find((line) => line.kept);
  return [
    ...diagnoses.map((line): KeptLine => ({ ...line, role: line === first ? "principal" : "additional" })),
    ...sorted.filter((line) => line.role === "external-cause"),
  ];
}
/** The order with one line moved before its neighbour of the same kind; undefined where there is none. */
export function movedUp(lines: readonly KeptLine[], at: number): readonly string[] | undefined {
  const cause = (line: KeptLine | undefined) => line?.role === "external-cause";
  const before = lines[at - 1];
  if (!before || cause(before) !== cause(lines[at])) return undefined;
  const keys = lines.map(editKey);
  [keys[at - 1], keys[at]] = [keys[at]!, keys[at - 1]!];
  return keys;
}

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

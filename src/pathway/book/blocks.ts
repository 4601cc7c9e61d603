/** A document before it is HTML or Markdown: both say the same because both are drawn from this. */

/** Text, a link inside the document, a link to the outside, an id that stands as it is written, or a word that leads the eye. */
export type Inline =
  | string
  | { readonly text: string; readonly to: string }
  | { readonly text: string; readonly href: string }
  | { readonly code: string }
  | { readonly strong: string };
export type Words = readonly Inline[];
export type Block =
  | { readonly p: Words; readonly note?: true }
  | { readonly list: readonly Words[] }
  | { readonly heading: string; readonly anchor?: string; readonly level: 3 | 4 }
  | { readonly table: { readonly head: readonly string[]; readonly rows: readonly TableRow[] } }
  | { readonly entry: Entry };
export interface TableRow {
  readonly anchor: string;
  readonly cells: readonly (readonly Words[])[];
}
/** One rule, sign, question, class or source: what a reviewer reads and ticks off. */
export interface Entry {
  readonly anchor: string;
  readonly title: Words;
  readonly rows: readonly { readonly label: string; readonly blocks: readonly Block[] }[];
}
export interface Section {
  readonly anchor: string;
  readonly title: string;
  readonly blocks: readonly Block[];
}
export interface Book {
  readonly title: string;
  /** Said before everything else. */
  readonly cautions: readonly Words[];
  readonly sections: readonly Section[];
}

export const plain = (words: Words): string =>
  words.map((w) => (typeof w === "string" ? w : "text" in w ? w.text : "code" in w ? w.code : w.strong)).join("");
/** Puts `between` between parts: "a, b, c". */
export const joined = (parts: readonly Words[], between: string): Words =>
  parts.flatMap((part, i) => (i === 0 ? part : [between, ...part]));

/** Every block of a book, those inside entries too. */
export function blocksOf(book: Book): Block[] {
  const inside = (block: Block): Block[] =>
    "entry" in block ? [block, ...block.entry.rows.flatMap((row) => row.blocks.flatMap(inside))] : [block];
  return book.sections.flatMap((section) => section.blocks.flatMap(inside));
}
/** Every place of a book that a link can lead to, as often as it stands there. */
export function anchorsOf(book: Book): string[] {
  return [
    ...book.sections.map((s) => s.anchor),
    ...blocksOf(book).flatMap((block) => {
      if ("entry" in block) return [block.entry.anchor];
      if ("table" in block) return block.table.rows.map((row) => row.anchor);
      return "heading" in block && block.anchor !== undefined ? [block.anchor] : [];
    }),
  ];
}
/** Every run of words of a book, cautions and titles too. */
export function wordsOf(book: Book): Words[] {
  return [
    ...book.cautions,
    ...blocksOf(book).flatMap((block): readonly Words[] => {
      if ("p" in block) return [block.p];
      if ("list" in block) return block.list;
      if ("table" in block) return block.table.rows.flatMap((row) => row.cells.flat());
      return "entry" in block ? [block.entry.title] : [];
    }),
  ];
}

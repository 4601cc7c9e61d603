import type { Block, Book, Entry, Inline, Words } from "./blocks.ts";

/** Text that Markdown would otherwise take for marks. */
const escaped = (text: string) => text.replace(/[\\`*_{}[\]<>|#~]/g, (c) => `\\${c}`);
const anchor = (id: string) => `<a id="${id}"></a>`;

const inline = (part: Inline): string => {
  if (typeof part === "string") return escaped(part);
  if ("to" in part) return `[${escaped(part.text)}](#${part.to})`;
  if ("href" in part) return `[${escaped(part.text)}](<${part.href.replace(/[<>\\]/g, encodeURIComponent)}>)`;
  if ("code" in part) return `\`${part.code.replaceAll("`", "'")}\``;
  return `**${escaped(part.strong)}**`;
};
const inlines = (words: Words) => words.map(inline).join("");
const list = (items: readonly string[], indent: string) => items.map((item) => `${indent}- ${item}`).join("\n");

function block(b: Block, indent = ""): string {
  if ("p" in b) return `${indent}${inlines(b.p)}`;
  if ("list" in b) return list(b.list.map(inlines), indent);
  if ("heading" in b) return `${"#".repeat(b.level)} ${b.anchor ? anchor(b.anchor) : ""}${escaped(b.heading)}`;
  if ("entry" in b) return entry(b.entry);
  const row = (cells: readonly string[]) => `| ${cells.join(" | ")} |`;
  return [
    row(b.table.head.map(escaped)),
    row(b.table.head.map(() => "---")),
    ...b.table.rows.map((r) =>
      row(r.cells.map((cell, i) => `${i === 0 ? anchor(r.anchor) : ""}${cell.map(inlines).join("<br>")}`)),
    ),
  ].join("\n");
}
/** One bullet for each row; what is a single paragraph stands on the line of its label. */
function entry({ anchor: id, title, rows }: Entry): string {
  return [
    `#### ${anchor(id)}${inlines(title)}`,
    "",
    ...rows.map(({ label, blocks }) => {
      const [first, ...rest] = blocks;
      const led = first !== undefined && "p" in first ? ` ${inlines(first.p)}` : "";
      const below = led === "" ? blocks : rest;
      return [
        `- **${escaped(label)}:**${led}`,
        ...below.map((b) => ("p" in b ? `  - ${inlines(b.p)}` : block(b, "  "))),
      ].join("\n");
    }),
  ].join("\n");
}

/** The book as Markdown with the anchors and links of the HTML. */
export function toMarkdown(book: Book): string {
  return `${[
    `# ${escaped(book.title)}`,
    list(book.cautions.map(inlines), ""),
    "## Contents",
    list(
      book.sections.map((s) => `[${escaped(s.title)}](#${s.anchor})`),
      "",
    ),
    ...book.sections.flatMap((s) => [`## ${anchor(s.anchor)}${escaped(s.title)}`, ...s.blocks.map((b) => block(b))]),
  ].join("\n\n")}\n`;
}

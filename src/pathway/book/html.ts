import type { Block, Book, Entry, Inline, Words } from "./blocks.ts";

const ENTITIES: Readonly<Record<string, string>> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};
/** Text as HTML text or attribute value. */
export const escaped = (text: string) => text.replace(/[&<>"']/g, (c) => ENTITIES[c] ?? c);

const inline = (part: Inline): string => {
  if (typeof part === "string") return escaped(part);
  if ("to" in part) return `<a href="#${escaped(part.to)}">${escaped(part.text)}</a>`;
  if ("href" in part) return `<a href="${escaped(part.href)}" rel="noreferrer">${escaped(part.text)}</a>`;
  if ("code" in part) return `<code>${escaped(part.code)}</code>`;
  return `<strong>${escaped(part.strong)}</strong>`;
};
const inlines = (words: Words) => words.map(inline).join("");

function block(b: Block): string {
  if ("p" in b) return `<p${b.note ? ' class="note"' : ""}>${inlines(b.p)}</p>`;
  if ("list" in b) return `<ul>${b.list.map((item) => `<li>${inlines(item)}</li>`).join("\n")}</ul>`;
  if ("heading" in b)
    return `<h${b.level}${b.anchor ? ` id="${escaped(b.anchor)}"` : ""}>${escaped(b.heading)}</h${b.level}>`;
  if ("entry" in b) return entry(b.entry);
  const cell = (words: readonly Words[]) => `<td>${words.map((w) => `<p>${inlines(w)}</p>`).join("")}</td>`;
  return `<table><thead><tr>${b.table.head.map((h) => `<th scope="col">${escaped(h)}</th>`).join("")}</tr></thead>
<tbody>
${b.table.rows.map((row) => `<tr id="${escaped(row.anchor)}">${row.cells.map(cell).join("")}</tr>`).join("\n")}
</tbody></table>`;
}
const entry = ({ anchor, title, rows }: Entry) => `<article id="${escaped(anchor)}"><h4>${inlines(title)}</h4>
<dl>
${rows.map((row) => `<div><dt>${escaped(row.label)}</dt><dd>${row.blocks.map(block).join("\n")}</dd></div>`).join("\n")}
</dl></article>`;

const CONTENTS_LEVEL = 3;
const contents = ({ sections }: Book) =>
  sections
    .map((s) => {
      const inside = s.blocks.flatMap((b) =>
        "heading" in b && b.anchor !== undefined && b.level === CONTENTS_LEVEL
          ? [`<li><a href="#${escaped(b.anchor)}">${escaped(b.heading)}</a></li>`]
          : [],
      );
      return `<li><a href="#${escaped(s.anchor)}">${escaped(s.title)}</a>${inside.length ? `<ul>${inside.join("\n")}</ul>` : ""}</li>`;
    })
    .join("\n");

/** The book as one HTML file: no script, nothing loaded from elsewhere, fit for print, dark and light. */
export function toHtml(book: Book): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>${escaped(book.title)}</title>
<style>${STYLE}</style>
</head>
<body>
<header><h1>${escaped(book.title)}</h1>
<ul class="cautions">${book.cautions.map((c) => `<li>${inlines(c)}</li>`).join("\n")}</ul></header>
<nav aria-label="Contents"><h2>Contents</h2><ol>${contents(book)}</ol></nav>
<main>
${book.sections
  .map(
    (s) => `<section aria-labelledby="${escaped(s.anchor)}"><h2 id="${escaped(s.anchor)}">${escaped(s.title)}</h2>
${s.blocks.map(block).join("\n")}
</section>`,
  )
  .join("\n")}
</main>
</body>
</html>
`;
}

const STYLE = `
:root{color-scheme:light dark;--ink:light-dark(#1a2026,#e6eaee);--quiet:light-dark(#4d5966,#a9b4bf);--paper:light-dark(#fff,#14181c);
--raised:light-dark(#f5f7f9,#1d2329);--line:light-dark(#cfd7df,#3a444e);--link:light-dark(#0b5394,#8cc4ff);--caution:light-dark(#fff4d6,#3a3012)}
*{box-sizing:border-box}
html{scroll-padding-top:1rem}
body{margin:0 auto;max-width:62rem;padding:1.5rem 1.25rem 4rem;background:var(--paper);color:var(--ink);
font:1rem/1.5 system-ui,-apple-system,"Segoe UI",Roboto,"Noto Sans",sans-serif;overflow-wrap:break-word}
h1{font-size:1.9rem;line-height:1.2;margin:.5rem 0 1rem}
h2{font-size:1.5rem;line-height:1.25;margin:3rem 0 .75rem;padding-bottom:.3rem;border-bottom:2px solid var(--line)}
h3{font-size:1.2rem;margin:2.25rem 0 .5rem}
h4{font-size:1.05rem;margin:1.75rem 0 .5rem}
article h4{font-size:1rem;margin:0 0 .4rem}
p{margin:.3rem 0}
a{color:var(--link);text-decoration-thickness:1px;text-underline-offset:.15em}
code{font:.92em ui-monospace,SFMono-Regular,Menlo,Consolas,monospace;overflow-wrap:anywhere}
ul,ol{margin:.3rem 0;padding-left:1.3rem}
.cautions{background:var(--caution);border:1px solid var(--line);border-radius:.4rem;padding:.7rem 1rem .7rem 2rem}
.note{color:var(--quiet)}
nav{margin-top:1.5rem;padding:.25rem 1.25rem 1rem;background:var(--raised);border:1px solid var(--line);border-radius:.4rem}
nav h2{margin:.9rem 0 .5rem;border:0;padding:0;font-size:1.15rem}
nav ul{columns:2;column-gap:2rem;list-style:none;padding:0 0 .4rem}
nav li{break-inside:avoid}
article{border:1px solid var(--line);border-radius:.4rem;background:var(--raised);padding:.7rem .9rem;margin:.7rem 0}
article:target,tr:target{outline:3px solid var(--link)}
dl{margin:0}
dl>div{display:grid;grid-template-columns:7.5rem minmax(0,1fr);gap:.1rem 1rem;padding:.22rem 0}
dt{color:var(--quiet);font-weight:600}
dd{margin:0}
dd>p:first-child,dd>ul:first-child,td>p:first-child{margin-top:0}
table{border-collapse:collapse;width:100%;margin:.7rem 0;font-size:.95rem}
th,td{border:1px solid var(--line);padding:.4rem .55rem;text-align:left;vertical-align:top}
th{background:var(--raised)}
th:first-child:nth-last-child(4){width:44%}th:nth-child(3):nth-last-child(2){width:18%}th:first-child:nth-last-child(3){width:32%}th:nth-child(3):last-child{width:22%}
@media (max-width:45rem){body{padding:1rem .8rem 3rem}dl>div{grid-template-columns:6rem minmax(0,1fr)}nav ul{columns:1}
table{font-size:.88rem}}
@media (max-width:32rem){dl>div{grid-template-columns:minmax(0,1fr)}}
@media print{:root{color-scheme:light}body{max-width:none;padding:0;font-size:9.5pt}a{color:inherit;text-decoration:none}
article,tr{break-inside:avoid}article{background:none}h2{break-before:page}nav h2{break-before:auto}h2,h3,h4{break-after:avoid}}
`;

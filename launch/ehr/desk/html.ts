/** HTML by template, with everything that is put in escaped. */
export class Html {
  readonly text: string;
  constructor(text: string) {
    this.text = text;
  }
}
type Part = string | number | Html | undefined | false | readonly Part[];

const escaped = (text: string) => text.replace(/[&<>"']/g, (char) => `&#${char.charCodeAt(0)};`);
const show = (part: Part): string =>
  part instanceof Html
    ? part.text
    : Array.isArray(part)
      ? part.map(show).join("")
      : part === undefined || part === false
        ? ""
        : escaped(String(part));

export function html(strings: TemplateStringsArray, ...parts: Part[]): Html {
  return new Html(strings.reduce((text, piece, i) => text + piece + (i < parts.length ? show(parts[i]) : ""), ""));
}

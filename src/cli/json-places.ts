/** Where the parts of a JSON text stand, and which keys an object names twice (the reader would silently keep the last). */
export interface JsonPlaces {
  /** "line:column" of the value at a dotted path; of the nearest part around it when the path itself is not there. */
  at(path: string): string;
  readonly twice: readonly string[];
}

const TOKEN = /"(?:[^"\\]|\\.)*"|[{}[\]:,]|[^\s{}[\]:,"]+/g;

/** @param text JSON that a parser has accepted; its keys may hold dots, and paths are joined with dots */
export function jsonPlaces(text: string): JsonPlaces {
  const starts = new Map<string, number>();
  const twice: string[] = [];
  const open: { readonly path: string; key: string | number; readonly list: boolean }[] = [];
  let expectsKey = false;
  const here = () => {
    const inside = open.at(-1);
    return inside === undefined ? "" : [inside.path, String(inside.key)].filter((part) => part !== "").join(".");
  };
  for (const { 0: token, index } of text.matchAll(TOKEN)) {
    const inside = open.at(-1);
    if (token === "}" || token === "]") open.pop();
    else if (token === ":") expectsKey = false;
    else if (token === ",") {
      if (inside?.list) inside.key = Number(inside.key) + 1;
      else expectsKey = true;
    } else if (expectsKey && inside) {
      inside.key = JSON.parse(token);
      if (starts.has(here())) twice.push(here());
    } else {
      starts.set(here(), index);
      if (token === "{") open.push({ path: here(), key: "", list: false });
      if (token === "[") open.push({ path: here(), key: 0, list: true });
    }
    if (token === "{" || token === "[" || token === "}" || token === "]") expectsKey = token === "{";
  }
  const lineColumn = (index: number) => {
    const before = text.slice(0, index).split("\n");
    return `${before.length}:${before.at(-1)!.length + 1}`;
  };
  return {
    twice,
    at(path) {
      const parts = path === "" ? [] : path.split(".");
      for (let n = parts.length; n >= 0; n--) {
        const index = starts.get(parts.slice(0, n).join("."));
        if (index !== undefined) return lineColumn(index);
      }
      return lineColumn(0);
    },
  };
}

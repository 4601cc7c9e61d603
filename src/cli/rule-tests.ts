import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import type { CoveringTest } from "../pathway/book/index.ts";

/** Which rules each test file made speak when the tests last ran with recording on. */
const SPOKEN_IN_TESTS = "tests/pathway/spoken-rules/by-file.jsonl";

/**
 * The tests of each rule: those that name it, by title, and the files in which it was recorded to speak.
 *
 * @param ids every rule id
 */
export function testsOfRules(ids: readonly string[]): Map<string, CoveringTest[]> {
  const wanted = new Set(ids);
  const spoken = recorded();
  const files = readdirSync("tests", { recursive: true, encoding: "utf8" })
    .filter((path) => /\.test\.tsx?$/.test(path))
    .map((path) => join("tests", path).replaceAll("\\", "/"))
    .sort();
  const tests = new Map<string, CoveringTest[]>();
  for (const file of files) {
    const named = namedIn(readFileSync(file, "utf8"), wanted);
    for (const id of new Set([...named.keys(), ...(spoken.get(file) ?? [])]))
      if (wanted.has(id))
        tests.set(id, [...(tests.get(id) ?? []), { file, titles: [...new Set(named.get(id) ?? [])] }]);
  }
  return tests;
}

function recorded(): ReadonlyMap<string, readonly string[]> {
  if (!existsSync(SPOKEN_IN_TESTS)) return new Map();
  const lines = readFileSync(SPOKEN_IN_TESTS, "utf8").split("\n").filter(Boolean);
  return new Map(lines.map((line): [string, string[]] => JSON.parse(line)));
}

const ID = /["'`]([A-Z][A-Z0-9]*(?:-[A-Z0-9]+)*-?\d*[a-z]?)["'`]/g;
/** Rule ids in the text of a test file, each with the title of the test around it; an id among data of the file has no title. */
export function namedIn(text: string, wanted: ReadonlySet<string>): Map<string, string[]> {
  const lines = text.split("\n");
  const named = new Map<string, string[]>();
  lines.forEach((line, i) => {
    for (const [, id = ""] of line.matchAll(ID)) {
      if (!wanted.has(id)) continue;
      const title = titleAround(lines, i);
      named.set(id, [...(named.get(id) ?? []), ...(title === undefined ? [] : [title])]);
    }
  });
  return named;
}

const OPENS = /^\s*(?:it|test|describe)(?:\.\w+)*[(`]/;
const indent = (line: string) => line.length - line.trimStart().length;
/** The formatter indents what is inside, so the test around a line is the next line above it that is indented less and opens one. */
function titleAround(lines: readonly string[], at: number): string | undefined {
  let depth = Number.POSITIVE_INFINITY;
  for (let i = at; i >= 0; i--) {
    const line = lines[i]!;
    if (line.trim() === "" || indent(line) >= depth) continue;
    depth = indent(line);
    if (OPENS.test(line)) return titleOf(lines, i);
    if (depth === 0 && i < at) return undefined;
  }
  return undefined;
}
/** Tests over a list of cases have their title behind the list, at the line that closes it. */
function titleOf(lines: readonly string[], opener: number): string | undefined {
  const own = indent(lines[opener]!);
  const listed = /\.each\(/.test(lines[opener]!) && !/\)\(\s*["'`]/.test(lines[opener]!);
  const close = listed
    ? lines.findIndex((line, i) => i > opener && indent(line) === own && /\)\($|\)\(["'`]/.test(line.trim()))
    : opener;
  if (close < 0) return undefined;
  const text = lines.slice(close, close + 2).join("\n");
  const title = /\(\s*(["'`])((?:\\.|(?!\1)[^\\])*)\1\s*,/.exec(
    listed ? text.slice(text.indexOf(")(") + 1) : text,
  )?.[2];
  return title?.replace(/\\(.)/g, "$1").replace(/\s+/g, " ");
}

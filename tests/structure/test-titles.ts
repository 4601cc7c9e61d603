import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";

/** A test as it is called in its file; `%s` and `${x}` of a list of cases stay as they are written. */
export interface TestTitle {
  readonly file: string;
  readonly title: string;
  /** Titles of the groups around it, outermost first. */
  readonly within: readonly string[];
  /** Names in its list of cases that begin with a long requirement number. */
  readonly cases: readonly string[];
}

const OPENERS = ["it", "test", "describe"];
/** The name that a chain of calls begins with: `it` of `it.each(cases)("title", run)`. */
function opener(node: ts.Expression): string {
  if (ts.isIdentifier(node)) return node.text;
  if (ts.isPropertyAccessExpression(node) || ts.isCallExpression(node)) return opener(node.expression);
  return ts.isTaggedTemplateExpression(node) ? opener(node.tag) : "";
}
function written(node: ts.Expression, file: ts.SourceFile): string {
  if (ts.isStringLiteralLike(node)) return node.text;
  const text = node.getText(file);
  return ts.isTemplateExpression(node) ? text.slice(1, -1) : text;
}

/** The strings in a list of cases, as `it.each` has it. */
function listed(node: ts.Node): string[] {
  if (ts.isStringLiteralLike(node)) return [node.text];
  if (ts.isArrayLiteralExpression(node)) return node.elements.flatMap(listed);
  if (ts.isObjectLiteralExpression(node)) return node.properties.flatMap(listed);
  return ts.isPropertyAssignment(node) ? listed(node.initializer) : [];
}

/** The titles of one test file, read from its text without running it. */
export function titlesIn(file: string, text: string): TestTitle[] {
  const kind = file.endsWith("x") ? ts.ScriptKind.TSX : ts.ScriptKind.TS;
  const source = ts.createSourceFile(file, text, ts.ScriptTarget.ES2022, true, kind);
  const found: TestTitle[] = [];
  const walk = (node: ts.Node, within: readonly string[]): void => {
    const [name, ...rest] = ts.isCallExpression(node) ? node.arguments : [];
    // `it.each(cases)` alone opens nothing: the call around it has the title and what is run.
    const runs = rest.some((a) => ts.isArrowFunction(a) || ts.isFunctionExpression(a));
    if (ts.isCallExpression(node) && name && runs && OPENERS.includes(opener(node.expression))) {
      const title = written(name, source);
      if (opener(node.expression) === "describe") for (const part of rest) walk(part, [...within, title]);
      else {
        const lists = ts.isCallExpression(node.expression) ? node.expression.arguments : [];
        const cases = lists.flatMap(listed).filter((name) => numbersOf(name)[0]?.includes("-"));
        found.push({ file, title, within, cases });
      }
      return;
    }
    ts.forEachChild(node, (child) => walk(child, within));
  };
  walk(source, []);
  return found;
}

/** The titles of every test of the project, by path. */
export const allTestTitles = (): TestTitle[] =>
  readdirSync("tests", { recursive: true, encoding: "utf8" })
    .filter((path) => /\.test\.tsx?$/.test(path))
    .map((path) => join("tests", path).replaceAll("\\", "/"))
    .sort()
    .flatMap((file) => titlesIn(file, readFileSync(file, "utf8")));

/** Requirement numbers that a title begins with: "R4 REL-10 films that …", "L1, SEC-01: an unknown issuer …". */
const NUMBER = String.raw`(?:(?:SEC|REL|SAF|GATE)-\d+|INV-\d+|[LSRDXIPW]\d+)`;
const LED = new RegExp(String.raw`^(?:${NUMBER}(?:, |: | ))+(?=\S)`);
/** Long numbers mean nothing else, so one that stands elsewhere in a title was meant to count. */
const LONG = /\b(?:SEC|REL|SAF|INV|GATE)-\d+/g;

export const numbersOf = (title: string): string[] => LED.exec(title)?.[0].match(new RegExp(NUMBER, "g")) ?? [];
/** A title without the requirement numbers in front of it. */
export const bareTitle = (title: string): string => title.replace(LED, "");
/** Long requirement numbers that stand where they do not count. */
export const strayNumbers = (title: string): string[] => bareTitle(title).match(LONG) ?? [];

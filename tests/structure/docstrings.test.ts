import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import ts from "typescript";
import { expect, it } from "vitest";

/** Rooms whose functions other rooms call. */
const ROOMS = ["pathway", "scheduling", "coding", "fhir", "smart"];
/** A function this short, with names for what it takes and gives, explains itself. */
const SHORT_LINES = 6;

const files = ROOMS.filter((room) => existsSync(join("src", room))).flatMap((room) =>
  readdirSync(join("src", room), { recursive: true, encoding: "utf8" })
    .filter((path) => /\.ts$/.test(path) && !path.includes("node_modules"))
    .map((path) => join("src", room, path)),
);

/** "path: name" of each exported function of more than a few lines that has no docstring. */
function undocumented(path: string, source: ts.SourceFile): string[] {
  const exported = (node: ts.Statement) =>
    ts.canHaveModifiers(node) && ts.getModifiers(node)?.some((m) => m.kind === ts.SyntaxKind.ExportKeyword);
  const bare = (node: ts.Statement) => ts.getJSDocCommentsAndTags(node).length === 0;
  const long = (node: ts.Node) => node.getText(source).split("\n").length > SHORT_LINES;
  return source.statements
    .filter((node) => exported(node) && bare(node) && long(node))
    .flatMap((node) => {
      if (ts.isFunctionDeclaration(node)) return [`${path}: ${node.name?.text}`];
      if (!ts.isVariableStatement(node)) return [];
      return node.declarationList.declarations
        .filter((d) => d.initializer && (ts.isArrowFunction(d.initializer) || ts.isFunctionExpression(d.initializer)))
        .map((d) => `${path}: ${d.name.getText(source)}`);
    });
}
const parsed = (path: string, text: string) => ts.createSourceFile(path, text, ts.ScriptTarget.ES2022, true);

it("every public function of more than a few lines says what it does, in which units, and how it fails", () => {
  expect(files.length).toBeGreaterThan(20);
  expect(files.flatMap((path) => undocumented(path, parsed(path, ts.sys.readFile(path)!)))).toEqual([]);
});

it("a function without a docstring is found", () => {
  const body = `(a: number) {\n${"  a += 1;\n".repeat(SHORT_LINES)}  return a;\n}`;
  expect(undocumented("planted.ts", parsed("planted.ts", `export function planted${body}`))).toEqual([
    "planted.ts: planted",
  ]);
  expect(
    undocumented("planted.ts", parsed("planted.ts", `/** Gives it back. */\nexport function planted${body}`)),
  ).toEqual([]);
});

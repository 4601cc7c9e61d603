/** Program text with every fault in it that Stryker's instrumenter knows, asleep until `faultIsAwake(id)` says otherwise. */
import { readFileSync } from "node:fs";
import { Instrumenter } from "@stryker-mutator/instrumenter";
import type { Plugin } from "vite";

/** A fault in the program text, made by Stryker. */
export interface SourceFault {
  readonly id: string;
  readonly file: string;
  readonly key: string;
}

/** Babel's view of a piece of program text, as far as needed to tell a rule from a program. */
export interface TextPath {
  isObjectExpression(): boolean;
  isCallExpression(): boolean;
  isObjectPattern(): boolean;
  readonly node: {
    readonly properties?: readonly { readonly key?: { readonly name?: string } }[];
    readonly callee?: { readonly name?: string };
  };
}
/** Why nothing is planted in a piece of program text; undefined when something may be. */
export type Ignored = (path: TextPath) => string | undefined;

export interface Instrumented {
  readonly faults: readonly SourceFault[];
  /** By whole path: the program text with all of them in it. */
  readonly text: ReadonlyMap<string, string>;
}

/**
 * @param files paths from `root`
 * @param ignored what else is left alone, beside sentences: wording is checked by readers, not by tests
 */
export async function instrumented(
  root: string,
  files: readonly string[],
  ignored: Ignored = () => undefined,
): Promise<Instrumented> {
  const given = files.map((file) => ({ name: file, content: readFileSync(`${root}/${file}`, "utf8"), mutate: true }));
  const silent = new Proxy({}, { get: () => () => false });
  const instrumenter = new Instrumenter(silent as ConstructorParameters<typeof Instrumenter>[0]);
  const shouldIgnore = (path: unknown): string | undefined =>
    // A switch around a declaration would hide what it declares from the lines below.
    (path as TextPath).isObjectPattern() ? "declaration" : ignored(path as TextPath);
  const made = await instrumenter.instrument(given, {
    plugins: null,
    excludedMutations: [],
    ignorers: [{ shouldIgnore }],
  });
  const lines = new Map(given.map((f) => [f.name, f.content.split("\n")]));
  const seen = new Map<string, number>();
  const faults = made.mutants.flatMap((m): SourceFault[] => {
    const original = between(lines.get(m.fileName)!, m.location);
    if (m.status === "Ignored" || isWording(m.mutatorName, original)) return [];
    const change = `${short(original)} → ${short(m.replacement)}`;
    const times = (seen.get(m.fileName + change) ?? 0) + 1;
    seen.set(m.fileName + change, times);
    return [{ id: m.id, file: m.fileName, key: `${m.mutatorName}: ${change}${times > 1 ? ` (${times})` : ""}` }];
  });
  return { faults, text: new Map(made.files.map((f) => [`${root}/${f.name}`, f.content])) };
}

const SWITCHES = "stryCov_9fa48 = globalThis.faultWasReached; stryMutAct_9fa48 = globalThis.faultIsAwake;";
/** Serves the program text with the faults in it instead of what is on the disk. */
export const sleepingFaults = (text: ReadonlyMap<string, string>): Plugin => ({
  name: "sleeping-faults",
  enforce: "pre",
  load(id) {
    const content = text.get(id);
    if (content === undefined) return null;
    // First statement of the module: its functions are hoisted, and are replaced before anything asks them.
    return content.includes("function stryMutAct_9fa48") ? `${SWITCHES}\n${content}` : content;
  },
});

const isWording = (mutator: string, original: string) => mutator === "StringLiteral" && /\s/.test(original);
const short = (code: string) => {
  const line = code.replaceAll(/\s+/g, " ");
  return line.length > 90 ? `${line.slice(0, 60)} … ${line.slice(-25)}` : line;
};
interface Place {
  readonly line: number;
  readonly column: number;
}
function between(lines: readonly string[], { start, end }: { start: Place; end: Place }): string {
  if (start.line === end.line) return lines[start.line]!.slice(start.column, end.column);
  return [
    lines[start.line]!.slice(start.column),
    ...lines.slice(start.line + 1, end.line),
    lines[end.line]!.slice(0, end.column),
  ].join("\n");
}

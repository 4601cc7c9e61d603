/** Makes the rules and their tests into one script that can be evaluated afresh for each fault in a few milliseconds. */
import { readFileSync } from "node:fs";
import { relative } from "node:path";
import { Instrumenter } from "@stryker-mutator/instrumenter";
import { build, type Plugin } from "vite";

/** A fault in the program text, made by Stryker. */
export interface SourceFault {
  readonly id: string;
  readonly file: string;
  readonly key: string;
}
export interface Bundle {
  readonly code: string;
  /** Packages the script asks for by `require`. */
  readonly packages: readonly string[];
}

const TESTS = "virtual:tests";
const isRuleFile = (file: string) => /^src\/pathway\/(hand|distal-phalanx)\//.test(file);

async function bundle(root: string, tests: readonly string[], prepare: Plugin): Promise<Bundle> {
  const entry: Plugin = {
    name: "tests",
    resolveId: (id) => (id === TESTS ? `\0${TESTS}` : null),
    load: (id) =>
      id === `\0${TESTS}`
        ? `export const tests = {${tests.map((t) => `${JSON.stringify(t)}: () => import(${JSON.stringify(`${root}/${t}`)})`).join(",\n")}};
           export const rules = () => import(${JSON.stringify(`${root}/src/pathway/index.ts`)});
           export const program = () => import(${JSON.stringify(`${root}/src/pathway/reasoning/program.ts`)});`
        : null,
  };
  const made = await build({
    root,
    configFile: false,
    logLevel: "error",
    plugins: [entry, prepare],
    build: {
      ssr: true,
      write: false,
      minify: false,
      target: "node20",
      rolldownOptions: { input: TESTS, output: { format: "cjs", codeSplitting: false } },
    },
  });
  if (!("output" in made)) throw new Error("the bundle has no output");
  const [chunk] = made.output;
  return { code: chunk.code, packages: chunk.imports };
}

/** Each export of a rule file passes through `plantFault(file, name, value)` before anyone reads it. */
export const bundleForRules = (root: string, tests: readonly string[]): Promise<Bundle> =>
  bundle(root, tests, {
    name: "plant-faults",
    enforce: "pre",
    transform(code, id) {
      const file = relative(root, id);
      if (!isRuleFile(file) && file !== "src/pathway/reasoning/program.ts") return null;
      const names = [...code.matchAll(/^export (?:const|function) (\w+)/gm)].map((m) => m[1]!);
      const planted = names.map((n) => `${n} = globalThis.plantFault(${JSON.stringify(file)}, "${n}", ${n});`);
      return { code: `${code.replaceAll(/^export const /gm, "export let ")}\n${planted.join("\n")}`, map: null };
    },
  });

/** Babel's view of a piece of program text, as far as needed to tell a rule from a program. */
interface TextPath {
  isObjectExpression(): boolean;
  isCallExpression(): boolean;
  isObjectPattern(): boolean;
  readonly node: {
    readonly properties?: readonly { readonly key?: { readonly name?: string } }[];
    readonly callee?: { readonly name?: string };
  };
}
const DATA_KEYS = ["when", "definition", "wording", "sources"];
const DATA_CALLS = ["sign", "cite", "against"];
const saysNothingNew = {
  /** Rules, signs and citations are data: their faults are planted in the data (`rule-mutants.ts`). */
  shouldIgnore(path: unknown): string | undefined {
    const p = path as TextPath;
    if (p.isObjectExpression() && p.node.properties?.some((one) => DATA_KEYS.includes(one.key?.name ?? "")))
      return "rule";
    if (p.isCallExpression() && DATA_CALLS.includes(p.node.callee?.name ?? "")) return "sign or citation";
    // A switch around a declaration would hide what it declares from the lines below.
    if (p.isObjectPattern()) return "declaration";
    return undefined;
  },
};
/** Files that hold declarations only. */
const DECLARATIONS = /(sources|findings|policy|questions|limits|version)\.ts$/;

/** The rules with every fault of the program text in them, asleep until `faultIsAwake(id)` says otherwise. */
export async function bundleForSource(
  root: string,
  tests: readonly string[],
  sources: readonly string[],
): Promise<{ bundle: Bundle; faults: SourceFault[] }> {
  const files = sources
    .filter((file) => !DECLARATIONS.test(file) || file.endsWith("site-policy.ts"))
    .map((file) => ({ name: file, content: readFileSync(`${root}/${file}`, "utf8"), mutate: true }));
  const silent = new Proxy({}, { get: () => () => false });
  const instrumenter = new Instrumenter(silent as ConstructorParameters<typeof Instrumenter>[0]);
  const made = await instrumenter.instrument(files, {
    plugins: null,
    excludedMutations: [],
    ignorers: [saysNothingNew],
  });
  const text = new Map(files.map((f) => [f.name, f.content.split("\n")]));
  const seen = new Map<string, number>();
  const faults = made.mutants.flatMap((m): SourceFault[] => {
    const original = between(text.get(m.fileName)!, m.location);
    if (m.status === "Ignored" || isWording(m.mutatorName, original)) return [];
    const change = `${short(original)} → ${short(m.replacement)}`;
    const times = (seen.get(m.fileName + change) ?? 0) + 1;
    seen.set(m.fileName + change, times);
    return [{ id: m.id, file: m.fileName, key: `${m.mutatorName}: ${change}${times > 1 ? ` (${times})` : ""}` }];
  });
  const instrumented = new Map(made.files.map((f) => [`${root}/${f.name}`, f.content]));
  const switches = "stryCov_9fa48 = globalThis.faultWasReached; stryMutAct_9fa48 = globalThis.faultIsAwake;";
  return {
    faults,
    bundle: await bundle(root, tests, {
      name: "sleeping-faults",
      enforce: "pre",
      load(id) {
        const content = instrumented.get(id);
        if (content === undefined) return null;
        // First statement of the module: its functions are hoisted, and are replaced before anything asks them.
        return content.includes("function stryMutAct_9fa48") ? `${switches}\n${content}` : content;
      },
    }),
  };
}
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

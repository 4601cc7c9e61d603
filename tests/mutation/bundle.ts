/** Makes the rules and their tests into one script that can be evaluated afresh for each fault in a few milliseconds. */
import { relative } from "node:path";
import { build, type Plugin } from "vite";
import { type Ignored, instrumented, type SourceFault, sleepingFaults } from "./program-text.ts";

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

const DATA_KEYS = ["when", "definition", "wording", "sources"];
const DATA_CALLS = ["sign", "cite", "against"];
/** Rules, signs and citations are data: their faults are planted in the data (`rule-mutants.ts`). */
const data: Ignored = (path) => {
  if (path.isObjectExpression() && path.node.properties?.some((one) => DATA_KEYS.includes(one.key?.name ?? "")))
    return "rule";
  return path.isCallExpression() && DATA_CALLS.includes(path.node.callee?.name ?? "") ? "sign or citation" : undefined;
};
/** Files that hold declarations only. */
const DECLARATIONS = /(sources|findings|policy|questions|limits|version)\.ts$/;

/** The rules with every fault of the program text in them, asleep until `faultIsAwake(id)` says otherwise. */
export async function bundleForSource(
  root: string,
  tests: readonly string[],
  sources: readonly string[],
): Promise<{ bundle: Bundle; faults: readonly SourceFault[] }> {
  const files = sources.filter((file) => !DECLARATIONS.test(file) || file.endsWith("site-policy.ts"));
  const { faults, text } = await instrumented(root, files, data);
  return { faults, bundle: await bundle(root, tests, sleepingFaults(text)) };
}

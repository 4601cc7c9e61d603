import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import react from "@vitejs/plugin-react";
import { defineConfig, type Plugin } from "vite";

const shim = (name: string) => `${import.meta.dirname}/src/smart/shims/${name}.cjs`;

/** What fhirclient asks for, and what it gets: only its handshake is used. The stand-ins must be CommonJS, as it is. */
const SLIM: Record<string, string> = {
  debug: shim("silent-debug"),
  "cross-fetch": shim("native-fetch"),
  "abortcontroller-polyfill/dist/abortcontroller-polyfill-only": shim("native-fetch"),
  "isomorphic-webcrypto": shim("native-fetch"),
  "./Client": shim("launch-state"),
  "../Client": shim("launch-state"),
  "./settings": shim("launch-settings"),
};

/** What each page calls of fhirclient, and what that calls in turn; only what is exported stays in a CommonJS file. */
const CALLED = [
  "fetchWellKnownJson",
  "assert",
  "debug",
  "getAccessTokenExpiration",
  "getAndCache",
  "getPath",
  "request",
];
const CALLED_BY: Record<string, readonly string[]> = {
  launch: [...CALLED, "authorize", "fetchConformanceStatement", "getTargetWindow", "randomString"],
  page: [...CALLED, "ready", "getTimeInFuture"],
};

/** fhirclient without its chart reader, the other page's half and stand-ins for what every supported browser has. */
function slimFhirclient(page: "launch" | "page"): Plugin {
  return {
    name: "slim-fhirclient",
    enforce: "pre",
    resolveId: (source, importer) => (importer?.includes("/fhirclient/lib/") ? SLIM[source] : undefined),
    transform: (code, id) =>
      /\/fhirclient\/lib\/(?:smart|lib)\.js$/.test(id)
        ? code
            .replace(/^exports\.(\w+) = \1;$/gm, (line, name: string) => (CALLED_BY[page]?.includes(name) ? line : ""))
            // What the silent logger would be told: launch state, codes and tokens.
            .replace(/^\s*debug\(.*\);$/gm, "")
        : undefined,
  };
}

/**
 * The screens are asked for beside the entry script, not after it: on a slow network that is a third of the way to the
 * first question. Readers of the chart and rules are not: they follow once the first questions are there.
 */
function preloadScreens(): Plugin {
  return {
    name: "preload-screens",
    transformIndexHtml: {
      order: "post",
      handler(_html, { bundle }) {
        const chunks = Object.values(bundle ?? {}).flatMap((part) => (part.type === "chunk" ? [part] : []));
        const screens = chunks.find((chunk) => chunk.name === "screens");
        const already = new Set(chunks.filter((chunk) => chunk.isEntry).map((chunk) => chunk.fileName));
        const entry = chunks.find((chunk) => chunk.isEntry);
        return [...new Set([...(entry?.imports ?? []), screens?.fileName, ...(screens?.imports ?? [])])]
          .filter((file) => file !== undefined && !already.has(file))
          .map((file) => ({
            tag: "link",
            attrs: { rel: "modulepreload", crossorigin: "", href: `./${file}` },
            injectTo: "head" as const,
          }));
      },
    },
  };
}

/** Names a build by what it is made of: the same sources and packages give the same name, wherever and whenever it is built. */
function buildName(): string {
  const folder = import.meta.dirname;
  const sources = readdirSync(join(folder, "src"), { recursive: true, withFileTypes: true })
    .filter((file) => file.isFile())
    .map((file) => join(file.parentPath, file.name));
  const hash = createHash("sha256");
  for (const file of [...sources, join(folder, "vite.config.ts"), join(folder, "package-lock.json")].sort())
    hash.update(`${file.slice(folder.length)}\0`).update(readFileSync(file));
  return hash.digest("hex").slice(0, 12);
}
const BUILD = buildName();

/** Beside the pages lies the name of the build, so that a page that has been open for long can tell that it is an old one. */
function versionFile(): Plugin {
  return {
    name: "version-file",
    generateBundle() {
      this.emitFile({ type: "asset", fileName: "version.json", source: `${JSON.stringify({ build: BUILD })}\n` });
    },
  };
}

/** Both pages read config.json first; asking for it beside the script saves a round trip. */
function preloadConfig(): Plugin {
  return {
    name: "preload-config",
    transformIndexHtml: () => [
      {
        tag: "link",
        attrs: { rel: "preload", href: "./config.json", as: "fetch", crossorigin: "anonymous" },
        injectTo: "head",
      },
    ],
  };
}

/**
 * Two files until the first screen: the session, which starts while React is still on its way, and all that the first
 * screen is drawn with. Then one for the rest of the questions, one for the readers of the chart and one for the rules. Small files for themselves would
 * compress badly and cost a request each.
 */
const FILES = [
  { name: "session", test: /\/src\/app\/main\.ts$|rolldown.runtime/, priority: 2 },
  { name: "screens", test: /\/src\/app\/app\.tsx$/, priority: 1 },
  { name: "rest-of-form", test: /\/src\/app\/rest-of-form\.ts$/, priority: 0.5 },
  { name: "chart-room", test: /\/src\/app\/chart-room\.ts$/ },
  { name: "rules-room", test: /\/src\/app\/rules-room\.ts$/ },
];

/**
 * Two builds share `dist/`: the plugin itself (`vite build`), then the launch page (`vite build --mode launch`), which
 * stands alone so that it holds no React and nothing of the clinical part. Both obey a policy without inline scripts,
 * inline styles or evaluated text.
 */
export default defineConfig(({ mode }) => ({
  root: `${import.meta.dirname}/src/app`,
  base: "./",
  publicDir: false,
  plugins: [
    slimFhirclient(mode === "launch" ? "launch" : "page"),
    preloadConfig(),
    ...(mode === "launch" ? [] : [react(), preloadScreens(), versionFile()]),
  ],
  // Tells fhirclient to use the browser's own fetch.
  define: { FHIRCLIENT_PURE: "true", __BUILD__: JSON.stringify(BUILD) },
  build: {
    outDir: `${import.meta.dirname}/dist`,
    emptyOutDir: mode !== "launch",
    target: "es2022",
    assetsInlineLimit: 0,
    // What the first screen needs is named in the page; what comes later stands in one file each and has nothing to preload.
    modulePreload: false,
    reportCompressedSize: false,
    rolldownOptions: {
      input: `${import.meta.dirname}/src/app/${mode === "launch" ? "launch" : "index"}.html`,
      // Scheduling only defines things: what no screen asks for, such as the reader of a clinics file, stays out with all it needs.
      treeshake: { moduleSideEffects: (id: string) => !id.includes("/src/scheduling/") },
      ...(mode === "launch" ? {} : { output: { codeSplitting: { groups: FILES } } }),
    },
  },
}));

import { join } from "node:path";
import react from "@vitejs/plugin-react";
import { build } from "vite";

/** Builds the pages of a reference as a project of its own; what it leaves behind is thrown away with the cache. */
export async function buildReference(root: string, pages: readonly string[], outDir: string): Promise<void> {
  const before = process.env.NODE_ENV;
  await build({
    configFile: false,
    root,
    base: "./",
    logLevel: "error",
    plugins: [react()],
    build: {
      outDir,
      emptyOutDir: true,
      target: "es2022",
      chunkSizeWarningLimit: 2_000,
      rolldownOptions: { input: pages.map((page) => join(root, page)) },
    },
  });
  // The build names itself "production" to the whole process; the practice EHR refuses to run under that name.
  if (before === undefined) delete process.env.NODE_ENV;
  else process.env.NODE_ENV = before;
}

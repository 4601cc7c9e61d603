import { defineConfig } from "vitest/config";

/** Faults at every request. Expects a built plugin in dist/ for the tests in a browser (`npm test` builds it first). */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["*.test.ts"],
    environment: "node",
    setupFiles: ["../interop/keep-writes.ts"],
    // One core for the browser, one for the matrix; files with a browser and files without are about equally long.
    maxWorkers: 2,
    testTimeout: 600_000,
    hookTimeout: 120_000,
    expect: { poll: { timeout: 20_000 } },
  },
});

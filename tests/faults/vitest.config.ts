import { defineConfig } from "vitest/config";

/** Faults at every request. Expects a built plugin in dist/ for the tests in a browser (`npm test` builds it first). */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["*.test.ts"],
    environment: "node",
    setupFiles: ["../interop/keep-writes.ts"],
    // Those with a browser mostly wait for it, those without fill a core each.
    maxWorkers: 3,
    testTimeout: 900_000,
    hookTimeout: 300_000,
    expect: { poll: { timeout: 60_000 } },
  },
});

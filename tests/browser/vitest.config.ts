import { defineConfig } from "vitest/config";

/** The whole path in a real browser against the practice EHR. Expects a built plugin in dist/ (`npm test` builds it first). */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["*.test.ts"],
    environment: "node",
    setupFiles: ["../interop/keep-writes.ts"],
    // Each file has its own practice EHR and browser, and mostly waits for one of them.
    maxWorkers: 4,
    testTimeout: 300_000,
    hookTimeout: 300_000,
    expect: { poll: { timeout: 60_000 } },
  },
});

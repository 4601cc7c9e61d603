import { defineConfig } from "vitest/config";

/** The whole path in a real browser against the practice EHR. Expects a built plugin in dist/ (`npm test` builds it first). */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["*.test.ts"],
    environment: "node",
    setupFiles: ["../interop/keep-writes.ts"],
    fileParallelism: false,
    testTimeout: 120_000,
    hookTimeout: 120_000,
    expect: { poll: { timeout: 20_000 } },
  },
});

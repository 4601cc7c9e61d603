import { defineConfig } from "vitest/config";

/** Every quick test that needs no browser. Browser, fault and interop tests have their own configurations beside them. */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["tests/**/*.test.{ts,tsx}"],
    exclude: ["tests/browser/**", "tests/faults/**", "tests/interop/**"],
    environment: "node",
    setupFiles: ["tests/fixed-seed.ts", "tests/interop/keep-writes.ts"],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
});

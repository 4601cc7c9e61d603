import { defineConfig } from "vitest/config";

/** Every quick test that needs no browser. Browser and fault tests have their own configurations beside them. */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["tests/**/*.test.{ts,tsx}"],
    exclude: ["tests/browser/**", "tests/faults/**"],
    environment: "node",
    setupFiles: ["tests/fixed-seed.ts"],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
});

import { defineConfig } from "vitest/config";

/** Every test that needs no browser. The browser tests have their own configuration beside them. */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["tests/**/*.test.{ts,tsx}"],
    exclude: ["tests/browser/**"],
    environment: "node",
    setupFiles: ["tests/fixed-seed.ts"],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
});

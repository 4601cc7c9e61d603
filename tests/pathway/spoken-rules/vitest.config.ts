import { defineConfig } from "vitest/config";

/**
 * `npx vitest run --config tests/pathway/spoken-rules/vitest.config.ts`: runs the tests of the rules once more and keeps,
 * for the pathway book, which rules each file made speak. To be run when rules or their tests have changed.
 */
export default defineConfig({
  test: {
    root: `${import.meta.dirname}/../../..`,
    include: ["tests/{pathway,reference}/**/*.test.ts"],
    environment: "node",
    setupFiles: ["tests/fixed-seed.ts", "tests/pathway/spoken-rules/listen.ts"],
    globalSetup: ["tests/pathway/spoken-rules/collect.ts"],
    testTimeout: 300_000,
    hookTimeout: 300_000,
  },
});

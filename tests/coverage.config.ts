import { defineConfig } from "vitest/config";

/** The quick tests once more, counting which lines and branches of the shipped code they run: `npm run coverage`. */
export default defineConfig({
  test: {
    root: `${import.meta.dirname}/..`,
    include: ["tests/{app,coding,fhir,fuzz,pathway,scheduling,security,smart}/**/*.test.{ts,tsx}"],
    // Many times the same lines: they add hours of counting and no line.
    exclude: ["tests/fuzz/{charts,dates,rules,sign-in}.test.ts"],
    environment: "node",
    setupFiles: ["tests/fixed-seed.ts"],
    testTimeout: 600_000,
    hookTimeout: 600_000,
    coverage: {
      enabled: true,
      provider: "v8",
      include: ["src/**/*.{ts,tsx}"],
      exclude: ["src/cli/**", "src/pathway/book/**", "**/words.ts"],
      reporter: ["text-summary", "json-summary"],
      reportsDirectory: "node_modules/.cache/coverage",
      thresholds: {
        lines: 85,
        branches: 80,
        "src/smart/{transport,write-back}.ts": { lines: 95, branches: 90 },
      },
    },
  },
});

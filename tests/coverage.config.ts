import { defineConfig } from "vitest/config";
import { COUNTED } from "../vitest.config.ts";

const WRITER =
  "before-writing,capabilities,filing,journal,one-transaction,same-injury,single-writes,stored-look,unfinished,write-back,write-report";

/**
 * Quick tests, counting which lines and branches of the shipped code they run: `npm run coverage`, and a stage of the run from
 * a clean checkout. It fails below the figures of the release gate.
 */
export default defineConfig({
  test: {
    root: `${import.meta.dirname}/..`,
    projects: COUNTED,
    environment: "node",
    maxWorkers: "100%",
    setupFiles: ["tests/fixed-seed.ts", "tests/interop/keep-writes.ts"],
    testTimeout: 600_000,
    hookTimeout: 600_000,
    coverage: {
      enabled: true,
      provider: "v8",
      include: ["src/**/*.{ts,tsx}"],
      exclude: ["src/cli/**", "src/pathway/book/**", "**/words.ts"],
      reporter: ["text-summary", "json-summary", "json"],
      reportsDirectory: "node_modules/.cache/coverage",
      thresholds: {
        lines: 85,
        branches: 80,
        "src/pathway/**": { lines: 100, branches: 100 },
        [`src/smart/{transport,${WRITER}}.ts`]: { lines: 95, branches: 90 },
      },
    },
  },
});

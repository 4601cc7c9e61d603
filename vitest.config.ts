import { defineConfig, type TestProjectInlineConfiguration } from "vitest/config";

/** Tests of what keeps no state of its own: their files share what they load, which takes half the time. */
const STATELESS = "tests/{pathway,coding,fhir,scheduling}/**/*.test.ts";
const STATEFUL = ["tests/{app,security,smart}/**/*.test.{ts,tsx}", "tests/fuzz/answers.test.ts"];

/**
 * Tests in which lines are counted. The other quick tests run many times the same lines, or no shipped code of the browser:
 * counting there adds hours and no line.
 */
export const COUNTED: TestProjectInlineConfiguration[] = [
  { extends: true, test: { name: "stateless", include: [STATELESS], isolate: false } },
  { extends: true, test: { name: "stateful", include: STATEFUL } },
];
const OTHER: TestProjectInlineConfiguration = {
  extends: true,
  test: {
    name: "other",
    include: ["tests/**/*.test.{ts,tsx}"],
    exclude: [STATELESS, ...STATEFUL, "tests/{browser,faults,interop}/**"],
  },
};

/** Every quick test that needs no browser. Browser, fault and interop tests have their own configurations beside them. */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    projects: [...COUNTED, OTHER],
    environment: "node",
    // Left to itself it keeps one core free, which is half of a machine with two.
    maxWorkers: "100%",
    setupFiles: ["tests/fixed-seed.ts", "tests/interop/keep-writes.ts"],
    testTimeout: 60_000,
    hookTimeout: 60_000,
  },
});

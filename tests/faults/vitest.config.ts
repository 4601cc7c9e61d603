import { basename } from "node:path";
import { defineConfig } from "vitest/config";
import { BaseSequencer, type TestSpecification } from "vitest/node";

/** The longest first, so that no core is idle at the end while another works on the last. */
const LONGEST = ["screen", "closed-tab", "single-writes", "stored-plans", "ended-plans", "hands"];
class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const rank = ({ moduleId }: TestSpecification) => {
      const at = LONGEST.indexOf(basename(moduleId, ".test.ts"));
      return at < 0 ? LONGEST.length : at;
    };
    return [...files].sort((a, b) => rank(a) - rank(b));
  }
}

/** Faults at every request. Expects a built plugin in dist/ for the tests in a browser (`npm test` builds it first). */
export default defineConfig({
  test: {
    root: import.meta.dirname,
    include: ["*.test.ts"],
    environment: "node",
    setupFiles: ["../interop/keep-writes.ts"],
    // Those with a browser mostly wait for it, those without fill a core each.
    maxWorkers: 3,
    sequence: { sequencer: LongestFirst },
    testTimeout: 900_000,
    hookTimeout: 300_000,
    expect: { poll: { timeout: 60_000 } },
  },
});

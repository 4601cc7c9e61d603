import { basename } from "node:path";
import { defineConfig } from "vitest/config";
import { BaseSequencer, type TestSpecification } from "vitest/node";
import { JOURNEYS } from "./journeys.ts";

const isJourney = ({ moduleId }: TestSpecification) => JOURNEYS.some(({ file }) => file === basename(moduleId));
/** What the journeys write is judged after they were made. */
class JourneysFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    return [...files.filter(isJourney), ...files.filter((file) => !isJourney(file))];
  }
}

/** `npm run interop`: journeys of the browser tests against a stock FHIR server, and all that is written before the HL7 validator. */
export default defineConfig({
  test: {
    root: `${import.meta.dirname}/..`,
    include: [...JOURNEYS.map(({ file }) => `browser/${file}`), "interop/**/*.test.ts"],
    environment: "node",
    globalSetup: ["interop/stock-server.ts"],
    setupFiles: ["fixed-seed.ts", "interop/fresh-charts.ts"],
    fileParallelism: false,
    sequence: { sequencer: JourneysFirst },
    testTimeout: 600_000,
    hookTimeout: 600_000,
    expect: { poll: { timeout: 120_000 } },
  },
});

/** The clinic's list with a thousand visits on it, open all day. */
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { measureListMemory, ROWS } from "../bench/memory.ts";
import { isMissed, lineOf } from "../bench/report.ts";
import { openStage, type Stage } from "../browser/stage.ts";

let stage: Stage;
beforeAll(async () => {
  stage = await openStage({ clinics: 2 * ROWS });
});
afterAll(() => stage?.close());

describe("REL-46 GATE-12: a list of a thousand visits, and a visit opened and closed fifty times", () => {
  it("stays within 400 MB and does not grow", async () => {
    const measured = await measureListMemory(stage.browser, stage.practice);
    for (const one of measured) console.log(`long list: ${lineOf(one)}`);
    expect(measured.filter(({ target }) => target !== undefined).length).toBeGreaterThanOrEqual(3);
    expect(measured.filter(isMissed)).toEqual([]);
  });
});

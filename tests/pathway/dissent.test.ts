import { describe, expect, it } from "vitest";
import { SOURCES } from "../../src/pathway/evidence/sources.ts";
import { STRENGTH_WORDS } from "../../src/pathway/index.ts";
import { pathway } from "./distal-phalanx/records.ts";

const RULES = pathway.tables.flatMap((table) => table.rules.map(({ id, then, sources }) => ({ id, then, sources })));
const WEAK = ["CP", "M"];
const weak = RULES.filter((r) => r.sources.every((s) => s.says === "against" || WEAK.includes(s.strength)));

describe("rules on which sources differ or are weak", () => {
  it("SAF-07 each dissent of any rule says what the other way is, and who says it", () => {
    const dissent = RULES.flatMap(({ id, sources }) =>
      sources.filter((s) => s.says === "against").map((s) => ({ id, ...s })),
    );
    expect(dissent.length).toBeGreaterThan(50);
    const silent = dissent.filter(
      ({ at, source }) => !/\d|\b\w{4,} \w+/.test(at) || !(source in SOURCES || source === "COMMON-PRACTICE"),
    );
    expect(silent.map(({ id, source }) => `${id} ${source}`)).toEqual([]);
  });
  it("SAF-07 no rule stands without somebody who says so, and weakness is said in words, not only by a letter", () => {
    expect(RULES.filter((r) => !r.sources.some((s) => s.says === "for")).map((r) => r.id)).toEqual([]);
    expect(weak.length).toBeGreaterThan(100);
    for (const strength of ["CP", "M"] as const) expect(STRENGTH_WORDS[strength]).toMatch(/no source|not looked up/);
  });
  it("SAF-07 a weak rule never closes a way: it commands no operation, and leaves the choice to a person", () => {
    const operates = weak.filter((r) => r.then.some((e) => e.kind === "manage" && e.call === "operative"));
    expect(operates.map((r) => r.id)).toEqual([]);
  });
});

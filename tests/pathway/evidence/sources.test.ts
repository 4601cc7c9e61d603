import { describe, expect, it } from "vitest";
import { STRENGTH_WORDS } from "../../../src/pathway/evidence/citation.ts";
import { READ_WORDS, SOURCES, type SourceRecord } from "../../../src/pathway/evidence/sources.ts";
import { HAND_POLICY, handTables } from "../../../src/pathway/hand/index.ts";
import { handPolicy } from "../hand/hand-pathway.ts";

const records = Object.entries(SOURCES) as [string, SourceRecord][];
const POLICIES = ["US", "UK", "AU"].flatMap((scheme) =>
  ["never", "singleDose", "upTo72h"].map((openShaftAntibiotic) =>
    handPolicy({
      "hand.tetanusScheme": scheme,
      "hand.jurisdiction": scheme,
      "hand.openShaftAntibiotic": openShaftAntibiotic,
    }),
  ),
);
const rules = POLICIES.flatMap((p) => handTables(p).flatMap((t) => t.rules));

describe("sources", () => {
  it("say honestly how they were read, in words a clinician understands", () => {
    for (const [, record] of records) expect(READ_WORDS[record.read]).toBeTruthy();
    expect(SOURCES.DACRUZ88.read).toBe("memory");
    expect(SOURCES.STEV03.read).toBe("through-another-source");
  });
  it("SEC-18 are linked by https only", () =>
    expect(records.filter(([, r]) => r.link !== undefined && !r.link.startsWith("https://"))).toEqual([]));
  it("each stand once", () => expect(new Set(records.map(([, r]) => r.citation)).size).toBe(records.length));
  it("every strength has its words", () => {
    for (const rule of rules) for (const source of rule.sources) expect(STRENGTH_WORDS[source.strength]).toBeTruthy();
  });
  it("a weak source is never the only support of a shared rule", () => {
    const weak = new Set(records.filter(([, r]) => r.caution?.startsWith("weak")).map(([id]) => id));
    expect(weak.size).toBeGreaterThan(2);
    expect(
      rules.filter((r) => r.sources.filter((s) => s.says === "for").every((s) => weak.has(s.source))).map((r) => r.id),
    ).toEqual([]);
  });
  it("a value from memory says so", () => {
    expect(HAND_POLICY["hand.tourniquetMinutes"].sources[0].strength).toBe("M");
    const uk = handTables(handPolicy({ "hand.tetanusScheme": "UK" })).find((t) => t.id === "TET-UK")!;
    for (const rule of uk.rules.slice(1)) expect(rule.sources.some((s) => s.strength === "M")).toBe(true);
  });
});

import { readFileSync } from "node:fs";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { cite } from "../../../src/pathway/evidence/citation.ts";
import { HAND_POLICY } from "../../../src/pathway/hand/policy.ts";
import { readSitePolicy, SITE_DEFINITIONS, sitePolicySchema } from "../../../src/pathway/index.ts";
import { checkSitePolicy } from "../../../src/pathway/policy/site-policy.ts";

const file = (name: string): unknown => JSON.parse(readFileSync(`fixtures/site-policies/${name}.json`, "utf8"));
const head = { site: "Harbour Street Hand Unit", approvedBy: "Dr Ada Example", approvedOn: "2026-01-15" };
const problems = (json: unknown) => {
  const read = readSitePolicy(json);
  return read.ok ? [] : read.problems;
};

describe("a site's policy", () => {
  it("a site without a file gets every default, and is told that nobody approved it", () => {
    const read = readSitePolicy(undefined);
    expect(read.ok && read.policy.site).toBe("Default policy, not approved by a site");
    expect(read.ok && read.policy.values).toEqual(
      Object.fromEntries(Object.entries(SITE_DEFINITIONS).map(([k, d]) => [k, d.value])),
    );
  });
  it("a partial file changes what it names and nothing else", () => {
    const read = readSitePolicy({ ...head, values: { "hand.tetanusScheme": "UK" } });
    const defaults = readSitePolicy(undefined);
    if (!read.ok || !defaults.ok) throw new Error("refused");
    expect(read.policy).toEqual({ ...head, values: { ...defaults.policy.values, "hand.tetanusScheme": "UK" } });
  });
  it("a value outside its bounds is refused with the allowed range", () =>
    expect(problems({ ...head, values: { "hand.washoutHours": 48 } })).toEqual([
      { path: "values.hand.washoutHours", problem: "48 is too large", allowed: "6 to 24 hours" },
    ]));
  it("an unknown key is refused, not ignored", () =>
    expect(problems({ ...head, values: { "hand.washoutHour": 12 } })[0]).toMatchObject({
      path: "values.hand.washoutHour",
      problem: '"hand.washoutHour" is not known here',
    }));
  it("an unknown choice is refused with the choices", () =>
    expect(problems({ ...head, values: { "hand.tetanusScheme": "FR" } })).toEqual([
      { path: "values.hand.tetanusScheme", problem: '"FR" is not an allowed value', allowed: "one of US, UK, AU" },
    ]));
  it("a number written as text is refused", () =>
    expect(problems({ ...head, values: { "hand.washoutHours": "12" } })[0]).toMatchObject({
      path: "values.hand.washoutHours",
      allowed: "6 to 24 hours",
    }));
  it("a routine window that starts before the clinic window ends is refused", () =>
    expect(problems({ ...head, values: { "hand.clinicWithinDays": 7, "hand.routineFromDays": 5 } })).toEqual([
      {
        path: "values.hand.clinicWithinDays",
        problem: "7 is above hand.routineFromDays (5)",
        allowed: "at most the value of hand.routineFromDays",
      },
    ]));
  it("nobody's policy, or an approval on a day that never was, is refused", () => {
    expect(problems({ ...head, site: "", values: {} })[0]!.path).toBe("site");
    expect(problems({ ...head, approvedOn: "2026-02-30", values: {} })).toEqual([
      { path: "approvedOn", problem: "is not a date", allowed: "a date yyyy-MM-dd" },
    ]);
    expect(problems({ site: head.site, approvedOn: head.approvedOn, values: {} })[0]!.path).toBe("approvedBy");
  });
  it.each([["a text"], [null], [[]], [7]])("%j is no policy", (json) =>
    expect(problems(json).length).toBeGreaterThan(0),
  );
  it("all faults are listed at once", () =>
    expect(
      problems({ ...head, values: { "hand.washoutHours": 1, "hand.jurisdiction": "XX", nonsense: 1 } }),
    ).toHaveLength(3));

  it("the default fixture says what the defaults say", () => {
    const read = readSitePolicy(file("default"));
    const defaults = readSitePolicy(undefined);
    expect(read.ok && defaults.ok && read.policy.values).toEqual(defaults.ok && defaults.policy.values);
  });
  it("the cautious fixture is accepted and stricter than the default", () => {
    const read = readSitePolicy(file("cautious"));
    if (!read.ok) throw new Error(JSON.stringify(read.problems));
    expect(read.policy.values["hand.washoutHours"]).toBeLessThan(HAND_POLICY["hand.washoutHours"].value);
    expect(read.policy.values["hand.openShaftAntibiotic"]).toBe("upTo72h");
  });
  it("the broken fixture is refused as a whole, each fault named", () =>
    expect(
      problems(file("broken"))
        .map((p) => p.path)
        .sort(),
    ).toEqual([
      "approvedOn",
      "values.hand.jurisdiction",
      "values.hand.plainLidocaineMgPerKg",
      "values.hand.washoutHuors",
    ]));

  it("every number within its bounds and every choice is accepted unless two thresholds cross", () => {
    const any = fc.record(
      Object.fromEntries(
        Object.entries(SITE_DEFINITIONS).map(([key, d]) => [
          key,
          d.type === "number" ? fc.constantFrom(d.min, d.value, d.max) : fc.constantFrom(...d.options),
        ]),
      ),
      { requiredKeys: [] },
    );
    fc.assert(
      fc.property(any, (values) => {
        expect(problems({ ...head, values }).filter((p) => !p.problem.includes("is above"))).toEqual([]);
      }),
    );
  });
  it("defaults themselves are in order, whatever the module", () =>
    expect(problems({ ...head, values: {} })).toEqual([]));
  it("order is checked against the default of a value the site did not set", () => {
    const definitions = {
      "a.low": {
        type: "number",
        value: 1,
        unit: "days",
        min: 0,
        max: 9,
        notAbove: "a.high",
        sources: [cite("HS2", "G")],
        note: "",
      },
      "a.high": { type: "number", value: 3, unit: "days", min: 0, max: 9, sources: [cite("HS2", "G")], note: "" },
    } as const;
    expect(checkSitePolicy(definitions, { ...head, values: { "a.low": 4 } }).ok).toBe(false);
    expect(checkSitePolicy(definitions, { ...head, values: { "a.low": 4, "a.high": 4 } }).ok).toBe(true);
  });
  it("a value held below one of another module is free where that module is not in use", () => {
    const alone = {
      "a.low": {
        type: "number",
        value: 1,
        unit: "days",
        min: 0,
        max: 9,
        notAbove: "other-bone.high",
        sources: [cite("HS2", "G")],
        note: "",
      },
    } as const;
    expect(checkSitePolicy(alone, { ...head, values: { "a.low": 4 } })).toMatchObject({ ok: true });
  });
});

it("the published form of a site's policy takes a value of every key, and no other key", () => {
  const head = { site: "Test site", approvedBy: "Dr Test", approvedOn: "2026-01-01" };
  const values = Object.fromEntries(Object.entries(SITE_DEFINITIONS).map(([key, { value }]) => [key, value]));
  expect(sitePolicySchema().safeParse({ ...head, values }).success).toBe(true);
  expect(sitePolicySchema().safeParse({ ...head, values: { ...values, "hand.unheardOf": 1 } }).success).toBe(false);
});

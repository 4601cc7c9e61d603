import { describe, expect, it } from "vitest";
import { assessCase, type CaseRecord } from "../../../src/pathway/index.ts";
import type { Facts } from "../../../src/pathway/reasoning/program.ts";
import { ADULT, CHILD, distalPhalanx, pathway, told } from "./records.ts";

const visitsOf = (facts: Facts) => told(facts).visits;

describe("when it is looked at again", () => {
  it("a closed tuft needs no clinic and no film", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "tuft" })).toEqual(["discharge-check 21-28"]));
  it("an open tuft is checked on day 2 to 5 and 7, stitches out on day 10 to 14", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "tuft", openness: "open-skin" })).toEqual(
      expect.arrayContaining(["wound-check 2-5", "wound-check 6-7", "stitches-out 10-14", "film 28-42"]),
    ));
  it("a shaft in place is filmed on day 7 to 10 for slip and on day 28 to 35 for union", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "shaft" })).toEqual([
      "film 7-10",
      "therapy 21-28",
      "film 28-35",
      "discharge-check 42-56",
    ]));
  it("a shaft to be wired has pin site, film and wire-out visits", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "shaft", displacement: "seen", corticalContact: "none" })).toEqual(
      expect.arrayContaining([
        "surgeon-review 0-3",
        "wound-check 5-7",
        "film 7-10",
        "wire-out 21-42",
        "discharge-check 70-84",
      ]),
    ));
  it("a repaired flexor is with the therapist by day 7, its wire out at 6 weeks", () =>
    expect(visitsOf({ ...ADULT, activeFlexion: "absent" })).toEqual(
      expect.arrayContaining(["therapy 3-7", "wire-out 42-45", "discharge-check 84-112"]),
    ));
  it("both sides of the base are filmed on day 7, 14 and 28", () =>
    expect(visitsOf({ ...ADULT, fractureSite: "base-both-sides" })).toEqual(
      expect.arrayContaining(["film 6-8", "film 13-15", "film 27-29"]),
    ));
  it("a closed growth plate fracture is followed for at least half a year", () =>
    expect(visitsOf({ ...CHILD, fractureSite: "physis", salterHarris: "II" })).toEqual([
      "film 7-10",
      "film 26-30",
      "discharge-check 180-365",
    ]));
  it("diabetes brings the wound check of an open tuft forward, and no visit back", () => {
    const open = { ...ADULT, fractureSite: "tuft", openness: "open-skin" };
    const plain = told(open).assessment.visits.filter((v) => v.purpose === "wound-check");
    const diabetic = told({ ...open, diabetes: "yes" }).assessment.visits.filter((v) => v.purpose === "wound-check");
    expect(Math.min(...diabetic.map((v) => v.latest))).toBeLessThan(Math.min(...plain.map((v) => v.latest)));
    expect(diabetic.length).toBeGreaterThanOrEqual(plain.length);
  });
  it("says at each visit what to look for", () => {
    for (const v of visitsOf({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }))
      expect(v).toMatch(/ \d+-\d+$/);
    for (const v of told({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }).assessment.visits)
      expect(v.check.length).toBeGreaterThan(8);
  });
  it("an unstable shaft that is not wired has no firm wire or pin visit, and its own film when the splint comes off", () => {
    const visits = told({ ...ADULT, fractureSite: "shaft", displacement: "seen", translationMm: 3 }).assessment.visits;
    const when = (purpose: string) => visits.filter((v) => v.purpose === purpose).map((v) => v.onlyIf);
    expect(when("wire-out")).toEqual(["if a wire was placed"]);
    expect(when("stitches-out")).toEqual(["if it was stitched"]);
    expect(when("wound-check")).toEqual(["if a wire was placed"]);
    expect(when("film")).toEqual([undefined, "if no wire was placed", "if union is late"]);
  });
  it("an open tuft is desensitised in week 2 to 4, a shaft in place starts to move the end joint in week 3 to 4", () => {
    expect(visitsOf({ ...ADULT, fractureSite: "tuft", openness: "open-skin" })).toContain("therapy 14-28");
    expect(visitsOf({ ...ADULT, fractureSite: "shaft" })).toContain("therapy 21-28");
  });
  it("a splint put on 40 days late is reviewed a week after that day, in the calendar too", () => {
    const scope = (s: string) =>
      Object.fromEntries(
        Object.entries({ ...ADULT, fractureSite: "base-dorsal", articularSharePercent: 40 }).filter(
          ([id]) => distalPhalanx.findings[id]!.scope === s && id !== "hoursSinceInjury",
        ),
      ) as Record<string, string | number>;
    const { visits } = assessCase(pathway, {
      injuredAt: "2026-01-01T23:50",
      assessedAt: "2026-02-10T08:00",
      patient: scope("patient"),
      injury: scope("injury"),
      digits: [scope("digit")],
    });
    expect(visits.find((v) => v.purpose === "splint-review")!.dates!.ideal).toBe("2026-02-17");
    for (const v of visits) expect(v.dates!.earliest >= "2026-02-10").toBe(true);
  });
  it("stands in the calendar from the day of the injury, also over a clock change", () => {
    const scope = (s: string) =>
      Object.fromEntries(
        Object.entries({ ...ADULT, fractureSite: "shaft" }).filter(
          ([id]) => distalPhalanx.findings[id]!.scope === s && id !== "hoursSinceInjury",
        ),
      ) as Record<string, string | number>;
    const record: CaseRecord = {
      injuredAt: "2026-03-24T22:30",
      assessedAt: "2026-03-25T01:00",
      patient: scope("patient"),
      injury: scope("injury"),
      digits: [scope("digit")],
    };
    expect(assessCase(pathway, record).visits[0]!.dates).toEqual({
      earliest: "2026-03-31",
      ideal: "2026-04-01",
      latest: "2026-04-03",
    });
  });
});

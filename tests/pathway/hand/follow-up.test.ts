import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { VISIT_PURPOSES } from "../../../src/pathway/hand/effects.ts";
import { datedVisits, mergeVisits } from "../../../src/pathway/hand/follow-up.ts";

const visit = fc
  .tuple(fc.constantFrom(...VISIT_PURPOSES.slice(0, 3)), fc.nat(60), fc.nat(20), fc.nat(20))
  .map(([purpose, earliest, toIdeal, toLatest]) => ({
    purpose,
    earliest,
    ideal: earliest + toIdeal,
    latest: earliest + toIdeal + toLatest,
  }));
const visits = fc.array(visit, { maxLength: 12 });

describe("joining visits", () => {
  it("adding a class, a digit or another condition never moves a visit back, and never drops one", () => {
    fc.assert(
      fc.property(visits, visits, (mine, added) => {
        const joined = mergeVisits([...mine, ...added]);
        for (const v of mine)
          expect(
            joined.some(
              (j) => j.purpose === v.purpose && j.earliest <= v.earliest && j.ideal <= v.ideal && j.latest <= v.latest,
            ),
          ).toBe(true);
      }),
      { numRuns: 2000 },
    );
  });
  it("no day is invented: each day of a joined visit stood in one of the visits joined", () => {
    fc.assert(
      fc.property(visits, (mine) => {
        for (const j of mergeVisits(mine)) {
          const same = mine.filter((v) => v.purpose === j.purpose);
          expect(same.map((v) => v.earliest)).toContain(j.earliest);
          expect(same.map((v) => v.ideal)).toContain(j.ideal);
          expect(same.map((v) => v.latest)).toContain(j.latest);
        }
      }),
    );
  });
  it("what two visits both look for is said once, also when each check is a list of its own", () => {
    const look = (check: string) => ({ purpose: "wound-check" as const, earliest: 2, ideal: 3, latest: 5, check });
    const joined = mergeVisits([look("redness; pus"), look("skin; redness"), look("pus; loose wire")]);
    expect(joined.map((v) => v.check)).toEqual(["redness; pus; skin; loose wire"]);
  });
  it("a wire, a stitch, a union film, a growth plate film, a discharge and an operation stay with their own class and digit", () => {
    for (const [purpose, a, b] of [
      ["wire-out", [21, 28, 42], [42, 42, 45]], // the wire across the joint would be pulled two weeks early
      ["stitches-out", [10, 12, 14], [10, 10, 14]],
      ["film", [28, 30, 35], [28, 35, 42]],
      ["physis-film", [84, 91, 98], [90, 100, 110]],
      ["discharge-check", [42, 49, 56], [21, 25, 42]],
      ["surgeon-review", [0, 1, 3], [2, 7, 10]],
      ["splint-review", [42, 49, 56], [28, 28, 42]],
    ] as const) {
      const two = [a, b].map(([earliest, ideal, latest]) => ({
        purpose,
        earliest,
        ideal,
        latest,
        check: `day ${ideal}`,
      }));
      expect(mergeVisits(two), purpose).toHaveLength(2);
      expect(mergeVisits(two)).toEqual(expect.arrayContaining(two));
    }
  });
  it("a joined visit keeps what both were for, each said once", () => {
    const check = (ideal: number, text: string) =>
      ({ purpose: "wound-check", earliest: 2, ideal, latest: 7, check: text }) as const;
    expect(mergeVisits([check(3, "Infection"), check(4, "Pin site"), check(5, "Infection")])).toMatchObject([
      { ideal: 3, check: "Infection; Pin site" },
    ]);
  });
  it("a visit needed only if a wire was placed is not joined with one that is needed anyway", () => {
    const day7 = { purpose: "film", earliest: 7, ideal: 8, latest: 10 } as const;
    expect(mergeVisits([day7, { ...day7, onlyIf: "if wired" }])).toHaveLength(2);
  });
  it("windows stay in order: earliest, ideal, latest", () => {
    fc.assert(
      fc.property(visits, (mine) => mergeVisits(mine).every((j) => j.earliest <= j.ideal && j.ideal <= j.latest)),
    );
  });
  it("a film on day 7-10 and one on day 7 become one film on day 7", () => {
    expect(
      mergeVisits([
        { purpose: "film", earliest: 7, ideal: 8, latest: 10 },
        { purpose: "film", earliest: 7, ideal: 7, latest: 7 },
      ]),
    ).toEqual([{ purpose: "film", earliest: 7, ideal: 7, latest: 7 }]);
  });
  it("films three weeks running stay three films", () => {
    const weekly = [7, 14, 21].map((day) => ({
      purpose: "film-true-lateral" as const,
      earliest: day - 1,
      ideal: day,
      latest: day + 1,
    }));
    expect(mergeVisits(weekly)).toEqual(weekly);
  });
  it("a film and a wound check on the same day stay two visits", () => {
    expect(
      mergeVisits([
        { purpose: "film", earliest: 7, ideal: 7, latest: 7 },
        { purpose: "wound-check", earliest: 7, ideal: 7, latest: 7 },
      ]),
    ).toHaveLength(2);
  });
});

describe("dates of visits", () => {
  const day7 = [{ purpose: "film" as const, earliest: 7, ideal: 8, latest: 10 }];
  it("count whole days from day 0, over the end of a leap-year February", () =>
    expect(datedVisits(day7, "2028-02-24")[0]!.dates).toEqual({
      earliest: "2028-03-02",
      ideal: "2028-03-03",
      latest: "2028-03-05",
    }));
  it("are not moved by the clock changes of spring and autumn", () => {
    // US clocks change on 8 March and 1 November 2026, those of Europe on 29 March and 25 October.
    for (const [zero, ideal] of [
      ["2026-03-03", "2026-03-11"],
      ["2026-03-24", "2026-04-01"],
      ["2026-10-20", "2026-10-28"],
      ["2026-10-27", "2026-11-04"],
    ] as const)
      expect(datedVisits(day7, zero)[0]!.dates!.ideal).toBe(ideal);
  });
  it("are absent, not guessed, when the day of the injury is unknown", () =>
    expect(datedVisits(day7, undefined)).toEqual(day7));
});

import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { ageWords, dateWords, isFhirDate, localOf, zonedOf } from "../../src/fhir/dates.ts";

describe("time of injury between the chart's offset and the clinic's clock", () => {
  it.each([
    ["2026-11-25T10:30:00Z", "Europe/Berlin", "2026-11-25T11:30"],
    ["2026-07-01T23:30:00Z", "Europe/Berlin", "2026-07-02T01:30"],
    ["2026-03-01T00:30:00+13:00", "America/New_York", "2026-02-28T06:30"],
    ["2026-11-25", "America/New_York", "2026-11-25"],
    ["2026-11", "America/New_York", "2026-11"],
  ])("%s is %s %s", (instant, zone, local) => expect(localOf(instant, zone)).toBe(local));
  it("a clock time gets the offset of its own day, not of today", () => {
    expect(zonedOf("2026-07-01T10:00", "Europe/Berlin")).toBe("2026-07-01T10:00:00+02:00");
    expect(zonedOf("2026-12-01T10:00", "Europe/Berlin")).toBe("2026-12-01T10:00:00+01:00");
    expect(zonedOf("2026-12-01T10:00", "Asia/Kathmandu")).toBe("2026-12-01T10:00:00+05:45");
    expect(zonedOf("2026-12-01T10:00", "America/St_Johns")).toBe("2026-12-01T10:00:00-03:30");
    expect(zonedOf("2026-12-01", "Asia/Kathmandu")).toBe("2026-12-01");
  });
  it("REL-41 W7 there and back gives the same clock time in every zone, except in the hour that a clock change skips", () => {
    const zones = [
      "UTC",
      "Europe/Berlin",
      "America/New_York",
      "Asia/Kathmandu",
      "Australia/Lord_Howe",
      "Pacific/Apia",
      "America/St_Johns",
    ];
    const pad = (n: number) => String(n).padStart(2, "0");
    fc.assert(
      fc.property(
        fc.constantFrom(...zones),
        fc.integer({ min: 1, max: 12 }),
        fc.integer({ min: 1, max: 28 }),
        fc.integer({ min: 4, max: 23 }),
        fc.integer({ min: 0, max: 59 }),
        (zone, month, day, hour, minute) => {
          const local = `2026-${pad(month)}-${pad(day)}T${pad(hour)}:${pad(minute)}`;
          expect(localOf(zonedOf(local, zone), zone)).toBe(local);
        },
      ),
    );
  });
});

describe("dates in words", () => {
  it("SAF-19 carry weekday and month name, in every zone the same", () => {
    expect(dateWords("2026-03-01")).toBe("Sun 1 March 2026");
    expect(dateWords("2026-03-01T09:05:00+13:00")).toBe("Sun 1 March 2026, 09:05");
  });
  it("partial dates stay partial; what is no date is left as it is", () => {
    expect([dateWords("2026-03"), dateWords("2026"), dateWords("in childhood")]).toEqual([
      "March 2026",
      "2026",
      "in childhood",
    ]);
  });
  it.each([
    ["2026-02-30", false],
    ["2026-13", false],
    ["2026-1-1", false],
    ["2026-02-28T25:00:00Z", false],
    ["2024-02-29", true],
    ["2026", true],
    ["2026-11-25T10:00:00.123+01:00", true],
  ])("%s as an R4 date or dateTime: %s", (value, valid) => expect(isFhirDate(value)).toBe(valid));
});

describe("age in words", () => {
  it("turns on the birthday", () => {
    expect(ageWords("2008-11-25", "2026-11-24")).toBe("17 years");
    expect(ageWords("2008-11-25", "2026-11-25")).toBe("18 years");
  });
  it("a leap day child has a birthday in common years too", () => {
    expect(ageWords("2008-02-29", "2026-03-01")).toBe("18 years");
  });
});

import fc from "fast-check";
import { afterEach, describe, expect, it } from "vitest";
import { ageWords, dateWords, isFhirDate, localOf, machineZone, zonedOf } from "../../src/fhir/dates.ts";

describe("time of injury between the chart's offset and the clinic's clock", () => {
  it.each([
    ["2026-11-25T10:30:00Z", "Europe/Berlin", "2026-11-25T11:30"],
    ["2026-07-01T23:30:00Z", "Europe/Berlin", "2026-07-02T01:30"],
    ["2026-03-01T00:30:00+13:00", "America/New_York", "2026-02-28T06:30"],
    ["2026-11-25", "America/New_York", "2026-11-25"],
    ["2026-11", "America/New_York", "2026-11"],
    ["2026-11-25T00:05:00Z", "UTC", "2026-11-25T00:05"],
    ["2026-11-25T10:30:59", "America/New_York", "2026-11-25T10:30"],
    ["0800-02-01T12:00:00Z", "UTC", "0800-02-01T12:00"],
  ])("%s is %s %s", (instant, zone, local) => expect(localOf(instant, zone)).toBe(local));
  it("a clock time gets the offset of its own day, not of today", () => {
    expect(zonedOf("2026-07-01T10:00", "Europe/Berlin")).toBe("2026-07-01T10:00:00+02:00");
    expect(zonedOf("2026-12-01T10:00", "Europe/Berlin")).toBe("2026-12-01T10:00:00+01:00");
    expect(zonedOf("2026-12-01T10:00", "Asia/Kathmandu")).toBe("2026-12-01T10:00:00+05:45");
    expect(zonedOf("2026-12-01T10:00", "America/St_Johns")).toBe("2026-12-01T10:00:00-03:30");
    expect(zonedOf("2026-12-01", "Asia/Kathmandu")).toBe("2026-12-01");
    expect(zonedOf("2026-12-01T10:00", "Europe/London")).toBe("2026-12-01T10:00:00+00:00");
    expect(zonedOf("2026-07-01T10:00:45", "Europe/Berlin")).toBe("2026-07-01T10:00:00+02:00");
  });
  it.each([
    // Clocks change at 01:00 UTC in Europe (Directive 2000/84/EC) and at 02:00 local time in the US (15 U.S.C. 260a).
    ["2026-03-29T01:30", "Europe/Berlin", "+01:00"],
    ["2026-03-29T03:30", "Europe/Berlin", "+02:00"],
    ["2026-10-25T01:30", "Europe/Berlin", "+02:00"],
    ["2026-10-25T03:30", "Europe/Berlin", "+01:00"],
    ["2026-11-01T00:30", "America/New_York", "-04:00"],
    ["2026-11-01T03:30", "America/New_York", "-05:00"],
  ])("REL-41 an injury at %s in %s, in the night of a clock change, has offset %s", (local, zone, offset) =>
    expect(zonedOf(local, zone)).toBe(`${local}:00${offset}`),
  );
  describe("of this computer", () => {
    const before = process.env.TZ;
    afterEach(() => {
      if (before === undefined) delete process.env.TZ;
      else process.env.TZ = before;
    });
    it("is the zone it is set to", () => {
      process.env.TZ = "Europe/Berlin";
      expect(machineZone()).toBe("Europe/Berlin");
    });
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

const no = (value: string) => [value, false] as const;
const yes = (value: string) => [value, true] as const;
const noTime = (time: string) => no(`2026-11-25${time}`);
const yesTime = (time: string) => yes(`2026-11-25${time}`);

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
    // The ends of each part, and one beyond (R4 data types, date and dateTime).
    ...["226", "x2026", "2026x", "20260", "2026-", "2026-00", "2026-21", "2026-1x", "2026-x1"].map(no),
    ...["2026-01", "2026-09", "2026-10", "2026-12"].map(yes),
    ...["2026-11-00", "2026-11-31", "2026-12-32", "2026-12-40", "2026-11-5", "2026-11-255"].map(no),
    ...["2026-11-01", "2026-11-09", "2026-11-10", "2026-11-29", "2026-11-30", "2026-12-31"].map(yes),
    ...["T24:00Z", "T12:60Z", "T1:00Z", "T12:5Z", "T12:00:60Z", "T12:00:0Z", "T12:00:00.Z", "T12Z", "T30:00Z"].map(
      noTime,
    ),
    ...["T12:00z", "T12:00+1:00", "T12:00+01:0", "T12:00+0100", "T12:00Z1", "T12:00*01:00", " 12:00Z"].map(noTime),
    ...["T00:00Z", "T09:00Z", "T19:59Z", "T20:00Z", "T23:59:59Z", "T12:00:30.5Z", "T12:00-03:30", "T12:00"].map(
      yesTime,
    ),
  ] as const)("%s as an R4 date or dateTime: %s", (value, valid) => expect(isFhirDate(value)).toBe(valid));
});

describe("age in words", () => {
  const TODAY = "2026-11-25";
  it("turns on the birthday", () => {
    expect(ageWords("2008-11-25", "2026-11-24")).toBe("17 years");
    expect(ageWords("2008-11-25", "2026-11-25")).toBe("18 years");
    expect(ageWords("2008-11-25T06:00:00Z", "2026-11-25T23:00:00Z")).toBe("18 years");
  });
  it("a leap day child has a birthday in common years too", () => {
    expect(ageWords("2008-02-29", "2026-03-01")).toBe("18 years");
  });
  it.each([
    ["2024-11-25", "2 years"],
    ["2024-11-26", "23 months"],
    ["2026-09-25", "2 months"],
    ["2026-09-26", "60 days"],
    ["2026-11-24", "1 day"],
    ["2026-11-25", "0 days"],
  ])("of an infant born on %s: %s", (born, words) => expect(ageWords(born, TODAY)).toBe(words));
  it.each([
    ["2020", "5 or 6 years"],
    ["2025", "0 or 1 year"],
    ["2026", "0 years"],
    ["2020-10", "6 years"],
    ["2020-11", "5 or 6 years"],
    ["2020-12", "5 years"],
    ["2026-11", "0 years"],
    ["1906", "119 or 120 years"],
  ])("born in %s, the day not known: %s", (born, words) => expect(ageWords(born, TODAY)).toBe(words));
  it("of a birth year alone is one number only on the last day of the year", () => {
    expect(ageWords("2020", "2026-12-30")).toBe("5 or 6 years");
    expect(ageWords("2020", "2026-12-31")).toBe("6 years");
  });
  it("nobody is older than 120 years [common practice, no source]", () => {
    expect(ageWords("1906-11-25", TODAY)).toBe("120 years");
    expect([ageWords("1905-11-25", TODAY), ageWords("1905", TODAY)]).toEqual(["not known", "not known"]);
  });
  it.each([undefined, "", "in spring", "2026-02-30", "2026-11-26", "2026-12", "2027"])(
    "a birth date that is missing, no date or still to come (%s) gives no age",
    (born) => expect(ageWords(born, TODAY)).toBe("not known"),
  );
});

import { describe, expect, it } from "vitest";
import { type CaseRecord, dayZero, factsOf, treatmentDay } from "../../src/pathway/case-record.ts";

const record = (dates: Partial<CaseRecord>): CaseRecord => ({
  assessedAt: "2026-03-01T12:00",
  patient: {},
  injury: {},
  digits: [{ digit: "ring" }, { digit: "thumb" }],
  ...dates,
});
const facts = (dates: Partial<CaseRecord>) => factsOf(record(dates), 0);

describe("the age that the rules read", () => {
  it.each([
    ["1986-03-01", 40],
    ["1986-03-02", 39],
    ["2024-03-01", 2],
    ["2008-02-29", 18],
  ])("of somebody born on %s is %d whole years", (birthDate, years) =>
    expect(facts({ birthDate }).ageYears).toBe(years),
  );
  it("keeps its fraction under two years, where limits are in weeks and months", () => {
    expect(facts({ birthDate: "2024-03-02" }).ageYears).toBeCloseTo(729 / 365.25, 6);
    expect(facts({ birthDate: "2026-01-18" }).ageYears).toBeCloseTo(42 / 365.25, 6);
  });
  it("is not guessed from a year or a month of birth", () => {
    expect(facts({ birthDate: "1986" })).not.toHaveProperty("ageYears");
    expect(facts({ birthDate: "1986-03" })).not.toHaveProperty("ageYears");
    expect(facts({})).toEqual({ digit: "ring" });
  });
  it("gives way to an age that was answered", () =>
    expect(facts({ birthDate: "1986-03-01", patient: { ageYears: 7 } }).ageYears).toBe(7));
});

describe("the time since the injury", () => {
  it("is counted to the minute, and from midnight when only the day is known: the longest it can be", () => {
    expect(facts({ injuredAt: "2026-03-01T09:30" }).hoursSinceInjury).toBe(2.5);
    expect(facts({ injuredAt: "2026-02-28" }).hoursSinceInjury).toBe(36);
  });
  it("is never negative, and unknown when the day is", () => {
    expect(facts({ injuredAt: "2026-03-01T12:30" }).hoursSinceInjury).toBe(0);
    expect(facts({ injuredAt: "2026-02" })).not.toHaveProperty("hoursSinceInjury");
  });
  it("in whole days is day 0 on the day itself, day 1 from the next midnight", () => {
    expect(treatmentDay(record({ injuredAt: "2026-03-01T00:10" }))).toBe(0);
    expect(treatmentDay(record({ injuredAt: "2026-02-28T23:50" }))).toBe(1);
    expect(treatmentDay(record({ injuredAt: "2026-02-19" }))).toBe(10);
    expect(treatmentDay(record({ injuredAt: "2026-03-02" }))).toBe(0);
    expect(treatmentDay(record({}))).toBeUndefined();
    expect(treatmentDay(record({ injuredAt: "2026-02" }))).toBeUndefined();
  });
  it("starts on the day of the injury, whatever the hour", () => {
    expect(dayZero(record({ injuredAt: "2026-02-28T23:50" }))).toBe("2026-02-28");
    expect(dayZero(record({ injuredAt: "2026-02" }))).toBeUndefined();
    expect(dayZero(record({}))).toBeUndefined();
  });
});

describe("the years since the last tetanus dose, on the day of the injury", () => {
  const years = (lastTetanusDoseOn: string, injuredAt = "2026-03-01T08:00") =>
    facts({ lastTetanusDoseOn, injuredAt }).tetanusYearsSinceLast;
  it("are whole on the anniversary only; a day more is more", () => {
    expect(years("2016-03-01", "2026-03-01")).toBe(10);
    expect(years("2016-02-29", "2026-03-01")).toBe(10.1);
    expect(years("2021-03-01", "2026-03-01")).toBe(5);
  });
  it("are rounded up to a tenth, but a day short of the anniversary is not yet the year", () => {
    expect(years("2016-03-02", "2026-03-01")).toBe(9.9);
    expect(years("2025-09-01", "2026-03-01")).toBe(0.5);
    expect(years("2026-02-28", "2026-03-01")).toBe(0.1);
  });
  it("are 0 for a dose on the day, or one given since the injury", () => {
    expect(years("2026-03-01", "2026-03-01")).toBe(0);
    expect(years("2026-03-01", "2026-02-20")).toBe(0);
    expect(years("2026-03-01", "2024-02-20")).toBe(0);
  });
  it("are unknown without the day of the dose or of the injury", () => {
    expect(years("2016")).toBeUndefined();
    expect(facts({ lastTetanusDoseOn: "2016-03-01" }).tetanusYearsSinceLast).toBeUndefined();
  });
});

it("each digit has its own answers beside those of patient and accident, the digit's word last", () =>
  expect(
    factsOf(
      record({
        patient: { smoker: "yes" },
        injury: { mechanism: "crush" },
        digits: [{ digit: "ring" }, { digit: "thumb", openness: "closed" }],
      }),
      1,
    ),
  ).toEqual({ smoker: "yes", mechanism: "crush", digit: "thumb", openness: "closed" }));

import { describe, expect, it } from "vitest";
import { datedVisits, dischargeLast, mergeVisits, withDeadline } from "../../src/pathway/hand/follow-up.ts";
import { readCase } from "../../src/pathway/index.ts";

const stitches = { purpose: "stitches-out", earliest: 10, ideal: 12, latest: 14 } as const;

describe("visits that count from an operation", () => {
  const after = { ...stitches, countFrom: "operation" } as const;
  it("have no date, whatever is known of the injury, until the operation has one", () => {
    expect(datedVisits([after], "2026-03-01")).toEqual([after]);
    expect(datedVisits([after], "2026-03-01", "2026-03-10")[0]!.dates).toEqual({
      earliest: "2026-03-20",
      ideal: "2026-03-22",
      latest: "2026-03-24",
    });
    expect(datedVisits([after], undefined, "2026-03-10")[0]!.dates!.earliest).toBe("2026-03-20");
  });
  it("are not joined with stitches put in today", () => {
    expect(mergeVisits([after, { ...stitches, countFrom: "treatment" }])).toHaveLength(2);
    expect(mergeVisits([after, after])).toHaveLength(1);
  });
});

describe("the slot of an operation", () => {
  it("is not lost in the surgeon's first look, even when both start today", () => {
    const look = { purpose: "surgeon-review", earliest: 5, ideal: 6, latest: 6 } as const;
    expect(mergeVisits([look, { ...look, ideal: 7, latest: 10, dueDay: 10 }])).toHaveLength(2);
    expect(mergeVisits([look, { ...look, latest: 7 }])).toEqual([look]);
  });
});

describe("discharge", () => {
  const discharge = { purpose: "discharge-check", earliest: 21, ideal: 25, latest: 28 } as const;
  it("waits for the last film and keeps the length of its window", () =>
    expect(dischargeLast([{ purpose: "film", earliest: 40, ideal: 42, latest: 44 }, discharge])[1]).toEqual({
      ...discharge,
      earliest: 44,
      ideal: 48,
      latest: 51,
    }));
  it("stays where it is when the films are over by then", () =>
    expect(dischargeLast([{ purpose: "film", earliest: 7, ideal: 8, latest: 10 }, discharge])[1]).toEqual(discharge));
});

describe("deadlines", () => {
  it("end the sentence with their date, counted from the injury over the end of a month", () => {
    expect(withDeadline("Repair by day 10 after the injury.", 10, "2026-02-24")).toBe(
      "Repair by day 10 after the injury (by Fri 6 March 2026).",
    );
    expect(withDeadline("Operation", 21, "2026-03-01")).toBe("Operation (by Sun 22 March 2026)");
  });
  it("are not invented: without a day of injury, or without a deadline, the words stay as they are", () => {
    expect(withDeadline("Repair by day 10.", 10, undefined)).toBe("Repair by day 10.");
    expect(withDeadline("Splint.", undefined, "2026-03-01")).toBe("Splint.");
  });
});

describe("the day of the operation in a case", () => {
  const record = {
    injuredAt: "2026-03-01T10:00",
    assessedAt: "2026-03-02T12:00",
    patient: {},
    injury: {},
    digits: [{ digit: "ring", side: "right" }],
  };
  it("may be booked for a day to come", () =>
    expect(readCase({ ...record, operatedOn: "2026-03-08" })).toMatchObject({ ok: true }));
  it("lies never before the injury, and is a real day", () => {
    expect(readCase({ ...record, operatedOn: "2026-02-28" })).toMatchObject({
      ok: false,
      problems: [{ path: "operatedOn", problem: "2026-02-28 is before the injury" }],
    });
    expect(readCase({ ...record, operatedOn: "2026-02-30" })).toMatchObject({ ok: false });
  });
});

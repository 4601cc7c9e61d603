import { describe, expect, it } from "vitest";
import { byUrgency, countsByWeek, daysLeftWords, filtered, type VisitToArrange } from "../../src/scheduling/index.ts";

const visit = (
  id: string,
  earliest: string,
  ideal: string,
  latest: string,
  more: Partial<VisitToArrange> = {},
): VisitToArrange => ({
  ...{ id, patient: id, clinic: "harbour", role: "hand clinic", parts: [], unavailable: [], after: [] },
  due: { earliest, ideal, latest },
  ...more,
});
const TODAY = "2026-12-28";
const overdue = visit("overdue", "2026-12-20", "2026-12-21", "2026-12-26");
const today = visit("today", "2026-12-20", "2026-12-28", "2026-12-28", { role: "hand therapist" });
const soon = visit("soon", "2026-12-27", "2026-12-30", "2027-01-03", { clinic: "quay" });
const sooner = visit("sooner", "2026-12-27", "2026-12-29", "2027-01-03");
const nextYear = visit("next-year", "2027-01-04", "2027-01-05", "2027-01-06");
const all = [nextYear, soon, sooner, today, overdue];
const ids = (visits: readonly VisitToArrange[]) => visits.map((v) => v.id);

describe("W1 the list of visits to arrange", () => {
  it("begins with the longest overdue, then the nearest last day, then the nearest best day", () => {
    expect(ids(byUrgency(all))).toEqual(["overdue", "today", "sooner", "soon", "next-year"]);
    expect(ids(byUrgency(all.toReversed()))).toEqual(ids(byUrgency(all)));
  });
  it("says the days left in words", () => {
    expect([overdue, today, soon].map((v) => daysLeftWords(v, TODAY))).toEqual([
      "overdue by 2 days",
      "last day today",
      "6 days left",
    ]);
    expect(daysLeftWords(today, "2026-12-27")).toBe("1 day left");
  });
  it("is narrowed by clinic, role, window and what is overdue", () => {
    expect(ids(filtered(all, { clinic: "quay" }, TODAY))).toEqual(["soon"]);
    expect(ids(filtered(all, { role: "hand therapist" }, TODAY))).toEqual(["today"]);
    expect(ids(filtered(all, { overdue: true }, TODAY))).toEqual(["overdue"]);
    expect(ids(filtered(all, { from: "2027-01-04", to: "2027-01-04" }, TODAY))).toEqual(["next-year"]);
    expect(filtered(all, {}, TODAY)).toHaveLength(5);
  });
  it("is counted by ISO week, the one at the turn of the year being the 53rd of 2026", () => {
    expect(countsByWeek(all)).toEqual([
      ["2026-W52", 1],
      ["2026-W53", 3],
      ["2027-W01", 1],
    ]);
  });
});

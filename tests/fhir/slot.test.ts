import { describe, expect, it } from "vitest";
import { bookedIn, ListReading } from "../../src/fhir/listed-visit.ts";
import { placeInDays, timesIn } from "../../src/fhir/slot.ts";

const slot = (start: string, end: string) => ({
  resourceType: "Slot",
  id: "s1",
  schedule: { reference: "Schedule/hands" },
  status: "free",
  start,
  end,
});

describe("times of a clinic", () => {
  it("W7 are shown on the wall clock of the clinic, on both sides of a clock change", () => {
    const at = (start: string) => timesIn([slot(start, start)], "Europe/Berlin")[0];
    // The last Sunday of October 2026 is the 25th: from UTC+2 to UTC+1 (Directive 2000/84/EC).
    expect(at("2026-10-24T07:30:00Z")).toMatchObject({ at: "2026-10-24T09:30", day: "2026-10-24" });
    expect(at("2026-10-26T08:30:00Z")).toMatchObject({ at: "2026-10-26T09:30", day: "2026-10-26" });
    expect(at("2026-10-26T23:30:00Z")).toMatchObject({ at: "2026-10-27T00:30", day: "2026-10-27" });
  });

  it("W7 lie in days of the plan by the calendar of the clinic, both ends counted", () => {
    const days = { earliest: "2026-10-24", latest: "2026-10-26" };
    expect(["2026-10-23", "2026-10-24", "2026-10-26", "2026-10-27"].map((day) => placeInDays(day, days))).toEqual([
      "before",
      "within",
      "within",
      "after",
    ]);
    expect(placeInDays("2026-10-24", {})).toBe("unknown");
  });

  it("REL-47 a time without a zone is told and not offered, a visit booked so is told and not given one", () => {
    const problems: string[] = [];
    expect(timesIn([slot("2026-10-24T09:30:00", "2026-10-24T09:45:00")], "Europe/Berlin", problems)).toEqual([]);
    expect(problems.join(" ")).toContain("Slot.start");
    const visit = {
      resourceType: "Appointment",
      id: "a1",
      identifier: [{ system: "https://fingerpost.example/plan-item", value: "p:visit-film-fup-4" }],
      status: "booked",
      start: "2026-10-24T09:30:00",
      participant: [{ actor: { reference: "Patient/p1" }, status: "accepted" }],
    };
    const said: string[] = [];
    expect(bookedIn(new ListReading([visit], "2026-10-20", "Europe/Berlin"), said)).toEqual([]);
    expect(said.join(" ")).toContain("Appointment/a1");
    expect(said.join(" ")).toContain("no time zone");
  });
});

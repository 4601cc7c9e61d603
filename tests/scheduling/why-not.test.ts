import { describe, expect, it } from "vitest";
import { type Around, leastBad, obstacles, type Seat, type VisitToArrange } from "../../src/scheduling/index.ts";

const march = (day: number) => `2026-03-${String(day).padStart(2, "0")}`;
const visit = (more: Partial<VisitToArrange> = {}): VisitToArrange => ({
  ...{ id: "film", patient: "kim", clinic: "harbour", role: "x-ray", parts: [], unavailable: [], after: [] },
  due: { earliest: march(9), ideal: march(10), latest: march(13) },
  ...more,
});
const seat = (day: number, more: Partial<Seat> = {}): Seat => ({
  ...{ clinic: "harbour", role: "x-ray", staff: "a", day: march(day), slots: [] },
  ...{ start: `${march(day)}T09:00:00Z`, end: `${march(day)}T09:15:00Z` },
  ...more,
});
const around = (more: Partial<Around> = {}): Around => ({
  ...{ today: march(2), seats: [], free: [], closed: new Map(), first: [] },
  ...more,
});
const words = (v: VisitToArrange, a: Around) => obstacles(v, a).map((o) => o.words);

describe("why a visit found no seat", () => {
  it("is said for every day of the window, each by what rules it out first", () => {
    const seats = [9, 10, 11, 12].map((day) => seat(day));
    const closed = new Map([["harbour", new Map([[march(9), "Founders' Day"]])]]);
    const unavailable = [{ from: march(10), to: march(10) }];
    const found = obstacles(visit({ unavailable }), around({ seats, closed }));
    expect(found.map((o) => [o.reason, o.days])).toEqual([
      ["closed", [march(9)]],
      ["patient-cannot-come", [march(10)]],
      ["full", [march(11), march(12)]],
      ["no-session", [march(13)]],
    ]);
    expect(found.map((o) => o.words)).toEqual([
      "Closed on 1 day: Founders' Day.",
      "The patient cannot come on 1 day.",
      "The x-ray is full on 2 days.",
      "No session of the x-ray on 1 day.",
    ]);
  });
  it("is that the window is over, that no day suits, or what it waits for", () => {
    expect(words(visit(), around({ today: march(20) }))).toEqual(["The last day was Fri 13 March 2026."]);
    const empty = visit({ due: { earliest: march(15), ideal: march(15), latest: march(13) } });
    expect(words(empty, around())).toEqual([
      "No day suits: not before Sun 15 March 2026, not after Fri 13 March 2026.",
    ]);
    expect(words(visit(), around({ first: [{ words: "Wire out" }] }))).toEqual(["Wire out has to be arranged first."]);
    const later = around({ first: [{ words: "Wire out", day: march(30) }] });
    expect(words(visit(), later)).toEqual(["Not before Wire out (Mon 30 March 2026)."]);
  });
  it("is the hours, when seats are free only at times when the patient cannot come", () => {
    const unavailable = [{ from: march(9), to: march(13), hours: { from: "08:00", to: "12:00" } }];
    const seats = [9, 10, 11, 12, 13].map((day) => seat(day));
    expect(words(visit({ unavailable }), around({ seats, free: seats }))).toEqual([
      "The patient cannot come at the free times on 5 days.",
    ]);
  });
  it("is nothing when a seat fits", () => {
    const seats = [9, 10, 11, 12, 13].map((day) => seat(day));
    expect(obstacles(visit(), around({ seats, free: seats }))).toEqual([]);
  });
});

describe("the least bad choices", () => {
  it("give up one thing each, the nearest to the window first, and say what", () => {
    const unavailable = [{ from: march(11), to: march(11) }];
    const free = [seat(16), seat(6), seat(20), seat(12, { clinic: "quay" }), seat(11), seat(14, { role: "nurse" })];
    const choices = leastBad(visit({ unavailable }), around({ free }));
    expect(choices.map((c) => [c.gives, c.outside, c.words])).toEqual([
      ["patient-times", 0, "Wed 11 March 2026, inside the window, when the patient said no: ask again."],
      ["clinic", 0, "Thu 12 March 2026, inside the window, at another clinic."],
      ["window", -3, "Fri 6 March 2026, 3 days before the first day: needs a reason, and the doctor is told."],
    ]);
  });
  it("never lie in the past, on a closed day, or before what the visit waits for", () => {
    const closed = new Map([["harbour", new Map([[march(16), "Flood"]])]]);
    const free = [seat(6), seat(16), seat(17), seat(18)];
    expect(leastBad(visit(), around({ free, closed, today: march(9) })).map((c) => c.seat.day)).toEqual([
      march(17),
      march(18),
    ]);
    const first = [{ words: "Wire out", day: march(18) }];
    expect(leastBad(visit(), around({ free, first })).map((c) => c.seat.day)).toEqual([march(18)]);
    expect(leastBad(visit(), around({ free, first: [{ words: "Wire out" }] }))).toEqual([]);
  });
  it("of a visit that is overdue are the first free days", () => {
    const choices = leastBad(visit(), around({ today: march(20), free: [seat(24), seat(21), seat(23), seat(30)] }));
    expect(choices.map((c) => [c.seat.day, c.outside])).toEqual([
      [march(21), 8],
      [march(23), 10],
      [march(24), 11],
    ]);
  });
});

import { describe, expect, it } from "vitest";
import {
  afterMissed,
  type Booking,
  flags,
  type Now,
  type PlannedVisit,
  unarranged,
} from "../../src/scheduling/index.ts";

const TODAY = "2026-03-10";
const PLACE = { clinic: "harbour", role: "hand clinic" };
const due = { earliest: "2026-03-09", ideal: "2026-03-11", latest: "2026-03-13" };
const film: PlannedVisit = {
  ...{ key: "film", plan: "plan", patient: "kim", purpose: "film", words: "Film", due },
  ...PLACE,
};
const booking = (more: Partial<Booking> = {}): Booking => ({
  ...{ id: "b1", keys: ["film"], patient: "kim", day: "2026-03-12", start: "2026-03-12T09:00:00Z", state: "booked" },
  ...PLACE,
  ...more,
});
const on = (day: string, more: Partial<Booking> = {}) => booking({ day, start: `${day}T09:00:00Z`, ...more });

describe("W4 a visit that was missed or cancelled", () => {
  it("is booked again inside what is left of its window", () => {
    expect(afterMissed(due, "2026-03-12")).toMatchObject({
      kind: "rebook",
      due: { earliest: "2026-03-12", ideal: "2026-03-12", latest: "2026-03-13" },
      words: "To be booked again by Fri 13 March 2026.",
    });
    expect(afterMissed(due, "2026-03-13").kind).toBe("rebook");
    expect(afterMissed(due, "2026-03-02")).toMatchObject({ due });
  });
  it("goes to the clinician once the last day is over: no clerk decides whether it is still needed", () => {
    expect(afterMissed(due, "2026-03-14")).toEqual({
      kind: "escalate",
      words: "The last day was Fri 13 March 2026: the clinician decides whether it is still needed and by when.",
    });
  });
});

describe("W6 a booked visit that no longer fits is flagged, never moved", () => {
  const now = (more: Partial<Now> = {}): Now => ({
    ...{ today: TODAY, planned: [film], cancelled: new Set(), patients: new Map(), closed: new Map() },
    ...more,
  });
  const reasons = (bookings: Booking[], more: Partial<Now> = {}) => flags(bookings, now(more)).map((f) => f.reason);
  const movedTo = (earliest: string, latest: string) => [{ ...film, due: { earliest, ideal: earliest, latest } }];

  it("not while all is as it was", () => {
    expect(reasons([booking()])).toEqual([]);
  });
  it("when the plan has a new window, with both days in words, and the booking is left as it is", () => {
    const before = booking();
    const [flag] = flags([before], now({ planned: movedTo("2026-03-16", "2026-03-20") }));
    expect(flag).toMatchObject({
      reason: "before-window",
      words: "Booked for Thu 12 March 2026; the first day is now Mon 16 March 2026.",
    });
    expect(flag!.booking).toBe(before);
    expect(before).toEqual(booking());
    expect(reasons([booking()], { planned: movedTo("2026-03-09", "2026-03-11") })).toEqual(["after-window"]);
  });
  it("but not again when it was booked outside this very window for a reason", () => {
    const planned = movedTo("2026-03-09", "2026-03-11");
    const accepted = booking({ acceptedFor: planned[0]!.due });
    expect(reasons([accepted], { planned })).toEqual([]);
    expect(reasons([accepted], { planned: movedTo("2026-03-09", "2026-03-10") })).toEqual(["after-window"]);
  });
  it("when the plan was cancelled, or no longer asks for it, or asks for somebody else", () => {
    expect(reasons([booking()], { planned: [], cancelled: new Set(["film"]) })).toEqual(["plan-cancelled"]);
    expect(reasons([booking()], { planned: [] })).toEqual(["no-longer-needed"]);
    expect(reasons([booking()], { planned: [{ ...film, role: "hand surgeon" }] })).toEqual(["another-place"]);
  });
  it("when the patient has died or moved away", () => {
    expect(reasons([booking()], { patients: new Map([["kim", "died"]]) })).toEqual(["patient-died"]);
    expect(reasons([booking()], { patients: new Map([["kim", "moved-away"]]) })).toEqual(["patient-moved-away"]);
  });
  it("when the clinic closes on that day, or it is booked twice, or what it waits for was booked after it", () => {
    expect(reasons([booking()], { closed: new Map([["harbour", new Map([["2026-03-12", "Flood"]])]]) })).toEqual([
      "clinic-closed",
    ]);
    expect(reasons([booking(), booking({ id: "b2" })])).toEqual(["booked-twice", "booked-twice"]);
    const wire: PlannedVisit = { ...film, key: "wire", purpose: "wire-out", words: "Wire out", after: "film" };
    const early = on("2026-03-11", { id: "b3", keys: ["wire"] });
    expect(flags([booking(), early], now({ planned: [film, wire] })).map((f) => [f.booking.id, f.reason])).toEqual([
      ["b3", "before-what-it-waits-for"],
    ]);
  });
  it("not when it was held, missed or cancelled, or lies in the past", () => {
    const ended = ["held", "cancelled", "no-show"] as const;
    expect(
      reasons(
        ended.map((state) => booking({ state })),
        { planned: [] },
      ),
    ).toEqual([]);
    expect(reasons([on("2026-03-09")], { planned: [] })).toEqual([]);
  });
});

describe("W4 nothing is lost: a visit of a plan that nobody has arranged", () => {
  const { due: _, ...undated } = film;
  const found = (planned: PlannedVisit[], bookings: Booking[], today = TODAY, by = TODAY) =>
    unarranged(planned, bookings, today, by).map((u) => [u.visit.key, u.because, u.overdue]);

  it("is told once its window has begun, and as overdue once it is over", () => {
    expect(found([film], [], "2026-03-08", "2026-03-08")).toEqual([]);
    expect(found([film], [], "2026-03-08", "2026-03-09")).toEqual([["film", "never-booked", false]]);
    expect(found([film], [], "2026-03-13")).toEqual([["film", "never-booked", false]]);
    expect(found([film], [], "2026-03-14")).toEqual([["film", "never-booked", true]]);
  });
  it("is told when it was missed or cancelled and has no new booking, until it has one", () => {
    expect(found([film], [on("2026-03-09", { state: "no-show" })])).toEqual([["film", "missed", false]]);
    expect(found([film], [booking({ state: "cancelled" })], "2026-03-02")).toEqual([["film", "cancelled", false]]);
    expect(found([film], [on("2026-03-09", { state: "no-show" }), booking({ id: "b2" })])).toEqual([]);
  });
  it("is told when its day went by and nobody wrote whether the patient came", () => {
    expect(found([film], [on("2026-03-09")])).toEqual([["film", "past-and-not-closed", false]]);
    expect(found([film], [on("2026-03-09", { state: "held" })])).toEqual([]);
  });
  it("is told while the day is not known that it counts from", () => {
    expect(found([undated], [])).toEqual([["film", "no-date", false]]);
  });
  it("is each part of a shared visit, and none of a patient who has died", () => {
    const check: PlannedVisit = { ...film, key: "check", purpose: "wound-check" };
    const missed = on("2026-03-09", { keys: ["film", "check"], state: "no-show" });
    expect(found([film, check], [missed])).toEqual([
      ["film", "missed", false],
      ["check", "missed", false],
    ]);
    expect(unarranged([film], [], TODAY, TODAY, new Map([["kim", "died"]]))).toEqual([]);
  });
});

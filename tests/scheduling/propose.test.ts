import fc from "fast-check";
import loadHighs from "highs";
import { describe, expect, it } from "vitest";
import {
  boundsOf,
  COST,
  type Problem,
  problemOf,
  propose,
  rankedPlans,
  type Seat,
  searchDays,
  timeOf,
  type VisitToArrange,
  workingDayOf,
} from "../../src/scheduling/index.ts";
import { seeded } from "../bench/seeded.ts";
import { optimum } from "./oracle.ts";
import { FIRST_DAY, instance } from "./reference-instances.ts";

const days = ["2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05"];
const ROLES = ["hand clinic", "x-ray"];
/** A list so small that every arrangement can be tried. */
function small(seed: number, waits: boolean): { visits: VisitToArrange[]; seats: Seat[] } {
  const random = seeded(seed);
  const upTo = (n: number) => Math.floor(random() * n);
  const visits = Array.from({ length: 2 + upTo(4) }, (_, i): VisitToArrange => {
    const [a, b, c] = [upTo(4), upTo(4), upTo(4)].sort((x, y) => x - y) as [number, number, number];
    const patient = `patient-${upTo(2)}`;
    return {
      id: `${patient} ${i}`,
      patient,
      clinic: "harbour",
      role: ROLES[upTo(2)]!,
      parts: [],
      due: { earliest: days[a]!, ideal: days[b]!, latest: days[c]! },
      unavailable: random() < 0.3 ? [{ from: days[upTo(4)]!, to: days[upTo(4)]! }] : [],
      after: [],
    };
  });
  if (waits)
    visits.forEach((v, i) => {
      const before = visits.slice(0, i).filter((w) => w.patient === v.patient);
      if (before.length > 0 && random() < 0.5) Object.assign(v, { after: [before[upTo(before.length)]!.id] });
    });
  const seats = Array.from({ length: 2 + upTo(4) }, (): Seat => {
    // Few hours, so that two seats of different roles often overlap.
    const hour = 9 + upTo(2);
    const day = days[upTo(4)]!;
    const at = (minutes: number) => `${day}T${String(hour).padStart(2, "0")}:${minutes}:00Z`;
    return { clinic: "harbour", role: ROLES[upTo(2)]!, staff: "a", day, start: at(10), end: at(40), slots: [] };
  });
  return { visits, seats };
}

/** Fewest visits left over, and the least cost, by trying every choice; by days (a day holds its seats) or by clock times. */
function exhaustive(problem: Problem, by: "days" | "seats") {
  const { visits, seats } = problem;
  const best = { leftOver: Number.POSITIVE_INFINITY, cost: Number.POSITIVE_INFINITY };
  const seatOf: (number | undefined)[] = [];
  const right = () =>
    visits.every((v, i) => {
      const at = seatOf[i];
      if (at === undefined) return true;
      const [day, start, end] = [seats[at]!.day, timeOf(seats[at]!.start), timeOf(seats[at]!.end)];
      return visits.every((w, j) => {
        const other = seatOf[j];
        const waits = v.before.includes(j);
        if (other === undefined) return !waits;
        if (i === j || v.patient !== w.patient) return true;
        if (by === "days") return !waits || seats[other]!.day <= day;
        const endsFirst = timeOf(seats[other]!.end) <= start;
        return waits ? endsFirst : endsFirst || timeOf(seats[other]!.start) >= end;
      });
    });
  const choose = (i: number) => {
    if (i === visits.length) {
      if (!right()) return;
      const held = visits.flatMap((v, v1) => (seatOf[v1] === undefined ? [] : [{ v, seat: seats[seatOf[v1]!]! }]));
      const leftOver = visits.length - held.length;
      const trips = new Set(held.map(({ v, seat }) => `${v.patient} ${seat.day}`)).size;
      const off = held.reduce((sum, { v, seat }) => sum + v.off[v.days.indexOf(problem.days.indexOf(seat.day))]!, 0);
      best.leftOver = Math.min(best.leftOver, leftOver);
      best.cost = Math.min(best.cost, leftOver * COST.leftOver + trips * COST.trip + off);
      return;
    }
    choose(i + 1);
    seats.forEach((seat, s) => {
      const { visit, days: may } = visits[i]!;
      if (seat.role !== visit.role || seatOf.includes(s) || !may.includes(problem.days.indexOf(seat.day))) return;
      seatOf[i] = s;
      choose(i + 1);
      seatOf[i] = undefined;
    });
  };
  choose(0);
  return best;
}
function daysOf(problem: Problem) {
  const search = searchDays(problem);
  for (let step = search.next(); ; step = search.next()) if (step.done) return step.value;
}
/** Everything a clerk relies on, whatever the list: throws what is broken. */
function isValid(problem: Problem, { timed, leftOver }: ReturnType<typeof propose>) {
  const all = [...timed.map((t) => t.visit.id), ...leftOver];
  expect(new Set(all).size).toBe(problem.visits.length);
  expect(all).toHaveLength(problem.visits.length);
  expect(new Set(timed.map((t) => t.seat)).size).toBe(timed.length);
  const at = new Map(timed.map((t) => [t.visit.id, t]));
  for (const { visit, seat } of timed) {
    expect([seat.clinic, seat.role]).toEqual([visit.clinic, visit.role]);
    expect(seat.day >= visit.due.earliest && seat.day <= visit.due.latest).toBe(true);
    for (const id of visit.after) expect(timeOf(at.get(id)!.seat.end)).toBeLessThanOrEqual(timeOf(seat.start));
    for (const u of visit.unavailable) expect(seat.day < u.from || seat.day > u.to).toBe(true);
  }
  const byPatient = new Map<string, Seat[]>();
  for (const { visit, seat } of timed) byPatient.set(visit.patient, [...(byPatient.get(visit.patient) ?? []), seat]);
  for (const own of byPatient.values()) {
    const inOrder = own.toSorted((a, b) => timeOf(a.start) - timeOf(b.start));
    inOrder.slice(1).forEach((s, i) => {
      expect(timeOf(inOrder[i]!.end)).toBeLessThanOrEqual(timeOf(s.start));
    });
  }
}

const seed = fc.integer({ min: 1, max: 1_000_000 });
describe("a proposal for a small list, beside every arrangement there is", () => {
  it("leaves over exactly as few visits as can be, by days, and the bound says the same number", () => {
    fc.assert(
      fc.property(seed, (n) => {
        const { visits, seats } = small(n, false);
        const problem = problemOf(visits, seats, days[0]!);
        const best = exhaustive(problem, "days");
        expect(daysOf(problem).leftOver()).toBe(best.leftOver);
        expect(boundsOf(problem).fewestLeftOver).toBe(best.leftOver);
        expect(boundsOf(problem).leastCost).toBeLessThanOrEqual(best.cost);
      }),
      { numRuns: 300 },
    );
  });
  it("W2 with visits that wait for others leaves over exactly as few as can be, and the bound says the same number", () => {
    fc.assert(
      fc.property(seed, (n) => {
        const { visits, seats } = small(n, true);
        const problem = problemOf(visits, seats, days[0]!);
        const best = exhaustive(problem, "days");
        expect(boundsOf(problem).fewestLeftOver).toBe(best.leftOver);
        expect(daysOf(problem).leftOver()).toBe(best.leftOver);
      }),
      { numRuns: 300 },
    );
  });
  it("W2 by clock times is valid, and loses no visit that could be placed, whether visits wait for others or not", () => {
    fc.assert(
      fc.property(seed, fc.boolean(), (n, waits) => {
        const { visits, seats } = small(n, waits);
        const problem = problemOf(visits, seats, days[0]!);
        const proposal = propose(problem);
        isValid(problem, proposal);
        const best = exhaustive(problem, "seats");
        expect(proposal.leftOver.length).toBe(best.leftOver);
      }),
      { numRuns: 300 },
    );
  });
});

describe("a proposal for 500 patients, beside the optimum that HiGHS proves", () => {
  it.each([
    [2, 0.82],
    [2, 0.92],
  ])("seed %i at load %f costs at most 1.02 of it and leaves over as few", async (n, load) => {
    const { visits, seats } = instance({ seed: n, load });
    const problem = problemOf(visits, seats, FIRST_DAY);
    const best = optimum(await loadHighs(), problem);
    const found = daysOf(problem);
    expect(found.cost() / best.cost).toBeLessThanOrEqual(1.02);
    expect(found.cost()).toBeGreaterThanOrEqual(best.cost);
    const bounds = boundsOf(problem);
    expect(found.leftOver()).toBe(bounds.fewestLeftOver);
    expect(bounds.fewestLeftOver).toBeLessThanOrEqual(best.leftOver);
    expect(bounds.leastCost).toBeLessThanOrEqual(best.cost);
    isValid(problem, propose(problem));
  });
  it("holds every visit that has a seat when there is room, with nobody in two places and what waits behind what it waits for", () => {
    const { visits, seats } = instance({ seed: 4, load: 0.6, waiting: 0.4 });
    const problem = problemOf(visits, seats, FIRST_DAY);
    const proposal = propose(problem);
    isValid(problem, proposal);
    expect(visits.filter((v) => v.after.length > 0).length).toBeGreaterThan(100);
    expect(proposal.leftOver.length).toBeLessThanOrEqual(proposal.bounds.fewestLeftOver + 2);
  });
  it("is the same every time, tells how far it is, and can be ended with a valid proposal in hand", () => {
    const { visits, seats } = instance({ seed: 3, load: 0.92, patients: 120 });
    const problem = problemOf(visits, seats, FIRST_DAY);
    const costs: number[] = [];
    const whole = propose(problem, { onProgress: ({ cost }) => costs.push(cost) });
    expect(costs.length).toBeGreaterThan(1);
    expect(costs).toEqual(costs.toSorted((a, b) => b - a));
    expect(propose(problem).timed).toEqual(whole.timed);
    const ended = propose(problem, { isCancelled: () => true });
    expect([ended.cancelled, whole.cancelled]).toEqual([true, false]);
    isValid(problem, ended);
  });
});

describe("what two visits of one patient share", () => {
  const visit = (id: string, role: string, more: Partial<VisitToArrange> = {}): VisitToArrange => ({
    ...{ id, patient: "kim", clinic: "harbour", role, parts: [], unavailable: [], after: [] },
    due: { earliest: days[0]!, ideal: days[1]!, latest: days[3]! },
    ...more,
  });
  const seat = (role: string, day: string, clock = "09:00"): Seat => ({
    ...{ clinic: "harbour", role, staff: "a", day, slots: [] },
    ...{ start: `${day}T${clock}:00Z`, end: `${day}T${clock.slice(0, 3)}30:00Z` },
  });
  it("a window: both go on one day, even if one of them would have a better day alone", () => {
    const seats = [seat("hand clinic", days[1]!), seat("hand clinic", days[2]!), seat("x-ray", days[2]!, "10:00")];
    const { timed } = propose(problemOf([visit("a", "hand clinic"), visit("b", "x-ray")], seats, days[0]!));
    expect(timed.map((t) => t.seat.day)).toEqual([days[2], days[2]]);
  });
  it("an hour: one of them takes another day rather than being lost", () => {
    const seats = [seat("hand clinic", days[1]!), seat("x-ray", days[1]!), seat("x-ray", days[3]!)];
    const { timed, leftOver } = propose(problemOf([visit("a", "hand clinic"), visit("b", "x-ray")], seats, days[0]!));
    expect(leftOver).toEqual([]);
    expect(timed.map((t) => t.seat.day)).toEqual([days[1], days[3]]);
  });
  it("an order: the film comes first on the same day, and nothing is booked without what it waits for", () => {
    const film = visit("film", "x-ray");
    const look = visit("look", "hand clinic", { after: ["film"] });
    const seats = [
      seat("hand clinic", days[1]!, "09:00"),
      seat("hand clinic", days[1]!, "11:00"),
      seat("x-ray", days[1]!, "10:00"),
    ];
    const { timed } = propose(problemOf([look, film], seats, days[0]!));
    expect(timed.map((t) => [t.visit.id, t.seat.start.slice(11, 16)])).toEqual([
      ["look", "11:00"],
      ["film", "10:00"],
    ]);
    const noFilm = propose(problemOf([look, film], seats.slice(0, 2), days[0]!));
    expect(noFilm.leftOver).toEqual(["look", "film"]);
    expect(propose(problemOf([look], seats, days[0]!)).leftOver).toEqual(["look"]);
  });
  it("hours when the patient cannot come", () => {
    const mornings = [{ from: days[0]!, to: days[3]!, hours: { from: "08:00", to: "12:00" } }];
    const seats = [seat("hand clinic", days[1]!, "09:00"), seat("hand clinic", days[2]!, "14:00")];
    const { timed } = propose(problemOf([visit("a", "hand clinic", { unavailable: mornings })], seats, days[0]!));
    expect(timed[0]!.seat.start).toContain("T14:00");
  });
  it("a visit whose window is over is proposed for the first free day and marked as overdue", () => {
    const late = visit("late", "hand clinic", {
      due: { earliest: "2026-02-02", ideal: "2026-02-03", latest: "2026-02-04" },
    });
    const problem = problemOf([late], [seat("hand clinic", days[2]!), seat("hand clinic", days[1]!)], days[0]!);
    expect(problem.visits[0]!.overdue).toBe(true);
    expect(propose(problem).timed[0]!.seat.day).toBe(days[1]);
  });
});

describe("the day-plans of one patient", () => {
  it("are ranked as by trying all, with the fewest trips first where the days are equally good", () => {
    fc.assert(
      fc.property(seed, fc.boolean(), (n, waits) => {
        const { visits, seats } = small(n, waits);
        const problem = problemOf(visits, seats, days[0]!);
        const own = problem.patients[0]!.filter((v) => problem.visits[v]!.days.length > 0);
        const ranked = rankedPlans(problem, own, () => true, 1000);
        expect(ranked.map((p) => p.cost)).toEqual(ranked.map((p) => p.cost).sort((a, b) => a - b));
        expect(ranked.map((p) => p.cost)).toEqual(allPlans(problem, own));
        expect(rankedPlans(problem, own, () => true, 3).map((p) => p.cost)).toEqual(allPlans(problem, own).slice(0, 3));
      }),
      { numRuns: 200 },
    );
  });
});
function allPlans(problem: Problem, own: readonly number[]): number[] {
  const costs: number[] = [];
  const chosen: number[] = [];
  const choose = (i: number) => {
    if (i < own.length) {
      for (const day of problem.visits[own[i]!]!.days) {
        chosen[i] = day;
        choose(i + 1);
      }
      return;
    }
    const ordered = own.every((v, k) =>
      problem.visits[v]!.before.every((b) => !own.includes(b) || chosen[own.indexOf(b)]! <= chosen[k]!),
    );
    const off = own.reduce((sum, v, k) => {
      const target = problem.visits[v]!.visit.due.ideal;
      return sum + Math.abs(workingDayOf(problem.days[chosen[k]!]!) - workingDayOf(target));
    }, 0);
    if (ordered) costs.push(off + new Set(chosen.slice(0, own.length)).size * COST.trip);
  };
  choose(0);
  return costs.sort((a, b) => a - b);
}

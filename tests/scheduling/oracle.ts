/** The proven optimum of a list, by integer programming with a library of its own (HiGHS): the oracle of the tests, never shipped. */
import type { Highs } from "highs";
import { COST, type Problem } from "../../src/scheduling/index.ts";

export interface Optimum {
  readonly cost: number;
  readonly leftOver: number;
}
/**
 * @param leftOverCost price of a visit without a day; a very high one gives the fewest that can be left over
 * @throws Error when the library did not prove its answer
 */
export function optimum(highs: Highs, problem: Problem, leftOverCost: number = COST.leftOver): Optimum {
  const { visits, capacity, days } = problem;
  const x = (v: number, d: number) => `x${v}_${d}`;
  const y = (p: number, d: number) => `y${p}_${d}`;
  const goal: string[] = [];
  const rows: string[] = [];
  const trips = new Set<string>();
  const names: string[] = [];
  const seats = new Map<string, string[]>();
  const sharing = new Map<string, number>();
  for (const { patient, days: may } of visits)
    for (const d of may) sharing.set(y(patient, d), (sharing.get(y(patient, d)) ?? 0) + 1);
  visits.forEach((visit, v) => {
    const own = visit.days.map((d) => x(v, d));
    names.push(...own);
    visit.days.forEach((d, j) => {
      // A day that no other visit of the patient can lie on is a trip of its own.
      const trip = y(visit.patient, d);
      const alone = sharing.get(trip) === 1;
      goal.push(`+ ${visit.off[j]! + (alone ? COST.trip : 0) - leftOverCost} ${own[j]}`);
      if (!alone) {
        trips.add(trip);
        rows.push(`${own[j]} - ${trip} <= 0`);
      }
      const key = `${visit.place} ${d}`;
      seats.set(key, [...(seats.get(key) ?? []), own[j]!]);
    });
    if (own.length > 0) rows.push(`${own.join(" + ")} <= 1`);
    for (const b of visit.before)
      for (let d = 0; d < days.length; d++) {
        const mine = visit.days.filter((e) => e <= d).map((e) => x(v, e));
        const first = visits[b]!.days.filter((e) => e <= d).map((e) => x(b, e));
        if (mine.length > 0) rows.push(`${mine.join(" + ")}${first.map((f) => ` - ${f}`).join("")} <= 0`);
      }
  });
  for (const [key, own] of seats) {
    const [place, d] = key.split(" ").map(Number) as [number, number];
    rows.push(`${own.join(" + ")} <= ${capacity[place]![d]}`);
  }
  const all = [...names, ...trips];
  if (all.length === 0) return { cost: visits.length * leftOverCost, leftOver: visits.length };
  const text = [
    "Minimize",
    ` obj: ${goal.join("\n ")}`,
    ...[...trips].map((trip) => ` + ${COST.trip} ${trip}`),
    "Subject To",
    ...rows.map((row, i) => ` c${i}: ${row}`),
    "Binary",
    ...all.map((name) => ` ${name}`),
    "End",
  ].join("\n");
  // All costs are whole numbers: an answer within 0.99 of the bound is the best one.
  const solved = highs.solve(text, { mip_rel_gap: 0, mip_abs_gap: 0.99 });
  if (solved.Status !== "Optimal") throw new Error(`not proven: ${solved.Status}`);
  const placed = names.filter((name) => solved.Columns[name]!.Primal > 0.5).length;
  return { cost: Math.round(solved.ObjectiveValue + visits.length * leftOverCost), leftOver: visits.length - placed };
}

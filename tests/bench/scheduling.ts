/** Days for 500 patients beside the optimum that HiGHS proves, five lists at three loads, with a plain greedy clerk beside it. */
import loadHighs from "highs";
import {
  boundsOf,
  COST,
  type Problem,
  problemOf,
  propose,
  rankedPlans,
  searchDays,
} from "../../src/scheduling/index.ts";
import { optimum } from "../scheduling/oracle.ts";
import { FIRST_DAY, instance } from "../scheduling/reference-instances.ts";
import { type Measured, median } from "./report.ts";

const SEEDS = [1, 2, 3, 4, 5];
const LOADS = [0.82, 0.92, 1];
const WARM_UP = 3;
const TIMES = 5;

export async function measureScheduling(): Promise<Measured[]> {
  const lists = LOADS.flatMap((load) =>
    SEEDS.map((seed) => {
      const { visits, seats } = instance({ seed, load });
      return { name: `seed ${seed}, load ${load}`, visits, seats, problem: problemOf(visits, seats, FIRST_DAY) };
    }),
  );
  for (let i = 0; i < WARM_UP; i++) for (const { problem } of lists.slice(0, 5)) days(problem);
  const measured: Measured[] = [];
  for (const { name, visits, seats, problem } of lists) {
    const times = Array.from({ length: TIMES }, () => cpu(() => days(problemOf(visits, seats, FIRST_DAY))));
    const found = days(problem);
    const bounds = boundsOf(problem);
    // A fresh library each time: its memory is not given back.
    const best = optimum(await loadHighs(), problem);
    const whole = propose(problem);
    measured.push(
      {
        name: `${name}: cost above the proven optimum`,
        value: above(found.cost(), best.cost),
        unit: "%",
        target: { atMost: 2 },
      },
      { name: `${name}: a greedy clerk above the proven optimum`, value: above(greedy(problem), best.cost), unit: "%" },
      {
        name: `${name}: left over beyond the exact minimum`,
        value: found.leftOver() - bounds.fewestLeftOver,
        unit: `visits of ${visits.length}`,
        target: { atMost: 0 },
      },
      {
        name: `${name}: lost when days become clock times`,
        value: whole.leftOver.length - found.leftOver(),
        unit: "visits",
        target: { atMost: 0 },
      },
      {
        name: `${name}: processor time, median of ${TIMES}`,
        value: median(times),
        unit: "ms",
        target: { atMost: 100 },
      },
    );
  }
  return [...measured, ...onePatient(lists[0]!.problem)];
}
const above = (cost: number, best: number) => (cost / best - 1) * 100;
function days(problem: Problem) {
  const search = searchDays(problem);
  for (let step = search.next(); ; step = search.next()) if (step.done) return step.value;
}
function cpu(work: () => unknown): number {
  const before = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1000;
}
/** A clerk who takes the visits by their last day and gives each the day that is best for it alone. */
function greedy({ visits, capacity, days: all }: Problem): number {
  const left = capacity.map((seats) => seats.slice());
  const trips = new Set<string>();
  let cost = 0;
  const order = visits.map((_, v) => v).sort((a, b) => (visits[a]!.days.at(-1) ?? 0) - (visits[b]!.days.at(-1) ?? 0));
  for (const v of order) {
    const { days: may, off, place, patient } = visits[v]!;
    let best = -1;
    may.forEach((day, j) => {
      if (left[place]![day]! > 0 && (best < 0 || off[j]! < off[best]!)) best = j;
    });
    if (best < 0) {
      cost += COST.leftOver;
      continue;
    }
    const day = may[best]!;
    left[place]![day]!--;
    cost += off[best]!;
    trips.add(`${patient} ${all[day]}`);
  }
  return cost + trips.size * COST.trip;
}
function onePatient(problem: Problem): Measured[] {
  const rank = () => {
    for (const own of problem.patients)
      rankedPlans(
        problem,
        own.filter((v) => problem.visits[v]!.days.length > 0),
        () => true,
        20,
      );
  };
  rank();
  const each = cpu(rank) / problem.patients.length;
  return [{ name: "20 best day-plans of one patient, mean of 500", value: each, unit: "ms", target: { atMost: 1 } }];
}

/** Every fault at the requests that read a chart: nothing invented, nothing missing in silence, everything there at the next try. */
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CHART_PARTS, type Chart, type ChartPartName, chartFrom, type PartResult } from "../../src/fhir/chart.ts";
import { FAULTS, type Fault, strikes } from "./faults.ts";
import { openWard, type Session, type Ward, type Window } from "./ward.ts";

type Parts = Partial<Record<ChartPartName, PartResult>>;

let ward: Ward;
let window: Window;
beforeAll(async () => {
  ward = await openWard();
  window = await ward.launch();
});
afterAll(() => ward?.close());

const chartOf = ({ context }: Session, parts: Parts): Chart =>
  chartFrom(parts, {
    patientId: context.patientId,
    today: new Date().toISOString().slice(0, 10),
    base: context.base,
    ...(context.encounterId ? { encounterId: context.encounterId } : {}),
  });
/** What a clinician gets to see of the chart itself. */
const content = ({ problems: _, parts: __, ...rest }: Chart) => JSON.stringify(rest);
/** Everything the chart says of itself: parts that are not whole, what was left out, what stops. */
const spoken = ({ parts, problems, patient }: Chart): Set<string> =>
  new Set([
    ...Object.entries(parts)
      .filter(([, { state, more, note }]) => !["found", "empty"].includes(state) || more || note)
      .map(([part, { state, note }]) => `${part} ${state} ${note}`),
    ...problems.map(({ say }) => say),
    ...(patient?.stop ? [patient.stop] : []),
  ]);

/** An index that has nothing, and a name that is another one from the start, cannot be told from the truth. */
const UNTELLABLE = ["nothing found, although it is there", "the name is another one"];

interface Run {
  readonly step: string;
  readonly fault: Fault;
  readonly times: "once" | "until the reader gives up";
}
/** Each fault at each request, once and until the reader gives up. */
function runsOf(steps: readonly string[]): Run[] {
  const ways = ["once", "until the reader gives up"] as const;
  return FAULTS.filter(({ name }) => !UNTELLABLE.includes(name)).flatMap((fault) =>
    steps.filter((step) => strikes(fault.at, step)).flatMap((step) => ways.map((times) => ({ step, fault, times }))),
  );
}

describe("R4 R12 REL-10 REL-25 every fault at the requests that read a chart", () => {
  const count = {
    runs: 0,
    invented: [] as string[],
    silent: [] as string[],
    lost: [] as string[],
    states: {} as Record<string, number>,
  };
  beforeAll(async () => {
    const steps: string[] = [];
    ward.proxy.bend = ({ step }) => {
      steps.push(step);
      return undefined;
    };
    const cleanParts = await window.read.readChart(window.session, () => {});
    const clean = chartOf(window.session, cleanParts);
    const all = Object.values(cleanParts).flatMap((part) => part.resources) as { resourceType: string; id: string }[];
    const references = new Set(all.map(({ resourceType, id }) => `${resourceType}/${id}`));
    const [whole, remarks] = [content(clean), spoken(clean)];
    for (const run of runsOf([...new Set(steps)])) {
      count.runs++;
      const name = `${run.fault.name}, ${run.times}, at ${run.step}`;
      let struck = 0;
      ward.proxy.bend = ({ step }) => {
        if (step.startsWith("POST token")) return struck > 0 ? run.fault.renewal : undefined;
        if (step !== run.step || (run.times === "once" && struck > 0)) return undefined;
        struck++;
        return run.fault.bend;
      };
      const parts = await window.read.readChart(window.session, () => {});
      ward.proxy.bend = () => undefined;
      const chart = chartOf(window.session, parts);
      for (const part of CHART_PARTS) {
        const state = parts[part]?.state ?? "missing";
        count.states[state] = (count.states[state] ?? 0) + 1;
      }
      for (const { reference } of chart.used)
        if (!references.has(reference)) count.invented.push(`${name}: ${reference}`);
      if (content(chart) !== whole && [...spoken(chart)].every((one) => remarks.has(one))) count.silent.push(name);

      if (window.session.state().kind !== "open" || !window.session.can("CarePlan", "c")) window = await ward.launch();
      const again = CHART_PARTS.filter((part) => {
        const { state, more, note } = parts[part] ?? { state: "failed", more: false };
        return !["found", "empty"].includes(state) || more || note || run.fault.at !== "any";
      });
      const mended = { ...parts, ...(await window.read.readChart(window.session, () => {}, { only: again })) };
      if (content(chartOf(window.session, mended)) !== whole) count.lost.push(name);
    }
    const { runs, invented, silent, lost, states } = count;
    console.log(
      `read a chart: ${runs} combinations (parts: ${Object.entries(states)
        .map(([state, n]) => `${n} ${state}`)
        .join(", ")}); ` + `${invented.length} invented, ${silent.length} missing in silence, ${lost.length} lost`,
    );
  }, 600_000);

  it("is a matrix of hundreds, in which parts are refused, fail and lack", () => {
    expect(count.runs).toBeGreaterThan(300);
    expect(Object.keys(count.states)).toEqual(expect.arrayContaining(["found", "refused", "unsupported", "failed"]));
    expect(count.states.missing).toBeUndefined();
  });
  it("INV-3 REL-18 shows and uses nothing that is not in the chart", () => expect(count.invented).toEqual([]));
  it("leaves nothing out without saying so: what could not be read is never 'none known'", () =>
    expect(count.silent).toEqual([]));
  it("INV-1 gives the whole chart when the parts in question are read again", () => expect(count.lost).toEqual([]));
});

import type { ChartPartName, PartResult } from "../fhir/chart.ts";
import { readChart } from "../smart/read-chart.ts";
import type { Session } from "../smart/session.ts";

export type Parts = { readonly [part in ChartPartName]?: PartResult };
/** The parts of the chart that have arrived so far; read once for the session, whatever the screens do. */
export interface ChartReading {
  parts(): Parts;
  onPart(listener: () => void): () => void;
  /** Reads failed parts once more. */
  again(only: ChartPartName[]): void;
}

export function readingOf(session: Session): ChartReading {
  let parts: Parts = {};
  const listeners = new Set<() => void>();
  const take = (part: ChartPartName, result: PartResult) => {
    parts = { ...parts, [part]: result };
    for (const listener of listeners) listener();
  };
  const read = (only?: ChartPartName[]) => {
    // The problems of single parts arrive with the parts; a failure of the whole leaves them as they are.
    void readChart(session, take, only ? { only } : {}).catch(() => undefined);
  };
  read();
  return {
    parts: () => parts,
    onPart: (listener) => {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    again: (only) => {
      for (const part of only) take(part, { state: "reading", resources: [], more: false });
      read(only);
    },
  };
}

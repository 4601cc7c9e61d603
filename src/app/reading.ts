import type { ChartPartName, PartResult } from "../fhir/chart.ts";
import { type Parts, readChart } from "../smart/read-chart.ts";
import type { Session } from "../smart/session.ts";

/** The parts of the chart that have arrived so far; read once for the session, whatever the screens do. */
export interface ChartReading {
  parts(): Parts;
  onPart(listener: () => void): () => void;
  /** Reads failed parts once more. */
  again(only: ChartPartName[]): void;
  /** Puts parts that were read elsewhere in the place of those here. */
  adopt(fresh: Parts): void;
}

export function readingOf(session: Session): ChartReading {
  let parts: Parts = {};
  const listeners = new Set<() => void>();
  const adopt = (fresh: Parts) => {
    parts = { ...parts, ...fresh };
    for (const listener of listeners) listener();
  };
  const take = (part: ChartPartName, result: PartResult) => adopt({ [part]: result });
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
    adopt,
    again: (only) => {
      for (const part of only) take(part, { state: "reading", resources: [], more: false });
      read(only);
    },
  };
}

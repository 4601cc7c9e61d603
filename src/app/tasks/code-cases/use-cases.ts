import { useCallback, useEffect, useState } from "react";
import type { CodingCase } from "../../../fhir/coding-case.ts";
import { type CaseFilter, type CodingDay, readCases } from "../../../smart/coding-list.ts";
import type { Problem } from "../../../smart/problem.ts";
import type { ClinicSession } from "../../../smart/session.ts";

interface Pages {
  readonly cases: readonly CodingCase[];
  readonly next?: string | undefined;
  readonly total?: number | undefined;
  readonly ended: number;
  readonly problems: readonly string[];
  readonly failed?: Problem | undefined;
}
export interface Cases extends Pages {
  readonly reading: boolean;
  more(): void;
  again(): void;
  /** A record as it stands after something was done to it. */
  replace(now: CodingCase): void;
}
const NONE: Pages = { cases: [], ended: 0, problems: [] };

/** The signed records of these days, page by page. A list that was asked for and is not wanted any more is dropped. */
export function useCases(session: ClinicSession, day: CodingDay, filter: CaseFilter): Cases {
  const [pages, setPages] = useState<Pages>(NONE);
  const [reading, setReading] = useState(true);
  const [turn, setTurn] = useState(0);
  const read = useCallback(
    async (next: string | undefined, signal?: AbortSignal) => {
      setReading(true);
      const answer = await readCases(session, day, {
        filter,
        ...(next ? { next } : {}),
        ...(signal ? { signal } : {}),
      });
      if (signal?.aborted) return;
      setReading(false);
      setPages((before) => {
        const start = next ? before : NONE;
        if (!answer.ok) return { ...start, next, failed: answer.problem };
        const { cases, ended, problems, next: more, total } = answer.value;
        const known = new Set(start.cases.map((c) => c.record.reference));
        return {
          cases: [...start.cases, ...cases.filter((c) => !known.has(c.record.reference))],
          ended: start.ended + ended,
          problems: [...new Set([...start.problems, ...problems])],
          next: more,
          total: total ?? start.total,
        };
      });
    },
    [session, day, filter],
  );
  // biome-ignore lint/correctness/useExhaustiveDependencies: `turn` asks for the same list again
  useEffect(() => {
    const stop = new AbortController();
    void read(undefined, stop.signal);
    return () => stop.abort();
  }, [read, turn]);
  return {
    ...pages,
    reading,
    more: () => void read(pages.next),
    again: () => setTurn((n) => n + 1),
    replace: (now) =>
      setPages((before) => ({
        ...before,
        cases: before.cases.map((c) => (c.record.reference === now.record.reference ? now : c)),
      })),
  };
}

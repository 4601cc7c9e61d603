import { startTransition, useEffect, useState } from "react";
import type { AskedInjury, InjuryModule } from "../pathway/asked.ts";
import type { Pathway } from "../pathway/index.ts";
import type { Problem } from "../smart/problem.ts";
import { UNREADABLE } from "./site-policy-file.ts";

type RulesRoom = typeof import("./rules-room.ts");
type ChartRoom = typeof import("./chart-room.ts");
type WatchRoom = typeof import("./watch/watch-room.tsx");
export type RestOfForm = typeof import("./rest-of-form.ts");

/** Lets the browser draw and take keys between two pieces of work. */
const breath = () => new Promise<void>((on) => setTimeout(on));

const BLANK = { assessedAt: "2026-01-01T00:00", patient: {}, injury: {}, digits: [{}] };
/** Milliseconds of work between two breaths: short of what a key would notice. */
const A_WHILE = 10;
async function slowly<T>(steps: Generator<void, T>): Promise<T> {
  let since = performance.now();
  for (;;) {
    const step = steps.next();
    if (step.done) return step.value;
    if (performance.now() - since < A_WHILE) continue;
    await breath();
    since = performance.now();
  }
}

/** What has arrived of a part that is asked for once the first questions are on the screen; a part that cannot be loaded is a fault. */
function useLate<T>(load: () => Promise<T>): T | undefined {
  const [late, setLate] = useState<{ readonly part: T } | { readonly fault: unknown }>();
  // biome-ignore lint/correctness/useExhaustiveDependencies: asked for once, whatever is drawn how often
  useEffect(() => {
    load().then(
      (part) => startTransition(() => setLate({ part })),
      (fault: unknown) => setLate({ fault }),
    );
  }, []);
  if (late && "fault" in late) throw late.fault;
  return late?.part;
}

/** The other kinds of fields, once they are there. */
export const useRestOfForm = (): RestOfForm | undefined => useLate(() => import("./rest-of-form.ts"));
/** The readers of the chart, once they are there. */
export const useChartRoom = (): ChartRoom | undefined => useLate(() => import("./chart-room.ts"));

/** What looks after the page itself, once it is there. */
export const useWatchRoom = (): WatchRoom | undefined => useLate(() => import("./watch/watch-room.tsx"));

export type Rules =
  | { readonly ok: true; readonly room: RulesRoom; readonly pathway: Pathway }
  | { readonly ok: false; readonly problem: Problem };

/**
 * The rules under this site's policy, once both are there. A policy that cannot be used is a problem: no rule runs with
 * guessed values. Reading, compiling and drawing are told apart, so that none of them holds up a key for long.
 */
export const useRules = (asked: AskedInjury | InjuryModule, policy: Promise<unknown>): Rules | undefined =>
  useLate(async (): Promise<Rules> => {
    const [room, json] = await Promise.all([import("./rules-room.ts"), policy]);
    if (json === UNREADABLE) return unusable("The file could not be read.");
    await breath();
    const read = room.readSitePolicy(json);
    if (!read.ok)
      return unusable(read.problems.map((p) => `${p.path}: ${p.problem}. Allowed: ${p.allowed}`).join("\n"));
    const module = "tables" in asked ? asked : room.MODULES.find((m) => m.id === asked.id)!;
    await breath();
    const pathway = await slowly(room.preparing(module, read.policy));
    await slowly(room.makingReady(pathway));
    await breath();
    // The blank case first: what runs for the first time runs slowly, and must not do so while the screen is drawn.
    room.assessCase(pathway, BLANK);
    await breath();
    return { ok: true, room, pathway };
  });

const unusable = (what: string): Rules => ({
  ok: false,
  problem: {
    kind: "site-policy",
    title: "The site policy cannot be used.",
    what: `No rule runs with a half-read policy.\n${what}`,
    next: "Ask the person who installed Fingerpost to correct the site policy file. Reload this page afterwards.",
  },
});

import type { Pathway } from "./assess.ts";
import { firstOpen } from "./possible.ts";
import type { Facts } from "./reasoning/program.ts";

export interface OpenFindings {
  /** Not yet asked, and an answer can still change something; natural clinical order. */
  readonly ask: readonly string[];
  /** Answered "cannot tell", and still mattering. */
  readonly cannotTell: readonly string[];
}

/** Parts the open findings into questions and tasks: what nobody could tell is not asked again. */
export function openFindings(open: readonly string[], facts: Facts): OpenFindings {
  const ask: string[] = [];
  const cannotTell: string[] = [];
  for (const finding of open) (facts[finding] === "cannot-tell" ? cannotTell : ask).push(finding);
  return { ask, cannotTell };
}

/**
 * The question to put next: of those whose answer can still change what is said, red flags before all else, then the natural clinical order.
 * A fixed order that skips what cannot matter needs hardly more questions than the best order, and is one that clinicians expect.
 *
 * @returns a finding id; undefined when no answer can change anything any more
 */
export function askNext(pathway: Pathway, facts: Facts): string | undefined {
  return firstOpen(pathway, facts);
}

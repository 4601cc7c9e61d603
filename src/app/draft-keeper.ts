import * as z from "zod/mini";
import type { CaseState } from "./case-state.ts";

/**
 * Whose draft it is: a draft of another patient, another server or another person is never shown. Where nobody is known to be
 * signed in, only the same launch counts as the same person.
 */
export interface DraftOwner {
  readonly base: string;
  readonly patientId: string;
  /** "Practitioner/12", as the record system said. */
  readonly user: string | undefined;
  readonly launchId: string;
}
const MOST_DIGITS = 10;
const answers = z.record(z.string(), z.union([z.string(), z.number()]));
const dates = z.record(z.string(), z.string());
const decision = z.object({
  rule: z.string(),
  proposed: z.string(),
  decided: z.string(),
  reason: z.string(),
  choice: z.optional(z.string()),
});
const keptDraft = z.object({
  whose: z.string(),
  state: z.object({
    planId: z.string(),
    assessedAt: z.string(),
    dates,
    patient: answers,
    injury: answers,
    digits: z.array(answers).check(z.minLength(1), z.maxLength(MOST_DIGITS)),
    active: z.number(),
    decisions: z.record(z.string(), decision),
    removed: z.record(z.string(), z.string()),
    edits: z.array(z.object({ item: z.string(), field: z.string(), value: z.string() })),
  }),
});

/** Chart and person; ends with the person, and no part of it has a space. */
export const whose = ({ base, patientId, user, launchId }: DraftOwner) => `${base} ${patientId} ${user ?? launchId}`;
export const SLOTS = "fingerpost.draft.";
/** A short name for the storage slot, so that neither server nor ids stand in a key. Not a secret, only a label. */
export function slot(owner: DraftOwner): string {
  let hash = 0x811c9dc5; // FNV-1a
  for (const char of whose(owner)) hash = Math.imul(hash ^ char.codePointAt(0)!, 0x01000193);
  return SLOTS + (hash >>> 0).toString(36);
}

/** Keeps the draft for this tab only. A frame that blocks storage loses nothing but the survival of a reload. */
export function keepDraft(owner: DraftOwner, state: CaseState): void {
  try {
    window.sessionStorage.setItem(slot(owner), JSON.stringify({ whose: whose(owner), state }));
  } catch {
    // Storage may be blocked in a frame, or full: the draft stays in memory.
  }
}
export function dropDraft(owner: DraftOwner): void {
  try {
    window.sessionStorage.removeItem(slot(owner));
  } catch {
    // as above
  }
}
/** The draft of exactly this person for this patient on this server, if this tab holds a readable one. */
export function keptDraftOf(owner: DraftOwner): CaseState | undefined {
  try {
    const text = window.sessionStorage.getItem(slot(owner));
    if (text === null) return undefined;
    const kept = keptDraft.safeParse(JSON.parse(text));
    return kept.success && kept.data.whose === whose(owner) ? (kept.data.state as CaseState) : undefined;
  } catch {
    return undefined;
  }
}

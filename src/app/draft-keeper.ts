import * as z from "zod/mini";
import type { CaseState } from "./case-state.ts";

/** Whose draft it is: a draft of another patient or another server is never shown. */
export interface DraftOwner {
  readonly base: string;
  readonly patientId: string;
}
const MOST_DIGITS = 10;
const answers = z.record(z.string(), z.union([z.string(), z.number()]));
const dates = z.object({
  birthDate: z.optional(z.string()),
  injuredAt: z.optional(z.string()),
  operatedOn: z.optional(z.string()),
  lastTetanusDoseOn: z.optional(z.string()),
});
const decision = z.object({
  rule: z.string(),
  proposed: z.string(),
  decided: z.string(),
  reason: z.string(),
  choice: z.optional(z.string()),
});
const keptDraft = z.object({
  base: z.string(),
  patientId: z.string(),
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

/** A short name for the storage slot, so that neither server nor patient id stands in a key. Not a secret, only a label. */
function slot({ base, patientId }: DraftOwner): string {
  let hash = 0x811c9dc5; // FNV-1a
  for (const char of `${base}|${patientId}`) hash = Math.imul(hash ^ char.codePointAt(0)!, 0x01000193);
  return `fingerpost.draft.${(hash >>> 0).toString(36)}`;
}

/** Keeps the draft for this tab only. A frame that blocks storage loses nothing but the survival of a reload. */
export function keepDraft(owner: DraftOwner, state: CaseState): void {
  try {
    window.sessionStorage.setItem(slot(owner), JSON.stringify({ ...owner, state }));
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
/** The draft of exactly this patient on this server, if this tab holds a readable one. */
export function keptDraftOf(owner: DraftOwner): CaseState | undefined {
  try {
    const text = window.sessionStorage.getItem(slot(owner));
    if (text === null) return undefined;
    const kept = keptDraft.safeParse(JSON.parse(text));
    if (!kept.success || kept.data.base !== owner.base || kept.data.patientId !== owner.patientId) return undefined;
    return kept.data.state as CaseState;
  } catch {
    return undefined;
  }
}

/**
 * What was begun and how far it came, for a plan that is written one item at a time. It survives a reload and a new launch in the
 * same tab, and holds nothing of the patient: the plan's own id, keys of its items, where they are stored, the act and its time.
 */
import * as z from "zod/mini";
import { tabStorage } from "./handshake.ts";
import type { PatientContext } from "./session.ts";

const entry = z.object({
  key: z.string(),
  /** "CarePlan/12"; absent: not stored yet. */
  reference: z.optional(z.string()),
  version: z.optional(z.string()),
});
const journal = z.object({
  planId: z.string(),
  act: z.enum(["draft", "sign"]),
  /** Instant of the act. */
  at: z.string(),
  items: z.array(entry).check(z.maxLength(500)),
});
export type Journal = z.output<typeof journal>;
export type JournalEntry = z.output<typeof entry>;

type Owner = Pick<PatientContext, "base" | "patientId">;
/** A short name for the slot, so that neither server nor patient stands in it. Not a secret, only a label. */
function slot({ base, patientId }: Owner): string {
  let hash = 0x811c9dc5; // FNV-1a
  for (const char of `unfinished|${base}|${patientId}`) hash = Math.imul(hash ^ char.codePointAt(0)!, 0x01000193);
  return `fingerpost.unfinished.${(hash >>> 0).toString(36)}`;
}

/** The plan of this patient that this tab began to write and did not finish. */
export function unfinishedHere(owner: Owner): Journal | undefined {
  const read = journal.safeParse(tabStorage.get(slot(owner)));
  return read.success ? read.data : undefined;
}
/** Keeps the journal. A browser that blocks storage loses only this: what is stored is also found in the record itself. */
export function keepJournal(owner: Owner, kept: Journal): void {
  try {
    tabStorage.set(slot(owner), kept);
  } catch {
    // Blocked or full.
  }
}
/** The plan is whole, or nothing of it is stored: there is nothing to take up again. */
export function closeJournal(owner: Owner): void {
  try {
    tabStorage.unset(slot(owner));
  } catch {
    // Blocked.
  }
}

import * as z from "zod/mini";
import { type DraftOwner, SLOTS, slot, whose } from "../draft-keeper.ts";

const kept = z.object({ whose: z.string() });

/** Whether this tab holds a draft of somebody else for the same patient. It is never opened here, only told of. */
export function holdsOthersDraft(owner: DraftOwner): boolean {
  try {
    const { sessionStorage } = window;
    return Object.keys(sessionStorage).some((key) => {
      if (!key.startsWith(SLOTS) || key === slot(owner)) return false;
      const read = kept.safeParse(JSON.parse(sessionStorage.getItem(key) ?? "null"));
      return read.success && read.data.whose.startsWith(whose({ ...owner, user: "" }));
    });
  } catch {
    return false;
  }
}

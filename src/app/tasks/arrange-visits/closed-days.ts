/** Days on which the clinics are closed, such as public holidays, as the site wrote them down; and until when they are known. */
import { type Day, dayWords, readClosedDays } from "../../../scheduling/index.ts";
import type { PluginConfig } from "../../../smart/config.ts";
import { words } from "./words.ts";

export interface ClinicsClosed {
  readonly closed: ReadonlyMap<Day, string>;
  /** The last day for which it is known; undefined: for none. */
  readonly until?: Day;
  /** What the staff must know: that the file is bad, or which days are not known. */
  readonly note?: string;
}
const say = words.closed;

/** Reads the file that `config.json` names. Never rejects: without it visits are arranged, and the screen says what is not known. */
export async function readClosed({ closedDays }: Pick<PluginConfig, "closedDays">): Promise<ClinicsClosed> {
  const nothing = { closed: new Map<Day, string>() };
  if (closedDays === undefined) return { ...nothing, note: say.none };
  try {
    const answer = await fetch(new URL(closedDays, document.baseURI), { credentials: "omit" });
    if (!answer.ok) return { ...nothing, note: say.unreadable(closedDays, "") };
    const read = readClosedDays(await answer.json());
    if (read.ok) return { closed: read.value.closed, until: read.value.to };
    const [first] = read.problems;
    return { ...nothing, note: say.unreadable(closedDays, `${first!.path || "the file"}: ${first!.problem}.`) };
  } catch {
    return { ...nothing, note: say.unreadable(closedDays, "") };
  }
}

/** What to tell whoever arranges visits up to `last`; undefined when all closed days until then are known. */
export const closedNote = ({ note, until }: ClinicsClosed, last: Day): string | undefined =>
  note ?? (until !== undefined && until < last ? say.knownUntil(dayWords(until)) : undefined);

/** Days on which the clinics are closed, such as public holidays, as the site wrote them down; and until when they are known. */
import type { ClinicSchedule } from "../../../fhir/slot.ts";
import { clinicsNotFound, type Day, dayWords, readClosedDays, type SiteClosedDay } from "../../../scheduling/index.ts";
import type { PluginConfig } from "../../../smart/config.ts";
import { words } from "./words.ts";

export interface ClinicsClosed {
  readonly closedDays: readonly SiteClosedDay[];
  /** The last day for which it is known; undefined: for none. */
  readonly until?: Day;
  /** What the staff must know: that there is no file, or a bad one. */
  readonly note?: string;
}
const say = words.closed;

/** Reads the file that `config.json` names. Never rejects: without it visits are arranged, and the screen says what is not known. */
export async function readClosed({ closedDays }: Pick<PluginConfig, "closedDays">): Promise<ClinicsClosed> {
  const nothing = { closedDays: [] };
  if (closedDays === undefined) return { ...nothing, note: say.none };
  try {
    const answer = await fetch(new URL(closedDays, document.baseURI), { credentials: "omit" });
    if (!answer.ok) return { ...nothing, note: say.unreadable(closedDays, "") };
    const read = readClosedDays(await answer.json());
    if (read.ok) return { closedDays: read.value.closedDays, until: read.value.to };
    const [first] = read.problems;
    return { ...nothing, note: say.unreadable(closedDays, `${first!.path || "the file"}: ${first!.problem}.`) };
  } catch {
    return { ...nothing, note: say.unreadable(closedDays, "") };
  }
}

/**
 * What to tell whoever arranges visits up to `last`; undefined when all closed days until then are known.
 *
 * @param schedules undefined: they could not be read, so that nothing is said of names
 */
export function closedNote(
  { note, until, closedDays }: ClinicsClosed,
  last: Day,
  schedules: readonly ClinicSchedule[] | undefined,
): string | undefined {
  if (note !== undefined) return note;
  const unknown = schedules ? clinicsNotFound(closedDays, schedules) : [];
  const parts = [
    ...(unknown.length > 0 ? [say.noSuchClinic(unknown.map((name) => `"${name}"`).join(", "))] : []),
    ...(until !== undefined && until < last ? [say.knownUntil(dayWords(until))] : []),
  ];
  return parts.join(" ") || undefined;
}

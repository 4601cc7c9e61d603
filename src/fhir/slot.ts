/** Times of a clinic: whose they are, which are free. R4 Schedule and Slot to what a scheduler reads. Pure. */
import * as z from "zod/mini";
import { typeOf } from "./chart-resource.ts";
import { localOf } from "./dates.ts";
import { type Held, isInstant, type ListedVisit, short } from "./listed-visit.ts";
import { conceptShape, conceptWords, referenceShape, referenceWords } from "./shapes.ts";

export interface ClinicSchedule {
  /** "Schedule/3" */
  readonly reference: string;
  readonly name: string;
  /** What is offered, in trade words: "hand clinic". */
  readonly services: readonly string[];
  /** Who and what is booked with it. */
  readonly actors: readonly { readonly reference: string; readonly display?: string | undefined }[];
}
/** One time of one schedule. */
export interface ClinicTime extends Held {
  readonly schedule: string;
  /** R4 slotstatus */
  readonly status: string;
  /** Instants as stored. */
  readonly start: string;
  readonly end: string;
  /** Wall clock of the clinic, yyyy-MM-ddTHH:mm. */
  readonly at: string;
  readonly day: string;
  readonly minutes: number;
  /** Times of the same schedule that follow it without a gap and are taken together with it; start, end and minutes count them in. */
  readonly rest?: readonly ClinicTime[];
}
/** A time and those that are taken together with it. */
export const timesOf = (time: ClinicTime): readonly ClinicTime[] => [time, ...(time.rest ?? [])];

const concepts = z.optional(z.array(conceptShape));
const scheduleShape = z.object({
  id: z.string(),
  active: z.optional(z.boolean()),
  serviceType: concepts,
  specialty: concepts,
  actor: z.array(referenceShape),
  comment: z.optional(z.string()),
});
const slotShape = z.object({
  id: z.string(),
  schedule: referenceShape,
  status: z.string(),
  start: z.string().check(z.refine(isInstant, "no time with a zone")),
  end: z.string().check(z.refine(isInstant, "no time with a zone")),
});

/**
 * Schedules in use, by name.
 *
 * @param problems told of those that cannot be read
 */
export function schedulesIn(resources: readonly unknown[], problems: string[] = []): ClinicSchedule[] {
  return resources
    .flatMap((raw): ClinicSchedule[] => {
      if (typeOf(raw) !== "Schedule" || (raw as { active?: unknown }).active === false) return [];
      const read = scheduleShape.safeParse(raw);
      if (!read.success) {
        const { path, message } = read.error.issues[0]!;
        problems.push(`A clinic could not be read (Schedule.${path.join(".")}: ${message}) and is missing here.`);
        return [];
      }
      const { id, serviceType = [], specialty = [], actor, comment } = read.data;
      return [
        {
          reference: `Schedule/${id}`,
          name: comment ?? (actor.flatMap((a) => referenceWords(a) ?? []).join(", ") || `Schedule ${id}`),
          services: [...serviceType, ...specialty].flatMap((c) => conceptWords(c) ?? []),
          actors: actor.flatMap(({ reference, display }) =>
            reference ? [{ reference: short(reference), display }] : [],
          ),
        },
      ];
    })
    .sort((a, b) => a.name.localeCompare(b.name));
}

/** Whether a booked visit is held by a schedule: all that is booked with it takes part. */
export function isAt(visit: { readonly entry: Held }, actors: readonly { readonly reference: string }[]): boolean {
  const text = JSON.stringify((visit.entry.resource as { participant?: unknown }).participant ?? []);
  return actors.length > 0 && actors.every(({ reference }) => text.includes(`${reference}"`));
}

/**
 * Times in order of their start.
 *
 * @param zone IANA time zone of the clinic
 * @param problems told of those that cannot be read: a time without a zone is not given one
 */
export function timesIn(resources: readonly unknown[], zone: string, problems: string[] = []): ClinicTime[] {
  return resources
    .flatMap((raw): ClinicTime[] => {
      if (typeOf(raw) !== "Slot") return [];
      const read = slotShape.safeParse(raw);
      if (!read.success) {
        const { path, message } = read.error.issues[0]!;
        problems.push(
          `A time of the clinic could not be read (Slot.${path.join(".")}: ${message}) and is not offered.`,
        );
        return [];
      }
      const { id, schedule, status, start, end } = read.data;
      const at = localOf(start, zone);
      return [
        {
          reference: `Slot/${id}`,
          version: (raw as { meta?: { versionId?: string } }).meta?.versionId,
          resource: raw as Record<string, unknown>,
          schedule: short(schedule.reference ?? ""),
          status,
          start,
          end,
          at,
          day: at.slice(0, 10),
          minutes: (Date.parse(end) - Date.parse(start)) / 60_000,
        },
      ];
    })
    .sort((a, b) => Date.parse(a.start) - Date.parse(b.start) || a.reference.localeCompare(b.reference));
}

/**
 * The same times for a visit of that length: a free one that is too short is joined with the free ones that follow it in its schedule without
 * a gap. One that cannot be joined far enough is as good as taken for this visit, and is marked so.
 *
 * @param times in the order of their start
 * @param minutes how long the visit lasts; undefined: as long as one time, whichever it is
 */
export function longEnough(times: readonly ClinicTime[], minutes: number | undefined): readonly ClinicTime[] {
  if (minutes === undefined) return times;
  return times.map((time, i) => {
    if (time.status !== "free" || time.minutes >= minutes) return time;
    const run = [time];
    for (const next of times.slice(i + 1)) {
      const from = Date.parse(time.start);
      const end = Date.parse(run.at(-1)!.end);
      if (end - from >= minutes * 60_000 || Date.parse(next.start) > end) break;
      if (next.schedule === time.schedule && next.status === "free" && Date.parse(next.start) === end) run.push(next);
    }
    const { end } = run.at(-1)!;
    const joined = (Date.parse(end) - Date.parse(time.start)) / 60_000;
    return joined < minutes ? { ...time, status: "busy" } : { ...time, end, minutes: joined, rest: run.slice(1) };
  });
}

/** Whether a schedule offers what a visit needs: by the same trade words, whatever their case. A site may say otherwise. */
export const offers = ({ services }: ClinicSchedule, { who }: Pick<ListedVisit, "who">): boolean =>
  services.some((service) => service.toLowerCase() === who.toLowerCase());

/** "before", "after" or "within" the days asked; "unknown" when the visit has none. Counted in calendar days of the clinic. */
export function placeInDays(
  day: string,
  { earliest, latest }: ListedVisit["days"],
): "before" | "within" | "after" | "unknown" {
  if (earliest === undefined && latest === undefined) return "unknown";
  if (earliest !== undefined && day < earliest) return "before";
  return latest !== undefined && day > latest ? "after" : "within";
}

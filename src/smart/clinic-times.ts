/** The times of the clinics: read, and put in order where an act that broke off left one behind. */
import { freed } from "../fhir/clinic-act.ts";
import { short } from "../fhir/listed-visit.ts";
import { type ClinicSchedule, type ClinicTime, schedulesIn, timesIn } from "../fhir/slot.ts";
import { HELD_FOR } from "../fhir/visit-marks.ts";
import { type Answer, type Asking, type ClinicDay, cut, dayAfter, midnight, query } from "./clinic-list.ts";
import type { ClinicSession } from "./session.ts";
import type { FhirAnswer, FhirResource } from "./transport.ts";

/** Times of one search: twelve weeks of one clinic are some hundreds. [common practice, no source] */
const MOST_TIMES = 3000;

/** Schedules of one record system. [common practice, no source] */
const MOST_CLINICS = 500;
/**
 * The clinics' schedules in use.
 *
 * @param problems told of what is missing, in sentences
 */
export async function readSchedules(
  session: Asking,
  problems: string[] = [],
): Promise<Answer<readonly ClinicSchedule[]>> {
  const answer = await session.fhir.search(
    query("Schedule", [
      ["active", "true"],
      ["_count", "100"],
    ]),
    { limit: MOST_CLINICS },
  );
  if (!answer.ok) return answer;
  problems.push(...cut("clinics", answer.value));
  if (answer.value.stoppedBy === "limit")
    problems.push("There are more clinics than are read here: this list is not complete.");
  return { ok: true, value: schedulesIn(answer.value.matches, problems) };
}

/** Times of some schedules from one day to another, both counted; only free ones unless said otherwise. */
export async function readTimes(
  session: Asking,
  { zone }: ClinicDay,
  asked: { schedules: readonly string[]; from: string; to: string; status?: "free" | "any" },
): Promise<Answer<{ readonly times: readonly ClinicTime[]; readonly problems: readonly string[] }>> {
  const { schedules, from, to, status = "free" } = asked;
  const answer = await session.fhir.search(
    query("Slot", [
      ["schedule", schedules.join(",")],
      ["status", status === "free" ? "free" : undefined],
      ["start", `ge${midnight(from, zone)}`],
      ["start", `lt${midnight(dayAfter(to), zone)}`],
      ["_sort", "start"],
      ["_count", "500"],
    ]),
    { limit: MOST_TIMES },
  );
  if (!answer.ok) return answer;
  const problems: string[] = [];
  const times = timesIn(answer.value.matches, zone, problems).filter(
    (time) =>
      time.day >= from &&
      time.day <= to &&
      schedules.includes(time.schedule) &&
      (status === "any" || time.status === "free"),
  );
  const over =
    answer.value.stoppedBy === "limit" ? ["There are more times than are read here: choose fewer days."] : [];
  return { ok: true, value: { times, problems: [...problems, ...cut("times", answer.value), ...over] } };
}

/** A time that this program holds or gave, and that no longer fits its visit. */
export interface LooseTime {
  readonly time: ClinicTime;
  /** "free": no visit stands behind it; "busy": its visit is booked, and it is only held. */
  readonly should: "free" | "busy";
}
/** A hold younger than this may still be on its way to a booking. Minutes. [common practice, no source] */
const ON_ITS_WAY = 5;

/** Times of these days that an act which broke off left behind: held for a visit that did not come, or not given back. */
export async function looseTimes(
  { fhir, clock }: Pick<ClinicSession, "fhir" | "clock">,
  times: readonly ClinicTime[],
): Promise<readonly LooseTime[]> {
  const held = times.flatMap((time) => {
    const { extension = [], meta } = time.resource as {
      extension?: { url?: string; valueReference?: { reference?: string } }[];
      meta?: { lastUpdated?: string };
    };
    const visits = extension.flatMap((e) =>
      e.url === HELD_FOR && e.valueReference?.reference ? [short(e.valueReference.reference)] : [],
    );
    const old = Date.parse(meta?.lastUpdated ?? "") < clock.now().getTime() - ON_ITS_WAY * 60_000;
    const ours = visits.length > 0 && (time.status === "busy-tentative" ? old : time.status === "busy");
    return ours ? [{ time, visits }] : [];
  });
  const found = await Promise.all(
    held.map(async ({ time, visits }): Promise<LooseTime[]> => {
      const answers = await Promise.all(visits.map((visit) => fhir.read(visit)));
      if (answers.some((answer) => !answer.ok && answer.problem.kind !== "not-found")) return [];
      const there = answers.some(
        (answer) =>
          answer.ok &&
          !["cancelled", "noshow", "proposed", "entered-in-error"].includes(String(answer.value.status)) &&
          JSON.stringify(answer.value.slot ?? []).includes(`${time.reference}"`),
      );
      if (there) return time.status === "busy" ? [] : [{ time, should: "busy" }];
      return Date.parse(time.start) > clock.now().getTime() ? [{ time, should: "free" }] : [];
    }),
  );
  return found.flat();
}

/** Puts one such time in order, over the version that was read. */
export async function mendTime(
  session: Asking,
  { time, should }: LooseTime,
): Promise<FhirAnswer<FhirResource | undefined>> {
  const { resource } = freed(time);
  const next = should === "free" ? resource : { ...time.resource, status: "busy" };
  return session.fhir.write(time.reference, JSON.stringify(next), {
    method: "PUT",
    ...(time.version ? { headers: { "if-match": `W/"${time.version}"` } } : {}),
  });
}

/** The time as it stands now: after a conflict, before the next one is offered. */
export async function readTime({ fhir }: Asking, reference: string, zone: string): Promise<ClinicTime | undefined> {
  const answer = await fhir.read(reference);
  return answer.ok ? timesIn([answer.value], zone)[0] : undefined;
}

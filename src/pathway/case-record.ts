import {
  addYears,
  differenceInCalendarDays,
  differenceInDays,
  differenceInMinutes,
  differenceInYears,
  parseISO,
} from "date-fns";
import type { Facts } from "./reasoning/program.ts";

export type Answers = { readonly [finding: string]: string | number };

/**
 * What is known of one case. Dates are the chart's own; the numbers that rules read are derived from them here and only here.
 * An answer given directly (for example "ageYears" with no birth date) wins over a derived one.
 */
export interface CaseRecord {
  /** yyyy-MM-dd. A partial date (yyyy, yyyy-MM) gives no age: the age is then asked. */
  readonly birthDate?: string;
  /** Local date-time or date of the injury: yyyy-MM-ddTHH:mm or yyyy-MM-dd (then the longest possible time is counted). */
  readonly injuredAt?: string;
  /** yyyy-MM-dd of the operation, done or booked: what follows it counts from this day. */
  readonly operatedOn?: string;
  /** Local date-time of the assessment, yyyy-MM-ddTHH:mm: the only "now" the rules know. */
  readonly assessedAt: string;
  /** yyyy-MM-dd of the last documented tetanus dose. */
  readonly lastTetanusDoseOn?: string;
  readonly patient: Answers;
  readonly injury: Answers;
  readonly digits: readonly Answers[];
}

/** All facts of one digit: patient, injury and digit answers with what follows from the dates. */
export function factsOf(record: CaseRecord, digit: number): Facts {
  return { ...derived(record), ...record.patient, ...record.injury, ...record.digits[digit] };
}

const WHOLE_DATE = /^\d{4}-\d{2}-\d{2}/;
const INFANT_YEARS = 2;
const DAYS_A_YEAR = 365.25;

function derived({ birthDate, injuredAt, assessedAt, lastTetanusDoseOn }: CaseRecord): Facts {
  const facts: Record<string, number> = {};
  const now = parseISO(assessedAt);
  if (birthDate && WHOLE_DATE.test(birthDate)) {
    const born = parseISO(birthDate);
    const years = differenceInYears(now, born);
    // Limits for infants are in weeks and months, so the age keeps its fraction there.
    facts.ageYears = years < INFANT_YEARS ? differenceInDays(now, born) / DAYS_A_YEAR : years;
  }
  if (injuredAt && WHOLE_DATE.test(injuredAt)) {
    facts.hoursSinceInjury = Math.max(0, differenceInMinutes(now, parseISO(injuredAt)) / 60);
    if (lastTetanusDoseOn && WHOLE_DATE.test(lastTetanusDoseOn))
      facts.tetanusYearsSinceLast = yearsSince(parseISO(lastTetanusDoseOn), parseISO(injuredAt));
  }
  return facts;
}
/**
 * Years between two dates to one decimal, 0 when the first is later. Whole only on the anniversary, since one scheme counts ten years to the
 * day as in date and a day more as over; the decimal is rounded up but never to the next year, which other schemes act on.
 */
function yearsSince(from: Date, to: Date): number {
  const whole = differenceInYears(to, from);
  if (whole < 0 || to < from) return 0;
  const days = differenceInDays(to, addYears(from, whole));
  return whole + Math.min(9, Math.ceil((days / DAYS_A_YEAR) * 10)) / 10;
}
/** Whole calendar days from the injury to the assessment, when the treatment starts; undefined when the day of the injury is not known. */
export const treatmentDay = ({ injuredAt, assessedAt }: CaseRecord): number | undefined =>
  injuredAt && WHOLE_DATE.test(injuredAt)
    ? Math.max(0, differenceInCalendarDays(parseISO(assessedAt), parseISO(injuredAt)))
    : undefined;
/** Day 0 of follow-up as yyyy-MM-dd, when the injury date is known. */
export const dayZero = (record: CaseRecord): string | undefined =>
  record.injuredAt && WHOLE_DATE.test(record.injuredAt) ? record.injuredAt.slice(0, 10) : undefined;

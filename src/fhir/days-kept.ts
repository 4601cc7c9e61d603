/**
 * Seen again some days later, nothing begins anew: what the plan that is revised already asks for keeps its days, so that a splint worn
 * since the first visit is not counted from the second, and no visit moves back. What is asked for the first time counts from today.
 */
import type { Appointment } from "fhir/r4";
import type { CaseAssessment, VisitWindow } from "../pathway/index.ts";
import { DAYS, IDEAL_DAY } from "./appointment.ts";
import type { EarlierPlan } from "./earlier.ts";
import { slug } from "./service-request.ts";

/** The key of each visit in its plan: named after the rule that asks for it, so that a plan with one visit less does not rename the others. */
export function visitKeys(visits: CaseAssessment["visits"]): string[] {
  const count = new Map<string, number>();
  return visits.map(({ purpose, rule }) => {
    const name = `visit-${purpose}-${slug(rule)}`;
    const n = (count.get(name) ?? 0) + 1;
    count.set(name, n);
    return n === 1 ? name : `${name}-${n}`;
  });
}

/** A visit that was called off or missed is asked for anew. */
const STANDING = ["proposed", "pending", "booked", "arrived", "checked-in", "waitlist", "fulfilled"];

/** The assessment with the days of `earlier`, the plan of the same injury that is revised, for each visit that it asks for by the same rule. */
export function withDaysKept(
  assessment: CaseAssessment,
  earlier: Pick<EarlierPlan, "items"> | undefined,
): CaseAssessment {
  if (!earlier) return assessment;
  const keys = visitKeys(assessment.visits);
  const visits = assessment.visits.map((visit, i) => {
    const item = earlier.items.find((one) => one.key === keys[i] && STANDING.includes(one.status));
    const then = item && windowOf(item.resource as unknown as Appointment);
    // What counts from an operation has a day of its own to count from.
    return !then || visit.countFrom === "operation" || then.latest > visit.latest ? visit : { ...visit, ...then };
  });
  return { ...assessment, visits };
}

function windowOf({
  extension,
  requestedPeriod,
}: Appointment): Pick<VisitWindow, "earliest" | "ideal" | "latest" | "dates"> | undefined {
  const days = extension?.find((e) => e.url === DAYS)?.extension;
  const day = (name: string) => days?.find((e) => e.url === name)?.valueInteger;
  const [earliest, ideal, latest] = [day("earliest"), day("ideal"), day("latest")];
  if (earliest === undefined || ideal === undefined || latest === undefined) return undefined;
  const { start, end } = requestedPeriod?.[0] ?? {};
  const best = extension?.find((e) => e.url === IDEAL_DAY)?.valueDate;
  return {
    ...{ earliest, ideal, latest },
    ...(start && end && best ? { dates: { earliest: start, ideal: best, latest: end } } : {}),
  };
}

import type { Appointment } from "fhir/r4";
import type { VisitWindow } from "../pathway/index.ts";
import { PURPOSE_WORDS } from "../pathway/index.ts";
import { BASE, coding, ownExtension, planItem } from "./codings.ts";
import { dateWords } from "./dates.ts";
import { checkText, type DraftInput, patientReference, ruleBasis, type Writer } from "./draft-item.ts";
import { changedPeriod } from "./service-request.ts";
import { visitCheck, weekendNote } from "./visit-words.ts";

export const VISIT_PURPOSE = `${BASE}/CodeSystem/visit-purpose`;
export const IDEAL_DAY = ownExtension("ideal-day");
/** Days after the injury: earliest, ideal, latest. */
export const DAYS = ownExtension("days-after-injury");
const AFTER_OPERATION = ownExtension("days-after-operation");
/** Purpose of the visit that must have happened before. */
export const AFTER_VISIT = ownExtension("after-visit");

/** One visit to arrange. It has a window and no time: the clinic books it (R4 Appointment app-3: only a proposed or cancelled one may lack start and end). */
export function draftVisit(
  visit: VisitWindow,
  key: string,
  input: DraftInput,
  requestUrn: string | undefined,
  conditionUrns: readonly string[],
): Appointment {
  return {
    resourceType: "Appointment",
    extension: [
      ruleBasis({ rule: visit.rule, text: visit.check, because: visit.because, sources: visit.sources }, input.reasons),
      ...(visit.dates ? [{ url: IDEAL_DAY, valueDate: visit.dates.ideal }] : []),
      {
        url: visit.countFrom === "operation" ? AFTER_OPERATION : DAYS,
        extension: [
          { url: "earliest", valueInteger: visit.earliest },
          { url: "ideal", valueInteger: visit.ideal },
          { url: "latest", valueInteger: visit.latest },
        ],
      },
      ...(visit.after ? [{ url: AFTER_VISIT, valueCode: visit.after }] : []),
    ],
    identifier: [planItem(input.planId, key)],
    status: "proposed",
    serviceType: [
      {
        coding: [coding(VISIT_PURPOSE, visit.purpose, PURPOSE_WORDS[visit.purpose])],
        text: `${PURPOSE_WORDS[visit.purpose]}, ${visit.who}`,
      },
    ],
    appointmentType: {
      coding: [
        coding(
          "http://terminology.hl7.org/CodeSystem/v2-0276",
          "FOLLOWUP",
          "A follow up visit from a previous appointment",
        ),
      ],
    },
    reasonReference: conditionUrns.map((reference) => ({ reference })),
    description: `${PURPOSE_WORDS[visit.purpose]}, ${visit.who}`,
    comment: visitCheck(visit),
    ...(requestUrn ? { basedOn: [{ reference: requestUrn }] } : {}),
    participant: [{ actor: patientReference(input), required: "required", status: "needs-action" }],
    ...(visit.dates ? { requestedPeriod: [{ start: visit.dates.earliest, end: visit.dates.latest }] } : {}),
  };
}

export const visitWriter: Writer<Appointment> = {
  words(visit) {
    const { start, end } = visit.requestedPeriod?.[0] ?? {};
    const ideal = visit.extension?.find((e) => e.url === IDEAL_DAY)?.valueDate;
    const count = visit.extension?.find((e) => e.url === DAYS || e.url === AFTER_OPERATION);
    const days = Object.fromEntries((count?.extension ?? []).map((e) => [e.url, e.valueInteger]));
    const zero = count?.url === AFTER_OPERATION ? "operation" : "injury";
    return [
      `${visit.description ?? "Visit"}.`,
      start || end
        ? `To be booked${start ? ` from ${dateWords(start)}` : ""}${end ? ` to ${dateWords(end)}` : ""}${ideal ? `, best on ${dateWords(ideal)}` : ""}.`
        : `The day of ${zero} is not known: book for day ${days.earliest} to ${days.latest} after it, best on day ${days.ideal}.`,
      ...(ideal && weekendNote(ideal) ? [weekendNote(ideal)] : []),
      ...(visit.comment ? [visit.comment] : []),
      "No time is set: the clinic books it.",
    ];
  },
  edits(visit) {
    const { start, end } = visit.requestedPeriod?.[0] ?? {};
    return [
      {
        id: "start",
        label: "Earliest day",
        type: "date",
        value: start ?? "",
        ...(end ? { max: end } : {}),
        required: false,
      },
      {
        id: "end",
        label: "Latest day",
        type: "date",
        value: end ?? "",
        ...(start ? { min: start } : {}),
        required: false,
      },
      { id: "comment", label: "What to check", type: "text", value: visit.comment ?? "", required: false },
    ];
  },
  edit(visit, field, value) {
    if (field === "comment") {
      const problem = checkText(value, false);
      if (problem) return problem;
      if (value.trim()) visit.comment = value.trim();
      else delete visit.comment;
      return undefined;
    }
    if (field !== "start" && field !== "end") return `This visit has no field "${field}".`;
    const period = changedPeriod(visit.requestedPeriod?.[0], field, value);
    if (typeof period === "string") return period;
    if (period) visit.requestedPeriod = [period];
    else delete visit.requestedPeriod;
    const ideal = visit.extension?.find((e) => e.url === IDEAL_DAY)?.valueDate;
    // A best day outside the new window would mislead whoever books.
    if (ideal && ((period?.start && ideal < period.start) || (period?.end && ideal > period.end)))
      visit.extension = (visit.extension ?? []).filter((e) => e.url !== IDEAL_DAY);
    return undefined;
  },
  perform(visit, context) {
    visit.status = "proposed";
    if (context.act === "sign") visit.created = context.at;
  },
};

import type { Annotation, CodeableConcept, Condition, Period, ServiceRequest } from "fhir/r4";
import type { Line, ManagementCall, Urgency, VisitWindow } from "../pathway/index.ts";
import { bodySiteOf } from "./coded-condition.ts";
import { BASE, coding, ownExtension, planItem, snomed } from "./codings.ts";
import { dateWords } from "./dates.ts";
import {
  checkChoice,
  checkDay,
  checkText,
  type DraftInput,
  encounterOf,
  pathwayCanonical,
  patientReference,
  person,
  ruleBasis,
  type Writer,
  wordsOfDigit,
} from "./draft-item.ts";

export type RequestKind = "referral" | "imaging" | "therapy" | "follow-up";
export interface RequestPlan {
  readonly key: string;
  readonly kind: RequestKind;
  /** Who is asked: "hand surgeon", "hand clinic". */
  readonly who: string;
  readonly what: string;
  readonly priority: NonNullable<ServiceRequest["priority"]>;
  readonly lines: readonly Line[];
  readonly digits: readonly number[];
  readonly visits: readonly VisitWindow[];
}

const REQUEST_KIND = `${BASE}/CodeSystem/request-kind`;
const URGENCY = ownExtension("urgency");
/** R4 request-priority by how soon somebody must act. Common practice, no source. */
const PRIORITY: { readonly [U in Urgency]: RequestPlan["priority"] } = {
  NOW: "stat",
  D0: "asap",
  D1: "urgent",
  W1: "routine",
  R2: "routine",
  none: "routine",
};
/** Urgencies that are a surgeon's business by themselves; later ones are met by the visits. */
const SURGEON_SOON: readonly Urgency[] = ["NOW", "D0", "D1"];
const REFERS: readonly ManagementCall[] = ["must-refer", "operative", "discuss"];
const MOST_URGENT = ["stat", "asap", "urgent", "routine"];
const FILMS = ["film", "film-true-lateral", "physis-film"];
export const slug = (words: string): string =>
  words
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-|-$/g, "")
    .slice(0, 40) || "care";

/** Which requests an assessment calls for: a referral for each place a red flag or a decision sends to, films, therapy and follow-up by who sees the patient. */
export function requestsOf({ assessment, record }: DraftInput): RequestPlan[] {
  const plans = new Map<
    string,
    {
      kind: RequestKind;
      who: string;
      what: string;
      priority: RequestPlan["priority"];
      lines: Line[];
      digits: number[];
      visits: VisitWindow[];
    }
  >();
  const add = (
    key: string,
    kind: RequestKind,
    who: string,
    what: string,
    priority: RequestPlan["priority"],
    digit: number | undefined,
    line?: Line,
    visit?: VisitWindow,
  ) => {
    const plan = plans.get(key) ?? { kind, who, what, priority, lines: [], digits: [], visits: [] };
    plans.set(key, plan);
    if (MOST_URGENT.indexOf(priority) < MOST_URGENT.indexOf(plan.priority)) plan.priority = priority;
    if (digit !== undefined && !plan.digits.includes(digit)) plan.digits.push(digit);
    if (line && !plan.lines.some((l) => l.rule === line.rule && l.text === line.text)) plan.lines.push(line);
    if (visit) plan.visits.push(visit);
  };
  assessment.digits.forEach((digit, i) => {
    for (const exit of digit.exits)
      add(
        `referral-${slug(exit.effect.sendTo)}`,
        "referral",
        exit.effect.sendTo,
        `Referral: ${exit.effect.sendTo}`,
        PRIORITY[exit.effect.urgency],
        i,
        exit,
      );
    // Only what is sure sends a patient on; an exit has already done so, and a second referral for the same finger would compete with it.
    const level = digit.urgency.sure ?? "none";
    const reasons: Line[] = [
      ...(SURGEON_SOON.includes(level) ? digit.urgency.because : []),
      ...digit.management.filter((m) => REFERS.includes(m.effect.call)),
      ...digit.today.filter((t) => t.effect.topic === "referral"),
    ];
    if (digit.exits.length === 0)
      for (const line of reasons)
        add("referral-hand-surgery", "referral", "hand surgery", "Referral: hand surgery", PRIORITY[level], i, line);
    for (const line of digit.today)
      if (line.effect.topic === "imaging")
        add("film-today", "imaging", "radiography", "Film today", PRIORITY.D0, i, line);
    for (const line of digit.quality)
      if (line.effect.blocks) add("film-today", "imaging", "radiography", "Film today", PRIORITY.D0, i, line);
  });
  const every = record.digits.map((_, i) => i);
  for (const visit of assessment.visits) {
    const line: Line = { rule: visit.rule, text: visit.check, because: visit.because, sources: visit.sources };
    const kind = FILMS.includes(visit.purpose) ? "imaging" : visit.purpose === "therapy" ? "therapy" : "follow-up";
    const what = { imaging: "Check film", therapy: "Hand therapy", "follow-up": `Follow-up: ${visit.who}` }[kind];
    const key = kind === "follow-up" ? `follow-up-${slug(visit.who)}` : kind === "imaging" ? "film-check" : "therapy";
    add(key, kind, visit.who, what, "routine", undefined, line, visit);
  }
  return [...plans].map(([key, p]) => ({ ...p, key, digits: p.digits.length ? p.digits : every }));
}

/** Code of the request, only where an id could be verified (SNOMED CT: Belgian eReferral value set, HL7 guides); else its words. */
function codeOf(plan: RequestPlan, input: DraftInput): CodeableConcept {
  const thumbs = plan.digits.every((i) => input.record.digits[i]?.digit === "thumb");
  const film = thumbs ? snomed("783542002", "Plain X-ray of thumb") : snomed("786844003", "Plain X-ray of finger");
  const code = {
    imaging: film,
    "follow-up": snomed("390906007", "Follow-up encounter"),
    referral: undefined,
    therapy: undefined,
  }[plan.kind];
  return { ...(code && input.snomed !== false ? { coding: [code] } : {}), text: plan.what };
}

/** One ServiceRequest of the plan, as a draft with the intent it keeps; its period spans the windows of its visits. */
export function draftRequest(
  plan: RequestPlan,
  input: DraftInput,
  condition: readonly { urn: string; resource: Condition }[],
  findingsUrn: string,
): ServiceRequest {
  const { planId, record } = input;
  const dated = plan.visits.flatMap((v) => (v.dates ? [v.dates] : []));
  const start = dated.map((d) => d.earliest).sort()[0];
  const end = dated
    .map((d) => d.latest)
    .sort()
    .at(-1);
  const sites = [
    ...new Map(
      plan.digits.map((i) => [wordsOfDigit(record, i), bodySiteOf(record.digits[i] ?? {}, input.snomed !== false)]),
    ).values(),
  ];
  const note = (line: Line): Annotation => ({ extension: [ruleBasis(line, input.reasons)], text: line.text });
  return {
    resourceType: "ServiceRequest",
    ...(input.assessment.urgency.level && plan.kind === "referral"
      ? { extension: [{ url: URGENCY, valueCode: input.assessment.urgency.level }] }
      : {}),
    identifier: [planItem(planId, plan.key)],
    instantiatesCanonical: [pathwayCanonical(input)],
    // R4: groups everything that one sign-off asks for.
    requisition: planItem(planId, "requisition"),
    status: "draft",
    intent: "order",
    category: [
      {
        coding: [
          coding(REQUEST_KIND, plan.kind),
          ...(plan.kind === "imaging" && input.snomed !== false ? [snomed("363679005", "Imaging")] : []),
        ],
      },
    ],
    priority: plan.priority,
    code: codeOf(plan, input),
    subject: patientReference(input),
    ...encounterOf(input),
    ...(start && end ? { occurrencePeriod: { start, end } } : {}),
    performerType: { text: plan.who },
    reasonReference: plan.digits.flatMap((i) => condition[i]?.urn ?? []).map((reference) => ({ reference })),
    supportingInfo: [{ reference: findingsUrn }],
    bodySite: sites,
    note: plan.lines.map(note),
  };
}

const PRIORITIES = [
  { value: "stat", label: "at once (stat)" },
  { value: "asap", label: "as soon as possible (asap)" },
  { value: "urgent", label: "urgent" },
  { value: "routine", label: "routine" },
] as const;
const OWN_NOTE = ownExtension("clinician-note");
export const ownNote = (notes: readonly Annotation[] | undefined): string =>
  notes?.find((n) => n.extension?.some((e) => e.url === OWN_NOTE))?.text ?? "";
export const withOwnNote = (notes: readonly Annotation[] | undefined, text: string): Annotation[] => [
  ...(notes ?? []).filter((n) => !n.extension?.some((e) => e.url === OWN_NOTE)),
  ...(text.trim() ? [{ extension: [{ url: OWN_NOTE, valueBoolean: true }], text: text.trim() }] : []),
];

export const requestWriter: Writer<ServiceRequest> = {
  words(request) {
    const { start, end } = request.occurrencePeriod ?? {};
    const by = request.requester?.display ?? request.requester?.reference;
    return [
      `${request.code?.text ?? "Request"}, ${PRIORITIES.find((p) => p.value === request.priority)?.label ?? "routine"}.`,
      ...(request.performerType?.text ? [`Asked of: ${request.performerType.text}.`] : []),
      ...(request.bodySite?.length ? [`For: ${request.bodySite.map((b) => b.text).join("; ")}.`] : []),
      ...(start && end ? [`Between ${dateWords(start)} and ${dateWords(end)}.`] : []),
      ...(request.note ?? []).map((n) => n.text),
      ...(by ? [`Ordered by ${by}.`] : []),
    ];
  },
  edits(request) {
    const { start, end } = request.occurrencePeriod ?? {};
    return [
      { id: "what", label: "What is asked", type: "text", value: request.code?.text ?? "", required: true },
      { id: "who", label: "Asked of", type: "text", value: request.performerType?.text ?? "", required: true },
      {
        id: "priority",
        label: "Priority",
        type: "choice",
        value: request.priority ?? "routine",
        options: PRIORITIES,
        required: true,
      },
      {
        id: "start",
        label: "Not before",
        type: "date",
        value: start ?? "",
        ...(end ? { max: end } : {}),
        required: false,
      },
      {
        id: "end",
        label: "Not after",
        type: "date",
        value: end ?? "",
        ...(start ? { min: start } : {}),
        required: false,
      },
      { id: "note", label: "Your note", type: "text", value: ownNote(request.note), required: false },
    ];
  },
  edit(request, field, value) {
    switch (field) {
      case "what":
      case "who": {
        const problem = checkText(value, true);
        if (problem) return problem;
        if (field === "who") request.performerType = { text: value.trim() };
        else request.code = { text: value.trim() };
        return undefined;
      }
      case "priority": {
        const problem = checkChoice(value, PRIORITIES);
        if (!problem) request.priority = value as NonNullable<ServiceRequest["priority"]>;
        return problem;
      }
      case "note": {
        const problem = checkText(value, false);
        if (!problem) request.note = withOwnNote(request.note, value);
        if (request.note?.length === 0) delete request.note;
        return problem;
      }
      case "start":
      case "end": {
        const period = changedPeriod(request.occurrencePeriod, field, value);
        if (typeof period === "string") return period;
        if (period) request.occurrencePeriod = period;
        else delete request.occurrencePeriod;
        return undefined;
      }
      default:
        return `This request has no field "${field}".`;
    }
  },
  perform(request, context) {
    request.status = context.act === "sign" ? "active" : "draft";
    if (context.act !== "sign") return;
    request.authoredOn = context.at;
    request.requester = person(context);
  },
};

/** A period with one end changed or cleared; a sentence when the day is wrong or the order turns round. */
export function changedPeriod(
  period: Period | undefined,
  field: "start" | "end",
  value: string,
): Period | undefined | string {
  const next = { ...period };
  if (value === "") delete next[field];
  else {
    const problem = checkDay(value);
    if (problem) return problem;
    next[field] = value;
  }
  if (next.start && next.end && next.end < next.start)
    return `The last day (${dateWords(next.end)}) is before the first (${dateWords(next.start)}).`;
  return next.start || next.end ? next : undefined;
}

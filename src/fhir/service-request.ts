import { addDays, formatISO, parseISO } from "date-fns";
import type { Annotation, CodeableConcept, Condition, Period, ServiceRequest } from "fhir/r4";
import { codePolicyOf } from "../coding/other-systems.ts";
import {
  type DigitAssessment,
  type Line,
  type ManagementCall,
  moreUrgent,
  type Urgency,
  type VisitPurpose,
  type VisitWindow,
} from "../pathway/index.ts";
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
import { awaitsOperation, purposeNames, visitCheck } from "./visit-words.ts";

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
  /** How soon, where a red flag or a decision says so: it gives a referral its last day. */
  readonly urgency?: Urgency;
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

/** What may be asked together: visits of one family with one clinic, as long as they lie within a few weeks of each other. */
const FAMILIES: { readonly [P in VisitPurpose]: readonly [kind: RequestKind, family: string] } = {
  film: ["imaging", "film-check"],
  "film-true-lateral": ["imaging", "film-check"],
  "physis-film": ["imaging", "film-growth-plate"],
  therapy: ["therapy", "therapy"],
  "wound-check": ["follow-up", "wound"],
  "stitches-out": ["follow-up", "wound"],
  "splint-review": ["follow-up", "splint"],
  "wire-out": ["follow-up", "wire"],
  clinic: ["follow-up", "review"],
  "discharge-check": ["follow-up", "last-check"],
  "surgeon-review": ["referral", "surgeon-review"],
};
/** Days from the first to the last of the visits that one order covers. [common practice, no source] */
const ONE_ORDER_DAYS = 42;
/** A surgeon's review that must have happened by this day after the injury is as urgent as this. */
const REVIEW_BY: readonly (readonly [latest: number, priority: RequestPlan["priority"]])[] = [
  [1, "asap"],
  [3, "urgent"],
];
const AFTER_OPERATION = { key: "-after-operation", words: ", after the operation" } as const;
/** A review in the first week is what the referral to the surgeon asks for; a later one is ordered by itself. */
const FIRST_WEEK = 7;

export const slug = (words: string): string =>
  words
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, "-")
    .replace(/^-|-$/g, "")
    .slice(0, 40) || "care";

type Plan = {
  -readonly [K in keyof RequestPlan]: RequestPlan[K] extends readonly (infer T)[] ? T[] : RequestPlan[K];
} & {
  /** Who does what: the family of orders that visits share. */
  base?: string;
};

/**
 * Which requests an assessment calls for: a referral for each place a red flag or a decision sends to, and the visits by who sees the
 * patient and for what, in orders that no clinic has to keep open for a year.
 */
export function requestsOf({ assessment, record }: DraftInput): RequestPlan[] {
  const plans = new Map<string, Plan>();
  const add = (key: string, what: Pick<Plan, "kind" | "who" | "what" | "priority">, line: Line): Plan => {
    const plan: Plan = plans.get(key) ?? { ...what, key, lines: [], digits: [], visits: [] };
    plans.set(key, plan);
    if (MOST_URGENT.indexOf(what.priority) < MOST_URGENT.indexOf(plan.priority)) plan.priority = what.priority;
    if (!plan.lines.some((l) => l.rule === line.rule && l.text === line.text)) plan.lines.push(line);
    return plan;
  };
  const of = (plan: Plan, digit: number, urgency?: Urgency): void => {
    if (!plan.digits.includes(digit)) plan.digits.push(digit);
    const most = moreUrgent(plan.urgency, urgency);
    if (most) plan.urgency = most;
  };
  assessment.digits.forEach((digit, i) => {
    for (const exit of digit.exits) {
      const { sendTo: who, urgency } = exit.effect;
      const referral = { kind: "referral", who, what: `Referral: ${who}`, priority: PRIORITY[urgency] } as const;
      of(add(`referral-${slug(who)}`, referral, exit), i, urgency);
    }
    // Only what is sure sends a patient on; an exit has already done so, and a second referral for the same finger would compete with it.
    const level = digit.urgency.sure ?? "none";
    const soon = SURGEON_SOON.includes(level) ? sureReasons(digit) : [];
    const reasons: Line[] = [
      ...soon,
      ...digit.management.filter((m) => REFERS.includes(m.effect.call)),
      ...digit.today.filter((t) => t.effect.topic === "referral"),
    ];
    const surgery = { kind: "referral", who: "hand surgery", what: "Referral: hand surgery" } as const;
    if (digit.exits.length === 0)
      for (const line of reasons)
        of(add("referral-hand-surgery", { ...surgery, priority: PRIORITY[level] }, line), i, level);
    const film = { kind: "imaging", who: "radiography", what: "Film today", priority: PRIORITY.D0 } as const;
    for (const line of digit.today) if (line.effect.topic === "imaging") of(add("film-today", film, line), i);
    for (const line of digit.quality) if (line.effect.blocks) of(add("film-today", film, line), i);
  });
  const every = record.digits.map((_, i) => i);
  for (const visit of [...assessment.visits].sort((a, b) => a.earliest - b.earliest)) {
    const line: Line = { rule: visit.rule, text: visitCheck(visit), because: visit.because, sources: visit.sources };
    const [kind, family] = FAMILIES[visit.purpose];
    const referral = plans.get("referral-hand-surgery");
    if (family === "surgeon-review" && referral && visit.latest <= FIRST_WEEK) {
      add("referral-hand-surgery", { ...referral, priority: reviewPriority(visit) }, line).visits.push(visit);
      continue;
    }
    // What waits for an operation has no date: it is asked for by itself, so that no other visit's dates stand over it.
    const later = awaitsOperation(visit) ? AFTER_OPERATION : { key: "", words: "" };
    const base = `${kind === "follow-up" ? `follow-up-${slug(visit.who)}-${family}` : family}${later.key}`;
    const priority = family === "surgeon-review" ? reviewPriority(visit) : "routine";
    const plan = add(roomFor(visit, base, plans), { kind, who: visit.who, what: "", priority }, line);
    plan.base = base;
    plan.visits.push(visit);
    const names = purposeNames(plan.visits);
    plan.what = `${kind === "imaging" || kind === "therapy" ? names : `${names}: ${visit.who}`}${later.words}`;
  }
  return [...plans.values()].map((p) => ({ ...p, digits: p.digits.length ? p.digits : every }));
}

/** Why a digit is as urgent as is sure: where a still possible level is the one reasoned for, its lines are told as what they are. */
function sureReasons(digit: DigitAssessment): Line[] {
  const possible = new Set(digit.stillPossible.map((l) => `${l.rule} ${l.text}`));
  return digit.urgency.because.map((l) =>
    possible.has(`${l.rule} ${l.text}`) ? { ...l, text: `Not excluded while questions are open: ${l.text}` } : l,
  );
}
const reviewPriority = ({ latest }: VisitWindow): RequestPlan["priority"] =>
  REVIEW_BY.find(([by]) => latest <= by)?.[1] ?? "routine";

/**
 * The key of the order of this family that still has room for the visit; a new one where it would span too long a time. An order is named
 * after the stretch of weeks in which it begins, never by its place among the others: one order less does not rename the rest.
 */
function roomFor(visit: VisitWindow, base: string, plans: ReadonlyMap<string, Plan>): string {
  const fits = [...plans.values()].find((plan) => {
    const [first] = plan.visits;
    return plan.base === base && first !== undefined && visit.latest - first.earliest <= ONE_ORDER_DAYS;
  });
  if (fits) return fits.key;
  const stretch = Math.floor(Math.max(0, visit.earliest) / ONE_ORDER_DAYS);
  const name = stretch === 0 ? base : `${base}-from-day-${stretch * ONE_ORDER_DAYS}`;
  let key = name;
  for (let n = 2; plans.get(key)?.visits.length; n++) key = `${name}-${n}`;
  return key;
}

/** Days of the week on which a clinic does not count a working day. Public holidays are the clinic's own business. */
const isWeekend = (day: string): boolean => [0, 6].includes(parseISO(day).getDay());
const after = (day: string, days: number): string =>
  formatISO(addDays(parseISO(day), days), { representation: "date" });
/** First and last day for an urgency, counted from the day of the assessment with the windows this site has set. */
function daysFor(urgency: Urgency, { record, policy }: DraftInput): Period | undefined {
  const today = record.assessedAt.slice(0, 10);
  const days = (key: string): number => Number(policy?.values[key]);
  switch (urgency) {
    case "NOW":
    case "D0":
      return { start: today, end: today };
    case "D1": {
      let end = today;
      for (let left = days("hand.nextDayWithinDays"); left > 0; ) {
        end = after(end, 1);
        if (!isWeekend(end)) left--;
      }
      return policy && { start: today, end };
    }
    case "W1":
      return policy && { start: today, end: after(today, days("hand.clinicWithinDays")) };
    case "R2":
      return (
        policy && {
          start: after(today, days("hand.routineFromDays")),
          end: after(today, days("hand.routineToDays")),
        }
      );
    case "none":
      return undefined;
  }
}
/** The days that the revised plan sets for this order, where it is as urgent now as it was then: its last day does not move back. */
function periodKept({ key, urgency }: RequestPlan, { revises }: DraftInput): Period | undefined {
  const item = revises?.items.find((one) => one.key === key && ["active", "on-hold", "completed"].includes(one.status));
  const order = item?.resource as unknown as ServiceRequest | undefined;
  const isAsUrgent = order?.extension?.find((e) => e.url === URGENCY)?.valueCode === urgency;
  return isAsUrgent ? order?.occurrencePeriod : undefined;
}
/** When a request is to be met: a referral as soon as its urgency says, all else within the windows of its visits. */
function periodOf(plan: RequestPlan, input: DraftInput): Period | undefined {
  const urgent =
    plan.kind === "referral" && plan.urgency ? (periodKept(plan, input) ?? daysFor(plan.urgency, input)) : undefined;
  if (urgent) return urgent;
  const dated = plan.visits.flatMap((v) => (v.dates ? [v.dates] : []));
  const start = dated.map((d) => d.earliest).sort()[0];
  const end = dated
    .map((d) => d.latest)
    .sort()
    .at(-1);
  return start && end ? { start, end } : undefined;
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
  return { ...(code && codePolicyOf(input.policy).snomed ? { coding: [code] } : {}), text: plan.what };
}

/** One ServiceRequest of the plan, as a draft with the intent it keeps; its period is what its urgency allows, or spans the windows of its visits. */
export function draftRequest(
  plan: RequestPlan,
  input: DraftInput,
  condition: readonly { urn: string; resource: Condition }[],
  findingsUrn: string,
): ServiceRequest {
  const { planId, record } = input;
  const period = periodOf(plan, input);
  const sites = [
    ...new Map(
      plan.digits.map((i) => [
        wordsOfDigit(record, i),
        bodySiteOf(record.digits[i] ?? {}, codePolicyOf(input.policy).snomed),
      ]),
    ).values(),
  ];
  const note = (line: Line): Annotation => ({ extension: [ruleBasis(line, input.reasons)], text: line.text });
  return {
    resourceType: "ServiceRequest",
    ...(plan.urgency && plan.kind === "referral" ? { extension: [{ url: URGENCY, valueCode: plan.urgency }] } : {}),
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
          ...(plan.kind === "imaging" && codePolicyOf(input.policy).snomed ? [snomed("363679005", "Imaging")] : []),
        ],
      },
    ],
    priority: plan.priority,
    code: codeOf(plan, input),
    subject: patientReference(input),
    ...encounterOf(input),
    ...(period ? { occurrencePeriod: period } : {}),
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
      ...(start && end
        ? [start === end ? `On ${dateWords(start)}.` : `Between ${dateWords(start)} and ${dateWords(end)}.`]
        : end
          ? [`By ${dateWords(end)}.`]
          : []),
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
    if (context.act !== "sign") {
      // A draft ends nothing yet.
      delete request.replaces;
      return;
    }
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

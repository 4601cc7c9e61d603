import type { Annotation, CarePlan, CarePlanActivity } from "fhir/r4";
import { codePolicyOf } from "../coding/other-systems.ts";
import type { DigitAssessment, Line } from "../pathway/index.ts";
import { REVISES } from "./chart-resource.ts";
import { BASE, coding, digitWords, ownExtension, planItem, snomed } from "./codings.ts";
import {
  checkText,
  type DraftInput,
  encounterOf,
  pathwayCanonical,
  patientReference,
  person,
  ruleBasis,
  ruleOf,
  type Writer,
  wordsOfDigit,
} from "./draft-item.ts";
import { ownNote, withOwnNote } from "./service-request.ts";

const TOPICS = `${BASE}/CodeSystem/plan-topic`;
const URGENCY = ownExtension("urgency");
const TOPIC = ownExtension("topic");
const OVERRIDE = ownExtension("clinician-decided");

type Topic = { readonly id: string; readonly label: string; readonly of: (digit: DigitAssessment) => readonly Line[] };
/** What is done, each an activity of the plan. */
const DONE: readonly Topic[] = [
  { id: "today", label: "Today", of: (d) => d.today },
  { id: "management", label: "Management", of: (d) => d.management },
  { id: "splint", label: "Splint", of: (d) => d.splints },
  { id: "antibiotic", label: "Antibiotic", of: (d) => d.antibiotic },
  { id: "tetanus", label: "Tetanus", of: (d) => d.tetanus },
  { id: "task", label: "Task", of: (d) => d.tasks },
];
/** What is said, each a note of the plan. */
const SAID: readonly Topic[] = [
  { id: "exit", label: "Red flag", of: (d) => d.exits },
  { id: "class", label: "Class", of: (d) => d.classes.map((c) => ({ ...c, text: c.name })) },
  { id: "quality", label: "Quality of the findings", of: (d) => d.quality },
  { id: "anaesthetic", label: "Anaesthetic", of: (d) => d.anaesthetic },
  { id: "warning", label: "Watch for", of: (d) => d.warnings },
  { id: "advice", label: "Advice", of: (d) => d.advice.filter((a) => !a.effect.redFlag) },
  { id: "later", label: "Later, look for", of: (d) => d.later },
  { id: "return", label: "Come back at once", of: (d) => d.advice.filter((a) => a.effect.redFlag) },
];
const labelOf = (id: string | undefined): string => [...DONE, ...SAID].find((t) => t.id === id)?.label ?? "Note";

interface PlanLine extends Line {
  readonly topic: Topic;
}
/** Each sentence once. When several digits are hurt and it is not said of all of them, it names its digits. */
function linesOf(topics: readonly Topic[], { assessment, record }: DraftInput): PlanLine[] {
  return topics.flatMap((topic) => {
    const said = new Map<string, { line: Line; digits: number[] }>();
    assessment.digits.forEach((digit, i) => {
      for (const line of topic.of(digit)) {
        const key = `${line.rule} ${line.text}`;
        const entry = said.get(key) ?? { line, digits: [] };
        said.set(key, entry);
        entry.digits.push(i);
      }
    });
    return [...said.values()].map(({ line, digits }) => {
      const of =
        digits.length < assessment.digits.length ? `${digits.map((i) => wordsOfDigit(record, i)).join(" and ")}: ` : "";
      return { rule: line.rule, because: line.because, sources: line.sources, text: of + line.text, topic };
    });
  });
}

const digitList = ({ record }: DraftInput): string => record.digits.map((d) => digitWords(d.digit, d.side)).join(", ");

/** What is still open, in words: a plan with gaps says so. */
function openWords({ assessment, module, undecided = [] }: DraftInput): string[] {
  const wording = (finding: string) => module.questions.find((q) => q.finding === finding)?.wording ?? finding;
  const names = (of: (d: DigitAssessment) => readonly string[]) =>
    [...new Set(assessment.digits.flatMap(of))].map(wording);
  const ask = names((d) => d.ask);
  const cannotTell = names((d) => d.cannotTell);
  return [
    ...(assessment.state === "settled" || ask.length === 0
      ? []
      : [`Still open, and able to change this plan: ${ask.join("; ")}.`]),
    ...undecided,
    ...(cannotTell.length ? [`Could not be told, to be examined again: ${cannotTell.join("; ")}.`] : []),
  ];
}
function descriptionOf(input: DraftInput): string {
  const { urgency, digits } = input.assessment;
  // Why this level, and not why a less hurt finger has a lower one. What is only possible is not told as a fact.
  const leading = digits.filter((d) => d.urgency.level === urgency.level);
  const possible = new Set(leading.flatMap((d) => d.stillPossible.map((l) => l.rule)));
  const because = leading.flatMap((d) => d.urgency.because);
  const texts = (open: boolean) => [
    ...new Set(because.filter((b) => possible.has(b.rule) === open).map((b) => b.text)),
  ];
  const notExcluded = texts(true);
  const why = [
    ...texts(false),
    ...(urgency.open && notExcluded.length > 0
      ? [`Not excluded while questions are open: ${notExcluded.join(" ")}`]
      : []),
  ].join(" ");
  const level = urgency.level
    ? `Urgency: ${urgency.words?.title ?? urgency.level}${urgency.open ? " until the open questions are answered" : ""}. ${why}`
    : "Urgency cannot be decided yet.";
  return `${level.trim()} Injured: ${digitList(input)}.`;
}

export interface PlanLinks {
  readonly conditions: readonly string[];
  readonly findings: string;
  /** Requests and visits. */
  readonly activities: readonly string[];
}

/** The whole plan of one case. */
export function draftCarePlan(input: DraftInput, links: PlanLinks): CarePlan {
  const { assessment, overrides = [] } = input;
  const basis = (line: PlanLine) => ruleBasis(line, input.reasons);
  const done: CarePlanActivity[] = linesOf(DONE, input).map((line) => ({
    detail: {
      extension: [basis(line)],
      code: { coding: [coding(TOPICS, line.topic.id, line.topic.label)], text: line.topic.label },
      // R4 care-plan-activity-status: nothing is said to have happened.
      status: "not-started",
      description: line.text,
    },
  }));
  const note: Annotation[] = [
    ...linesOf(SAID, input).map((line) => ({
      extension: [{ url: TOPIC, valueCode: line.topic.id }, basis(line)],
      text: line.text,
    })),
    ...openWords(input).map((text) => ({ extension: [{ url: TOPIC, valueCode: "open" }], text })),
    ...overrides.map((o) => ({
      extension: [
        {
          url: OVERRIDE,
          extension: [
            { url: "rule", valueString: o.rule },
            { url: "proposed", valueString: o.proposed },
            { url: "reason", valueString: o.reason },
          ],
        },
      ],
      text: `The clinician decided differently: ${o.decided}. The rule proposed: ${o.proposed}. Reason: ${o.reason}.`,
    })),
  ];
  return {
    resourceType: "CarePlan",
    ...(assessment.urgency.level ? { extension: [{ url: URGENCY, valueCode: assessment.urgency.level }] } : {}),
    identifier: [planItem(input.planId, "plan")],
    instantiatesCanonical: [pathwayCanonical(input)],
    status: "draft",
    intent: "plan",
    category: [
      { coding: [coding("http://hl7.org/fhir/us/core/CodeSystem/careplan-category", "assess-plan")] },
      ...(!codePolicyOf(input.policy).snomed ? [] : [{ coding: [snomed("734163000", "Care plan")] }]),
    ],
    title: `Finger tip injury plan: ${digitList(input)}`,
    description: descriptionOf(input),
    subject: patientReference(input),
    ...encounterOf(input),
    ...(input.record.injuredAt ? { period: { start: input.record.injuredAt.slice(0, 10) } } : {}),
    addresses: links.conditions.map((reference) => ({ reference })),
    supportingInfo: [{ reference: links.findings }],
    // R4 CarePlan.activity.reference: what is listed here does not point back with basedOn.
    activity: [...done, ...links.activities.map((reference) => ({ reference: { reference } }))],
    ...(note.length ? { note } : {}),
  };
}

const topicOfNote = (note: Annotation): string => note.extension?.find((e) => e.url === TOPIC)?.valueCode ?? "";

export const planWriter: Writer<CarePlan> = {
  words(plan) {
    const activities = (plan.activity ?? []).flatMap(({ detail }) =>
      detail?.description ? [`${detail.code?.text ?? "Do"}: ${detail.description}`] : [],
    );
    const notes = (plan.note ?? []).map((n) => {
      const topic = topicOfNote(n);
      return topic && topic !== "open" ? `${labelOf(topic)}: ${n.text}` : n.text;
    });
    return [...(plan.description ? [plan.description] : []), ...activities, ...notes];
  },
  edits(plan) {
    const line = (id: string, label: string, value: string) =>
      ({ id, label, type: "text", value, required: false }) as const;
    return [
      { id: "description", label: "Summary", type: "text", value: plan.description ?? "", required: true },
      line("own-note", "Your note", ownNote(plan.note)),
      ...(plan.activity ?? []).flatMap(({ detail }, i) =>
        detail ? [line(`activity-${i}`, detail.code?.text ?? "Do", detail.description ?? "")] : [],
      ),
      ...(plan.note ?? []).flatMap((n, i) => (ruleOf(n) ? [line(`note-${i}`, labelOf(topicOfNote(n)), n.text)] : [])),
    ];
  },
  edit(plan, field, value) {
    const problem = checkText(value, field === "description");
    if (problem) return problem;
    const at = Number(/^(?:activity|note)-(\d+)$/.exec(field)?.[1] ?? Number.NaN);
    const detail = field.startsWith("activity-") ? plan.activity?.[at]?.detail : undefined;
    const note = field.startsWith("note-") ? plan.note?.[at] : undefined;
    if (field === "description") plan.description = value.trim();
    else if (field === "own-note") plan.note = withOwnNote(plan.note, value);
    else if (detail) {
      // An emptied line stays in its place, cancelled, so that the record shows what was proposed and not wanted.
      if (value.trim()) {
        detail.description = value.trim();
        detail.status = "not-started";
      } else {
        detail.status = "cancelled";
        detail.statusReason = { text: `Not wanted by the clinician: ${detail.description ?? ""}` };
        delete detail.description;
      }
    } else if (note && ruleOf(note)) {
      if (value.trim()) note.text = value.trim();
      else plan.note = plan.note?.filter((n) => n !== note) ?? [];
    } else return `This plan has no field "${field}".`;
    if (plan.note?.length === 0) delete plan.note;
    return undefined;
  },
  perform(plan, context) {
    plan.status = context.act === "sign" ? "active" : "draft";
    plan.created = context.at;
    plan.author = person(context);
    // R4 CarePlan.replaces: only what is terminated is replaced, so a draft merely names the plan whose place it is to take.
    const revises = plan.extension?.flatMap((e) => (e.url === REVISES && e.valueReference ? [e.valueReference] : []));
    if (context.act !== "sign" || !revises?.length) return;
    plan.replaces = revises;
    plan.extension = plan.extension?.filter((e) => e.url !== REVISES) ?? [];
    if (plan.extension.length === 0) delete plan.extension;
  },
};

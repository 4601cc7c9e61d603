import type {
  Extension,
  Questionnaire,
  QuestionnaireItem,
  QuestionnaireResponse,
  QuestionnaireResponseItem,
  QuestionnaireResponseItemAnswer,
} from "fhir/r4";
import { type Answers, type InjuryModule, isAbsent, KNOWLEDGE_VERSION, type Question } from "../pathway/index.ts";
import {
  CANNOT_TELL,
  coding,
  DATA_ABSENT,
  DIGIT_GROUP,
  digitWords,
  FINDING_SYSTEM,
  isDigitGroup,
  ownExtension,
  planItem,
  questionnaireUrl,
  UCUM,
} from "./codings.ts";
import { dateWords, machineZone, zonedOf } from "./dates.ts";
import {
  type AnswerOrigin,
  type DraftInput,
  encounterOf,
  patientReference,
  person,
  type Writer,
} from "./draft-item.ts";

const UNITS: Record<string, string> = { years: "a", hours: "h", kg: "kg", mm: "mm", degrees: "deg", "%": "%" };
const ORIGIN = ownExtension("answer-origin");
const ORIGIN_ENTRY = ownExtension("answer-origin-entry");
const CHART_SAID = ownExtension("chart-said");
const SCOPES = [
  { id: "patient", group: "patient", title: "Patient" },
  { id: "injury", group: "injury", title: "Injury" },
  { id: "digit", group: DIGIT_GROUP, title: "Injured digit" },
] as const;
const DATE_ITEMS = {
  patient: [
    { linkId: "birthDate", text: "Date of birth", type: "date" },
    { linkId: "lastTetanusDoseOn", text: "Last documented tetanus dose", type: "date" },
  ],
  injury: [
    { linkId: "injuredAt", text: "Time of the injury", type: "dateTime" },
    { linkId: "operatedOn", text: "Day of the operation", type: "date" },
    { linkId: "assessedAt", text: "Time of the assessment", type: "dateTime" },
  ],
  digit: [],
} as const;

const labelOf = (question: Question | undefined, value: string): string =>
  question?.options?.find((o) => o.value === value)?.label ?? value;
const valueCoding = (finding: string, question: Question | undefined, value: string) =>
  coding(FINDING_SYSTEM, `${finding}.${value}`, labelOf(question, value));

/** The questions of an injury as an R4 Questionnaire: one group for the patient, one for the accident, one repeating group per injured digit. */
export function findingsQuestionnaire(module: InjuryModule): Questionnaire {
  const questionOf = new Map(module.questions.map((q) => [q.finding, q]));
  return {
    resourceType: "Questionnaire",
    id: `${module.id}-findings`,
    url: questionnaireUrl(module),
    version: KNOWLEDGE_VERSION,
    name: "ConfirmedFindings",
    title: `${module.title}: confirmed findings`,
    status: "active",
    subjectType: ["Patient"],
    item: SCOPES.map(({ id, group, title }) => ({
      linkId: group,
      text: title,
      type: "group",
      repeats: id === "digit",
      item: [
        ...DATE_ITEMS[id],
        ...Object.entries(module.findings).flatMap(([finding, definition]): QuestionnaireItem[] => {
          if (definition.scope !== id) return [];
          const question = questionOf.get(finding);
          const item = { linkId: finding, text: question?.wording ?? finding };
          if (definition.type === "number") return [{ ...item, type: "quantity" }];
          return [
            {
              ...item,
              type: "choice",
              answerOption: [
                ...definition.values.map((value) => valueCoding(finding, question, value)),
                CANNOT_TELL,
              ].map((option) => ({ valueCoding: option })),
            },
          ];
        }),
      ],
    })),
  };
}

/**
 * The confirmed findings as they stood when the plan was made, in the order of the Questionnaire (R4 asks for it). A finding not asked has no
 * item; "cannot tell" is a choice of its own, or a measure whose value is absent with the reason asked-unknown (R4 data-absent-reason). Each
 * answer says whether the clinician gave it or confirmed it from the chart.
 */
export function findingsResponse(input: DraftInput): QuestionnaireResponse {
  const { record, module, origins = {}, zone = machineZone() } = input;
  const questionOf = new Map(module.questions.map((q) => [q.finding, q]));
  const answersOf = (answers: Answers, path: string): QuestionnaireResponseItem[] =>
    Object.entries(module.findings).flatMap(([finding, definition]) => {
      const value = answers[finding];
      if (value === undefined || value === "not-asked") return [];
      const question = questionOf.get(finding);
      const answer: QuestionnaireResponseItemAnswer = { extension: originOf(origins[`${path}.${finding}`]) };
      if (definition.type === "number")
        answer.valueQuantity =
          typeof value === "number"
            ? { value, unit: definition.unit, system: UCUM, code: UNITS[definition.unit] ?? definition.unit }
            : { extension: [{ url: DATA_ABSENT, valueCode: "asked-unknown" }] };
      else answer.valueCoding = isAbsent(value) ? CANNOT_TELL : valueCoding(finding, question, String(value));
      return [{ linkId: finding, text: question?.wording ?? finding, answer: [answer] }];
    });
  const dated = (scope: "patient" | "injury"): QuestionnaireResponseItem[] =>
    DATE_ITEMS[scope].flatMap(({ linkId, text, type }) => {
      const value = record[linkId];
      if (!value) return [];
      return [
        { linkId, text, answer: [type === "date" ? { valueDate: value } : { valueDateTime: zonedOf(value, zone) }] },
      ];
    });
  const group = (linkId: string, item: QuestionnaireResponseItem[]) =>
    item.length ? [{ linkId, text: SCOPES.find((s) => s.group === linkId)!.title, item }] : [];
  return {
    resourceType: "QuestionnaireResponse",
    identifier: planItem(input.planId, "findings"),
    questionnaire: `${questionnaireUrl(module)}|${input.assessment.knowledgeVersion}`,
    status: "in-progress",
    subject: patientReference(input),
    ...encounterOf(input),
    item: [
      ...group("patient", [...dated("patient"), ...answersOf(record.patient, "patient")]),
      ...group("injury", [...dated("injury"), ...answersOf(record.injury, "injury")]),
      ...record.digits.flatMap((digit, i) => group(DIGIT_GROUP, answersOf(digit, `digit.${i}`))),
    ],
  };
}

const originOf = ({ kind, reference, label, chartSaid }: AnswerOrigin = { kind: "clinician" }): Extension[] => [
  { url: ORIGIN, valueCode: kind },
  ...(reference ? [{ url: ORIGIN_ENTRY, valueReference: { reference, ...(label ? { display: label } : {}) } }] : []),
  ...(chartSaid ? [{ url: CHART_SAID, valueString: chartSaid }] : []),
];
/** " (from the draft by Dr Ada Okafor, 9 Mar 2026)"; empty for an answer that nothing else bears on. */
function originWords(extensions: readonly Extension[] | undefined): string {
  const kind = extensions?.find((e) => e.url === ORIGIN)?.valueCode ?? "";
  const entry = extensions?.find((e) => e.url === ORIGIN_ENTRY)?.valueReference?.display ?? "Draft by somebody else";
  const whose = `the ${entry.charAt(0).toLowerCase()}${entry.slice(1)}`;
  if (kind === "others-draft-confirmed") return ` (from ${whose})`;
  if (kind === "others-draft-changed") return ` (changed by the clinician; ${whose} says otherwise)`;
  return ORIGIN_WORDS[kind] ?? "";
}
const ORIGIN_WORDS: Record<string, string> = {
  "chart-confirmed": " (from the chart, confirmed)",
  "chart-changed": " (changed by the clinician; the chart says otherwise)",
  "draft-confirmed": " (from your saved draft)",
  "draft-changed": " (changed by the clinician; the saved draft says otherwise)",
  "earlier-confirmed": " (from an earlier signed plan, confirmed)",
  "earlier-changed": " (changed by the clinician; an earlier signed plan says otherwise)",
};

/** "Left ring finger", as the group itself answers it; two groups of answers could not be told apart otherwise. */
function fingerOf(group: QuestionnaireResponseItem): string {
  const said = (finding: string) =>
    group.item?.find((i) => i.linkId === finding)?.answer?.[0]?.valueCoding?.code?.slice(finding.length + 1);
  const words = digitWords(said("digit"), said("side"));
  return words.charAt(0).toUpperCase() + words.slice(1);
}

export const findingsWriter: Writer<QuestionnaireResponse> = {
  words(response) {
    const groups = response.item ?? [];
    const several = groups.filter((g) => isDigitGroup(g.linkId)).length > 1;
    return groups.flatMap((group) => {
      const whose = several && isDigitGroup(group.linkId) ? `${fingerOf(group)}: ` : "";
      return (group.item ?? []).map(({ text, linkId, answer }) => {
        const given = answer?.[0];
        const quantity = given?.valueQuantity;
        const date = given?.valueDate ?? given?.valueDateTime;
        const value = date
          ? dateWords(date)
          : quantity?.value !== undefined
            ? `${quantity.value} ${quantity.unit}`
            : (given?.valueCoding?.display ?? given?.valueCoding?.code);
        return `${whose}${(text ?? linkId).replace(/\?$/, "")}: ${value ?? "cannot tell"}${originWords(given?.extension)}`;
      });
    });
  },
  // Findings are changed where they are asked, so that the assessment follows.
  edits: () => [],
  edit: () => "Change a finding on the findings page: the advice then follows it.",
  perform(response, context) {
    // R4 questionnaire-answers-status: a signed record that is changed later is "amended".
    response.status =
      context.act === "draft" ? "in-progress" : response.status === "in-progress" ? "completed" : "amended";
    response.authored = context.at;
    response.author = person(context);
  },
};

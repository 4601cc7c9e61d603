import * as z from "zod/mini";
import { type Answers, type AskedInjury, isAbsent } from "../pathway/asked.ts";
import type { Origin, Proposal } from "./chart-resource.ts";
import { CANNOT_TELL, DATA_ABSENT, FINDING_SYSTEM, isDigitGroup, questionnaireUrl } from "./codings.ts";
import { isFhirDate, localOf } from "./dates.ts";
import { codingShape, lookUp, quantityShape } from "./shapes.ts";

export { questionnaireUrl } from "./codings.ts";

/** Confirmed findings read back from a stored record; a value that this version does not know is named, not used. */
export interface FindingsBack {
  readonly birthDate?: string;
  readonly injuredAt?: string;
  readonly operatedOn?: string;
  readonly lastTetanusDoseOn?: string;
  readonly assessedAt?: string;
  readonly patient: Answers;
  readonly injury: Answers;
  readonly digits: readonly Answers[];
  readonly notUnderstood: readonly string[];
}

const absentShape = z.object({
  extension: z.optional(z.array(z.object({ url: z.string(), valueCode: z.optional(z.string()) }))),
});
const answerShape = z.object({
  valueCoding: z.optional(z.extend(codingShape, absentShape.shape)),
  valueQuantity: z.optional(z.extend(quantityShape, absentShape.shape)),
  valueDate: z.optional(z.string()),
  valueDateTime: z.optional(z.string()),
});
const itemShape = z.object({ linkId: z.string(), answer: z.optional(z.array(answerShape)) });
export const responseShape = z.object({
  questionnaire: z.optional(z.string()),
  status: z.string(),
  subject: z.optional(z.object({ reference: z.optional(z.string()) })),
  authored: z.optional(z.string()),
  author: z.optional(z.object({ reference: z.optional(z.string()), display: z.optional(z.string()) })),
  item: z.optional(z.array(z.object({ linkId: z.string(), item: z.optional(z.array(itemShape)) }))),
});

/** Answers that are days or times, by the id of their question. */
export const DATES = ["birthDate", "injuredAt", "operatedOn", "lastTetanusDoseOn", "assessedAt"] as const;

/** The findings of one QuestionnaireResponse of ours; undefined when it is none of ours or of another injury. */
export function findingsBack(
  response: z.infer<typeof responseShape>,
  modules: readonly AskedInjury[],
  zone: string,
): FindingsBack | undefined {
  const module = modules.find((m) => questionnaireUrl(m) === response.questionnaire?.split("|")[0]);
  if (!module) return undefined;
  const dates: { [field in (typeof DATES)[number]]?: string } = {};
  const notUnderstood: string[] = [];
  const answersOf = (items: readonly z.infer<typeof itemShape>[]): Answers => {
    const answers: Record<string, string | number> = {};
    for (const { linkId, answer } of items) {
      const given = answer?.[0];
      const date = given?.valueDateTime ?? given?.valueDate;
      const field = DATES.find((d) => d === linkId);
      if (field && date && isFhirDate(date)) dates[field] = localOf(date, zone);
      else {
        const value = answerValue(module, linkId, given);
        if (value !== undefined) answers[linkId] = value;
        else if (given) notUnderstood.push(linkId);
      }
    }
    return answers;
  };
  const groups = (isIt: (linkId: string) => boolean) =>
    (response.item ?? []).filter((i) => isIt(i.linkId)).map((i) => answersOf(i.item ?? []));
  const only = (id: string) => groups((linkId) => linkId === id)[0] ?? {};
  const [patient, injury, digits] = [only("patient"), only("injury"), groups(isDigitGroup)];
  return { ...dates, patient, injury, digits, notUnderstood };
}

function answerValue(
  module: AskedInjury,
  finding: string,
  answer: z.infer<typeof answerShape> | undefined,
): string | number | undefined {
  const definition = lookUp(module.findings, finding);
  const extension = (answer?.valueCoding ?? answer?.valueQuantity)?.extension;
  if (!definition || !answer) return undefined;
  // Choices were stored with an absent value before "cannot tell" was an option of its own.
  if (extension?.some((e) => e.url === DATA_ABSENT && e.valueCode === "asked-unknown")) return "cannot-tell";
  if (definition.type === "number") {
    const value = answer.valueQuantity?.value;
    return value !== undefined && value >= definition.min && value <= definition.max ? value : undefined;
  }
  const { system, code } = answer.valueCoding ?? {};
  if (system === CANNOT_TELL.system && code === CANNOT_TELL.code) return "cannot-tell";
  return system === FINDING_SYSTEM ? definition.values.find((v) => code === `${finding}.${v}`) : undefined;
}

/** Earlier confirmed findings as proposals; "cannot tell" is not carried over. */
export function proposalsOf(back: FindingsBack, from: Origin): Omit<Proposal, "conflict">[] {
  const propose = (scope: Proposal["scope"], answers: Answers) =>
    Object.entries(answers).flatMap(([finding, value]) =>
      isAbsent(value) ? [] : [{ finding, scope, value, from, note: "from earlier findings" }],
    );
  return [
    ...propose("patient", back.patient),
    ...propose("injury", back.injury),
    ...back.digits.flatMap((d) => propose("digit", d)),
  ];
}

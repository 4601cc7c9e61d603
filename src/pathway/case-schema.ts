import { isValid, parseISO } from "date-fns";
import * as z from "zod/mini";
import type { CaseRecord } from "./case-record.ts";
import { type InputProblem, inputProblems, list } from "./input-problem.ts";
import { FINDING_DEFINITIONS } from "./modules.ts";
import type { FindingDefinition, Scope } from "./reasoning/finding.ts";
import { ABSENT, isAbsent } from "./reasoning/known.ts";

export type CaseProblem = InputProblem;
export type CaseReading =
  | { readonly ok: true; readonly record: CaseRecord }
  | { readonly ok: false; readonly problems: readonly CaseProblem[] };

const DAY = "yyyy-MM-dd";
const MINUTE = "yyyy-MM-ddTHH:mm";
const BIRTH = /^\d{4}(-\d{2}(-\d{2})?)?$/;
const MOMENT = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2})?$/;
const DATE = /^\d{4}-\d{2}-\d{2}$/;

const real = (text: string) => isValid(parseISO(text));
const dateLike = (...forms: readonly RegExp[]) =>
  z
    .string()
    .check(z.refine((text) => forms.some((form) => form.test(text)) && real(text), { error: "is not a real date" }));

const answerTo = (definition: FindingDefinition) =>
  definition.type === "choice"
    ? z.enum([...definition.values, ...ABSENT])
    : z.union([z.number().check(z.gte(definition.min), z.lte(definition.max)), z.enum(ABSENT)]);

const findingsIn = (scope: Scope) => Object.entries(FINDING_DEFINITIONS).filter(([, d]) => d.scope === scope);
const answersOf = (scope: Scope) =>
  z.strictObject(Object.fromEntries(findingsIn(scope).map(([id, d]) => [id, z.optional(answerTo(d))])));

const buildCaseSchema = () =>
  z.strictObject({
    birthDate: z.optional(dateLike(BIRTH)),
    injuredAt: z.optional(dateLike(DATE, MOMENT)),
    operatedOn: z.optional(dateLike(DATE)),
    assessedAt: dateLike(MOMENT),
    lastTetanusDoseOn: z.optional(dateLike(DATE)),
    patient: answersOf("patient"),
    injury: answersOf("injury"),
    digits: z.array(answersOf("digit")).check(z.minLength(1)),
  });

/** The form of a case record, generated from the finding definitions of every module. */
export const caseSchema = /* @__PURE__ */ buildCaseSchema();

/** Checks the form, the bounds and the plausibility of a case that came from outside. All problems are listed, not only the first. */
export function readCase(json: unknown): CaseReading {
  const read = caseSchema.safeParse(json, { reportInput: true });
  if (!read.success) return { ok: false, problems: inputProblems(read.error, allowedAt) };
  // Optional keys of zod's output are "value or undefined"; JSON has no undefined, so the record's own type holds.
  const record = read.data as CaseRecord;
  const problems = [...inOrder(record), ...digitsNamed(record)];
  return problems.length > 0 ? { ok: false, problems } : { ok: true, record };
}

function allowedAt(path: readonly PropertyKey[]): string | undefined {
  const [part, ...rest] = path.map(String);
  const scope = part === "digits" ? "digit" : part === "patient" || part === "injury" ? part : undefined;
  const finding = part === "digits" ? rest[1] : rest[0];
  if (scope !== undefined && finding !== undefined) {
    // A key that is not of this part is refused in the part itself, so what is refused below a key is a value.
    return allowedFor(FINDING_DEFINITIONS[finding]!);
  }
  if (part === "digits" && rest.length === 0) return "at least one injured digit";
  if (scope !== undefined) return `an object; its keys are ${list(findingsIn(scope).map(([id]) => id))}`;
  if (part === "birthDate") return `a real date: ${DAY}, or yyyy-MM or yyyy when the day is not known`;
  if (part === "injuredAt") return `a real date: ${DAY} or ${MINUTE}, local time without zone`;
  if (part === "assessedAt") return `a real date and time: ${MINUTE}, local time without zone`;
  if (part === "lastTetanusDoseOn" || part === "operatedOn") return `a real date: ${DAY}`;
  return undefined;
}

const allowedFor = (definition: FindingDefinition) =>
  definition.type === "choice"
    ? list([...definition.values, ...ABSENT])
    : `${definition.min} to ${definition.max} ${definition.unit}, or ${ABSENT.join(", ")}`;

/** Nothing may lie after the assessment. Texts of one form sort like the dates they name, so a shorter one is compared by its own length. */
function inOrder(record: CaseRecord): CaseProblem[] {
  const { birthDate, injuredAt, operatedOn, assessedAt, lastTetanusDoseOn } = record;
  const after = (early: string, late: string) =>
    early.slice(0, Math.min(early.length, late.length)) > late.slice(0, Math.min(early.length, late.length));
  const problems: CaseProblem[] = [];
  for (const [path, day] of Object.entries({ birthDate, injuredAt, lastTetanusDoseOn }))
    if (day !== undefined && after(day, assessedAt))
      problems.push({ path, problem: `${day} is after the assessment`, allowed: `not later than ${assessedAt}` });
  for (const [path, day] of Object.entries({ injuredAt, lastTetanusDoseOn }))
    if (day !== undefined && birthDate !== undefined && after(birthDate, day))
      problems.push({ path, problem: `${day} is before the birth date`, allowed: `not earlier than ${birthDate}` });
  // An operation may be booked for a day to come, but nobody is operated before the accident.
  const first = injuredAt ?? birthDate;
  if (operatedOn !== undefined && first !== undefined && after(first, operatedOn))
    problems.push({
      path: "operatedOn",
      problem: `${operatedOn} is before the ${injuredAt ? "injury" : "birth date"}`,
      allowed: `not earlier than ${first.slice(0, 10)}`,
    });
  return problems;
}

/** Every injured digit is named by digit and side, and none twice: advice for "some finger" must not reach a plan. */
function digitsNamed(record: CaseRecord): CaseProblem[] {
  const seen = new Set<string>();
  return record.digits.flatMap((answers, i) => {
    const problems: CaseProblem[] = (["digit", "side"] as const)
      .filter((part) => answers[part] === undefined || isAbsent(answers[part]))
      .map((part) => ({
        path: `digits.${i}.${part}`,
        problem: "is missing",
        allowed: list((FINDING_DEFINITIONS[part] as { values: readonly string[] }).values),
      }));
    const name = `${answers.side} ${answers.digit}`;
    if (problems.length === 0 && seen.has(name))
      problems.push({ path: `digits.${i}`, problem: `the ${name} is listed twice`, allowed: "each digit once" });
    seen.add(name);
    return problems;
  });
}

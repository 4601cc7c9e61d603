import type { Reference, Task } from "fhir/r4";
import type { EncounterToCode } from "../coding/encounter.ts";
import type { Gap } from "../coding/gaps.ts";
import { BASE, coding, digitWords } from "./codings.ts";

/** Identifier of a query: "<encounter>:<gap>". Makes asking idempotent. */
export const QUERY = `${BASE}/NamingSystem/coding-query`;
const KIND = `${BASE}/CodeSystem/coding-query`;
/** States of a Task in which its question waits for an answer (R4 task-status). */
export const OPEN_QUERY: readonly string[] = ["requested", "received", "accepted", "in-progress"];
const R4_ID = /^[A-Za-z0-9\-.]{1,64}$/;
const PRIORITY = { block: "urgent", high: "urgent", medium: "routine", low: "routine" } as const;

/**
 * One gap as an R4 Task for the clinician: the neutral question, the answers that may be chosen, what is coded meanwhile. A draft: sending
 * it is the coder's own act.
 *
 * @param at instant with offset at which it was written
 */
export function queryTask(gap: Gap, encounter: EncounterToCode, at: string): Task {
  const refer = (type: string, id: string | undefined) =>
    id === undefined
      ? undefined
      : R4_ID.test(id)
        ? { reference: `${type}/${id}` }
        : { type, identifier: { value: id } };
  const patient = refer("Patient", encounter.patient);
  return {
    resourceType: "Task",
    identifier: [{ system: QUERY, value: `${encounter.id}:${gap.key}` }],
    status: "draft",
    intent: "proposal",
    priority: PRIORITY[gap.severity],
    code: { coding: [coding(KIND, gap.id, gap.title)], text: gap.title },
    description: gap.text,
    ...(patient ? { for: patient } : {}),
    encounter: refer("Encounter", encounter.id)!,
    authoredOn: at,
    note: [{ text: `Meanwhile: ${gap.meanwhile}` }],
    ...(gap.options.length
      ? {
          input: gap.options.map((option) => ({
            type: { coding: [coding(KIND, option.value)], text: "possible answer" },
            valueString: option.words,
          })),
        }
      : {}),
  };
}

export interface Answered {
  readonly encounter: string;
  readonly gap: string;
  /** The value of the option that was chosen, or the answer in words. */
  readonly value: string;
}
/** The answer of a completed query of ours; undefined for any other Task. */
export function readAnswer(task: Task): Answered | undefined {
  const id = task.identifier?.find((i) => i.system === QUERY)?.value;
  const said = task.output?.find((o) => o.valueString !== undefined)?.valueString;
  if (task.status !== "completed" || id === undefined || said === undefined) return undefined;
  const at = id.lastIndexOf(":");
  const chosen = task.input?.find((i) => i.valueString === said)?.type.coding?.[0]?.code;
  return { encounter: id.slice(0, at), gap: id.slice(at + 1), value: chosen ?? said };
}

export interface QueryTo {
  /** "QuestionnaireResponse/12": the signed findings it is about. */
  readonly record: string;
  /** False: the record is known by its plan alone, and no encounter is pointed to. */
  readonly hasEncounter: boolean;
  readonly patient: string;
  /** Who signed the findings; undefined: anybody who treats the patient. */
  readonly clinician?: Reference | undefined;
  readonly coder: Reference;
  /** Instant with offset. */
  readonly at: string;
}
/** The question as the coder sends it: `focus` finds it from the record, `owner` is who signed. */
export function sentQuery(gap: Gap, encounter: EncounterToCode, to: QueryTo): Task {
  const { encounter: pointed, ...task } = queryTask(gap, encounter, to.at);
  const { digits } = encounter.record;
  // "This digit" must be told apart where several are hurt.
  const of = digits.length > 1 && gap.digit !== undefined ? digits[gap.digit] : undefined;
  const where = of && digitWords(of.digit, of.side);
  return {
    ...task,
    ...(where ? { description: `${where.charAt(0).toUpperCase()}${where.slice(1)}: ${gap.text}` } : {}),
    status: "requested",
    ...(to.hasEncounter ? { encounter: pointed! } : {}),
    for: { reference: to.patient },
    focus: { reference: to.record },
    lastModified: to.at,
    requester: to.coder,
    ...(to.clinician ? { owner: to.clinician } : {}),
  };
}
const copyOf = (stored: Readonly<Record<string, unknown>>): Task => {
  const copy = structuredClone(stored) as unknown as Task;
  const { versionId: _version, lastUpdated: _updated, ...meta } = copy.meta ?? {};
  if (Object.keys(meta).length > 0) copy.meta = meta;
  else delete copy.meta;
  return copy;
};
/** The stored question with the clinician's answer: the words of an option, or words of their own. */
export function answeredQuery(
  stored: Readonly<Record<string, unknown>>,
  words: string,
  { clinician, at }: { readonly clinician: Reference; readonly at: string },
): Task {
  return {
    ...copyOf(stored),
    status: "completed",
    lastModified: at,
    owner: clinician,
    output: [{ type: { coding: [coding(KIND, "answer", "Answer")], text: "answer" }, valueString: words.trim() }],
  };
}
/** The stored question taken back: nobody has to answer it any more. */
export const withdrawnQuery = (stored: Readonly<Record<string, unknown>>, at: string): Task => ({
  ...copyOf(stored),
  status: "cancelled",
  lastModified: at,
});

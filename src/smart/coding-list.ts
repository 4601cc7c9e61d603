/**
 * The coder's work over FHIR: signed records by their day, read in bounded pages; one record with its diagnoses, read afresh; questions sent,
 * taken back and answered; codes written on sign-off over the versions that were read.
 */
import type { CarePlan, Reference } from "fhir/r4";
import { CODE_LINE } from "../fhir/coded-encounter.ts";
import {
  type AskedInjury,
  type CodedEncounter,
  type CodingCase,
  codingCases,
  type EncounterToCode,
  type Gap,
  readQuery,
  type SentQuery,
} from "../fhir/coding-case.ts";
import { answeredQuery, OPEN_QUERY, QUERY, sentQuery, withdrawnQuery } from "../fhir/coding-query.ts";
import { type ActingCoder, type KeptLine, signing } from "../fhir/coding-signing.ts";
import { PLAN_ITEM } from "../fhir/codings.ts";
import type { Held } from "../fhir/listed-visit.ts";
import { type ActReport, written } from "./booking.ts";
import { verdictOf } from "./one-transaction.ts";
import type { Problem } from "./problem.ts";
import type { ClinicSession, Session } from "./session.ts";
import type { FhirAnswer, FhirProblem, FhirResource, SearchResult } from "./transport.ts";

export type Asking = Pick<ClinicSession, "fhir" | "can">;
type Answer<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly problem: FhirProblem };

export interface CodingDay {
  /** yyyy-MM-dd */
  readonly today: string;
  /** Zone of the clinic, for days. */
  readonly zone: string;
  readonly modules: readonly AskedInjury[];
}
export interface CasePage {
  /** The newest signing first. */
  readonly cases: readonly CodingCase[];
  /** Give it back for the next page; undefined on the last one. */
  readonly next?: string;
  /** Signed records of these days, as the server counts them. */
  readonly total?: number;
  readonly ended: number;
  readonly problems: readonly string[];
}
/** What is looked for on the server: open questions, or what was answered. Other states only a reader can tell. */
export interface CaseFilter {
  /** Days of signing, yyyy-MM-dd, both counted. */
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  readonly query?: "open" | "answered" | undefined;
}

const PAGE = 25;
/** Entries that point to one page of records. [common practice, no source] */
const BESIDE = 500;
const query = (type: string, parameters: readonly (readonly [string, string | undefined])[]): string =>
  `${type}?${new URLSearchParams(parameters.flatMap(([name, value]) => (value === undefined ? [] : [[name, value]])))}`;

/**
 * One page of signed records, the last signed first. What points to them (patients, plans, questions, earlier codes) is searched once for
 * the page: a server may leave `_include` and `_revinclude` aside (R4 search).
 */
export async function readCases(
  session: Asking,
  day: CodingDay,
  {
    filter = {},
    next,
    size = PAGE,
    signal,
  }: { filter?: CaseFilter; next?: string; size?: number; signal?: AbortSignal } = {},
): Promise<Answer<CasePage>> {
  const { from, to } = filter;
  const asked =
    next ??
    query("QuestionnaireResponse", [
      ["identifier", `${PLAN_ITEM}|`],
      ["status", "completed,amended"],
      ["authored", from && `ge${from}`],
      ["authored", to && `le${to}`],
      ["_has:Task:focus:status", filter.query && (filter.query === "open" ? OPEN_QUERY.join(",") : "completed")],
      ["_sort", "-authored"],
      ["_count", String(size)],
    ]);
  const answer = await session.fhir.search(asked, { limit: size, signal });
  if (!answer.ok) return answer;
  const records = answer.value.matches;
  const { resources, problems } = await besides(session, records, signal);
  const only = new Set(records.flatMap(({ id }) => id ?? []));
  const read = codingCases([...records, ...resources], day.modules, { ...day, only });
  const { next: more, total } = answer.value;
  return {
    ok: true,
    value: {
      cases: read.cases,
      ended: read.ended,
      ...(more ? { next: more } : {}),
      ...(total === undefined ? {} : { total }),
      problems: [...cut("signed records", answer.value, next !== undefined), ...problems, ...read.problems],
    },
  };
}
const cut = (what: string, { stoppedBy, unreadable }: SearchResult, later = false): string[] => [
  ...(stoppedBy !== undefined && stoppedBy !== "limit" && !(later && stoppedBy === "total")
    ? [`Not all ${what} could be read: this list is not complete. Read it again.`]
    : []),
  ...(unreadable > 0 ? [`${unreadable} ${what} came in a form that cannot be read and are missing here.`] : []),
];

/** What belongs to these records: patients, plans, questions and earlier signings. */
async function besides(session: Asking, records: readonly FhirResource[], signal: AbortSignal | undefined) {
  const problems: string[] = [];
  const resources: FhirResource[] = [];
  const references = records.map((r) => `QuestionnaireResponse/${r.id}`);
  const known = new Set(references);
  const patients = records.flatMap(
    (r) => /^Patient\/(.+)$/.exec(String((r.subject as Reference | undefined)?.reference))?.[1] ?? [],
  );
  const plans = records.flatMap((r) => {
    const { system, value } = (r.identifier ?? {}) as { system?: string; value?: string };
    return system === PLAN_ITEM && value ? [`${PLAN_ITEM}|${value.slice(0, value.lastIndexOf(":"))}:plan`] : [];
  });
  const look = async (type: string, parameter: string, values: readonly string[], what: string) => {
    if (values.length === 0) return;
    const found = await session.fhir.search(
      query(type, [
        [parameter, [...new Set(values)].join(",")],
        ["_count", String(BESIDE)],
      ]),
      { limit: BESIDE, signal },
    );
    if (!found.ok) problems.push(`${what} could not be read: ${found.problem.title}`);
    else {
      for (const one of found.value.matches) {
        const name = `${one.resourceType}/${one.id}`;
        if (!known.has(name)) resources.push(one);
        known.add(name);
      }
      problems.push(...cut(what.toLowerCase(), found.value));
    }
  };
  await Promise.all([
    look("Patient", "_id", patients, "Patients"),
    look("CarePlan", "identifier", plans, "Plans"),
    look("Task", "focus", references, "Questions"),
    look("Provenance", "target", references, "Earlier codes"),
  ]);
  await revisions();
  return { resources, problems };

  /** What plans of the page take the place of, with how that was coded; and what took the place of those that ended. */
  async function revisions(): Promise<void> {
    const read = resources.filter((r) => r.resourceType === "CarePlan") as unknown as CarePlan[];
    const named = (one: CarePlan) => `CarePlan/${one.id}`;
    const old = read.flatMap(
      (plan) => plan.replaces?.flatMap(({ reference }) => reference?.split("/").at(-1) ?? []) ?? [],
    );
    const ended = read.filter(({ status }) => status === "revoked").map(named);
    await Promise.all([
      look("CarePlan", "_id", old, "Earlier plans"),
      look("CarePlan", "replaces", ended, "Later plans"),
    ]);
    const findings = (resources as unknown as CarePlan[])
      .filter(({ resourceType, id }) => resourceType === "CarePlan" && id !== undefined && old.includes(id))
      .flatMap(
        ({ identifier }) =>
          identifier?.flatMap(({ system, value }) => (system === PLAN_ITEM ? (value ?? []) : [])) ?? [],
      )
      .map((item) => `${PLAN_ITEM}|${item.slice(0, item.lastIndexOf(":"))}:findings`);
    const before = resources.length;
    // Those of the page itself are here already, with their codes.
    await look("QuestionnaireResponse", "identifier", findings, "Earlier records");
    const targets = resources.slice(before).map(({ id }) => `QuestionnaireResponse/${id}`);
    await look("Provenance", "target", targets, "Earlier codes");
  }
}

export interface OpenedCase {
  readonly of: CodingCase;
  /** Our diagnoses of the record, as stored. */
  readonly conditions: readonly Held[];
  readonly problems: readonly string[];
}
const CASE_GONE: Problem = {
  kind: "coding",
  title: "This record is not there to be coded any more.",
  what: "It was withdrawn or changed in the meantime.",
  next: "Go back to the list and read it again.",
};
const heldOf = (resource: FhirResource): Held => ({
  reference: `${resource.resourceType}/${resource.id}`,
  version: (resource.meta as { versionId?: string } | undefined)?.versionId,
  resource,
});
/** One record as it stands now, with the diagnoses that its codes are written to. */
export async function openCase(
  session: Asking,
  day: CodingDay,
  { record, patient, planId, encounter }: Pick<CodingCase, "record" | "patient" | "planId" | "encounter">,
): Promise<{ readonly ok: true; readonly value: OpenedCase } | { readonly ok: false; readonly problem: Problem }> {
  const read = await session.fhir.read(record.reference);
  if (!read.ok) return read;
  const [beside, diagnoses] = await Promise.all([
    besides(session, [read.value], undefined),
    session.fhir.search(
      query("Condition", [
        ["patient", patient.reference.slice("Patient/".length)],
        ["identifier", `${PLAN_ITEM}|,${CODE_LINE}|`],
        ["_count", String(BESIDE)],
      ]),
      { limit: BESIDE },
    ),
  ]);
  if (!diagnoses.ok) return diagnoses;
  const only = new Set(read.value.id === undefined ? [] : [read.value.id]);
  const { cases, problems } = codingCases([read.value, ...beside.resources], day.modules, { ...day, only });
  const [of] = cases;
  if (!of) return { ok: false, problem: CASE_GONE };
  const ours = diagnoses.value.matches.filter(
    (condition) =>
      of.addresses.includes(`Condition/${condition.id}`) ||
      ((condition.identifier ?? []) as { value?: string }[]).some(({ value }) =>
        [`${planId}:`, `${encounter.id}:`].some((start) => value?.startsWith(start)),
      ),
  );
  return {
    ok: true,
    value: {
      of,
      conditions: ours.map(heldOf),
      problems: [...beside.problems, ...problems, ...cut("diagnoses", diagnoses.value)],
    },
  };
}

export type SendReport =
  | { readonly outcome: "done" }
  | { readonly outcome: "not-done" | "conflict" | "unknown"; readonly problem: Problem };

const why = (kind: string, title: string, what: string, next: string): Problem => ({ kind, title, what, next });
/** Seconds that a sign-in must still last. [common practice, no source] */
const LASTING = 60;
async function coderOf(session: Acting): Promise<{ ok: true; who: Reference } | { ok: false; problem: Problem }> {
  if (!(await session.lastsFor(LASTING)))
    return {
      ok: false,
      problem: why(
        "coding",
        "Your sign-in is about to end.",
        "Nothing was written.",
        "Open Fingerpost again, then go on.",
      ),
    };
  const signer = await session.signer();
  if (!signer.ok)
    return {
      ok: false,
      problem: why(
        "coding",
        "It is not certain who is signed in.",
        `${signer.reason} Nothing was written.`,
        "Open Fingerpost again.",
      ),
    };
  return { ok: true, who: { reference: signer.reference, ...(signer.name ? { display: signer.name } : {}) } };
}
type Acting = Pick<ClinicSession, "context" | "fhir" | "can" | "lastsFor" | "signer">;

const sent = (answer: FhirAnswer<FhirResource | undefined>): SendReport => {
  if (answer.ok) return { outcome: "done" };
  const verdict = verdictOf(answer);
  return {
    outcome: verdict === "conflict" ? "conflict" : verdict === "unknown" ? "unknown" : "not-done",
    problem: answer.problem,
  };
};
/** Sends one question to who signed the record; the same question is never stored twice (conditional create). */
export async function ask(
  session: Acting,
  of: CodingCase,
  gap: Gap,
  encounter: EncounterToCode,
  at: string,
): Promise<SendReport> {
  const coder = await coderOf(session);
  if (!coder.ok) return { outcome: "not-done", problem: coder.problem };
  const task = sentQuery(gap, encounter, {
    record: of.record.reference,
    hasEncounter: of.record.resource.encounter !== undefined,
    patient: of.patient.reference,
    ...(of.signer ? { clinician: { reference: of.signer, display: of.signedBy } } : {}),
    coder: coder.who,
    at,
  });
  // A question that was taken back may be asked again: only one that is open or answered stands in the way.
  const standing = [...OPEN_QUERY, "completed"].join(",");
  return sent(
    await session.fhir.write("Task", JSON.stringify(task), {
      headers: { "if-none-exist": `identifier=${QUERY}|${encounter.id}:${gap.key}&status=${standing}` },
    }),
  );
}
const put = async (session: Pick<Acting, "fhir">, { held }: SentQuery, next: object) =>
  sent(
    await session.fhir.write(held.reference, JSON.stringify(next), {
      method: "PUT",
      ...(held.version ? { headers: { "if-match": `W/"${held.version}"` } } : {}),
    }),
  );
/** Takes a question back, over the version that was read. */
export const takeBack = (session: Pick<Acting, "fhir">, one: SentQuery, at: string): Promise<SendReport> =>
  put(session, one, withdrawnQuery(one.held.resource, at));

/** Open questions about one patient, the oldest first: for the clinician who has the chart open. */
export async function openQueries(
  session: Pick<Session, "fhir">,
  patientId: string,
): Promise<Answer<readonly SentQuery[]>> {
  const found = await session.fhir.search(
    query("Task", [
      ["patient", patientId],
      ["identifier", `${QUERY}|`],
      ["status", OPEN_QUERY.join(",")],
      ["_count", String(BESIDE)],
    ]),
    { limit: BESIDE },
  );
  if (!found.ok) return found;
  const ofPatient = found.value.matches.filter(
    (task) => (task.for as Reference | undefined)?.reference === `Patient/${patientId}`,
  );
  const read = ofPatient.flatMap((task) => readQuery(task) ?? []).filter((one) => one.state === "open");
  return { ok: true, value: read.sort((a, b) => (a.askedOn ?? "").localeCompare(b.askedOn ?? "")) };
}
/** The clinician's own answer, signed with their verified name, over the version that was read. */
export async function answerQuery(session: Acting, one: SentQuery, words: string, at: string): Promise<SendReport> {
  const clinician = await coderOf(session);
  if (!clinician.ok) return { outcome: "not-done", problem: clinician.problem };
  return put(session, one, answeredQuery(one.held.resource, words, { clinician: clinician.who, at }));
}

export type SigningReport =
  | { readonly outcome: "done"; readonly problem?: Problem }
  /** The record or a diagnosis was changed since it was read: nothing was written. Open the case again and compare. */
  | { readonly outcome: "changed"; readonly problem: Problem }
  | { readonly outcome: "not-done" | "unknown" | "part"; readonly problem: Problem };

const CHANGED = why(
  "coding",
  "This record was changed since you opened it.",
  "Nothing was written over it.",
  "Compare what is different below, then sign again.",
);
/** Writes what the coder signed. The record is looked at afresh; each diagnosis is written over the version that was read, or not at all. */
export async function signCodes(
  session: Acting,
  { of, conditions }: OpenedCase,
  coded: CodedEncounter,
  lines: readonly KeptLine[],
  staff: Omit<ActingCoder, "signer">,
  wait?: (ms: number) => Promise<void>,
): Promise<SigningReport> {
  const not = (problem: Problem): SigningReport => ({ outcome: "not-done", problem });
  if (!session.can("Condition", "u") || !session.can("Condition", "c"))
    return not(
      why(
        "coding",
        "Codes cannot be written here.",
        "The record system did not give the right to it.",
        "Ask for the right to code.",
      ),
    );
  const coder = await coderOf(session);
  if (!coder.ok) return not(coder.problem);
  const made = signing({ ...of, encounter: coded.encounter }, coded, lines, conditions, {
    ...staff,
    signer: { reference: coder.who.reference!, display: coder.who.display },
  });
  if (!made.ok) return not(why("coding", "This cannot be signed yet.", made.problem, "Change it and sign again."));
  const now = await session.fhir.read(of.record.reference);
  if (!now.ok) return not(now.problem);
  if (heldOf(now.value).version !== of.record.version) return { outcome: "changed", problem: CHANGED };
  const report: ActReport = await written(session, { name: "code", steps: made.steps }, wait);
  switch (report.outcome) {
    case "done":
      return { outcome: "done" };
    case "time-taken":
    case "visit-changed":
      return { outcome: "changed", problem: CHANGED };
    case "unknown":
      return {
        outcome: "unknown",
        problem: { ...report.problem, next: "Open this record again and look at its history before you sign." },
      };
    case "part":
      return { outcome: "part", problem: { ...report.problem, next: "Open this record again and look at its codes." } };
    case "not-done":
      return not(report.problem);
  }
}

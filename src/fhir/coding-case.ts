/**
 * What a coder reads of one signed record: whose, of which day, who confirmed what and from where, which questions were sent and answered,
 * what was coded before. From the findings as they were signed and the entries that point to them. Pure.
 */
import * as z from "zod/mini";
import { answerGap } from "../coding/answer-gap.ts";
import type { CodedEncounter, EncounterKind, EncounterToCode } from "../coding/encounter.ts";
import type { Answers, AskedInjury, CaseRecord, UsedFinding } from "../pathway/index.ts";
import { Reading, typeOf } from "./chart-resource.ts";
import { OPEN_QUERY, QUERY } from "./coding-query.ts";
import { readSigning, type Signing } from "./coding-signing.ts";
import { digitWords, isDigitGroup, PLAN_ITEM } from "./codings.ts";
import { localOf } from "./dates.ts";
import { findingsBack, responseShape } from "./findings-back.ts";
import type { Held } from "./listed-visit.ts";
import { readPatient } from "./patient.ts";
import { isPlainJson } from "./plain-json.ts";
import { conceptShape, conceptWords, identifierShape, referenceShape } from "./shapes.ts";

/** What the carrier of these records hands on without reading it. */
export type { CodedEncounter, EncounterToCode } from "../coding/encounter.ts";
export type { Gap } from "../coding/gaps.ts";
export type { AskedInjury } from "../pathway/index.ts";

export const CASE_STATES = ["to-code", "asked", "answered", "coded", "changed"] as const;
/** "asked": a question is open; "answered": answered since it was last coded; "changed": the record was changed after it was coded. */
export type CaseState = (typeof CASE_STATES)[number];

/** One question to the clinician, as stored. */
export interface SentQuery {
  readonly held: Held;
  /** "Q-DISP@0" */
  readonly gap: string;
  readonly state: "open" | "answered" | "withdrawn";
  readonly title: string;
  readonly text: string;
  readonly options: readonly { readonly value: string; readonly words: string }[];
  readonly askedOn?: string | undefined;
  readonly askedBy?: string | undefined;
  readonly to?: string | undefined;
  readonly answer?: { readonly value: string; readonly words: string; readonly at?: string | undefined } | undefined;
}
/** Where one answer of the findings comes from. */
export interface Source {
  /** "" when the clinician gave the answer; else what it was confirmed from or differs from. */
  readonly words: string;
  /** "ImagingStudy/12", where an entry was named. */
  readonly entry?: string | undefined;
  readonly label?: string | undefined;
}
export interface CodingCase {
  readonly planId: string;
  /** The signed findings, in the version that was read. */
  readonly record: Held;
  readonly patient: { readonly reference: string; readonly name: string; readonly born?: string | undefined };
  /** Day of service, yyyy-MM-dd. */
  readonly day: string;
  readonly signedBy: string;
  readonly signer?: string | undefined;
  readonly signedAt: string;
  /** "left ring finger" */
  readonly digits: string;
  readonly state: CaseState;
  readonly encounter: EncounterToCode;
  /** Why the kind of encounter is taken to be what it is. */
  readonly kindBecause: string;
  /** By the path of the answer: "digit.0.openness". */
  readonly sources: ReadonlyMap<string, Source>;
  readonly queries: readonly SentQuery[];
  /** What was signed by coders, the newest first. */
  readonly signings: readonly Signing[];
  /** What was signed for the record of the same encounter that this one takes the place of. */
  readonly before: readonly Signing[];
  /** Diagnoses that the plan names, as "Condition/12": also those that stood before it. */
  readonly addresses: readonly string[];
  /** Answers of the record that this version does not know. */
  readonly notUnderstood: readonly string[];
}

const answer = z.object({
  extension: z.optional(
    z.array(
      z.object({
        url: z.string(),
        valueCode: z.optional(z.string()),
        valueReference: z.optional(referenceShape),
      }),
    ),
  ),
});
const recordShape = z.object({
  ...responseShape.shape,
  resourceType: z.literal("QuestionnaireResponse"),
  id: z.string(),
  meta: z.optional(z.object({ versionId: z.optional(z.string()) })),
  modifierExtension: z.optional(z.array(z.unknown()).check(z.maxLength(0, "a modifier that is not known here"))),
  identifier: z.optional(identifierShape),
  encounter: z.optional(referenceShape),
});
const originShape = z.object({
  item: z.optional(
    z.array(
      z.object({
        linkId: z.string(),
        item: z.optional(z.array(z.object({ linkId: z.string(), answer: z.optional(z.array(answer)) }))),
      }),
    ),
  ),
});
const taskShape = z.object({
  resourceType: z.literal("Task"),
  id: z.string(),
  meta: z.optional(z.object({ versionId: z.optional(z.string()) })),
  modifierExtension: z.optional(z.array(z.unknown()).check(z.maxLength(0, "a modifier that is not known here"))),
  identifier: z.optional(z.array(identifierShape)),
  status: z.string(),
  code: z.optional(conceptShape),
  description: z.optional(z.string()),
  focus: z.optional(referenceShape),
  authoredOn: z.optional(z.string()),
  lastModified: z.optional(z.string()),
  requester: z.optional(referenceShape),
  owner: z.optional(referenceShape),
  input: z.optional(z.array(z.object({ type: conceptShape, valueString: z.optional(z.string()) }))),
  output: z.optional(z.array(z.object({ valueString: z.optional(z.string()) }))),
});
const planShape = z.object({
  resourceType: z.literal("CarePlan"),
  id: z.string(),
  status: z.string(),
  created: z.optional(z.string()),
  encounter: z.optional(referenceShape),
  identifier: z.optional(z.array(identifierShape)),
  replaces: z.optional(z.array(referenceShape)),
  addresses: z.optional(z.array(referenceShape)),
});
type StoredPlan = z.infer<typeof planShape> & { readonly planId: string };
/** Two plans of one encounter; where none is named, of one day. */
const ofOneEncounter = (a: StoredPlan, b: StoredPlan): boolean =>
  a.encounter?.reference !== undefined && b.encounter?.reference !== undefined
    ? a.encounter.reference === b.encounter.reference
    : a.created !== undefined && a.created.slice(0, 10) === b.created?.slice(0, 10);
const replacesIt = (plan: StoredPlan, old: StoredPlan): boolean =>
  plan.replaces?.some(({ reference }) => reference?.endsWith(`CarePlan/${old.id}`)) ?? false;

const SIGNED = ["completed", "amended"];
const ENDED = ["revoked", "entered-in-error"];

/** One stored Task as a question of ours; undefined when it is none, or a draft. */
export function readQuery(raw: unknown): SentQuery | undefined {
  const read = taskShape.safeParse(raw);
  if (!read.success || !isPlainJson(raw)) return undefined;
  const { data } = read;
  const id = data.identifier?.find((i) => i.system === QUERY)?.value;
  if (id === undefined || data.status === "draft") return undefined;
  const options = (data.input ?? []).flatMap(({ type, valueString }) =>
    valueString === undefined ? [] : [{ value: type.coding?.[0]?.code ?? valueString, words: valueString }],
  );
  const words = data.output?.find((o) => o.valueString !== undefined)?.valueString;
  const answered = data.status === "completed" && words !== undefined;
  return {
    held: {
      reference: `Task/${data.id}`,
      version: data.meta?.versionId,
      resource: raw as Readonly<Record<string, unknown>>,
    },
    gap: id.slice(id.lastIndexOf(":") + 1),
    state: answered ? "answered" : OPEN_QUERY.includes(data.status) ? "open" : "withdrawn",
    title: conceptWords(data.code) ?? "Question",
    text: data.description ?? "",
    options,
    askedOn: data.authoredOn,
    askedBy: data.requester?.display ?? data.requester?.reference,
    to: data.owner?.display ?? data.owner?.reference,
    ...(answered
      ? { answer: { value: options.find((o) => o.words === words)?.value ?? words, words, at: data.lastModified } }
      : {}),
  };
}

export interface CasesRead {
  readonly cases: readonly CodingCase[];
  /** Signed records that are not to be coded: their plan was withdrawn or replaced. */
  readonly ended: number;
  readonly problems: readonly string[];
}

/**
 * The signed records among these resources (QuestionnaireResponse, with their Patient, Task, Provenance and CarePlan), in their order. What
 * cannot be read is named. @param zone of the clinic, for days
 */
export function codingCases(
  resources: readonly unknown[],
  modules: readonly AskedInjury[],
  { today, zone, only }: { readonly today: string; readonly zone: string; readonly only?: ReadonlySet<string> },
): CasesRead {
  const problems: string[] = [];
  let ended = 0;
  const plans = resources.flatMap((raw): StoredPlan[] => {
    const read = planShape.safeParse(raw);
    const item = read.success ? read.data.identifier?.find((i) => i.system === PLAN_ITEM)?.value : undefined;
    return read.success && item ? [{ ...read.data, planId: item.slice(0, item.lastIndexOf(":")) }] : [];
  });
  const cases = resources.flatMap((raw): CodingCase[] => {
    if (typeOf(raw) !== "QuestionnaireResponse") return [];
    if (only && !only.has(String((raw as { id?: unknown }).id))) return [];
    const read = recordShape.safeParse(raw);
    if (!read.success || !isPlainJson(raw)) {
      problems.push("A signed record came in a form that cannot be read and is missing here.");
      return [];
    }
    const { data } = read;
    const item = data.identifier?.system === PLAN_ITEM ? data.identifier.value : undefined;
    if (!item || !SIGNED.includes(data.status)) return [];
    const planId = item.slice(0, item.lastIndexOf(":"));
    const plan = plans.find((p) => p.planId === planId);
    // A plan that was revised at a later encounter ends; what was done at this one is coded all the same.
    const revised = plan && plans.find((p) => replacesIt(p, plan));
    if (plan && ENDED.includes(plan.status) && (!revised || ofOneEncounter(plan, revised))) {
      ended++;
      return [];
    }
    const found = findingsBack(data, modules, zone);
    const patientId = /^Patient\/([^/]+)$/.exec(data.subject?.reference ?? "")?.[1];
    if (!found || found.digits.length === 0 || patientId === undefined) {
      problems.push(
        `QuestionnaireResponse/${data.id} is a record of another injury or names no patient: code it by hand.`,
      );
      return [];
    }
    const { summary } = readPatient(
      resources.filter((r) => typeOf(r) !== "Patient" || (r as { id?: unknown }).id === patientId),
      new Reading(patientId, today, zone, undefined),
    );
    const reference = `QuestionnaireResponse/${data.id}`;
    const encounterId = /^Encounter\/([^/]+)$/.exec(data.encounter?.reference ?? "")?.[1];
    const signedAt = data.authored ?? "";
    const day = (found.assessedAt ?? localOf(signedAt, zone)).slice(0, 10);
    const queries = resources
      .flatMap((r) =>
        typeOf(r) === "Task" && pointsTo((r as { focus?: unknown }).focus, reference) ? (readQuery(r) ?? []) : [],
      )
      .sort((a, b) => (a.askedOn ?? "").localeCompare(b.askedOn ?? ""));
    const signings = resources.flatMap((r) => readSigning(r, reference) ?? []).sort((a, b) => b.at.localeCompare(a.at));
    const before = plans
      .filter((old) => plan && replacesIt(plan, old) && ofOneEncounter(plan, old))
      .flatMap((old) => recordsOf(resources, old.planId))
      .flatMap((old) => resources.flatMap((r) => readSigning(r, old) ?? []))
      .sort((a, b) => b.at.localeCompare(a.at));
    const signedBy = data.author?.display ?? data.author?.reference ?? "not stated";
    const proposed = kindOf(plan);
    const coded = signings[0] ?? before[0];
    const kind = coded?.kind ?? proposed.kind;
    const { digits } = found;
    return [
      {
        planId,
        record: {
          reference,
          version: data.meta?.versionId,
          resource: raw as Readonly<Record<string, unknown>>,
        },
        patient: {
          reference: `Patient/${patientId}`,
          name: summary?.name ?? "Name not read",
          born: summary?.birthDate,
        },
        day,
        signedBy,
        signer: data.author?.reference,
        signedAt,
        digits: digits.map((d) => digitWords(d.digit, d.side)).join(", "),
        state: stateOf(queries, signings, before, data.meta?.versionId),
        encounter: {
          id: encounterId ?? planId,
          patient: patientId,
          date: day,
          kind,
          record: recordOf(found, day) as EncounterToCode["record"],
        },
        kindBecause: coded ? "As it was coded before." : proposed.because,
        sources: sourcesOf(raw),
        queries,
        signings,
        before,
        addresses: plan?.addresses?.flatMap(({ reference }) => reference ?? []) ?? [],
        notUnderstood: found.notUnderstood,
      },
    ];
  });
  return { cases, ended, problems };
}
/** References of the signed findings of one plan. */
const recordsOf = (resources: readonly unknown[], planId: string): string[] =>
  resources.flatMap((raw) => {
    const { resourceType, id, identifier } = raw as { resourceType?: unknown; id?: unknown; identifier?: unknown };
    const { system, value } = (identifier ?? {}) as { system?: unknown; value?: unknown };
    return resourceType === "QuestionnaireResponse" && system === PLAN_ITEM && String(value).startsWith(`${planId}:`)
      ? [`QuestionnaireResponse/${id}`]
      : [];
  });
const recordOf = (
  found: { injuredAt?: string; injury: Answers; patient: Answers; digits: readonly Answers[] },
  day: string,
): CaseRecord =>
  ({
    ...(found.injuredAt ? { injuredAt: found.injuredAt } : {}),
    assessedAt: `${day}T12:00`,
    patient: found.patient,
    injury: found.injury,
    digits: [...found.digits],
  }) as CaseRecord;

const pointsTo = (reference: unknown, to: string): boolean =>
  String((reference as { reference?: unknown } | undefined)?.reference ?? "")
    .replace(/\/_history\/.*$/, "")
    .endsWith(to);

/** A first signed plan is evaluation and treatment by the clinician: active treatment (ICD-10-CM guideline I.C.19.a). A later one may be either: the coder says. */
function kindOf(plan: z.infer<typeof planShape> | undefined): { kind: EncounterKind; because: string } {
  if (plan && !plan.replaces?.length)
    return {
      kind: "initial",
      because: "The first signed plan for this injury: it was assessed and treated at this encounter.",
    };
  return {
    kind: "not-stated",
    because: plan
      ? "The plan replaces an earlier one: read in the record what this encounter was for."
      : "No plan was found beside the findings: read in the record what this encounter was for.",
  };
}

function stateOf(
  queries: readonly SentQuery[],
  [last]: readonly Signing[],
  before: readonly Signing[],
  version: string | undefined,
): CaseState {
  if (queries.some((q) => q.state === "open")) return "asked";
  if (
    queries.some(
      (q) => q.answer && (!last || ((q.answer.at ?? "") > last.at && !last.answers.includes(q.held.reference))),
    )
  )
    return "answered";
  if (!last) return before.length > 0 ? "changed" : "to-code";
  return last.recordVersion !== undefined && version !== undefined && last.recordVersion !== version
    ? "changed"
    : "coded";
}

const ORIGINS: Readonly<Record<string, string>> = {
  "chart-confirmed": "confirmed from the chart",
  "chart-changed": "changed by the clinician; the chart says otherwise",
  "draft-confirmed": "from the clinician's saved draft",
  "draft-changed": "changed from the clinician's saved draft",
  "others-draft-confirmed": "confirmed from a colleague's draft",
  "others-draft-changed": "changed from a colleague's draft",
  "earlier-confirmed": "confirmed from an earlier signed plan",
  "earlier-changed": "changed; an earlier signed plan says otherwise",
};
function sourcesOf(raw: unknown): Map<string, Source> {
  const read = originShape.safeParse(raw);
  const sources = new Map<string, Source>();
  let digit = -1;
  for (const group of read.success ? (read.data.item ?? []) : []) {
    const ofDigit = isDigitGroup(group.linkId);
    if (ofDigit) digit++;
    const path = ofDigit ? `digit.${digit}` : group.linkId;
    for (const { linkId, answer: [given] = [] } of group.item ?? []) {
      const of = (part: string) => given?.extension?.find((e) => e.url.endsWith(`/${part}`));
      const entry = of("answer-origin-entry")?.valueReference;
      sources.set(`${path}.${linkId}`, {
        words: ORIGINS[of("answer-origin")?.valueCode ?? ""] ?? "",
        entry: entry?.reference,
        label: entry?.display,
      });
    }
  }
  return sources;
}

/** Says a finding as the clinician was asked it: "Nail bed: Star-shaped cut". */
export const sayFinding =
  (module: Pick<AskedInjury, "questions">) =>
  ({ finding, value }: UsedFinding): string => {
    const question = module.questions.find((q) => q.finding === finding);
    const said = question?.options?.find((o) => o.value === value)?.label ?? String(value);
    return `${(question?.wording ?? finding).replace(/\?$/, "")}: ${said}`;
  };

export interface WithAnswers {
  readonly encounter: EncounterToCode;
  /** Answers in words, which no rule can read: for the coder. */
  readonly toRead: readonly SentQuery[];
}
/** The encounter with the clinician's answers to queries; `code` codes an encounter without what would change it. */
export function withAnswers(
  encounter: EncounterToCode,
  queries: readonly SentQuery[],
  code: (encounter: EncounterToCode) => Pick<CodedEncounter, "gaps">,
): WithAnswers {
  const toRead: SentQuery[] = [];
  let now = encounter;
  for (const query of queries) {
    if (!query.answer) continue;
    const gap = code(now).gaps.find((g) => g.key === query.gap);
    if (!gap) continue;
    try {
      now = answerGap(now, gap, query.answer.value);
    } catch (error) {
      if (!(error instanceof RangeError)) throw error;
      toRead.push(query);
    }
  }
  return { encounter: now, toRead };
}

import type {
  Appointment,
  CarePlan,
  Condition,
  DocumentReference,
  FhirResource,
  Provenance,
  QuestionnaireResponse,
  Reference,
  ServiceRequest,
} from "fhir/r4";
import type { CodeTable } from "../coding/tables.ts";
import type {
  CaseAssessment,
  CaseRecord,
  Citation,
  Facts,
  InjuryModule,
  Line,
  Reason,
  SitePolicy,
} from "../pathway/index.ts";
import { STRENGTH_WORDS } from "../pathway/index.ts";
import type { Chart } from "./chart.ts";
import { type Act, digitWords, ownExtension, text } from "./codings.ts";
import type { EarlierPlan } from "./earlier.ts";

/** "I decide differently": what the rule proposed, what the clinician decided, and why. */
export interface Override {
  readonly rule: string;
  readonly proposed: string;
  readonly decided: string;
  readonly reason: string;
  /** The part of the advice it changes; absent: it is only noted. */
  readonly on?: DecidedPart;
  /** Place of the digit; of no meaning for the urgency, which is the whole case's. */
  readonly digit?: number;
  /** Id of what was decided, where there is one: an urgency or a management call. */
  readonly choice?: string;
}
export const DECIDED_PARTS = ["urgency", "management", "splint", "antibiotic", "tetanus"] as const;
export type DecidedPart = (typeof DECIDED_PARTS)[number];
/** Where a confirmed answer came from; path "patient.diabetes", "injury.mechanism" or "digit.0.side". */
export interface AnswerOrigin {
  /** "draft": the clinician's own unsigned draft; "others-draft": one of somebody else; "earlier": a signed plan of this program. */
  readonly kind: "clinician" | `${"chart" | "draft" | "others-draft" | "earlier"}-${"confirmed" | "changed"}`;
  readonly reference?: string;
  /** Whose draft it was: "Draft by Dr Ada Okafor, 9 Mar 2026". */
  readonly label?: string;
  /** What the chart or the earlier record said, when the clinician changed it. */
  readonly chartSaid?: string;
}
export type AnswerOrigins = { readonly [path: string]: AnswerOrigin };

export interface DraftInput {
  readonly record: CaseRecord;
  readonly assessment: CaseAssessment;
  readonly module: InjuryModule;
  readonly chart?: Pick<Chart, "used" | "imaging">;
  /** Findings that made a rule speak, by rule id: written beside the line. */
  readonly reasons?: { readonly [rule: string]: Reason };
  /** An answer without an origin was given by the clinician. */
  readonly origins?: AnswerOrigins;
  readonly overrides?: readonly Override[];
  /** The site's windows give a referral its last day; absent: a referral has none. Which codes are written is the site's choice, too. */
  readonly policy?: SitePolicy;
  /** What the rules derive of each digit, by its place: an opening may follow from other answers than the one about it. */
  readonly signs?: readonly Facts[];
  /** Parts of the advice that open answers keep undecided, in sentences. */
  readonly undecided?: readonly string[];
  /** UUID, made once when the draft opens: what makes every write idempotent. */
  readonly planId: string;
  /** Who saved the draft that is gone on with, where that was somebody else. */
  readonly draftedBy?: { readonly reference: string; readonly display?: string };
  readonly patientId: string;
  readonly patientName?: string;
  readonly encounterId?: string;
  readonly appVersion: string;
  /** The plan of the same injury whose place this one takes: what it already asks for keeps its days. */
  readonly revises?: Pick<EarlierPlan, "items"> | undefined;
  /** What came into the chart meanwhile and the clinician said to have seen, with the entries in the version that was seen. */
  readonly seenNews?: readonly { readonly words: string; readonly references: readonly string[] }[];
  /** A newer program was installed, and the clinician chose to sign with this one. */
  readonly olderProgram?: boolean;
  /** IANA time zone of the clinic; default: the machine's. */
  readonly zone?: string;
  /** Official descriptions for the day of service; absent: those of fractures alone. */
  readonly table?: CodeTable | undefined;
}

export type DraftKind = "findings" | "condition" | "request" | "visit" | "plan" | "document" | "provenance";
export type DraftResource =
  | QuestionnaireResponse
  | Condition
  | ServiceRequest
  | Appointment
  | CarePlan
  | DocumentReference
  | Provenance;

export interface EditableField {
  readonly id: string;
  readonly label: string;
  readonly type: "date" | "text" | "choice";
  readonly value: string;
  readonly options?: readonly { readonly value: string; readonly label: string }[];
  /** Bounds of a date, inclusive, yyyy-MM-dd. */
  readonly min?: string;
  readonly max?: string;
  readonly required: boolean;
}
export interface Change {
  readonly field: string;
  readonly label: string;
  readonly from: string;
  readonly to: string;
  readonly reason?: string;
}
export interface DraftItem {
  /** Stable within the plan: "plan", "condition-left-ring", "visit-film-fup-4". */
  readonly key: string;
  readonly kind: DraftKind;
  readonly title: string;
  /** What will be written, in sentences. */
  readonly words: readonly string[];
  readonly resource: DraftResource;
  /** "urn:uuid:..." by which the other items point to this one. */
  readonly urn: string;
  readonly edits: readonly EditableField[];
  readonly changes: readonly Change[];
  readonly removed?: { readonly reason: string };
  /** It goes over this diagnosis of the chart when it is signed, instead of standing beside it. A draft leaves that entry as it is. */
  readonly refines?: ExistingItem;
  /** It stands in the record as it is: not written again, only pointed to. */
  readonly stands?: ExistingItem;
}
export interface ExistingItem {
  /** "CarePlan/12" */
  readonly reference: string;
  readonly version?: string;
  /** As stored now: elements of others are kept. */
  readonly resource?: Readonly<Record<string, unknown>>;
}

/** Who acts, when. `at` is an instant with offset: freeze it when the review opens, so that what is shown is what is sent. */
export interface ActContext {
  readonly act: Act;
  readonly signer: { readonly reference: string; readonly display?: string };
  readonly at: string;
}

/** One kind of draft: how it reads, what of it may be edited, and what the clinician's act makes of it. */
export interface Writer<R extends DraftResource> {
  words(resource: R): string[];
  edits(resource: R): EditableField[];
  /** Changes the given copy; returns a sentence when the value is not allowed. */
  edit(resource: R, field: string, value: string): string | undefined;
  /** Sets on the given copy the statuses, people and dates of the act. */
  perform(resource: R, act: ActContext): void;
}

export const patientReference = (input: DraftInput): Reference => ({
  reference: `Patient/${input.patientId}`,
  ...(input.patientName ? { display: input.patientName } : {}),
});
export const encounterOf = (input: DraftInput) =>
  input.encounterId ? { encounter: { reference: `Encounter/${input.encounterId}` } } : {};
export const person = ({ signer }: ActContext): Reference => ({
  reference: signer.reference,
  ...(signer.display ? { display: signer.display } : {}),
});
/** Canonical of the rule set that asked for it (R4 instantiatesCanonical, with version). */
export const pathwayCanonical = ({ module, assessment }: DraftInput): string =>
  `https://fingerpost.example/fhir/PlanDefinition/${module.id}|${assessment.knowledgeVersion}`;
export const wordsOfDigit = (record: CaseRecord, at: number): string =>
  digitWords(record.digits[at]?.digit, record.digits[at]?.side);

const cited = ({ source, at, says, strength }: Citation): string =>
  `${source}${at ? `, ${at}` : ""} (${says === "against" ? "disagrees; " : ""}${STRENGTH_WORDS[strength]})`;

const RULE_BASIS = ownExtension("rule-basis");
/** Rule, reason, sources and the findings used, kept beside the line that they carry. */
export function ruleBasis(line: Line, reasons: DraftInput["reasons"]) {
  const used = (reasons?.[line.rule]?.used ?? []).map((u) => text("used", `${u.finding} = ${u.value}`));
  return {
    url: RULE_BASIS,
    extension: [
      text("rule", line.rule),
      text("because", line.because),
      ...line.sources.map((s) => text("source", cited(s))),
      ...used,
    ],
  };
}
/** Rule id of a line that `ruleBasis` marked. */
export const ruleOf = (of: { readonly extension?: FhirExtension[] | undefined }): string | undefined =>
  of.extension?.find((e) => e.url === RULE_BASIS)?.extension?.find((e) => e.url === "rule")?.valueString;
type FhirExtension = NonNullable<CarePlan["extension"]>[number];

export const XHTML = "http://www.w3.org/1999/xhtml";
const ENTITIES: Record<string, string> = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;" };
/** Control characters and lone surrogates: XML 1.0 and the R4 string type allow none of them. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: they are what must go
export const FORBIDDEN = /[\u0000-\u0008\u000B\u000C\u000E-\u001F\uFFFE\uFFFF]|\p{Surrogate}/gu;
export const escapeXml = (plain: string): string =>
  plain.replace(FORBIDDEN, "").replace(/[&<>"']/g, (c) => ENTITIES[c]!);
/** R4 Narrative: the words of the resource, escaped, with its standing said first. */
export const narrative = (
  standing: string,
  words: readonly string[],
): NonNullable<Extract<FhirResource, CarePlan>["text"]> => ({
  status: "generated",
  div: `<div xmlns="${XHTML}"><p><b>${escapeXml(standing)}</b></p><ul>${words.map((w) => `<li>${escapeXml(w)}</li>`).join("")}</ul></div>`,
});

/** Free text a clinician typed; trimmed, and long enough for a note but not for a chart. */
export const MAX_TEXT = 2000;
export const checkText = (value: string, required: boolean): string | undefined =>
  required && !value.trim()
    ? "Write something, or leave the whole item out."
    : value.length > MAX_TEXT
      ? `At most ${MAX_TEXT} characters; this has ${value.length}.`
      : undefined;
export const checkDay = (value: string): string | undefined =>
  /^\d{4}-\d{2}-\d{2}$/.test(value) &&
  !Number.isNaN(Date.parse(value)) &&
  new Date(Date.parse(value)).toISOString().startsWith(value)
    ? undefined
    : `"${value}" is not a date. Write year-month-day, for example 2026-05-04.`;
export const checkChoice = (
  value: string,
  options: readonly { readonly value: string; readonly label: string }[],
): string | undefined =>
  options.some((o) => o.value === value) ? undefined : `Choose one of: ${options.map((o) => o.label).join(", ")}.`;

/** 48 bits that tell keys apart, as hexadecimal digits (FNV-1a). No secret: a name, not a safeguard. */
export function fingerprint(text: string): string {
  let hash = 0xcbf29ce484222325n;
  for (const byte of new TextEncoder().encode(text)) hash = BigInt.asUintN(64, (hash ^ BigInt(byte)) * 0x100000001b3n);
  return BigInt.asUintN(48, hash ^ (hash >> 16n))
    .toString(16)
    .padStart(12, "0");
}

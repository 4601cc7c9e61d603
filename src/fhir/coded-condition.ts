import type { CodeableConcept, Coding, Condition } from "fhir/r4";
import { codesAtSignOff, type SignedCodes } from "../coding/at-sign-off.ts";
import { EDITION, type FractureFacts, fractureCode } from "../coding/fracture-code.ts";
import { COUNTED_OPEN, displacedOf, fractureSeen, openOf } from "../coding/from-findings.ts";
import { codePolicyOf, type OtherCode, SNOMED_SITES } from "../coding/other-systems.ts";
import { FRACTURE_TABLE, inForce, noEdition } from "../coding/tables.ts";
import { type Answers, isAbsent } from "../pathway/index.ts";
import { digitWords, hl7, ICD10CM, ownExtension, planItem, snomed } from "./codings.ts";
import { dateWords, machineZone, zonedOf } from "./dates.ts";
import {
  checkChoice,
  checkDay,
  checkText,
  type DraftInput,
  encounterOf,
  patientReference,
  person,
  type Writer,
} from "./draft-item.ts";

const ASSUMED = ownExtension("assumed-by-classification");
const FACTS = ownExtension("coded-facts");
const PENDING = ownExtension("film-pending");

const known = (value: unknown): boolean => value !== undefined && !isAbsent(value);

/** Why a fracture is left without a fracture code, in words; undefined when it gets one. */
function uncoded(digit: Answers): string | undefined {
  if (!fractureSeen(digit))
    return digit.fractureSite === "no-fracture-seen"
      ? "No fracture was seen, so no fracture code is given."
      : "The fracture is not confirmed, so no fracture code is given.";
  if (digit.tissueLoss === "amputation-replantable" || digit.tissueLoss === "amputation-not-replantable")
    return "Bone was lost with the tip: the coder decides between amputation and fracture.";
  if (digit.boneLesion === "yes")
    return "The bone looks diseased: the cause must be stated before a fracture is coded.";
  return known(digit.digit) ? undefined : "The digit is not stated, so no fracture code is given.";
}

const facts = (digit: Answers, displaced: FractureFacts["displaced"], open: FractureFacts["open"]): FractureFacts => ({
  digit: digit.digit as FractureFacts["digit"],
  side: digit.side === "left" || digit.side === "right" ? digit.side : "unknown",
  displaced,
  open,
});

type Named = { readonly code: string; readonly display: string };
const inSnomed = <K extends string>(codes: { readonly [k in K]: Named }) =>
  Object.fromEntries(Object.entries<Named>(codes).map(([k, { code, display }]) => [k, snomed(code, display)])) as {
    readonly [k in K]: Coding;
  };
export const SITE_SNOMED = inSnomed(SNOMED_SITES);

const group = (digit: unknown) => (digit === "thumb" ? "thumb" : "finger");
export function bodySiteOf(digit: Answers, withSnomed: boolean): CodeableConcept {
  return {
    ...(withSnomed && known(digit.digit) ? { coding: [SITE_SNOMED[group(digit.digit)]] } : {}),
    text: `Distal phalanx, ${digitWords(digit.digit, digit.side)}`,
  };
}
/** Names the diagnosis of one digit within its plan; a finger entered twice keeps two of them apart. */
export function conditionKey(digits: readonly Answers[], at: number): string {
  const { digit, side } = digits[at] ?? {};
  if (!known(digit) || !known(side)) return `condition-${at + 1}`;
  const before = digits.slice(0, at).some((d) => d.digit === digit && d.side === side);
  return `condition-${side}-${digit}${before ? `-${at + 1}` : ""}`;
}

const codingOf = ({ system, version, code, display }: Omit<OtherCode, "rule" | "because">): Coding => ({
  system,
  ...(version ? { version } : {}),
  code,
  display,
});

/** The codes of each digit, as the coder's desk proposes them first; a fracture's own code needs no other table. */
export function signedCodes({ record, assessment, signs, policy, table = FRACTURE_TABLE }: DraftInput) {
  const derived = record.digits.map((_, i) => ({
    classes: assessment.digits[i]?.classes ?? [],
    signs: signs?.[i] ?? {},
  }));
  const day = record.assessedAt.slice(0, 10);
  return codesAtSignOff(record, derived, { day, table, policy: codePolicyOf(policy) });
}
/** The diagnosis of one injured digit, coded where the confirmed findings allow it. */
export function draftCondition(input: DraftInput, at: number, signed: SignedCodes): Condition {
  const { record, assessment, zone = machineZone(), policy } = input;
  const wanted = codePolicyOf(policy);
  const digit = record.digits[at] ?? {};
  const where = digitWords(digit.digit, digit.side);
  const classes = assessment.digits[at]?.classes.map((c) => c.name) ?? [];
  const seen = fractureSeen(digit);
  const what = seen
    ? `Fracture of the distal phalanx, ${where}`
    : digit.fractureSite === "no-fracture-seen"
      ? `Finger tip injury, ${where}; no fracture seen`
      : `Finger tip injury, ${where}; fracture not confirmed`;
  const why = uncoded(digit);
  const opening = openOf(digit, assessment.digits[at]?.classes, input.signs?.[at]);
  const stated = facts(digit, displacedOf(digit), opening.open);
  const day = record.assessedAt.slice(0, 10);
  const inDate = inForce(EDITION, day);
  const icd = signed.first;
  const fracture = icd?.rule.startsWith("FX") ?? false;
  const coding = [...(icd ? [codingOf(icd)] : []), ...signed.others.map(codingOf)];
  const notCoded = !wanted.icd10cm ? undefined : inDate ? why : noEdition(day);
  const assumed = [
    ...(icd?.defaults ?? []),
    ...(fracture && opening.why ? [opening.why] : []),
    ...(notCoded ? [notCoded] : []),
  ];
  const films = (input.chart?.imaging ?? []).filter((i) => i.kind === "study").slice(0, 1);
  return {
    resourceType: "Condition",
    extension: [
      ...assumed.map((valueString) => ({ url: ASSUMED, valueString })),
      ...(seen || digit.fractureSite === "no-fracture-seen" ? [] : [{ url: PENDING, valueBoolean: true }]),
      // What the code was composed from, so that a later correction of one fact finds the others.
      ...(fracture
        ? [{ url: FACTS, extension: Object.entries(stated).map(([url, valueCode]) => ({ url, valueCode })) }]
        : []),
    ],
    identifier: [planItem(input.planId, conditionKey(record.digits, at))],
    clinicalStatus: { coding: [hl7("condition-clinical", "active")] },
    verificationStatus: { coding: [hl7("condition-ver-status", "provisional")] },
    category: [{ coding: [hl7("condition-category", "encounter-diagnosis", "Encounter Diagnosis")] }],
    code: {
      ...(coding.length ? { coding } : {}),
      text: classes.length ? `${what}: ${classes.join("; ")}` : what,
    },
    bodySite: [bodySiteOf(digit, wanted.snomed)],
    subject: patientReference(input),
    ...encounterOf(input),
    ...(record.injuredAt ? { onsetDateTime: zonedOf(record.injuredAt, zone) } : {}),
    ...(films.length
      ? { evidence: [{ detail: films.map((f) => ({ reference: f.from.reference, display: f.title })) }] }
      : {}),
  };
}

const DISPLACED = [
  { value: "yes", label: "displaced" },
  { value: "no", label: "not displaced" },
  { value: "unknown", label: "not stated" },
] as const;
const factsOfCondition = (condition: Condition): FractureFacts | undefined => {
  const kept = condition.extension?.find((e) => e.url === FACTS)?.extension;
  return kept ? (Object.fromEntries(kept.map((e) => [e.url, e.valueCode])) as unknown as FractureFacts) : undefined;
};

/** Without a film the diagnosis stays provisional even when it is signed. */
const stays = (condition: Condition): boolean => condition.extension?.some((e) => e.url === PENDING) ?? false;

export const conditionWriter: Writer<Condition> = {
  words(condition) {
    const icd = condition.code?.coding?.find((c) => c.system === ICD10CM);
    return [
      `Diagnosis: ${condition.code?.text ?? ""}.`,
      ...(icd ? [`Coded ${icd.code} (ICD-10-CM ${icd.version}): ${icd.display}.`] : []),
      ...(condition.extension ?? []).flatMap((e) => (e.url === ASSUMED && e.valueString ? [e.valueString] : [])),
      ...(condition.onsetDateTime
        ? [`Injured on ${dateWords(condition.onsetDateTime)}.`]
        : ["Time of injury not known."]),
      condition.verificationStatus?.coding?.[0]?.code === "confirmed"
        ? "Recorded as confirmed."
        : stays(condition)
          ? "Provisional, also once it is signed: the fracture is not confirmed."
          : "Provisional as a draft, confirmed when you sign.",
    ];
  },
  edits(condition) {
    const coded = factsOfCondition(condition);
    return [
      { id: "text", label: "Diagnosis in words", type: "text", value: condition.code?.text ?? "", required: true },
      {
        id: "onset",
        label: "Day of injury",
        type: "date",
        value: condition.onsetDateTime?.slice(0, 10) ?? "",
        required: false,
      },
      ...(coded
        ? [
            {
              id: "displaced",
              label: "Position of the fragments, for the code",
              type: "choice",
              value: coded.displaced,
              options: DISPLACED,
              required: true,
            } as const,
          ]
        : []),
    ];
  },
  edit(condition, field, value) {
    if (field === "text") {
      const problem = checkText(value, true);
      if (!problem) condition.code = { ...condition.code, text: value.trim() };
      return problem;
    }
    if (field === "onset") {
      if (value === "") {
        delete condition.onsetDateTime;
        return undefined;
      }
      const problem = checkDay(value);
      if (!problem) condition.onsetDateTime = value;
      return problem;
    }
    const coded = factsOfCondition(condition);
    if (field !== "displaced" || !coded) return `This diagnosis has no field "${field}".`;
    const problem = checkChoice(value, DISPLACED);
    if (problem) return problem;
    const now: FractureFacts = { ...coded, displaced: value as FractureFacts["displaced"] };
    const { defaults, ...code } = fractureCode(now);
    // No other classification here knows displacement.
    const others = (condition.code?.coding ?? []).filter((c) => c.system !== ICD10CM);
    condition.code = { ...condition.code, coding: [codingOf(code), ...others] };
    const counted = condition.extension?.filter((e) => e.url === ASSUMED && e.valueString?.startsWith(COUNTED_OPEN));
    condition.extension = [
      ...defaults.map((valueString) => ({ url: ASSUMED, valueString })),
      ...(counted ?? []),
      { url: FACTS, extension: Object.entries(now).map(([url, valueCode]) => ({ url, valueCode })) },
    ];
    return undefined;
  },
  perform(condition, context) {
    const sure = !stays(condition);
    condition.verificationStatus = {
      coding: [hl7("condition-ver-status", context.act === "sign" && sure ? "confirmed" : "provisional")],
    };
    if (condition.extension?.length === 0) delete condition.extension;
    if (context.act !== "sign") return;
    condition.recordedDate = context.at;
    condition.recorder = person(context);
    condition.asserter = person(context);
  },
};

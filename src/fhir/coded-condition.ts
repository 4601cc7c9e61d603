import type { CodeableConcept, Coding, Condition } from "fhir/r4";
import { type FractureFacts, fractureCode } from "../coding/fracture-code.ts";
import { type Answers, type Facts, isAbsent } from "../pathway/index.ts";
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

/** Displaced when seen or measured apart; not displaced when looked for and not seen, or every measured distance is zero; else not stated. No threshold: a coder's word, not a treatment rule. */
export function displacedOf(digit: Answers): FractureFacts["displaced"] {
  const measured = ["translationMm", "angulationDegrees", "fragmentGapMm", "jointStepMm"].flatMap((f) =>
    typeof digit[f] === "number" ? [digit[f]] : [],
  );
  if (
    digit.displacement === "seen" ||
    measured.some((n) => n > 0) ||
    digit.corticalContact === "none" ||
    ["volar-subluxed", "dorsal-subluxed"].includes(String(digit.jointPosition))
  )
    return "yes";
  return measured.length > 0 || digit.displacement === "none-seen" ? "no" : "unknown";
}
/** Answers that say the fracture is closed, with or without a wound that does not reach it. */
const CLOSED = ["closed", "skin-cut", "skin-burst-or-flap"];
/** Classes that are open injuries by their definition (Seymour 1966; Doyle 1993). */
const OPEN_CLASSES = ["SEYMOUR", "DOYLE-II", "DOYLE-III"];
/**
 * Open when the clinician says so, when the class is an open injury by definition, or when the rules find an opening in other answers (blood
 * at the nail fold, an avulsed nail). Closed only when answered closed and nothing speaks against it.
 */
export function openOf(
  digit: Answers,
  classes: readonly { readonly class: string; readonly name: string }[] = [],
  signs: Facts = {},
): { readonly open: FractureFacts["open"]; readonly why?: string } {
  if (digit.openness === "open-nail-bed" || digit.openness === "open-skin") return { open: "yes" };
  const open = classes.find((c) => OPEN_CLASSES.includes(c.class));
  if (open) return { open: "yes", why: `${COUNTED_OPEN}: the class ${open.name} is an open injury.` };
  if (signs.openFracture === "yes") return { open: "yes", why: `${COUNTED_OPEN}: other answers show an opening.` };
  const settled = digit.openness === "uncertain" ? digit.opennessOnSecondLook : digit.openness;
  return { open: CLOSED.includes(String(settled)) ? "no" : "unknown" };
}
const COUNTED_OPEN = "Counted as open";
const known = (value: unknown): boolean => value !== undefined && !isAbsent(value);

/** A fracture the clinician saw on a film: uncertain ones are never coded (ICD-10-CM guideline IV.H on uncertain diagnosis). */
export const fractureSeen = (digit: Answers): boolean =>
  known(digit.fractureSite) && digit.fractureSite !== "no-fracture-seen" && digit.filmTaken !== "no";
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

/** SNOMED CT ids from published value sets and code lists; by digit group and openness only, as no per-digit id could be looked up. */
export const FRACTURE_SNOMED = {
  thumb: {
    no: snomed("704213001", "Closed fracture of phalanx of thumb"),
    yes: snomed("704236005", "Open fracture of phalanx of thumb"),
    unknown: snomed("274160002", "Fracture of phalanx of thumb"),
  },
  finger: {
    no: snomed("24424003", "Closed fracture of phalanx of finger"),
    yes: snomed("21698002", "Open fracture of phalanx of finger"),
    unknown: snomed("18171007", "Fracture of phalanx of finger"),
  },
} as const;
export const SITE_SNOMED = {
  thumb: snomed("2550002", "Bone structure of phalanx of thumb"),
  finger: snomed("306792002", "Bone structure of distal phalanx of finger"),
} as const;

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

function codings(of: FractureFacts, withSnomed: boolean): { coding: Coding[]; defaults: readonly string[] } {
  const code = fractureCode(of);
  const icd: Coding = { system: code.system, version: code.version, code: code.code, display: code.display };
  return { coding: [icd, ...(withSnomed ? [FRACTURE_SNOMED[group(of.digit)][of.open]] : [])], defaults: code.defaults };
}

/** The diagnosis of one injured digit, coded where the confirmed findings allow it. */
export function draftCondition(input: DraftInput, at: number): Condition {
  const { record, assessment, zone = machineZone(), snomed: withSnomed = true } = input;
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
  const coded = why === undefined ? codings(stated, withSnomed) : undefined;
  const films = (input.chart?.imaging ?? []).filter((i) => i.kind === "study").slice(0, 1);
  const assumed = [...(coded?.defaults ?? []), ...(coded && opening.why ? [opening.why] : []), ...(why ? [why] : [])];
  return {
    resourceType: "Condition",
    extension: [
      ...assumed.map((valueString) => ({ url: ASSUMED, valueString })),
      ...(seen || digit.fractureSite === "no-fracture-seen" ? [] : [{ url: PENDING, valueBoolean: true }]),
      // What the code was composed from, so that a later correction of one fact finds the others.
      ...(coded
        ? [{ url: FACTS, extension: Object.entries(stated).map(([url, valueCode]) => ({ url, valueCode })) }]
        : []),
    ],
    identifier: [planItem(input.planId, conditionKey(record.digits, at))],
    clinicalStatus: { coding: [hl7("condition-clinical", "active")] },
    verificationStatus: { coding: [hl7("condition-ver-status", "provisional")] },
    category: [{ coding: [hl7("condition-category", "encounter-diagnosis", "Encounter Diagnosis")] }],
    code: {
      ...(coded ? { coding: coded.coding } : {}),
      text: classes.length ? `${what}: ${classes.join("; ")}` : what,
    },
    bodySite: [bodySiteOf(digit, withSnomed)],
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
    const withSnomed = (condition.code?.coding?.length ?? 0) > 1;
    const { coding: recoded, defaults } = codings(now, withSnomed);
    condition.code = { ...condition.code, coding: recoded };
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

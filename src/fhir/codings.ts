import type { Coding, Extension, Identifier, Meta } from "fhir/r4";

/** Where our own codes, profiles and canonical resources are named. */
export const BASE = "https://fingerpost.example/fhir";
/** Identifier of one plan item: value "<planId>:<key>". Makes every write idempotent. */
export const PLAN_ITEM = "https://fingerpost.example/plan-item";
/** Identifier of one injury of one patient, equal for every clinician who plans it. */
export const EPISODE = "https://fingerpost.example/episode";
export const PLAN_TAG = `${BASE}/CodeSystem/plan`;
export const ACT_TAG = `${BASE}/CodeSystem/act`;
export const KNOWLEDGE_TAG = `${BASE}/CodeSystem/knowledge-version`;
export const APP_TAG = `${BASE}/CodeSystem/app-version`;

/** Code system of our own findings: code "<finding>.<value>". */
export const FINDING_SYSTEM = `${BASE}/CodeSystem/finding`;
export const questionnaireUrl = (module: { readonly id: string }): string =>
  `${BASE}/Questionnaire/${module.id}-findings`;

/** Group of answers about one injured digit; not "digit", which is a question in it (R4 que-2: each link id once). */
export const DIGIT_GROUP = "injured-digit";
/** Whether a group of stored answers is about one digit, also as it was stored before the group had a name of its own. */
export const isDigitGroup = (linkId: string): boolean => linkId === DIGIT_GROUP || linkId === "digit";

export const SNOMED = "http://snomed.info/sct";
export const LOINC = "http://loinc.org";
export const RXNORM = "http://www.nlm.nih.gov/research/umls/rxnorm";
export const CVX = "http://hl7.org/fhir/sid/cvx";
export const ICD10CM = "http://hl7.org/fhir/sid/icd-10-cm";
export const UCUM = "http://unitsofmeasure.org";
export const DATA_ABSENT = "http://hl7.org/fhir/StructureDefinition/data-absent-reason";
/** "Cannot tell" as a choice like any other: an answer to a choice must be one of its options (R4 Questionnaire). */
export const CANNOT_TELL: Coding = {
  system: "http://terminology.hl7.org/CodeSystem/data-absent-reason",
  code: "asked-unknown",
  display: "cannot tell",
};
/** R4 terminology that HL7 keeps: hl7("condition-clinical", "active"). */
export const hl7 = (system: string, code: string, display?: string): Coding =>
  coding(`http://terminology.hl7.org/CodeSystem/${system}`, code, display);
export const coding = (system: string, code: string, display?: string): Coding => ({
  system,
  code,
  ...(display ? { display } : {}),
});
export const snomed = (code: string, display: string): Coding => coding(SNOMED, code, display);

export const ownExtension = (name: string): string => `${BASE}/StructureDefinition/${name}`;
export const text = (url: string, valueString: string): Extension => ({ url, valueString });

export type Act = "draft" | "sign";
export const planItem = (planId: string, key: string): Identifier => ({ system: PLAN_ITEM, value: `${planId}:${key}` });

/** Tags that let a stored resource be traced to the plan, the program and the clinical knowledge that made it. */
export function metaOf(planId: string, key: string, knowledgeVersion: string, appVersion: string): Meta {
  return {
    tag: [
      coding(PLAN_ITEM, `${planId}:${key}`),
      coding(PLAN_TAG, planId),
      coding(KNOWLEDGE_TAG, knowledgeVersion),
      coding(APP_TAG, appVersion),
    ],
  };
}

/** The plan that a resource of ours belongs to; empty when it does not say. */
export const planIdOf = (resource: object): string => {
  const { tag } = (resource as { meta?: Meta }).meta ?? {};
  return (Array.isArray(tag) ? tag.find((t) => t.system === PLAN_TAG)?.code : undefined) ?? "";
};

const FINGER_WORDS = {
  thumb: "thumb",
  index: "index finger",
  middle: "middle finger",
  ring: "ring finger",
  little: "little finger",
} as const;
/** "left ring finger"; what is not known is left out, never guessed. */
export function digitWords(digit: unknown, side: unknown): string {
  const finger = FINGER_WORDS[digit as keyof typeof FINGER_WORDS] ?? "digit not stated";
  return side === "left" || side === "right" ? `${side} ${finger}` : finger;
}
